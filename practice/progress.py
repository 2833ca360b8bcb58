"""Where each goal stands, and how much was practised: stated rules on plain values.

Conventions: a week is named by its first day and is half-open (first day <= day < first day + 7). Nothing
after `today` is looked at. On a day with a lesson check the check speaks for the day, since the teacher heard
it; else the day's first try does, or for a tempo the day's highest (DESIGN.md, "clean strings").

The rule of the states, as printed in the teacher's help (`RULE`): a goal is introduced until it is practised
or measured, then developing. It is secure once the target was met on two different days, one of them a lesson
check; a student's own reports alone leave it developing. Review falls due a fixed gap after the target was
last met. A miss in a lesson check, or in the first try once review is due, returns it to developing, and
counting begins anew. Time alone (minutes a week) says nothing of how well a thing goes and stays developing.
A goal of a performance must last until its day: from the day that it was put down, review falls due at equal
gaps chosen from that time (`review_day`).

References
----------
[1] Cepeda et al., Psychol Sci 2008;19:1095 (as quoted elsewhere): the best gap is 20 to 40 % of a delay of
one
    week, falling to 5 to 10 % of a year. It is about facts, not motor skill.
[2] Latimier et al. 2021 (published): widening gaps are no better than equal ones, so gaps are equal.
"""

import datetime as dt
import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from practice.asked import asked_of_weeks
from practice.facts import EntryFacts, GoalFacts, Mark, StudentFacts
from practice.handday import hand_day
from practice.said import Said, measured, said
from students.calendar import week_of
from studio import theory

INTRODUCED = "introduced"
DEVELOPING = "developing"
SECURE = "secure"
REVIEW_DUE = "review-due"
SET_ASIDE = "set-aside"
STATES = (INTRODUCED, DEVELOPING, SECURE, REVIEW_DUE, SET_ASIDE)

RULE = Said("state-rule")

# What is learned for good is kept for a year and reviewed every four weeks.
KEEP_DAYS = 365
DAYS_TO_SECURE = 2

# Fewer measurements than this say nothing about a direction.
ENOUGH_POINTS = 5
ENOUGH_DAYS = 3

WEEK = dt.timedelta(days=7)

SPACING_WEEKS = 6
SPACING_MINUTES = 20


@dataclass(frozen=True)
class State:
    """code: one of STATES; reason: why; since: the day it began; review_on: when review falls (fell) due."""

    code: str
    reason: Said
    since: dt.date | None = None
    review_on: dt.date | None = None

    @property
    def known(self) -> bool:
        """Secure, or was and only waits for its review."""
        return self.code in (SECURE, REVIEW_DUE)


@dataclass(frozen=True)
class Week:
    """One week's practice. start: its first day; days: on how many days something was logged;
    finished: all of it lies before today."""

    start: dt.date
    seconds: int = 0
    days: int = 0
    finished: bool = True

    @property
    def minutes(self) -> int:
        return round(self.seconds / 60)


def review_gap(keep_days: int = KEEP_DAYS) -> int:
    """Days between equal reviews so that a thing lasts `keep_days` (1 or more), at least 1.

    2 days for a week, 28 for a year (28 % and 7.7 %: inside the published ranges [1]), and between them a
    power of the delay, which is derived. What was measured were facts, not motor skill.

    >>> review_gap(7), review_gap(365)
    (2, 28)
    """
    if keep_days < 1:
        raise ValueError(f"keep_days {keep_days}: a thing must last a day or more")
    power = math.log(28 / 2) / math.log(365 / 7)
    return max(1, round(2 * math.pow(keep_days / 7, power)))


def review_day(
    goal: GoalFacts, last: dt.date, today: dt.date, keep_days: int = KEEP_DAYS
) -> tuple[dt.date, dt.date | None]:
    """When review falls due for a goal last met on `last`, and the day of the performance that asks for it so
    soon, None for the usual gap.

    A goal of a performance is reviewed at equal gaps, `review_gap` of the days from when the performance was put
    down to its day, never more than the usual ones, and none falls due after the performance. What was put down
    after `today` asks for nothing, so that what was a slip or not does not change afterwards.
    """
    found: tuple[dt.date, dt.date | None] = (last + dt.timedelta(days=review_gap(keep_days)), None)
    for put_down, day in goal.kept_for:
        begun = max(put_down, goal.set_on)
        if begun <= today and max(last, begun) < day:
            gap = review_gap(min((day - begun).days, keep_days))
            due = max(last, begun) + dt.timedelta(days=gap)
            if due <= day and due < found[0]:
                found = due, day
    return found


