"""The term as one value: what it counts, which goals it calls reached, and how little it says of the hand."""

import datetime as dt
from dataclasses import replace

import pytest

from practice import summary
from practice.facts import ReturnFacts
from practice.progress import SECURE, state
from practice.report import compose_term, secure_on
from practice.report_charts import figures_of, lines_of
from practice.words import say
from tests.practice.plain import TODAY, ago, chord, entry, facts, goal, mark, note

START, END = ago(80), TODAY
MET = (mark(ago(20), 6), mark(ago(10), 6, check=True))


def term(start=START, end=END, today=TODAY, words="", **over):
    return compose_term(facts(**over), start, end, today, words)


def test_days_minutes_and_plan_are_those_of_the_term():
    """Two days of 20 and 31 minutes inside, one before and one after; planned 60 a week over 81 days (derived)."""
    days = [entry(ago(81), 50), entry(ago(80), 20), entry(ago(3), 31), entry(ago(3), 0.4, code="again")]
    report = term(entries=(*days, entry(TODAY + dt.timedelta(days=1), 99)))
    assert [number.value for number in report.numbers] == [2, 51, 0]
    assert say(report.numbers[0].beside) == "of 81 days"
    assert say(report.numbers[1].beside) == f"of {round(60 * 81 / 7)} planned"


# begun on, minor: what stands beside the minutes; planned 60 a week over the days before (derived)
RETURNS = [
    (ago(9), True, f"of {round(60 * 71 / 7)} planned before the return; at most 10 a day since 3 November"),
    (START, True, "at most 10 a day since 24 August"),
    (ago(9), False, f"of {round(60 * 71 / 7)} planned"),  # an adult's report says nothing of the hand
    (START, False, "in all"),
]


@pytest.mark.parametrize(("begun", "minor", "beside"), RETURNS)
def test_on_a_stepwise_return_the_plan_does_not_hold(begun, minor, beside):
    step = ReturnFacts(begun, 1, begun, 5, 60, 2)
    student = facts(hand_return=step, minor=minor, entries=(entry(ago(2), 10),))
    report = compose_term(student, START, END, TODAY)
    assert say(report.numbers[1].beside) == beside
    assert "planned" not in figures_of(report, student)[1].sentence
    assert "plan" not in figures_of(report, student)[1].raw


SENTENCES = [
    # goals' marks, entries, sentence
    ([], [], "No practice at home was logged for Wren this term."),
    ([MET], [], "Wren reached 1 goal this term; no practice at home was logged."),
    ([], [entry(ago(2))], "Wren logged 20 minutes of practice on 1 day this term."),
    (
        [MET, MET],
        [entry(ago(2)), entry(ago(1), 5)],
        "Wren reached 2 goals this term and logged 25 minutes of practice on 2 days.",
    ),
]


@pytest.mark.parametrize("case", range(len(SENTENCES)))
def test_the_sentence(case):
    marks, entries, sentence = SENTENCES[case]
    goals = tuple(goal(code=f"g{number}", marks=one) for number, one in enumerate(marks))
    assert say(term(goals=goals, entries=tuple(entries)).sentence) == sentence


# marks, reached on (None: not)
REACHED = [
    ((), None),
    ((mark(ago(20), 6), mark(ago(10), 6)), None),  # own reports alone
    (MET, ago(10)),
    ((*MET, mark(ago(5), 6)), ago(10)),  # met again later
    ((*MET, mark(ago(5), 3, check=True)), None),  # slipped since
    ((mark(ago(120), 6), mark(ago(100), 6, check=True), mark(ago(70), 6)), None),  # secure before the term
    ((mark(ago(90), 6), mark(ago(60), 6, check=True)), ago(60)),  # review has fallen due since: still reached
    (  # secure before, lost, and secure again in the term
        (mark(ago(120), 6), mark(ago(110), 6, check=True), mark(ago(75), 2, check=True), mark(ago(40), 6),
         mark(ago(30), 6, check=True)),
        ago(30),
    ),
]  # fmt: skip


@pytest.mark.parametrize(("marks", "day"), REACHED)
def test_a_goal_is_reached_when_it_became_secure_in_the_term_and_still_is(marks, day):
    one = goal(marks=marks)
    assert secure_on(one, START, END) == day
    assert bool(term(goals=(one,)).reached) is (day is not None)
    if day is not None:
        assert state(one, day).code == SECURE
        assert term(goals=(one,)).reached[0].day == day


def test_a_goal_set_aside_since_counts_and_is_not_to_come():
    one = goal(marks=MET, set_aside=True, set_aside_on=ago(1))
    report = term(goals=(one,))
    assert [line.code for line in report.reached] == ["goal-1"]
    assert report.coming == ()


def test_what_comes_next_is_set_and_not_known_by_due_day():
    later = goal(code="later", due=TODAY + dt.timedelta(days=9))
    sooner = goal(code="sooner", marks=(mark(ago(9), 2), mark(ago(2), 4, check=True)))
    known = goal(code="known", marks=(mark(ago(120), 6), mark(ago(100), 6, check=True)))
    future = goal(code="future", set_on=TODAY + dt.timedelta(days=1))
    report = term(goals=(later, known, sooner, future))
    assert [line.code for line in report.coming] == ["sooner", "later"]
    assert say(report.coming[0].last) == "4 of 6 strings"
    assert report.coming[0].last_on == ago(2)
    assert report.coming[1].last is None


def test_a_term_that_is_over_is_seen_from_its_last_day():
    one = goal(set_on=ago(90), marks=(mark(ago(70), 3), mark(ago(20), 6), mark(ago(10), 6, check=True)))
    report = term(end=ago(50), goals=(one,), entries=(entry(ago(60)), entry(ago(5))))
    assert (report.seen_on, report.running) == (ago(50), False)
    assert report.numbers[0].value == 1
    assert report.reached == ()
    assert say(report.coming[0].last) == "3 of 6 strings"
    assert term(end=TODAY + dt.timedelta(days=20)).running


