"""What a performance asks of the weeks before it: due days, the last week, usual minutes, words that slow down."""

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from practice import stage, suggest, summary
from practice.example import SEED, draw
from practice.facts import PerformanceFacts, ReturnFacts
from practice.progress import DEVELOPING, REVIEW_DUE, SECURE, review_day, review_gap, state
from practice.words import say
from tests.practice.plain import TODAY, ago, entry, facts, goal, mark, note


def show(days: int, *goals: str, code: str = "show", title: str = "Winter concert") -> PerformanceFacts:
    """A performance so many days after TODAY."""
    return PerformanceFacts(code, title, TODAY + dt.timedelta(days=days), ("One", "Two"), goals)


def practised(*minutes: float, last: int = 1):
    """Entries on successive days, the last `last` days ago; 0 for a day without."""
    days = range(last + len(minutes) - 1, last - 1, -1)
    return tuple(entry(ago(n), one) for n, one in zip(days, minutes, strict=True) if one)


# -- which performance, and when ----------------------------------------------------------------------------------


# days to the performance -> whether its last week runs: common practice, no source
@pytest.mark.parametrize(("days", "runs"), [(-1, False), (0, True), (1, True), (6, True), (7, False), (30, False)])
def test_the_last_week_is_the_seven_days_that_end_with_the_performance(days, runs):
    found = stage.final_week(facts(performances=(show(days),)), TODAY)
    assert (found is not None) == runs


def test_its_goals_are_due_seven_days_before_on_the_day_before_the_last_week():
    one = show(20)
    due = stage.due_day(one)
    assert one.day - due == dt.timedelta(days=7)
    student = facts(performances=(one,))
    assert stage.final_week(student, due) is None
    assert stage.final_week(student, due + dt.timedelta(days=1)) == one


def test_of_several_the_first_one_speaks_whatever_their_order():
    soon, later, past = show(3, code="a", title="Soon"), show(5, code="b", title="Later"), show(-3, code="c")
    student = facts(performances=(later, past, soon))
    assert stage.ahead(student, TODAY) == (soon, later)
    assert stage.final_week(student, TODAY) == soon
    assert [say(one) for one in stage.for_student(student, TODAY)][:2] == [
        "Soon on 15 November, in 3 days.",
        "Later on 17 November, in 5 days.",
    ]
    same_day = facts(performances=(show(2, code="a"), show(2, code="b", title="Exam")))
    assert len(stage.near(same_day, TODAY)) == 2


def test_nothing_is_said_without_one_within_four_weeks():
    for student in (facts(), facts(performances=(show(-1), show(29)))):
        assert stage.for_student(student, TODAY) == ()
        assert stage.for_teacher(student, TODAY) is None
        assert stage.slow_down(student, TODAY) is None
        assert stage.most_minutes(student, TODAY) == student.daily_most


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (17, "Winter concert on 29 November, in 17 days."),
        (2, "Winter concert on 14 November, in 2 days."),
        (1, "Winter concert tomorrow, 13 November."),
        (0, "Winter concert today, 12 November."),
        (-2, "Winter concert was on 10 November."),
    ],
)
def test_how_near_it_is(days, words):
    assert say(stage.nearness(show(days), TODAY)) == words


# -- due days -----------------------------------------------------------------------------------------------------


def test_due_days_count_back_and_nothing_is_moved_that_need_not():
    day = TODAY + dt.timedelta(days=13)
    early = goal(code="early", due=TODAY + dt.timedelta(days=2))
    right = goal(code="right", due=day)
    secure = goal(code="secure", marks=(mark(ago(5), 6), mark(ago(3), 6, check=True)))
    aside = goal(code="aside", set_aside=True)
    other = goal(code="other")
    student = facts(goals=(early, right, secure, aside, other))
    states = {one.code: state(one, TODAY) for one in student.goals}
    found = stage.due_days(show(20, "early", "right", "secure", "aside"), student, states, TODAY)
    assert found.day == day
    assert [(move.goal.code, move.before, move.after) for move in found.moves] == [("early", early.due, day)]
    assert (found.right, found.secure, found.aside, found.late) == ((right,), (secure,), (aside,), False)


def test_a_performance_that_moves_offers_its_due_days_again():
    one = goal(due=TODAY + dt.timedelta(days=13))
    student, states = facts(goals=(one,)), {one.code: state(one, TODAY)}
    assert stage.due_days(show(20, one.code), student, states, TODAY).moves == ()
    moved = stage.due_days(show(27, one.code), student, states, TODAY).moves
    assert [(move.before, move.after) for move in moved] == [(one.due, one.due + dt.timedelta(days=7))]


