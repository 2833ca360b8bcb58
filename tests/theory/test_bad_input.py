"""Whatever is asked of a public name, it answers or raises a TheoryError with a sentence: nothing else.

`CALLS` is drawn from `studio.theory.__all__` itself, so that a new public name is tried the day it is exported;
methods that take something typed are named by hand. tests/soak asks 20,000 times.
"""

import inspect
from dataclasses import FrozenInstanceError, fields

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio import theory
from studio.theory import (
    INSTRUMENTS,
    SHAPES,
    Answer,
    Chord,
    ChordTerm,
    Context,
    Goal,
    Hand,
    Instrument,
    Key,
    Note,
    TheoryError,
    arrange,
    diagram_svg,
    fretboard_svg,
    mark,
    name_frets,
    pick,
    place,
    questions,
    sheet_xml,
    validate,
)

POOL = (*questions(6), *questions(5, key="Eb", asks="name"))
OPEN_E = place("open-E")
STEEL = INSTRUMENTS["steel-string"]

# Plain values that the package makes and never reads from what is typed: their fields are the caller's own.
VALUES = {
    "Barre", "ChordName", "ChordTerm", "Demand", "Finding", "Goal", "KeyChord", "Mark", "Place", "Quality", "Question",
    "Relation", "Route", "Shape", "Voicing", "Walk", "WayOut", "Chord", "Context",
}  # fmt: skip


def positional(call):
    """How many values a call takes by place: (at least, at most)."""
    taken = [p for p in inspect.signature(call).parameters.values() if p.kind is not p.KEYWORD_ONLY]
    return sum(p.default is p.empty for p in taken), len(taken)


def is_function(name):
    value = getattr(theory, name)
    error = isinstance(value, type) and issubclass(value, Exception)
    return callable(value) and not error and name not in VALUES


# name -> (at least, at most) how many values it takes, the call
CALLS = {
    name: (positional(getattr(theory, name)), getattr(theory, name)) for name in theory.__all__ if is_function(name)
}
METHODS = {
    "Chord.of": Chord.of,
    "Goal.from_terms": Goal.from_terms,
    "Hand.of": Hand.of,
    "Instrument.check_fret": STEEL.check_fret,
    "Instrument.distance_mm": STEEL.distance_mm,
    "Instrument.fret_distance": STEEL.fret_distance,
    "Instrument.fret_space_mm": STEEL.fret_space_mm,
    "Instrument.midi": STEEL.midi,
    "Instrument.point_mm": STEEL.point_mm,
    "Instrument.string_gap_mm": STEEL.string_gap_mm,
    "Instrument.with_ capo": lambda capo: STEEL.with_(capo=capo),
    "Instrument.with_ tuning": lambda tuning: STEEL.with_(tuning=tuning),
    "Key.numeral": Key("Eb").numeral,
    "Key.numeral_of": Key("A", "minor").numeral_of,
    "Key.parse": Key.parse,
    "Key.spell": Key("F#").spell,
    "Key.spell_root": Key("F#").spell_root,
    "Key.standing": Key("G").standing,
    "Note.at_midi": Note("Bb").at_midi,
    "Note.degree": Note("Db").degree,
    "Note.midi": lambda name: Note(name).midi,
    "Note.of": Note.of,
    "ChordTerm.voicing": lambda shape, root, position: ChordTerm(shape, root, position).voicing(),
    "arrange one step": lambda step, key: arrange([step], key),
    "arrange window": lambda low, high, count: arrange(["G"], window=(low, high), count=count),
    "diagram_svg options": lambda labels, plays, uid: diagram_svg(OPEN_E, labels=labels, plays=plays, uid=uid),
    "fretboard_svg options": lambda key, plays, uid: fretboard_svg("A", 5, key=key, plays=plays, uid=uid),
    "mark an answer": lambda answer: [mark(question, answer) for question in (POOL[0], POOL[-1])],
    "name_frets of six": lambda a, b, c, d, e, f: name_frets((a, b, c, d, e, f)),
    "pick among twelve": lambda at, old: pick(POOL, [Answer(old, True)], at),
    "sheet_xml options": lambda key, metre: sheet_xml("x", [("", [OPEN_E])], key=key, metre=metre),
    "validate a chord": lambda shape, root, position: validate(Goal("chord", (ChordTerm(shape, root, position),))),
    "validate anything": lambda kind, chords, key: validate(Goal(kind, chords, key)),
}
CALLS |= {name: (positional(call), call) for name, call in METHODS.items()}