def first_tries(goal: GoalFacts, today: dt.date | None = None) -> tuple[Mark, ...]:
    """One measurement a day in the goal's own measure, oldest first: what speaks for the day (see above)."""
    tries = goal.tries
    if today is None or not tries or tries[-1].day <= today:
        return tries
    return tries[: bisect_right(tries, today, key=_day)]


def _day(mark: Mark) -> dt.date:
    return mark.day


def last_tries(goal: GoalFacts, today: dt.date | None = None, count: int = 5) -> tuple[Mark, ...]:
    """The last `count` days' tries, oldest first."""
    return first_tries(goal, today)[-count:] if count > 0 else ()


def best(goal: GoalFacts, today: dt.date | None = None) -> Mark | None:
    """The best of the days' tries; the earliest of equals."""
    found: Mark | None = None
    for mark in first_tries(goal, today):
        if found is None or goal.measure.better(mark.value, found.value):
            found = mark
    return found


def practised_seconds(goal: GoalFacts, today: dt.date, since: dt.date = dt.date.min) -> int:
    """Seconds spent on the goal on since <= day <= today."""
    return sum(seconds for day, seconds in goal.practised if since <= day <= today)


def state(goal: GoalFacts, today: dt.date, keep_days: int = KEEP_DAYS) -> State:
    """Where the goal stands on `today`, with the reason. keep_days: how long it must last, 1 or more."""
    if goal.set_aside:
        return State(SET_ASIDE, said("state-set-aside"))
    tries = first_tries(goal, today)
    seconds = practised_seconds(goal, today)
    if goal.measure.code == "minutes":
        return _time_alone(goal, today, seconds, tries)
    if not tries:
        if seconds:
            begun = min(day for day, spent in goal.practised if spent and day <= today)
            return State(DEVELOPING, said("state-practised", minutes=max(1, round(seconds / 60))), begun)
        return State(INTRODUCED, said("state-introduced", day=goal.set_on), goal.set_on)

    met: list[Mark] = []
    since: dt.date | None = None
    slipped: Mark | None = None
    for mark in tries:
        if goal.measure.meets(mark.value, goal.target):
            met.append(mark)
            if since is None and len(met) >= DAYS_TO_SECURE and any(one.check for one in met):
                since = mark.day
        elif since is not None and (
            mark.check or mark.day >= review_day(goal, met[-1].day, mark.day, keep_days)[0]
        ):
            met, since, slipped = [], None, mark

    if since is not None:
        last = met[-1].day
        review_on, until = review_day(goal, last, today, keep_days)
        if today >= review_on:
            reason = said("state-review-due", last=last, day=review_on)
            if until is not None:
                reason = said("state-review-due-until", last=last, day=review_on, until=until)
            return State(REVIEW_DUE, reason, review_on, review_on)
        checked = max(mark.day for mark in met if mark.check)
        reason = said("state-secure", days=len(met), check=checked, review=review_on)
        if until is not None:
            reason = said("state-secure-until", days=len(met), check=checked, review=review_on, until=until)
        return State(SECURE, reason, since, review_on)
    if slipped is not None:
        begun = slipped.day
    else:
        begun = min([tries[0].day, *(day for day, spent in goal.practised if spent and day <= today)])
    return State(DEVELOPING, _why_developing(goal, tries[-1], met, slipped), begun)


def _why_developing(goal: GoalFacts, last: Mark, met: list[Mark], slipped: Mark | None) -> Said:
    target = measured(goal.measure.code, goal.target)
    if not met:
        code = "state-slipped" if slipped is not None and slipped is last else "state-not-met"
        return said(code, value=measured(goal.measure.code, last.value), day=last.day, target=target)
    if len(met) == 1:
        code = "state-one-check" if met[0].check else "state-met-once"
        return said(code, day=met[0].day, target=target)
    return said("state-no-check", days=len(met), target=target)


