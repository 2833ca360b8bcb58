"""Practice load: how much a hand was asked for, by day and by week. No injury risk: it is not validated for that.

Conventions: a session's load = "how tiring" (0 to 10) x minutes. A session without a rating counts no load;
its minutes are reported beside. A day without a session is 0. Days come oldest first and without gaps.

References
----------
[1] Session load: Foster et al., J Strength Cond Res 2001;15:109 (as quoted elsewhere). Not validated for
    instruments.
[2] Monotony and strain: Foster, Med Sci Sports Exerc 1998;30:1164 (published). For the tests' worked values.
[3] EWMA: Williams et al., Br J Sports Med 2017;51:209 (published).
[4] The band over 1.5: Gabbett, Br J Sports Med 2016;50:273 (as quoted elsewhere), contested by Impellizzeri
    et al., Sports Med 2021;51:581 (published). Used for a neutral notice of a bigger jump than usual.
"""

import datetime as dt
import statistics
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from practice.facts import EntryFacts, GoalFacts, StudentFacts
from practice.goal_voicings import has_barre as goal_has_barre
from practice.progress import WEEK
from practice.said import Said, said
from students.calendar import week_of

JUMP = 1.5
JUMP_FROM_MINUTES = 60
JUMP_NOT_BEFORE_DAYS = 28
WEEKS_BEFORE = 4

DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class DayLoad:
    """load: rating x minutes, summed; seconds: played; unrated: seconds of sessions without a rating."""

    day: dt.date
    load: float = 0.0
    seconds: int = 0
    unrated: int = 0


@dataclass(frozen=True)
class WeekLoad:
    """A week, named by its first day; finished: all of it lies before today."""

    start: dt.date
    load: float = 0.0
    seconds: int = 0
    unrated: int = 0
    finished: bool = True


def session_load(entry: EntryFacts) -> float | None:
    """Rating x minutes [1]; None for a session that was not rated."""
    return None if entry.tiring is None else entry.tiring * entry.seconds / 60


def daily_load(entries: Iterable[EntryFacts], start: dt.date, end: dt.date) -> tuple[DayLoad, ...]:
    """Every day of the half-open span start <= day < end, days of nothing included."""
    by_day: dict[dt.date, list[EntryFacts]] = {}
    for entry in entries:
        by_day.setdefault(entry.day, []).append(entry)
    return tuple(
        DayLoad(day, *_sums(by_day.get(day, ()))) for day in (start + n * DAY for n in range((end - start).days))
    )


def weekly_load(entries: Iterable[EntryFacts], today: dt.date, weeks: int, week_start: int = 0) -> tuple[WeekLoad, ...]:
    """The last `weeks` weeks, oldest first, the current one last and unfinished; empty weeks included."""
    by_week: dict[dt.date, list[EntryFacts]] = {}
    for entry in entries:
        if entry.day <= today:
            by_week.setdefault(week_of(entry.day, week_start), []).append(entry)
    now = week_of(today, week_start)
    starts = [now - back * WEEK for back in range(weeks - 1, -1, -1)]
    return tuple(WeekLoad(start, *_sums(by_week.get(start, ())), finished=start < now) for start in starts)


def _sums(entries: Iterable[EntryFacts]) -> tuple[float, int, int]:
    entries = tuple(entries)
    load = sum(session_load(entry) or 0.0 for entry in entries)
    unrated = sum(entry.seconds for entry in entries if entry.tiring is None)
    return load, sum(entry.seconds for entry in entries), unrated


def ewma(loads: Sequence[float], days: int) -> tuple[float, ...]:
    """Exponentially weighted mean of each day [3]: load x a + (1 - a) x yesterday's, a = 2 / (days + 1).

    Begun with the first day's load. loads : one a day, oldest first.  days : 1 or more.
    """
    if days < 1:
        raise ValueError(f"days {days}: a mean needs a day or more")
    share = 2 / (days + 1)
    means: list[float] = []
    for load in loads:
        means.append(load * share + (1 - share) * means[-1] if means else float(load))
    return tuple(means)


def ewma_ratio(loads: Sequence[float], short: int = 7, long: int = 28) -> float | None:
    """The last day's short mean over its long one [3]; None without days or after days of nothing."""
    if not loads or (chronic := ewma(loads, long)[-1]) == 0:
        return None
    return ewma(loads, short)[-1] / chronic


def rolling_ratio(loads: Sequence[float], coupled: bool = True) -> float | None:
    """Mean of the last 7 days over the mean of 28: the last 28 (coupled), or the 21 before the 7 (uncoupled).

    None with fewer than 28 days, or when the longer mean is 0.
    """
    if len(loads) < 28:
        return None
    acute = statistics.fmean(loads[-7:])
    chronic = statistics.fmean(loads[-28:] if coupled else loads[-28:-7])
    return acute / chronic if chronic else None


def monotony(week: Sequence[float]) -> float | None:
    """Mean over sample standard deviation of seven daily loads [2]; None when all days are alike."""
    if len(week) != 7:
        raise ValueError(f"{len(week)} daily loads: a week has seven")
    spread = statistics.stdev(week)
    return statistics.fmean(week) / spread if spread else None


def strain(week: Sequence[float]) -> float | None:
    """A week's load x its monotony [2]; None when all days are alike."""
    same = monotony(week)
    return None if same is None else sum(week) * same


def bigger_jump(entries: Iterable[EntryFacts], joined: dt.date, today: dt.date, week_start: int = 0) -> Said | None:
    """A neutral notice when the last finished week's load was over 1.5 times the mean of the four before [4].

    Only for a week of 60 minutes or more, never for one that begins in the first 28 days with the studio, and
    never for the first week back after a week of nothing. Minutes of the four weeks that nobody rated are taken to have
    been as tiring as the last week's: a rating left out, or asked for only since a consent, makes no jump [derived].
    """
    *before, last, _now = weekly_load(entries, today, WEEKS_BEFORE + 2, week_start)
    if last.seconds < JUMP_FROM_MINUTES * 60 or (last.start - joined).days < JUMP_NOT_BEFORE_DAYS:
        return None
    rated = last.seconds - last.unrated
    rating = last.load / rated if rated else 0.0
    usual = statistics.fmean(week.load + week.unrated * rating for week in before)
    if before[-1].seconds == 0 or usual == 0 or last.load <= JUMP * usual:
        return None
    return said("load-jump", load=round(last.load), usual=round(usual), times=round(last.load / usual, 1))


def barre_seconds(
    facts: StudentFacts,
    start: dt.date,
    end: dt.date,
    has_barre: Callable[[GoalFacts], bool] | None = None,
) -> dict[dt.date, int]:
    """Seconds by day spent on goals with a barre by the index in one of their voicings, for start <= day < end. Another
    finger that lies flat rests like one (practice.goal_voicings.lays_flat) and is not counted here.

    Days of nothing are included as 0. has_barre: asked once a goal; by default the theory core is asked on
    the student's instrument.
    """
    ask = has_barre or (lambda goal: goal_has_barre(goal.theory, facts.instrument, facts.hand))
    seconds = {start + n * DAY: 0 for n in range((end - start).days)}
    for goal in facts.goals:
        spent = [(day, part) for day, part in goal.practised if day in seconds]
        if spent and ask(goal):
            for day, part in spent:
                seconds[day] += part
    return seconds
