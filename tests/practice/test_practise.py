"""The student's page: what it shows, to whom, and that it does not grow."""

import datetime as dt
import re
import uuid

import pytest

from practice.models import TellTeacher
from practice.queries import student_facts
from tests.factory import NOW, TODAY, chord_terms, make_consent, make_entry, make_goal, make_note, make_result


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def get(cast, who="student", student=None):
    return cast.client(who).get(f"/s/{(student or cast.student).code}/")


def test_the_goal_stands_with_its_diagram_target_and_way_along_the_string(cast):
    goal = make_goal(cast.student)
    make_result(goal, 4, day=TODAY - dt.timedelta(days=1))
    page = get(cast).content.decode()
    assert "<svg" in page
    assert "Bm" in page
    # common practice, no source: the roots along the 6th string, B at fret 7
    assert "B 7" in page


def test_a_page_without_goals_says_what_will_stand_there(cast):
    page = get(cast).content.decode()
    assert "Nothing is set yet" in page
    assert "Send to my teacher" in page


@pytest.mark.parametrize("who", ["anonymous", "other_student", "guardian", "teacher", "owner", "stranger"])
def test_nobody_else_gets_it(cast, who):
    assert get(cast, who).status_code == 404


def test_a_replaced_link_stops_at_once(cast):
    assert get(cast).status_code == 200
    cast.student.replace_link()
    assert get(cast).status_code == 404


def test_an_expired_link_and_an_archived_student(cast):
    client = cast.client("student")
    cast.student.link_expires = TODAY
    cast.student.save()
    assert client.get(f"/s/{cast.student.code}/").status_code == 200
    cast.student.link_expires = TODAY - dt.timedelta(days=1)
    cast.student.save()
    assert client.get(f"/s/{cast.student.code}/").status_code == 404


def test_hand_questions_only_with_the_right_consent(cast):
    assert "How tiring" not in get(cast).content.decode()
    assert "Tell my teacher about my hand" in get(cast).content.decode()
    make_consent(cast.student)
    assert "How tiring" in get(cast).content.decode()


def test_a_minors_own_word_is_no_consent(cast):
    cast.student.birth_year = TODAY.year - 15
    cast.student.save()
    make_consent(cast.student, given_by="student")
    assert "How tiring" not in get(cast).content.decode()
    make_consent(cast.student, given_by="guardian")
    page = get(cast).content.decode()
    assert "How tiring" in page
    assert "your guardian can read this note" in page


def test_an_unknown_birth_year_counts_as_a_minor(cast):
    cast.student.birth_year = None
    cast.student.save()
    make_consent(cast.student, given_by="student")
    assert "How tiring" not in get(cast).content.decode()


def test_advice_of_today_and_never_a_past_note(cast):
    make_consent(cast.student)
    make_note(cast.student, 6, place="forearm", sensation="burning")
    page = get(cast).content.decode()
    assert "advice" in page
    assert "burning" not in page.split("If it is not 0")[0]


def test_tell_my_teacher_stores_a_wish_and_no_value(cast):
    code = str(uuid.uuid4())
    for _ in range(2):
        answer = cast.client("student").post(f"/s/{cast.student.code}/tell/", {"code": code})
        assert answer.status_code == 302
    assert TellTeacher.objects.count() == 1
    assert {field.name for field in TellTeacher._meta.fields} == {
        "id",
        "code",
        "student",
        "at",
        "by",
        "about",
        "seen_at",
    }


def test_queries_do_not_grow_with_the_history(cast, count_queries):
    make_consent(cast.student)
    goal = make_goal(cast.student)
    make_result(goal, 3, day=TODAY - dt.timedelta(days=3))
    url = f"/s/{cast.student.code}/"
    few = count_queries(cast.client("student"), url)
    for days in range(4, 40):
        make_result(goal, 3, day=TODAY - dt.timedelta(days=days))
    for root in ("A", "C", "D"):
        make_goal(cast.student, terms=chord_terms("E-major", root))
    make_note(cast.student, 3)
    assert count_queries(cast.client("student"), url) == few
    # session, student of the link; goals, sessions near, consent (form); results, goals, segments, entries,
    # notes, consent (facts)
    assert few <= 14


