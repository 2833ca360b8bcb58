"""Chord qualities as intervals, and chord symbols read and written.

A chord's tones are spelled by their interval above the root, so a quality is kept as the degrees that
teachers name: the third of D-flat minor is "b3", three semitones *and* two letters above D-flat, so it is
F-flat and never E.

Conventions
-----------
- A degree is a key of `pitch.DEGREES`, which holds its letters and its semitones.
- Quality ids are short and the studio's own: `major`, `m7`, `m7b5`. A chord symbol is a root and a suffix.
- The position in an error counts characters of the text as typed, from 0.

Three ways of writing are read, and `Chord` writes them back:
- people's symbols: Bm  B-  Bmin  F#m7b5  Bb7  E♭Δ  A7sus4  D/F#   (`read_symbol`, `Chord.symbol`)
- Harte syntax [1]: B:min  F#:hdim7  D:maj/3  C:7(*5,5)             (`read_harte`, `Chord.harte`)
- MusicXML kinds [2] with their degrees                             (`quality_of_kind`, `Quality.kind`)

References
----------
[1] C. Harte, M. Sandler, S. Abdallah, E. Gomez, "Symbolic representation of musical chords", ISMIR 2005;
    interval sets as in mir_eval's chord module.
[2] W3C Music Notation Community Group, MusicXML 4.0: kind-value, degree.
Spellings that people use: common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

from studio.theory.errors import TheoryError
from studio.theory.pitch import DEGREES, Note, common_note

__all__ = [
    "QUALITIES",
    "Chord",
    "ChordSymbolError",
    "Quality",
    "chord_symbol",
    "chord_tones",
    "common_root",
    "quality",
    "quality_of_kind",
    "read_chord",
    "read_harte",
    "read_symbol",
]

LONGEST = 40  # characters; no chord symbol is longer, and an error must fit a page


class ChordSymbolError(TheoryError):
    """A chord symbol that cannot be read.

    text : what was typed.  position : int, index of the first character that cannot be read; len(text) is the
    end. reason : why, as a phrase.
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
            "The chord {text!r} cannot be read at {at} (character {number}): {reason}.",
            code="chord-symbol",
            text=text[:LONGEST] + ("…" if len(text) > LONGEST else ""),
            at=at,
            number=position + 1,
            reason=reason,
        )


@dataclass(frozen=True, slots=True)
class Quality:
    """One chord quality: how it is called, written and built.

    id : the studio's short name.  name : English words.  suffix : what follows the root in a symbol.
    degrees : names of its degrees above the root, in stacking order.
    harte : shorthand with added degrees [1].  kind : MusicXML kind-value [2].
    kind_degrees : MusicXML degrees that change the kind: (value, alter in semitones, "add", "alter" or "subtract").
    """

    id: str
    name: str
    suffix: str
    degrees: tuple[str, ...]
    harte: str
    kind: str
    kind_degrees: tuple[tuple[int, int, str], ...] = ()

    @property
    def semitones(self) -> frozenset[int]:
        """Pitch classes above the root, each 0 to 11."""
        return _semitones(self.degrees)

    @property
    def is_minor(self) -> bool:
        """Whether it has a minor third (and no major one): its roots are spelled as minors' are."""
        return "b3" in self.degrees


@lru_cache(maxsize=512)
def _semitones(degrees: tuple[str, ...]) -> frozenset[int]:
    return frozenset(DEGREES[name][1] for name in degrees)


