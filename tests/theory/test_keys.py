"""Keys: signatures, scales, own chords, numerals, spelling.

Tables without another source: common practice, no source.
"""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.theory.chords import QUALITIES
from studio.theory.errors import NoteError, TheoryError
from studio.theory.keys import KEYS, Key, KeyNameError, NumeralError
from studio.theory.pitch import Note


def names(notes):
    return " ".join(str(note) for note in notes)


def test_thirty_keys_each_written_once():
    assert len(KEYS) == len(set(KEYS)) == 30
    assert sorted(key.signature for key in KEYS if key.mode == "minor") == list(range(-7, 8))


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_scale_uses_each_letter_once_and_agrees_with_its_signature(key):
    assert sorted(note.letter for note in key.scale) == list("ABCDEFG")
    assert {note for note in key.scale if not note.is_natural} == set(key.signs)
    assert len(key.signs) == abs(key.signature)


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_own_chords_use_one_letter_a_third(key):
    for chord in key.own_chords():
        letters = ["CDEFGAB".index(note.letter) for note in chord.tones]
        assert all((b - a) % 7 == 2 for a, b in itertools.pairwise(letters)), chord


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_relative_and_parallel_turn_back(key):
    assert key.relative.relative == key
    assert key.relative.signature == key.signature
    assert key.parallel.tonic.pitch_class == key.tonic.pitch_class
    assert key.parallel.mode != key.mode


# text, key
TEXTS = [
    ("A minor", Key("A", "minor")),
    ("Am", Key("A", "minor")),
    ("am", Key("A", "minor")),
    ("a", Key("A")),
    ("Bb", Key("Bb")),
    ("B flat major", Key("Bb")),
    ("E♭ minor", Key("Eb", "minor")),
    ("F#m", Key("F#", "minor")),
    ("f-sharp minor", Key("F#", "minor")),
    ("C major", Key("C")),
    ("C MAJOR", Key("C")),
    ("CM", Key("C")),
]


@pytest.mark.parametrize(("text", "key"), TEXTS)
def test_parse(text, key):
    assert Key.parse(text) == key


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_parse_reads_what_str_writes(key):
    assert Key.parse(str(key)) == key


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("G# major", "Ab major"),
        ("Db minor", "C# minor"),
        ("Fb", "E major"),
        ("A#", "Bb major"),
        ("E# minor", "F minor"),
    ],
)
def test_keys_past_seven_signs_name_their_other_spelling(text, says):
    with pytest.raises(KeyNameError, match=says):
        Key.parse(text)


# key, symbols of the triads from I on (common practice, no source)
TRIADS = [
    ("C", "C Dm Em F G Am Bdim"),
    ("Eb", "Eb Fm Gm Ab Bb Cm Ddim"),
    ("F#", "F# G#m A#m B C# D#m E#dim"),
    ("A minor", "Am Bdim C Dm Em F G"),
    ("C# minor", "C#m D#dim E F#m G#m A B"),
]


@pytest.mark.parametrize(("key", "symbols"), TRIADS)
def test_triads(key, symbols):
    assert [chord.symbol for chord in Key.parse(key).triads] == symbols.split()


def test_a_minor_owns_v_v7_and_the_leading_notes_chord():
    # FACTS.md section 1: A minor: E, E7, and G# diminished (common practice, no source)
    key = Key("A", "minor")
    assert {"E", "E7", "G#dim"} <= {chord.symbol for chord in key.own_chords()}
    assert len(key.own_chords()) == 17
    assert key.contains("E", "7")
    assert key.contains("Ab", "dim")
    assert not key.contains("A", "7")
    assert len(Key("C").own_chords()) == 14


# key, root, quality, standing
STANDINGS = [
    ("C", "G", "7", "own"),
    ("C", "D", "7", "outside"),
    ("C", "F", "minor", "borrowed"),
    ("C", "Bb", "major", "borrowed"),
    ("C", "A#", "major", "borrowed"),  # pitches are compared, not spellings
    ("C", "C", "sus4", "own"),
    ("C", "B", "5", "outside"),
    ("C", "E", "5", "own"),
    ("G", "F", "major", "borrowed"),
    ("A minor", "E", "major", "own"),
    ("A minor", "E", "minor", "own"),
    ("A minor", "A", "major", "borrowed"),
    ("A minor", "D", "major", "borrowed"),
    ("A minor", "Bb", "major", "outside"),
]


@pytest.mark.parametrize(("key", "root", "quality", "standing"), STANDINGS)
def test_standing(key, root, quality, standing):
    assert Key.parse(key).standing(root, quality) == standing


