"""Recording a lesson: outcome, words, checks and what happens to each goal, all or nothing."""

import datetime as dt
import html
import re
import uuid

import pytest
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from practice.models import Goal, Result
from students.models import Lesson
from tests import factory
from tests.factory import NOW, TODAY

NEXT = TODAY + dt.timedelta(days=7)
LAST = TODAY - dt.timedelta(days=7)


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def goal(cast):
    """B minor at fret 7, due today."""
    return factory.make_goal(cast.student, due=TODAY)


def url_of(student, day=None):
    return reverse("practice:lesson", args=[student.code]) + (f"?day={day}" if day else "")


def record(cast, day=None, student=None, **data):
    form = {"outcome": "held", "time": "15:30", "minutes": "30", "words": "", **data}
    return cast.client("teacher").post(url_of(student or cast.student, day), form)


def page(cast, day=None):
    return cast.client("teacher").get(url_of(cast.student, day)).content.decode()


def test_a_lesson_is_recorded_with_checks_and_words_in_one_go(cast, goal):
    response = record(
        cast, words="Wrist low.", **{f"failed-{goal.code}": ["2", "1"], f"value-{goal.code}-landings": "3"}
    )
    assert response.status_code == 302
    assert response.url == f"/today/?day={TODAY}"
    lesson = cast.student.lessons.get()
    assert (lesson.day, lesson.outcome, lesson.words, lesson.minutes) == (TODAY, "held", "Wrist low.", 30)
    checks = {check.measure: check for check in lesson.checks.all()}
    assert checks["clean"].value == 4
    assert sorted(checks["clean"].failed_strings) == [1, 2]
    assert checks["landings"].value == 3
    assert {(check.day, check.at, check.is_check) for check in checks.values()} == {(TODAY, NOW, True)}


def test_the_same_day_again_edits_the_same_lesson(cast, goal):
    record(cast, **{f"rang-{goal.code}": "all", f"value-{goal.code}-landings": "3"})
    again = page(cast)
    assert "Recorded before" in again
    assert re.search(r'value="all"[^>]*checked', again)
    assert re.search(rf'name="value-{goal.code}-landings" value="3"', again)
    record(cast, words="Added.", **{f"failed-{goal.code}": "6"})
    lesson = cast.student.lessons.get()
    assert lesson.words == "Added."
    assert [(check.measure, check.value) for check in lesson.checks.all()] == [("clean", 5)]  # landings taken out


def test_all_strings_rang(cast, goal):
    record(cast, **{f"rang-{goal.code}": "all"})
    check = Result.objects.get()
    assert (check.value, check.failed_strings) == (6, [])


def test_nothing_checked_stores_no_check(cast, goal):
    record(cast)
    assert not Result.objects.exists()


def test_a_check_of_an_earlier_day_stands_at_that_lessons_time(cast, goal):
    record(cast, day=LAST, time="16:00", **{f"rang-{goal.code}": "all"})
    check = Result.objects.get()
    assert (check.day, check.at) == (LAST, dt.datetime(2026, 11, 5, 16, 0, tzinfo=dt.UTC))  # winter: London is UTC


def test_the_first_recording_offers_to_keep_what_is_due(cast, goal):
    later = factory.make_goal(cast.student, due=TODAY + dt.timedelta(days=30))
    fresh = page(cast)
    assert re.search(rf'name="act-{goal.code}" value="keep"[^>]*checked', fresh)
    assert not re.search(rf'name="act-{later.code}" value="keep"[^>]*checked', fresh)


def test_each_goal_can_be_kept_raised_moved_on_or_set_aside(cast):
    keep, lift, move, rest = (
        factory.make_goal(cast.student, terms=factory.chord_terms("E-minor", root), target=5, due=TODAY)
        for root in ("A", "B", "C", "F#")
    )
    record(cast, **{
        f"act-{keep.code}": "keep", f"act-{lift.code}": "raise", f"seen-{lift.code}": "5.0",
        f"act-{move.code}": "next-root", f"act-{rest.code}": "set-aside",
    })  # fmt: skip
    for goal in (keep, lift, move, rest):
        goal.refresh_from_db()
    assert keep.due == NEXT
    assert lift.target == 6
    assert rest.set_aside_at == NOW
    assert move.set_aside_at is None
    assert cast.student.goals.order_by("-pk").first().title == "Dm, E-shape at 10"


