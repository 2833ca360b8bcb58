"""The plan bends: while the hand notes ask for a person, barres wait for a reason and the day is half as long."""

import datetime as dt

import pytest
from django.urls import reverse

from practice.handcare import gentler
from practice.models import Goal
from tests import factory
from tests.factory import NOW, TODAY


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def hurt(cast):
    factory.make_consent(cast.student)
    return factory.make_note(cast.student, 5)


def set_goal(cast, shape="E-minor", root="B", **over):
    sent = {"kind": "chord", "shape": shape, "root": root, "measure": "clean", "target": "4", "due": "2026-11-19"}
    url = reverse("practice:goal-set", args=[cast.student.code])
    client = cast.client("teacher")
    answer = client.post(url, sent | over)
    if answer.status_code == 200 and answer.context["form"].is_valid():
        # cautions are shown first; what was shown comes back with the form
        shown = [one.signature for one in answer.context["look"].findings]
        answer = client.post(url, sent | over | {"shown": shown})
    return answer


def test_a_barre_needs_a_reason_while_the_hand_asks_for_a_person(cast, hurt):
    answer = set_goal(cast)
    assert list(answer.context["form"].errors) == ["hand_reason"]
    page = answer.content.decode()
    assert 'id="id_hand_reason_error"' in page
    assert not Goal.objects.exists()
    assert list(set_goal(cast, hand_reason="   ").context["form"].errors) == ["hand_reason"]
    assert set_goal(cast, hand_reason="The doctor agreed to one a day.").status_code == 302
    assert Goal.objects.get().hand_reason == "The doctor agreed to one a day."


def test_without_a_barre_no_reason_is_needed(cast, hurt):
    assert set_goal(cast, "open-Em", "", target="6").status_code == 302
    assert Goal.objects.get().hand_reason == ""


# what stands in the notes; whether the form asks for a reason
@pytest.mark.parametrize(
    ("over", "asks"),
    [
        ({"discomfort": 3}, False),
        ({"discomfort": 5}, True),
        ({"discomfort": 1, "sensation": "numb"}, True),
        ({"discomfort": 5, "closed_at": NOW}, False),
    ],
)
def test_only_the_two_upper_answers_ask_for_a_reason(cast, over, asks):
    factory.make_consent(cast.student)
    factory.make_note(cast.student, **over)
    page = cast.client("teacher").get(reverse("practice:goal-set", args=[cast.student.code]))
    assert ("hand_reason" in page.context["form"].fields) is asks


def test_without_consent_the_notes_do_not_bend_the_plan(cast, hurt):
    cast.student.consents.update(withdrawn_at=NOW)
    assert set_goal(cast).status_code == 302


def test_one_tap_does_not_set_the_next_barre(cast, hurt):
    goal = factory.make_goal(cast.student)
    url = reverse("practice:goal-act", args=[cast.student.code, goal.code])
    answer = cast.client("teacher").post(url, {"action": "next-root"})
    assert answer.url.startswith(reverse("practice:goal-set", args=[cast.student.code]))  # there, with a reason
    lesson = reverse("practice:lesson", args=[cast.student.code])
    sent = {"day": TODAY.isoformat(), "outcome": "held", "words": "kept", f"act-{goal.code}": "next-root"}
    cast.client("teacher").post(lesson, sent)
    assert "next-root" not in cast.client("teacher").get(lesson).content.decode()
    assert Goal.objects.count() == 1


