"""Naming a grip: fret numbers in, every reading of their notes as a chord out, best first.

The same notes are often several chords: C6 is also Am7 over C, sus2 is also sus4 a fifth up, and a diminished
seventh has four roots. A reading is a quality of `chords.QUALITIES` on a root that sounds, whose notes are
exactly those that sound; only a perfect fifth may be missing, and only from a chord with a third, which then
says what it is. A chord without its fifth is read with the root in the bass, in inversion only where the
notes make no complete chord: B minor is not also called D6 without the fifth over B.

Ranking, best first
-------------------
1. the root is the lowest note;
2. nothing is omitted;
3. the commoner quality, in the order of `chords.QUALITIES`;
4. with a key: the key's own chords, then borrowed ones;
5. the root's distance above the lowest note.
The ranking is this module's own; that inversions are written as slash chords is common practice, no source.

Conventions: frets run from the lowest string to the highest, None where not played, counted from nut or capo.
With a capo chords are named as they are fingered, as in `voicing`. Roots are spelled by the key, without one
by their commoner name, and the bass by its degree above the root.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from studio.theory.chords import QUALITIES, Chord, common_root
from studio.theory.errors import InstrumentError
from studio.theory.instrument import INSTRUMENTS, Instrument, read_instrument
from studio.theory.keys import Key
from studio.theory.pitch import DEGREES, Note

__all__ = ["ChordName", "name_frets", "read_frets"]

Frets = Sequence[int | None]

_STEEL = INSTRUMENTS["steel-string"]


@dataclass(frozen=True, slots=True)
class ChordName:
    """One reading of a grip.

    root, bass : Note without octave; equal in root position.  quality : an id of `chords.QUALITIES`.
    omitted : degrees of the quality that do not sound, ("5",) or ().
    symbol : "Am7/C", as `chords.read_symbol` reads it; what is omitted is not in it.
    """

    root: Note
    quality: str
    bass: Note
    omitted: tuple[str, ...]
    symbol: str

    @property
    def chord(self) -> Chord:
        """The same as a plain chord."""
        return Chord.of(self.root, self.quality, self.bass)

    def __str__(self) -> str:
        return self.symbol + "".join(f" (no {degree})" for degree in self.omitted)


def _mask(semitones: Sequence[int]) -> int:
    found = 0
    for semitone in semitones:
        found |= 1 << semitone
    return found


def _readings_by_notes() -> dict[int, tuple[tuple[int, str, tuple[str, ...]], ...]]:
    """Notes above a root as a mask of twelve bits -> (rank, quality, omitted), the commonest first."""
    table: dict[int, list[tuple[int, str, tuple[str, ...]]]] = {}
    for rank, quality in enumerate(QUALITIES.values()):
        semitones = [DEGREES[degree][1] for degree in quality.degrees]
        table.setdefault(_mask(semitones), []).append((rank, quality.id, ()))
        without = [semitone for semitone in semitones if semitone != 7]
        if "5" in quality.degrees and ("3" in quality.degrees or quality.is_minor):
            table.setdefault(_mask(without), []).append((rank, quality.id, ("5",)))
    return {mask: tuple(sorted(found, key=lambda entry: (entry[2], entry[0]))) for mask, found in table.items()}


_READINGS = _readings_by_notes()
_STANDINGS = ("own", "borrowed", "outside")


@lru_cache(maxsize=8192)
def _names(notes: int, bass: int, key: Key | None) -> tuple[ChordName, ...]:
    """Every reading of a mask of pitch classes with its lowest note's pitch class, best first."""
    found: list[tuple[tuple[bool, int, int, int, int], int, str, tuple[str, ...]]] = []
    for above in range(12):
        root = (bass + above) % 12
        if not notes >> root & 1:
            continue
        turned = (notes >> root | notes << 12 - root) & 0xFFF
        for rank, quality, omitted in _READINGS.get(turned, ()):
            standing = _STANDINGS.index(key.standing(_PITCHES[root], quality)) if key is not None else 0
            found.append(((above != 0, len(omitted), rank, standing, above), root, quality, omitted))
    if any(not omitted for _, _, _, omitted in found):
        found = [entry for entry in found if not (entry[3] and entry[1] != bass)]
    return tuple(_name(root, quality, omitted, bass, key) for _, root, quality, omitted in sorted(found))


_PITCHES = tuple(common_root(pitch_class) for pitch_class in range(12))


def _name(root: int, quality: str, omitted: tuple[str, ...], bass: int, key: Key | None) -> ChordName:
    note = common_root(root, quality) if key is None else key.spell_root(root, quality)
    low = next(tone for tone in Chord(note, quality).tones if tone.pitch_class == bass)
    return ChordName(note, quality, low, omitted, Chord.of(note, quality, low).symbol)


def name_frets(
    frets: Frets | str,
    instrument: str | Instrument = _STEEL,
    key: str | Key | None = None,
) -> list[ChordName]:
    """Every reading of a grip as a chord, best first; an empty list when its notes make no chord known here.

    frets : one value a string, lowest string first, None where not played; or a text that `read_frets` reads.
    instrument : an Instrument or a preset's id.
    key : a Key or its name; spells the names and ranks what is otherwise equal.
    Raises InstrumentError for a wrong number of strings or a fret that is not on the neck, KeyNameError for no
    key.

    >>> [name.symbol for name in name_frets("x32010")], [str(name) for name in name_frets("x32213")]
    (['C'], ['C6', 'Am7/C'])
    """
    guitar = instrument if isinstance(instrument, Instrument) else read_instrument(instrument)
    spelled = key if key is None or isinstance(key, Key) else Key.parse(key)
    if isinstance(frets, str):
        frets = read_frets(frets)
    tuning = guitar.tuning
    _check(frets, guitar)
    notes = 0
    lowest = 1000
    for midi, fret in zip(tuning, frets, strict=True):
        if fret is not None:
            midi += fret
            notes |= 1 << midi % 12
            if midi < lowest:
                lowest = midi
    return list(_names(notes, lowest % 12, spelled)) if notes else []


def _check(frets: object, guitar: Instrument) -> None:
    if not isinstance(frets, (tuple, list)):
        raise InstrumentError("A grip is one fret for each string, not {value}.", code="grip", value=repr(frets)[:40])
    if len(frets) != len(guitar.tuning):
        raise InstrumentError(
            "This instrument has {strings} strings; the grip names {count}.",
            code="grip-strings",
            strings=guitar.strings,
            count=len(frets),
        )
    last = guitar.last_fret
    for fret in frets:
        if fret is not None and (type(fret) is not int or not 0 <= fret <= last):
            guitar.check_fret(fret)


def read_frets(text: str) -> tuple[int | None, ...]:
    """Fret numbers from a text, lowest string first: "x32010", "x 10 12 12 11 10" or "8-10-10-9-8-8".

    x or X is a string not played. Without gaps each character is a string. Raises InstrumentError.
    """
    if not isinstance(text, str):
        raise InstrumentError("{value} is no grip.", code="grip", value=repr(text)[:40])
    parts = text.replace("-", " ").replace(",", " ").split()
    if len(parts) == 1:
        parts = list(parts[0])
    frets: list[int | None] = []
    for part in parts:
        if part in ("x", "X"):
            frets.append(None)
        elif part.isascii() and part.isdecimal() and len(part) <= 2:
            frets.append(int(part))
        else:
            raise InstrumentError(
                "{part!r} is no fret: write numbers and x for a string not played, like x32010.",
                code="grip",
                part=part[:20],
            )
    return tuple(frets)
