"""The trend of a goal: against the published example, in words, and with histories that make no sense."""

import datetime as dt
import random
from dataclasses import replace

import pytest
from scipy.stats import theilslopes

from practice.attention import attention, attention_input
from practice.plateau import SURENESS, theil_sen
from practice.progress import state
from practice.standing import standing
from practice.standing_words import standing_text
from practice.trend import CONFIDENCE, HORIZON, NARROW, Trend, fit, left_out, meets_on, reached, told, trend
from practice.words import say
from tests.practice.plain import TODAY, ago, entry, facts, goal, mark


def history(*steps, measure="changes", target=60, **over):
    """A goal from (days ago, value)."""
    return goal(measure, target, marks=tuple(mark(ago(days), value, measure=measure) for days, value in steps), **over)


def steady(start, step, days=range(40, 0, -4), **over):
    return history(*[(day, start + step * i) for i, day in enumerate(days)], **over)


def test_sens_example_of_1968():
    """Sen, J Am Stat Assoc 1968;63:1379, as in scipy's own tests: slope 4, intercept 4 by separate medians.

    The published interval, 3.71 to 4.38, is for another sureness (93 %); ours, 90 %, lies inside it. Days stand for the
    example's x, so slopes are per 7 of them.
    """
    first = dt.date(2026, 1, 1)
    xs, ys = (1, 2, 3, 4, 10, 12, 18), (9, 15, 19, 20, 45, 55, 78)
    found = fit(tuple(mark(first + dt.timedelta(days=x), y) for x, y in zip(xs, ys, strict=True)))
    assert found.slope / 7 == pytest.approx(4)
    assert 3.71 <= found.low / 7 <= found.slope / 7 <= found.high / 7 <= 4.38
    # at x = 1 the line through the medians lies at 4 + 4 * 1
    assert found.at_start == pytest.approx(8)
    assert found.value(first + dt.timedelta(days=18)) == pytest.approx(4 + 4 * 18)


@pytest.mark.parametrize("whole", [False, True])
def test_the_standstills_slope_is_scipys(whole):
    """practice.plateau.theil_sen against scipy.stats.theilslopes, with and without equal values among them."""
    rng = random.Random(17)
    for _ in range(300):
        ages = [age / 7 for age in sorted(rng.sample(range(84), rng.randrange(5, 40)), reverse=True)]
        values = [float(rng.randrange(4)) if whole else rng.gauss(0, 1) for _ in ages]
        if min(values) == max(values):
            continue
        wanted = theilslopes(values, [-age for age in ages], SURENESS)
        slope, high = theil_sen(ages, values)
        assert slope == pytest.approx(wanted.slope)
        assert high == pytest.approx(wanted.high_slope)


def test_enough_data():
    """Five results on three days or more; the issue's rule."""
    assert trend(steady(20, 1, days=(9, 7, 5, 3)), TODAY).code == "trend-too-early"
    assert isinstance(trend(steady(20, 1, days=(9, 7, 5, 3, 1)), TODAY), Trend)
    on_two_days = [(3, 20), (3, 21), (3, 22), (1, 23), (1, 24)]
    assert trend(history(*on_two_days), TODAY).values == {"points": 5, "days": 2, "more": 1}
    on_three = trend(history(*on_two_days, (5, 19)), TODAY)
    assert (on_three.points, on_three.days, round(on_three.confidence, 2)) == (6, 3, 0.67)
    assert told(history(*on_two_days, (5, 19)), TODAY).code == "early"  # three values name no day


@pytest.mark.parametrize("measure", ["clean", "landings", "runs", "mark"])
def test_counts_with_a_ceiling_show_the_last_five(measure):
    counts = history((9, 1), (8, 2), (7, 1), (6, 2), (5, 2), (4, 3), measure=measure, target=5)
    assert trend(counts, TODAY) is None
    assert say(told(counts, TODAY).said) == "The last tries, oldest first: 2, 1, 2, 2, 3."


def test_nothing_once_the_target_is_met():
    met = steady(20, 5)
    assert trend(met, TODAY) is None
    assert told(met, TODAY) is None


