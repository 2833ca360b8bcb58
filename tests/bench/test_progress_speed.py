"""What a student's page computes from five years of entries: reported, with the share of each part.

1,500 entries, 4,500 segments, 26 goals of which 10 are active, as many measurements as segments. The aim is under 50 ms
for all that the page computes from the rows once they are read. Run with `-m bench -n 0 -s`.
"""

import datetime as dt
import random
import statistics
import time

import pytest

from practice.attention import attention, attention_input
from practice.progress import minutes_between, one_day_weeks, state, weekly_minutes
from practice.standing import standing
from practice.trend import left_out, told
from tests.practice.plain import TODAY, ago, entry, facts, goal, mark

pytestmark = pytest.mark.bench

YEARS, ENTRIES, PER_ENTRY = 5, 1500, 3
MEASURES = (("changes", 60), ("tempo", 96), ("seconds", 30), ("right", 20), ("clean", 6), ("landings", 5))


def five_years():
    """A student who has practised six days a week for five years; half of the active goals are still on the way."""
    rng = random.Random(5)
    days = [ago(round(number * YEARS * 365 / ENTRIES)) for number in range(ENTRIES)][::-1]
    marks, practised, parts = {}, {}, {}
    for at, day in enumerate(days):
        # two of the older goals at a time, and one of the ten newest
        goals = [at * 16 // ENTRIES, (at * 16 // ENTRIES + 5) % 16, 16 + rng.randrange(10)]
        parts[day] = tuple((f"goal-{number}", 400) for number in goals[:PER_ENTRY])
        for number in goals:
            code, target = MEASURES[number % len(MEASURES)]
            level = target * (0.5 + 0.4 * min(1.0, at / ENTRIES) + rng.gauss(0, 0.03))
            marks.setdefault(number, []).append(mark(day, round(level, 1), rng.random() < 0.1, code))
            practised.setdefault(number, []).append((day, 400))
    goals = tuple(
        goal(*MEASURES[number % len(MEASURES)], code=f"goal-{number}", start_value=1.0, marks=tuple(marks[number]),
             practised=tuple(practised[number]), set_aside=number < 16, set_on=ago(1800))
        for number in sorted(marks)
    )  # fmt: skip
    return facts(goals=goals, entries=tuple(entry(day, 20, code=str(day), segments=parts[day]) for day in days))


def compute(student):
    """All that the teacher's page computes from the rows, named."""
    states = {one.code: state(one, TODAY) for one in student.goals}
    yield "states"
    standing(student, states, TODAY)
    yield "the sentence at the head"
    attention(attention_input(student, TODAY))
    yield "attention"
    for one in student.active_goals:
        told(one, TODAY)
        left_out(one, None)
    yield "trend, standstill, slip of each goal"
    weekly_minutes(student.entries, TODAY, 12)
    minutes_between(student.entries, ago(7), TODAY + dt.timedelta(days=1))
    one_day_weeks(student, TODAY)
    yield "weeks"


def test_five_years_of_entries():
    rounds = []
    for _ in range(15):
        student = five_years()  # anew each time, so that nothing is remembered from the round before
        assert sum(len(one.segments) for one in student.entries) == ENTRIES * PER_ENTRY
        spent, begun = {}, time.perf_counter()
        for part in compute(student):
            now = time.perf_counter()
            spent[part], begun = (now - begun) * 1000, now
        rounds.append(spent)
    print("\nfive years of entries, median of 14 rounds (the first loads scipy: "
          f"{sum(rounds[0].values()):.0f} ms)")  # fmt: skip
    for part in rounds[0]:
        print(f"  {part:<38} {statistics.median(one[part] for one in rounds[1:]):6.1f} ms")
    print(f"  {'in all':<38} {statistics.median(sum(one.values()) for one in rounds[1:]):6.1f} ms, aim 50 ms")