def _time_alone(goal: GoalFacts, today: dt.date, seconds: int, tries: tuple[Mark, ...]) -> State:
    days = [mark.day for mark in tries]
    days += [day for day, spent in goal.practised if spent and day <= today]
    if not days:
        return State(INTRODUCED, said("state-introduced", day=goal.set_on), goal.set_on)
    return State(DEVELOPING, said("state-time-alone", minutes=round(seconds / 60)), min(days))


def secure_items(facts: StudentFacts, today: dt.date) -> tuple[theory.ChordTerm, ...]:
    """Every voicing the student has, oldest first, none twice: the chords of chord and change goals that are
    secure, or were and wait for review. Goals set aside count by their history: what was secure stays known.
    """
    found: dict[theory.ChordTerm, None] = {}
    for goal in facts.goals:
        if goal.kind in ("chord", "change") and was_secure(goal, today):
            found.update(dict.fromkeys(goal.theory.chords))
    return tuple(found)


def was_secure(goal: GoalFacts, today: dt.date) -> bool:
    """Secure or waiting for review by its history, whether set aside since or not."""
    if not goal.set_aside:
        return state(goal, today).known
    return state(replace(goal, set_aside=False), today).known


def days_practised(entries: Iterable[EntryFacts], week: dt.date) -> int:
    """On how many days of the week that begins on `week` something was logged."""
    return len({entry.day for entry in entries if week <= entry.day < week + WEEK})


def minutes_between(entries: Iterable[EntryFacts], start: dt.date, end: dt.date) -> int:
    """Minutes logged on start <= day < end, rounded once, at the end."""
    return round(sum(entry.seconds for entry in entries if start <= entry.day < end) / 60)


def minutes_on(entries: Iterable[EntryFacts], day: dt.date) -> int:
    """Minutes logged on one day."""
    return minutes_between(entries, day, day + dt.timedelta(days=1))


def weekly_minutes(entries: Iterable[EntryFacts], today: dt.date, weeks: int, week_start: int = 0) -> tuple[Week, ...]:
    """The last `weeks` weeks, oldest first, the current one last and unfinished; empty ones are zeros."""
    by_week: dict[dt.date, list[EntryFacts]] = {}
    for entry in entries:
        if entry.day <= today:
            by_week.setdefault(week_of(entry.day, week_start), []).append(entry)
    now = week_of(today, week_start)
    return tuple(
        Week(
            start=start,
            seconds=sum(entry.seconds for entry in by_week.get(start, ())),
            days=len({entry.day for entry in by_week.get(start, ())}),
            finished=start < now,
        )
        for start in _week_starts(now, weeks)
    )


def one_day_weeks(facts: StudentFacts, today: dt.date) -> Said | None:
    """What spacing does [1][2], for whoever packs the week into one day: of the last six finished weeks with practice,
    five or more had a single day of at least twenty minutes, though more days are planned. None else, and before six
    such weeks. A week with days of rest is none of them: what it asked for was less. None too while the hand asks for
    minutes of its own."""
    hand = hand_day(facts, today)
    if hand.stop or hand.gently or hand.step is not None:
        return None
    weeks = [week for week in weekly_minutes(facts.entries, today, 9, facts.week_start)[:-1] if week.days]
    asked = asked_of_weeks(facts, [week.start for week in weeks], today)
    weeks = [week for week in weeks if not asked[week.start].why][-SPACING_WEEKS:]
    single = [week for week in weeks if week.days == 1 and week.minutes >= SPACING_MINUTES]
    if facts.plan_days < 2 or len(weeks) < SPACING_WEEKS or len(single) < SPACING_WEEKS - 1:
        return None
    usual = sorted(week.minutes for week in single)[len(single) // 2]
    days = min(facts.plan_days, 3)
    return said("spacing-one-day", weeks=len(single), of=len(weeks), minutes=usual, days=days, each=round(usual / days))


def _week_starts(now: dt.date, weeks: int) -> Iterator[dt.date]:
    for back in range(weeks - 1, -1, -1):
        yield now - back * WEEK
