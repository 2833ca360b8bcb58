"""A stepwise return through its pages: begun after clearance, moved by the teacher alone, read by the family."""

import datetime as dt
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from practice.models import HandEpisode, HandNote, HandReturn, PracticeEntry
from tests import factory
from tests.factory import NOW, TODAY
from tests.practice.plain import ago


class Clock:
    def __init__(self):
        self.now = NOW

    def __call__(self):
        return self.now

    def later(self, days):
        self.now += dt.timedelta(days=days)


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    here = Clock()
    monkeypatch.setattr(timezone, "now", here)
    return here


@pytest.fixture
def agreed(cast):
    factory.make_consent(cast.student)
    return cast.student


def hands(student):
    return reverse("practice:hand-notes", args=[student.code])


def post(cast, action, who="teacher", student=None, **sent):
    """Presses a button of the page as it stands; follows to the page that comes."""
    student = student or cast.student
    row = HandReturn.objects.filter(student=student, ended_on=None).first()
    moved = {"moved": f"{row.code}:{len(row.steps)}"} if row else {}
    url = reverse("practice:hand-return", args=[student.code])
    return cast.client(who).post(url, {"action": action, **moved, **sent}, follow=True)


BEGIN = {"begin-cleared_by": "Dr Reed", "begin-day": TODAY.isoformat(), "begin-words": "Open strings."}


def day_on_the_step(student, day, discomfort=0, minutes=10):
    at = dt.datetime.combine(day, dt.time(17), tzinfo=dt.UTC)
    factory.make_entry(student, day=day, begun=at, seconds=minutes * 60)
    factory.make_note(student, discomfort, day=day, at=at + dt.timedelta(hours=1))


def test_begun_after_clearance_it_deals_with_what_was_noted(cast, agreed):
    note = factory.make_note(cast.student, 6)
    HandEpisode.objects.create(student=cast.student, opened_at=NOW, opened_on=TODAY)
    page = post(cast, "begin", **BEGIN).content.decode()
    row = HandReturn.objects.get()
    assert (row.level, row.play_minutes, row.rest_minutes, row.rounds, row.barre) == (1, 5, 60, 2, False)
    assert (row.cleared_by, row.begun_on, row.level_since, row.set_by) == ("Dr Reed", TODAY, TODAY, cast.teacher)
    assert row.steps == [[1, TODAY.isoformat(), "Open strings.", 5, 60, 2, False]]
    note.refresh_from_db()
    assert note.closed_words == "Cleared by Dr Reed; a stepwise return begins on 12 November."
    assert HandEpisode.objects.get().closed_words == note.closed_words
    assert "Return, step 1" in page
    assert "2 times 5 minutes a day, 60 minutes of rest between" in page
    assert "cleared by Dr Reed" in page
    assert "(BAPAM)" in page


# what is left out or wrong, the field that says so
@pytest.mark.parametrize(
    ("over", "field"),
    [
        ({"begin-cleared_by": ""}, "cleared_by"),
        ({"begin-cleared_by": "a\nb"}, "cleared_by"),
        ({"begin-cleared_by": "x" * 121}, "cleared_by"),
        ({"begin-day": ""}, "day"),
        ({"begin-day": (TODAY + dt.timedelta(days=1)).isoformat()}, "day"),
        ({"begin-day": ago(32).isoformat()}, "day"),
        ({"begin-day": "soon"}, "day"),
        ({"begin-words": "x" * 301}, "words"),
    ],
)
def test_a_beginning_that_does_not_hold_is_told_beside_the_field(cast, agreed, over, field):
    factory.make_note(cast.student, 6)
    answer = post(cast, "begin", **(BEGIN | over))
    page = answer.content.decode()
    assert answer.status_code == 200
    assert f'id="id_begin-{field}_error"' in page
    assert list(answer.context["back"]["begin"].errors) == [field]
    assert "Open strings." in page or field == "words"
    assert not HandReturn.objects.exists()
    assert HandNote.objects.get().closed_at is None


def test_without_consent_nothing_is_begun_moved_or_shown(cast):
    assert "There is no consent" in post(cast, "begin", **BEGIN).content.decode()
    assert not HandReturn.objects.exists()
    row = factory.make_return(cast.student)
    for action in ("up", "back", "end"):
        post(cast, action, **{"end-words": "x"})
    row.refresh_from_db()
    assert (row.level, row.ended_on, len(row.steps)) == (1, None, 1)
    assert "Return, step" not in cast.client("teacher").get(hands(cast.student)).content.decode()
    assert "of your way back" not in cast.client("student").get(f"/s/{cast.student.code}/").content.decode()


