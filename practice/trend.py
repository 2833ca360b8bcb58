"""Which way a goal is going: a robust slope with its interval, and the day the target may be reached.

Conventions: values are in the unit of the goal's measure, slopes in units a week. One value a day
(`progress.first_tries`). Only what grows without a ceiling has a slope: tempo, changes, right answers a minute, and
seconds, where fewer is better and a good slope is negative. Nothing after `today` is looked at.

The slope is the median of all pairwise slopes (Theil-Sen [1]) over the last eight weeks (`WINDOW`), since the
instrument was changed if that is later: a student's curve flattens [2], and over eight weeks a straight line is still
near it. Its interval, at 90 %, comes from the ranks and supposes nothing about the noise but that it is alike on all
days. The line runs through the medians of days and values; the band about it adds the interval of the residuals'
median (from the binomial) at that day, so that it is narrow in the middle and opens to both sides.

A day is only named when the line is sure enough: the interval of the slope lies wholly on the good side, the earliest
and the latest day on which the band meets the target are at most `NARROW` apart and the latest is at most `HORIZON`
ahead. A curve that flattens comes later than its line says, which is why nobody is promised anything beyond.

References
----------
[1] Sen, J Am Stat Assoc 1968;63:1379.
[2] Heathcote, Brown & Mewhort, Psychon Bull Rev 2000;7:185: single learners follow an exponential.
"""

import datetime as dt
import math
from dataclasses import dataclass

from practice.facts import GoalFacts, Mark
from practice.progress import ENOUGH_DAYS, ENOUGH_POINTS, first_tries
from practice.said import Said, said

SLOPED = ("tempo", "changes", "right", "seconds")

CONFIDENCE = 0.9
WINDOW = dt.timedelta(weeks=8)
NARROW = dt.timedelta(weeks=4)
HORIZON = dt.timedelta(weeks=8)


@dataclass(frozen=True)
class Trend:
    """A straight line through the days' values from `start` to `end`.

    slope: units a week, low and high its interval at `confidence`; at_start: the line's value on `start`; points:
    measurements, days: days with one. middle: the day on which the interval's lines cross, and level_low to
    level_high the band there. used: the days' values it rests on, oldest first.
    """

    start: dt.date
    end: dt.date
    slope: float
    low: float
    high: float
    at_start: float
    points: int
    days: int
    confidence: float
    middle: float
    level_low: float
    level_high: float
    used: tuple[Mark, ...] = ()

    def value(self, day: dt.date) -> float:
        """The line's value on a day."""
        return self.at_start + self.slope * (day - self.start).days / 7

    def band(self, day: dt.date) -> tuple[float, float]:
        """Between which values the line lies on a day: (low, high)."""
        weeks = (day - self.start).days / 7 - self.middle
        one, other = self.low * weeks, self.high * weeks
        return self.level_low + min(one, other), self.level_high + max(one, other)


def trend(goal: GoalFacts, today: dt.date, since: dt.date | None = None) -> Trend | Said | None:
    """The slope of the last eight weeks; a Said "trend-too-early" with too few values; None where none is wanted:
    a count with a ceiling, time alone, or a target that was met within the window.

    since: nothing before this day is used (the instrument was changed).
    """
    if goal.measure.code not in SLOPED:
        return None
    first = max(today - WINDOW, since or dt.date.min)
    tries = tuple(mark for mark in first_tries(goal, today) if mark.day >= first)
    if any(goal.measure.meets(mark.value, goal.target) for mark in tries):
        return None
    points = sum(first <= mark.day <= today for mark in goal.own_marks)
    if points < ENOUGH_POINTS or len(tries) < ENOUGH_DAYS:
        return said("trend-too-early", points=points, days=len(tries),
                    more=max(ENOUGH_POINTS - points, ENOUGH_DAYS - len(tries)))  # fmt: skip
    return fit(tries, points)


def fit(tries: tuple[Mark, ...], points: int | None = None) -> Trend:
    """The line through values of different days, oldest first; at least two."""
    from scipy.stats import theilslopes  # type: ignore[import-untyped]

    start = tries[0].day
    weeks = [(mark.day - start).days / 7 for mark in tries]
    values = [float(mark.value) for mark in tries]
    found = theilslopes(values, weeks, CONFIDENCE, method="separate")
    slope, low, high = float(found.slope), float(found.low_slope), float(found.high_slope)
    if not (math.isfinite(low) and math.isfinite(high)):  # all values equal: no pair says otherwise
        low = high = slope
    at_start = float(found.intercept)
    middle = _median(weeks)
    rest = sorted(value - at_start - slope * week for value, week in zip(values, weeks, strict=True))
    rank, _ = _median_rank(len(rest))
    level = at_start + slope * middle
    return Trend(
        start=start,
        end=tries[-1].day,
        slope=slope,
        low=low,
        high=high,
        at_start=at_start,
        points=len(tries) if points is None else points,
        days=len(tries),
        confidence=_confidence(len(tries)),
        middle=middle,
        level_low=level + min(rest[rank], 0.0),
        level_high=level + max(rest[-1 - rank], 0.0),
        used=tries,
    )


def _confidence(days: int) -> float:
    """What the interval holds: CONFIDENCE, but with three values even the outermost slopes hold only 2 of 3
    (of the 6 orders of three values, 2 are wholly rising or falling)."""
    return CONFIDENCE if days > ENOUGH_DAYS else 2 / 3


def _median_rank(count: int) -> tuple[int, float]:
    """(rank from either end, what it holds): the order statistics between which the median lies at CONFIDENCE,
    by the binomial; the outermost where there are too few."""
    rank, outside = 0, 2.0 * 0.5**count
    while True:
        more = outside + 2.0 * math.comb(count, rank + 1) * 0.5**count
        if more > 1 - CONFIDENCE or 2 * (rank + 2) > count:
            return rank, 1 - outside
        rank, outside = rank + 1, more


def _median(values: list[float]) -> float:
    ordered = sorted(values)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2
