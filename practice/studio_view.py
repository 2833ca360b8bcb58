"""A whole roster at once: what is stuck and what has slipped, who has not logged, who practises too much, which reviews
wait, and which shapes take longest. For teachers alone, from the same rules as the single student's page.

Nobody is ranked: lists stand in order of urgency, which each says, or by name. Of whoever is to play nothing today
(practice.handday) nothing is asked, so they stand in no list but that of performances; and a goal that rests waits for
no review.

How long a shape takes (`shape_times`): for each student the days from when the shape was first set, at whatever root,
to the first day on which a goal of it was secure. Those who do not have it yet count as well. For a number of days m
only students to whom it was set at least m days ago are asked whether they had it within m days, so that whoever was
set it last week says nothing of ten weeks. The median is the first m at which half had it. Its interval is that of the
sign test, 2.5 % on either side: from the first m at which it can no longer be ruled out that half have it by then, to
the first at which it can be ruled out that only half have. With nobody missing these are the order statistics that
textbooks give for a median [1]. A goal set aside before it was secure counts as not had, though nobody knows. Under six
students no number is given: five values have no 95 % interval of a median at all (2 x 0.5^5 = 6.3 %).

References
----------
[1] Conover, Practical Nonparametric Statistics, 1999: the binomial interval of a quantile (from memory; the tests hold
    it against scipy.stats.quantile_test).
"""

import datetime as dt
import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field, replace

from practice.asked import Asked, asked_of_week
from practice.attention import attention, attention_input
from practice.facts import GoalFacts, Mark, StudentFacts
from practice.goal_voicings import rests
from practice.handday import HandDay, hand_day
from practice.handreturn import under_way
from practice.load import bigger_jump
from practice.plateau import slip, stuck
from practice.progress import (
    DAYS_TO_SECURE,
    REVIEW_DUE,
    State,
    first_tries,
    minutes_between,
    state,
)
from practice.said import Said, said
from practice.stage import for_teacher, near, over_most, slow_down
from students.calendar import week_of
from studio import theory

FEWEST = 6
CONFIDENCE = 0.95
OVER_MOST_DAYS = 2
WEEK = dt.timedelta(days=7)


@dataclass(frozen=True)
class Member:
    """One student of the roster. code: for the link to their page; teacher: whose student it is; last_entry: day of the
    newest entry, where it may lie before the entries that were read.
    """

    code: str
    teacher: str
    facts: StudentFacts
    last_entry: dt.date | None = None


@dataclass(frozen=True)
class Line:
    """One thing to know of one student. says: the reason in words, with its numbers; used: the tries it rests on."""

    member: Member
    says: tuple[Said, ...]
    goal: GoalFacts | None = None
    used: tuple[Mark, ...] = ()


@dataclass(frozen=True)
class Row:
    """A student in numbers: goals by what is true of them, and the last finished week's minutes beside what it asked
    for."""

    member: Member
    secure: int
    working: int
    stuck: int
    slipped: int
    reviews: int
    minutes: int
    asked: Asked



@dataclass(frozen=True)
class Group:
    """One teacher's students.

    stuck: longest first; slipped, over: by name; quiet: longest first; reviews: longest waiting first; stages:
    performances within four weeks, soonest first; rows: everybody, by name.
    """

    teacher: str
    rows: tuple[Row, ...]
    stuck: tuple[Line, ...] = ()
    slipped: tuple[Line, ...] = ()
    quiet: tuple[Line, ...] = ()
    over: tuple[Line, ...] = ()
    reviews: tuple[Line, ...] = ()
    stages: tuple[Line, ...] = ()


@dataclass(frozen=True)
class Learner:
    """How one student fared with a shape. days: from set to secure, None while it is not; age: days since it was
    set."""

    member: Member
    days: int | None
    age: int

    @property
    def weeks(self) -> int:
        """Whole weeks within which it was secure, or which it has been worked on so far."""
        return whole_weeks(self.days if self.days is not None else self.age)


@dataclass(frozen=True)
class ShapeTime:
    """How long a shape takes. students: to whom it was set, secure: who have had it. Weeks are whole, rounded up.

    median, low, high: None with fewer than FEWEST students, or where they cannot be told yet: not half have had it,
    or an end of the interval lies beyond what has been seen.
    """

    shape: str
    name: str
    learners: tuple[Learner, ...]
    median: int | None = None
    low: int | None = None
    high: int | None = None

    @property
    def students(self) -> int:
        return len(self.learners)

    @property
    def secure(self) -> int:
        return sum(one.days is not None for one in self.learners)

    @property
    def few(self) -> bool:
        return self.students < FEWEST