# key, numeral, symbol, numeral as written
NUMERALS = [
    ("C", "I", "C", "I"),
    ("G", "bVII", "F", "bVII"),
    ("G", "♭VII", "F", "bVII"),
    ("C", "iv", "Fm", "iv"),
    ("C", "V7", "G7", "V7"),
    ("C", "I7", "C7", "I7"),
    ("C", "ii7", "Dm7", "ii7"),
    ("C", "IVmaj7", "Fmaj7", "IVmaj7"),
    ("C", "vii°", "Bdim", "viidim"),
    ("C", "viio7", "Bdim7", "viidim7"),
    ("C", "viiø", "Bm7b5", "viim7b5"),
    ("C", "iim7b5", "Dm7b5", "iim7b5"),
    ("C", "Isus4", "Csus4", "Isus4"),
    ("C", "V7sus4", "G7sus4", "V7sus4"),
    ("C", "#IV", "F#", "#IV"),
    ("F#", "bVII", "E", "bVII"),
    ("Gb", "bVI", "Ebb", "bVI"),
    ("C", "V/V", "D", "V/V"),
    ("C", "V7/vi", "E7", "V7/vi"),
    ("C", "viio7/V", "F#dim7", "viidim7/V"),
    ("A minor", "i", "Am", "i"),
    ("A minor", "V7", "E7", "V7"),
    ("A minor", "v", "Em", "v"),
    ("A minor", "VI", "F", "VI"),
    ("A minor", "bVI", "F", "VI"),
    ("A minor", "bVII", "G", "VII"),
    ("A minor", "viidim", "G#dim", "viidim"),
    ("A minor", "#vi", "F#m", "#vi"),
    ("D minor", "iiø7", "Em7b5", "iim7b5"),
]


@pytest.mark.parametrize(("key", "text", "symbol", "written"), NUMERALS)
def test_numerals(key, text, symbol, written):
    found = Key.parse(key).numeral(text)
    assert (found.symbol, found.numeral) == (symbol, written)


def test_i_bvii_iv_can_be_typed():
    assert [Key("D").numeral(text).symbol for text in ["I", "bVII", "IV"]] == ["D", "C", "G"]


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_numeral_reads_what_own_chords_write(key):
    for chord in key.own_chords():
        assert key.numeral(chord.numeral) == chord
        assert key.numeral_of(chord.root, chord.quality) == chord.numeral


@given(st.sampled_from(KEYS), st.integers(0, 11), st.sampled_from(sorted(QUALITIES)))
def test_numeral_of_is_read_back_for_every_chord(key, pitch_class, quality):
    root = key.spell_root(pitch_class, quality)
    found = key.numeral(key.numeral_of(root, quality))
    assert (found.root, found.quality) == (root, quality)


def test_numerals_in_print():
    key = Key("C")
    assert [key.numeral(text).unicode for text in ("bVII", "viio", "iiø7", "I+")] == [
        "♭VII",
        "vii°",
        "iiø7",
        "I+",
    ]


# numeral, position of the character that cannot be read
BAD_NUMERALS = [
    ("", 0),
    ("H", 0),
    ("VIII", 3),
    ("V77", 2),
    ("bx", 1),
    ("bbbI", 2),
    ("V7/IVxyz", 5),
    (" V7/bVII7x", 9),
    ("iimaj", 5),
    ("I/V", 0),
    ("V" * 50, 40),
]


@pytest.mark.parametrize(("text", "position"), BAD_NUMERALS)
def test_bad_numerals_point_at_the_character(text, position):
    with pytest.raises(NumeralError) as caught:
        Key("C").numeral(text)
    assert caught.value.position == position


@pytest.mark.parametrize("key", KEYS, ids=str)
def test_spelling_keeps_the_scale_and_names_every_pitch(key):
    assert [key.spell(note.pitch_class) for note in key.scale] == list(key.scale)
    assert [key.spell(pitch).pitch_class for pitch in range(12)] == list(range(12))


def test_spelling_outside_the_scale():
    assert names(Key("C").spell(pitch) for pitch in (1, 3, 6, 8, 10)) == "Db Eb F# Ab Bb"
    assert names(Key("A", "minor").spell(pitch) for pitch in (8, 6, 10)) == "G# F# Bb"
    assert str(Key("E").spell(Note("Ab"))) == "G#"
    assert str(Key("C").spell_root(8, "dim7")) == "G#"  # leads to A
    assert str(Key("C").spell_root(8, "major")) == "Ab"


def attempt(call, *args):
    """The TheoryError that a call raises, or None; any other exception goes through."""
    try:
        call(*args)
    except TheoryError as error:
        return error
    return None


@given(st.text(max_size=50))
def test_any_text_is_a_key_or_a_theory_error(text):
    error = attempt(Key.parse, text)
    assert error is None or (isinstance(error, KeyNameError) and str(error))


@given(st.sampled_from(KEYS), st.one_of(st.text(max_size=50), st.text("bIViv#/7odimaj+ø", max_size=9)))
def test_any_text_is_a_numeral_or_an_error_with_a_position(key, text):
    error = attempt(key.numeral, text)
    if isinstance(error, NumeralError):
        assert 0 <= error.position <= len(text)
    else:  # or a target so far out that its dominant cannot be spelled
        assert error is None or isinstance(error, NoteError)


@pytest.mark.parametrize("value", [None, 5, 5.0, [], b"C", True])
def test_values_of_other_types_raise_theory_errors(value):
    for call in (Key.parse, Key, lambda v: Key("C", v), Key("C").numeral, Key("C").standing):
        with pytest.raises(TheoryError):
            call(value)
    with pytest.raises(TheoryError):
        Key("C").spell("C" if value is None else str(value))
