"""Which way a goal is going: a robust slope with its interval, and the day the target may be reached.

Conventions: values are in the unit of the goal's measure, slopes in units a week. One value a day
(`progress.first_tries`). Only what grows without a ceiling has a slope: tempo, changes, right answers a minute, and
seconds, where fewer is better and a good slope is negative. Nothing after `today` is looked at.

The slope is the median of all pairwise slopes (Theil-Sen [1]) over the last eight weeks (`WINDOW`), since the
instrument was changed if that is later (values of two instruments make no line; a state keeps its evidence, for what
was heard was heard, and the review tells the rest): a student's curve flattens [2], and over eight weeks a straight
line is still near it. Its interval, at 90 %, comes from the ranks and supposes nothing about the noise but that it is
alike on all days. The line runs through the medians of days and values; the band about it adds the interval of the
residuals' median (from the binomial) at that day, so that it is narrow in the middle and opens to both sides.

A day is only named when the line is sure enough: the interval of the slope lies wholly on the good side, and the
earliest and the latest day on which the band meets the target are at most `NARROW` apart, the latest at most `HORIZON`
ahead; where the line is there already, "any day now" stands in place of tomorrow's date. A curve that flattens comes
later than its line says, which is why nobody is promised anything beyond. Else the sentence says what is missing.

References
----------
[1] Sen, J Am Stat Assoc 1968;63:1379.
[2] Heathcote, Brown & Mewhort, Psychon Bull Rev 2000;7:185: single learners follow an exponential.
"""

import datetime as dt
import math
import statistics
from dataclasses import dataclass

from practice.facts import GoalFacts, Mark
from practice.plateau import FRESH, STILL_MOVING, slip, stuck, tries_since, way
from practice.progress import ENOUGH_DAYS, ENOUGH_POINTS, first_tries, last_tries, state
from practice.said import Said, said

RULE = Said("trend-rule")
INSTRUMENT_RULE = Said("instrument-rule")

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
    tries = tries_since(goal, today, first)
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
    middle = statistics.median(weeks)
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


# -- in words


@dataclass(frozen=True)
class Told:
    """What a goal's history says in one sentence. said: the sentence; code: "slip", "stuck", "course" (a day is named),
    "trend" (a direction without a day), "early" or "last" (the last five counts); used: the tries it rests on, oldest
    first; slope: the direction with its interval in words, None without one."""

    code: str
    said: Said
    used: tuple[Mark, ...]
    slope: Said | None = None

    @property
    def asks(self) -> bool:
        """Asks for the teacher."""
        return self.code in ("slip", "stuck")

    @property
    def aloud(self) -> bool:
        """Worth a line of its own; else it stands with the reasons."""
        return self.code not in ("early", "last")


def left_out(goal: GoalFacts, since: dt.date | None) -> dt.date | None:
    """`since`, where the goal has results from before it; else None."""
    return since if since and any(mark.day < since for mark in goal.own_marks) else None


def told(goal: GoalFacts, today: dt.date, since: dt.date | None = None) -> Told | None:
    """The one sentence about where a goal is going: it slipped back or loses ground, is stuck, or the trend. None where
    there is nothing to say: set aside, secure, or not measured for three weeks (other pages speak of that).

    since: nothing before this day is used (the instrument was changed).
    """
    tries = tries_since(goal, today, since)
    if goal.set_aside or not tries or goal.measure.code == "minutes":
        return None
    if back := slip(goal, today, since):
        return Told("slip", back.said, back.used)
    if state(goal, today).known or today - tries[-1].day > FRESH:
        return None
    found = trend(goal, today, since)
    if isinstance(found, Trend) and gains(goal, found)[1] < 0:
        return Told("trend", said("trend-backwards"), found.used, slope_said(found))
    if still := stuck(goal, today, since):
        return Told("stuck", still.said, still.used, slope_said(found) if isinstance(found, Trend) else None)
    if goal.measure.ceiling:
        last = [mark for mark in last_tries(goal, today) if since is None or mark.day >= since]
        if len(last) < 2:
            return None
        # one text, since a number of values has no one name each
        return Told("last", said("trend-last", values=", ".join(f"{mark.value:g}" for mark in last)), tuple(last))
    if found is None:
        return None
    if isinstance(found, Said):
        return Told("early", found, tries)
    return _course(goal, found, today)


def _course(goal: GoalFacts, found: Trend, today: dt.date) -> Told:
    slope = slope_said(found)
    if found.confidence < CONFIDENCE:
        return Told("early", said("trend-too-early", points=found.points, days=found.days, more=1), found.used, slope)
    least, most = gains(goal, found)
    if least <= 0:
        level = 4 * most < STILL_MOVING * way(goal, first_tries(goal, today))
        return Told("trend", said("trend-level" if level else "trend-unclear"), found.used, slope)
    days = reached(goal, found, today)
    if days is None:
        ahead = today <= goal.due <= today + HORIZON
        line = meets_on(goal, found, today)
        if line is not None and (line <= goal.due or not ahead):  # the line is in time, only the band is not
            return Told("trend", said("trend-varied"), found.used, slope)
        far = said("trend-not-by-due") if ahead else said("trend-far", weeks=HORIZON.days // 7)
        return Told("trend", far, found.used, slope)
    early, likely, late = days
    if late - early > NARROW:
        return Told("trend", said("trend-varied"), found.used, slope)
    if likely <= min(goal.due, today + dt.timedelta(days=1)):  # the line is there already
        return Told("course", said("trend-soon", late=late), found.used, slope)
    code = "trend-course" if likely <= goal.due else "trend-late"
    return Told("course", said(code, day=likely, early=early, late=late, due=goal.due), found.used, slope)


def gains(goal: GoalFacts, found: Trend) -> tuple[float, float]:
    """The interval of the slope, turned so that more is better: (least, most)."""
    return (-found.high, -found.low) if goal.measure.fewer_is_better else (found.low, found.high)


def reached(goal: GoalFacts, found: Trend, today: dt.date) -> tuple[dt.date, dt.date, dt.date] | None:
    """(earliest, likely, latest) day on which the band, and the line, meet the target: none before tomorrow. None when
    the latest lies more than `HORIZON` ahead."""
    early = late = None
    likely = meets_on(goal, found, today)
    for ahead in range(1, HORIZON.days + 1):
        day = today + dt.timedelta(days=ahead)
        low, high = found.band(day)
        best, worst = (low, high) if goal.measure.fewer_is_better else (high, low)
        if early is None and goal.measure.meets(best, goal.target):
            early = day
        if goal.measure.meets(worst, goal.target):
            late = day
            break
    return None if early is None or likely is None or late is None else (early, likely, late)


def meets_on(goal: GoalFacts, found: Trend, today: dt.date) -> dt.date | None:
    """The day on which the line meets the target, from tomorrow on; None when it lies more than `HORIZON` ahead."""
    days = (today + dt.timedelta(days=ahead) for ahead in range(1, HORIZON.days + 1))
    return next((day for day in days if goal.measure.meets(found.value(day), goal.target)), None)


def slope_said(found: Trend) -> Said:
    """The slope and its interval as signed numbers a week, in the unit of the measure."""
    return said("trend-slope", days=found.days, start=found.start, slope=_signed(found.slope), low=_signed(found.low),
                high=_signed(found.high))  # fmt: skip


def _signed(value: float) -> Said:
    short = round(value, 1)
    if short == 0:
        return said("trend-zero")
    return said("trend-minus" if short < 0 else "trend-plus", value=abs(short))
