"""The guitar in hand: its tuning, frets and measures, and distances between any two points of its neck.

Conventions
-----------
- Strings are numbered as guitarists do: 1 is the highest, 6 (or 7) the lowest.  A tuple of strings runs the
  other way, lowest string first, as chord diagrams do.
- Frets are counted from the capo where there is one, else from the nut: 0 is the open string.
- Lengths are in mm.  A fretting finger stands just behind its fret, so its distance from the nut is the
fret's.
- `tuning` is what the open strings sound without a capo, as MIDI numbers.

References
----------
Fret n lies L - L / 2 ** (n / 12) from the nut, so the first at L / 17.817154 (published, and derived).  Scale
lengths of classical and steel-string guitars and where the neck meets the body: published; of children's
guitars, numbers of frets and the reach of a cutaway: from memory.  Nut widths (classical 48 to 54 mm,
steel-string about 43 mm): published; the string spreads of the presets, at the nut and at fret 12: from memory.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from types import MappingProxyType
from typing import Any

from studio.theory.errors import InstrumentError
from studio.theory.pitch import Note, NoteError, hz

#: Standard tuning E2 A2 D3 G3 B3 E4 as MIDI numbers, 6th string first (published, ISO 16 for the
#: frequencies).
STANDARD = (40, 45, 50, 55, 59, 64)
#: Strings below the 6th on 7- and 8-string guitars (B1, F#1; common practice, no source).
_LOWER = (30, 35)

#: How a string is called in a sentence.
STRING: Mapping[int, str] = MappingProxyType(
    {
        1: "1st string",
        2: "2nd string",
        3: "3rd string",
        4: "4th string",
        5: "5th string",
        6: "6th string",
        7: "7th string",
        8: "8th string",
    }
)

PLAYS = ("right", "left")
MIN_STRINGS, MAX_STRINGS = 4, 8
MIN_FRETS, MAX_FRETS = 12, 24
MIN_SCALE_MM, MAX_SCALE_MM = 300.0, 900.0
_CUTAWAY_FRETS = 3  # a cutaway at joint 16 keeps frets to 19 in reach (from memory)


def fret_distance(scale_mm: float, fret: int) -> float:
    """Distance from the nut to a fret, in mm: scale_mm * (1 - 2 ** (-fret / 12)).

    scale_mm : float, 300 to 900, nut to saddle.  fret : int, 0 (the nut) to 24.
    Raises InstrumentError, naming the value, outside these ranges.

    >>> round(fret_distance(648.0, 12), 1), round(fret_distance(648.0, 1), 2)
    (324.0, 36.37)
    """
    if isinstance(scale_mm, bool) or not isinstance(scale_mm, (int, float)):
        raise InstrumentError(
            "{value} is not a scale length in mm.", code="instrument-scale", value=repr(scale_mm)[:40]
        )
    if not MIN_SCALE_MM <= scale_mm <= MAX_SCALE_MM:
        raise InstrumentError(
            "A scale length of {value} mm is outside {low:g} to {high:g} mm; a full-size guitar has about 650"
            " (25.5 inches).",
            code="instrument-scale",
            value=scale_mm,
            low=MIN_SCALE_MM,
            high=MAX_SCALE_MM,
        )
    if isinstance(fret, bool) or not isinstance(fret, int) or not 0 <= fret <= MAX_FRETS:
        raise InstrumentError(
            "{fret} is not a fret: frets are counted from 0, the nut, to {last}.",
            code="fret",
            fret=repr(fret)[:40],
            last=MAX_FRETS,
        )
    return _fret_table(float(scale_mm))[fret]


@lru_cache(maxsize=64)
def _fret_table(scale_mm: float) -> tuple[float, ...]:
    return tuple(scale_mm * (1.0 - 2.0 ** (-fret / 12)) for fret in range(MAX_FRETS + 1))


def _whole(value: object, low: int, high: int, what: str) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise InstrumentError(
            "{what} must be a whole number from {low} to {high}, not {value}.",
            code="instrument-number",
            what=what,
            low=low,
            high=high,
            value=repr(value)[:40],
        )


@dataclass(frozen=True)
class Instrument:
    """One guitar: enough of its measures to know where a chord lies and what it asks of a hand.

    id : "steel-string", or any short text for an instrument of one's own.  name : English.
    tuning : MIDI numbers of the open strings without capo, lowest string first, 4 to 8 of them.
    frets : int, 12 to 24.  scale_mm : float, 300 to 900.  joint : int, the fret at which neck meets body.
    cutaway : whether the body leaves room for the hand past the joint.
    capo : int, fret of the capo, 0 for none.  plays : "right" or "left"; the sounding notes are the same.
    nut_spread_mm, twelfth_spread_mm : float, 1st string to lowest, at the nut and at fret 12.

    Raises InstrumentError for values that no guitar has.

    >>> steel = INSTRUMENTS["steel-string"]
    >>> round(steel.fret_space_mm(5), 2), steel.with_(capo=2).open_midi[0]
    (28.87, 42)
    """

    id: str
    name: str
    tuning: tuple[int, ...] = STANDARD
    frets: int = 20
    scale_mm: float = 648.0
    joint: int = 14
    cutaway: bool = False
    capo: int = 0
    plays: str = "right"
    nut_spread_mm: float = 36.0
    twelfth_spread_mm: float = 43.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "tuning", check_tuning(self.tuning))
        _whole(self.frets, MIN_FRETS, MAX_FRETS, "The number of frets")
        _whole(self.joint, 8, MAX_FRETS, "The fret at the body joint")
        _whole(self.capo, 0, self.frets - 5, "The capo's fret")
        fret_distance(self.scale_mm, 0)
        if self.plays not in PLAYS:
            raise InstrumentError(
                'A guitar is played "right" or "left", not {value}.',
                code="plays",
                value=repr(self.plays)[:40],
            )
        for spread in (self.nut_spread_mm, self.twelfth_spread_mm):
            if isinstance(spread, bool) or not isinstance(spread, (int, float)) or not 15 <= spread <= 90:
                raise InstrumentError(
                    "A string spread of {value} is outside 15 to 90 mm.",
                    code="instrument-spread",
                    value=repr(spread)[:40],
                )

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        # Kept, because every cache of the core is keyed by an instrument among other things.
        return hash((self.tuning, self.frets, self.scale_mm, self.joint, self.capo, self.plays, self.id))

    @cached_property
    def _marks(self) -> tuple[float, ...]:
        """Distance of every fret from the nut or capo, mm."""
        table = _fret_table(float(self.scale_mm))
        return tuple(table[fret] - table[self.capo] for fret in range(self.capo, self.frets + 1))

    # -- what is on it ---------------------------------------------------------------------------------------

    @property
    def strings(self) -> int:
        """How many strings."""
        return len(self.tuning)

    @property
    def open_midi(self) -> tuple[int, ...]:
        """What the open strings sound, capo counted, as MIDI numbers, lowest string first."""
        return tuple(midi + self.capo for midi in self.tuning)

    @property
    def open_notes(self) -> tuple[Note, ...]:
        """The open strings' notes with octave, without capo, lowest string first, spelled as the tuning is
        called.

        >>> [note.full for note in INSTRUMENTS["classical"].open_notes]
        ['E2', 'A2', 'D3', 'G3', 'B3', 'E4']
        """
        return spell_tuning(self.tuning)

    @property
    def open_hz(self) -> tuple[float, ...]:
        """Frequencies of the open strings in Hz, capo counted, A4 = 440 Hz."""
        return tuple(hz(midi) for midi in self.open_midi)

    @property
    def last_fret(self) -> int:
        """The last fret, counted from the capo."""
        return self.frets - self.capo

    @property
    def easy_fret(self) -> int:
        """The last fret (counted from the capo) that the hand reaches without passing the body.

        The joint, and three more where there is a cutaway (from memory: 16 with a cutaway reaches 19).
        """
        return min(self.frets, self.joint + (_CUTAWAY_FRETS if self.cutaway else 0)) - self.capo

    def midi(self, string: int, fret: int) -> int:
        """Sounding MIDI number of a string (1 is the highest) at a fret counted from the capo."""
        self.check_point(string, fret)
        return self.tuning[-string] + self.capo + fret

    # -- distances -------------------------------------------------------------------------------------------

    def fret_distance(self, fret: int) -> float:
        """Distance in mm from the nut, or the capo where there is one, to a fret counted from it."""
        self.check_fret(fret)
        return self._marks[fret]

    def fret_space_mm(self, fret: int) -> float:
        """Length in mm of the space in which a finger stands to play `fret`: from the fret before it to it.

        fret : int, 1 to the last fret, counted from the capo.
        """
        self.check_fret(fret)
        if fret == 0:
            raise InstrumentError("An open string has no fret space; frets start at 1.", code="fret", fret=0)
        return self._marks[fret] - self._marks[fret - 1]

    def string_gap_mm(self, fret: int) -> float:
        """Distance in mm between neighbouring strings at a fret counted from the capo."""
        self.check_fret(fret)
        table = _fret_table(float(self.scale_mm))
        along = table[self.capo + fret] / table[12]  # 0 at the nut, 1 at fret 12
        spread = self.nut_spread_mm + (self.twelfth_spread_mm - self.nut_spread_mm) * along
        return spread / (self.strings - 1)

    def point_mm(self, string: int, fret: int) -> tuple[float, float]:
        """Where a finger stands: (along the neck from the nut, across it from the middle line to the treble),
        mm.

        Counted from the nut even with a capo, so that points of one neck can be compared.
        """
        self.check_point(string, fret)
        across = ((self.strings + 1) / 2.0 - string) * self.string_gap_mm(fret)
        return _fret_table(float(self.scale_mm))[self.capo + fret], across

    def distance_mm(self, one: tuple[int, int], other: tuple[int, int]) -> float:
        """Straight distance in mm between two points of the neck, each (string, fret).

        >>> round(INSTRUMENTS["steel-string"].distance_mm((6, 5), (6, 7)), 1)
        53.0
        """
        try:
            (a, b), (c, d) = one, other
        except (TypeError, ValueError):
            raise InstrumentError(
                "A point of the neck is a pair: string and fret.", code="point", value=repr((one, other))[:60]
            ) from None
        x1, y1 = self.point_mm(a, b)
        x2, y2 = self.point_mm(c, d)
        return math.hypot(x2 - x1, y2 - y1)

    # -- checks and variants ---------------------------------------------------------------------------------

    def check_fret(self, fret: int) -> None:
        """Raise InstrumentError unless `fret` is a whole number from 0 to the last fret."""
        if type(fret) is not int or not 0 <= fret <= self.frets - self.capo:
            raise InstrumentError(
                "Fret {fret} is not on this neck: it goes from 0 to {last}{capo}.",
                code="fret",
                fret=repr(fret)[:40],
                last=self.last_fret,
                capo=f", counted from the capo at {self.capo}" if self.capo else "",
            )

    def check_point(self, string: int, fret: int) -> None:
        """Raise InstrumentError unless string and fret are on this instrument."""
        _whole(string, 1, self.strings, "A string's number")
        self.check_fret(fret)

    def with_(self, **changes: Any) -> Instrument:
        """The same guitar with other values, such as capo=2, plays="left", tuning="D A D G A D".

        Raises InstrumentError for a name it does not have and for values that no guitar has.
        """
        try:
            return replace(self, **changes)
        except TypeError:
            raise InstrumentError(
                "An instrument has no {names}.",
                code="instrument-field",
                names=", ".join(sorted(changes))[:60],
            ) from None

    def describe_tuning(self) -> str:
        """The tuning as a guitarist says it: "E A D G B E"."""
        return " ".join(str(note) for note in self.open_notes)


# -- tunings as text -----------------------------------------------------------------------------------------

_TOKEN = re.compile(r"[A-G](?:[#♯]+|[b♭]+)?-?\d*")


def standard_tuning(strings: int) -> tuple[int, ...]:
    """The usual tuning for 4 to 8 strings as MIDI numbers, lowest string first: standard, less its lowest or with
    B1 and F#1 below it.

    strings : int, 4 to 8.  Raises InstrumentError outside.
    Standard tuning: published; the strings below the 6th: common practice, no source.

    >>> standard_tuning(7)
    (35, 40, 45, 50, 55, 59, 64)
    """
    _whole(strings, MIN_STRINGS, MAX_STRINGS, "The number of strings")
    return (_LOWER + STANDARD)[-strings:]


def check_tuning(tuning: Sequence[int] | str) -> tuple[int, ...]:
    """A tuning as a tuple of MIDI numbers, lowest string first; a text is read by `read_tuning`.

    Raises InstrumentError for fewer than 4 or more than 8 strings, and for numbers that no open string has.
    """
    if isinstance(tuning, str):
        return read_tuning(tuning)
    if not isinstance(tuning, (tuple, list)):
        raise InstrumentError("{value} is not a tuning.", code="tuning", value=repr(tuning)[:60])
    if not MIN_STRINGS <= len(tuning) <= MAX_STRINGS:
        raise InstrumentError(
            "A tuning has {low} to {high} strings here, not {count}.",
            code="tuning-strings",
            low=MIN_STRINGS,
            high=MAX_STRINGS,
            count=len(tuning),
        )
    for midi in tuning:
        _whole(midi, 12, 96, "The MIDI number of an open string")
    return tuple(tuning)


def read_tuning(text: str) -> tuple[int, ...]:
    """MIDI numbers of the open strings, from text, lowest string first.

    text : "E2 A2 D3 G3 B3 E4", "D A D G A D", "DADGAD"; a string without octave takes the pitch nearest to
    the same string's in standard tuning (six half steps away: the lower).
    Raises InstrumentError that names the string it stumbled over.

    >>> read_tuning("D A D G A D")
    (38, 45, 50, 55, 57, 62)
    """
    if not isinstance(text, str):
        raise InstrumentError("{value} is not a tuning.", code="tuning", value=repr(text)[:60])
    parts = text.replace(",", " ").replace("-", " ").split()
    if len(parts) == 1:
        found = _TOKEN.findall(parts[0])
        parts = found if "".join(found) == parts[0] else parts
    if not MIN_STRINGS <= len(parts) <= MAX_STRINGS:
        raise InstrumentError(
            "A tuning names each string, lowest first, like E A D G B E; {text!r} names {count}.",
            code="tuning-strings",
            text=text[:60],
            count=len(parts),
        )
    reference = standard_tuning(len(parts))
    tuning: list[int] = []
    for index, part in enumerate(parts):
        string = len(parts) - index
        try:
            note = Note(part)
            midi = _nearest(note.pitch_class, reference[index]) if note.octave is None else note.midi
        except NoteError as error:
            raise InstrumentError(
                "{string}: {error}", code="tuning-note", string=STRING[string], error=str(error)
            ) from None
        if not 12 <= midi <= 96:
            raise InstrumentError(
                "{string}: {note} is too far from any guitar string.",
                code="tuning-note",
                string=STRING[string],
                note=note.full,
            )
        tuning.append(midi)
    if len(tuning) >= 5 and tuning[0] > tuning[-1]:
        raise InstrumentError(
            "Write the lowest string first: {text!r} runs from high to low.",
            code="tuning-order",
            text=text[:60],
        )
    return tuple(tuning)


def _nearest(pitch_class: int, midi: int) -> int:
    above = (pitch_class - midi) % 12
    return midi + above if above < 6 else midi + above - 12


def spell_tuning(tuning: Sequence[int]) -> tuple[Note, ...]:
    """Notes with octave for open strings given as MIDI numbers, spelled all with sharps or all with flats.

    The spelling that lies closer together on the circle of fifths wins (E B E G# B E), flats when equal
    (Eb Ab Db Gb Bb Eb): this gives the names in use.
    """
    return _spell_tuning(tuple(tuning))


@lru_cache(maxsize=256)
def _spell_tuning(tuning: tuple[int, ...]) -> tuple[Note, ...]:
    sharps = [Note(name) for name in ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")]
    flats = [Note(name) for name in ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")]

    def width(names: Sequence[Note]) -> int:
        fifths = ["FCGDAEB".index(names[m % 12].letter) + 7 * names[m % 12].accidental for m in tuning]
        return max(fifths) - min(fifths)

    names = sharps if width(sharps) < width(flats) else flats
    return tuple(names[midi % 12].at_midi(midi) for midi in tuning)


_PRESETS = (
    #          id, name, tuning, frets, scale mm, joint
    Instrument("classical", "Classical guitar", STANDARD, 19, 650.0, 12, nut_spread_mm=43.0, twelfth_spread_mm=50.0),
    Instrument("steel-string", "Steel-string guitar", STANDARD, 20, 648.0, 14),
    Instrument("electric", "Electric guitar", STANDARD, 22, 648.0, 16, cutaway=True),
    Instrument("three-quarter", "Three-quarter guitar", STANDARD, 18, 580.0, 12, nut_spread_mm=38.0),
    Instrument("half-size", "Half-size guitar", STANDARD, 18, 530.0, 12, nut_spread_mm=36.0, twelfth_spread_mm=41.0),
)

#: Presets by id: classical, steel-string, electric, three-quarter, half-size.
INSTRUMENTS: Mapping[str, Instrument] = MappingProxyType({preset.id: preset for preset in _PRESETS})


def read_instrument(value: str | Instrument) -> Instrument:
    """The instrument itself, or the preset with this id.

    value : an Instrument, or "classical", "steel-string", "electric", "three-quarter" or "half-size".
    Raises InstrumentError, with the presets' ids, for anything else.
    """
    if isinstance(value, Instrument):
        return value
    if isinstance(value, str) and value in INSTRUMENTS:
        return INSTRUMENTS[value]
    raise InstrumentError(
        "{value} is not an instrument; the presets are {known}.",
        code="instrument-unknown",
        value=repr(value)[:40],
        known=", ".join(INSTRUMENTS),
    )