def test_a_next_root_with_a_caution_is_asked_about_first(cast, goal):
    factory.make_consent(cast.student)
    factory.make_note(cast.student, 3)
    response = record(cast, words="kept", **{f"act-{goal.code}": "next-root"})
    text = response.content.decode()
    assert response.status_code == 200
    assert "open hand note" in text
    assert "kept" in text
    assert not Lesson.objects.exists()
    assert Goal.objects.count() == 1
    shown = html.unescape(re.search(rf'name="shown-{goal.code}" value="([^"]*)"', text).group(1))
    assert record(cast, **{f"act-{goal.code}": "next-root", f"shown-{goal.code}": shown}).status_code == 302
    assert Goal.objects.order_by("-pk").first().acknowledged == ["open-hand-note"]


def test_two_forms_sent_do_not_raise_twice(cast, goal):
    goal.target = 4
    goal.save()
    for _again in range(2):
        record(cast, **{f"act-{goal.code}": "raise", f"seen-{goal.code}": "4.0"})
    goal.refresh_from_db()
    assert goal.target == 5
    assert cast.student.lessons.count() == 1


def test_a_lesson_called_off_needs_no_checks(cast, goal):
    assert record(cast, day=NEXT, outcome="called-off").status_code == 302
    assert cast.student.lessons.get().outcome == "called-off"


def test_a_moved_lesson_stands_on_its_new_day(cast):
    to = TODAY + dt.timedelta(days=2)
    assert record(cast, outcome="moved", moved_day=to, moved_time="11:15").status_code == 302
    here, there = Lesson.objects.order_by("day")
    assert (here.day, here.outcome, there.day, there.time) == (TODAY, "moved", to, dt.time(11, 15))
    assert "11:15" in cast.client("teacher").get(f"/today/?day={to}").content.decode()


# typed over a good form (CODE stands for the goal's), field with the message, words in it
BAD = [
    ({"outcome": ""}, "outcome", "required"),
    ({"outcome": "cancelled"}, "outcome", "not one of the available"),
    ({"time": "quarter past"}, "time", "valid time"),
    ({"minutes": ""}, "minutes", "required"),
    ({"minutes": "5"}, "minutes", "greater than or equal to 10"),
    ({"minutes": "100000000000000000000"}, "minutes", "less than or equal to 180"),
    ({"minutes": "-30"}, "minutes", "greater than or equal to 10"),
    ({"words": "x" * 2001}, "words", "at most 2000"),
    ({"words": "a\x00"}, "words", "Null characters"),
    ({"value-CODE-landings": "6"}, "value-CODE-landings", "less than or equal to 5"),
    ({"value-CODE-landings": "-1"}, "value-CODE-landings", "greater than or equal to 0"),
    ({"value-CODE-landings": "some"}, "value-CODE-landings", "whole number"),
    ({"value-CODE-landings": "2.5"}, "value-CODE-landings", "whole number"),
    ({"failed-CODE": "9"}, "failed-CODE", "not one of the available"),
    ({"failed-CODE": "2", "rang-CODE": "all"}, "rang-CODE", "Change one of the two"),
    ({"rang-CODE": "some"}, "rang-CODE", "not one of the available"),
    ({"act-CODE": "explode"}, "act-CODE", "not one of the available"),
    ({"outcome": "not-come", "value-CODE-landings": "3"}, "outcome", "Checks belong to a lesson that was held"),
    ({"outcome": "held", "moved_day": "2026-11-20"}, "moved_day", "Only a moved lesson"),
    ({"outcome": "moved", "moved_day": "2026-11-12"}, "moved_day", "same day"),
    ({"outcome": "moved", "moved_day": "2031-11-12"}, "moved_day", "four months"),
    ({"outcome": "moved", "moved_time": "10:00"}, "moved_day", "Name the day"),
    ({"outcome": "moved", "moved_day": "soon"}, "moved_day", "valid date"),
]


@pytest.mark.parametrize(("over", "field", "words"), BAD)
def test_bad_input_is_told_beside_its_field_and_nothing_is_stored(cast, goal, over, field, words):
    over = {name.replace("CODE", str(goal.code)): value for name, value in over.items()}
    field = field.replace("CODE", str(goal.code))
    response = record(cast, **{"words": "Typed before.", **over})
    text = html.unescape(response.content.decode())
    assert response.status_code == 200
    errors = response.context["form"].errors
    assert words in " ".join(errors[field]), errors
    assert f'id="id_{field}_error"' in text
    if "words" not in over:
        assert "Typed before." in text
    assert not Lesson.objects.exists()
    assert not Result.objects.exists()