def test_there_is_one_return_at_a_time(cast, agreed):
    post(cast, "begin", **BEGIN)
    assert "A return was begun before" in post(cast, "begin", **BEGIN).content.decode()
    assert HandReturn.objects.count() == 1


def test_up_after_three_days_and_not_before(cast, agreed, clock):
    post(cast, "begin", **BEGIN)
    for n in range(3):
        day_on_the_step(cast.student, TODAY + dt.timedelta(days=n))
        assert "do not allow the next one yet" in post(cast, "up").content.decode()
        clock.later(1)
    page = cast.client("teacher").get(hands(cast.student)).content.decode()
    assert "3 days on this step are logged and nothing was felt" in page
    assert "Next step: 2 times 10 minutes, 50 of rest" in page
    post(cast, "up")
    row = HandReturn.objects.get()
    assert (row.level, row.play_minutes, row.rest_minutes, row.rounds) == (2, 10, 50, 2)
    assert row.level_since == TODAY + dt.timedelta(days=3)
    # the day of the step is not counted twice
    assert "do not allow" in post(cast, "up").content.decode()


def test_later_steps_are_the_teachers_own(cast, agreed, clock):
    row = factory.make_return(
        cast.student, begun_on=ago(12), level=2, level_since=ago(4), play_minutes=10, rest_minutes=50,
        steps=[[1, ago(12).isoformat(), "", 5, 60, 2, False], [2, ago(4).isoformat(), "", 10, 50, 2, False]],
    )  # fmt: skip
    for back in (3, 2, 1):
        day_on_the_step(cast.student, ago(back), minutes=20)
    told = post(cast, "up")
    assert set(told.context["back"]["own"].errors) == {"play", "rest", "rounds"}
    wrong = {"own-play": "0", "own-rest": "999", "own-rounds": "x"}
    told = post(cast, "up", **wrong)
    assert set(told.context["back"]["own"].errors) == {"play", "rest", "rounds"}
    assert told.context["back"]["own"]["rest"].value() == "999"
    longer = {"own-play": "60", "own-rest": "200", "own-rounds": "5"}
    assert "longer than a day" in post(cast, "up", **longer).content.decode()
    row.refresh_from_db()
    assert row.level == 2
    own = {"own-play": "15", "own-rest": "40", "own-rounds": "3", "own-barre": "on", "own-words": "A at 5, twice."}
    assert "The next step begins today" in post(cast, "up", **own).content.decode()
    row.refresh_from_db()
    assert (row.level, row.play_minutes, row.rest_minutes, row.rounds, row.barre) == (3, 15, 40, 3, True)
    assert row.steps[-1] == [3, TODAY.isoformat(), "A at 5, twice.", 15, 40, 3, True]
    # and from a fourth back to the third with its own numbers
    clock.later(4)
    for n in (1, 2, 3):
        day_on_the_step(cast.student, TODAY + dt.timedelta(days=n), minutes=45)
    post(cast, "up", **{"own-play": "20", "own-rest": "30", "own-rounds": "3"})
    row.refresh_from_db()
    assert (row.level, row.barre) == (4, False)
    post(cast, "back")
    row.refresh_from_db()
    assert (row.level, row.play_minutes, row.rest_minutes, row.rounds, row.barre) == (3, 15, 40, 3, True)
    assert [one[0] for one in row.steps] == [1, 2, 3, 4, 3]


def test_felt_on_a_step_stops_the_day_and_the_teacher_goes_back(cast, agreed):
    barre = factory.make_goal(cast.student)
    open_chord = factory.make_goal(cast.student, terms=factory.chord_terms("open-Em", "E"))
    row = factory.make_return(
        cast.student, begun_on=ago(9), level=2, level_since=ago(2), play_minutes=10, rest_minutes=50
    )
    client, url = cast.client("student"), f"/s/{cast.student.code}/"
    shown = client.get(url)
    page = shown.content.decode()
    day = shown.context["day"]
    assert (day.plan, day.most, shown.context["break_after"]) == (20, 20, 10)
    assert [one.goal.code for one in day.cards] == [str(open_chord.code)]
    assert "Step 2 of your way back: 2 times 10 minutes today, and no more." in page
    assert "Rest the hand for 50 minutes between" in page
    assert f"Resting for now: {barre.title}" in page
    assert "10 minutes of playing: that was this turn" in page
    note = factory.make_note(cast.student, 1, at=NOW)
    shown = client.get(url)
    page = shown.content.decode()
    assert "Stop for today." in page
    assert "one step back is proposed" in page
    day = shown.context["day"]
    assert (day.plan, day.cards, day.may_start) == (0, (), False)
    # what was played all the same can be logged
    assert len(shown.context["parts"]) == 2
    teachers = cast.client("teacher").get(hands(cast.student)).content.decode()
    assert "Go back one step" in teachers
    assert 'value="up"' not in teachers
    post(cast, "back")
    row.refresh_from_db()
    note.refresh_from_db()
    assert (row.level, row.play_minutes, row.level_since) == (1, 5, TODAY)
    assert note.closed_words == "Back to step 1 of the return."
    assert client.get(url).context["day"].hand.stop is False


