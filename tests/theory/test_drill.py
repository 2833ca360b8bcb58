"""The alphabet counted up a string, root-note questions and their marking."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.theory.drill import (
    Answer,
    count_up,
    mark,
    pick,
    questions,
    ready_for_twelve,
    root_frets,
    weights,
)
from studio.theory.errors import OffNeck, TheoryError
from studio.theory.instrument import INSTRUMENTS
from studio.theory.keys import KEYS
from studio.theory.pitch import Note

STEEL = INSTRUMENTS["steel-string"]
SPELLED = [letter + sign for letter in "ABCDEFG" for sign in ("", "#", "b", "##", "bb")]


@pytest.mark.parametrize(
    ("string", "root", "text"),
    [
        # FACTS.md section 1: E-shape major B at 7, A at 5, G at 3, F at 1; A-shape D at 5, E at 7, F at 8,
        # G at 10 (common practice, no source)
        (6, "F", "open E, F 1"),
        (6, "A", "open E, F 1, G 3, A 5"),
        (6, "B", "open E, F 1, G 3, A 5, B 7"),
        (5, "D", "open A, B 2, C 3, D 5"),
        (5, "G", "open A, B 2, C 3, D 5, E 7, F 8, G 10"),
        (6, "E", "open E"),
        (6, "Bb", "open E, F 1, G 3, A 5, B 7, then 1 down: Bb 6"),
        (6, "F#", "open E, F 1, then 1 up: F# 2"),
        (5, "C#", "open A, B 2, C 3, then 1 up: C# 4"),
        (6, "Eb", "open E, F 1, G 3, A 5, B 7, C 8, D 10, E 12, then 1 down: Eb 11"),
        (6, "Fb", "open E, F 1, then 1 down: open Fb"),
    ],
)
def test_counting_up(string, root, text):
    assert count_up(string, root).text == text


@given(st.integers(1, 6), st.sampled_from(SPELLED), st.sampled_from(sorted(INSTRUMENTS)))
def test_a_walk_ends_where_the_string_sounds_the_root(string, root, instrument):
    guitar = INSTRUMENTS[instrument]
    walk = count_up(string, root, guitar)
    assert guitar.midi(string, walk.fret) % 12 == Note(root).pitch_class
    assert walk.fret in root_frets(string, root, guitar)
    for step, following in zip(walk.steps, walk.steps[1:], strict=False):
        half = {str(step.note), str(following.note)} in ({"B", "C"}, {"E", "F"})
        assert following.fret - step.fret == (1 if half else 2)


def test_a_lowered_string_is_walked_from_its_own_note():
    lowered = STEEL.with_(tuning="Eb Ab Db Gb Bb Eb")
    assert count_up(6, "G", lowered).text == "open Eb, E 1, F 2, G 4"


def test_a_capo_keeps_the_names_that_chords_are_fingered_by():
    assert count_up(6, "G", STEEL.with_(capo=3)).fret == 3
    with pytest.raises(OffNeck, match=r"Eb on the 6th string is at fret 11; this neck ends at 8\."):
        count_up(6, "Eb", INSTRUMENTS["half-size"].with_(capo=10))


def test_naturals_come_first_then_the_other_five():
    assert [str(q.note) for q in questions(6)] == [
        "E",
        "F",
        "G",
        "A",
        "B",
        "C",
        "D",
        "F#",
        "Ab",
        "Bb",
        "Db",
        "Eb",
    ]
    assert [str(q.note) for q in questions(6, naturals_only=True)] == list("EFGABCD")
    assert [str(q.note) for q in questions(5, key="E")][7:] == ["A#", "C#", "D#", "F#", "G#"]


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_a_key_spells_its_questions(key):
    asked = {question.note for question in questions(5, key=key)}
    assert set(key.scale) <= asked
    assert len(asked) == 12


def test_question_texts():
    assert questions(6)[4].text == "Where is B on the 6th string?"
    assert questions(6, asks="name")[4].text == "Which note is the 6th string at fret 7?"
    assert questions(6, asks="name")[0].text == "Which note is the 6th string open?"


def by_note(pool, name):
    return next(question for question in pool if str(question.note) == name)


def test_marking_accepts_enharmonics_and_says_the_keys_own():
    in_f = by_note(questions(6, key="F", asks="name"), "Bb")
    assert mark(in_f, "Bb").text == "Right: Bb."
    assert (mark(in_f, "a#").right, mark(in_f, "A♯").text) == (
        True,
        "Right: A#. In F major it is written Bb.",
    )
    assert mark(in_f, "B").text == "It is Bb, not B."
    assert not mark(in_f, "B").right
    no_key = by_note(questions(6, asks="name"), "F#")
    assert mark(no_key, "Gb").text == "Right: Gb and F# are one pitch."


def test_marking_a_fret_takes_the_octave_too():
    b = by_note(questions(6), "B")
    assert mark(b, 7).right
    assert mark(b, "19").right
    assert mark(b, 8).text == "B on the 6th string is at fret 7."
    assert not mark(b, 8).right


def test_the_open_string_is_called_open_and_not_fret_0():
    e = next(q for q in questions(6) if str(q.note) == "E")
    assert mark(e, 0).text == "Right: E is the open 6th string."
    assert mark(e, 12).text == "Right: E is at fret 12."
    assert mark(e, 1).text == "E is the open 6th string."


@pytest.mark.parametrize("answer", ["", "seven", -1, 25, None, True, 3.0, "999999999999"])
def test_a_fret_that_is_none_is_refused(answer):
    with pytest.raises(TheoryError):
        mark(questions(6)[0], answer)


@pytest.mark.parametrize("answer", ["", "H", 7, None, True, []])
def test_a_name_that_is_none_is_refused(answer):
    with pytest.raises(TheoryError):
        mark(questions(6, asks="name")[0], answer)


def test_what_was_missed_weighs_more_and_nothing_disappears():
    pool = questions(6, naturals_only=True)
    first, second = pool[0].id, pool[1].id
    after = weights(pool, [Answer(first, False), Answer(second, True)])
    assert after[0] > after[2] > after[1]
    assert weights(pool, [Answer(second, True, seconds=9)])[1] == after[2]  # slow: not yet known, not missed either
    assert weights(pool, [Answer(first, False)] * 50)[0] == 8
    assert weights(pool, [Answer(first, True)] * 50)[0] == 0.25
    assert weights(pool, [Answer("find-1-0", False)]) == weights(pool, [])


def test_picking_follows_the_weights():
    pool = questions(6, naturals_only=True)
    history = [Answer(pool[3].id, False)] * 3 + [Answer(pool[0].id, True)]
    share = [pick(pool, history, step / 1000).id for step in range(1000)]
    assert share.count(pool[0].id) == 0  # never twice in a row
    assert share.count(pool[3].id) == 444  # its weight is 8, the most, beside five questions of 2: 8 / 18
    assert all(share.count(question.id) > 0 for question in pool[1:])
    assert pick(pool[:1], history, 0.5) == pool[0]


@pytest.mark.parametrize("at", [-0.1, 1, 2, "x", None, float("nan")])
def test_a_number_outside_the_range_is_refused(at):
    with pytest.raises(TheoryError):
        pick(questions(6), [], at)
    with pytest.raises(TheoryError):
        pick([], [], 0.5)


def test_twelve_notes_are_asked_once_each_natural_was_right_twice_in_a_row():
    pool = questions(6)
    naturals = [question.id for question in pool[:7]]
    twice = [Answer(name, True) for name in naturals * 2]
    assert ready_for_twelve(pool, twice)
    assert not ready_for_twelve(pool, twice[:-1])
    assert not ready_for_twelve(pool, [*twice, Answer(naturals[2], False)])
    assert not ready_for_twelve([], [])


@given(st.integers() | st.text() | st.none(), st.text() | st.integers() | st.none(), st.text() | st.none())
def test_bad_input_raises_theory_errors_only(string, root, instrument):
    for call in (
        lambda: count_up(string, root, instrument),
        lambda: root_frets(string, root),
        lambda: questions(string, key=root),
    ):
        try:
            call()
        except TheoryError:
            continue
