"""What a week asks for: the whole plan, or what days on which nothing was to be played leave of it."""

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from practice.asked import Asked, asked_of, asked_of_week, asked_of_weeks, days_at_rest
from practice.attention import attention, attention_input, nothing_played, quiet_days
from practice.facts import ReturnFacts
from practice.handday import hand_day
from practice.progress import one_day_weeks
from practice.standing import standing
from tests.practice.plain import TODAY, ago, entry, facts, goal, note

WEEK = dt.date(2026, 11, 2)  # the last finished week
THIS = dt.date(2026, 11, 9)
DAY = dt.timedelta(days=1)
WHOLE = Asked(5, 60)


def on(weekday):
    return WEEK + weekday * DAY


def closed(first, last, discomfort=8, **over):
    return note(first, discomfort, closed=True, closed_on=last, **over)


# notes, what the finished week asks of 5 days of 12 minutes
WEEKS = [
    ((), WHOLE),
    ((note(on(2), 6),), WHOLE),  # a pause rests barres and no days
    ((closed(on(2), on(4), 6),), WHOLE),
    ((closed(on(2), on(2)),), Asked(5, 60, "hand")),  # six days are left, as many as are planned and one
    ((closed(on(2), on(3)),), Asked(5, 60, "hand")),
    ((closed(on(2), on(4)),), Asked(4, 48, "hand")),
    ((closed(on(0), on(5)),), Asked(1, 12, "hand")),
    ((closed(on(0), on(6)),), Asked(0, 0, "hand")),
    ((closed(on(-9), on(9)),), Asked(0, 0, "hand")),
    ((closed(on(-9), on(-1)), closed(on(7), on(8))), WHOLE),  # the weeks beside it
    ((closed(on(0), on(1)), closed(on(3), on(5))), Asked(2, 24, "hand")),
    ((closed(on(0), on(4)), closed(on(1), on(2))), Asked(2, 24, "hand")),  # a day counts once
    ((note(on(5), 8),), Asked(5, 60, "hand")),  # open since Saturday
    ((note(on(1), 8),), Asked(1, 12, "hand")),
    ((closed(on(0), on(6), 8, place="fingertip", settles="hour"),), WHOLE),  # skin stops its day alone
    ((closed(on(0), on(6), 0, also=("fell",)),), Asked(0, 0, "hand")),
]


@pytest.mark.parametrize(("notes", "asked"), WEEKS)
def test_what_a_finished_week_asks(notes, asked):
    assert asked_of_week(facts(notes=notes), WEEK, TODAY) == asked
    assert asked_of_week(facts(notes=notes, hand_consent=False), WEEK, TODAY) == WHOLE


def test_nothing_is_only_what_a_plan_would_have_asked():
    assert Asked(0, 0, "hand").nothing
    assert not Asked(1, 12, "hand").nothing
    assert not WHOLE.nothing


# what lies on today; what the running week asks
RUNNING = [
    ({"notes": (note(TODAY, 8),)}, Asked(0, 0, "hand")),
    ({"notes": (note(ago(1), 8),)}, Asked(0, 0, "hand")),
    ({"notes": (closed(ago(1), TODAY),)}, Asked(5, 60, "hand")),
    ({"notes": (closed(ago(3), TODAY),)}, Asked(3, 36, "hand")),
    ({"notes": (note(TODAY, 8, "fingertip", settles="hour"),)}, Asked(0, 0, "hand")),  # its day alone
    ({"notes": (note(ago(1), 8, "fingertip", settles="hour"),)}, WHOLE),
    ({"notes": (note(TODAY, 5),)}, WHOLE),
    ({"notes": (note(TODAY, 1),), "hand_return": ReturnFacts(ago(2), 1, ago(2), 5, 60, 2)}, Asked(0, 0, "hand")),
    ({"notes": (note(TODAY, 0),), "hand_return": ReturnFacts(ago(2), 1, ago(2), 5, 60, 2)}, WHOLE),
]


@pytest.mark.parametrize(("over", "asked"), RUNNING)
def test_what_the_running_week_asks(over, asked):
    assert asked_of_week(facts(**over), THIS, TODAY) == asked


RESTS = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 20), st.booleans()), max_size=4)


@given(RESTS, st.integers(1, 7), st.integers(1, 90), st.integers(0, 9))
def test_a_week_never_asks_for_a_day_at_rest_nor_for_more_than_the_plan(rests, plan_days, plan_minutes, back):
    notes = [
        closed(ago(first), min(ago(first) + length * DAY, TODAY)) if shut else note(ago(first), 8)
        for first, length, shut in rests
    ]
    week = THIS - dt.timedelta(weeks=back)
    given_ = facts(notes=tuple(notes), plan_days=plan_days, plan_minutes=plan_minutes)
    found = asked_of_week(given_, week, TODAY)
    rest = days_at_rest(notes, TODAY)
    free = [week + n * DAY for n in range(7) if week + n * DAY not in rest]
    assert found.days <= min(plan_days, len(free))
    assert found.minutes == found.days * plan_minutes
    assert bool(found.why) or found.days == plan_days
    if found.days < min(plan_days, len(free)):
        assert back == 0
        assert hand_day(given_, TODAY).stop
    assert asked_of_weeks(given_, (week,), TODAY) == {week: found}


