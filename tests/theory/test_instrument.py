"""Instruments: tunings as text, capo, distances, and what no guitar has."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from studio.theory import (
    INSTRUMENTS,
    Instrument,
    InstrumentError,
    TheoryError,
    fret_distance,
    read_instrument,
    read_tuning,
)
from studio.theory.instrument import STANDARD, STRING, spell_tuning, standard_tuning

STEEL = INSTRUMENTS["steel-string"]


@pytest.mark.parametrize(
    ("text", "midi"),
    [
        ("E2 A2 D3 G3 B3 E4", STANDARD),
        ("E A D G B E", STANDARD),
        ("EADGBE", STANDARD),
        ("e a d g b e", STANDARD),
        ("E, A, D, G, B, E", STANDARD),
        ("D A D G A D", (38, 45, 50, 55, 57, 62)),
        ("DADGAD", (38, 45, 50, 55, 57, 62)),
        ("D A D F# A D", (38, 45, 50, 54, 57, 62)),
        ("DADF♯AD", (38, 45, 50, 54, 57, 62)),
        ("D G D G B D", (38, 43, 50, 55, 59, 62)),
        ("E B E G# B E", (40, 47, 52, 56, 59, 64)),
        ("Eb Ab Db Gb Bb Eb", tuple(m - 1 for m in STANDARD)),
        ("EbAbDbGbBbEb", tuple(m - 1 for m in STANDARD)),
        ("B1 E2 A2 D3 G3 B3 E4", (35, *STANDARD)),
        ("B E A D G B E", (35, *STANDARD)),
        ("D G B E", STANDARD[2:]),
    ],
)
def test_reading_a_tuning(text, midi):
    assert read_tuning(text) == midi


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "lowest first"),
        ("E A D", "names 3"),
        ("E A D G B H", "1st string"),
        ("E A D G B E A D G", "names 9"),
        ("E4 B3 G3 D3 A2 E2", "lowest string first"),
        ("E9 A2 D3 G3 B3 E4", "6th string"),
        ("standard", "names 1"),
        (None, "not a tuning"),
        (["E"], "not a tuning"),
    ],
)
def test_a_tuning_that_cannot_be_read(text, said):
    with pytest.raises(InstrumentError, match=said):
        read_tuning(text)


@pytest.mark.parametrize(
    "text",
    ["E A D G B E", "D A D G A D", "D A D F# A D", "E B E G# B E", "Eb Ab Db Gb Bb Eb", "C G C F A D", "D A D G B E"],
)
def test_a_tuning_is_spelled_as_it_is_called(text):
    tuning = read_tuning(text)
    assert STEEL.with_(tuning=tuning).describe_tuning() == text
    assert read_tuning(" ".join(note.full for note in spell_tuning(tuning))) == tuning


def test_standard_tunings():
    assert standard_tuning(6) == STANDARD
    assert standard_tuning(7) == (35, *STANDARD)
    with pytest.raises(InstrumentError):
        standard_tuning(12)


@given(st.sampled_from(sorted(INSTRUMENTS)), st.integers(0, 10))
def test_a_capo_is_a_nearer_nut(preset, capo):
    bare, held = INSTRUMENTS[preset], INSTRUMENTS[preset].with_(capo=capo)
    assume(capo <= bare.frets - 5)
    assert held.open_midi == tuple(midi + capo for midi in bare.tuning)
    assert held.last_fret == bare.frets - capo
    for fret in range(1, held.last_fret + 1):
        assert held.fret_space_mm(fret) == pytest.approx(bare.fret_space_mm(fret + capo))
        assert held.fret_distance(fret) == pytest.approx(bare.fret_distance(fret + capo) - bare.fret_distance(capo))
        assert held.midi(6, fret) == bare.midi(6, fret + capo)
        assert held.point_mm(3, fret) == pytest.approx(bare.point_mm(3, fret + capo))


@given(st.floats(300, 900), st.integers(0, 23))
def test_frets_come_closer_and_each_is_a_half_step(scale, fret):
    one, two = fret_distance(scale, fret), fret_distance(scale, fret + 1)
    assert two > one
    assert (scale - one) / (scale - two) == pytest.approx(2 ** (1 / 12))


points = st.tuples(st.integers(1, 6), st.integers(0, 20))


@given(points, points, points)
def test_distance_is_a_distance(a, b, c):
    assert STEEL.distance_mm(a, b) == pytest.approx(STEEL.distance_mm(b, a))
    assert STEEL.distance_mm(a, a) == 0
    assert STEEL.distance_mm(a, c) <= STEEL.distance_mm(a, b) + STEEL.distance_mm(b, c) + 1e-9


def test_strings_spread_towards_the_body():
    # Derived in the project's facts: string spread 36 mm at the nut, 43 at fret 12.
    assert STEEL.string_gap_mm(0) * 5 == pytest.approx(36)
    assert STEEL.string_gap_mm(12) * 5 == pytest.approx(43)
    assert STEEL.distance_mm((6, 0), (1, 0)) == pytest.approx(36)
    x, y = STEEL.point_mm(1, 12)
    assert (x, y) == (pytest.approx(324), pytest.approx(21.5))
    assert math.isclose(STEEL.distance_mm((6, 0), (6, 12)), math.hypot(324, 3.5))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"capo": -1}, "capo"),
        ({"capo": 16}, "capo"),
        ({"capo": True}, "capo"),
        ({"frets": 11}, "number of frets"),
        ({"frets": 25}, "number of frets"),
        ({"frets": 20.0}, "number of frets"),
        ({"scale_mm": 25.5}, "25.5 inches"),
        ({"scale_mm": float("nan")}, "scale length"),
        ({"scale_mm": "650"}, "scale length"),
        ({"joint": 0}, "joint"),
        ({"plays": "both"}, "right"),
        ({"plays": []}, "right"),
        ({"tuning": ()}, "strings"),
        ({"tuning": (40,) * 9}, "strings"),
        ({"tuning": (40, 45, 50, 55, 59, 300)}, "open string"),
        ({"tuning": ("E", 45, 50, 55, 59, 64)}, "open string"),
        ({"tuning": 7}, "not a tuning"),
        ({"tuning": "E A D"}, "lowest first"),
        ({"nut_spread_mm": 0}, "spread"),
        ({"twelfth_spread_mm": None}, "spread"),
        ({"strings": 6}, "strings"),
    ],
)
def test_what_no_guitar_has(changes, said):
    with pytest.raises(InstrumentError, match=said):
        STEEL.with_(**changes)


@pytest.mark.parametrize("fret", [-1, 21, 1.0, "3", None, True])
def test_frets_off_the_neck(fret):
    for ask in (STEEL.fret_distance, STEEL.fret_space_mm, STEEL.string_gap_mm, lambda f: STEEL.midi(6, f)):
        with pytest.raises(InstrumentError):
            ask(fret)


def test_the_last_fret_is_said_from_the_capo():
    with pytest.raises(InstrumentError, match="0 to 18, counted from the capo at 2"):
        STEEL.with_(capo=2).check_fret(19)


def test_tuning_as_text_and_hands():
    guitar = STEEL.with_(tuning="D A D G B E", plays="left")
    assert guitar.tuning[0] == 38
    assert guitar.plays == "left"
    assert hash(guitar) == hash(STEEL.with_(tuning=(38, *STANDARD[1:]), plays="left"))


def test_reading_an_instrument():
    assert read_instrument("classical") is INSTRUMENTS["classical"]
    for wrong in ("lute", None, 3):
        with pytest.raises(InstrumentError):
            read_instrument(wrong)


def test_presets_cannot_be_changed():
    with pytest.raises(TypeError):
        INSTRUMENTS["mine"] = STEEL
    with pytest.raises(AttributeError):
        STEEL.frets = 3
    assert STRING[5] == "5th string"


anything = st.one_of(st.none(), st.integers(), st.floats(), st.text(max_size=12), st.lists(st.integers(), max_size=9))


@given(anything, anything, anything, anything, anything)
def test_an_instrument_or_a_theory_error(tuning, frets, scale, joint, capo):
    try:
        guitar = Instrument("x", "X", tuning, frets, scale, joint, capo=capo)
    except TheoryError:
        return
    assert 4 <= guitar.strings <= 8