# Intervals: published (FACTS.md section 2; mir_eval after Harte et al., ISMIR 2005) as far as those sets go,
# that is without 7sus4, add9, madd9, 69, 7#5, 7b5, 7b9 and 7#9, whose intervals are common practice, no
# source. id, name, suffix, degrees, Harte, MusicXML kind and degrees
_ROWS: tuple[tuple[str, str, str, str, str, str, tuple[tuple[int, int, str], ...]], ...] = (
    ("major", "major", "", "1 3 5", "maj", "major", ()),
    ("minor", "minor", "m", "1 b3 5", "min", "minor", ()),
    ("7", "dominant seventh", "7", "1 3 5 b7", "7", "dominant", ()),
    ("m7", "minor seventh", "m7", "1 b3 5 b7", "min7", "minor-seventh", ()),
    ("maj7", "major seventh", "maj7", "1 3 5 7", "maj7", "major-seventh", ()),
    ("5", "power chord", "5", "1 5", "5", "power", ()),
    ("sus4", "suspended fourth", "sus4", "1 4 5", "sus4", "suspended-fourth", ()),
    ("sus2", "suspended second", "sus2", "1 2 5", "sus2", "suspended-second", ()),
    ("6", "sixth", "6", "1 3 5 6", "maj6", "major-sixth", ()),
    ("m6", "minor sixth", "m6", "1 b3 5 6", "min6", "minor-sixth", ()),
    ("dim", "diminished", "dim", "1 b3 b5", "dim", "diminished", ()),
    ("aug", "augmented", "aug", "1 3 #5", "aug", "augmented", ()),
    ("m7b5", "half-diminished seventh", "m7b5", "1 b3 b5 b7", "hdim7", "half-diminished", ()),
    ("dim7", "diminished seventh", "dim7", "1 b3 b5 bb7", "dim7", "diminished-seventh", ()),
    ("7sus4", "suspended seventh", "7sus4", "1 4 5 b7", "sus4(b7)", "dominant", ((4, 0, "add"), (3, 0, "subtract"))),
    ("mmaj7", "minor with major seventh", "m(maj7)", "1 b3 5 7", "minmaj7", "major-minor", ()),
    ("add9", "added ninth", "add9", "1 3 5 9", "maj(9)", "major", ((9, 0, "add"),)),
    ("madd9", "minor with added ninth", "m(add9)", "1 b3 5 9", "min(9)", "minor", ((9, 0, "add"),)),
    ("69", "sixth with ninth", "6/9", "1 3 5 6 9", "maj6(9)", "major-sixth", ((9, 0, "add"),)),
    ("9", "dominant ninth", "9", "1 3 5 b7 9", "9", "dominant-ninth", ()),
    ("m9", "minor ninth", "m9", "1 b3 5 b7 9", "min9", "minor-ninth", ()),
    ("maj9", "major ninth", "maj9", "1 3 5 7 9", "maj9", "major-ninth", ()),
    ("7#5", "augmented seventh", "7#5", "1 3 #5 b7", "aug(b7)", "augmented-seventh", ()),
    ("7b5", "seventh with flat fifth", "7b5", "1 3 b5 b7", "(3,b5,b7)", "dominant", ((5, -1, "alter"),)),
    ("7b9", "seventh with flat ninth", "7b9", "1 3 5 b7 b9", "7(b9)", "dominant", ((9, -1, "add"),)),
    ("7#9", "seventh with sharp ninth", "7#9", "1 3 5 b7 #9", "7(#9)", "dominant", ((9, 1, "add"),)),
)

#: Every quality by its id, the commonest first.
QUALITIES: Mapping[str, Quality] = MappingProxyType(
    {
        id_: Quality(id_, name, suffix, tuple(degrees.split()), harte, kind, changes)
        for id_, name, suffix, degrees, harte, kind, changes in _ROWS
    }
)

# Other spellings of each suffix, as they look after `_SIGNS` has made signs plain.
_SPELLINGS: Mapping[str, str] = {
    "major": "maj M ma major",
    "minor": "m - min mi minor",
    "7": "dom7 dominant7 dominantseventh seventh",
    "m7": "-7 min7 mi7 minor7 minorseventh",
    "maj7": "M7 ma7 ^ ^7 major7 majorseventh j7",
    "5": "power powerchord",
    "sus4": "sus 4sus suspendedfourth suspended",
    "sus2": "2sus suspendedsecond",
    "6": "maj6 M6 ma6 major6 add6 sixth majorsixth",
    "m6": "-6 min6 mi6 minor6 minorsixth",
    "dim": "o mb5 m-5 minb5 -b5 diminished",
    "aug": "+ #5 +5 maj#5 M#5 augmented",
    "m7b5": "ø ø7 m7-5 -7b5 -7-5 min7b5 min7-5 mi7b5 mi7-5 minor7b5 hdim hdim7 halfdim halfdim7"
    " halfdiminished half-dim half-dim7 half-diminished halfdiminishedseventh half-diminishedseventh",
    "dim7": "o7 diminished7 diminishedseventh",
    "7sus4": "7sus sus7 sus4b7 suspendedseventh",
    "mmaj7": "mM7 mMaj7 mma7 m^7 m^ -maj7 -M7 -^7 -^ minmaj7 minM7 mimaj7 miM7 m/maj7 m/M7 min/maj7 minormaj7"
    " minormajor7 minormajorseventh",
    "add9": "add2 2 Madd9 majadd9 addedninth",
    "madd9": "madd2 m2 -add9 -add2 minadd9 minoradd9",
    "69": "69 6add9 maj6/9 maj69",
    "9": "dom9 dominant9 dominantninth ninth",
    "m9": "-9 min9 mi9 minor9 minorninth",
    "maj9": "M9 ma9 ^9 major9 majorninth",
    "7#5": "7+5 +7 aug7 7aug 7+ augmented7 augmentedseventh",
    "7b5": "7-5",
    "7b9": "7-9",
    "7#9": "7+9",
}