@dataclass(frozen=True)
class Overview:
    """Everything on the page. groups: by teacher, by name; shapes: longest first, those that cannot be told last."""

    groups: tuple[Group, ...]
    shapes: tuple[ShapeTime, ...] = field(default=())

    @property
    def students(self) -> int:
        return sum(len(group.rows) for group in self.groups)

    def count(self, name: str) -> int:
        """How many lines one list has, over all groups."""
        return sum(len(getattr(group, name)) for group in self.groups)


def overview(members: Sequence[Member], today: dt.date) -> Overview:
    """The page's values from the plain values of everybody on it."""
    by_teacher: dict[str, list[Member]] = {}
    for member in sorted(members, key=_by_name):
        by_teacher.setdefault(member.teacher, []).append(member)
    groups = tuple(_group(teacher, by_teacher[teacher], today) for teacher in sorted(by_teacher, key=str.casefold))
    return Overview(groups, shape_times(members, today))


def _by_name(member: Member) -> tuple[str, str]:
    return member.facts.name.casefold(), member.code


def _group(teacher: str, members: Sequence[Member], today: dt.date) -> Group:
    still: list[tuple[int, Line]] = []
    fallen: list[Line] = []
    quiet: list[tuple[int, Line]] = []
    over: list[Line] = []
    reviews: list[tuple[dt.date, Line]] = []
    stages: list[tuple[dt.date, Line]] = []
    rows: list[Row] = []
    for member in members:
        facts = member.facts
        states = {goal.code: state(goal, today) for goal in facts.active_goals}
        hand = hand_day(facts, today)
        back = [] if hand.stop else _slipped(member, today)
        held = [] if hand.stop else _stuck(member, states, today, {line.goal.code for line in back if line.goal})
        due = _reviews(member, states, hand)
        given = attention_input(facts, today)
        given = replace(given, last_entry=given.last_entry or member.last_entry)
        reasons = {reason.code: reason.said for reason in attention(given)}
        still += held
        fallen += back
        reviews += due
        if "quiet" in reasons:
            quiet.append(((today - (given.last_entry or facts.joined)).days, Line(member, (reasons["quiet"],))))
        if not hand.stop and (too_much := over_practised(facts, reasons.get("over-plan"), today)):
            over.append(Line(member, too_much))
        if (show := for_teacher(facts, today)) is not None:
            stages.append((near(facts, today)[0].day, Line(member, (show,))))
        rows.append(_row(member, states, len(held), len(back), len(due), today))
    return Group(
        teacher=teacher,
        rows=tuple(rows),
        # members came by name, and a stable sort keeps that among equals
        stuck=tuple(line for _, line in sorted(still, key=lambda pair: -pair[0])),
        slipped=tuple(fallen),
        quiet=tuple(line for _, line in sorted(quiet, key=lambda pair: -pair[0])),
        over=tuple(over),
        reviews=tuple(line for _, line in sorted(reviews, key=lambda pair: pair[0])),
        stages=tuple(line for _, line in sorted(stages, key=lambda pair: pair[0])),
    )


def _stuck(
    member: Member, states: dict[str, State], today: dt.date, slipped: Collection[str]
) -> list[tuple[int, Line]]:
    """(weeks, line) of each goal that is not in hand and does not move; what slipped back is said there alone."""
    lines = []
    for goal in member.facts.active_goals:
        if states[goal.code].known or goal.code in slipped:
            continue
        if found := stuck(goal, today, member.facts.instrument_since):
            lines.append((found.weeks, Line(member, (found.said,), goal, found.used)))
    return lines


def _slipped(member: Member, today: dt.date) -> list[Line]:
    lines = []
    for goal in member.facts.active_goals:
        if found := slip(goal, today, member.facts.instrument_since):
            lines.append(Line(member, (found.said,), goal, found.used))
    return lines


def _reviews(member: Member, states: dict[str, State], hand: HandDay) -> list[tuple[dt.date, Line]]:
    found = []
    facts = member.facts
    for goal in facts.active_goals:
        stands = states[goal.code]
        if stands.code != REVIEW_DUE or stands.review_on is None:
            continue
        if not rests(goal.theory, facts, hand):
            found.append((stands.review_on, Line(member, (stands.reason,), goal)))
    return found


