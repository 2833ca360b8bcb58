"""The edges of "stuck" and "slipped back": the day on which each begins and ends to be said."""

from dataclasses import replace

from practice.plateau import latest_slip, slip, stuck
from tests.practice.plain import TODAY, ago, facts, goal, mark


def tempo(*steps, **over):
    """A tempo goal with tries (days ago, value)."""
    marks = tuple(mark(ago(days), value, measure="tempo") for days, value in steps)
    return goal("tempo", 120, kind="change", start_value=60, marks=marks, set_on=ago(200), **over)


def standing(newest, first, count, value=80):
    """`count` tries at one tempo, evenly from `first` to `newest` days ago."""
    step = (first - newest) / (count - 1)
    return tempo(*((round(first - n * step), value) for n in range(count)))


def test_a_standstill_is_spoken_of_for_three_weeks_after_its_last_try():
    assert stuck(standing(21, 56, 8), TODAY)
    assert not stuck(standing(22, 57, 8), TODAY)


def test_a_slip_is_spoken_of_for_three_weeks_after_its_last_try():
    fallen = [(60, 100), (58, 100), (56, 100), (25, 60), (23, 60)]
    assert slip(tempo(*fallen, (21, 60)), TODAY)
    assert not slip(tempo(*fallen, (22, 60)), TODAY)


def test_five_tries_are_enough_and_four_are_not():
    assert stuck(standing(0, 34, 5), TODAY)
    assert not stuck(standing(0, 34, 4), TODAY)


def test_a_window_of_five_weeks_may_begin_one_week_late():
    # the age of a try is counted from the end of the newest one's day: 28 days before it is 4 weeks and half a day
    assert stuck(standing(0, 28, 6), TODAY)
    assert not stuck(standing(0, 27, 6), TODAY)


def test_minutes_count_from_the_very_day_of_the_first_try():
    still = standing(0, 34, 6)
    practised = replace(still, practised=((ago(35), 600), (ago(34), 300), (ago(3), 300)))
    assert stuck(practised, TODAY).minutes == 10


def test_three_low_tries_slip_and_two_do_not():
    good = [(60, 100), (58, 100), (56, 100)]
    assert slip(tempo(*good, (6, 60), (4, 60), (2, 60)), TODAY)
    assert not slip(tempo(*good, (54, 100), (4, 60), (2, 60)), TODAY)


def test_a_slip_is_a_fall_by_more_than_fifteen_of_a_hundred_of_the_way():
    # the way is 60, from 60 to 120: nine beats are its fifteen hundredths
    good = [(60, 100), (58, 100), (56, 100)]
    assert not slip(tempo(*good, *((days, 91) for days in (6, 4, 2))), TODAY)
    assert slip(tempo(*good, *((days, 90) for days in (6, 4, 2))), TODAY)


def test_of_two_that_slipped_the_one_with_the_more_recent_good_days_is_told():
    early = replace(tempo((90, 100), (88, 100), (86, 100), (6, 60), (4, 60), (2, 60)), code="early")
    late = replace(tempo((60, 100), (58, 100), (56, 100), (6, 60), (4, 60), (2, 60)), code="late")
    assert latest_slip(facts(goals=(late, early)), TODAY).goal.code == "late"
