"""Stuck, or slipped back: what a goal's history shows, by one rule for every page.

Today, the student's page, "My progress", the weekly summary and the attention list all ask here.

Conventions: one value a day (`progress.first_tries`), turned so that more is better (seconds change their sign). The
way is the distance from where the goal began (its start value, else the median of the first three tries) to its
target; shares are shares of the way. Windows count back from the newest try, which must lie within three weeks of
`today`: of what nobody tries, nothing is said. Instants, not weeks of the calendar, so that a look on any day is right.

Stuck: the target is not met in the window, and for a window of 5, 8 or 12 weeks
  1. the Theil-Sen slope [1] is worth less than 7 % of the way in four weeks, and the upper end of its 80 % interval
     (nine of ten such ends lie above the truth) less than 10 %, so that scattered values are not called flat, and
  2. nothing rises again: the last half week lies less than 3.25 % of the way above the three weeks before it, the last
     week less than 2.25 % and the last two weeks less than 4 % (shift after Hodges and Lehmann [2]: the median of all
     differences; at least three tries on each side).
The second condition sees what a slope is slow to see: a student who has just begun to move again. Of whole counts with
a ceiling medians hide what happens, so their slope is that of least squares and the last two weeks are compared by
their means (5 %).

The numbers were chosen on simulated learners (exponential, time constant 3 to 12 weeks, 4 results a week, noise of 5 %
of the range, a look each week, 1000 of each kind): 93 % of standstills of six weeks are found before they end; 1.7 % of
the steady goals and 4.9 % of those that stood still and then went on are once called stuck in a week whose last four
weeks brought 10 % of the range or more, 3.3 % of all. tests/practice/test_simulated_students.py counts them anew and
asserts 90 % and 5 %. With more noise it errs more often, and says so there.

Slipped back: there were three tries in a row with a median ("was"), and each of the last three lies below that by more
than 15 % of the way and by more than three standard deviations of a single try (from the median step between
neighbouring tries, which neither a slope nor an outlier moves).

References
----------
[1] Sen, J Am Stat Assoc 1968;63:1379.
[2] Hodges & Lehmann, Ann Math Stat 1963;34:598 (from memory).
"""

import datetime as dt
import itertools
import math
import statistics
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from practice.facts import GoalFacts, Mark, StudentFacts
from practice.progress import ENOUGH_POINTS, first_tries, practised_seconds, state
from practice.said import Said, measured, said

RULE = Said("plateau-rule")

WINDOWS = (5, 8, 12)  # weeks
FLAT = 0.07  # of the way in four weeks
STILL_MOVING = 0.10  # of the way in four weeks
# a window is only spoken of when its first tries are at most so many week younger than it
SLACK = 1
SURENESS = 0.8  # two-sided, so that the upper end holds nine of ten
# (recent weeks, weeks before them, share of the way): a rise of so much is a rise
RISES = ((0.5, 3.0, 0.0325), (1.0, 3.0, 0.0225), (2.0, 3.0, 0.04))
RISES_OF_COUNTS = ((2.0, 3.0, 0.05),)
SMALLEST_GROUP = 3
FRESH = dt.timedelta(weeks=3)

LAST = 3
SLIP = 0.15
SLIP_SCATTER = 3.0
SLIP_MEMORY = dt.timedelta(weeks=26)
# nor is a standstill told longer than that
MOST_WEEKS = 26

_Z = statistics.NormalDist().inv_cdf((1 + SURENESS) / 2)


@dataclass(frozen=True)
class Stuck:
    """weeks: whole weeks from the first to the newest try used; since: the day of the first; minutes: practised on the
    goal since then; level: the median of the tries; used: the tries it rests on, oldest first."""

    goal: GoalFacts
    weeks: int
    since: dt.date
    minutes: int
    level: float
    used: tuple[Mark, ...]

    @property
    def said(self) -> Said:
        """ "no change in 6 weeks, though practised 95 minutes" """
        code = "plateau-stuck" if self.minutes else "plateau-stuck-untouched"
        return said(code, weeks=self.weeks, minutes=self.minutes)


@dataclass(frozen=True)
class Slip:
    """was: the median of three tries in a row, `on` the last day of these on which it was so good; now: the best of the
    last three tries; used: those six, oldest first."""

    goal: GoalFacts
    was: float
    on: dt.date
    now: float
    used: tuple[Mark, ...]

    @property
    def said(self) -> Said:
        """ "was 84 beats a minute on 3 October, the last three tries no better than 69" """
        return said("plateau-slip", was=measured(self.goal.measure.code, self.was), day=self.on, now=self.now)


