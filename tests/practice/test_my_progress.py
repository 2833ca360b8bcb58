"""A student's own progress: plain numbers, the charts with their tables, nothing of the hand and of nobody else."""

import datetime as dt
import re
from html import unescape

import pytest
from django.urls import reverse

from tests.factory import (
    NOW,
    TODAY,
    chord_terms,
    make_consent,
    make_entry,
    make_goal,
    make_lesson,
    make_note,
    make_result,
    make_roots_goal,
    make_song,
)

MONDAY = dt.date(2026, 11, 9)


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def at(student, name="s-progress"):
    return reverse(f"practice:{name}", args=[student.code])


def page(cast, name="s-progress", **query):
    response = cast.client("student").get(at(cast.student, name), query)
    assert response.status_code == 200
    return unescape(response.content.decode())


def words(text):
    main = re.search(r"<main.*?</main>", text, flags=re.S)
    return " ".join(re.sub(r"<[^>]*>", " ", main[0] if main else text).split())


def secure(lesson, goal, value):
    """Met on two days, one of them a lesson check (practice.progress.RULE)."""
    make_result(goal, value, day=lesson.day - dt.timedelta(days=1))
    make_result(goal, value, day=lesson.day, lesson=lesson)


def test_days_and_minutes_of_the_week_and_the_days_before(cast):
    for day, minutes in ((0, 20), (0, 10), (2, 15)):
        make_entry(cast.student, day=MONDAY + dt.timedelta(days=day), seconds=minutes * 60)
    for weeks, days in ((1, 4), (2, 1), (4, 2)):
        for day in range(days):
            make_entry(cast.student, day=MONDAY + dt.timedelta(days=day - 7 * weeks), seconds=600)
    shown = words(page(cast))
    assert "2 days practised of 5 planned" in shown
    assert "45 minutes of 100 planned" in shown
    assert "Practised on Monday and Wednesday." in shown
    assert "7 days practised in the 4 weeks before" in shown


def test_a_student_of_this_week_has_no_weeks_before(cast):
    cast.student.joined = MONDAY + dt.timedelta(days=1)
    cast.student.save()
    shown = words(page(cast))
    assert "Nothing is set yet." in shown
    assert "Nothing is logged this week yet." in shown
    assert "before" not in shown


def test_what_is_secure_and_what_is_on_the_way(cast):
    done, half, rested = make_goal(cast.student), make_roots_goal(cast.student), make_goal(cast.student, target=5)
    lesson = make_lesson(cast.student, day=TODAY - dt.timedelta(days=7))
    secure(lesson, done, 6)
    make_result(half, 70, day=TODAY - dt.timedelta(days=1))
    secure(lesson, rested, 5)
    rested.set_aside(NOW)
    dropped = make_goal(cast.student, target=4)
    dropped.set_aside(NOW)
    shown = words(page(cast))
    assert "2 goals are secure, 1 is on the way." in shown
    known, way = shown.split("What is secure")[1].split("Over the weeks")[0].split("On the way")
    assert known.count("Bm, E-shape at 7") == 2
    assert "secure" in known
    assert "set aside" in known
    assert "Roots, 6th string" in way
    assert "last first try 70 s · target 40 s" in way
    assert "Last 70 seconds, on 11 November; the target is 40 seconds." in way


def test_a_tempo_is_a_highest_and_no_first_try(cast):
    goal = make_goal(cast.student, kind="piece", measure="tempo", target=90, terms={"kind": "piece", "title": "Kites"})
    make_result(goal, 72)
    shown = words(page(cast))
    assert "last 72 bpm" in shown
    assert "last first try" not in shown


def test_charts_come_later_and_are_a_page_without_a_script(cast):
    goal = make_roots_goal(cast.student)
    for days, value in ((9, 80), (5, 70), (2, 61)):
        make_result(goal, value, day=TODAY - dt.timedelta(days=days))
    text = page(cast)
    assert "<svg" not in text
    place = re.search(r'data-load="([^"]+)"><p><a href="([^"]+)"', text)
    part = cast.client("student").get(place[1]).content.decode()
    whole = cast.client("student").get(place[2]).content.decode()
    assert "<html" in whole
    assert "<html" not in part
    for markup in (part, whole):
        assert markup.count("<svg") == 3  # calendar, minutes, the goal's line
        assert "style=" not in markup
        # the charts' numbers as tables
        assert "From 80 s on 3 Nov to 61 s on 10 Nov. The target is 40 s." in markup
        rows = re.findall(r'<th scope="row">([^<]*)</th><td class="n">([^<]*)</td>', markup)
        assert [value for _, value in rows][-3:] == ["61", "70", "80"]


