"""The rules of a session's span, as tables of cases and properties."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from practice.record import LONGEST, Fault, faults, overlap_seconds, overlapping, place_in_day

NOW = dt.datetime(2026, 11, 12, 18, 0, tzinfo=dt.UTC)
ZONE = "Europe/London"


def at(hour, minute=0, day=12):
    return dt.datetime(2026, 11, day, hour, minute, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("begun", "minutes", "expected"),
    [
        # begun          min  what is wrong
        (at(17, 30), 30, []),
        (at(17, 31), 30, []),  # a clock up to two minutes ahead
        (at(17, 40), 30, [Fault.FUTURE]),
        (at(9), 480, []),
        (at(9), 481, [Fault.TOO_LONG]),
        (NOW - dt.timedelta(days=367), 30, [Fault.TOO_OLD]),
        (NOW + dt.timedelta(days=4000), 30, [Fault.FUTURE]),
    ],
)
def test_a_span_alone(begun, minutes, expected):
    assert faults(begun, minutes * 60, NOW, []) == expected


@pytest.mark.parametrize(
    ("begun", "minutes", "clashes"),
    [
        # another session lies from 16:00 to 16:30
        (at(16, 30), 30, False),
        (at(16, 15), 30, False),  # half of each: not more than half
        (at(16, 14), 30, True),
        (at(15), 120, True),  # swallows the other whole
        (at(16, 10), 10, True),  # lies within it
        (at(15, 30), 30, False),
    ],
)
def test_overlap_by_more_than_the_half_of_the_shorter(begun, minutes, clashes):
    other = (at(16), at(16, 30))
    assert (faults(begun, minutes * 60, NOW, [other]) == [Fault.OVERLAP]) is clashes


spans = st.builds(
    lambda begin, length: (at(0) + dt.timedelta(minutes=begin), at(0) + dt.timedelta(minutes=begin + length)),
    st.integers(0, 1400),
    st.integers(1, 480),
)


@given(spans, spans)
def test_overlap_is_symmetric_and_bounded(one, other):
    shared = overlap_seconds(one, other)
    assert shared == overlap_seconds(other, one)
    assert 0 <= shared <= min(one[1] - one[0], other[1] - other[0]).total_seconds()
    assert bool(overlapping(one, [other])) == bool(overlapping(other, [one]))


@given(
    st.lists(spans, max_size=4), st.integers(60, 3600), st.dates(dt.date(2026, 1, 1), dt.date(2026, 11, 11))
)
def test_a_session_without_a_time_stays_in_its_day(others, seconds, day):
    shift = day - NOW.date()
    moved = [(begin + shift, end + shift) for begin, end in others]
    begun = place_in_day(day, seconds, NOW, ZONE, moved)
    from students.calendar import local_day

    assert local_day(begun, ZONE) == day


def test_two_sessions_told_of_today_without_a_time_do_not_clash():
    first = place_in_day(NOW.date(), 1200, NOW, ZONE, [])
    assert first == NOW - dt.timedelta(minutes=20)
    second = place_in_day(NOW.date(), 1200, NOW, ZONE, [(first, NOW)])
    assert faults(second, 1200, NOW, [(first, NOW)]) == []
    assert second == first - dt.timedelta(minutes=20)


def test_the_longest_session_is_eight_hours():
    assert LONGEST == 8 * 3600
