"""How much a week asks for: the plan, or the part of it that is left where days ask for nothing. Asked here and
nowhere else, so that no page counts a day against anybody on which nothing was to be played.

Conventions: a week is named by its first day and has seven days, whatever weekday it begins on. A day at rest asks for
nothing; of the plan's days as many are left as the week has other days, and each keeps its minutes. While nothing is
played today, the week that runs asks for nothing more, so all that it asks is nothing. A stepwise return's step, which
stands in place of the plan, is spoken of by whoever shows it (practice.handreturn.in_place_of_plan).
"""

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from practice.facts import HandFacts, StudentFacts
from practice.handcare import stopped_spans
from practice.handday import hand_day

DAYS = 7
DAY = dt.timedelta(days=1)
WEEK = dt.timedelta(days=DAYS)

HAND = "hand"


@dataclass(frozen=True)
class Asked:
    """days and minutes of the plan that are left to a week; why: what lets the other days rest, "" where the whole
    plan is asked."""

    days: int
    minutes: int
    why: str = ""

    @property
    def nothing(self) -> bool:
        """Whether no day of it is asked for, though the plan has some."""
        return bool(self.why) and not self.days


def days_at_rest(notes: Iterable[HandFacts], today: dt.date) -> frozenset[dt.date]:
    """The days up to today on which nothing was to be played."""
    return frozenset(
        first + n * DAY for first, last in stopped_spans(notes, today) for n in range((last - first).days + 1)
    )


def asked_of(
    plan_days: int, plan_minutes: int, week: dt.date, rest: Collection[dt.date], stopped_on: dt.date | None = None
) -> Asked:
    """The same from plain numbers. rest: days at rest; stopped_on: today, while nothing is played."""
    if stopped_on is not None and week <= stopped_on < week + WEEK:
        return Asked(0, 0, HAND)
    free = sum(week + n * DAY not in rest for n in range(DAYS))
    days = min(plan_days, free)
    return Asked(days, days * plan_minutes, "" if free == DAYS else HAND)


def asked_of_weeks(facts: StudentFacts, weeks: Iterable[dt.date], today: dt.date) -> dict[dt.date, Asked]:
    """What each of the weeks asks for, by its first day."""
    rest = rest_of(facts, today)
    stopped_on = today if hand_day(facts, today).stop else None
    return {week: asked_of(facts.plan_days, facts.plan_minutes, week, rest, stopped_on) for week in weeks}


def asked_of_week(facts: StudentFacts, week: dt.date, today: dt.date) -> Asked:
    """What the week that begins on `week` asks for, as known on `today`."""
    return asked_of_weeks(facts, (week,), today)[week]


def rest_of(facts: StudentFacts, today: dt.date) -> frozenset[dt.date]:
    """The student's days at rest, none without a consent."""
    return days_at_rest(facts.notes, today) if facts.hand_consent else frozenset()
