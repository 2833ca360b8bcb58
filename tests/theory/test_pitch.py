"""Notes: spelling, pitch, degrees and the alphabet along a string."""

import copy
import pickle
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.theory import DEGREES, Note, TheoryError, alphabet, common_note
from studio.theory.errors import NoteError
from studio.theory.pitch import MAJOR_ROOTS, MINOR_ROOTS, fret_of, hz

spelled = st.builds(
    Note.of,
    st.sampled_from("ABCDEFG"),
    st.integers(-4, 4),
    st.one_of(st.none(), st.integers(0, 8)),
)


@pytest.mark.parametrize(
    ("text", "name", "pitch_class", "octave"),
    [
        ("C", "C", 0, None),
        ("F#", "F#", 6, None),
        ("Gb", "Gb", 6, None),
        ("f#", "F#", 6, None),
        ("bb", "Bb", 10, None),
        ("B♭", "Bb", 10, None),
        ("F♯", "F#", 6, None),
        ("Fx", "F##", 7, None),
        ("G𝄪", "G##", 9, None),
        ("A𝄫", "Abb", 7, None),
        ("E♮", "E", 4, None),
        (" Cb4 ", "Cb", 11, 4),
        ("E-1", "E", 4, -1),
    ],
)
def test_reading(text, name, pitch_class, octave):
    note = Note(text)
    assert (str(note), note.pitch_class, note.octave) == (name, pitch_class, octave)
    assert Note.parse(text) == note


@pytest.mark.parametrize(
    "text", ["", "H", "F#b", "#F", "Bm", "C##b", "C#####", "C10", "C44", "é", "C 4", None, 3, 2.5, [], {}]
)
def test_what_is_no_note(text):
    with pytest.raises(NoteError):
        Note(text)


def test_the_message_names_what_was_typed():
    with pytest.raises(NoteError, match="'H' is not the name of a note"):
        Note("H")


@given(spelled)
def test_writing_and_reading_are_inverses(note):
    assert Note(note.full) == note
    assert Note(note.unicode, note.octave) == note
    assert Note(note) == note
    assert pickle.loads(pickle.dumps(note)) == note == copy.deepcopy(note)
    assert hash(Note(note.full)) == hash(note)


def test_spelling_decides_equality_and_pitch_does_not():
    assert Note("D#") != Note("Eb")
    assert Note("D#").enharmonic(Note("Eb"))
    assert Note("E4") != Note("E")
    assert len({Note("D#"), Note("Eb"), Note("D#")}) == 2


def test_notes_are_frozen():
    with pytest.raises(AttributeError):
        Note("C").letter = "D"


@pytest.mark.parametrize(
    ("text", "midi"), [("C4", 60), ("A4", 69), ("E2", 40), ("B#3", 60), ("Cb4", 59), ("C-1", 0), ("G9", 127)]
)
def test_midi(text, midi):
    assert Note(text).midi == midi
    assert Note(text).without_octave().at_midi(midi) == Note(text)


def test_a4_is_440_hz():
    assert Note("A4").hz == hz(69) == 440.0


@pytest.mark.parametrize("text", ["C", "Cb-1", "A9"])
def test_no_midi_number(text):
    with pytest.raises(NoteError):
        _ = Note(text).midi


def test_at_midi_refuses_another_pitch():
    with pytest.raises(NoteError):
        Note("C").at_midi(61)


@given(st.sampled_from(sorted(DEGREES)), st.sampled_from([n + s for n in "ABCDEFG" for s in ("", "#", "b")]))
def test_a_degree_has_its_letter_and_its_pitch(degree, root):
    steps, semitones = DEGREES[degree]
    note = Note(root).degree(degree)
    assert "CDEFGAB".index(note.letter) == ("CDEFGAB".index(root[0]) + steps) % 7
    assert note.pitch_class == (Note(root).pitch_class + semitones) % 12
    assert note.octave is None


def test_the_third_of_d_flat_minor_is_f_flat():
    assert [str(Note("Db").degree(d)) for d in ("1", "b3", "5", "bb7")] == ["Db", "Fb", "Ab", "Cbb"]


@pytest.mark.parametrize("degree", ["", "8", "b1", None, 3])
def test_no_degree(degree):
    with pytest.raises(NoteError):
        Note("C").degree(degree)


def test_common_names():
    # Common practice, no source.
    assert [str(common_note(pc)) for pc in (1, 3, 6, 8, 10)] == ["Db", "Eb", "F#", "Ab", "Bb"]
    assert [str(common_note(pc, minor=True)) for pc in (1, 3, 6, 8, 10)] == ["C#", "Eb", "F#", "G#", "Bb"]
    for row in (MAJOR_ROOTS, MINOR_ROOTS):
        assert [Note(name).pitch_class for name in row] == list(range(12))


def test_the_alphabet_along_the_sixth_string():
    # Common practice, no source: naturals lie two frets apart except B-C and E-F.
    steps = alphabet(40, 12)
    assert [(s.fret, str(s.note)) for s in steps] == [
        (0, "E"), (1, "F"), (3, "G"), (5, "A"), (7, "B"), (8, "C"), (10, "D"), (12, "E"),
    ]  # fmt: skip
    assert all(s.note.midi == 40 + s.fret for s in steps)


@given(st.integers(20, 80), st.integers(1, 24))
def test_naturals_are_one_or_two_frets_apart(open_midi, last):
    steps = alphabet(open_midi, last)
    for one, two in pairwise(steps):
        half = (one.note.letter, two.note.letter) in (("B", "C"), ("E", "F"))
        assert two.fret - one.fret == (1 if half else 2)


@pytest.mark.parametrize(("midi", "fret"), [(40, -1), (40, 99), ("E", 3), (127, 12), (-1, 3)])
def test_no_string_to_walk(midi, fret):
    with pytest.raises(NoteError):
        alphabet(midi, fret)


@given(st.integers(20, 80), st.sampled_from(MAJOR_ROOTS), st.integers(0, 12))
def test_fret_of(open_midi, name, start):
    fret = fret_of(open_midi, name, start)
    assert start <= fret < start + 12
    assert (open_midi + fret) % 12 == Note(name).pitch_class


@given(st.text(max_size=8))
def test_any_text_is_a_note_or_a_theory_error(text):
    try:
        note = Note(text)
    except TheoryError:
        return
    assert Note(note.full) == note
