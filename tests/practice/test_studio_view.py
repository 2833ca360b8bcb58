"""A roster at once: what its lists hold and how they stand, and how long a shape takes, held against scipy."""

import datetime as dt
import random
import statistics
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from practice.example import SEED, draw
from practice.facts import PerformanceFacts
from practice.progress import state
from practice.studio_view import (
    FEWEST,
    Member,
    Overview,
    first_secure,
    median_days,
    over_practised,
    overview,
    shape_times,
    whole_weeks,
)
from practice.words import say
from tests.practice.plain import TODAY, ago, chord, entry, facts, goal, mark, note

DAY = dt.date(2026, 11, 24)


def member(name: str, teacher: str = "Ada Teacher", **over) -> Member:
    fresh = {"entries": (entry(ago(1), 12),)} | over
    return Member(f"code-{name}", teacher, facts(name=name, first_name=name, **fresh))


def names(lines) -> list[str]:
    return [line.member.facts.name for line in lines]


def only(found: Overview):
    assert len(found.groups) == 1
    return found.groups[0]


def met_on(begun: int, days: int | None, shape: str = "E-minor", **over):
    """A goal set `begun` days ago that was secure after `days` of them, or never."""
    marks = () if days is None else (mark(ago(begun - days), 6, check=True), mark(ago(begun), 6))
    return goal(set_on=ago(begun), marks=tuple(sorted(marks, key=lambda one: one.day)), theory=chord(shape), **over)


# -- the lists ----------------------------------------------------------------------------------------------------


def test_everybody_stands_by_name_under_their_teacher():
    found = overview([member("Zoe", "Bo"), member("ann"), member("Bert"), member("Cleo", "Bo")], TODAY)
    assert [group.teacher for group in found.groups] == ["Ada Teacher", "Bo"]
    assert [names(group.rows) for group in found.groups] == [["ann", "Bert"], ["Cleo", "Zoe"]]
    assert found.students == 4


def test_an_empty_roster_has_nothing():
    found = overview([], TODAY)
    assert (found.students, found.groups, found.shapes, found.count("stuck")) == (0, (), (), 0)


def test_a_student_with_nothing_at_all_is_no_error():
    nothing = Member("code", "Ada", facts(entries=(), joined=TODAY))
    group = only(overview([nothing], TODAY))
    assert (group.stuck, group.quiet, group.over, group.reviews, group.stages) == ((), (), (), (), ())
    row = group.rows[0]
    assert (row.secure, row.working, row.minutes, row.asked.minutes) == (0, 0, 0, 60)


def flat(code: str, weeks: int):
    """Five tries a week of the same two values: no change, however long."""
    marks = tuple(mark(ago(n), 3 + n % 2, code == "never") for n in range(weeks * 7, 0, -2))
    return goal(code=code, title=code, set_on=ago(weeks * 7), start_value=0, marks=marks,
                practised=tuple((one.day, 300) for one in marks))  # fmt: skip


def test_what_is_stuck_stands_longest_first_and_brings_its_numbers():
    found = only(overview([member("Ann", goals=(flat("short", 6),)), member("Bert", goals=(flat("long", 14),))], TODAY))
    assert names(found.stuck) == ["Bert", "Ann"]
    assert [line.goal.code for line in found.stuck] == ["long", "short"]
    weeks = [line.says[0].values["weeks"] for line in found.stuck]
    assert weeks == sorted(weeks, reverse=True)
    assert all(line.used and line.used[-1].day == ago(2) for line in found.stuck)
    assert [row.stuck for row in found.rows] == [1, 1]


def test_what_is_in_hand_is_not_called_stuck():
    held = replace(flat("held", 8), target=3)
    assert state(held, TODAY).known is False
    secure = replace(held, marks=(mark(ago(70), 6), mark(ago(69), 6, check=True), *held.marks))
    for one in (held, secure):
        assert only(overview([member("Ann", goals=(one,))], TODAY)).stuck == ()