_SIGNS: Mapping[str, str] = {
    "♭": "b", "♯": "#", "−": "-", "–": "-", "‐": "-", "‑": "-", "Δ": "^", "∆": "^", "△": "^", "°": "o",
    "º": "o", "˚": "o",
    "Ø": "ø", "∅": "ø", "(": "", ")": "", "[": "", "]": "", ",": "", " ": "", "\u00a0": "",
}  # fmt: skip


def _plain(text: str) -> str:
    """`text` with the signs of printed music as people type them, one character at a time; brackets fall
    out.
    """
    return "".join(_SIGNS.get(char, char) for char in text)


def _suffix_table() -> dict[str, str]:
    table: dict[str, str] = {}
    for entry in QUALITIES.values():
        spellings = (_plain(entry.suffix), entry.name.replace(" ", ""), *_SPELLINGS[entry.id].split())
        for spelling in spellings:
            if table.setdefault(spelling, entry.id) != entry.id:
                raise AssertionError(f"{spelling!r} would mean two qualities")  # a slip in the tables above
    return table


_SUFFIXES = _suffix_table()
# Every beginning of a readable suffix: an unreadable one is blamed on the character that leaves this set.
_BEGINNINGS = frozenset(suffix[:end] for suffix in _SUFFIXES for end in range(len(suffix) + 1))
_BY_HARTE = {entry.harte: entry for entry in QUALITIES.values()}
_BY_DEGREES = {frozenset(entry.degrees): entry for entry in QUALITIES.values()}
_BY_KIND = {(entry.kind, frozenset(entry.kind_degrees)): entry for entry in QUALITIES.values()}
# The standard adds to a dominant chord, so this says the same; but some readers take that 7 as major.
_BY_KIND["suspended-fourth", frozenset([(7, 0, "add")])] = QUALITIES["7sus4"]


def quality(name: str) -> Quality:
    """The quality of this id, such as "m7b5". Raises TheoryError, naming it, when there is none."""
    found = QUALITIES.get(name) if isinstance(name, str) else None
    if found is None:
        raise TheoryError(
            "{name!r} is no chord quality that is known here; known are {known}.",
            code="quality-unknown",
            name=str(name)[:LONGEST],
            known=", ".join(QUALITIES),
        )
    return found


def quality_of_kind(kind: str, degrees: Iterable[tuple[int, int, str]] = ()) -> Quality:
    """The quality that a MusicXML kind-value with its degrees (value, alter, "add", "alter" or "subtract") stands for.

    Inverse of `Quality.kind` and `Quality.kind_degrees`. Raises TheoryError for a kind that is not known
    here.

    >>> quality_of_kind("half-diminished").id
    'm7b5'
    """
    try:
        changes = frozenset(degrees)
    except TypeError:
        raise TheoryError(
            "The degrees of a kind are (value, alter, type) triples, not {value}.",
            code="kind-degrees",
            value=repr(degrees)[:LONGEST],
        ) from None
    found = _BY_KIND.get((kind, changes)) if isinstance(kind, str) else None
    if found is None:
        raise TheoryError(
            "{kind!r} with {count} changed degrees is no MusicXML chord kind that is known here.",
            code="kind-unknown",
            kind=str(kind)[:LONGEST],
            count=len(changes),
        )
    return found


