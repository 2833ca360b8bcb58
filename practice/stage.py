"""What a performance asks of the weeks before it: due days that count back, a quiet last week, and when to slow down.

Conventions: days are the studio's; a performance on `today` is still ahead. Of several, the first one speaks.

The rules:

- what is to be played is secure seven days before, so its goals are due on that day (`due_day`) [C];
- the last week is the seven days that end with the performance: run-throughs from beginning to end, nothing new, and
  minutes no higher than usual [C];
- usual minutes are the median of the days practised in the four weeks before the last week, never below the day's plan
  and never above the daily most (`usual_minutes`; the median is this project's own choice);
- the hand comes first: while it asks for a person nothing is said of playing through, and while nothing is played no
  minutes are (practice.handday);
- whoever practises far more than planned in the four weeks before a performance is slowed down in words
  (`slow_down`): minutes over 150 % of the plan (the rule of practice.attention), or over the daily most on two days
  of the last seven. Sudden or high load is what players themselves blame most [1].

References
----------
[C] Common practice, no source.
[1] Chan & Ackermann, Front Psychol 2014;5:706 (published).
"""

import datetime as dt
import statistics
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from practice.attention import OVER_PLAN
from practice.facts import EntryFacts, GoalFacts, PerformanceFacts, StudentFacts
from practice.handday import hand_day
from practice.progress import State, minutes_on, weekly_minutes
from practice.said import Said, said

RULE = Said("stage-rule")

DAY = dt.timedelta(days=1)
WEEK = dt.timedelta(days=7)
SECURE_BEFORE = WEEK
# How long before a performance its nearness bears on words about minutes.
NEAR = dt.timedelta(weeks=4)
USUAL_OVER = dt.timedelta(weeks=4)
# Fewer practised days than this say nothing of what is usual.
USUAL_FROM_DAYS = 3
DAYS_OVER_MOST = 2


@dataclass(frozen=True)
class Move:
    """A due day that could move. before and after: the goal's due day now, and counted back from the performance."""

    goal: GoalFacts
    before: dt.date
    after: dt.date


@dataclass(frozen=True)
class DueDays:
    """What counting back from a performance means for its goals, each in one of four places.

    moves: due days that differ; right: due on that day already; secure: nothing to do; aside: set aside.
    late: the day itself is past, so that nothing is offered.
    """

    day: dt.date
    moves: tuple[Move, ...] = ()
    right: tuple[GoalFacts, ...] = ()
    secure: tuple[GoalFacts, ...] = ()
    aside: tuple[GoalFacts, ...] = ()
    late: bool = False


def ahead(facts: StudentFacts, today: dt.date) -> tuple[PerformanceFacts, ...]:
    """The performances from today on, by day."""
    return tuple(sorted((one for one in facts.performances if one.day >= today), key=lambda one: one.day))


def near(facts: StudentFacts, today: dt.date) -> tuple[PerformanceFacts, ...]:
    """Those of them that lie within four weeks."""
    return tuple(one for one in ahead(facts, today) if one.day <= today + NEAR)


def final_week(facts: StudentFacts, today: dt.date) -> PerformanceFacts | None:
    """The performance whose last week has begun: its day is today or one of the six days after."""
    return next(iter(_in_final_week(facts, today)), None)


def _in_final_week(facts: StudentFacts, today: dt.date) -> tuple[PerformanceFacts, ...]:
    """Every performance of these seven days, for there may be two."""
    return tuple(one for one in ahead(facts, today) if one.day < today + WEEK)


def played_through(facts: StudentFacts, today: dt.date) -> frozenset[str]:
    """Codes of the goals that are practised in the last week, all others wait: those of the performance (of each, where
    two fall into it), else pieces. Empty outside the last week, and where there is neither, so that nothing waits for
    nothing.
    """
    shows = _in_final_week(facts, today)
    if not shows:
        return frozenset()
    own = frozenset(goal.code for goal in facts.active_goals if any(goal.code in one.goals for one in shows))
    return own or frozenset(goal.code for goal in facts.active_goals if goal.kind == "piece")


def days_to(performance: PerformanceFacts, today: dt.date) -> int:
    """Days from today to the performance, 0 on the day itself, negative afterwards."""
    return (performance.day - today).days


def due_day(performance: PerformanceFacts) -> dt.date:
    """The day on which its goals are to be secure: the last before the last week begins."""
    return performance.day - SECURE_BEFORE


def due_days(
    performance: PerformanceFacts, facts: StudentFacts, states: Mapping[str, State], today: dt.date
) -> DueDays:
    """Which due days of its goals would move, earliest first. states: by goal code; only read, nothing is written."""
    goals = [goal for goal in facts.goals if goal.code in performance.goals]
    goals.sort(key=lambda goal: (goal.due, goal.set_on, goal.code))
    day, late = due_day(performance), due_day(performance) < today
    aside = tuple(goal for goal in goals if goal.set_aside)
    secure = tuple(goal for goal in goals if not goal.set_aside and states[goal.code].known)
    open_goals = [goal for goal in goals if goal not in aside and goal not in secure]
    moves = () if late else tuple(Move(goal, goal.due, day) for goal in open_goals if goal.due != day)
    right = tuple(goal for goal in open_goals if goal.due == day)
    return DueDays(day, moves, right, secure, aside, late)