def test_who_has_not_logged_stands_longest_first():
    found = only(
        overview(
            [
                member("Ann", entries=(entry(ago(8)),)),
                member("Bert", entries=(entry(ago(30)),)),
                member("Cleo", entries=(entry(ago(7)),)),
                member("Dan", entries=(), joined=ago(20)),
                member("Eve", entries=(), joined=ago(7)),
            ],
            TODAY,
        )
    )
    assert names(found.quiet) == ["Bert", "Dan", "Ann"]
    assert say(found.quiet[0].says[0]) == "No entry for 30 days."


def test_reviews_stand_longest_waiting_first():
    def waiting(days):
        return goal(code=f"w{days}", marks=(mark(ago(days + 1), 6), mark(ago(days), 6, check=True)))

    both = [member("Ann", goals=(waiting(30),)), member("Bert", goals=(waiting(90), waiting(10)))]
    found = only(overview(both, TODAY))
    assert names(found.reviews) == ["Bert", "Ann"]
    assert [row.reviews for row in found.rows] == [1, 1]
    assert [(row.secure, row.working) for row in found.rows] == [(1, 0), (2, 0)]


def test_who_practises_too_much_is_said_in_minutes_and_days():
    # last week, 90 of 60 planned is not over 150 %; 93 is
    usual = facts(entries=tuple(entry(ago(n), 30) for n in (5, 6, 7)))
    assert over_practised(usual, None, TODAY) == ()
    days = facts(entries=(entry(ago(1), 31), entry(ago(2), 45)), plan_days=7)
    assert [say(one) for one in over_practised(days, None, TODAY)] == [
        "Over the daily most of 30 minutes on 2 of the last seven days."
    ]
    show = PerformanceFacts("show", "Concert", TODAY + dt.timedelta(days=9))
    # before a performance the same days are said once, with its name
    soon = over_practised(replace(days, performances=(show,)), None, TODAY)
    assert [one.code for one in soon] == ["stage-slow-days"]


def test_a_bigger_jump_is_a_reason_to_ask_and_needs_ratings():
    before = tuple(entry(ago(4 + 7 * week + n), 20, 3) for week in range(1, 5) for n in (0, 2, 4))
    jump = tuple(entry(ago(4 + n), 30, 5) for n in (0, 2, 4))
    told = over_practised(facts(entries=(*before, *jump), plan_days=7, plan_minutes=30), None, TODAY)
    assert [one.code for one in told] == ["load-jump"]
    assert "a reason to ask, nothing more" in say(told[0])
    unrated = tuple(replace(one, tiring=None) for one in (*before, *jump))
    assert over_practised(facts(entries=unrated, plan_days=7, plan_minutes=30), None, TODAY) == ()


def test_performances_stand_soonest_first():
    def at(days):
        return (PerformanceFacts("show", "Concert", TODAY + dt.timedelta(days=days)),)

    days = {"Ann": 20, "Bert": 2, "Cleo": 29}
    found = only(overview([member(name, performances=at(one)) for name, one in days.items()], TODAY))
    assert names(found.stages) == ["Bert", "Ann"]


def test_the_stories_of_the_example_studio_are_found():
    example = draw(SEED, DAY)
    active = [one for one in example.students if one.status == "active"]
    found = overview([Member(str(one.code), one.teacher, example.facts(one.name)) for one in active], DAY)
    told = {
        name: {line.member.facts.name for group in found.groups for line in getattr(group, name)}
        for name in ("stuck", "slipped", "quiet", "over", "stages")
    }
    story = {key: one.student for key, one in example.stories.items()}
    assert story["stuck-barre"] in told["stuck"]
    assert story["slipped"] in told["slipped"]
    assert story["stopped"] in told["quiet"]
    assert told["over"] == {story["over-practiser"]}
    assert told["stages"] == {"Imre Castellane", "Hamish Deverell"}
    # neither the student on course nor the one who plays on Sundays alone is called stuck on that goal
    for key in ("on-course", "sunday-only"):
        stuck = {line.goal.code for group in found.groups for line in group.stuck}
        assert str(example.stories[key].goal) not in stuck