def common_root(pitch_class: int, quality_id: str = "major") -> Note:
    """The commoner name of a root without a key: Db Eb F# Ab Bb for majors, C# Eb F# G# Bb for minors.

    pitch_class : int, 0 (C) to 11 (B), taken modulo 12.  quality_id : an id of QUALITIES.
    Every quality with a minor third follows the minors.
    Raises NoteError for what is no whole number, TheoryError for a quality that is not known here.
    Common practice, no source.

    >>> str(common_root(8)), str(common_root(8, "m7"))
    ('Ab', 'G#')
    """
    return common_note(pitch_class, minor=quality(quality_id).is_minor)


@lru_cache(maxsize=2048)
def _tones(root: Note, quality_id: str) -> tuple[Note, ...]:
    return tuple(root.degree(name) for name in quality(quality_id).degrees)


def chord_tones(root: str | Note, quality_id: str) -> tuple[Note, ...]:
    """The notes of a chord in stacking order, each spelled by its degree above the root, without octaves.

    root : note name or Note.  quality_id : an id of QUALITIES, whose source stands beside its table.
    Raises NoteError and, for a quality that is not known here, TheoryError.

    >>> [str(note) for note in chord_tones("Db", "minor")]
    ['Db', 'Fb', 'Ab']
    """
    return _tones(Note(root).without_octave(), quality(quality_id).id)


def chord_symbol(root: str | Note, quality_id: str, bass: str | Note | None = None) -> str:
    """The symbol of a chord in ASCII, as `read_symbol` reads it back: `F#m7b5`, `D/F#`.

    root, bass : note name or Note; a bass that is the root is left out.  quality_id : an id of QUALITIES.
    Raises NoteError and, for a quality that is not known here, TheoryError.  Spellings: common practice, no source.

    >>> chord_symbol("F#", "m7b5"), chord_symbol("D", "major", "F#")
    ('F#m7b5', 'D/F#')
    """
    return Chord.of(root, quality_id, bass).symbol


@dataclass(frozen=True, slots=True)
class Chord:
    """A root, a quality and the note in the bass, where that is another than the root.

    root, bass : Note without octave.  quality : id of a quality.
    Build one with `Chord.of`, which takes texts and checks them, or read one with `read_chord`.
    """

    root: Note
    quality: str
    bass: Note | None = None

    @classmethod
    def of(cls, root: str | Note, quality_id: str = "major", bass: str | Note | None = None) -> Chord:
        """A chord from note names and a quality id. A bass that is the root is left out. Raises
        TheoryError.
        """
        first = Note(root).without_octave()
        low = None if bass is None else Note(bass).without_octave()
        return cls(first, quality(quality_id).id, None if low == first else low)

    @property
    def symbol(self) -> str:
        """The chord symbol in ASCII; `read_symbol` is its inverse."""
        body = f"{self.root}{QUALITIES[self.quality].suffix}"
        return body if self.bass is None else f"{body}/{self.bass}"

    @property
    def harte(self) -> str:
        """The chord in Harte syntax [1]; `read_harte` is its inverse. The bass is written as a degree."""
        shorthand = QUALITIES[self.quality].harte
        return f"{self.root}:{shorthand}" + ("" if self.bass is None else f"/{_degree_between(self.root, self.bass)}")

    @property
    def name(self) -> str:
        """The chord in English words: "F# half-diminished seventh", "D major over F#"."""
        words = f"{self.root} {QUALITIES[self.quality].name}"
        return words if self.bass is None else f"{words} over {self.bass}"

    @property
    def tones(self) -> tuple[Note, ...]:
        """Its notes in stacking order, spelled by degree; a bass that is no chord tone is not among them."""
        return _tones(self.root, self.quality)

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Pitch classes of its tones and its bass."""
        low = () if self.bass is None else (self.bass.pitch_class,)
        return frozenset((*(note.pitch_class for note in self.tones), *low))

    def __str__(self) -> str:
        return self.symbol


_HARTE_NATURALS = (0, 2, 4, 5, 7, 9, 11)  # degrees 1 to 7 of a major scale


def _degree_between(root: Note, note: Note) -> str:
    """The degree that leads from `root` to `note`, 1 to 7 with # or b before it, as Harte writes a bass."""
    steps = ("CDEFGAB".index(note.letter) - "CDEFGAB".index(root.letter)) % 7
    off = (note.pitch_class - root.pitch_class - _HARTE_NATURALS[steps] + 6) % 12 - 6
    return ("#" * off if off > 0 else "b" * -off) + str(steps + 1)


