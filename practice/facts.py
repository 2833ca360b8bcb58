"""The plain values that the computing modules take: rows of one student, read once, without Django in them.

Days are the studio's local days; instants are aware. A computation gets "today" as an argument beside these.
"""

import datetime as dt
from dataclasses import dataclass, field
from functools import cached_property

from practice.measures import Measure
from studio import theory


@dataclass(frozen=True)
class Mark:
    """One measurement. value: in the unit of its measure; check: made in a lesson, else self-reported."""

    day: dt.date
    at: dt.datetime
    measure: str
    value: float
    check: bool = False
    failed_strings: tuple[int, ...] = ()


@dataclass(frozen=True)
class GoalFacts:
    """A goal with its history, oldest first. marks: every measurement of it, in any measure."""

    code: str
    kind: str
    theory: theory.Goal
    title: str
    measure: Measure
    target: float
    set_on: dt.date
    due: dt.date
    start_value: float | None = None
    set_aside: bool = False
    set_aside_on: dt.date | None = None
    words: str = ""
    # why it was set although the hand notes asked for a person
    hand_reason: str = ""
    marks: tuple[Mark, ...] = ()
    # (day, seconds) of the segments spent on it
    practised: tuple[tuple[dt.date, int], ...] = ()
    # (day it was put down, day it takes place) of each performance that it belongs to: for that long it must last
    kept_for: tuple[tuple[dt.date, dt.date], ...] = ()

    @cached_property
    def own_marks(self) -> tuple[Mark, ...]:
        """Measurements in the goal's own measure, oldest first."""
        return tuple(mark for mark in self.marks if mark.measure == self.measure.code)

    @cached_property
    def tries(self) -> tuple[Mark, ...]:
        """One measurement a day, oldest first: what speaks for the day (practice.progress). One pass over the marks,
        for everything that asks."""
        days: dict[dt.date, list[Mark]] = {}
        for mark in self.own_marks:
            days.setdefault(mark.day, []).append(mark)
        found = []
        for day in sorted(days):
            marks = [mark for mark in days[day] if mark.check] or days[day]
            best = marks[0]
            for mark in marks[1:]:
                earlier = mark.at < best.at
                better = self.measure.better(mark.value, best.value)
                if earlier if self.measure.first_try else better:
                    best = mark
            found.append(best)
        return tuple(found)


@dataclass(frozen=True)
class EntryFacts:
    """A logged session. tiring: 0 to 10, or None when not asked or not answered; tiring_in_words: it stands for one of
    three words. segments: (goal code, seconds).
    """

    code: str
    day: dt.date
    begun: dt.datetime
    seconds: int
    tiring: int | None = None
    by: str = "student"
    segments: tuple[tuple[str, int], ...] = ()
    tiring_in_words: bool = False


@dataclass(frozen=True)
class HandFacts:
    """A hand note. discomfort, and after ten minutes' rest `rested`: 0 to 10; words as in practice.models.HandNote;
    closed: by the teacher.

    at_rest, daily, sudden, tip_only, face_arm_leg: answers to the yes/no questions, None where not asked or not
    answered. also: what was ticked under "Any of these?" (practice.handrows.ALSO). closed_on: the studio's day.
    in_words: an adult asked a young child with three words, which stand for 2, 5 and 8.
    """

    day: dt.date
    at: dt.datetime
    discomfort: int
    hand: str = ""
    place: str = ""
    sensation: str = ""
    settles: str = ""
    seen: bool = False
    closed: bool = False
    rested: int | None = None
    began: str = ""
    at_rest: bool | None = None
    daily: bool | None = None
    sudden: bool | None = None
    tip_only: bool | None = None
    in_words: bool = False
    face_arm_leg: bool | None = None
    also: tuple[str, ...] = ()
    closed_on: dt.date | None = None
    code: str = ""


@dataclass(frozen=True)
class PerformanceFacts:
    """A day on which the student plays for others. goals: codes of the goals whose due days count back from it."""

    code: str
    title: str
    day: dt.date
    pieces: tuple[str, ...] = ()
    goals: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReturnFacts:
    """An open stepwise return: `rounds` times `play_minutes` a day with `rest_minutes` between, level from 1.

    barre: barre chords belong to this step; words: the teacher's to this step.
    """

    begun_on: dt.date
    level: int
    level_since: dt.date
    play_minutes: int
    rest_minutes: int
    rounds: int
    barre: bool = False
    words: str = ""


@dataclass(frozen=True)
class StudentFacts:
    """One student as the computations see them. plan_days x plan_minutes a week, daily_most minutes a day.

    goals: active ones and those set aside, oldest first; entries and notes: oldest first; performances: by day.
    instrument_since: from this day on the instrument is the present one, None: always was.
    """

    name: str
    first_name: str
    joined: dt.date
    instrument: theory.Instrument
    hand: theory.Hand
    plan_days: int
    plan_minutes: int
    daily_most: int
    week_start: int = 0
    age: int | None = None
    minor: bool = True
    hand_consent: bool = False
    next_lesson: dt.date | None = None
    goals: tuple[GoalFacts, ...] = ()
    entries: tuple[EntryFacts, ...] = ()
    notes: tuple[HandFacts, ...] = field(default=())
    performances: tuple[PerformanceFacts, ...] = ()
    hand_return: ReturnFacts | None = None
    instrument_since: dt.date | None = None

    @property
    def plan_week(self) -> int:
        """Planned minutes a week."""
        return self.plan_days * self.plan_minutes

    @property
    def active_goals(self) -> tuple[GoalFacts, ...]:
        return tuple(goal for goal in self.goals if not goal.set_aside)
