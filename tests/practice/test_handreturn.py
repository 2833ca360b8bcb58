"""The stepwise return: the published steps, what counts as a day, and that a worse note never moves anybody up."""

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from practice.facts import ReturnFacts
from practice.handday import day_in_words, hand_day, holds_barres
from practice.handreturn import (
    FEWEST_DAYS,
    MOST_DAYS,
    MOVES,
    STEPS,
    days_over,
    in_place_of_plan,
    is_felt,
    under_way,
    verdict,
)
from practice.handrows import ALSO
from practice.suggest import next_chords, word
from practice.words import say
from tests.practice.plain import TODAY, ago, entry, facts, note


def step(level=1, since=4, begun=None, play=5, rest=60, rounds=2, **over):
    return ReturnFacts(ago(since if begun is None else begun), level, ago(since), play, rest, rounds, **over)


def days(*back, minutes=10, felt=0):
    """Entries and notes of these days, each with the hand noted."""
    return [note(ago(one), felt) for one in back], [entry(ago(one), minutes) for one in back]


def test_the_published_levels():
    # British Association for Performing Arts Medicine, return to play (published): level 1 = 5 minutes, 60 of rest, 5;
    # level 2 = 10, 50 of rest, 10; 3 to 7 days a level. Later levels were not read.
    assert {level: (one.play, one.rest, one.rounds) for level, one in STEPS.items()} == {1: (5, 60, 2), 2: (10, 50, 2)}
    assert (FEWEST_DAYS, MOST_DAYS) == (3, 7)
    # from the first turn to the end of the last, an hour and ten minutes on both levels (derived)
    assert {one.play * one.rounds + one.rest * (one.rounds - 1) for one in STEPS.values()} == {70}


# the step, notes and entries, the move, the words, the days that count
CASES = [
    ("nothing yet", step(since=0), days(), "stay", "return-days", 0),
    ("two days", step(), days(3, 2), "stay", "return-days", 2),
    ("three days", step(), days(3, 2, 1), "up", "return-ready", 3),
    ("three days with gaps", step(since=9), days(9, 5, 1), "up", "return-ready", 3),
    ("today is not finished", step(since=2), days(2, 1, 0), "stay", "return-days", 2),
    ("1 on the second", step(), ([note(ago(3), 0), note(ago(2), 1)], days(3, 2, 1)[1]), "back",
     "return-felt-first", 1),
    ("1 on the second level", step(2, begun=9), days(3, 2, 1, felt=1), "back", "return-felt", 0),
    ("numb at 0", step(2, begun=9), ([note(ago(1), 0, "thumb", sensation="numb")], []), "back", "return-felt", 0),
    ("felt this morning", step(), ([*days(3, 2, 1)[0], note(TODAY, 2, hour=9)], days(3, 2, 1)[1]), "back",
     "return-felt-first", 3),
    ("felt before the step", step(since=3), ([note(ago(4), 5), *days(3, 2, 1)[0]], days(3, 2, 1)[1]), "up",
     "return-ready", 3),
    ("felt, and closed by the teacher", step(since=5), ([note(ago(4), 2, closed=True), *days(3, 2, 1)[0]],
     days(4, 3, 2, 1)[1]), "up", "return-ready", 3),
    ("felt tomorrow", step(), ([*days(3, 2, 1)[0], note(ago(-1), 5)], days(3, 2, 1)[1]), "up", "return-ready", 3),
    ("played, the hand not noted", step(), ([], days(3, 2, 1)[1]), "stay", "return-days", 0),
    ("noted, not played", step(), (days(3, 2, 1)[0], []), "stay", "return-days", 0),
    ("twice the step", step(), days(3, 2, 1, minutes=20), "stay", "return-days", 0),
    ("a minute's grace a turn", step(), days(3, 2, 1, minutes=12), "up", "return-ready", 3),
    ("over it in two sessions", step(), (days(3, 2, 1)[0], [*days(3, 2, 1)[1], entry(ago(2), 5, code="x")]), "stay",
     "return-days", 2),
    ("the day of a later step", step(2, since=3, begun=8), days(3, 2, 1), "stay", "return-days", 2),
    ("a week without three", step(since=7), days(3, 2), "stay", "return-long", 2),
    ("sore fingertips", step(), ([*days(3, 2, 1)[0], note(ago(2), 5, "fingertip", sensation="sore", settles="day")],
     days(3, 2, 1)[1]), "up", "return-ready", 3),
    ("very sore fingertips", step(), ([*days(3, 2, 1)[0], note(ago(2), 7, "fingertip", sensation="sore",
     settles="day")], days(3, 2, 1)[1]), "back", "return-felt-first", 2),
    ("a finger by itself at 0", step(), ([note(ago(1), 0, also=("itself",))], []), "back", "return-felt-first", 0),
    ("a fall at 0", step(2, begun=9), ([note(ago(1), 0, also=("fell",))], []), "back", "return-felt", 0),
    ("own numbers", step(3, begun=9, play=15, rest=30, rounds=3), days(3, 2, 1, minutes=45), "up", "return-ready", 3),
]  # fmt: skip