@pytest.mark.parametrize(("start", "end"), [(TODAY, ago(1)), (TODAY + dt.timedelta(days=1), TODAY)])
def test_a_term_that_cannot_be_is_refused(start, end):
    with pytest.raises(ValueError, match="term"):
        term(start=start, end=end)


# ---------------------------------------------------------------- the hand

NOTES = (note(ago(40), 8), note(ago(9), 5, settles="day"), note(ago(1), 0))


def test_of_a_minors_hand_the_report_says_what_the_familys_page_says():
    """On a Thursday that page shows the week before, which holds the note of nine days ago."""
    child = facts(minor=True, notes=NOTES)
    report = compose_term(child, START, END, TODAY)
    assert report.hand_week == dt.date(2026, 11, 2)
    assert report.hand == summary.compose(child, dt.date(2026, 11, 2), TODAY).hand
    assert report.hand
    assert "8" not in " ".join(say(line) for line in report.hand)


@pytest.mark.parametrize("over", [{"minor": False}, {"minor": True, "hand_consent": False, "notes": ()}])
def test_of_an_adult_and_without_consent_it_says_nothing(over):
    report = compose_term(facts(**({"notes": NOTES} | over)), START, END, TODAY)
    assert report.hand == ()
    assert report.hand_week is None


def test_no_week_before_the_term_or_the_student_is_spoken_of():
    assert term(start=TODAY, minor=True, notes=NOTES).hand_week == dt.date(2026, 11, 9)
    assert term(joined=dt.date(2026, 11, 10), minor=True, notes=NOTES).hand_week == dt.date(2026, 11, 9)


# ---------------------------------------------------------------- days of rest, and what rests today


def shut(first, last):
    return note(first, 8, closed=True, closed_on=last)


def test_days_on_which_nothing_was_to_be_played_count_against_nobody():
    """Twelve weeks less four days (a Monday's), of which three whole weeks were for rest: 60 minutes less each."""
    start, first, last = dt.date(2026, 8, 24), dt.date(2026, 9, 7), dt.date(2026, 9, 27)
    played = (entry(ago(2), 20), entry(dt.date(2026, 8, 25), 20))
    report = term(start=start, entries=played, notes=(shut(first, last),))
    assert say(report.numbers[0].beside) == f"of {81 - 21} days, days of rest left out"
    assert say(report.numbers[1].beside) == f"of {round(60 * 81 / 7) - 180} planned"
    student = facts(entries=played, notes=(shut(first, last),))
    calendar, minutes = figures_of(report, student)[:2]
    assert "of the last 8 finished weeks" in minutes.sentence  # of eleven
    assert "0 of 8 finished weeks had the planned 5 days." in calendar.sentence
    # three days of one week leave four of the five planned
    part = term(start=start, notes=(shut(first, first + dt.timedelta(days=2)),))
    assert say(part.numbers[1].beside) == f"of {round(60 * 81 / 7) - 12} planned"
    without = term(start=start, entries=played, notes=(shut(first, last),), hand_consent=False)
    assert say(without.numbers[1].beside) == f"of {round(60 * 81 / 7)} planned"


def test_a_term_of_rest_asks_for_nothing_and_says_so():
    start = dt.date(2026, 10, 5)
    report = term(start=start, notes=(note(dt.date(2026, 10, 1), 8),))
    assert say(report.sentence) == "No practice was asked of Wren this term."
    assert say(report.numbers[1].beside) == "in all"


def test_a_goal_that_rests_today_is_not_what_comes_next():
    barre, open_chord = goal(code="barre", due=ago(9)), goal(code="open", theory=chord("open-Em", "E", None))
    hurt = term(goals=(barre, open_chord), notes=(note(TODAY, 5),))
    assert [(line.code, line.waits) for line in hurt.coming] == [("open", False), ("barre", True)]
    stopped = term(goals=(barre, open_chord), notes=(note(TODAY, 8),))
    assert all(line.waits for line in stopped.coming)
    well = term(goals=(barre, open_chord))
    assert [(line.code, line.waits) for line in well.coming] == [("barre", False), ("open", False)]


# ---------------------------------------------------------------- figures


def test_lines_are_of_goals_measured_twice_in_the_term_reached_ones_first():
    goals = (
        goal(code="once", marks=(mark(ago(5), 3),)),
        goal(code="coming", marks=(mark(ago(9), 3), mark(ago(5), 3))),
        goal(code="reached", marks=MET),
        goal(code="before", marks=(mark(ago(100), 3), mark(ago(90), 3))),
    )
    student = facts(goals=goals, entries=(entry(ago(5)),))
    report = compose_term(student, START, END, TODAY)
    assert [one.code for one in lines_of(report, student)] == ["reached", "coming"]
    figures = figures_of(report, student)
    assert [figure.uid for figure in figures] == ["calendar", "minutes", "goal-reached", "goal-coming"]
    assert len(figures[0].rows) == len(figures[1].rows) == 12  # the weeks that the term touches


def test_a_student_who_came_in_the_term_is_not_asked_for_the_weeks_before():
    student = facts(joined=ago(6), entries=(entry(ago(2)),))
    figures = figures_of(compose_term(student, START, END, TODAY), student)
    assert len(figures[1].rows) == 2


def test_nothing_in_a_year_draws_nothing():
    student = replace(facts(), goals=(), entries=())
    assert all(not figure.raw for figure in figures_of(compose_term(student, ago(365), END, TODAY), student))