@pytest.mark.parametrize("felt", [{"discomfort": 8}, {"discomfort": 0, "also": ["fell"], "place": "", "hand": ""}])
def test_no_step_stands_in_for_a_clinicians_word(cast, agreed, felt):
    """What stops all playing moves nobody back or up; closed with the word, the return begins anew."""
    row = factory.make_return(
        cast.student, begun_on=ago(9), level=2, level_since=ago(4), play_minutes=10, rest_minutes=50
    )
    for back in (3, 2, 1):
        day_on_the_step(cast.student, ago(back), minutes=20)
    note = factory.make_note(cast.student, **felt, at=NOW - dt.timedelta(minutes=1))
    page = cast.client("teacher").get(hands(cast.student)).content.decode()
    assert "The way back waits until a doctor or hand therapist has had a look." in page
    assert 'value="back"' not in page
    assert 'value="up"' not in page
    for action in ("back", "up"):
        assert "A doctor or hand therapist has to look first" in post(cast, action).content.decode()
    note.refresh_from_db()
    row.refresh_from_db()
    assert (note.closed_at, row.level) == (None, 2)
    sent = {f"{note.code}-then": "return", f"{note.code}-cleared_by": "Dr Reed", f"{note.code}-words": "Seen today."}
    page = cast.client("teacher").post(
        reverse("practice:hand-close", args=[cast.student.code, note.code]), sent, follow=True
    ).content.decode()  # fmt: skip
    assert "The return begins today, on the first step." in page
    row.refresh_from_db()
    note.refresh_from_db()
    assert (row.level, row.level_since, row.cleared_by, row.ended_on) == (1, TODAY, "Dr Reed", None)
    assert (note.cleared_by, note.closed_words) == ("Dr Reed", "Seen today.")
    assert not cast.client("student").get(f"/s/{cast.student.code}/").context["day"].hand.stop


def test_a_step_up_waits_while_something_older_asks_for_a_person(cast, agreed):
    factory.make_return(cast.student, level=2, begun_on=ago(9), level_since=ago(4), play_minutes=10, rest_minutes=50)
    for back in (3, 2, 1):
        day_on_the_step(cast.student, ago(back), minutes=20)
    factory.make_note(cast.student, 6, place="elbow", day=ago(6), at=NOW - dt.timedelta(days=6))
    # the zeros since then name no place and settle it; one of another place does not
    HandNote.objects.filter(discomfort=0).update(place="thumb", hand="fretting")
    assert "do not allow" in post(cast, "up").content.decode()


def test_on_the_first_step_there_is_no_smaller_one(cast, agreed):
    row = factory.make_return(cast.student)
    factory.make_note(cast.student, 2, at=NOW)
    page = cast.client("teacher").get(hands(cast.student)).content.decode()
    assert "There is no smaller step" in page
    assert "Begin the first step anew" in page
    post(cast, "back")
    row.refresh_from_db()
    assert (row.level, row.level_since, len(row.steps)) == (1, TODAY, 2)


def test_an_old_page_moves_nobody_twice(cast, agreed):
    row = factory.make_return(cast.student, begun_on=ago(9), level=2, level_since=ago(2))
    old = {"moved": f"{row.code}:{len(row.steps)}"}
    url = reverse("practice:hand-return", args=[cast.student.code])
    for _again in range(2):
        answer = cast.client("teacher").post(url, {"action": "back", **old}, follow=True)
    assert "moved or ended meanwhile" in answer.content.decode()
    row.refresh_from_db()
    assert len(row.steps) == 2
    assert "Choose what should happen" in cast.client("teacher").post(url, {}, follow=True).content.decode()


def test_it_ends_by_the_teacher_with_words_and_the_steps_stay(cast, agreed):
    row = factory.make_return(cast.student)
    told = post(cast, "end", **{"end-words": " "})
    assert "Say in a few words how it ended" in told.content.decode()
    page = post(cast, "end", **{"end-words": "Well, and back to the plan."}).content.decode()
    row.refresh_from_db()
    assert (row.ended_on, row.ended_words) == (TODAY, "Well, and back to the plan.")
    assert "A return from 11 November 2026 to 12 November 2026" in page
    assert "Well, and back to the plan." in page
    assert "moved or ended meanwhile" in post(cast, "up", moved="x").content.decode()
    shown = cast.client("student").get(f"/s/{cast.student.code}/")
    assert (shown.context["day"].plan, shown.context["day"].hand.step) == (cast.student.plan_minutes, None)