def over_practised(facts: StudentFacts, over_plan: Said | None, today: dt.date) -> tuple[Said, ...]:
    """Why somebody practises too much, in neutral words: before a performance, over the plan, over the daily most, a
    bigger jump than usual, which the steps of a return are on purpose. over_plan: what practice.attention says of the
    plan.
    """
    slow = slow_down(facts, today)
    found = [slow or over_plan]
    days = over_most(facts.entries, facts.daily_most, today)
    if days >= OVER_MOST_DAYS and (slow is None or slow.code != "stage-slow-days"):
        found.append(said("overview-over-most", days=days, most=facts.daily_most))
    if under_way(facts, today) is None:
        found.append(bigger_jump(facts.entries, facts.joined, today, facts.week_start))
    return tuple(one for one in found if one is not None)


def _row(member: Member, states: dict[str, State], held: int, back: int, due: int, today: dt.date) -> Row:
    known = sum(one.known for one in states.values())
    week = week_of(today, member.facts.week_start)
    return Row(
        member=member,
        secure=known,
        working=len(states) - known,
        stuck=held,
        slipped=back,
        reviews=due,
        minutes=minutes_between(member.facts.entries, week - WEEK, week),
        asked=asked_of_week(member.facts, week - WEEK, today),
    )


# -- how long a shape takes ---------------------------------------------------------------------------------------


def first_secure(goal: GoalFacts, today: dt.date) -> dt.date | None:
    """The first day on which the goal was secure by the rule of practice.progress, None while it never was."""
    met = checked = 0
    for mark in first_tries(goal, today):
        if goal.measure.code != "minutes" and goal.measure.meets(mark.value, goal.target):
            met += 1
            checked += mark.check
            if met >= DAYS_TO_SECURE and checked:
                return mark.day
    return None


def shape_times(members: Iterable[Member], today: dt.date) -> tuple[ShapeTime, ...]:
    """How long each shape took that was set as a chord goal to anybody; longest first, then those not to be told."""
    learners: dict[str, list[Learner]] = {}
    for member in sorted(members, key=_by_name):
        goals: dict[str, list[GoalFacts]] = {}
        for goal in member.facts.goals:
            if goal.kind == "chord" and goal.theory.chords and goal.set_on <= today:
                goals.setdefault(goal.theory.chords[0].shape, []).append(goal)
        for shape, same in goals.items():
            begun = min(goal.set_on for goal in same)
            had = [day for goal in same if (day := first_secure(goal, today)) is not None]
            days = max(0, (min(had) - begun).days) if had else None
            learners.setdefault(shape, []).append(Learner(member, days, (today - begun).days))
    found = [_shape_time(shape, tuple(of_shape)) for shape, of_shape in learners.items()]
    return tuple(sorted(found, key=lambda one: (one.median is None, -(one.median or 0), -one.students, one.name)))


def _shape_time(shape: str, learners: tuple[Learner, ...]) -> ShapeTime:
    known = theory.SHAPES.get(shape)
    name = known.name if known else shape
    if len(learners) < FEWEST:
        return ShapeTime(shape, name, learners)
    median, low, high = median_days([(one.days, one.age) for one in learners])
    weeks = [None if days is None else whole_weeks(days) for days in (median, low, high)]
    return ShapeTime(shape, name, learners, *weeks)


def whole_weeks(days: int) -> int:
    """Weeks within which so many days lie, at least one."""
    return max(1, math.ceil(days / 7))


def median_days(
    learners: Sequence[tuple[int | None, int]], confidence: float = CONFIDENCE
) -> tuple[int | None, int | None, int | None]:
    """(median, low, high) in days, as the module says; each None where too little has been seen.

    learners: (days until secure or None, days since it was set). A number rests on FEWEST students or more.
    """
    tail = (1 - confidence) / 2
    median = low = high = None
    for days in sorted({days for days, _ in learners if days is not None}):
        asked = [had for had, age in learners if age >= days]
        if len(asked) < FEWEST:
            break
        within = sum(had is not None and had <= days for had in asked)
        if low is None and _at_most(within, len(asked)) > tail:
            low = days
        if median is None and 2 * within >= len(asked):
            median = days
        if high is None and _at_most(len(asked) - within, len(asked)) <= tail:
            high = days
    return (median, low, high) if median is not None else (None, None, None)


def _at_most(count: int, of: int) -> float:
    """The chance of at most `count` heads in `of` tosses of a fair coin."""
    return float(sum(math.comb(of, heads) for heads in range(count + 1)) / 2**of)