def test_of_whoever_plays_nothing_nothing_is_asked():
    """In no list but that of performances, and the week that was all rest asks for nothing."""
    review = goal(code="review", marks=(mark(ago(60), 6), mark(ago(50), 6, check=True)))
    slipped = goal(code="still", due=ago(4))
    show = PerformanceFacts("show", "Concert", TODAY + dt.timedelta(days=9))
    busy = {
        "goals": (review, slipped, flat("flat", 9)),
        "entries": tuple(entry(ago(n), 100) for n in (9, 10, 11, 12)),
        "performances": (show,),
    }
    well = only(overview([member("Ann", **busy)], TODAY))
    assert all((well.stuck, well.quiet, well.over, well.reviews, well.stages))
    stopped = only(overview([member("Ann", **busy, notes=(note(ago(11), 8, seen=True),))], TODAY))
    assert not any((stopped.stuck, stopped.slipped, stopped.quiet, stopped.over, stopped.reviews))
    assert stopped.stages
    assert (well.rows[0].asked.minutes, stopped.rows[0].asked.nothing) == (60, True)
    # while barres rest alone, what is held with one waits for no review
    resting = only(overview([member("Ann", **busy, notes=(note(TODAY, 5),))], TODAY))
    assert resting.reviews == ()
    assert resting.quiet


# -- how long a shape takes ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("count", range(FEWEST, 31))
def test_with_nobody_missing_the_interval_is_the_order_statistics_of_scipy(count):
    """Checked against scipy.stats.quantile_test (its interval after Conover 1999): two one-sided limits at 97.5 %."""
    rng = random.Random(count)
    days = rng.sample(range(5, 400), count)
    median, low, high = median_days([(one, 500) for one in days])
    lower = stats.quantile_test(days, p=0.5, alternative="greater").confidence_interval(0.975).low
    upper = stats.quantile_test(days, p=0.5, alternative="less").confidence_interval(0.975).high
    assert (low, high) == (lower, upper)
    assert median == statistics.median_low(days)


# n -> ranks of the 95 % interval of a median: derived from the binomial, and as printed in textbooks (from memory)
@pytest.mark.parametrize(("count", "ranks"), [(6, (1, 6)), (8, (1, 8)), (9, (2, 8)), (10, (2, 9)), (20, (6, 15))])
def test_ranks_of_the_interval(count, ranks):
    days = list(range(10, 10 * count + 10, 10))
    _, low, high = median_days([(one, 1000) for one in days])
    assert (days.index(low) + 1, days.index(high) + 1) == ranks


def test_the_interval_covers_the_true_median():
    """2,000 groups of twelve with a known median of 35 days (exponential): at least 95 % of the intervals hold it."""
    rng = random.Random(5)
    covered = 0
    for _ in range(2000):
        days = [max(1, round(rng.expovariate(0.693147 / 35))) for _ in range(12)]
        _, low, high = median_days([(one, 10_000) for one in days])
        covered += low <= 35 <= high
    assert covered >= 0.95 * 2000


def test_who_was_set_it_late_does_not_shorten_what_is_seen():
    """The same learners, looked at while half of them are new: waiting for the slow ones must not make it look quick.

    Among those who have it so far alone, the median would be far too short.
    """
    rng = random.Random(7)
    short, true = [], 0
    for _ in range(200):
        group = [(max(1, round(rng.expovariate(0.693147 / 60))), rng.randrange(1, 365)) for _ in range(40)]
        seen = [(days if days <= age else None, age) for days, age in group]
        median, low, high = median_days(seen)
        short.append(statistics.median(days for days, _ in seen if days is not None))
        if median is not None:
            true += low <= 60 and (high is None or high >= 60)
    assert statistics.median(short) < 50
    assert true >= 0.9 * 200