# `?day=`, words of the message
@pytest.mark.parametrize(
    ("day", "words"),
    [
        ("soon", "is no day"),
        ("2026-13-45", "is no day"),
        ("9999-99-99", "is no day"),
        ("0001-01-01", "is no day"),
        ("2020-01-02", "has been with the studio since"),
        ("2028-01-06", "four months away"),
        ("%00", "is no day"),
    ],
)
def test_a_day_that_cannot_be_is_said_and_asked_again(cast, day, words):
    response = cast.client("teacher").get(url_of(cast.student, day))
    assert response.status_code == 200
    assert words in html.unescape(response.content.decode())


def test_a_day_still_to_come_cannot_have_been_held(cast, goal):
    response = record(cast, day=NEXT)
    assert "still to come" in response.content.decode()
    assert not Lesson.objects.exists()


def test_other_kinds_of_goals_are_checked_in_their_own_measure(cast):
    from studio import theory

    kinds = {
        "changes": theory.Goal("change", (theory.ChordTerm("E-minor", "B"), theory.ChordTerm("A-major", "D"))),
        "tempo": theory.Goal("progression", numerals=("I", "IV"), key="G"),
        "seconds": theory.Goal("roots", string=5),
        "mark": theory.Goal("piece", title="A waltz"),
    }
    values = {"changes": 31, "tempo": 66, "seconds": 55, "mark": 3}
    goals = {
        measure: factory.make_goal(cast.student, kind=terms.kind, terms=terms.to_terms(), measure=measure, target=60)
        for measure, terms in kinds.items()
    }
    record(cast, **{f"value-{goal.code}-{measure}": str(values[measure]) for measure, goal in goals.items()})
    assert dict(Result.objects.values_list("measure", "value")) == values


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from(["outcome", "time", "minutes", "words", "moved_day", "moved_time", "rang", "failed", "act",
                         "seen", "shown", "value-landings"]),
        st.text(max_size=20), max_size=8,
    )
)  # fmt: skip
def test_no_input_breaks_the_page(cast, goal, data):
    marked = {"rang": f"rang-{goal.code}", "failed": f"failed-{goal.code}", "act": f"act-{goal.code}",
              "seen": f"seen-{goal.code}", "shown": f"shown-{goal.code}",
              "value-landings": f"value-{goal.code}-landings"}  # fmt: skip
    response = record(cast, **{marked.get(name, name): value for name, value in data.items()})
    assert response.status_code in (200, 302)


def test_a_check_changes_the_state_shown(cast, goal):
    """Metamorphic: two days on target, one of them in a lesson, turn developing into secure; a miss turns it back."""
    url = reverse("practice:student", args=[cast.student.code])

    def states():
        return re.findall(
            r'<span class="state [^"]*"><b[^>]*>.</b> ([^<]+)</span>', cast.client("teacher").get(url).content.decode()
        )

    assert states() == ["introduced"]
    factory.make_result(goal, 6, day=TODAY - dt.timedelta(days=3))
    assert states() == ["developing"]
    record(cast, **{f"rang-{goal.code}": "all"})
    assert states() == ["secure"]
    record(cast, **{f"failed-{goal.code}": "1"})
    assert states() == ["developing"]


def test_the_form_asks_a_constant_number_of_questions(cast, goal, count_queries):
    client, url = cast.client("teacher"), url_of(cast.student)
    few = count_queries(client, url)
    for root in ("A", "G", "C"):
        factory.make_goal(cast.student, terms=factory.chord_terms("E-minor", root))
    # session, user, teacher; student; lesson; goals; and the facts: goals, results, segments, entries, notes, consent
    assert count_queries(client, url) == few <= 13


def test_refusals(cast, goal):
    expected = {"owner": 200, "other_teacher": 404, "stranger": 404, "anonymous": 302}
    assert {who: cast.client(who).get(url_of(cast.student)).status_code for who in expected} == expected
    for who in ("other_teacher", "stranger"):
        assert cast.client(who).post(url_of(cast.student), {"outcome": "held", "minutes": "30"}).status_code == 404
    assert not Lesson.objects.exists()
    assert cast.client("teacher").get(reverse("practice:lesson", args=[uuid.uuid4()])).status_code == 404
    assert cast.client("teacher").delete(url_of(cast.student)).status_code == 405
