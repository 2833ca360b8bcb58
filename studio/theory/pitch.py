"""Notes with their spelling, and the musical alphabet along a string.

A pitch can be written in several ways (the note between D and E is D-sharp or E-flat); which one is right
depends on the key or the chord, so a `Note` keeps its letter and its accidental and never only a number.

Conventions
-----------
- Pitch classes count semitones from C: C = 0, B = 11.
- Octaves are scientific: middle C is C4 = MIDI 60, and the octave belongs to the letter (B#3 sounds as C4).
- Frequencies are in Hz, equal temperament, A4 = 440 Hz.
- Accidentals are written in ASCII (`#`, `b`) and read in ASCII, as `x` or in Unicode.
- A degree names an interval above a root the way chords are taught: "b3" is the minor third, "bb7" the
  diminished seventh. It fixes letter and pitch together.

References
----------
ISO 16:1975, Standard tuning frequency (A4 = 440 Hz); MIDI note numbers with A4 = 69, so that
f = 440 * 2 ** ((m - 69) / 12).  The half steps B-C and E-F: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from types import MappingProxyType
from typing import NamedTuple, TypeGuard

from studio.theory.errors import NoteError, TheoryError

__all__ = [
    "DEGREES",
    "LETTERS",
    "MAJOR_ROOTS",
    "MINOR_ROOTS",
    "NATURALS",
    "Note",
    "NoteError",
    "Step",
    "TheoryError",
    "alphabet",
    "common_note",
    "fret_of",
    "hz",
]

LETTERS = "CDEFGAB"
NATURALS: Mapping[str, int] = MappingProxyType({"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11})
MAX_ACCIDENTALS = 4  # a diminished seventh above a double-flatted root needs four

#: degree -> (letters above the root, semitones above the root)
DEGREES: Mapping[str, tuple[int, int]] = MappingProxyType(
    {
        "1": (0, 0),
        "b2": (1, 1),
        "2": (1, 2),
        "#2": (1, 3),
        "b3": (2, 3),
        "3": (2, 4),
        "b4": (3, 4),
        "4": (3, 5),
        "#4": (3, 6),
        "b5": (4, 6),
        "5": (4, 7),
        "#5": (4, 8),
        "b6": (5, 8),
        "6": (5, 9),
        "bb7": (6, 9),
        "b7": (6, 10),
        "7": (6, 11),
        "b9": (1, 1),
        "9": (1, 2),
        "#9": (1, 3),
        "11": (3, 5),
        "#11": (3, 6),
        "b13": (5, 8),
        "13": (5, 9),
    }
)

#: Without a key: the name with fewer accidentals; F#/Gb and Eb/D# minor are ties that custom settles.
#: Common practice, no source.
MAJOR_ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
MINOR_ROOTS = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")

_ACCIDENTAL = {
    "#": 1, "♯": 1, "x": 2, "𝄪": 2, "b": -1, "♭": -1, "𝄫": -2, "♮": 0,
}  # fmt: skip
_NOTE = re.compile(r"([A-Ga-g])([#♯x𝄪]*|[b♭𝄫]*|♮)(-?\d+)?")
_NUMBER = re.compile(r"-?[0-9]{1,2}")


@lru_cache(maxsize=1024)
def _parse(text: str) -> tuple[str, int, int | None]:
    match = _NOTE.fullmatch(text.strip())
    if match is None:
        raise NoteError(
            "{text!r} is not the name of a note: write a letter from A to G, then # or b if needed, like F# or Bb.",
            code="note-unknown",
            text=text[:40],
        )
    letter, marks, octave = match.groups()
    return letter.upper(), sum(_ACCIDENTAL[mark] for mark in marks), _octave(octave) if octave else None


def _is_whole(value: object) -> TypeGuard[int]:
    return isinstance(value, int) and not isinstance(value, bool)


def _octave(value: object) -> int:
    if isinstance(value, str) and _NUMBER.fullmatch(value):
        value = int(value)
    if not _is_whole(value) or not -1 <= value <= 9:
        raise NoteError(
            "The octave {octave!r} is outside -1 to 9; middle C is C4.",
            code="note-octave",
            octave=str(value)[:20],
        )
    return value


@dataclass(frozen=True, slots=True, init=False, repr=False)
class Note:
    """A note as written: a letter, an accidental and, where it matters, an octave.

    name : text such as "F#", "Bb", "E♭", "Fx", "C#4", or another Note (copied).
    octave : int from -1 to 9, or None for a note without octave; replaces an octave in the name.

    Equality and hash follow the spelling: Note("D#") != Note("Eb"), though both have pitch class 3.
    `str(note)` is the letter and ASCII accidentals, without the octave; `note.full` adds it.
    Raises NoteError for anything else, with the text it was given.

    >>> str(Note("b♭")), Note("Bb").pitch_class, Note("E2").midi, round(Note("E2").hz, 3)
    ('Bb', 10, 40, 82.407)
    """

    letter: str
    accidental: int
    octave: int | None
    pitch_class: int = field(compare=False)

    def __init__(self, name: str | Note, octave: int | None = None) -> None:
        if isinstance(name, Note):
            letter, accidental, own = name.letter, name.accidental, name.octave
        elif isinstance(name, str):
            letter, accidental, own = _parse(name)
        else:
            raise NoteError("{text} is not the name of a note.", code="note-unknown", text=repr(name)[:40])
        if not -MAX_ACCIDENTALS <= accidental <= MAX_ACCIDENTALS:
            raise NoteError(
                "{text} has more than {limit} accidentals; use another name for the note.",
                code="note-accidentals",
                text=str(name)[:40],
                limit=MAX_ACCIDENTALS,
            )
        put = object.__setattr__
        put(self, "letter", letter)
        put(self, "accidental", accidental)
        put(self, "octave", own if octave is None else _octave(octave))
        put(self, "pitch_class", (NATURALS[letter] + accidental) % 12)

    @classmethod
    def parse(cls, text: str | Note) -> Note:
        """The note that `text` names; the same as `Note(text)`."""
        return cls(text)

    @classmethod
    def of(cls, letter: str, accidental: int = 0, octave: int | None = None) -> Note:
        """The note with this letter (C D E F G A B) and accidental (-4 to 4 semitones)."""
        known = isinstance(letter, str) and letter in NATURALS
        if not known or not _is_whole(accidental) or abs(accidental) > MAX_ACCIDENTALS:
            raise NoteError(
                "No note is written as {letter} with {count} accidentals.",
                code="note-unknown",
                letter=repr(letter)[:40],
                count=repr(accidental)[:40],
            )
        return cls(letter + ("#" * accidental if accidental > 0 else "b" * -accidental), octave)

    @property
    def accidentals(self) -> str:
        """The accidentals alone: "#", "##", "b", "bb" or nothing."""
        return "#" * self.accidental if self.accidental > 0 else "b" * -self.accidental

    @property
    def is_natural(self) -> bool:
        """Whether the note has no sharp and no flat."""
        return self.accidental == 0

    @property
    def full(self) -> str:
        """Name with the octave, where there is one: "F#4"."""
        return str(self) + ("" if self.octave is None else str(self.octave))

    @property
    def unicode(self) -> str:
        """Name with ♯ and ♭, for print."""
        return self.letter + self.accidentals.replace("#", "♯").replace("b", "♭")

    @property
    def midi(self) -> int:
        """MIDI number, A4 = 69.  Raises NoteError without an octave or outside 0 to 127."""
        if self.octave is None:
            raise NoteError("{note} needs an octave, like {note}3.", code="note-octave", note=str(self))
        number = 12 * (self.octave + 1) + NATURALS[self.letter] + self.accidental
        if not 0 <= number <= 127:
            raise NoteError("{note} lies outside the MIDI numbers 0 to 127.", code="note-octave", note=self.full)
        return number

    @property
    def hz(self) -> float:
        """Frequency in Hz, A4 = 440 Hz (ISO 16).  Raises NoteError without an octave."""
        return hz(self.midi)

    def degree(self, name: str) -> Note:
        """The note that is this degree above self as root, spelled with the degree's own letter, no octave.

        name : a key of DEGREES ("1", "b3", "5", "bb7", ...).  Raises NoteError for any other, and where
        the note would need more than four accidentals.

        >>> str(Note("Db").degree("b3"))
        'Fb'
        """
        if not isinstance(name, str) or name not in DEGREES:
            raise NoteError("{name} is not a degree of a chord.", code="degree-unknown", name=repr(name)[:40])
        return _degree(self.letter, self.accidental, name)

    def at_midi(self, midi: int) -> Note:
        """The same spelling in the octave in which it sounds as `midi`.

        midi : int, 0 to 127.  Raises NoteError outside them and when the pitch classes differ.

        >>> Note("B#").at_midi(60).full
        'B#3'
        """
        if not _is_whole(midi) or not 0 <= midi <= 127:
            raise NoteError("{midi} is no MIDI number from 0 to 127.", code="note-midi", midi=repr(midi)[:40])
        octave, rest = divmod(midi - NATURALS[self.letter] - self.accidental, 12)
        if rest:
            raise NoteError(
                "{note} is not the note with MIDI number {midi}.", code="note-midi", note=str(self), midi=midi
            )
        return Note(self, octave - 1)

    def enharmonic(self, other: Note) -> bool:
        """Whether both have the same pitch class ("one pitch, two names")."""
        return self.pitch_class == other.pitch_class

    def without_octave(self) -> Note:
        """The same spelling with no octave."""
        return self if self.octave is None else Note.of(self.letter, self.accidental)

    def __str__(self) -> str:
        return self.letter + self.accidentals

    def __repr__(self) -> str:
        return f"Note({self.full!r})"


@lru_cache(maxsize=4096)
def _degree(letter: str, accidental: int, name: str) -> Note:
    steps, semitones = DEGREES[name]
    place = LETTERS.index(letter) + steps
    natural = NATURALS[LETTERS[place % 7]] + 12 * (place // 7)
    return Note.of(LETTERS[place % 7], NATURALS[letter] + accidental + semitones - natural)


def hz(midi: int) -> float:
    """Frequency in Hz of a MIDI number: 440 * 2 ** ((midi - 69) / 12) (ISO 16, equal temperament)."""
    return float(440.0 * 2.0 ** ((midi - 69) / 12))


def common_note(pitch_class: int, minor: bool = False) -> Note:
    """The commoner name of a pitch class when no key decides (no octave).

    pitch_class : int, taken modulo 12.  minor : whether it is the root of a minor-like chord.
    Majors: Db Eb F# Ab Bb; minors: C# Eb F# G# Bb.  Common practice, no source.
    Raises NoteError for anything but a whole number.

    >>> str(common_note(1)), str(common_note(1, minor=True))
    ('Db', 'C#')
    """
    if not _is_whole(pitch_class):
        raise NoteError("{value} is no pitch class; 0 is C, 11 is B.", code="pitch-class", value=repr(pitch_class)[:40])
    return _COMMON_MINOR[pitch_class % 12] if minor else _COMMON_MAJOR[pitch_class % 12]


_COMMON_MAJOR = tuple(Note(name) for name in MAJOR_ROOTS)
_COMMON_MINOR = tuple(Note(name) for name in MINOR_ROOTS)


class Step(NamedTuple):
    """One natural note met on the way up a string: its fret (0 is the open string) and its note."""

    fret: int
    note: Note


def alphabet(open_midi: int, last_fret: int) -> tuple[Step, ...]:
    """The musical alphabet along a string: every natural note from the open string to `last_fret`.

    open_midi : MIDI number of the open string, 0 to 127.  last_fret : int, 0 to 36.
    Naturals lie two frets apart except B-C and E-F, which lie one apart.  Notes carry their octave.
    Raises NoteError outside these ranges.

    >>> [(step.fret, str(step.note)) for step in alphabet(40, 5)]
    [(0, 'E'), (1, 'F'), (3, 'G'), (5, 'A')]
    """
    for value in (open_midi, last_fret):
        if not _is_whole(value):
            raise NoteError("{value} is not a whole number.", code="fret", value=repr(value)[:40])
    if not 0 <= last_fret <= 36:
        raise NoteError("A string is walked from fret 0 to at most 36, not to {fret}.", code="fret", fret=last_fret)
    if not 0 <= open_midi <= 127 - last_fret:
        raise NoteError("{midi} is not the MIDI number of an open string.", code="note-midi", midi=open_midi)
    return _alphabet(open_midi, last_fret)


@lru_cache(maxsize=256)
def _alphabet(open_midi: int, last_fret: int) -> tuple[Step, ...]:
    steps = []
    for fret in range(last_fret + 1):
        note = common_note(open_midi + fret)
        if note.is_natural:
            steps.append(Step(fret, note.at_midi(open_midi + fret)))
    return tuple(steps)


def fret_of(open_midi: int, note: str | Note, from_fret: int = 0) -> int:
    """The first fret, `from_fret` or higher, at which a string gives this note in any octave.

    open_midi : MIDI number of the open string.  Raises NoteError for a note that is none.

    >>> fret_of(40, "B"), fret_of(45, "B")
    (7, 2)
    """
    wanted = Note(note).pitch_class
    if not (_is_whole(open_midi) and _is_whole(from_fret)):
        raise NoteError(
            "A string and a fret are whole numbers, not {midi} and {fret}.",
            code="fret",
            midi=repr(open_midi)[:20],
            fret=repr(from_fret)[:20],
        )
    return from_fret + (wanted - open_midi - from_fret) % 12