def test_without_half_of_them_no_number_is_given():
    assert median_days([(10, 100), (20, 100)] + [(None, 100)] * 4) == (None, None, None)
    # six who had it at once, and six to whom it was set yesterday: only the six are asked
    assert median_days([(14, 100)] * 6 + [(None, 1)] * 6) == (14, 14, 14)


def test_an_upper_end_that_was_not_seen_is_not_made_up():
    median, low, high = median_days([(10, 300), (20, 300), (30, 300), (40, 300), (None, 300), (None, 300)])
    assert (median, low, high) == (30, 10, None)


@pytest.mark.parametrize("count", range(FEWEST))
def test_few_students_get_no_number(count):
    members = [member(f"s{n}", goals=(met_on(100, 20 + n),)) for n in range(count)]
    for one in shape_times(members, TODAY):
        assert one.few
        assert (one.median, one.low, one.high) == (None, None, None)
        assert one.students == one.secure == count


def test_enough_students_get_weeks_and_stand_longest_first():
    quick = [member(f"q{n}", goals=(met_on(200, 8 + n, "A-minor"),)) for n in range(6)]
    slow = [member(f"s{n}", goals=(met_on(300, 60 + n, "E-major"),)) for n in range(6)]
    few = [member("f", goals=(met_on(200, 100, "E-7"),))]
    found = shape_times([*quick, *slow, *few], TODAY)
    assert [(one.shape, one.median, one.low, one.high) for one in found] == [
        ("E-major", 9, 9, 10), ("A-minor", 2, 2, 2), ("E-7", None, None, None)
    ]  # fmt: skip
    assert found[0].name == "E-shape major"
    assert [learner.member.facts.name for learner in found[1].learners] == sorted(f"q{n}" for n in range(6))


def test_a_student_counts_once_for_a_shape_from_the_first_root_set():
    roots = (met_on(100, None), met_on(80, 30), met_on(40, 5))
    found = shape_times([member("Ann", goals=roots)], TODAY)
    assert [(learner.days, learner.age) for learner in found[0].learners] == [(50, 100)]
    assert found[0].learners[0].weeks == 8


def test_a_goal_set_aside_counts_by_its_history():
    had = replace(met_on(100, 20), set_aside=True, set_aside_on=ago(30))
    never = replace(met_on(100, None), set_aside=True, set_aside_on=ago(30))
    found = shape_times([member("Ann", goals=(had,)), member("Bert", goals=(never,))], TODAY)
    assert [learner.days for learner in found[0].learners] == [20, None]


@given(
    values=st.lists(st.tuples(st.integers(0, 40), st.integers(0, 6), st.booleans()), max_size=12),
    code=st.sampled_from(["clean", "landings", "changes", "seconds", "minutes"]),
)
def test_first_secure_is_the_first_day_on_which_the_state_says_so(values, code):
    """Against practice.progress.state, looked at on every day."""
    marks = tuple(mark(ago(days), value, check, code) for days, value, check in sorted(values, reverse=True))
    one = goal(measure=code, target=4, marks=marks, set_on=ago(60))
    days = [ago(n) for n in range(45, -1, -1)]
    known = next((day for day in days if state(one, day).known), None)
    assert first_secure(one, TODAY) == known


@pytest.mark.parametrize(("days", "weeks"), [(0, 1), (1, 1), (7, 1), (8, 2), (14, 2), (15, 3)])
def test_weeks_are_those_within_which_it_lay(days, weeks):
    assert whole_weeks(days) == weeks


def test_only_chord_goals_speak_of_shapes_and_an_unknown_shape_is_no_error():
    other = goal(kind="piece", measure="mark", target=4)
    strange = goal(theory=chord("Z-major", "B"))
    found = shape_times([member("Ann", goals=(other, strange))], TODAY)
    assert [one.name for one in found] == ["Z-major"]