def test_on_course():
    rising = steady(40, 1.7, due=TODAY + dt.timedelta(days=20))
    found = told(rising, TODAY)
    early, likely, late = reached(rising, trend(rising, TODAY), TODAY)
    assert say(found.said).startswith("On course for ")
    assert early <= likely <= late <= TODAY + HORIZON
    assert late - early <= NARROW
    # 40 + 1.7 for each 4 days reaches 60 after 48 days, 8 days from now, wherever the line is fitted
    assert likely == TODAY + dt.timedelta(days=8)
    assert "a week, likely between" in say(found.slope)
    assert found.used == rising.marks


def test_a_line_that_is_there_already_names_no_tomorrow():
    """The line has reached the target, and the last results lie a little below it."""
    values = (40, 42, 44, 46, 48, 50, 52, 54, 55, 56)
    near = history(*zip(range(40, 0, -4), values, strict=True), target=57, due=ago(-20))
    early, likely, late = reached(near, trend(near, TODAY), TODAY)
    assert likely == early == TODAY + dt.timedelta(days=1)
    assert say(told(near, TODAY).said) == f"On course: any day now, likely by {late.day} November."
    # after the due day the sentence goes on saying so
    assert told(replace(near, due=ago(1)), TODAY).said.code == "trend-late"


def test_not_by_the_due_day_is_said_of_the_line_and_not_of_its_band():
    """The line is in time and the band's end lies months away: too varied for a day, but not too slow. Callum's G: I vi
    IV V in the example was said to be late, and was not."""
    steps = (0, 5, -4, 9, 0, 12, 3, 15, 6, 18)
    wide = history(*[(day, 40 + step) for step, day in zip(steps, range(40, 0, -4), strict=True)], target=60)
    found = trend(wide, TODAY)
    line = meets_on(wide, found, TODAY)
    assert found.low > 0
    assert reached(wide, found, TODAY) is None
    assert line < TODAY + HORIZON
    for due, code in ((line, "trend-varied"), (line - dt.timedelta(days=1), "trend-not-by-due")):
        assert told(replace(wide, due=due), TODAY).said.code == code
    # past due, and the line less than eight weeks away: not "more than 8 weeks"
    assert told(replace(wide, due=ago(3)), TODAY).said.code == "trend-varied"


def test_fewer_is_better_is_turned():
    faster = history(*[(day, 60 - i) for i, day in enumerate(range(40, 0, -4))], measure="seconds", target=48,
                     due=TODAY + dt.timedelta(days=30))  # fmt: skip
    assert told(faster, TODAY).code == "course"
    far = replace(faster, target=20, due=ago(1))
    assert say(told(far, TODAY).said) == "Moving on, but at this pace the target is more than 8 weeks away."
    slower = history(*[(day, 50 + 0.15 * i) for i, day in enumerate(range(40, 0, -4))], measure="seconds", target=40)
    assert say(told(slower, TODAY).said) == "Losing ground in the last weeks."


def test_what_is_missing_is_said():
    rng = random.Random(3)
    wild = history(*[(day, rng.uniform(20, 50)) for day in range(40, 0, -4)])
    assert say(told(wild, TODAY).said) == "No clear direction yet: the results vary too much."
    slow = steady(20, 0.9, due=TODAY + dt.timedelta(days=10))
    assert say(told(slow, TODAY).said) == "Moving on, but at this pace not by the due day."
    late = steady(40, 1.2, due=TODAY + dt.timedelta(days=5))
    assert say(told(late, TODAY).said).startswith("At this pace on ")
    few = steady(20, 1, days=(9, 7, 5))
    assert say(told(few, TODAY).said) == "Too early to say which way it goes: it needs 2 more days with a result."


def test_the_band_holds_the_truth():
    """Straight truth, normal noise: the named span of days holds the true day in nine of ten cases or nearly.

    The bar is 85 %, since the spans that are wide are not named. The truth of the simulation is its own source.
    """
    rng = random.Random(11)
    held = named = 0
    for _ in range(300):
        rate, noise = rng.uniform(0.25, 0.7), rng.uniform(0.5, 2)
        steps = [(day, 30 + rate * (45 - day) + rng.gauss(0, noise)) for day in range(45, 0, -3)]
        target = 30 + rate * (45 + rng.uniform(5, 40))
        case = history(*steps, target=target)
        found = trend(case, TODAY)
        days = reached(case, found, TODAY) if isinstance(found, Trend) else None
        if days and days[2] - days[0] <= NARROW and days[0] > TODAY + dt.timedelta(days=1):
            named += 1
            true = (target - 30) / rate - 45
            held += (days[0] - TODAY).days - 1 <= true <= (days[2] - TODAY).days
    print(f"\nnamed {named} of 300, held {held / named:.0%}")
    assert named > 100
    assert held / named >= 0.85
    assert CONFIDENCE == 0.9


