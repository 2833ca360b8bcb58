"""Taking a consent back with the choice to erase: who may, what is said, and that nothing goes without the tick."""

import pytest
from django.urls import reverse

from practice import erase
from practice.models import HandNote, TellTeacher
from students import held
from students.consent import WORDING_VERSION
from tests import factory

GIVE = {"action": "give", "wording": WORDING_VERSION}
WITHDRAW = {"action": "withdraw"}
WITH_TICK = {"action": "withdraw", "erase": "on"}
ERASE = {"action": "erase"}


@pytest.fixture
def family(cast):
    return reverse("students:f-consent", args=[cast.child.code])


@pytest.fixture
def own(cast):
    return reverse("students:s-consent", args=[cast.student.code])


def kept(student):
    return HandNote.objects.filter(student=student).count()


def test_one_click_withdraws_and_hides_and_the_erasing_can_come_later(cast, family):
    factory.make_consent(cast.child, guardian=cast.guardian)
    factory.make_note(cast.child)
    client = cast.client("guardian")
    page = client.get(family).content.decode()
    assert "And erase what was kept until now" in page
    assert "checked" not in page  # nobody ticks it for them
    client.post(family, WITHDRAW)
    assert kept(cast.child) == 1
    page = client.get(family).content.decode()
    assert "It is hidden: nobody reads it." in page
    page = client.post(family, ERASE, follow=True).content.decode()
    assert "What was kept about the hand is erased." in page
    assert kept(cast.child) == 0
    assert "It is hidden" not in page


def test_the_tick_erases_with_the_same_click(cast, family, own):
    for student, who, path in ((cast.child, "guardian", family), (cast.student, "student", own)):
        factory.make_consent(student)
        factory.make_note(student)
        page = cast.client(who).post(path, WITH_TICK, follow=True).content.decode()
        assert "Your consent is withdrawn." in page
        assert "What was kept about the hand is erased." in page
        assert kept(student) == 0
        assert student.consents.standing().count() == 0
        # the consent row itself stays: it says who agreed and who took it back
        assert student.consents.count() == 1


def test_erasing_under_a_standing_consent_withdraws_it(cast, family):
    factory.make_consent(cast.child)
    factory.make_note(cast.child)
    cast.client("guardian").post(family, ERASE)
    assert (kept(cast.child), cast.child.consents.standing().count()) == (0, 0)


def test_nothing_kept_nothing_offered(cast, family):
    factory.make_consent(cast.child)
    assert "And erase" not in cast.client("guardian").get(family).content.decode()
    said = cast.client("guardian").post(family, ERASE, follow=True).content.decode()
    assert "Nothing was kept about the hand." in said


def test_another_guardian_takes_back_for_the_child_whoever_agreed(cast, family):
    factory.make_consent(cast.child, guardian=cast.guardian)
    factory.make_note(cast.child)
    second = factory.make_guardian(cast.child, name="Second Guardian")
    cast.second = second
    cast.client("second").post(family, WITH_TICK)
    assert (kept(cast.child), cast.child.consents.standing().count()) == (0, 0)


def test_the_guardian_of_an_adult_withdraws_their_old_consent_and_erases_nothing(cast):
    guardian = cast.other_guardian
    adult = cast.other_student
    factory.make_consent(adult, given_by="guardian", guardian=guardian)
    adult.birth_year = 1990
    adult.save()
    factory.make_note(adult)
    path = reverse("students:f-consent", args=[adult.code])
    client = cast.client("other_guardian")
    assert "And erase" not in client.get(path).content.decode()
    for data in (ERASE, WITH_TICK):
        assert client.post(path, data).status_code == 403
        assert kept(adult) == 1
        assert adult.consents.standing().count() == 1
    client.post(path, WITHDRAW)
    assert (kept(adult), adult.consents.standing().count()) == (1, 0)


def test_a_child_erases_nothing_that_a_guardian_agreed_to(cast):
    factory.make_consent(cast.child)
    factory.make_note(cast.child)
    path = reverse("students:s-consent", args=[cast.child.code])
    for data in (ERASE, WITH_TICK, GIVE):
        assert cast.client("child").post(path, data).status_code == 403
    assert (kept(cast.child), cast.child.consents.standing().count()) == (1, 1)


