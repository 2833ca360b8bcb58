"""One row more changes exactly what it should, on every page that shows it, and nothing beside: fixed text,
a stale figure or a number computed twice in two ways would show here.

A snapshot is what the pages say, taken from their own contexts and the exported table; each test makes one
change and names every part of the snapshot that may differ.
"""

import csv
import datetime as dt
import io

import pytest

from practice.words import say
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
)  # fmt: skip

YESTERDAY = TODAY - dt.timedelta(days=1)
# TODAY is a Thursday: the family reads the week that is running
WEEK = dt.date(2026, 11, 9)


@pytest.fixture(autouse=True)
def _now(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def child(cast):
    """A child of twelve with consent, three open chords secure, a barre under way and two weeks of entries."""
    child = cast.child
    child.birth_year, child.instrument = TODAY.year - 14, "steel-string"
    child.joined = TODAY - dt.timedelta(days=400)
    child.save()
    make_consent(child)
    long_ago = TODAY - dt.timedelta(days=90)
    for shape, root, target in (("open-E", "E", 6), ("open-A", "A", 5), ("open-D", "D", 4), ("open-Em", "E", 6)):
        goal = make_goal(child, terms=chord_terms(shape, root), target=target, day=long_ago)
        make_result(goal, target, day=TODAY - dt.timedelta(days=20))
        make_result(goal, target, day=TODAY - dt.timedelta(days=14), lesson=lesson(child, 14))
    # due last, so that once it is secure the family hears of another
    later = TODAY + dt.timedelta(days=21)
    barre = make_goal(child, terms=chord_terms("E-major", "B"), target=6, day=long_ago, due=later)
    make_result(barre, 4, day=TODAY - dt.timedelta(days=9))
    make_result(barre, 6, day=TODAY - dt.timedelta(days=7), lesson=lesson(child, 7))
    for days in (8, 10):
        make_entry(child, (barre, 900), day=TODAY - dt.timedelta(days=days), tiring=3)
    make_note(child, 0, day=TODAY - dt.timedelta(days=8))
    child.barre = barre
    return child


def lesson(child, days):
    day = TODAY - dt.timedelta(days=days)
    return child.lessons.filter(day=day).first() or make_lesson(child, day=day)


def snapshot(cast, child):
    teacher, guardian, student = cast.client("teacher"), cast.client("guardian"), cast.client("guardian")
    base = f"/students/{child.code}/"
    table = csv.DictReader(io.StringIO(teacher.get("/roster.csv").content.decode("utf-8-sig")))
    row = next(line for line in table if line["Student"] == child.name)
    seen = {f"roster: {head}": cell for head, cell in row.items()}
    for chart in teacher.get(f"{base}charts/").context["charts"]:
        seen[f"chart: {chart.title}"] = (chart.sentence, tuple(map(tuple, chart.rows)), chart.svg)
    page = teacher.get(base).context
    seen["head"] = page["sentence"]
    seen["hand line"] = page["hand"]
    for one in page["rows"]:
        seen[f"goal: {one.card.goal.title}"] = (one.state.code, one.reason, one.last)
    following = teacher.get(f"{base}next/").context
    seen["next"] = (following["word"], tuple((one["title"], one["score"]) for one in following["suggestions"]))
    week = guardian.get(f"/f/{child.code}/?week={WEEK}").context["week"]
    seen["family: sentence"] = say(week.sentence)
    for name, number in zip(("days", "minutes", "telling"), week.numbers, strict=True):
        seen[f"family: {name}"] = (number.value, say(number.label), say(number.beside))
    seen["family: help"] = say(week.help)
    seen["family: hand"] = tuple(say(line) for line in week.hand)
    for line in week.goals:
        seen[f"family: goal {line.title}"] = (line.state.code, line.last)
    assert student
    return seen


def changed(before, after):
    return {name for name in before.keys() | after.keys() if before.get(name) != after.get(name)}


def test_nothing_changes_by_looking(cast, child):
    before = snapshot(cast, child)
    assert changed(before, snapshot(cast, child)) == set()
    assert len(before) > 25


def test_an_entry_without_results_moves_the_minutes_and_only_them(cast, child):
    before = snapshot(cast, child)
    make_entry(child, seconds=1500, day=YESTERDAY)
    after = snapshot(cast, child)
    assert changed(before, after) == {
        "roster: Minutes this week",
        "roster: Days since last entry",
        "roster: Needs attention",
        "chart: Minutes by week",
        "chart: Practice calendar",
        "chart: Practice load",  # its minutes that nobody rated
        "head",
        "family: sentence",
        "family: days",
        "family: minutes",
        "family: help",
    }
    assert (before["family: minutes"][0], after["family: minutes"][0]) == (0, 25)
    assert (before["family: days"][0], after["family: days"][0]) == (0, 1)
    assert (before["roster: Minutes this week"], after["roster: Minutes this week"]) == ("0", "25")
    assert (before["roster: Days since last entry"], after["roster: Days since last entry"]) == ("8", "1")


def test_how_tiring_moves_the_load_and_only_it(cast, child):
    entry = make_entry(child, seconds=1500, day=YESTERDAY)
    before = snapshot(cast, child)
    entry.tiring = 6
    entry.save()
    after = snapshot(cast, child)
    assert changed(before, after) == {"chart: Practice load"}
    # 6 x 25 minutes (Foster et al. 2001, quoted): the current week's load
    assert "150" in str(after["chart: Practice load"][1])


def test_a_hand_note_moves_the_hand_and_what_follows_from_it(cast, child):
    make_entry(child, seconds=1500, day=YESTERDAY)
    before = snapshot(cast, child)
    make_note(child, 5, day=YESTERDAY)
    after = snapshot(cast, child)
    assert changed(before, after) == {
        "roster: Highest discomfort in 14 days",
        "roster: Needs attention",
        "chart: Discomfort and minutes on barres",
        "hand line",
        "head",  # of the barre, which rests now, nothing is said
        "next",
        "family: sentence",
        "family: minutes",
        "family: help",
        "family: hand",
    }
    assert after["family: minutes"] == (*before["family: minutes"][:2], "half of it for now: 10 a day")
    assert after["family: sentence"].startswith("Barre chords (one finger over several strings) rest")
    assert after["roster: Highest discomfort in 14 days"] == "5"
    assert after["hand line"] == "note"
    # what is offered now is no chord with a barre: roots, reading, or what is lighter than anything secure
    shown = cast.client("teacher").get(f"/students/{child.code}/next/").context["suggestions"]
    assert not any(one["voicing"] is not None and one["voicing"].has_barre for one in shown)


def test_a_known_chord_changes_its_state_and_what_comes_next(cast, child):
    make_entry(child, seconds=1500, day=YESTERDAY)
    before = snapshot(cast, child)
    entry = child.entries.first()
    make_result(child.barre, 6, day=YESTERDAY, entry=entry)
    after = snapshot(cast, child)
    title = "B, E-shape at 7"
    assert changed(before, after) == {
        f"chart: {title}",
        "chart: Chords on the neck",
        f"goal: {title}",
        f"family: goal {title}",
        "head",
        "next",
        "family: sentence",
        "family: telling",
        "family: help",
    }
    assert (before[f"goal: {title}"][0], after[f"goal: {title}"][0]) == ("developing", "secure")
    assert before["next"] != after["next"]
    assert "every string ringing" in after["family: sentence"]


def test_another_students_rows_change_nothing_here(cast, child):
    before = snapshot(cast, child)
    make_consent(cast.student)
    goal = make_goal(cast.student)
    make_result(goal, 6, day=YESTERDAY)
    make_note(cast.student, 8, day=YESTERDAY)
    assert changed(before, snapshot(cast, child)) == set()
