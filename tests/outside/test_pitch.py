"""Notes against published frequencies and music21."""

import pytest
from music21 import interval, pitch

from studio.theory import DEGREES, INSTRUMENTS, Note

# Published: standard tuning E2 A2 D3 G3 B3 E4, MIDI numbers and Hz with A4 = 440 (ISO 16), 6th to 1st string.
OPEN_STRINGS = (
    ("E2", 40, 82.407),
    ("A2", 45, 110.000),
    ("D3", 50, 146.832),
    ("G3", 55, 195.998),
    ("B3", 59, 246.942),
    ("E4", 64, 329.628),
)


def test_open_strings():
    guitar = INSTRUMENTS["classical"]
    assert len(guitar.tuning) == len(OPEN_STRINGS)
    for (name, midi, hertz), number, note, sounding in zip(
        OPEN_STRINGS, guitar.tuning, guitar.open_notes, guitar.open_hz, strict=True
    ):
        assert (note.full, note.midi, number) == (name, midi, midi)
        assert Note(name).hz == pytest.approx(hertz, abs=0.0005)
        assert sounding == pytest.approx(hertz, abs=0.0005)


NAMES = [letter + sign for letter in "ABCDEFG" for sign in ("", "#", "b", "##", "bb")]


@pytest.mark.parametrize("name", NAMES)
def test_pitch_class_and_midi(name):
    """Source: music21.pitch.Pitch."""
    for octave in (1, 3, 4, 6):
        theirs = pitch.Pitch(name.replace("b", "-") + str(octave))
        assert Note(name, octave).midi == theirs.ps
        assert Note(name).pitch_class == theirs.pitchClass
        assert Note(name, octave).hz == pytest.approx(theirs.frequency)


# degree -> music21's interval name
INTERVALS = {
    "1": "P1", "b2": "m2", "2": "M2", "#2": "A2", "b3": "m3", "3": "M3", "b4": "d4", "4": "P4", "#4": "A4", "b5": "d5",
    "5": "P5", "#5": "A5", "b6": "m6", "6": "M6", "bb7": "d7", "b7": "m7", "7": "M7", "b9": "m9", "9": "M9", "#9": "A9",
    "11": "P11", "#11": "A11", "b13": "m13", "13": "M13",
}  # fmt: skip


def test_degrees_are_spelled_as_music21_spells_them():
    """Source: music21.interval.Interval.transposePitch, from every root with at most one accidental."""
    assert set(INTERVALS) == set(DEGREES)
    for name in (letter + sign for letter in "ABCDEFG" for sign in ("", "#", "b")):
        for degree, theirs in INTERVALS.items():
            wanted = interval.Interval(theirs).transposePitch(pitch.Pitch(name.replace("b", "-") + "4"))
            assert str(Note(name).degree(degree)) == wanted.name.replace("-", "b")