def test_the_family_reads_it_in_plain_words(cast):
    factory.make_consent(cast.child)
    factory.make_return(cast.child)
    url = f"/f/{cast.child.code}/"
    page = cast.client("guardian").get(url).content.decode()
    assert "Kit is coming back to playing step by step. Step 1: 2 times 5 minutes a day, and no more." in page
    assert "Between them the hand rests for 60 minutes." in page
    assert "Help Kit to keep to the step: set a timer" in page
    factory.make_note(cast.child, 1, at=NOW)
    page = cast.client("guardian").get(url).content.decode()
    assert "Stop for today" in page
    earlier = (TODAY - dt.timedelta(days=21)).isoformat()
    assert "step by step" not in cast.client("guardian").get(f"{url}?week={earlier}").content.decode()
    assert cast.client("other_guardian").get(url).status_code == 404


def test_an_adults_return_is_not_the_guardians_business(cast, agreed):
    factory.make_guardian(cast.student, name="Pat Parent")
    cast.pat = cast.student.guardians.get()
    factory.make_return(cast.student)
    page = cast.client("pat").get(f"/f/{cast.student.code}/").content.decode()
    assert "step by step" not in page
    assert "keep to the step" not in page


def test_withdrawn_consent_hides_the_return_at_once(cast, agreed):
    factory.make_return(cast.student)
    cast.student.consents.update(withdrawn_at=NOW)
    shown = cast.client("student").get(f"/s/{cast.student.code}/")
    assert shown.context["day"].hand.step is None
    assert shown.context["day"].plan == cast.student.plan_minutes


def test_the_strings_are_asked_after_with_what_is_noted(cast, agreed):
    factory.make_note(cast.student, 5, place="index")
    url = hands(cast.student)
    page = cast.client("teacher").get(url).content.decode()
    assert "Please check string height and gauge." in page
    assert "Strings and gauge are not noted yet." in page
    student = cast.student
    student.strings, student.string_gauge, student.last_setup = "steel", ".013 to .056", ago(400)
    student.save()
    page = cast.client("teacher").get(url).content.decode()
    assert "Noted: steel, .013 to .056." in page
    assert "Last looked at: 13 months ago." in page
    cast.client("teacher").post(url, {"looked": "today"})
    student.refresh_from_db()
    assert student.last_setup == TODAY
    assert cast.client("other_teacher").post(url, {"looked": "today"}).status_code == 404


def test_sore_fingertips_ask_after_the_strings_and_others_do_not(cast, agreed):
    tips = {"place": "fingertip", "sensation": "sore", "settles": "day"}
    factory.make_note(cast.student, 5, **tips)
    assert "Please check string height" in cast.client("teacher").get(hands(cast.student)).content.decode()
    HandNote.objects.all().delete()
    factory.make_note(cast.student, 1)
    factory.make_note(cast.student, 2, at=NOW)  # ease off
    page = cast.client("teacher").get(hands(cast.student)).content.decode()
    assert "Ease off this week" in page
    assert "Please check string height" not in page


# days, what is said
@pytest.mark.parametrize(
    ("days", "words"),
    [(0, "today"), (1, "1 day ago"), (13, "13 days ago"), (14, "2 weeks ago"), (62, "8 weeks ago"),
     (63, "2 months ago"), (364, "11 months ago"), (729, "23 months ago"), (730, "2 years ago"), (-3, "today")],
)  # fmt: skip
def test_how_long_ago(days, words):
    from practice.views.hands import ago_words

    assert ago_words(ago(days), TODAY) == words


def test_refusals(cast, agreed):
    url = reverse("practice:hand-return", args=[cast.student.code])
    assert cast.client("teacher").get(url).status_code == 405
    assert cast.client("other_teacher").post(url, {"action": "begin"}).status_code == 404
    assert cast.client("student").post(url, {"action": "begin"}).status_code == 404
    assert cast.client("teacher").post(reverse("practice:hand-return", args=[uuid.uuid4()])).status_code == 404
    assert not HandReturn.objects.exists()


def test_the_page_costs_the_same_with_a_return(cast, agreed, count_queries):
    factory.make_note(cast.student, 5)
    without = count_queries(cast.client("teacher"), hands(cast.student))
    factory.make_return(cast.student, begun_on=ago(5))
    for back in (4, 3, 2, 1):
        day_on_the_step(cast.student, ago(back))
    assert count_queries(cast.client("teacher"), hands(cast.student)) == without
    assert PracticeEntry.objects.count() == 4
