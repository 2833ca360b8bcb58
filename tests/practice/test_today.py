"""Today: the day's lessons in time order, what needs a word, and nothing that the next family should not read."""

import datetime as dt
import html
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from practice.models import HandEpisode, TellTeacher
from practice.queries import facts_of, student_facts
from practice.telling import most_telling
from students.models import Student
from tests import factory
from tests.factory import NOW, TODAY, make_consent, make_goal, make_note

URL = "/today/"


@pytest.fixture(autouse=True)
def _on_a_thursday(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def seen(cast, day=None, who="teacher"):
    response = cast.client(who).get(URL + (f"?day={day}" if day else ""))
    assert response.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", html.unescape(response.content.decode())).split())


def times_and_names(cast, day=None, who="teacher"):
    page = cast.client(who).get(URL + (f"?day={day}" if day else "")).content.decode()
    return re.findall(r"<time>([^<]*)</time>\s*<div>\s*<h2><a[^>]*>([^<]*)</a>", page)


@pytest.fixture
def at_four(cast):
    Student.objects.filter(pk=cast.child.pk).update(lesson_time=dt.time(16, 0))
    return cast.child


def test_the_lessons_stand_in_time_order_and_only_ones_own(cast, at_four):
    assert times_and_names(cast) == [("15:30", "Robin Example"), ("16:00", "Kit Child")]
    assert times_and_names(cast, who="other_teacher") == [("15:30", "Toni Other")]
    assert [name for _, name in times_and_names(cast, who="owner")] == ["Robin Example", "Toni Other", "Kit Child"]
    assert [name for _, name in times_and_names(cast, who="stranger")] == ["Far Student"]


def test_the_lead_counts_lessons_and_who_needs_a_word(cast, at_four):
    factory.make_entry(cast.student)
    factory.make_entry(cast.child)
    assert "Two lessons, from 15:30." in seen(cast)
    assert "a word before you start" not in seen(cast)
    factory.make_goal(cast.child, due=TODAY - dt.timedelta(days=3))
    assert "Two lessons, from 15:30. One needs a word before you start." in seen(cast)
    TellTeacher.objects.create(student=cast.student, by="student", at=NOW)
    assert "Two need a word before you start." in seen(cast)
    assert "Wants to talk to you." in seen(cast)
    assert "A hand note to look at." not in seen(cast)


def test_no_hand_value_stands_on_the_page(cast):
    """The next family may look over the shoulder: a note is announced, never read out."""
    factory.make_consent(cast.student)
    factory.make_note(cast.student, 9, place="thumb", sensation="numb", settles="rest")
    page = cast.client("teacher").get(URL).content.decode()
    text = seen(cast)
    assert "A hand note to look at." in text
    assert f"/students/{cast.student.code}/hand/" in page
    for word in ("thumb", "numb", "9 of 10", "at rest", "doctor"):
        assert word not in text


def test_a_seen_note_no_longer_asks_for_a_word(cast):
    factory.make_consent(cast.student)
    note = factory.make_note(cast.student, 6)
    assert "A hand note to look at." in seen(cast)
    note.seen_at = NOW
    note.save()
    assert "A hand note to look at." not in seen(cast)


def test_an_open_episode_stays_until_it_is_closed(cast):
    factory.make_consent(cast.student)
    for student in (cast.student, cast.child):
        factory.make_entry(student)
    note = factory.make_note(cast.student, 6)
    episode = HandEpisode.objects.create(student=cast.student, opened_at=NOW, opened_on=TODAY)
    assert "A hand note to look at." in seen(cast)
    cast.client("teacher").post(f"/students/{cast.student.code}/hand/")  # Seen
    text = seen(cast)
    assert "A hand note to look at." not in text
    assert "A hand note that is not dealt with yet." in text
    assert "One needs a word before you start." in text
    assert "A hand note that is not dealt with yet." in page_of(cast, f"/students/{cast.student.code}/")
    assert "Hand notes that are not dealt with yet." in page_of(cast, "/roster/")
    assert "6 of 10" not in text
    note.refresh_from_db()
    episode.close("Strings lowered.", NOW)
    assert "not dealt with" not in seen(cast)
    assert "not dealt with" not in page_of(cast, "/roster/")


def page_of(cast, url):
    return cast.client("teacher").get(url).content.decode()


def test_an_episode_that_the_notes_have_ended_is_shown_nowhere(cast):
    """Its row closes with the next note or mail; what stops does not end by itself."""
    factory.make_consent(cast.student)
    opened = TODAY - dt.timedelta(days=9)
    HandEpisode.objects.create(student=cast.student, opened_at=NOW - dt.timedelta(days=9), opened_on=opened)
    hurt = factory.make_note(cast.student, 6, day=opened, seen_at=NOW)
    for days in (4, 3):
        factory.make_note(cast.student, 0, day=TODAY - dt.timedelta(days=days), seen_at=NOW)
    for url in (URL, "/roster/", f"/students/{cast.student.code}/"):
        assert "not dealt with" not in page_of(cast, url)
    hurt.discomfort = 8
    hurt.save()
    for url in (URL, "/roster/", f"/students/{cast.student.code}/"):
        assert "not dealt with" in page_of(cast, url)


@pytest.mark.parametrize(
    ("about", "today", "roster"),
    [
        ("word", "Wants to talk to you.", "Wants to talk to you about the hand."),
        ("back", "A hand note was taken back.", "A hand note was taken back as a wrong tap."),
        ("consent", "A consent has ended: talk the plan over.", "The consent to hand notes has ended: talk the plan"),
    ],
)
def test_what_a_teacher_is_to_hear_is_said_in_its_own_words_until_it_is_seen(cast, about, today, roster):
    TellTeacher.objects.create(student=cast.student, by="student", at=NOW, about=about)
    assert today in seen(cast)
    assert today in page_of(cast, f"/students/{cast.student.code}/")
    assert roster in page_of(cast, "/roster/")
    cast.client("teacher").post(f"/students/{cast.student.code}/hand/")
    assert today not in seen(cast)
    assert roster not in page_of(cast, "/roster/")


def test_of_several_the_ended_consent_is_said(cast):
    for about in ("word", "back", "consent", "word"):
        TellTeacher.objects.create(student=cast.student, by="student", at=NOW, about=about)
    assert "A consent has ended: talk the plan over." in seen(cast)
    assert "The consent to hand notes has ended" in page_of(cast, "/roster/")


def test_minutes_are_those_since_the_last_lesson(cast):
    Student.objects.exclude(pk=cast.student.pk).update(status="paused")
    factory.make_entry(cast.student, day=TODAY - dt.timedelta(days=1), seconds=25 * 60)
    factory.make_entry(cast.student, day=TODAY - dt.timedelta(days=7), seconds=20 * 60)
    factory.make_entry(cast.student, day=TODAY - dt.timedelta(days=8), seconds=90 * 60)
    assert "45 of 100 min" in seen(cast)


def test_a_new_try_changes_what_is_told(cast):
    goal = factory.make_goal(cast.student)
    assert "Bm, E-shape at 7:" not in seen(cast)
    factory.make_result(goal, 4, day=TODAY - dt.timedelta(days=4))
    assert "Bm, E-shape at 7: 4 of 6 strings" in seen(cast)
    factory.make_result(goal, 6, day=TODAY - dt.timedelta(days=2))
    factory.make_result(goal, 6, day=TODAY - dt.timedelta(days=1))
    assert "Bm, E-shape at 7: 6 of 6 strings, target met on 2 days" in seen(cast)
    lesson = factory.make_lesson(cast.student, day=TODAY - dt.timedelta(days=7))
    factory.make_result(goal, 6, lesson=lesson, day=lesson.day)
    assert "Bm, E-shape at 7: secure since 10 Nov" in seen(cast)


def test_a_goal_met_tells_more_than_one_missed(cast):
    missed = factory.make_goal(cast.student, due=TODAY)
    met = factory.make_goal(cast.student, terms=factory.chord_terms("E-minor", "A"), due=TODAY + dt.timedelta(days=9))
    factory.make_result(missed, 2)
    factory.make_result(met, 6)
    assert most_telling(student_facts(cast.student, TODAY), TODAY).goal.code == str(met.code)


def test_a_recorded_lesson_is_marked_and_can_be_changed(cast):
    assert "Record the lesson" in seen(cast)
    factory.make_lesson(cast.student)
    assert "Change what is recorded" in seen(cast)


@pytest.mark.parametrize(
    ("outcome", "words"),
    [("called-off", "called off by the family, in time"), ("not-come", "not come"), ("moved", "moved")],
)
def test_a_lesson_that_does_not_take_place_is_not_counted(cast, outcome, words):
    Student.objects.exclude(pk=cast.student.pk).update(status="paused")
    factory.make_lesson(cast.student, outcome=outcome)
    assert "No lesson takes place." in seen(cast)
    assert words in seen(cast)


def test_a_lesson_recorded_outside_the_weekly_slot_stands_on_its_day(cast):
    saturday = TODAY + dt.timedelta(days=2)
    factory.make_lesson(cast.student, day=saturday, time=dt.time(11, 15), outcome="moved")
    assert times_and_names(cast, saturday) == [("11:15", "Robin Example")]
    assert "One lesson, at 11:15." in seen(cast, saturday)


def test_a_day_without_lessons_names_the_next(cast):
    text = seen(cast, TODAY + dt.timedelta(days=1))
    assert "No lessons on this day." in text
    assert "Thursday, 19 November" in text


def test_a_teacher_without_lessons_is_led_to_the_roster(cast):
    Student.objects.update(lesson_weekday=None)
    assert "no student has a weekly lesson yet" in seen(cast)


def test_a_fortnightly_lesson_stands_every_second_week(cast):
    Student.objects.exclude(pk=cast.student.pk).update(status="archived")
    Student.objects.filter(pk=cast.student.pk).update(lesson_every=2, lesson_anchor=TODAY)
    week = dt.timedelta(days=7)
    assert [bool(times_and_names(cast, TODAY + week * n)) for n in range(4)] == [True, False, True, False]


def test_paused_and_future_students_have_no_slot(cast):
    factory.make_student(teacher=cast.teacher, name="New Nora", joined=TODAY + dt.timedelta(days=1))
    factory.make_student(teacher=cast.teacher, name="Paused Pim", status="paused")
    assert {name for _, name in times_and_names(cast)} == {"Robin Example", "Kit Child"}


def test_a_past_day_says_what_is_not_recorded(cast, at_four):
    last = TODAY - dt.timedelta(days=7)
    assert "Two are not recorded yet." in seen(cast, last)
    for student in (cast.student, cast.child):
        factory.make_lesson(student, day=last)
    assert "All are recorded." in seen(cast, last)


@pytest.mark.parametrize("day", ["soon", "2026-13-45", "0001-01-01", "99999-01-01", "%00", "2026-02-30"])
def test_a_day_that_is_none_is_said_and_kept(cast, day):
    response = cast.client("teacher").get(f"{URL}?day={day}")
    text = html.unescape(response.content.decode())
    assert response.status_code == 200
    assert "is no day" in text
    if "%" not in day:
        assert f'value="{day}"' in text


def test_at_midnight_the_day_is_the_studios(cast, monkeypatch):
    """23:30 in UTC on 12 November is half past noon on the 13th in Auckland: UTC+13 in summer, from the zone data."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW.replace(hour=23, minute=30))
    cast.studio.zone = "Pacific/Auckland"
    cast.studio.save()
    assert "Friday, 13 November" in seen(cast)


# -- reading the whole day at once --------------------------------------------------------------------------------


def with_history(student):
    goal = factory.make_goal(student, words="Slowly")
    rested = factory.make_goal(student, terms=factory.chord_terms("E-minor", "A"), set_aside_at=NOW)
    factory.make_result(goal, 5, day=TODAY - dt.timedelta(days=3), failed_strings=[1])
    lesson = factory.make_lesson(student, day=TODAY - dt.timedelta(days=7))
    factory.make_result(goal, 6, lesson=lesson, day=lesson.day)
    factory.make_entry(student, (goal, 600), (rested, 300), tiring=4)
    factory.make_consent(student)
    factory.make_note(student, 3)
    return student


def test_the_bulk_reader_reads_what_the_single_one_reads(cast):
    for student in (cast.student, cast.child, cast.other_student):
        with_history(student)
    rows = list(Student.objects.select_related("studio").with_hand_consent(TODAY))
    facts = facts_of(rows, TODAY)
    assert len(facts) == len(rows) == 4
    for row in rows:
        assert facts[row.pk] == student_facts(row, TODAY)


def test_the_bulk_reader_cuts_where_it_is_told(cast):
    with_history(cast.student)
    rows = list(Student.objects.filter(pk=cast.student.pk).select_related("studio").with_hand_consent(TODAY))
    facts = facts_of(rows, TODAY, since=TODAY)[cast.student.pk]
    assert {entry.day for entry in facts.entries} == {note.day for note in facts.notes} == {TODAY}
    assert len(facts.goals[0].marks) == 2


def test_who_has_been_silent_for_longer_than_what_is_read_is_not_said_to_have_never_logged(cast, at_four):
    Student.objects.filter(pk=at_four.pk).update(joined=TODAY - dt.timedelta(days=400))
    before = seen(cast).count("No entry yet, with the studio since")
    factory.make_entry(at_four, day=TODAY - dt.timedelta(days=300))
    factory.make_entry(at_four, day=TODAY - dt.timedelta(days=200))
    said = seen(cast)
    assert "No entry for 200 days." in said
    assert said.count("No entry yet") == before - 1


def test_the_page_asks_a_constant_number_of_questions(cast, count_queries):
    client = cast.client("teacher")
    with_history(cast.student)
    few = count_queries(client, URL)
    for number in range(6):
        with_history(factory.make_student(teacher=cast.teacher, name=f"Pupil {number}"))
    with CaptureQueriesContext(connection) as captured:
        client.get(URL)
    # session, user, teacher; lessons, students; goals, results, segments, entries, notes, performances, returns; tells;
    # open episodes; the last entry's day
    assert len(captured) == few <= 15


def test_refusals(cast):
    assert cast.client("anonymous").get(URL).status_code == 302
    assert cast.client("teacher").post(URL).status_code == 405


def test_nothing_of_the_hand_stands_openly_on_the_page(cast):
    make_consent(cast.student)
    make_goal(cast.student)
    for seen_at in (None, NOW):
        make_note(cast.student, 8, sensation="numb", settles="next-day", seen_at=seen_at)
        page = cast.client("teacher").get("/today/").content.decode().lower()
        for word in ("rests", "paused", "numb", "wrist", "8 of 10"):
            assert word not in page
