"""Naming a grip: every reading, in the stated order, spelled for the key; the inverse of placing."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.theory.chords import QUALITIES, read_symbol
from studio.theory.errors import OffNeck, TheoryError
from studio.theory.instrument import INSTRUMENTS
from studio.theory.keys import KEYS
from studio.theory.naming import name_frets, read_frets
from studio.theory.shapes import SHAPES
from studio.theory.voicing import place

STEEL = INSTRUMENTS["steel-string"]
ROOTS = [letter + sign for letter in "ABCDEFG" for sign in ("", "#", "b")]


@pytest.mark.parametrize(
    ("frets", "names"),
    [
        ("x32010", "C"),
        ("133211", "F"),
        ("x24432", "Bm"),
        ("200232", "D/F#"),
        ("x32213", "C6 | Am7/C"),  # issue 3: C6 is also Am7 over C
        ("x02200", "Asus2 | Esus4/A"),  # issue 3: sus2 is also sus4
        ("xx2323", "Edim7 | Gdim7/Fb | Bbdim7/Fb | C#dim7/E"),  # issue 3: dim7 four times
        ("355xxx", "G5"),
        ("x3221x", "C6 (no 5) | Am/C"),  # the root in the bass outranks an omission
        ("x3231x", "C7 (no 5)"),
        ("xx231x", "C7/E (no 5)"),
        ("x2323x", "Bm7b5 | Dm6/B"),
        ("x32030", "Cadd9"),
        ("000000", "G6/9/E"),
        ("xxxxxx", ""),
        ("x1234x", ""),
        ("3xxxx3", ""),
    ],
)
def test_readings_best_first(frets, names):
    assert " | ".join(str(name) for name in name_frets(frets)) == names


def test_ranking_is_the_stated_one():
    for frets in ("x32213", "x02200", "xx2323", "x3221x", "x2323x", "x20202"):
        found = name_frets(frets)
        keys = [(name.root != name.bass, len(name.omitted), list(QUALITIES).index(name.quality)) for name in found]
        assert keys == sorted(keys)


def test_a_key_spells_and_ranks():
    assert [str(name) for name in name_frets("466544", key="Db")] == ["Ab"]
    assert [str(name) for name in name_frets("466544", key="C# minor")] == ["G#"]
    assert [str(name) for name in name_frets("xx2323", key="D")][1:] == ["Gdim7/Fb", "A#dim7/E", "C#dim7/E"]


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_own_chords_are_named_as_the_key_spells_them(key):
    for chord in key.own_chords():
        for shape in SHAPES.values():
            if shape.quality == chord.quality and shape.kind == "movable":
                names = name_frets(place(shape.id, chord.root).frets, key=key)
                assert (chord.root, chord.quality) in [(name.root, name.quality) for name in names]


TUNINGS = ["E A D G B E", "Eb Ab Db Gb Bb Eb", "D A D G B E", "D A D G A D", "D G D G B D", "B E A D G B E"]


@settings(max_examples=300)
@given(
    st.sampled_from(sorted(SHAPES)),
    st.sampled_from(ROOTS),
    st.sampled_from(TUNINGS),
    st.integers(0, 4),
    st.integers(0, 15) | st.none(),
)
def test_naming_is_the_inverse_of_placing(shape, root, tuning, capo, position):
    guitar = INSTRUMENTS["electric"].with_(tuning=tuning, capo=capo)
    try:
        voicing = place(shape, root, guitar, position)
    except OffNeck:
        return
    names = name_frets(voicing.frets, guitar)
    assert (voicing.root.pitch_class, voicing.quality) in [(n.root.pitch_class, n.quality) for n in names]
    for name in names:
        assert read_symbol(name.symbol) == name.chord
        sounding = {note.pitch_class for note in voicing.notes if note is not None}
        assert name.chord.pitch_classes >= sounding
        missing = {tone.pitch_class for tone in name.chord.tones} - sounding
        assert len(missing) == len(name.omitted)


def test_the_whole_catalogue_in_standard_tuning_is_named_as_placed_first():
    # where the root is in the bass and no reading is commoner, the chord comes first
    for shape in SHAPES.values():
        voicing = place(shape.id, "C" if shape.moves else None)
        first = name_frets(voicing.frets)[0]
        if voicing.bass == voicing.root:
            assert (first.root.pitch_class, first.quality) == (voicing.root.pitch_class, voicing.quality)


@pytest.mark.parametrize(
    ("text", "frets"),
    [
        ("x32010", (None, 3, 2, 0, 1, 0)),
        ("8-10-10-9-8-8", (8, 10, 10, 9, 8, 8)),
        ("X 10 12 12 11 10", (None, 10, 12, 12, 11, 10)),
        ("x,3,2,0,1,0", (None, 3, 2, 0, 1, 0)),
    ],
)
def test_grips_as_text(text, frets):
    assert read_frets(text) == frets


@pytest.mark.parametrize(
    ("frets", "says"),
    [
        ("x3201", "6 strings; the grip names 5"),
        ("3320033", "6 strings; the grip names 7"),
        ((-1, 0, 0, 0, 0, 0), "Fret -1 is not on this neck"),
        ((21, 0, 0, 0, 0, 0), "Fret 21 is not on this neck"),
        ((True, 0, 0, 0, 0, 0), "Fret True"),
        ((1.0, 0, 0, 0, 0, 0), r"Fret 1\.0"),
        ("x32o10", "'o' is no fret"),
        (None, "one fret for each string"),
        (5, "one fret for each string"),
        ({}, "one fret for each string"),
    ],
)
def test_grips_that_are_none(frets, says):
    with pytest.raises(TheoryError, match=says):
        name_frets(frets)


@given(
    st.lists(st.none() | st.integers(-2, 30), max_size=8) | st.text(max_size=12) | st.none(),
    st.sampled_from(sorted(INSTRUMENTS)) | st.text(max_size=8) | st.integers(),
    st.none() | st.text(max_size=8) | st.integers(),
)
def test_bad_input_raises_theory_errors_only(frets, instrument, key):
    try:
        name_frets(frets, instrument, key)
    except TheoryError:
        return
