"""The attention table: every rule with its border, in order, and the same answer from rows and from plain
values.
"""

import datetime as dt
from dataclasses import replace

import pytest

from practice.attention import (
    AttentionInput,
    about_hand,
    attention,
    attention_input,
    first_told,
    hand_asks,
    hand_unseen,
    still_open,
)
from tests.practice.plain import TODAY, ago, entry, facts, goal, mark, note

WELL = AttentionInput(
    today=TODAY, joined=ago(100), last_entry=ago(1), plan_week=100, minutes_this_week=90, minutes_last_week=100
)

# what differs from a student with whom all is well; codes of the reasons' sentences
CASES = [
    ({}, []),
    ({"hand_unseen": 3}, []),
    ({"hand_unseen": 4}, ["attention-hand"]),
    ({"hand_unseen": 2, "hand_signs": ("numb",)}, ["attention-hand-sign"]),
    ({"hand_unseen": 9, "hand_signs": ("numb",)}, ["attention-hand-sign"]),
    ({"hand_unseen": 2, "hand_asks": True}, ["attention-hand-asks"]),
    ({"hand_unseen": 5, "hand_asks": True}, ["attention-hand"]),
    # seen, and not dealt with yet
    ({"hand_open": True}, ["attention-hand-open"]),
    ({"hand_open": True, "hand_asks": True}, ["attention-hand-asks"]),
    ({"hand_open": True, "hand_unseen": 3}, ["attention-hand-open"]),
    ({"tell": "word"}, ["attention-tell-word"]),
    ({"tell": "back"}, ["attention-tell-back"]),
    ({"tell": "consent", "hand_open": True}, ["attention-hand-open", "attention-tell-consent"]),
    ({"last_entry": ago(7)}, []),
    ({"last_entry": ago(8)}, ["attention-quiet"]),
    ({"last_entry": None}, ["attention-no-entry-yet"]),
    ({"last_entry": None, "joined": ago(7)}, []),
    ({"last_entry": None, "joined": ago(8)}, ["attention-no-entry-yet"]),
    ({"past_due": 1, "due_since": ago(1), "due_title": "Bm"}, ["attention-past-due-one"]),
    ({"past_due": 2, "due_since": ago(9), "due_title": "Bm"}, ["attention-past-due"]),
    ({"past_due": 2}, ["attention-past-due-count"]),
    ({"minutes_this_week": 150}, []),
    ({"minutes_this_week": 151}, ["attention-over-this-week"]),
    ({"minutes_last_week": 151}, ["attention-over-last-week"]),
    ({"minutes_this_week": 200, "minutes_last_week": 200}, ["attention-over-this-week"]),
    ({"plan_week": 0, "minutes_this_week": 200}, []),
    (
        {"hand_unseen": 5, "tell": "word", "last_entry": ago(9), "past_due": 1, "minutes_last_week": 400},
        ["attention-hand", "attention-tell-word", "attention-quiet", "attention-past-due-count",
         "attention-over-last-week"],
    ),
    (
        {"status": "paused", "hand_unseen": 5, "tell": "word", "last_entry": ago(90), "past_due": 3,
         "minutes_last_week": 400},
        ["attention-hand", "attention-tell-word"],
    ),
    ({"status": "paused", "hand_open": True, "past_due": 3}, ["attention-hand-open"]),
    ({"status": "archived", "hand_unseen": 5, "hand_open": True, "tell": "word", "last_entry": None}, []),
]  # fmt: skip


@pytest.mark.parametrize(("over", "codes"), CASES)
def test_each_rule_at_its_border(over, codes):
    assert [reason.said.code for reason in attention(replace(WELL, **over))] == codes


def test_hand_reasons_are_told_apart_from_the_rest():
    found = attention(replace(WELL, hand_unseen=5, tell="word", past_due=1))
    assert [(reason.code, reason.hand) for reason in found] == [("hand", True), ("tell", True), ("past-due", False)]


def test_numbers_stand_in_the_reason():
    (quiet,) = attention(replace(WELL, last_entry=ago(11)))
    assert quiet.said.values == {"days": 11}
    (over,) = attention(replace(WELL, minutes_last_week=214))
    assert over.said.values == {"minutes": 214, "plan": 100}


# notes, highest unseen, signs
@pytest.mark.parametrize(
    ("notes", "wanted"),
    [
        ([], (None, ())),
        ([note(ago(1), 5), note(ago(2), 2)], (5, ())),
        ([note(ago(1), 5, seen=True)], (None, ())),
        ([note(ago(1), 5, closed=True)], (None, ())),
        ([note(ago(1), 1, settles="rest", sensation="numb")], (1, ("numb",))),
        ([note(ago(3), 4, seen=True), note(ago(1), 4)], (4, ("repeated",))),
        ([note(ago(1), 6, "fingertip", sensation="sore", settles="hour")], (None, ())),
        ([note(ago(1), 8, "fingertip", sensation="sore", settles="hour")], (8, ())),
        ([note(ago(1), 8)], (8, ("severe",))),
        ([note(ago(1), 0, also=("fell",))], (0, ("injury",))),
    ],
)
def test_unseen_notes(notes, wanted):
    assert hand_unseen(notes) == wanted


