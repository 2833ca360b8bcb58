"""Chord symbols: read, written, and blamed at the right character. Spellings: common practice, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.theory.chords import (
    QUALITIES,
    Chord,
    ChordSymbolError,
    chord_symbol,
    chord_tones,
    common_root,
    quality,
    quality_of_kind,
    read_chord,
    read_harte,
    read_symbol,
)
from studio.theory.errors import TheoryError
from studio.theory.pitch import DEGREES, Note

ROOTS = [letter + sign for letter in "ABCDEFG" for sign in ("", "#", "b")]
CHORDS = st.builds(
    Chord.of, st.sampled_from(ROOTS), st.sampled_from(sorted(QUALITIES)), st.none() | st.sampled_from(ROOTS)
)

# what people write, symbol here
READINGS = [
    ("Bm", "Bm"),
    ("B-", "Bm"),
    ("Bmin", "Bm"),
    ("bm", "Bm"),
    ("B minor", "Bm"),
    ("BMIN", "Bm"),
    ("B Minor", "Bm"),
    ("F#m7b5", "F#m7b5"),
    ("F♯m7♭5", "F#m7b5"),
    ("F#ø", "F#m7b5"),
    ("F#ø7", "F#m7b5"),
    ("F#m7(b5)", "F#m7b5"),
    ("F#-7b5", "F#m7b5"),
    ("Bb7", "Bb7"),
    ("b♭7", "Bb7"),
    ("B flat 7", "Bb7"),
    ("Ebmaj7", "Ebmaj7"),
    ("E♭Δ", "Ebmaj7"),
    ("EbM7", "Ebmaj7"),
    ("EbMaj7", "Ebmaj7"),
    ("E♭△7", "Ebmaj7"),
    ("E flat major seventh", "Ebmaj7"),
    ("Csus4", "Csus4"),
    ("Csus", "Csus4"),
    ("Csus2", "Csus2"),
    ("A7sus4", "A7sus4"),
    ("A7sus", "A7sus4"),
    ("D/F#", "D/F#"),
    ("D / F#", "D/F#"),
    ("Am/G", "Am/G"),
    ("C6/9", "C6/9"),
    ("C6/9/E", "C6/9/E"),
    ("Cm/maj7", "Cm(maj7)"),
    ("CmM7", "Cm(maj7)"),
    ("C-Δ", "Cm(maj7)"),
    ("Cm(maj7)/Eb", "Cm(maj7)/Eb"),
    ("C", "C"),
    ("CM", "C"),
    ("CMadd9", "Cadd9"),  # never lower-cased into a minor chord
    ("CMAJ7", "Cmaj7"),
    ("CMin7", "Cm7"),
    ("CmMaj7", "Cm(maj7)"),
    ("Cmaj", "C"),
    ("C/C", "C"),
    ("C°", "Cdim"),
    ("Co7", "Cdim7"),
    ("Cdim7", "Cdim7"),
    ("C+", "Caug"),
    ("Caug", "Caug"),
    ("C+7", "C7#5"),
    ("C7#5", "C7#5"),
    ("C7+9", "C7#9"),
    ("C7-9", "C7b9"),
    ("C5", "C5"),
    ("Ab5", "Ab5"),
    ("G power chord", "G5"),
    ("C2", "Cadd9"),
    ("Cadd9", "Cadd9"),
    ("Cm(add9)", "Cm(add9)"),
    ("Cm6", "Cm6"),
    ("C-6", "Cm6"),
    ("C6", "C6"),
    ("C9", "C9"),
    ("Cm9", "Cm9"),
    ("Cmaj9", "Cmaj9"),
    (" Dm7 ", "Dm7"),
]


@pytest.mark.parametrize(("text", "symbol"), READINGS)
def test_symbols_as_people_write_them(text, symbol):
    assert read_symbol(text).symbol == symbol


# Harte syntax (ISMIR 2005), symbol here
HARTE = [
    ("C", "C"),
    ("B:min", "Bm"),
    ("F#:hdim7", "F#m7b5"),
    ("D:maj/3", "D/F#"),
    ("A:min/b7", "Am/G"),
    ("C:(3,5)", "C"),
    ("C:maj(*3)", "C5"),
    ("C:7(*5,5)", "C7"),
    ("C:sus4(b7)", "C7sus4"),
    ("Db:minmaj7", "Dbm(maj7)"),
    ("C:maj6(9)", "C6/9"),
    ("Bb:7(#9)", "Bb7#9"),
    ("C:maj/2", "C/D"),
    ("C:maj/9", "C/D"),
    ("Cb:maj/5", "Cb/Gb"),
]


@pytest.mark.parametrize(("text", "symbol"), HARTE)
def test_harte(text, symbol):
    assert read_harte(text).symbol == symbol
    assert read_chord(text).symbol == symbol


@given(CHORDS)
def test_writing_is_the_inverse_of_reading(chord):
    assert read_symbol(chord.symbol) == chord
    assert read_harte(chord.harte) == chord
    assert read_chord(chord.symbol) == read_chord(chord.harte) == chord
    assert str(chord) == chord_symbol(chord.root, chord.quality, chord.bass)


@pytest.mark.parametrize("entry", QUALITIES.values(), ids=lambda entry: entry.id)
def test_a_quality_is_found_by_its_words_its_suffix_and_its_kind(entry):
    assert read_symbol(f"D{entry.suffix}").quality == entry.id
    assert read_symbol(f"D {entry.name}").quality == entry.id
    assert quality_of_kind(entry.kind, entry.kind_degrees) is entry
    assert Chord.of("D", entry.id).name == f"D {entry.name}"


# text, position of the first character that cannot be read
UNREADABLE = [
    ("", 0),
    ("   ", 3),
    ("H", 0),
    ("7", 0),
    ("Cmaj77", 5),
    ("Cm7b", 4),
    ("C/", 2),
    ("C/H", 2),
    ("Cfoo/E", 1),
    ("Am/Gx2", 5),
    ("C♭♭♭", 3),
    ("Csus5", 4),
    ("Cm13", 2),
    ("C" * 50, 40),
    ("C:foo", 2),
    ("C:maj(", 6),
    ("C:maj(b3", 8),
    ("C:maj(*b3)", 6),
    ("N", 0),
    ("C:maj/x", 6),
    ("C:maj7)", 6),
    ("C:(b2,4)", 2),
    ("Cadd9 and so on", 6),
]


@pytest.mark.parametrize(("text", "position"), UNREADABLE)
def test_errors_point_at_the_character(text, position):
    with pytest.raises(ChordSymbolError) as caught:
        read_harte(text) if text == "N" else read_chord(text)
    assert caught.value.position == position
    assert isinstance(caught.value, TheoryError)
    assert f"character {position + 1}" in str(caught.value)


def attempt(call, *args):
    """What a call gives and the TheoryError it raised; any other exception goes through."""
    try:
        return call(*args), None
    except TheoryError as error:
        return None, error


SYMBOLISH = st.text("ABCDEFGHabm7b#♭♯Δø°+-/()sudi24569:*,N maj", max_size=14)


@given(st.one_of(st.text(max_size=60), SYMBOLISH))
def test_any_text_is_a_chord_or_an_error_with_a_position(text):
    for read in (read_chord, read_symbol, read_harte):
        chord, error = attempt(read, text)
        if error is None:
            assert read_symbol(chord.symbol) == chord
        else:
            assert isinstance(error, ChordSymbolError)
            assert 0 <= error.position <= len(text)


@pytest.mark.parametrize("value", [None, 7, 1.5, [], b"Am", object()])
def test_values_of_other_types_raise_theory_errors(value):
    for call in (read_chord, read_symbol, read_harte, quality, quality_of_kind, common_root, Chord.of):
        with pytest.raises(TheoryError):
            call(value if call is not common_root or value != 7 else "7")
    with pytest.raises(TheoryError):
        chord_tones("C", value)


@pytest.mark.parametrize(
    ("root", "name", "notes"),
    [
        ("Db", "minor", "Db Fb Ab"),  # issue 3: the third of D-flat minor is F-flat
        ("C", "dim7", "C Eb Gb Bbb"),
        ("F#", "7", "F# A# C# E"),
        ("G#", "major", "G# B# D#"),
        ("Ab", "m7b5", "Ab Cb Ebb Gb"),
        ("E", "7#9", "E G# B D F##"),
    ],
)
def test_tones_are_spelled_by_their_degree(root, name, notes):
    assert " ".join(str(note) for note in chord_tones(root, name)) == notes


@given(st.sampled_from(ROOTS), st.sampled_from(sorted(QUALITIES)))
def test_tones_lie_where_letters_and_semitones_say(root, name):
    base = Note(root)
    for note, degree in zip(chord_tones(root, name), QUALITIES[name].degrees, strict=True):
        steps, semitones = DEGREES[degree]
        assert ("CDEFGAB".index(note.letter) - "CDEFGAB".index(base.letter)) % 7 == steps
        assert (note.pitch_class - base.pitch_class) % 12 == semitones


def test_roots_without_a_key():
    # FACTS.md section 1 (common practice, no source)
    assert [str(common_root(pc, "7")) for pc in (1, 3, 6, 8, 10)] == ["Db", "Eb", "F#", "Ab", "Bb"]
    assert [str(common_root(pc, "m7")) for pc in (1, 3, 6, 8, 10)] == ["C#", "Eb", "F#", "G#", "Bb"]
    assert str(common_root(15)) == "Eb"