def test_any_seven_days_are_a_week():
    rest = {ago(1), ago(2), ago(3)}
    assert asked_of(5, 10, ago(7), rest) == Asked(4, 40, "hand")
    assert asked_of(5, 10, ago(3), rest, TODAY) == Asked(0, 0, "hand")
    assert asked_of(5, 10, ago(10), rest, TODAY) == Asked(5, 50)


# -- such days count against nobody -------------------------------------------------------------------------------


def reasons(**over):
    return [one.said.code for one in attention(attention_input(facts(**over), TODAY))]


LATE = goal(due=ago(3))


def test_days_of_rest_are_not_quiet_days():
    """Twelve days without an entry, five of them for rest: seven; with four of them eight."""
    last = (entry(ago(12)),)
    assert quiet_days(ago(12), TODAY, {ago(n) for n in (12, 11, 3)}) == 10
    assert reasons(entries=last) == ["attention-quiet"]
    assert reasons(entries=last, notes=(closed(ago(8), ago(4), seen=True),)) == []
    found = attention(attention_input(facts(entries=last, notes=(closed(ago(8), ago(5), seen=True),)), TODAY))
    assert [(one.said.code, one.said.values["days"]) for one in found] == [("attention-quiet-rest", 8)]
    # nor for somebody who has not logged at all
    new = {"joined": ago(10)}
    assert reasons(**new) == ["attention-no-entry-yet"]
    assert reasons(**new, notes=(closed(ago(5), ago(3), seen=True),)) == []


def test_while_nothing_is_played_nothing_else_is_asked_after():
    busy = {"goals": (LATE,), "entries": tuple(entry(ago(n), 20) for n in range(9, 13))}
    assert reasons(**busy) == ["attention-quiet", "attention-past-due-one"]
    assert reasons(**busy, notes=(note(ago(8), 8, seen=True),)) == []
    assert reasons(**busy, notes=(note(ago(8), 8),)) == ["attention-hand-sign"]
    over = {"entries": (entry(TODAY, 200),)}
    assert reasons(**over) == ["attention-over-this-week"]
    assert reasons(**over, notes=(note(TODAY, 8, seen=True),)) == []


def test_the_head_of_the_students_page_counts_no_day_of_rest():
    states = {LATE.code: None}
    quiet = facts(goals=(goal(),), entries=(entry(ago(12)),))
    assert standing(quiet, states, TODAY).values == {"days": 12}
    stopped = replace(quiet, notes=(note(ago(2), 8),))
    assert standing(stopped, states, TODAY).code == "standing-rest"


def test_a_week_of_rest_in_part_is_no_week_of_one_day():
    weeks = [THIS - dt.timedelta(weeks=n) for n in range(1, 7)]
    sundays = facts(entries=tuple(entry(week + 6 * DAY, 70) for week in weeks))
    assert one_day_weeks(sundays, TODAY)
    rested = replace(sundays, notes=(closed(weeks[0], weeks[0] + 4 * DAY),))
    assert one_day_weeks(rested, TODAY) is None
    # nor is anybody told to spread minutes while the hand has a word in them
    for over in ({"notes": (note(TODAY, 5),)}, {"notes": (note(TODAY, 8),)},
                 {"hand_return": ReturnFacts(ago(2), 1, ago(2), 5, 60, 2)}):  # fmt: skip
        assert one_day_weeks(replace(sundays, **over), TODAY) is None
    assert one_day_weeks(replace(sundays, notes=(note(TODAY, 1),)), TODAY)


NOTES = st.lists(
    st.builds(
        lambda days, value, place, also, shut: note(
            ago(days), value, place, also=also, closed=shut, closed_on=ago(0) if shut else None
        ),
        st.integers(0, 12),
        st.integers(0, 10),
        st.sampled_from(("wrist", "fingertip", "index")),
        st.sampled_from(((), ("numb",), ("fell",), ("hot",), ("itself",))),
        st.booleans(),
    ),
    max_size=5,
)


@given(NOTES, st.sampled_from((None, 0, 3, 9)))
def test_the_roster_knows_from_the_notes_alone_when_nothing_is_played(notes, begun):
    notes = tuple(sorted(notes, key=lambda one: one.at))
    step = None if begun is None else ReturnFacts(ago(begun), 1, ago(begun), 5, 60, 2)
    since = None if begun is None else ago(begun)
    whole = facts(notes=notes, hand_return=step)
    assert nothing_played(notes, since, TODAY) is hand_day(whole, TODAY).stop
