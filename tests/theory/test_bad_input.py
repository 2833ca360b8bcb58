"""Whatever is typed, keys, chords, drill, naming, routes and drawings answer or raise a TheoryError: nothing else."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.theory import (
    Answer,
    Key,
    TheoryError,
    arrange,
    chord_symbol,
    chord_tones,
    common_root,
    count_up,
    diagram_svg,
    fretboard_svg,
    mark,
    name_frets,
    pick,
    place,
    quality_of_kind,
    questions,
    read_chord,
    read_frets,
    read_harte,
    read_step,
    read_symbol,
    root_frets,
    sheet_xml,
)

POOL = (*questions(6), *questions(5, key="Eb", asks="name"))
OPEN_E = place("open-E")

# name -> how many values it takes, the call
CALLS = {
    "Key": (2, Key),
    "Key.parse": (1, Key.parse),
    "Key.numeral": (1, Key("Eb").numeral),
    "Key.numeral_of": (2, Key("A", "minor").numeral_of),
    "Key.standing": (2, Key("G").standing),
    "Key.spell": (1, Key("F#").spell),
    "Key.spell_root": (2, Key("F#").spell_root),
    "arrange": (2, lambda steps, key: arrange([steps], key)),
    "arrange window": (3, lambda low, high, count: arrange(["G"], window=(low, high), count=count)),
    "chord_symbol": (3, chord_symbol),
    "chord_tones": (2, chord_tones),
    "common_root": (2, common_root),
    "count_up": (3, count_up),
    "diagram_svg": (3, lambda labels, plays, uid: diagram_svg(OPEN_E, labels=labels, plays=plays, uid=uid)),
    "fretboard_svg": (3, fretboard_svg),
    "mark": (1, lambda answer: [mark(question, answer) for question in (POOL[0], POOL[-1])]),
    "name_frets": (3, name_frets),
    "name_frets of six": (6, lambda *frets: name_frets(frets)),
    "pick": (2, lambda at, old: pick(POOL, [Answer(old, True)], at)),
    "quality_of_kind": (1, quality_of_kind),
    "questions": (3, lambda string, key, asks: questions(string, key=key, asks=asks)),
    "read_chord": (1, read_chord),
    "read_frets": (1, read_frets),
    "read_harte": (1, read_harte),
    "read_step": (2, read_step),
    "read_symbol": (1, read_symbol),
    "root_frets": (3, root_frets),
    "sheet_xml": (2, lambda key, metre: sheet_xml("x", [("", [OPEN_E])], key=key, metre=metre)),
}
TYPED = st.one_of(
    st.text(max_size=12),
    st.text("ABCDEFGabmx#♭♯°øΔ/:()*,.7 694IViv+-", max_size=8),
    st.sampled_from(
        ["C", "Bb", "G#", "A minor", "major", "m7b5", "V7", "bVII", "find", "left", "4/4", "classical", "x32010"]
    ),
    st.integers(-3, 30),
    st.integers(),
    st.none(),
    st.booleans(),
    st.floats(allow_nan=True),
    st.just([]),
    st.just({}),
    st.tuples(st.integers(-1, 9), st.integers(-1, 9)),
    st.binary(max_size=3),
)
CASES = st.sampled_from(sorted(CALLS)).flatmap(
    lambda name: st.tuples(st.just(name), st.tuples(*[TYPED] * CALLS[name][0]))
)


def answers_or_says_why(case):
    name, values = case
    try:
        CALLS[name][1](*values)
    except TheoryError as error:
        message = str(error)
        assert message, case
        assert len(message) < 400, case


@settings(max_examples=1500, deadline=None)
@given(CASES)
def test_typed_values(case):
    answers_or_says_why(case)


@pytest.mark.soak
@settings(max_examples=15_000, deadline=None)
@given(CASES)
def test_typed_values_at_length(case):
    answers_or_says_why(case)
