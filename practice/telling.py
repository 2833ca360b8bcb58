"""The most telling first try of the last days: one measurement that says where a student stands before the lesson.

Of the active goals measured in the window, in this order: a goal that became secure within it; one whose last try
met the target; one whose last try fell short; within each the goal that is due soonest. Measurements are the days'
first tries (practice.progress.first_tries).
"""

import datetime as dt
from dataclasses import dataclass

from practice.facts import GoalFacts, Mark, StudentFacts
from practice.progress import SECURE, first_tries, state

WINDOW_DAYS = 14


@dataclass(frozen=True)
class Telling:
    """goal and its last try; met: on how many days of the window the target was met; secure_since: the day on which
    it became secure, when that lies in the window."""

    goal: GoalFacts
    mark: Mark
    met: int
    secure_since: dt.date | None = None


def most_telling(facts: StudentFacts, today: dt.date, days: int = WINDOW_DAYS) -> Telling | None:
    """The most telling first try of the last `days` days up to today, None when nothing was measured."""
    first = today - dt.timedelta(days=days - 1)
    found: list[tuple[int, dt.date, str, Telling]] = []
    for goal in facts.active_goals:
        tries = [mark for mark in first_tries(goal, today) if mark.day >= first]
        if not tries:
            continue
        last = tries[-1]
        stands = state(goal, today)
        since = stands.since if stands.code == SECURE and stands.since and stands.since >= first else None
        met = sum(goal.measure.meets(mark.value, goal.target) for mark in tries)
        rank = 0 if since else 1 if goal.measure.meets(last.value, goal.target) else 2
        found.append((rank, goal.due, goal.code, Telling(goal, last, met, since)))
    return min(found, key=lambda row: row[:3])[3] if found else None