def way(goal: GoalFacts, tries: Sequence[Mark]) -> float:
    """From where the goal began to its target, in units of its measure; never less than a fifth of the target, and
    one for whole counts with a ceiling, so that a start beside the target makes no wobble a movement."""
    start = goal.start_value
    if start is None:
        start = statistics.median(mark.value for mark in tries[:3]) if tries else goal.target
    least = max(abs(goal.target) / 5, 1.0 if goal.measure.ceiling else 0.0)
    return max(abs(goal.target - start), least) or 1.0


def stuck(goal: GoalFacts, today: dt.date, since: dt.date | None = None) -> Stuck | None:
    """Whether the goal has not moved although it is tried, by the rule above.

    since: nothing before this day is used (the instrument was changed). None too when too little is known: fewer than
    five tries in the window.
    """
    tries = tries_since(goal, today, since)
    if not tries or goal.measure.code == "minutes":
        return None
    newest = tries[-1].day
    if today - newest > FRESH:
        return None
    whole = way(goal, first_tries(goal, today))
    ages, values = _ages(tries, newest), _turned(goal, tries)
    if _rises_again(ages, values, whole, goal.measure.ceiling):
        return None
    found: tuple[Mark, ...] | None = None
    for weeks in range(WINDOWS[0], min(MOST_WEEKS, max(WINDOWS[-1], math.ceil(ages[0]))) + 1):
        if found is None and weeks not in WINDOWS:
            continue
        count = sum(age < weeks for age in ages)
        inside = tries[-count:]
        met = any(goal.measure.meets(mark.value, goal.target) for mark in inside)
        filled = count >= ENOUGH_POINTS and ages[-count] >= weeks - SLACK
        if not met and filled and _flat(ages[-count:], values[-count:], whole, goal.measure.ceiling):
            found = inside
        elif met or found is not None:
            break  # the longest unbroken run of weeks is told
    if found is None:
        return None
    level = statistics.median(mark.value for mark in found)
    used = _from_the_level(goal, found, level, FLAT * whole)
    return Stuck(
        goal=goal,
        weeks=int(((newest - used[0].day).days + 1) / 7),
        since=used[0].day,
        minutes=round(practised_seconds(goal, today, used[0].day) / 60),
        level=level,
        used=used,
    )


def slip(goal: GoalFacts, today: dt.date, since: dt.date | None = None) -> Slip | None:
    """Whether the last three tries lie clearly below what was there before, by the rule above."""
    first = max(since or dt.date.min, today - SLIP_MEMORY)
    tries = tries_since(goal, today, first)
    if len(tries) < 2 * LAST or goal.measure.code == "minutes" or today - tries[-1].day > FRESH:
        return None
    values = _turned(goal, tries)
    now = max(values[-LAST:])
    before = values[:-LAST]
    medians = [statistics.median(before[at : at + LAST]) for at in range(len(before) - LAST + 1)]
    was = max(medians)
    at = max(index for index, value in enumerate(medians) if value == was)
    steps = [abs(one - other) for one, other in itertools.pairwise(before)]
    scatter = statistics.median(steps) / (math.sqrt(2) * 0.6745)
    drop = max(SLIP * way(goal, first_tries(goal, today)), SLIP_SCATTER * scatter)
    if was - now <= drop:
        return None
    sign = -1 if goal.measure.fewer_is_better else 1
    good = tries[at : at + LAST]
    on = max(mark.day for mark, value in zip(good, values[at : at + LAST], strict=True) if value >= was)
    return Slip(goal, sign * was, on, sign * now, (*good, *tries[-LAST:]))


def longest_stuck(facts: StudentFacts, today: dt.date) -> Stuck | None:
    """Of the student's goals that are practised and do not move, the one that has stood still longest, then the one due
    first. Secure goals, and those waiting for review, are not asked; of one that slipped back `latest_slip` speaks."""
    since = facts.instrument_since
    found = [
        one
        for goal in _developing(facts, today)
        if (one := stuck(goal, today, since)) and not slip(goal, today, since)
    ]
    practised = [one for one in found if one.minutes]
    return min(practised, key=lambda one: (-one.weeks, one.goal.due, one.goal.code), default=None)