def test_a_child_erases_nothing_that_a_withdrawn_consent_left(cast):
    """Withdrawn by the guardians without the tick: what was kept is theirs to erase, or to show to a doctor."""
    factory.make_consent(cast.child)
    factory.make_note(cast.child)
    cast.client("guardian").post(reverse("students:f-consent", args=[cast.child.code]), WITHDRAW)
    path = reverse("students:s-consent", args=[cast.child.code])
    assert "Erase what was kept" not in cast.client("child").get(path).content.decode()
    for data in (ERASE, WITH_TICK):
        assert cast.client("child").post(path, data).status_code == 403
    assert kept(cast.child) == 1


def test_a_minors_own_consent_is_withdrawn_by_them_and_erased_by_the_family(cast, family):
    """A consent of one's own, given while the birth year said "adult"."""
    factory.make_consent(cast.child, given_by="student")
    factory.make_note(cast.child)
    path = reverse("students:s-consent", args=[cast.child.code])
    assert cast.client("child").post(path, WITH_TICK).status_code == 403
    cast.client("child").post(path, WITHDRAW)
    assert (kept(cast.child), cast.child.consents.standing().count()) == (1, 0)
    cast.client("guardian").post(family, ERASE)
    assert kept(cast.child) == 0


def test_a_teacher_records_it_with_the_choice(cast):
    path = reverse("students:consent-withdraw", args=[cast.child.code])
    factory.make_consent(cast.child)
    factory.make_note(cast.child)
    cast.client("teacher").post(path, {"name": "Gil"})
    assert kept(cast.child) == 1
    page = cast.client("teacher").post(path, {"name": "Gil", "erase": "on"}, follow=True).content.decode()
    assert "What was kept about the hand is erased." in page
    assert kept(cast.child) == 0


# -- what ends with it ------------------------------------------------------------------------------------------------

EASED = "Just now the plan is eased for the hand."
ENDED = "The plan was eased for the hand until now, and is not any more: please talk with"
ENDS = ("the advice about", "barre chords that rest, fewer minutes, a stop", "mails about the hand")
# what was noted, and whether it makes the day another than planned (practice.handday)
HURT = [
    ({"discomfort": 5}, True),
    ({"discomfort": 8}, True),
    ({"discomfort": 3}, False),
    ({"discomfort": 2, "place": "fingertip", "sensation": "sore"}, False),
]


@pytest.mark.parametrize(("hurt", "eased"), HURT)
@pytest.mark.parametrize("tick", [{}, {"erase": "on"}])
def test_the_family_reads_before_the_button_what_ends_and_after_it_that_the_plan_is_whole_again(
    cast, family, hurt, eased, tick
):
    factory.make_consent(cast.child, guardian=cast.guardian)
    factory.make_note(cast.child, **hurt)
    client = cast.client("guardian")
    page = client.get(family).content.decode()
    for words in (*ENDS, "Ada Teacher is asked, without any value, to talk with the family about the plan."):
        assert words in page.split("Withdraw the consent</button>")[0]
    assert (EASED in page) is eased
    page = client.post(family, WITHDRAW | tick, follow=True).content.decode()
    assert (ENDED in page) is eased
    tell = TellTeacher.objects.get(student=cast.child)
    assert (tell.about, tell.by, tell.seen_at) == ("consent", "parent", None)
    # seen by nobody yet, it outlives the erasing, and a second withdrawal says nothing new
    client.post(family, ERASE)
    assert TellTeacher.objects.count() == 1


def test_an_adult_reads_it_of_their_own_hand(cast, own):
    factory.make_consent(cast.student)
    factory.make_return(cast.student)
    client = cast.client("student")
    page = client.get(own).content.decode()
    for words in ("the advice about your hand", "Ada Teacher is asked, without any value, to talk with you", EASED):
        assert words in page
    assert ENDED in client.post(own, WITHDRAW, follow=True).content.decode()
    tell = TellTeacher.objects.get()
    assert (tell.student, tell.about, tell.by) == (cast.student, "consent", "student")
    # agreed to again and taken back again: the one that waits says it already
    client.post(own, GIVE)
    client.post(own, WITHDRAW)
    assert TellTeacher.objects.count() == 1
    TellTeacher.objects.update(seen_at=factory.NOW)
    client.post(own, GIVE)
    client.post(own, WITHDRAW)
    assert TellTeacher.objects.filter(seen_at=None).count() == 1