@pytest.mark.parametrize(("days", "offers"), [(8, 1), (7, 1), (6, 0), (0, 0), (-30, 0)])
def test_no_due_day_in_the_past_is_offered(days, offers):
    one = goal(due=TODAY + dt.timedelta(days=99))
    found = stage.due_days(show(days, one.code), facts(goals=(one,)), {one.code: state(one, TODAY)}, TODAY)
    assert (len(found.moves), found.late) == (offers, not offers)


# -- minutes ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("minutes", "usual"),
    [
        ((), 12),  # nothing practised: the plan, 12 minutes
        ((25, 25), 12),  # two days say nothing of what is usual
        ((20, 0, 25, 0, 18), 20),  # the median of the days practised
        ((5, 6, 5), 12),  # never below the plan
        ((60, 70, 80), 30),  # never above the daily most
    ],
)
def test_usual_minutes(minutes, usual):
    assert stage.usual_minutes(facts(entries=practised(*minutes)), TODAY) == usual


def test_what_the_last_week_brings_does_not_raise_what_is_usual():
    before = practised(20, 20, 20, 20, last=8)
    student = facts(entries=before, performances=(show(3),))
    more = replace(student, entries=(*before, *practised(29, 29, 29, last=0)))
    assert stage.most_minutes(more, TODAY) == stage.most_minutes(student, TODAY) == 20
    assert stage.most_minutes(replace(student, performances=()), TODAY) == 30


@given(
    minutes=st.lists(st.integers(0, 200), max_size=40),
    days=st.integers(-10, 40),
    plan=st.integers(5, 60),
    room=st.integers(0, 60),
)
def test_the_last_week_never_asks_for_more_and_never_for_less_than_the_plan(minutes, days, plan, room):
    student = facts(
        entries=practised(*minutes, last=0), plan_minutes=plan, daily_most=plan + room, performances=(show(days),)
    )
    assert plan <= stage.most_minutes(student, TODAY) <= student.daily_most


# -- slowed down in words -----------------------------------------------------------------------------------------

# TODAY is a Thursday: last week ended on Sunday, four days ago. The plan is 60 minutes a week, the daily most 30.
LAST_WEEK, THIS_WEEK = practised(31, 31, 31, last=5), practised(46, 46, last=1)


def test_whoever_practises_too_much_before_it_is_slowed_down():
    over = facts(entries=LAST_WEEK, performances=(show(10),))
    assert say(stage.slow_down(over, TODAY)) == (
        "Slow down before Winter concert on 22 November: 93 minutes last week, 60 planned."
    )
    assert "More minutes now do not make it safer" in say(stage.for_student(over, TODAY)[-1])
    now = facts(entries=THIS_WEEK, performances=(show(10),))
    assert "92 minutes so far this week" in say(stage.slow_down(now, TODAY))
    # exactly 150 % is not over it
    assert stage.slow_down(facts(entries=practised(30, 30, 30, last=5), performances=(show(10),)), TODAY) is None
    # far ahead, or behind, nothing is said of it
    assert stage.slow_down(replace(over, performances=(show(29),)), TODAY) is None
    assert stage.slow_down(replace(over, performances=(show(-1),)), TODAY) is None


def test_two_days_over_the_daily_most_are_enough():
    student = facts(plan_days=7, plan_minutes=30, entries=practised(31, 0, 40), performances=(show(10),))
    assert say(stage.slow_down(student, TODAY)) == (
        "Slow down before Winter concert on 22 November: over the daily most of 30 minutes on 2 of the last seven days."
    )
    assert stage.slow_down(replace(student, entries=practised(31, 0, 30)), TODAY) is None


def test_the_last_week_says_run_throughs_and_how_long():
    student = facts(entries=practised(20, 20, 20, last=8), performances=(show(4),))
    assert "play the pieces through from beginning to end" in say(stage.for_student(student, TODAY)[1])
    assert "At most 20 minutes a day" in say(stage.for_student(student, TODAY)[1])
    assert "run-throughs only, at most 20 minutes" in say(stage.for_teacher(student, TODAY))
    on_the_day = replace(student, performances=(show(0),))
    assert "once, slowly" in say(stage.for_student(on_the_day, TODAY)[1])
    assert "run-throughs" not in say(stage.for_teacher(replace(student, performances=(show(9),)), TODAY))