def latest_slip(facts: StudentFacts, today: dt.date) -> Slip | None:
    """Of the student's goals that slipped back, the one whose good days are the most recent."""
    goals = facts.active_goals
    found = [one for goal in goals if (one := slip(goal, today, facts.instrument_since))]
    return max(found, key=lambda one: (one.on, one.goal.code), default=None)


def _developing(facts: StudentFacts, today: dt.date) -> list[GoalFacts]:
    return [goal for goal in facts.active_goals if not state(goal, today).known]


def tries_since(goal: GoalFacts, today: dt.date, since: dt.date | None) -> tuple[Mark, ...]:
    """The days' tries from `since` on, all of them without one; oldest first."""
    return tuple(mark for mark in first_tries(goal, today) if since is None or mark.day >= since)


def _ages(tries: Sequence[Mark], newest: dt.date) -> list[float]:
    """Weeks before the end of the newest try's day, for each try: 0 < age."""
    return [((newest - mark.day).days + 0.5) / 7 for mark in tries]


def _turned(goal: GoalFacts, tries: Sequence[Mark]) -> list[float]:
    sign = -1.0 if goal.measure.fewer_is_better else 1.0
    return [sign * mark.value for mark in tries]


def _from_the_level(goal: GoalFacts, tries: tuple[Mark, ...], level: float, room: float) -> tuple[Mark, ...]:
    """The tries from where the level was reached: a long window may begin with the rise to it. Four weeks are kept."""
    sign = -1 if goal.measure.fewer_is_better else 1
    first = 0
    while (tries[-1].day - tries[first + 1].day).days >= 28:
        early = statistics.median(sign * mark.value for mark in tries[first : first + SMALLEST_GROUP])
        if early >= sign * level - room:
            break
        first += 1
    return tries[first:]


def _flat(ages: Sequence[float], values: Sequence[float], whole: float, counts: bool) -> bool:
    slope, high = least_squares(ages, values) if counts else theil_sen(ages, values)
    return 4 * slope < FLAT * whole and 4 * high < STILL_MOVING * whole


def least_squares(ages: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
    """(slope, upper end of its interval at SURENESS), a week; by the normal distribution, since a mean of counts is
    near it from a dozen on."""
    middle, level = statistics.fmean(ages), statistics.fmean(values)
    spread = sum((age - middle) ** 2 for age in ages)
    slope = -sum((age - middle) * (value - level) for age, value in zip(ages, values, strict=True)) / spread
    rest = [value - level + slope * (age - middle) for age, value in zip(ages, values, strict=True)]
    error = math.sqrt(sum(one * one for one in rest) / max(1, len(rest) - 2) / spread)
    return slope, slope + _Z * error


def theil_sen(ages: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
    """(slope, upper end of its interval at SURENESS), a week: the median of all pairwise slopes, and the one whose rank
    the normal approximation of Kendall's S gives, ties of values counted out [1].

    Written out here, where `practice.trend` asks scipy, since Today and the overview ask it of every goal of everybody
    and loading scipy takes longer than all of that; a test holds the two together. Ages differ from one another.
    """
    slopes = sorted(
        (values[j] - values[i]) / (ages[i] - ages[j]) for i in range(len(ages)) for j in range(i + 1, len(ages))
    )
    count, pairs = len(ages), len(slopes)
    ties = sum(same * (same - 1) * (2 * same + 5) for same in Counter(values).values())
    variance = (count * (count - 1) * (2 * count + 5) - ties) / 18
    rank = round((pairs + _Z * math.sqrt(variance)) / 2)
    return statistics.median(slopes), slopes[min(rank, pairs - 1)]


def _rises_again(ages: Sequence[float], values: Sequence[float], whole: float, counts: bool) -> bool:
    for recent, before, share in RISES_OF_COUNTS if counts else RISES:
        count = max(sum(age < recent for age in ages), SMALLEST_GROUP)
        both = max(sum(age < recent + before for age in ages), count + SMALLEST_GROUP)
        if len(values) < both:
            continue
        new, old = values[-count:], values[-both:-count]
        # of whole counts the median of differences is mostly 0, whatever they do: their means are compared
        shift = (
            statistics.fmean(new) - statistics.fmean(old)
            if counts
            else statistics.median(one - other for one in new for other in old)
        )
        if shift >= share * whole:
            return True
    return False