# notes, since when the step of a return, whether an unseen note asks for a person
@pytest.mark.parametrize(
    ("notes", "since", "asks"),
    [
        ([note(ago(d), 2) for d in (6, 4, 2, 0)], None, True),
        ([note(ago(d), 2, seen=True) for d in (6, 4, 2, 0)], None, False),
        ([*[note(ago(d), 2, seen=True) for d in (6, 4, 2)], note(TODAY, 1)], None, True),
        ([note(ago(d), 2) for d in (4, 2, 0)], None, False),
        ([note(ago(1), 1)], ago(2), True),
        ([note(ago(1), 1, seen=True)], ago(2), False),
        ([note(ago(3), 1)], ago(2), False),
        ([note(ago(1), 0)], ago(2), False),
        ([], ago(2), False),
    ],
)
def test_low_notes_that_ask_for_a_person(notes, since, asks):
    assert hand_asks(notes, since, TODAY) is asks


STUDENT = facts(
    entries=(entry(ago(12), 30), entry(ago(2), 20)),
    goals=(goal(due=ago(1)),),
    notes=(note(ago(1), 5),),
)


def test_input_from_plain_values():
    assert attention_input(STUDENT, TODAY, tell="word", opened=ago(1)) == AttentionInput(
        today=TODAY,
        joined=ago(400),
        hand_unseen=5,
        hand_asks=True,
        hand_open=True,
        tell="word",
        last_entry=ago(2),
        past_due=1,
        due_since=ago(1),
        due_title="Bm, E-shape at 7",
        plan_week=60,
        minutes_this_week=20,
        minutes_last_week=0,
    )


def test_one_change_changes_one_reason():
    before = attention(attention_input(STUDENT, TODAY))
    assert [reason.code for reason in before] == ["hand", "past-due"]
    seen = replace(STUDENT, notes=(note(ago(1), 5, seen=True),))
    assert attention(attention_input(seen, TODAY)) == before[1:]
    more = replace(STUDENT, entries=(*STUDENT.entries, entry(TODAY, 80)))
    assert [reason.code for reason in attention(attention_input(more, TODAY))] == ["hand", "past-due", "over-plan"]
    later = replace(STUDENT, goals=(goal(due=TODAY),))
    assert attention(attention_input(later, TODAY)) == before[:1]
    done = (mark(ago(9), 6), mark(ago(7), 6, check=True))
    secure = replace(STUDENT, goals=(goal(due=ago(1), marks=done),))
    assert attention(attention_input(secure, TODAY)) == before[:1]
    aside = replace(STUDENT, goals=(goal(due=ago(1), set_aside=True),))
    assert attention(attention_input(aside, TODAY)) == before[:1]


def test_without_consent_no_hand_value_is_used():
    without = replace(STUDENT, hand_consent=False)
    found = attention(attention_input(without, TODAY, tell="consent", opened=ago(1)))
    assert [reason.said.code for reason in found] == ["attention-tell-consent", "attention-past-due-one"]


# when an episode was opened, the notes since, whether it is to be dealt with (practice.handcare.episode_end)
@pytest.mark.parametrize(
    ("opened", "notes", "is_open"),
    [
        (None, [note(ago(1), 5)], False),
        (ago(9), [note(ago(9), 5)], True),
        (ago(9), [note(ago(9), 5, seen=True)], True),
        (ago(9), [note(ago(9), 5), note(ago(4), 0), note(ago(3), 1)], False),  # the notes themselves ended it
        (ago(9), [note(ago(9), 8), note(ago(4), 0), note(ago(3), 1)], True),  # a stop does not end by itself
        (ago(9), [note(ago(9), 8, closed=True), note(ago(4), 0), note(ago(3), 1)], False),
    ],
)
def test_an_open_episode_counts_until_it_is_dealt_with(opened, notes, is_open):
    assert still_open(opened, notes, TODAY) is is_open


@pytest.mark.parametrize(
    ("over", "waits"),
    [
        ({}, ""),
        ({"past_due": 1}, ""),
        ({"hand_unseen": 5, "hand_open": True, "tell": "consent"}, "note"),
        ({"hand_open": True, "tell": "consent"}, "open"),
        ({"tell": "consent"}, "consent"),
        ({"tell": "word"}, "word"),
        ({"tell": "back"}, "back"),
    ],
)
def test_what_waits_behind_the_one_tap(over, waits):
    assert about_hand(attention(replace(WELL, **over))) == waits


def test_of_several_things_to_hear_the_one_that_matters_most_is_said():
    assert first_told(["back", "word", "consent"]) == "consent"
    assert first_told(["back", "word"]) == "word"
    assert first_told([]) == ""


def test_an_entry_of_tomorrow_is_not_the_last_one():
    ahead = replace(STUDENT, entries=(entry(TODAY + dt.timedelta(days=1), 20),))
    assert attention_input(ahead, TODAY).last_entry is None