def test_the_students_day_is_half_as_long_and_barres_rest(cast, hurt):
    factory.make_goal(cast.student, due=TODAY + dt.timedelta(days=1))
    open_chord = factory.make_goal(cast.student, terms=factory.chord_terms("open-Em", "E"))
    roots = factory.make_roots_goal(cast.student)
    client, url = cast.client("student"), f"/s/{cast.student.code}/"
    shown = client.get(url)
    day = shown.context["day"]
    assert (day.plan, day.most) == (10, 20)
    assert [card.goal.code for card in day.cards] == [str(roots.code), str(open_chord.code)]
    # what was played all the same can be logged
    assert len(shown.context["parts"]) == 3
    page = shown.content.decode()
    assert "half the minutes: 10 a day." in page
    assert "Finding root notes stands in their place" in page
    assert 'data-most="20"' in page
    hurt.close("String height lowered.", NOW)
    after = client.get(url)
    day = after.context["day"]
    assert (day.plan, day.most, len(day.cards)) == (20, 40, 3)
    assert "half the minutes" not in after.content.decode()


def test_with_barres_alone_the_page_does_not_call_them_unset(cast, hurt):
    factory.make_goal(cast.student)
    page = cast.client("student").get(f"/s/{cast.student.code}/").content.decode()
    assert "Rest the barres today." in page
    assert "Resting for now: Bm, E-shape at 7." in page
    assert "Start with" not in page
    assert "ask your teacher for a root drill" in page
    assert "Nothing is set yet" not in page


def test_half_of_a_day_is_never_none():
    assert [gentler(minutes) for minutes in (40, 5, 1)] == [20, 2, 1]


def take_back(cast, goal, **over):
    url = reverse("practice:goal-act", args=[cast.student.code, goal.code])
    return cast.client("teacher").post(url, {"action": "take-back", **over})


def test_a_barre_set_aside_is_taken_up_again_with_a_reason_alone(cast, hurt):
    goal = factory.make_goal(cast.student, set_aside_at=NOW)
    asked = take_back(cast, goal)
    assert asked.status_code == 200
    assert "Take it up all the same" in asked.content.decode()
    assert not asked.context["form"].errors
    for reason, message in (("  ", "Say why it is taken up now"), ("x" * 301, "at most 300")):
        told = take_back(cast, goal, hand_reason=reason)
        assert message in told.content.decode()
        assert told.context["form"]["hand_reason"].value() == reason
    goal.refresh_from_db()
    assert goal.set_aside_at is not None
    assert take_back(cast, goal, hand_reason="The doctor agreed to one a day.").status_code == 302
    goal.refresh_from_db()
    assert (goal.set_aside_at, goal.hand_reason) == (None, "The doctor agreed to one a day.")
    page = cast.client("teacher").get(cast.student.get_absolute_url()).content.decode()
    assert "Your reason, in spite of a hand note: The doctor agreed to one a day." in page
    hands = cast.client("teacher").get(reverse("practice:hand-notes", args=[cast.student.code])).content.decode()
    assert "Set in spite of a hand note" in hands
    assert "Your reason: The doctor agreed to one a day." in hands
    lesson = cast.client("teacher").get(reverse("practice:lesson", args=[cast.student.code])).content.decode()
    assert "in spite of a hand note: The doctor agreed to one a day." in lesson
    # the student does not read the teacher's reason
    assert "doctor agreed" not in cast.client("student").get(f"/s/{cast.student.code}/").content.decode()


def test_without_a_barre_or_without_a_pause_it_is_one_tap(cast, hurt):
    plain = factory.make_goal(cast.student, terms=factory.chord_terms("open-Em", "E"), set_aside_at=NOW)
    assert take_back(cast, plain).status_code == 302
    hurt.close("Strings lowered.", NOW)
    barre = factory.make_goal(cast.student, set_aside_at=NOW)
    assert take_back(cast, barre).status_code == 302
    assert not Goal.objects.filter(set_aside_at__isnull=False).exists()


def test_a_return_without_barres_asks_for_a_reason_too(cast):
    factory.make_consent(cast.student)
    row = factory.make_return(cast.student)
    goal = factory.make_goal(cast.student, set_aside_at=NOW)
    assert take_back(cast, goal).status_code == 200
    assert list(set_goal(cast).context["form"].errors) == ["hand_reason"]
    row.barre = True
    row.save()
    assert take_back(cast, goal).status_code == 302