def test_minutes_of_today_and_the_week(cast):
    make_entry(cast.student, seconds=600)
    make_entry(cast.student, seconds=900, day=TODAY - dt.timedelta(days=1))
    make_entry(cast.student, seconds=900, day=TODAY - dt.timedelta(days=7))
    context = get(cast).context
    assert (context["day"].done, context["week_minutes"], context["week_days"]) == (10, 25, 2)


def test_without_a_standing_consent_no_hand_value_is_read(cast):
    consent = make_consent(cast.student)
    make_entry(cast.student, tiring=7)
    make_note(cast.student, 6)
    facts = student_facts(cast.student, TODAY)
    assert (facts.entries[0].tiring, len(facts.notes)) == (7, 1)
    consent.withdrawn_at = NOW
    consent.save()
    facts = student_facts(cast.student, TODAY)
    assert (facts.entries[0].tiring, facts.notes) == (None, ())


def test_a_wish_for_a_word_that_was_answered_can_be_said_again(cast):
    code = str(uuid.uuid4())
    cast.client("student").post(f"/s/{cast.student.code}/tell/", {"code": code})
    TellTeacher.objects.update(seen_at=NOW)
    cast.client("student").post(f"/s/{cast.student.code}/tell/", {"code": code})
    assert TellTeacher.objects.filter(seen_at=None).count() == 1
    # another student's code takes nothing away either
    cast.client("other_student").post(f"/s/{cast.other_student.code}/tell/", {"code": code})
    assert TellTeacher.objects.filter(student=cast.other_student, seen_at=None).count() == 1


# Klickstein, The Musician's Way (2009): 25 minutes, then 5 of rest; under ten 10 (common practice, no source)
@pytest.mark.parametrize(
    ("age", "minutes", "words"),
    [(9, 10, "10 minutes of playing"), (10, 25, "25 minutes of playing"), (65, 25, "25 minutes"), (None, 25, "25 min")],
)
def test_a_child_under_ten_is_told_to_rest_sooner(cast, age, minutes, words):
    make_goal(cast.student)
    cast.student.birth_year = age and TODAY.year - age
    cast.student.save()
    page = get(cast).content.decode()
    assert f'data-break="{minutes}"' in page
    assert words in page
    assert ("Common practice with under-tens, no source" in page) == (minutes == 10)


@pytest.mark.parametrize("days", [range(1, 7), (), (3,)], ids=["every day", "never", "once"])
def test_missed_minutes_are_added_to_no_other_day(cast, days):
    make_goal(cast.student)
    for ago in days:
        make_entry(cast.student, seconds=1200, day=TODAY - dt.timedelta(days=ago))
    day = get(cast).context["day"]
    assert (day.plan, day.most) == (cast.student.plan_minutes, cast.student.daily_most)
    assert sum(card.minutes for card in day.cards) + day.order.left == cast.student.plan_minutes


def test_a_left_handed_student_practises_from_mirrored_diagrams(cast):
    make_goal(cast.student)
    right = re.search(r'<svg[^>]*class="chord.*?</svg>', get(cast).content.decode()).group()
    cast.student.plays = "left"
    cast.student.save()
    left = re.search(r'<svg[^>]*class="chord.*?</svg>', get(cast).content.decode()).group()
    at = [[float(x) for x in re.findall(r'class="dot"[^>]* cx="([0-9.]+)"', drawn)] for drawn in (right, left)]
    # strings lie from 24 to 84 of the drawing, as in tests/theory/test_diagram.py
    assert at[1] == [24 + 84 - x for x in at[0]] != []


def test_the_highest_tempo_is_called_no_first_try(cast):
    goal = make_goal(cast.student, kind="piece", terms={"kind": "piece", "title": "Air"}, measure="tempo", target=80)
    make_result(goal, 60, day=TODAY - dt.timedelta(days=1))
    make_result(goal, 66, day=TODAY - dt.timedelta(days=1))
    page = get(cast).content.decode()
    assert re.search(r">\s*last <b>66 bpm</b>", page)
    assert "last first try" not in page
