"""All thirty keys against music21: signatures, scales, diatonic triads and sevenths, note for note as
spelled.

Source: music21 (key.Key, roman.RomanNumeral), an independent implementation of key signatures and Roman
numerals.
"""

import pytest
from music21 import key as m21key
from music21 import roman

from studio.theory import KEYS

# our numeral -> music21's figure; in minor V, V7 and viidim are the harmonic minor's in both
MAJOR = dict(
    zip(
        ["I", "ii", "iii", "IV", "V", "vi", "viidim", "Imaj7", "ii7", "iii7", "IVmaj7", "V7", "vi7", "viim7b5"],
        ["I", "ii", "iii", "IV", "V", "vi", "viio", "I7", "ii7", "iii7", "IV7", "V7", "vi7", "viiø7"],
        strict=True,
    )
)
MINOR = dict(
    zip(
        [
            "i",
            "iidim",
            "III",
            "iv",
            "v",
            "VI",
            "VII",
            "i7",
            "iim7b5",
            "IIImaj7",
            "iv7",
            "v7",
            "VImaj7",
            "VII7",
            "V",
            "V7",
            "viidim",
        ],
        [
            "i",
            "iio",
            "III",
            "iv",
            "v",
            "VI",
            "VII",
            "i7",
            "iiø7",
            "III7",
            "iv7",
            "v7",
            "VI7",
            "VII7",
            "V",
            "V7",
            "viio",
        ],
        strict=True,
    )
)


def theirs(key):
    tonic = str(key.tonic).replace("b", "-")
    return m21key.Key(tonic.lower() if key.mode == "minor" else tonic, key.mode)


def names(pitches):
    return [pitch.name.replace("-", "b") for pitch in pitches]


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_signature_and_scale(key):
    reference = theirs(key)
    assert key.signature == reference.sharps
    assert [str(note) for note in key.signs] == names(reference.alteredPitches)
    assert [str(note) for note in key.scale] == names(reference.getPitches())[:7]
    assert str(key.relative.tonic) == reference.relative.tonic.name.replace("-", "b")


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_own_chords_note_for_note(key):
    reference = theirs(key)
    figures = MAJOR if key.mode == "major" else MINOR
    own = key.own_chords()
    assert [chord.numeral for chord in own] == list(figures)
    for chord in own:
        found = roman.RomanNumeral(figures[chord.numeral], reference)
        assert [str(note) for note in chord.tones] == names(found.pitches), chord


BORROWED = [
    ("bVII", "bVII"),
    ("iv", "iv"),
    ("bVI", "bVI"),
    ("bIII", "bIII"),
    ("bII", "bII"),
    ("V/V", "V/V"),
    ("V7/ii", "V7/ii"),
]


@pytest.mark.parametrize(("ours", "figure"), BORROWED)
def test_altered_numerals_in_major_keys(ours, figure):
    for key in KEYS:
        if key.mode == "major":
            found = roman.RomanNumeral(figure, theirs(key))
            assert [str(note) for note in key.numeral(ours).tones] == names(found.pitches)
