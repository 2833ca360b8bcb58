"""Stuck and slipped back, on simulated students whose truth is known: false alarms and misses are counted.

As the issue asks: curves are exponential with a time constant of 3 to 12 weeks, 4 results a week, noise of 5 % of the
range, looked at once a week over 26 weeks, 200 of each kind. Single learners follow an exponential better than a power
law (Heathcote, Brown & Mewhort, Psychon Bull Rev 2000;7:185); time constants and noise are the issue's.

Kinds: steady students go on all the time; the others stand still for six weeks, beginning on some day when they have
come between 20 and 70 % of the way, and then go on as before. A goal is falsely called stuck if it is in any week whose
last four weeks truly brought 10 % of the range or more.
"""

import datetime as dt
import math
import os
import random
from dataclasses import dataclass, replace

import pytest

from practice.plateau import slip, stuck
from tests.practice.plain import at, goal
from tests.practice.plain import mark as one_mark

WEEKS = 26
STANDSTILL = 6.0
START = dt.date(2026, 1, 5)


@dataclass
class Learner:
    """tau: time constant in weeks; still: the week at which the standstill begins, None for a steady student."""

    tau: float
    still: float | None = None

    def level(self, week: float) -> float:
        """The truth at a time in weeks: 0 at the beginning, 1 at the end of the range."""
        if self.still is not None and week > self.still:
            week = max(self.still, week - STANDSTILL)
        return 1 - math.exp(-week / self.tau)

    def gained(self, week: float) -> float:
        """What the last four weeks brought."""
        return self.level(week) - self.level(max(0.0, week - 4))


def draw(rng, standing_still):
    tau = rng.uniform(3, 12)
    if not standing_still:
        return Learner(tau)
    return Learner(tau, min(-tau * math.log(1 - rng.uniform(0.2, 0.7)), WEEKS - STANDSTILL))


def practise(rng, learner, measure, noise):
    """The goal with 4 results a week; noise: part of the range, None for whole clean strings (binomial of 6)."""
    low, high = {"changes": (10, 60), "tempo": (50, 100), "seconds": (90, 30), "clean": (0, 6)}[measure]
    days = [7 * week + day for week in range(WEEKS) for day in sorted(rng.sample(range(7), 4))]
    marks = []
    for day in days:
        level = learner.level((day + 0.5) / 7)
        if noise is None:
            value = sum(rng.random() < level for _ in range(high))
        else:
            value = low + (high - low) * (level + rng.gauss(0, noise))
        marks.append(one_mark(START + dt.timedelta(days=day), value, measure=measure))
    return goal(measure, high, start_value=low, marks=tuple(marks), set_on=START,
                practised=tuple((one.day, 300) for one in marks))  # fmt: skip


def called(history):
    """The weeks (1 to 26) at whose end the goal is called stuck; the future is cut off by hand."""
    for week in range(1, WEEKS + 1):
        today = START + dt.timedelta(days=7 * week - 1)
        past = tuple(one for one in history.marks if one.day <= today)
        if stuck(replace(history, marks=past), today):
            yield week


def rates(seed, count, measure="changes", noise=0.05):
    """(standstills found before they end, steady goals falsely called, goals that stood still falsely called)."""
    rng = random.Random(seed)
    found, false = 0, {True: 0, False: 0}
    for standing_still in (False, True):
        for _ in range(count):
            learner = draw(rng, standing_still)
            weeks = list(called(practise(rng, learner, measure, noise)))
            false[standing_still] += any(learner.gained(week) >= 0.10 for week in weeks)
            if standing_still:
                found += any(learner.still <= week < learner.still + STANDSTILL for week in weeks)
    return found / count, false[False] / count, false[True] / count


def tell(name, found, steady, resumed):
    print(f"\n{name}: {found:.1%} of the standstills found; falsely called stuck {steady:.1%} of the steady"
          f" and {resumed:.1%} of those that stood still and went on")  # fmt: skip


@pytest.mark.parametrize("measure", ["changes", "seconds"])
def test_the_bars_hold(measure):
    found, steady, resumed = rates(seed=5, count=200, measure=measure)
    tell(measure, found, steady, resumed)
    assert found >= 0.90
    assert steady <= 0.05
    assert (steady + resumed) / 2 <= 0.05  # the bar is over all goals; those that went on are the harder half


@pytest.mark.parametrize(("measure", "noise"), [("changes", 0.10), ("clean", None)])
def test_harder_cases_are_counted(measure, noise):
    """Reported, without a bar."""
    rows = rates(seed=5, count=60, measure=measure, noise=noise)
    tell(f"{measure}, noise {noise or 'binomial'}", *rows)
    assert all(0 <= rate <= 1 for rate in rows)


@pytest.mark.soak
@pytest.mark.parametrize("seed", range(5))
def test_the_bars_hold_for_other_students(seed):
    count = max(20, round(200 * float(os.environ.get("ROUNDS", "1"))))
    found, steady, resumed = rates(seed=100 + seed, count=count)
    tell(f"seed {100 + seed}, {count} of each", found, steady, resumed)
    # the bar of the issue is over all goals; three standard errors for the sampling of so few
    slack = 3 * math.sqrt(0.9 * 0.1 / count)
    assert found >= 0.90 - slack
    assert (steady + resumed) / 2 <= 0.05 + slack / 2


@pytest.mark.parametrize("measure", ["tempo", "seconds", "changes"])
def test_a_slip_back_is_found_and_a_steady_student_never_is(measure):
    """A student who has come at least half the way loses 30 % of it at once: found within three tries."""
    rng = random.Random(8)
    missed = false = 0
    for _ in range(100):
        learner = draw(rng, False)
        history = practise(rng, learner, measure, 0.05)
        false += any(
            slip(history, START + dt.timedelta(days=7 * week - 1)) is not None for week in range(4, WEEKS + 1)
        )
        cut = 40 + rng.randrange(40)
        lost = 0.3 * (history.target - history.start_value)
        kept = tuple(replace(one, value=one.value - lost) if i >= cut else one for i, one in enumerate(history.marks))
        if learner.level(cut / 4) >= 0.5:
            missed += slip(replace(history, marks=kept[: cut + 3]), kept[cut + 2].day) is None
    print(f"\nslip-back in {measure}: {missed} of 100 missed, {false} of 100 steady goals falsely called")
    assert missed <= 5
    assert false <= 2


def test_hand_made_histories():
    flat = goal("changes", 60, start_value=10, marks=tuple(
        one_mark(START + dt.timedelta(days=day), 30, measure="changes") for day in range(0, 43, 3)
    ), practised=((START, 1200), (START + dt.timedelta(days=21), 5700)))  # fmt: skip
    found = stuck(flat, START + dt.timedelta(days=42))
    assert (found.weeks, found.minutes, found.since) == (6, 115, START)
    assert stuck(flat, START + dt.timedelta(days=42 + 22)) is None  # not tried since: nothing is said
    assert stuck(replace(flat, target=30), START + dt.timedelta(days=42)) is None  # met
    assert at(START)  # the helper's instants are aware