def test_the_teacher_who_records_it_reads_the_same(cast):
    factory.make_consent(cast.child)
    factory.make_note(cast.child, 6)
    client = cast.client("teacher")
    people = client.get(reverse("students:people", args=[cast.child.code])).content.decode()
    path = reverse("students:consent-withdraw", args=[cast.child.code])
    for page in (people, client.post(path).content.decode()):  # the second comes back without a name
        for words in ENDS:
            assert words in page
    page = client.post(path, {"name": "Gil", "erase": "on"}, follow=True).content.decode()
    assert "please talk with the family before the next practice" in page
    assert TellTeacher.objects.get().by == "teacher"


def test_the_teacher_hears_of_it_where_the_day_is_read(cast, family):
    factory.make_consent(cast.child)
    factory.make_note(cast.child, 6)
    cast.client("guardian").post(family, WITH_TICK)
    client = cast.client("teacher")
    page = client.get(reverse("practice:hand-notes", args=[cast.child.code])).content.decode()
    assert "The consent has ended: talk the plan over" in page
    assert "6 of 10" not in page


def test_consents_that_count_no_more_end_without_a_word(cast):
    """A guardian's of somebody who is an adult now, while their own stands: nothing changes."""
    factory.make_consent(cast.child, given_by="guardian", guardian=cast.guardian)
    cast.child.birth_year = 1990
    cast.child.save()
    factory.make_consent(cast.child, given_by="student")
    factory.make_note(cast.child, 6)
    path = reverse("students:f-consent", args=[cast.child.code])
    page = cast.client("guardian").get(path).content.decode()
    assert not any(words in page for words in (EASED, *ENDS[1:]))
    assert ENDED not in cast.client("guardian").post(path, WITHDRAW, follow=True).content.decode()
    assert not TellTeacher.objects.exists()


def test_one_of_two_consents_that_count_changes_nothing_yet(cast):
    cast.second = factory.make_guardian(cast.child, name="Second Guardian")
    for guardian in (cast.guardian, cast.second):
        factory.make_consent(cast.child, guardian=guardian)
    cast.child.guardians.remove(cast.second)
    client = cast.client("teacher")
    client.post(reverse("students:consent-end-left", args=[cast.child.code]))
    assert not TellTeacher.objects.exists()
    cast.child.consents.update(withdrawn_at=None, withdrawn_name="")
    cast.child.guardians.remove(cast.guardian)
    factory.make_note(cast.child, 6)
    page = client.post(reverse("students:consent-end-left", args=[cast.child.code]), follow=True).content.decode()
    assert "please talk with the family before the next practice" in page
    assert TellTeacher.objects.get().about == "consent"


def test_both_or_neither(cast, family, monkeypatch):
    """When erasing fails, the withdrawal does not stand as if it had been done."""

    def fails(student):
        raise RuntimeError

    factory.make_consent(cast.child)
    factory.make_note(cast.child)
    monkeypatch.setitem(held._keepers, "practice", held.Keeper(kept=erase.holds_hand_values, erase=fails))
    with pytest.raises(RuntimeError):
        cast.client("guardian").post(family, WITH_TICK)
    assert not TellTeacher.objects.exists()
    assert (kept(cast.child), cast.child.consents.standing().count()) == (1, 1)


def test_a_promise_to_erase_does_not_pass_unheard(cast, monkeypatch):
    monkeypatch.setattr(held, "_keepers", {})
    with pytest.raises(LookupError):
        held.erase(cast.child)


def test_the_queries_of_the_page_do_not_grow_with_what_is_kept(cast, family, count_queries):
    factory.make_consent(cast.child)
    few = count_queries(cast.client("guardian"), family)
    for days in range(10):
        factory.make_note(cast.child, day=factory.TODAY - factory.dt.timedelta(days=days))
    # it stops asking at the first table that holds something
    assert count_queries(cast.client("guardian"), family) <= few


def test_a_consent_to_a_former_wording_is_told_of_the_newer_one(cast, family):
    row = factory.make_consent(cast.child, guardian=cast.guardian)
    said = "is newer than the one agreed to"
    assert said not in cast.client("guardian").get(family).content.decode()
    row.wording = "2026-1"
    row.save()
    assert said in cast.client("guardian").get(family).content.decode()
