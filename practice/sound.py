"""What the student's page sounds: reference tones of the open strings, and where a metronome's clicks lie.

Pure. The page plays both with Web Audio; this module says what is right, and the tests hold the page to it.

Conventions
-----------
- Strings run from the lowest to the highest, numbered as guitarists do (1 is the highest). Frequencies in Hz
  with A4 = 440 Hz (ISO 16), f = 440 * 2 ** ((m - 69) / 12) for MIDI number m.
- Tempo is in beats a minute. A metre whose upper number is 6, 9, 12, 15 or 18 is compound: its beat is a dotted
  note of three parts, so 6/8 has two beats, and eighths sound as three clicks a beat, the 1st and the 4th
  stressed [common practice, no source; music21 counts so too]. In every other metre the upper number is the
  number of beats.
- Times are in seconds from the first beat after the count-in; the count-in, one bar, lies before 0.
"""

import math
import re
from dataclasses import dataclass

from studio.theory.errors import TheoryError
from studio.theory.instrument import STRING, Instrument, spell_tuning
from studio.theory.pitch import hz

LOWEST_BPM, HIGHEST_BPM = 30, 240
MOST_PARTS = 4

_METRE = re.compile(r"([1-9]|1[0-9])/(1|2|4|8|16)")


@dataclass(frozen=True)
class OpenString:
    """An open string as it should sound, capo counted. number: 1 the highest; note: "E2"; hz: its frequency."""

    number: int
    note: str
    hz: float

    @property
    def name(self) -> str:
        """How a guitarist calls it: "6th string"."""
        return STRING[self.number]


@dataclass(frozen=True)
class Metre:
    """beats: of one bar; parts: into how many the beat divides by itself, 3 in a compound metre, else 1."""

    beats: int
    parts: int


@dataclass(frozen=True)
class Click:
    """at: seconds; bar: 0 is the first after the count-in, -1 the count-in; beat, part: counted from 0."""

    at: float
    bar: int
    beat: int
    part: int


def open_strings(instrument: Instrument) -> tuple[OpenString, ...]:
    """The open strings of an instrument with its own tuning and capo, lowest first.

    >>> from studio.theory import INSTRUMENTS
    >>> [(s.number, s.note, round(s.hz, 2)) for s in open_strings(INSTRUMENTS["steel-string"].with_(capo=2))][:2]
    [(6, 'F#2', 92.5), (5, 'B2', 123.47)]
    """
    sounding = instrument.open_midi
    return tuple(
        OpenString(len(sounding) - index, note.full, hz(midi))
        for index, (midi, note) in enumerate(zip(sounding, spell_tuning(sounding), strict=True))
    )


def read_metre(text: str) -> Metre:
    """Beats of a bar, from "4/4" or "6/8". Raises TheoryError for anything that is not a metre.

    >>> read_metre("3/4"), read_metre("6/8")
    (Metre(beats=3, parts=1), Metre(beats=2, parts=3))
    """
    found = _METRE.fullmatch(text) if isinstance(text, str) else None
    if found is None:
        raise TheoryError("A metre is written like 4/4 or 6/8, not {metre}.", code="metre", metre=repr(text)[:40])
    upper = int(found[1])
    return Metre(upper // 3, 3) if upper > 3 and upper % 3 == 0 else Metre(upper, 1)


def clicks(
    bpm: float, metre: str, seconds: float, parts: int | None = None, count_in: bool = False
) -> tuple[Click, ...]:
    """Every click of the first `seconds` (exclusive), before them those of a one-bar count-in if asked.

    bpm: 30 to 240; parts: clicks a beat, 1 to 4, None for the metre's own; seconds: 0 to 3600.
    Raises TheoryError, naming the value, outside these ranges.

    >>> [round(click.at, 2) for click in clicks(90, "2/4", 2.5)]
    [0.0, 0.67, 1.33, 2.0]
    """
    own = read_metre(metre)
    parts = own.parts if parts is None else parts
    _between("bpm", bpm, LOWEST_BPM, HIGHEST_BPM)
    _between("parts", parts, 1, MOST_PARTS)
    _between("seconds", seconds, 0, 3600)
    apart = 60 / (bpm * parts)
    first = -own.beats * parts if count_in else 0
    found = []
    for index in range(first, math.ceil(seconds / apart)):
        whole, part = divmod(index, parts)
        found.append(Click(index * apart, *divmod(whole, own.beats), part))
    return tuple(found)


def _between(name: str, value: float, low: float, high: float) -> None:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
        raise TheoryError(
            "{name} lies between {low} and {high}, not {value}.",
            code="metronome", name=name, low=low, high=high, value=repr(value)[:40],
        )  # fmt: skip
