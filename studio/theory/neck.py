"""Everywhere a chord lives on a neck: each place of each shape that gives it, with what it asks of the hand.

Conventions: as in `voicing`; frets and positions count from the capo where there is one, lengths are in mm.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from studio.theory.demand import AVERAGE, Demand, Hand, check_hand, grip_demand
from studio.theory.instrument import INSTRUMENTS, Instrument, read_instrument
from studio.theory.pitch import Note
from studio.theory.shapes import shapes_of
from studio.theory.voicing import Voicing, positions

__all__ = ["Place", "everywhere", "lightest", "places", "within"]

_STEEL = INSTRUMENTS["steel-string"]


class Place(NamedTuple):
    """One place at which a chord can be had.

    voicing : Voicing.  position : int, the index finger's fret from nut or capo, 0 for a form at the nut.
    stretch_frets : int, frets from the lowest pressed to the highest.  stretch_mm : float, the same along the neck.
    demand : grip demand of this voicing for the hand asked about.  past_joint : whether the hand has to pass the body.
    """

    voicing: Voicing
    position: int
    stretch_frets: int
    stretch_mm: float
    demand: Demand
    past_joint: bool


def places(
    root: str | Note, quality: str, instrument: Instrument | str = _STEEL, hand: Hand | None = None
) -> tuple[Place, ...]:
    """Every position of every shape that gives the chord on this neck, lowest position first, then easiest.

    root : note name or Note.  quality : an id of chords.QUALITIES, such as "major" or "m7".
    instrument : an Instrument or a preset's id.  hand : whose grip demand to give; an average adult's if None.
    Two fingerings of the same frets are two places; the same frets and fingers are listed once.
    Raises NoteError, ShapeError, InstrumentError or TheoryError; () when no shape of the catalogue gives the chord.
    The shapes are the catalogue's (common practice, no source), the demand `demand`'s.

    >>> [place.position for place in places("F", "minor") if place.voicing.shape == "E-minor"]
    [1, 13]
    """
    neck = read_instrument(instrument)
    hand = AVERAGE if hand is None else hand
    check_hand(hand)
    found = [
        Place(v, v.position, v.stretch_frets, v.stretch_mm, grip_demand(v, hand), v.past_joint)
        for v in everywhere(Note(root).without_octave(), quality, neck)
    ]
    return tuple(sorted(found, key=lambda place: (place.position, place.demand.total)))


def everywhere(root: Note, quality: str, neck: Instrument) -> tuple[Voicing, ...]:
    """Every place of a chord on a neck, lowest position first: `places` without the hand.

    root : Note without octave.  Raises ShapeError for a quality that chords.QUALITIES lacks.
    """
    shapes_of(quality)  # refuses what is no quality before it reaches the cache
    return _everywhere(root, quality, neck)


@lru_cache(maxsize=1024)
def _everywhere(root: Note, quality: str, neck: Instrument) -> tuple[Voicing, ...]:
    found: dict[object, Voicing] = {}
    for shape in shapes_of(quality):
        for voicing in positions(shape, root, neck):
            found.setdefault((voicing.frets, voicing.fingers), voicing)
    return tuple(sorted(found.values(), key=lambda voicing: voicing.position))


@lru_cache(maxsize=512)
def lightest(root: Note, quality: str, neck: Instrument, hand: Hand) -> tuple[Voicing, float] | None:
    """The place of a chord that asks least of a hand, and how much (in fingers to press); None where it has none."""
    demands = [(voicing, grip_demand(voicing, hand).total) for voicing in everywhere(root, quality, neck)]
    return min(demands, key=lambda pair: pair[1], default=None)


def within(voicing: Voicing, window: tuple[int, int]) -> bool:
    """Whether a voicing lies between two frets; open strings only where the window begins at 0 or 1."""
    low, high = window
    return voicing.highest_fret <= high and (low <= 1 if 0 in voicing.frets else voicing.lowest_fret >= low)