def _from_degree(root: Note, degree: str) -> Note | None:
    """The note at a degree such as "b7", "9" or "##4" above `root`; None where it cannot be spelled."""
    number = int(degree.lstrip("#b"))
    steps = (number - 1) % 7
    semitones = _HARTE_NATURALS[steps] + degree.count("#") - degree.count("b")
    letter = "CDEFGAB"[("CDEFGAB".index(root.letter) + steps) % 7]
    natural = Note(letter).pitch_class
    off = (root.pitch_class + semitones - natural + 6) % 12 - 6
    return Note.of(letter, off) if abs(off) <= 4 else None


_ROOT = r"([A-Ga-g])(?:\s?(?:-\s?)?(flat|sharp)\b|(𝄫|bb|♭♭|##|♯♯|𝄪|x|b|♭|#|♯|♮)?)"


def _read_root(text: str, start: int) -> tuple[Note, int]:
    """The note at `start` of `text` and the index behind it. `text` may go on after it."""
    match = re.compile(_ROOT).match(text, start)
    if match is None:
        raise ChordSymbolError(text, start, "a chord begins with a letter from A to G")
    letter, word, sign = match.groups()
    mark = {"flat": "b", "sharp": "#"}.get(word or "", sign or "")
    return Note(letter.upper() + mark), match.end()


def _checked(text: str) -> str:
    if not isinstance(text, str):
        raise ChordSymbolError(repr(text)[:LONGEST], 0, "a chord symbol is a text such as Bm7")
    if len(text) > LONGEST:
        raise ChordSymbolError(text, LONGEST, f"no chord symbol is longer than {LONGEST} characters")
    return text


def read_chord(text: str) -> Chord:
    """The chord that `text` stands for, in Harte syntax when it has a colon, else as people write symbols.

    Raises ChordSymbolError, whose position points at the character that cannot be read.

    >>> read_chord("B-"), read_chord("F#:hdim7").symbol
    (Chord(root=Note('B'), quality='minor', bass=None), 'F#m7b5')
    """
    return _read_harte(text) if ":" in _checked(text) else _read_symbol(text)


def read_symbol(text: str) -> Chord:
    """The chord that a symbol stands for as people write it. Inverse of `Chord.symbol`.

    text : at most 40 characters.
    Roots may be lower case (`bm7` is B minor seventh: case never makes a chord minor) and in words (`B flat
    minor`). `C2` is read as an added ninth, `CΔ` as a major seventh, `C+7` and `C7+` as augmented sevenths.
    Raises ChordSymbolError, whose position points at the character.  Spellings: common practice, no source.

    >>> [read_symbol(text).symbol for text in ("B-", "E♭Δ", "F#m7b5", "D/F#")]
    ['Bm', 'Ebmaj7', 'F#m7b5', 'D/F#']
    """
    return _read_symbol(_checked(text))


@lru_cache(maxsize=2048)
def _read_symbol(text: str) -> Chord:
    start = len(text) - len(text.lstrip())
    if start == len(text):
        raise ChordSymbolError(text, start, "nothing is written")
    root, begin = _read_root(text, start)
    end, bass = _split_bass(text, begin)
    found = read_suffix(text, begin, end)
    return Chord.of(root, found, bass)


def _split_bass(text: str, begin: int) -> tuple[int, Note | None]:
    """Where the suffix ends and the bass note behind the last stroke. `6/9` and `m/maj7` are no bass."""
    stroke = text.rfind("/", begin)
    if stroke < 0 or _plain(text[begin:].rstrip()) in _SUFFIXES:
        return len(text), None
    after = text[stroke + 1 :]
    spaces = len(after) - len(after.lstrip())
    if not after.strip():
        raise ChordSymbolError(text, len(text), "a bass note should follow the stroke")
    try:
        bass, behind = _read_root(text, stroke + 1 + spaces)
    except ChordSymbolError:
        if read_suffix_or_none(text[begin:stroke]) is None:
            return len(text), None  # the suffix before the stroke is wrong already: blame that
        raise ChordSymbolError(
            text, stroke + 1 + spaces, "a bass note should follow the stroke, a letter from A to G"
        ) from None
    if text[behind:].strip():
        raise ChordSymbolError(text, behind, "nothing may follow the bass note")
    return stroke, bass