def test_in_the_last_week_all_but_what_is_played_waits():
    own, piece, other = goal(code="own"), goal(code="piece", kind="piece"), goal(code="other")
    student = facts(goals=(own, piece, other), performances=(show(4, "own"),))
    assert stage.played_through(student, TODAY) == {"own"}
    assert stage.played_through(replace(student, performances=(show(4),)), TODAY) == {"piece"}
    assert stage.played_through(replace(student, performances=(show(9, "own"),)), TODAY) == frozenset()
    # two in one week: what either needs is played
    second = replace(show(5, "other", code="b", title="Exam"), pieces=("Two", "Three"))
    both = replace(student, performances=(show(4, "own"), second))
    assert stage.played_through(both, TODAY) == {"own", "other"}
    assert say(stage.for_student(both, TODAY)[3]) == "To play through: One; Two; Three."
    aside = replace(student, goals=(replace(own, set_aside=True), other))
    # with neither its own goals nor a piece nothing waits for nothing
    assert stage.played_through(aside, TODAY) == frozenset()
    assert say(stage.for_student(student, TODAY)[2]) == "To play through: One; Two."


def test_nothing_new_is_suggested_in_the_last_week():
    known = goal(marks=(mark(ago(9), 6), mark(ago(8), 6, check=True)))
    student = facts(goals=(known,), entries=practised(15, 15))
    assert suggest.next_chords(student, TODAY)
    near = replace(student, performances=(show(6),))
    assert suggest.next_chords(near, TODAY) == []
    assert "Nothing new in the last week before Winter concert" in say(suggest.word(near, TODAY))
    assert suggest.next_chords(replace(student, performances=(show(7),)), TODAY)


def test_the_family_is_told_to_listen_and_to_help_stop_in_time():
    week = TODAY - dt.timedelta(days=3)
    calm = facts(goals=(goal(),), entries=practised(12, 12), performances=(show(4),))
    assert "Be the audience" in say(summary.compose(calm, week, TODAY).help)
    over = replace(calm, entries=THIS_WEEK)
    told = say(summary.compose(over, week, TODAY).help)
    assert "Winter concert is on 16 November. Help Wren to stop in time" in told
    # 46 minutes on the only two days: too few to be usual, so that the plan holds
    assert "at most 12 minutes a day" in told
    # the week before is looked back at as it was then: nine days ahead, no last week yet
    assert "Be the audience" not in say(summary.compose(calm, week - dt.timedelta(days=7), TODAY).help)


def test_the_hand_comes_first():
    over = facts(entries=THIS_WEEK, performances=(show(3),))
    said = [say(one) for one in stage.for_student(over, TODAY, most=6, hand_first=True)]
    assert said[0].startswith("Winter concert on 15 November")
    assert len(said) == 2
    assert "The hand comes first" in said[1]
    assert "play the pieces through" not in " ".join(said)
    far = facts(performances=(show(20),))
    assert len(stage.for_student(far, TODAY, hand_first=True)) == 1
    # where the hand halves the minutes, no sentence names more
    assert "At most 6 minutes" in say(stage.for_student(over, TODAY, most=6)[1])


@pytest.mark.parametrize("day", [dt.date(2026, 11, 24), dt.date(2026, 1, 1), dt.date(2028, 2, 29)])
def test_the_example_studios_over_practiser_is_slowed_down_before_the_recital(day):
    example = draw(SEED, day)
    student = example.facts(example.stories["over-practiser"].student)
    assert "Slow down before Winter recital" in say(stage.slow_down(student, day))
    # goals are due seven days before already, as the teacher set them
    states = {one.code: state(one, day) for one in student.goals}
    found = stage.due_days(student.performances[0], student, states, day)
    assert found.moves == ()
    others = [example.facts(one.name) for one in example.students if one.name != student.name]
    assert [other.name for other in others if stage.slow_down(other, day)] == []
    assert [other.name for other in others if stage.final_week(other, day)] == ["Hamish Deverell"]


# -- how long a goal must last --------------------------------------------------------------------------------------


def secure_goal(last: int, **over):
    """Met `last` days ago in a check, and the day before."""
    return goal(marks=(mark(ago(last + 1), 6), mark(ago(last), 6, check=True)), set_on=ago(200), **over)


