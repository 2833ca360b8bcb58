"""Major and minor keys: signature, scale, own chords, numerals, and how a pitch is spelled in a key.

Conventions
-----------
- 30 keys are written: C and A minor, and up to seven sharps or seven flats.
- A signature is a whole number: sharps count up, flats down (E major 4, F minor -4).
- The minor scale is the natural minor. A minor key's own chords are the natural minor's and, of the harmonic
  minor, V, V7 and vii-dim: A minor has E, E7 and G# diminished.
- Numerals stand for the major scale's degrees in a major key and for the natural minor's in a minor key; #
  and b move them (bVII of C is B-flat). In a minor key bIII, bVI and bVII are read as III, VI and VII, as
  players say them, and a diminished vii stands on the raised seventh degree.
- Capitals are major, small letters minor. What follows is read as in a chord symbol: V7, iim7b5, IVmaj7,
  Isus4; a bare 7 is the minor seventh above the root, so I7 is a dominant seventh and ii7 a minor seventh.

References
----------
Key signatures and the circle of fifths, own chords, borrowed chords in daily use (bVII and iv in major):
common practice, no source. Altered notes are spelled from five fifths below the tonic to six above it, so
that in C they are Db Eb F# Ab Bb: the harmonic chromatic scale, from memory.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Literal

from studio.theory.chords import LONGEST, Chord, ChordSymbolError, quality, read_suffix
from studio.theory.errors import NoteError, TheoryError
from studio.theory.pitch import Note

__all__ = ["KEYS", "Key", "KeyChord", "KeyNameError", "NumeralError", "Standing"]

Mode = Literal["major", "minor"]
Standing = Literal["own", "borrowed", "outside"]

_FIFTHS = "FCGDAEB"  # the order in which sharps are added to a signature
_SCALE = {"major": ("1", "2", "3", "4", "5", "6", "7"), "minor": ("1", "2", "b3", "4", "5", "b6", "b7")}
_LEADING = ("dim", "dim7", "m7b5")  # chords that lead a half step up
_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")


class KeyNameError(TheoryError):
    """A text that names no key, or a key that nobody writes (more than seven sharps or flats)."""


class NumeralError(TheoryError):
    """A numeral that cannot be read. text : what was typed. position : int, index of the first unreadable
    character. reason : why, as a phrase.
    """

    text: str
    position: int
    reason: str

    def __init__(self, text: str, position: int, reason: str) -> None:
        self.text = text
        self.position = position
        self.reason = reason
        at = repr(text[position]) if position < len(text) else "the end"
        super().__init__(
            "The numeral {text!r} cannot be read at {at}: {reason}.",
            code="numeral",
            text=text[:LONGEST],
            at=at,
            reason=reason,
        )


@dataclass(frozen=True, slots=True)
class KeyChord:
    """A chord as it stands in a key: its numeral, its root (no octave), the id of its quality.

    numeral : as written here (V7, bVII, iim7b5).  standing : "own", "borrowed" or "outside".
    """

    numeral: str
    root: Note
    quality: str
    standing: Standing = "own"

    @property
    def chord(self) -> Chord:
        """The same as a plain chord."""
        return Chord(self.root, self.quality)

    @property
    def symbol(self) -> str:
        """The chord symbol: "Bm7b5"."""
        return self.chord.symbol

    @property
    def tones(self) -> tuple[Note, ...]:
        """Its notes in stacking order, spelled by degree."""
        return self.chord.tones

    @property
    def unicode(self) -> str:
        """The numeral for print: "♭VII", "vii°", "iiø7"."""
        text = self.numeral.replace("m7b5", "ø7").replace("dim", "°").replace("aug", "+")
        return text.replace("#", "♯").replace("b", "♭")


_NAME = r"\s*(?P<tonic>[A-Ga-g])\s*-?\s*(?P<sign>flat|sharp|b|#|♭|♯)?\s*-?\s*(?P<mode>[A-Za-z]*|-)\s*"
_MODES = {"": "major", "M": "major", "maj": "major", "major": "major", "dur": "major"}
_MODES |= {"m": "minor", "-": "minor", "min": "minor", "minor": "minor", "moll": "minor"}


@dataclass(frozen=True)
class Key:
    """A major or minor key.

    tonic : Note or its name, without octave.  mode : "major" or "minor".
    Raises KeyNameError for any other mode and for a key of more than seven sharps or flats, naming its other
    spelling.

    >>> str(Key("A", "minor")), Key.parse("Bb").signature, [str(note) for note in Key.parse("F#m").scale]
    ('A minor', -2, ['F#', 'G#', 'A', 'B', 'C#', 'D', 'E'])
    """

    tonic: Note
    mode: Mode = "major"
    signature: int = field(init=False, compare=False)

    def __init__(self, tonic: str | Note, mode: str = "major") -> None:
        try:
            note = Note(tonic).without_octave()
        except NoteError as error:
            raise KeyNameError(
                "{text} is no key: a key is a note from A to G and major or minor, like Bb major.",
                code="key-unknown",
                text=repr(tonic)[:LONGEST],
            ) from error
        if mode not in ("major", "minor"):
            raise KeyNameError("A key is major or minor, not {mode}.", code="key-mode", mode=repr(mode)[:LONGEST])
        signature = _fifths(note) - 1 - (3 if mode == "minor" else 0)
        if abs(signature) > 7:
            other = _other_spelling(note, mode)
            raise KeyNameError(
                "{key} would need {count} {signs}; it is written as {other}.",
                code="key-signature",
                key=f"{note} {mode}",
                count=abs(signature),
                signs="sharps" if signature > 0 else "flats",
                other=f"{other} {mode}",
            )
        put = object.__setattr__
        put(self, "tonic", note)
        put(self, "mode", mode)
        put(self, "signature", signature)

    @classmethod
    def parse(cls, text: str | Key) -> Key:
        """The key that a text names: "A minor", "Am", "F# minor", "Bb", "E flat major". A Key is handed back.

        A small letter alone does not make a minor key: "a" is A major, "am" A minor. Raises KeyNameError.
        """
        if isinstance(text, Key):
            return text
        return _parse_key(text) if isinstance(text, str) else cls(text)

    @cached_property
    def scale(self) -> tuple[Note, ...]:
        """Seven notes from the tonic up, one letter each (natural minor), without octaves."""
        return tuple(self.tonic.degree(name) for name in _SCALE[self.mode])

    @cached_property
    def signs(self) -> tuple[Note, ...]:
        """The sharps or flats of the signature in the order in which they are written."""
        count = abs(self.signature)
        if self.signature >= 0:
            return tuple(Note(letter + "#") for letter in _FIFTHS[:count])
        return tuple(Note(letter + "b") for letter in _FIFTHS[::-1][:count])

    @property
    def relative(self) -> Key:
        """The key of the same signature in the other mode: A minor for C major."""
        if self.mode == "major":
            return Key(self.tonic.degree("6"), "minor")
        return Key(self.tonic.degree("b3"), "major")

    @property
    def parallel(self) -> Key:
        """The key on the same tonic in the other mode, respelled where that would pass seven sharps or
        flats.
        """
        other = "minor" if self.mode == "major" else "major"
        try:
            return Key(self.tonic, other)
        except KeyNameError:
            return Key(_other_spelling(self.tonic, other), other)

    @cached_property
    def triads(self) -> tuple[KeyChord, ...]:
        """The seven triads on the scale's degrees, I to VII (natural minor in minor keys)."""
        return tuple(_stack(self, degree, 3) for degree in range(7))

    @cached_property
    def sevenths(self) -> tuple[KeyChord, ...]:
        """The seven seventh chords on the scale's degrees (natural minor in minor keys)."""
        return tuple(_stack(self, degree, 4) for degree in range(7))

    def own_chords(self) -> tuple[KeyChord, ...]:
        """The key's own chords: its triads, its sevenths and, in minor, the harmonic minor's V, V7 and
        vii-dim.

        >>> [chord.symbol for chord in Key("A", "minor").own_chords()[14:]]
        ['E', 'E7', 'G#dim']
        """
        return self._own

    @cached_property
    def _own(self) -> tuple[KeyChord, ...]:
        harmonic: tuple[KeyChord, ...] = ()
        if self.mode == "minor":
            dominant, leading = self.tonic.degree("5"), self.tonic.degree("7")
            harmonic = (
                KeyChord("V", dominant, "major"),
                KeyChord("V7", dominant, "7"),
                KeyChord("viidim", leading, "dim"),
            )
        return self.triads + self.sevenths + harmonic

    def standing(self, root: str | Note, quality_id: str = "major") -> Standing:
        """Whether a chord is the key's "own", "borrowed" from the parallel key, or "outside" both.

        Own are `own_chords()` and every chord whose notes all lie in the scale (Csus4, C5, C6 in C major).
        Borrowed are the same of the parallel key (Fm and Bb in C major). The root's spelling does not matter:
        pitches are compared.
        """
        pitch_class = Note(root).pitch_class
        return _standing(self, pitch_class, quality(quality_id).id)

    def contains(self, root: str | Note, quality_id: str = "major") -> bool:
        """Whether the chord is the key's own; `standing` also knows the borrowed ones."""
        return self.standing(root, quality_id) == "own"

    def spell(self, pitch: int | Note) -> Note:
        """The name that the key gives to a pitch, without octave.

        pitch : int, a pitch class or MIDI number (taken modulo 12), or a Note (respelled).
        Scale notes keep their names; altered ones lie from five fifths below the tonic to six above it.

        >>> str(Key("F").spell(10)), str(Key("E").spell(Note("Ab"))), str(Key("A", "minor").spell(8))
        ('Bb', 'G#', 'G#')
        """
        if isinstance(pitch, Note):
            return self._spelling[pitch.pitch_class]
        if isinstance(pitch, bool) or not isinstance(pitch, int):
            raise NoteError("{value} is no pitch; 0 is C, 11 is B.", code="pitch-class", value=repr(pitch)[:LONGEST])
        return self._spelling[pitch % 12]

    def spell_root(self, pitch: int | Note, quality_id: str = "major") -> Note:
        """The name that the key gives to a chord's root, without octave: as `spell` does, but a diminished
        chord (dim, dim7, m7b5) outside the scale is named as the half step below the scale note that it leads
        to.

        >>> str(Key("C").spell(8)), str(Key("C").spell_root(8, "dim7"))
        ('Ab', 'G#')
        """
        plain = self.spell(pitch)
        if quality(quality_id).id not in _LEADING or plain in self.scale:
            return plain
        above = self._spelling[(plain.pitch_class + 1) % 12]
        letter = "CDEFGAB"["CDEFGAB".index(above.letter) - 1]
        return Note.of(letter, (plain.pitch_class - Note(letter).pitch_class + 6) % 12 - 6)

    @cached_property
    def _spelling(self) -> tuple[Note, ...]:
        names: dict[int, Note] = {}
        home = _fifths(self.tonic)
        for place in range(home - 5, home + 7):
            letter = _FIFTHS[place % 7]
            note = Note.of(letter, place // 7)
            names[note.pitch_class] = note
        return tuple(names[pitch_class] for pitch_class in range(12))

    def numeral(self, text: str) -> KeyChord:
        """The chord that a numeral stands for in this key: `V7`, `bVII`, `iv`, `viidim`, `ii7`, `V7/V`.

        Raises NumeralError, whose position points at the character that cannot be read.

        >>> Key("C").numeral("bVII").symbol, Key("C").numeral("iv").standing
        ('Bb', 'borrowed')
        >>> Key("A", "minor").numeral("V7").symbol
        'E7'
        """
        if not isinstance(text, str):
            raise NumeralError(repr(text)[:LONGEST], 0, "a numeral is a text such as V7")
        if len(text) > LONGEST:
            raise NumeralError(text, LONGEST, f"no numeral is longer than {LONGEST} characters")
        return _read_numeral(self, text)

    def numeral_of(self, root: str | Note, quality_id: str = "major") -> str:
        """The numeral of a chord in this key, as `numeral` reads it back: "vi", "bVII", "V7"."""
        return _numeral_of(self, self.spell_root(Note(root), quality(quality_id).id), quality_id)

    def __str__(self) -> str:
        return f"{self.tonic} {self.mode}"


def _fifths(note: Note) -> int:
    """Place on the line of fifths, F = 0, C = 1, F# = 7, Bb = -1."""
    return _FIFTHS.index(note.letter) + 7 * note.accidental


def _other_spelling(note: Note, mode: str) -> Note:
    """The spelling of a tonic that has at most seven sharps or flats."""
    home = 4 if mode == "minor" else 1
    place = (_fifths(note) - home + 5) % 12 - 5 + home
    return Note.of(_FIFTHS[place % 7], place // 7)


@lru_cache(maxsize=256)
def _parse_key(text: str) -> Key:
    match = re.fullmatch(_NAME, text)
    word = match.group("mode") if match else ""
    mode = _MODES.get(word) or _MODES.get(word.lower())
    if match is None or mode is None:
        raise KeyNameError(
            "{text!r} is no key: write a note from A to G and major or minor, like Bb major or F# minor.",
            code="key-unknown",
            text=text[:LONGEST],
        )
    sign = {"flat": "b", "sharp": "#"}.get(match.group("sign") or "", match.group("sign") or "")
    return Key(match.group("tonic").upper() + sign, mode)


# Triads and sevenths that stacked thirds of a scale can make, by their semitones above the root.
_STACKS = {
    (0, 4, 7): "major", (0, 3, 7): "minor", (0, 3, 6): "dim",
    (0, 4, 7, 11): "maj7", (0, 4, 7, 10): "7", (0, 3, 7, 10): "m7", (0, 3, 6, 10): "m7b5",
}  # fmt: skip


def _stack(key: Key, degree: int, count: int) -> KeyChord:
    """The chord of `count` thirds' notes on a scale degree, 0 to 6."""
    notes = [key.scale[(degree + 2 * third) % 7] for third in range(count)]
    root = notes[0]
    built = _STACKS[tuple((note.pitch_class - root.pitch_class) % 12 for note in notes)]
    return KeyChord(_written(degree, "", built), root, built)


def _written(degree: int, sign: str, quality_id: str) -> str:
    """A numeral as text: capitals for chords with a major third or none, small letters for a minor third."""
    found = quality(quality_id)
    if not found.is_minor:
        return sign + _ROMAN[degree] + found.suffix
    # "m" is said by the small letters, but m7b5 would lose its meaning without it.
    suffix = found.suffix if quality_id in _LEADING else found.suffix[1:]
    return sign + _ROMAN[degree].lower() + suffix


def _numeral_of(key: Key, root: Note, quality_id: str) -> str:
    steps = ("CDEFGAB".index(root.letter) - "CDEFGAB".index(key.tonic.letter)) % 7
    leading = key.mode == "minor" and steps == 6 and quality_id in _LEADING
    home = key.tonic.degree("7") if leading else key.scale[steps]
    off = root.accidental - home.accidental
    return _written(steps, "#" * off if off > 0 else "b" * -off, quality_id)


_SIGN = r"(?P<sign>[#♯]{1,2}|[b♭]{1,2})?"
_NUMERAL = _SIGN + r"(?P<roman>VII|VI|V|IV|III|II|I|vii|vi|v|iv|iii|ii|i)"


@lru_cache(maxsize=4096)
def _read_numeral(key: Key, text: str) -> KeyChord:
    start = len(text) - len(text.lstrip())
    end = len(text.rstrip())
    stroke = text.rfind("/")
    target: KeyChord | None = None
    if stroke > 0 and re.compile(_NUMERAL).match(text, stroke + 1) is not None:
        try:
            target = _read_numeral(key, text[stroke + 1 :])
        except NumeralError as error:
            raise NumeralError(text, stroke + 1 + error.position, error.reason) from None
        end = stroke
        if target.root.pitch_class == key.tonic.pitch_class:
            target = None  # V/I is V
    match = re.compile(_NUMERAL).match(text, start)
    if match is None:
        signed = re.compile(_SIGN).match(text, start)
        begin = start if signed is None else signed.end()
        raise NumeralError(text, begin, "a numeral from I to VII is expected, with b or # before it if needed")
    sign = (match.group("sign") or "").replace("♯", "#").replace("♭", "b")
    roman = match.group("roman")
    degree = _ROMAN.index(roman.upper())
    found = _numeral_quality(text, match.end(), end, roman.islower())
    if target is not None:
        return _secondary(key, text, sign + roman, degree, found, target)
    home = key.scale[degree]
    if key.mode == "minor":
        if sign == "b" and degree in (2, 5, 6):
            sign = ""  # players count bIII, bVI and bVII from the major scale
        elif not sign and degree == 6 and found in _LEADING:
            home = key.tonic.degree("7")
    root = Note.of(home.letter, home.accidental + sign.count("#") - sign.count("b"))
    return KeyChord(_numeral_of(key, root, found), root, found, key.standing(root, found))


def _numeral_quality(text: str, begin: int, end: int, small: bool) -> str:
    """The quality that the case and the rest of a numeral give."""
    rest = text[begin:end].strip()
    try:
        if small and not rest.startswith(("m", "-", "o", "°", "ø", "Ø", "dim", "sus", "h")):
            return read_suffix("m" + rest, 0, len(rest) + 1)
        if small and rest.startswith(("maj", "maj7")):
            return read_suffix("m" + rest, 0, len(rest) + 1)
        return read_suffix(text, begin, end)
    except ChordSymbolError as error:
        shift = begin - 1 if error.text != text else 0
        raise NumeralError(text, min(error.position + shift, len(text)), error.reason) from None


def _secondary(key: Key, text: str, written: str, degree: int, found: str, target: KeyChord) -> KeyChord:
    """The dominant (V, V7) or leading-note chord (viidim, viidim7, viim7b5) of another chord of the key."""
    if written == "V" and found in ("major", "7"):
        root = target.root.degree("5")
    elif written == "vii" and found in _LEADING:
        root = target.root.degree("7")
    else:
        raise NumeralError(text, 0, "before a stroke stands V, V7 or a diminished vii")
    bare = re.match(r"[#b]*[IViv]+", target.numeral)
    name = f"{_written(degree, '', found)}/{bare.group() if bare else target.numeral}"
    return KeyChord(name, root, found, key.standing(root, found))


@lru_cache(maxsize=8192)
def _standing(key: Key, pitch_class: int, quality_id: str) -> Standing:
    if _owns(key, pitch_class, quality_id):
        return "own"
    return "borrowed" if _owns(key.parallel, pitch_class, quality_id) else "outside"


def _owns(key: Key, pitch_class: int, quality_id: str) -> bool:
    scale = {note.pitch_class for note in key.scale}
    if all((pitch_class + semitones) % 12 in scale for semitones in quality(quality_id).semitones):
        return True
    return any(chord.quality == quality_id and chord.root.pitch_class == pitch_class for chord in key.own_chords())


#: The 30 keys, majors then minors, from seven flats to seven sharps.
KEYS: tuple[Key, ...] = tuple(
    Key(Note.of(_FIFTHS[place % 7], place // 7), mode)
    for mode, home in (("major", 1), ("minor", 4))
    for place in range(home - 7, home + 8)
)