# -- histories that make no sense --------------------------------------------------------------------------------

ONE_DAY = [(2, 20 + i) for i in range(6)]
STRANGE = {
    "no entry": history(),
    "one entry": history((3, 20)),
    "entries on one day": history(*ONE_DAY),
    "all zeros": history(*[(day, 0) for day in range(40, 0, -3)]),
    "all equal": history(*[(day, 30) for day in range(40, 0, -3)]),
    "a gap of a year": history(*[(400 + day, 20 + day) for day in range(6)], (3, 22), (1, 23)),
    "only a year ago": history(*[(400 + day, 20 + day) for day in range(6)]),
    "target below the start": steady(40, 1, start_value=40, target=30),
    "target at the start": steady(20, 0, start_value=60, target=60),
    "seconds, target above the start": steady(40, -1, measure="seconds", start_value=40, target=50),
    "zero target": history(*[(day, 3) for day in range(40, 0, -3)], measure="clean", target=0),
    "counts all zero": history(*[(day, 0) for day in range(40, 0, -3)], measure="clean", target=6),
    "time alone": history((3, 20), measure="minutes", target=30),
}


@pytest.mark.parametrize("name", STRANGE)
@pytest.mark.parametrize("since", [None, ago(500), ago(10), TODAY, TODAY + dt.timedelta(days=3)])
def test_every_history_has_a_sentence_and_none_an_error(name, since):
    student = facts(goals=(STRANGE[name],), entries=(entry(ago(3)),), instrument_since=since)
    stands = state(STRANGE[name], TODAY)
    assert say(stands.reason).endswith(".")
    assert standing_text(standing(student, {STRANGE[name].code: stands}, TODAY)).endswith(".")
    found = told(STRANGE[name], TODAY, since)
    assert found is None or (say(found.said).endswith(".") and "%(" not in say(found.said))
    for reason in attention(attention_input(student, TODAY)):
        assert say(reason.said).endswith(".")


# history, what is said of it
@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("one entry", "Too early to say which way it goes: it needs 4 more days with a result."),
        ("entries on one day", "Too early to say which way it goes: it needs 2 more days with a result."),
        ("all zeros", "No change in 5 weeks, and no practice logged on it."),
        ("all equal", "No change in 5 weeks, and no practice logged on it."),
        ("a gap of a year", "Too early to say which way it goes: it needs 3 more days with a result."),
        ("counts all zero", "No change in 5 weeks, and no practice logged on it."),
    ],
)
def test_what_is_said_of_strange_histories(name, text):
    assert say(told(STRANGE[name], TODAY).said) == text


@pytest.mark.parametrize("name", ["no entry", "only a year ago", "target below the start", "time alone"])
def test_of_some_nothing_is_said(name):
    assert told(STRANGE[name], TODAY) is None


def test_an_instrument_changed_midway():
    """Old results stay in state and lists; direction, standstill and slip count from the change on."""
    before, after = range(60, 30, -3), range(30, 0, -3)
    changed = history(*[(day, 50) for day in before], *[(day, 20 + (30 - day) / 2) for day in after])
    assert told(changed, TODAY).code == "slip"
    since = told(changed, TODAY, ago(30))
    assert since.code in ("trend", "course")
    assert min(one.day for one in since.used) == ago(30)
    assert left_out(changed, ago(30)) == ago(30)
    assert left_out(changed, ago(90)) is None
    kept = history((5, 60), target=60)
    secure = replace(kept, marks=(mark(ago(9), 60, True, "changes"), mark(ago(5), 60, True, "changes")))
    assert state(secure, TODAY).known  # what was heard on the earlier instrument was heard