def test_a_goal_of_a_performance_is_reviewed_at_equal_gaps_until_its_day():
    # put down 30 days ago for a day 26 days ahead: 56 days, in gaps of 8
    kept = secure_goal(3, kept_for=((ago(30), TODAY + dt.timedelta(days=26)),))
    assert review_gap(56) == 8
    stands = state(kept, TODAY)
    assert (stands.code, stands.review_on) == (SECURE, ago(3) + dt.timedelta(days=8))
    assert "until the performance on 8 December" in say(stands.reason)
    assert "not motor skill" in say(stands.reason)
    # a later review has the same gap, though the performance has come nearer
    later = replace(kept, marks=(*kept.marks, mark(ago(-5), 6)))
    assert state(later, ago(-5)).review_on == ago(-5) + dt.timedelta(days=8)
    assert state(replace(kept, kept_for=()), TODAY).review_on == ago(3) + dt.timedelta(days=28)


def test_what_was_secure_long_before_it_was_put_down_counts_from_then():
    kept = secure_goal(20, kept_for=((TODAY, TODAY + dt.timedelta(days=14)),))
    assert state(kept, TODAY).review_on == TODAY + dt.timedelta(days=review_gap(14))


def test_no_review_falls_due_after_it_and_the_usual_gap_stands_again():
    kept = secure_goal(2, kept_for=((ago(60), TODAY + dt.timedelta(days=1)),))
    assert state(kept, TODAY).review_on == ago(2) + dt.timedelta(days=28)


def test_a_slip_stays_a_slip_when_a_performance_is_put_down_or_over():
    marks = (mark(ago(21), 6), mark(ago(20), 6, check=True), mark(ago(5), 3))
    calm = goal(marks=marks, set_on=ago(200))
    assert state(calm, TODAY).code == SECURE  # a miss of one's own before review is due
    # put down today: it cannot make a slip of an earlier miss
    assert state(replace(calm, kept_for=((TODAY, TODAY + dt.timedelta(days=30)),)), TODAY).code == SECURE
    # put down before: review was due on day 12, so that the miss returned it, and still does when all is over
    over = replace(calm, kept_for=((ago(30), TODAY - dt.timedelta(days=1)),))
    assert state(over, ago(2)).code == state(over, TODAY).code == DEVELOPING


def test_review_due_names_the_performance():
    kept = secure_goal(12, kept_for=((ago(30), TODAY + dt.timedelta(days=12)),))
    stands = state(kept, TODAY)
    assert stands.code == REVIEW_DUE
    assert "until the performance on 24 November" in say(stands.reason)


@given(last=st.integers(0, 60), put_down=st.integers(-10, 90), days=st.integers(-20, 500))
def test_a_performance_only_ever_brings_a_review_forward(last, put_down, days):
    kept = secure_goal(last, kept_for=((ago(put_down), TODAY + dt.timedelta(days=days)),))
    usual, _ = review_day(replace(kept, kept_for=()), ago(last), TODAY)
    due, until = review_day(kept, ago(last), TODAY)
    assert ago(last) < due <= usual
    assert (until is None) == (due == usual)
    if until is not None:
        assert due <= until


# -- the hand comes first -----------------------------------------------------------------------------------------

BUSY = tuple(entry(ago(n), 60) for n in (4, 5, 6))
STEP = ReturnFacts(ago(2), 1, ago(2), 5, 60, 2)

# what the hand says; run-throughs and their minutes, whether the words that slow down stay
HANDS = [
    ({}, "at most 30 minutes a day", True),
    ({"notes": (note(TODAY, 1), note(ago(1), 1))}, "at most 30 minutes a day", True),  # eases off
    ({"notes": (note(TODAY, 5),)}, "", True),
    ({"notes": (note(TODAY, 8),)}, "", False),
    ({"hand_return": STEP}, "at most 10 minutes a day", True),
    ({"hand_return": STEP, "notes": (note(TODAY, 1),)}, "", False),
    ({"notes": (note(TODAY, 8),), "hand_consent": False}, "at most 30 minutes a day", True),
]


@pytest.mark.parametrize(("over", "minutes", "slow"), HANDS)
def test_a_teacher_reads_of_run_throughs_what_the_hand_allows(over, minutes, slow):
    student = facts(performances=(show(3),), entries=BUSY, **over)
    told = say(stage.for_teacher(student, TODAY))
    assert told.startswith("Winter concert on 15 November, in 3 days.")
    assert ("run-throughs" in told) is bool(minutes)
    assert minutes in told
    assert (stage.slow_down(student, TODAY) is not None) is slow