def test_the_hand_is_not_looked_back_at(cast):
    make_consent(cast.student)
    make_note(cast.student, 6, place="wrist")
    make_entry(cast.student, tiring=8)
    for text in (page(cast), page(cast, "s-progress-charts"), page(cast, "s-progress-charts", fragment="")):
        shown = words(text).lower()
        for word in ("discomfort", "wrist", "hand", "tiring", "load"):
            assert word not in shown, word


@pytest.mark.parametrize(("minutes", "told"), [(150, False), (151, True)])
def test_a_week_far_over_the_plan_is_called_more_than_planned(cast, minutes, told):
    make_entry(cast.student, day=MONDAY, seconds=minutes * 60)
    shown = words(page(cast))
    assert ("This week was more than planned." in shown) is told
    assert (f"{minutes} minutes more than the 100 planned" in shown) is told
    cast.student.entries.update(day=MONDAY - dt.timedelta(days=7))
    said = f"Last week was more than planned: {minutes} minutes, 100 planned."
    assert (said in words(page(cast))) is told
    # while nothing is played, what is over is let be
    make_consent(cast.student)
    make_note(cast.student, 8)
    assert "more than planned" not in words(page(cast))


def test_what_rests_is_said_to_rest_and_is_no_song_to_play(cast):
    make_consent(cast.student)
    done, free = make_goal(cast.student), make_goal(cast.student, target=6, terms=chord_terms("open-Em", "E"))
    lesson = make_lesson(cast.student, day=TODAY - dt.timedelta(days=7))
    for goal in (done, free):
        secure(lesson, goal, 6)
    make_song(cast.teacher, title="Two Buckets", chords="Bm Em")
    make_song(cast.teacher, title="Far Hill", chords="Em")
    before = words(page(cast))
    assert "Two Buckets" in before
    assert "rests for now" not in before
    make_note(cast.student, 5)
    shown = words(page(cast))
    assert "Two Buckets" not in shown
    assert "Far Hill" in shown
    assert shown.count("rests for now") == 1
    make_note(cast.student, 8)
    stopped = words(page(cast))
    assert "Far Hill" not in stopped
    assert stopped.count("rests for now") == 2
    assert "none asked this week" in stopped
    assert "planned" not in stopped
    # nothing of how it felt, and no word of the hand
    assert "hand" not in stopped.lower()


def test_no_points_and_no_other_child(cast):
    make_entry(cast.child, day=MONDAY, seconds=5000)
    make_result(make_goal(cast.child, target=5), 5)
    make_goal(cast.student)
    shown = words(page(cast)) + words(page(cast, "s-progress-charts"))
    assert "Kit" not in shown
    assert "83" not in shown  # the child's minutes
    for word in ("point", "badge", "streak", "level", "well done", "great"):
        assert word not in shown.lower(), word


def test_an_unchanged_chart_is_not_drawn_again(cast):
    make_entry(cast.student)
    client, path = cast.client("student"), at(cast.student, "s-progress-charts") + "?fragment"
    first = client.get(path)
    assert client.get(path, headers={"if-none-match": first.headers["ETag"]}).status_code == 304
    make_entry(cast.student, day=MONDAY)
    assert client.get(path, headers={"if-none-match": first.headers["ETag"]}).status_code == 200


def test_the_practice_page_ends_with_a_link_to_it(cast):
    assert f'href="{at(cast.student)}"' in cast.client("student").get(f"/s/{cast.student.code}/").content.decode()


def test_queries_do_not_grow(cast, count_queries):
    goal = make_goal(cast.student)
    few = count_queries(cast.client("student"), at(cast.student))
    for days in range(1, 40):
        make_result(goal, 4, day=TODAY - dt.timedelta(days=days))
    # session, the link's student, facts (6), the song book
    assert count_queries(cast.client("student"), at(cast.student)) == few <= 9


def test_songs_that_are_ready_are_told_by_title_alone(cast):
    goal = make_goal(cast.student, target=5, terms=chord_terms("open-G", "G"))
    make_song(cast.teacher, title="Two Buckets", chords="G", level="9", tags="loud")
    make_song(cast.teacher, title="Far Hill", chords="Eb")
    make_song(cast.other_teacher, title="Of another book", chords="G")
    assert "Songs I can play now" not in words(page(cast))
    make_result(goal, 6, day=TODAY - dt.timedelta(days=2))
    make_result(goal, 6, lesson=make_lesson(cast.student))
    shown = words(page(cast))
    assert "Songs I can play now Two Buckets Over the weeks" in shown


@pytest.mark.parametrize("name", ["s-progress", "s-progress-charts"])
@pytest.mark.parametrize("who", ["anonymous", "child", "other_student", "guardian", "teacher", "owner", "stranger"])
def test_nobody_else_gets_it(cast, who, name):
    assert cast.client(who).get(at(cast.student, name)).status_code == 404
    assert cast.client("student").post(at(cast.student, name)).status_code == 405