def read_suffix_or_none(suffix: str) -> str | None:
    """The quality id of a symbol's suffix alone ("m7b5", "-7", "Δ"), or None."""
    plain = _plain(suffix.strip())
    found = _SUFFIXES.get(plain)
    # Capitals are kept apart only where they mean something: M7 and m7 differ, MIN7 and min7 do not.
    word = re.match(r"ma(?!dd)|mi|[a-ln-z][a-z]", plain, re.IGNORECASE)
    return found or (_SUFFIXES.get(plain.lower()) if word else None)


def read_suffix(text: str, begin: int, end: int) -> str:
    """The quality id that `text[begin:end]` stands for; raises ChordSymbolError with a position within
    `text`.
    """
    found = read_suffix_or_none(text[begin:end])
    if found is not None:
        return found
    read = ""
    for index in range(begin, end):
        step = read + _plain(text[index])
        if step not in _BEGINNINGS and not (len(step) > 1 and step.lower() in _BEGINNINGS):
            raise ChordSymbolError(text, index, "no chord quality goes on like this")
        read = step
    raise ChordSymbolError(text, end, "the chord quality breaks off here")


_HARTE_DEGREE = r"(\*?)([#b]*)(1[0-3]|[1-9])"


def read_harte(text: str) -> Chord:
    """The chord in Harte syntax [1], `root:shorthand(degrees)/bass`. Inverse of `Chord.harte`.

    text : at most 40 characters.  A root alone is major; `*` takes a degree out; a degree list alone stands on the
    root.  Raises ChordSymbolError, whose position points at the character, also for chords whose degrees make
    no quality known here and for `N` (no chord).  Source: Harte et al., ISMIR 2005 (published).

    >>> read_harte("D:maj/3").symbol
    'D/F#'
    """
    return _read_harte(_checked(text))


@lru_cache(maxsize=2048)
def _read_harte(text: str) -> Chord:
    if text.strip() in ("N", "X"):
        raise ChordSymbolError(text, text.index(text.strip()), "N and X stand for no chord")
    root, at = _read_root(text, 0)
    degrees = list(QUALITIES["major"].degrees)
    if text[at : at + 1] == ":":
        at += 1
        match = re.compile(r"[a-z]*[0-9]*").match(text, at)
        word = match.group() if match else ""
        if word in _BY_HARTE:
            degrees = list(_BY_HARTE[word].degrees)
        elif not word and text[at : at + 1] == "(":
            degrees = ["1"]
        else:
            raise ChordSymbolError(text, at, "no shorthand of Harte's that is known here stands there")
        at += len(word)
        listed = at
        if text[at : at + 1] == "(":
            degrees, at = _harte_list(text, at, degrees)
        found = _BY_DEGREES.get(frozenset(degrees))
        if found is None:
            raise ChordSymbolError(text, listed, "these degrees make no chord quality that is known here")
    else:
        found = QUALITIES["major"]
    bass = None
    if text[at : at + 1] == "/":
        match = re.compile(_HARTE_DEGREE).match(text, at + 1)
        if match is None or match.group(1):
            raise ChordSymbolError(text, at + 1, "the bass is a degree, such as 3 or b7")
        bass = _from_degree(root, match.group(2) + match.group(3))
        if bass is None:
            raise ChordSymbolError(text, at + 1, "this degree cannot be spelled")
        at = match.end()
    if at < len(text):
        raise ChordSymbolError(text, at, "nothing is expected here")
    return Chord.of(root, found.id, bass)


def _harte_list(text: str, at: int, degrees: list[str]) -> tuple[list[str], int]:
    """Read `(b7,*5)` at `at`: the degrees with these added and taken out, and the index behind the
    bracket.
    """
    while True:
        match = re.compile(_HARTE_DEGREE).match(text, at + 1)
        if match is None:
            raise ChordSymbolError(text, at + 1, "a degree such as 3, b7 or *5 is expected")
        out, signs, number = match.groups()
        degree = signs + number
        if out and degree not in degrees:
            raise ChordSymbolError(text, match.start(), "this degree is not in the chord, so it cannot be left out")
        if out:
            degrees.remove(degree)
        elif degree not in degrees:
            degrees.append(degree)
        at = match.end()
        if text[at : at + 1] == ")":
            return degrees, at + 1
        if text[at : at + 1] != ",":
            raise ChordSymbolError(text, at, "a comma or a closing bracket is expected")