def usual_minutes(facts: StudentFacts, today: dt.date) -> int:
    """Minutes of a usual day: the median of the practised days of the four weeks before the last week of the next
    performance (before today, without one), never below the day's plan and never above the daily most.
    """
    nearest = final_week(facts, today)
    end = nearest.day - WEEK + DAY if nearest else today
    by_day: dict[dt.date, int] = {}
    for entry in facts.entries:
        if end - USUAL_OVER <= entry.day < end:
            by_day[entry.day] = by_day.get(entry.day, 0) + entry.seconds
    usual = facts.plan_minutes
    if len(by_day) >= USUAL_FROM_DAYS:
        usual = max(usual, round(statistics.median(by_day.values()) / 60))
    return min(usual, facts.daily_most)


def most_minutes(facts: StudentFacts, today: dt.date) -> int:
    """The daily most as it holds today: in the last week before a performance no more than the usual minutes."""
    return usual_minutes(facts, today) if final_week(facts, today) else facts.daily_most


def over_most(entries: Iterable[EntryFacts], most: int, today: dt.date) -> int:
    """On how many of the last seven days, today's included, more than `most` minutes were logged."""
    entries = tuple(entries)
    return sum(minutes_on(entries, today - n * DAY) > most for n in range(7))


def slow_down(facts: StudentFacts, today: dt.date) -> Said | None:
    """Why somebody who plays soon should practise less rather than more, None when nothing says so.

    Only within four weeks of a performance. By the calendar week that runs, else the one before it, against 150 % of
    the plan; else by days over the daily most. None while nothing is played at all.
    """
    first = next(iter(near(facts, today)), None)
    if first is None or hand_day(facts, today).stop:
        return None
    last, now = weekly_minutes(facts.entries, today, 2, facts.week_start)
    for code, week in (("stage-slow-this-week", now), ("stage-slow-last-week", last)):
        if facts.plan_week > 0 and week.minutes > OVER_PLAN * facts.plan_week:
            return said(code, title=first.title, day=first.day, minutes=week.minutes, plan=facts.plan_week)
    days = over_most(facts.entries, facts.daily_most, today)
    if days >= DAYS_OVER_MOST:
        return said("stage-slow-days", title=first.title, day=first.day, days=days, most=facts.daily_most)
    return None


def nearness(performance: PerformanceFacts, today: dt.date) -> Said:
    """When it is: "Summer concert on 12 December, in 17 days."."""
    days = days_to(performance, today)
    if days > 1:
        return said("stage-in-days", title=performance.title, day=performance.day, days=days)
    code = {1: "stage-tomorrow", 0: "stage-today"}.get(days, "stage-past")
    return said(code, title=performance.title, day=performance.day)


def for_student(
    facts: StudentFacts, today: dt.date, most: int | None = None, hand_first: bool = False
) -> tuple[Said, ...]:
    """What the student's own page says of the performances ahead, in order; nothing without one within four weeks.

    most: the daily most as the page has it, where the hand makes it smaller than `most_minutes`. hand_first: the hand
    notes ask for a person, so that nothing is said of playing pieces through.
    """
    told = [nearness(one, today) for one in near(facts, today)]
    most = most_minutes(facts, today) if most is None else most
    last, slow = final_week(facts, today), slow_down(facts, today)
    if hand_first:
        return (*told, said("stage-hand-first")) if last is not None or slow is not None else tuple(told)
    if last is not None:
        told.append(said("stage-last-week" if last.day > today else "stage-the-day", minutes=most))
        pieces = dict.fromkeys(piece for one in _in_final_week(facts, today) for piece in one.pieces)
        if pieces:
            told.append(said("stage-pieces", pieces="; ".join(pieces)))
    if slow is not None:
        told.append(said("stage-slow-student", minutes=most))
    return tuple(told)


def for_teacher(facts: StudentFacts, today: dt.date) -> Said | None:
    """One line for Today: the next performance within four weeks, and in its last week what that means."""
    first = next(iter(near(facts, today)), None)
    if first is None:
        return None
    told = (nearness(first, today), run_throughs(facts, today))
    return said("list", items=tuple(one for one in told if one is not None))


def run_throughs(facts: StudentFacts, today: dt.date) -> Said | None:
    """What the last week before a performance means, None outside it and while the hand asks for a person."""
    hand = hand_day(facts, today)
    if final_week(facts, today) is None or hand.asks_person or hand.stop:
        return None
    return said("stage-run-throughs", minutes=hand.most_of(most_minutes(facts, today)))