TYPED = st.one_of(
    st.text(max_size=12),
    st.text("ABCDEFGabmx#♭♯°øΔ/:()*,.7 694IViv+-", max_size=8),
    st.sampled_from(
        ["C", "Bb", "G#", "A minor", "major", "m7b5", "V7", "bVII", "find", "left", "4/4", "classical", "x32010"]
    ),
    st.sampled_from(sorted(SHAPES)),
    st.integers(-3, 30),
    st.integers(),
    st.none(),
    st.booleans(),
    st.floats(allow_nan=True),
    st.just([]),
    st.just({}),
    st.tuples(st.integers(-1, 9), st.integers(-1, 9)),
    st.binary(max_size=3),
    # right values in wrong places
    st.sampled_from([
        OPEN_E, [OPEN_E], [("", [OPEN_E])], POOL, POOL[0], STEEL, Hand(), Key("G"), Note("F#3"), Chord.of("C"),
        SHAPES["E-major"], Goal("chord"), Context(), ["I", "V"], {"kind": "chord"}, object(), int,
    ]),
)  # fmt: skip
CASES = st.sampled_from(sorted(CALLS)).flatmap(
    lambda name: st.tuples(st.just(name), st.lists(TYPED, min_size=CALLS[name][0][0], max_size=CALLS[name][0][1]))
)


def answers_or_says_why(case):
    name, values = case
    try:
        CALLS[name][1](*values)
    except TheoryError as error:
        message = str(error)
        assert message, case
        assert len(message) < 400, case


@settings(max_examples=800, deadline=None)
@given(CASES)
def test_it_answers_or_says_why(case):
    answers_or_says_why(case)


@pytest.mark.parametrize("name", sorted(CALLS))
def test_nothing_at_all_and_one_wrong_thing_everywhere(name):
    (least, most), _ = CALLS[name]
    for wrong in (None, True, -1, "", "H", 10**30, float("nan"), b"x", [], {}, (None,), object(), STEEL, OPEN_E):
        for count in range(max(1, least), most + 1):
            answers_or_says_why((name, [wrong] * count))


def test_every_function_is_tried():
    assert len(CALLS) > 60
    assert set(theory.__all__) & VALUES == VALUES
    assert {"place", "places", "name_frets", "arrange", "grip_demand", "change_demand", "relation"} <= set(CALLS)


@pytest.mark.parametrize(
    ("call", "says"),
    # what a teacher may mistype, and the words that must be in the answer
    [
        (lambda: place("E-major", "H"), "'H' is not the name of a note"),
        (lambda: place("E-majr", "C"), "E-major"),
        (lambda: place("E-major", "C", position=-1), "not -1"),
        (lambda: place("E-major", "C", STEEL, 20), "this neck ends at 20"),
        (lambda: Key("G#"), "Ab major"),
        (lambda: name_frets("x3201"), "6 strings"),
        (lambda: name_frets((None, 99, 2, 0, 1, 0)), "Fret 99"),
        (lambda: arrange([]), "at least one chord"),
        (lambda: Instrument("mine", "Mine", tuning="E A D"), "names 3"),
        (lambda: Instrument("mine", "Mine", frets=30), "12 to 24"),
        (lambda: theory.grip_demand("C"), "no placed chord"),
        (lambda: theory.grip_demand(OPEN_E, "big"), "no hand"),
        (lambda: theory.survives("E-major", "E A D"), "names 3"),
        (lambda: validate("C"), "no Goal"),
    ],
)
def test_the_sentence_names_the_slip(call, says):
    with pytest.raises(TheoryError) as caught:
        call()
    assert says in str(caught.value)


@pytest.mark.parametrize(
    "value", [OPEN_E, STEEL, Hand(), Key("G"), Note("C"), Goal("chord"), SHAPES["E-major"]], ids=repr
)
def test_values_cannot_be_changed(value):
    with pytest.raises(FrozenInstanceError):
        setattr(value, fields(value)[0].name, "other")