@pytest.mark.parametrize(("on", "done", "move", "code", "count"), [case[1:] for case in CASES],
                         ids=[case[0] for case in CASES])  # fmt: skip
def test_what_the_days_allow(on, done, move, code, count):
    found = verdict(on, *done, TODAY)
    assert (found.move, found.reason.code, found.days) == (move, code, count)
    assert found.felt is (move == "back")


@st.composite
def drawn(draw):
    since = draw(st.integers(0, 9))
    on = step(draw(st.integers(1, 4)), since=since, begun=since + draw(st.integers(0, 9)))
    notes = [
        note(
            ago(back), draw(st.sampled_from([0, 0, 0, 1, 5])), draw(st.sampled_from(["wrist", "fingertip", "index"])),
            hour, hand="fretting", sensation=draw(st.sampled_from(["", "sore", "ache", "numb", "weak"])),
            settles=draw(st.sampled_from(["", "hour", "day", "next-day", "rest"])), closed=draw(st.booleans()),
            at_rest=draw(st.sampled_from([None, False, True])), tip_only=draw(st.sampled_from([None, False, True])),
        )
        for back in range(draw(st.integers(0, 9)), -1, -1) for hour in range(9, 9 + draw(st.integers(0, 2)))
    ]  # fmt: skip
    return on, notes, [entry(ago(back), draw(st.sampled_from([5, 10, 12, 30]))) for back in range(9, -1, -1)]


def rank(found):
    return MOVES.index(found.move)


@given(drawn(), st.data())
def test_a_worse_note_never_moves_up(given_, data):
    on, notes, entries = given_
    if not notes:
        return
    which = data.draw(st.integers(0, len(notes) - 1))
    one = notes[which]
    worse = data.draw(st.sampled_from([
        {"discomfort": data.draw(st.integers(one.discomfort, 10))}, {"at_rest": True}, {"daily": True},
        {"sudden": True}, {"tip_only": False}, {"settles": "rest"}, {"face_arm_leg": True},
        {"also": (data.draw(st.sampled_from(ALSO)),)},
        {"sensation": one.sensation if one.sensation == "numb" else "weak"},
    ]))  # fmt: skip
    after = [*notes[:which], replace(one, **worse), *notes[which + 1 :]]
    assert rank(verdict(on, after, entries, TODAY)) <= rank(verdict(on, notes, entries, TODAY))


@given(drawn(), st.integers(0, 10), st.integers(0, 9))
def test_nor_does_one_more_note_of_something_felt(given_, discomfort, back):
    on, notes, entries = given_
    before = rank(verdict(on, notes, entries, TODAY))
    more = note(ago(back), max(1, discomfort), hour=20)
    assert rank(verdict(on, [*notes, more], entries, TODAY)) <= before


@given(drawn())
def test_up_needs_three_days_on_which_nothing_was_felt(given_):
    on, notes, entries = given_
    found = verdict(on, notes, entries, TODAY)
    if found.move == "up":
        here = [one for one in notes if on.level_since <= one.day <= TODAY]
        assert not any(is_felt(one) and not one.closed for one in here)
        assert len({one.day for one in here if one.day < TODAY}) >= 3


def shown(day):
    return day.plan, day.most, day.no_barre, day.gently, day.stop


def test_the_step_stands_in_place_of_the_plan():
    on = step(2, begun=9, play=10, rest=50, rounds=2)
    found = hand_day(facts(plan_minutes=40, daily_most=60, hand_return=on), TODAY)
    assert shown(found) == (20, 20, True, False, False)
    assert found.most_of(60) == 20
    assert not hand_day(facts(hand_return=replace(on, barre=True)), TODAY).no_barre


def test_what_is_felt_stops_the_day_at_once():
    on = step(2, since=2, begun=9)
    found = hand_day(facts(hand_return=on, notes=(note(TODAY, 1),)), TODAY)
    assert shown(found) == (0, 0, True, False, True)
    assert found.verdict.reason.code == "return-felt"
    # something older that still asks for a person stops it, too; below the first step there is no smaller one
    old = hand_day(facts(hand_return=on, notes=(note(ago(5), 6),)), TODAY)
    assert old.stop
    assert old.verdict.reason.code == "return-felt"
    first = hand_day(facts(hand_return=step(since=2), notes=(note(ago(5), 6),)), TODAY)
    assert first.verdict.reason.code == "return-felt-first"


def test_no_step_is_proposed_while_a_clinicians_word_is_missing():
    for notes in ((note(TODAY, 8),), (note(ago(5), 8),), (note(TODAY, 0, also=("fell",)),)):
        found = hand_day(facts(hand_return=step(2, since=2, begun=9), notes=notes), TODAY)
        assert (found.stop, found.verdict.felt, found.verdict.reason.code) == (True, True, "return-waits")
    # skin stops its day alone
    tip = note(TODAY, 8, "fingertip", sensation="sore")
    assert hand_day(facts(hand_return=step(), notes=(tip,)), TODAY).verdict.reason.code == "return-felt-first"


def test_without_a_return_and_without_consent():
    hurt = (note(TODAY, 5),)
    found = hand_day(facts(notes=hurt, plan_minutes=20, daily_most=40), TODAY)
    assert shown(found) == (10, 20, True, True, False)
    assert (found.most_of(30), found.asks_person, found.answers) == (15, True, True)
    plain = hand_day(
        facts(hand_consent=False, hand_return=step(), notes=hurt, plan_minutes=20, daily_most=40), TODAY
    )
    assert (*shown(plain), plain.step, plain.answers) == (20, 40, False, False, False, None, False)
    stopped = hand_day(facts(notes=(note(ago(9), 7),), plan_minutes=20, daily_most=40), TODAY)
    assert shown(stopped) == (0, 0, True, False, True)
    assert stopped.most_of(30) == 0


def test_what_rests_is_what_lies_flat_and_on_a_stopped_day_everything():
    gently, well = hand_day(facts(notes=(note(TODAY, 5),)), TODAY), hand_day(facts(notes=(note(TODAY, 3),)), TODAY)
    stopped = hand_day(facts(notes=(note(TODAY, 8),)), TODAY)
    assert [(day.rests(True), day.rests(False)) for day in (well, gently, stopped)] == [
        (False, False), (True, False), (True, True),
    ]  # fmt: skip


def test_when_a_barre_needs_a_reason():
    assert holds_barres(facts(hand_consent=True, notes=(note(TODAY, 5),)), TODAY)
    assert holds_barres(facts(hand_consent=True, hand_return=step()), TODAY)
    assert not holds_barres(facts(hand_consent=True, hand_return=step(3, begun=9, barre=True)), TODAY)
    assert not holds_barres(facts(hand_consent=False, hand_return=step(), notes=(note(TODAY, 5),)), TODAY)
    assert not holds_barres(facts(hand_consent=True, notes=(note(TODAY, 3),)), TODAY)


def test_a_step_longer_ago_than_its_days():
    assert verdict(step(since=30), [], [], TODAY).reason.code == "return-long"
    assert verdict(step(since=6), [], [], TODAY).reason.code == "return-days"
    assert dt.timedelta(days=MOST_DAYS) == TODAY - ago(7)


def test_on_a_step_without_barres_nothing_but_roots_is_suggested():
    on = facts(hand_consent=True, hand_return=step(), goals=())
    assert word(on, TODAY).code == "suggest-pause"
    assert all(one.goal.kind == "roots" for one in next_chords(on, TODAY))
    free = replace(on, hand_return=step(3, begun=9, barre=True))
    assert word(free, TODAY) is None or word(free, TODAY).code != "suggest-pause"
    assert any(one.goal.kind == "chord" for one in next_chords(free, TODAY))


def test_what_stands_in_place_of_the_plan():
    one = step(since=4, begun=9)
    assert [say(told) for told in in_place_of_plan(one, TODAY)] == [
        "on step 1 of the return", "at most 10 a day since 8 November",
    ]  # fmt: skip
    # looked back at from before the present step: its minutes are not taken for the earlier one's
    assert [say(told) for told in in_place_of_plan(one, ago(6))] == [
        "on the return begun on 3 November", "as the step allowed",
    ]  # fmt: skip
    returning = facts(hand_return=one)
    assert under_way(returning, ago(9)) == one
    assert under_way(returning, ago(10)) is None
    assert under_way(replace(returning, hand_consent=False), TODAY) is None


def test_days_over_the_step_have_a_minutes_grace_a_turn():
    _, entries = days(6, 3, 2, 1, minutes=12)
    assert days_over(step(since=4, begun=9), entries, ago(9), TODAY) == 0
    _, entries = days(6, 3, 2, 1, minutes=12.1)
    assert days_over(step(since=4, begun=9), entries, ago(9), TODAY) == 3  # the first lies before the step
    assert days_over(step(since=4, begun=9), entries, ago(9), ago(2)) == 2


def test_the_day_in_words_for_a_family():
    def told(one, *notes):
        return " ".join(map(say, day_in_words(hand_day(facts(hand_return=one, notes=notes), TODAY), "Wren")))

    assert told(step()) == (
        "Wren is coming back to playing step by step. Step 1: 2 times 5 minutes a day, and no more. Between them the"
        " hand rests for 60 minutes. No barre chords (one finger over several strings) yet."
    )
    once = step(level=3, play=20, rest=30, rounds=1, barre=True)
    assert told(once) == "Wren is coming back to playing step by step. Step 3: once 20 minutes a day, and no more."
    assert told(step(level=2), note(TODAY, 2)).startswith("Something was felt on this step. Stop for today;")
    assert told(step(level=2), note(TODAY, 7)) == (
        "Stop for today. The way back waits until a doctor or hand therapist has had a look."
    )
    assert day_in_words(hand_day(facts(), TODAY), "Wren") == day_in_words(None, "Wren") == ()
