"""Routes: a progression along the neck, each chord in the place that asks least of the hand.

Every chord of a progression can be had in several places. A route takes one for each, and its cost adds up,
in `demand`'s unit of one finger to press:
- the grip demand of each voicing;
- the demand of each change, in which a finger that stays down costs nothing, without its term for travel;
- the way of the hand along the neck, one unit for each 30 mm: about a fret in the middle of the neck. Along a
  whole progression the way weighs more than in one change, where `demand` measures it by the reach of the
  hand.

The best routes are found by a Viterbi search that keeps the `count` best ways to each place (exact: the tests
compare it with trying every combination).

References
----------
A. Viterbi, IEEE Trans. Inf. Theory 1967;13:260 (from memory). That good players choose positions to travel
little and keep fingers down: common practice, no source. The weights are `demand`'s and the 30 mm are ours.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from heapq import nsmallest
from itertools import pairwise

from studio.theory.chords import Chord, read_chord
from studio.theory.demand import AVERAGE, Demand, Hand, change_demand, check_hand, hand_travel_mm
from studio.theory.errors import TheoryError
from studio.theory.instrument import INSTRUMENTS, Instrument, read_instrument
from studio.theory.keys import Key
from studio.theory.neck import places, within
from studio.theory.shapes import SHAPES, find_shape
from studio.theory.voicing import Voicing

__all__ = ["NoRoute", "Route", "arrange", "read_step"]

MM_PER_UNIT = 30.0  # of hand travel that weighs as much as one finger to press
MAX_STEPS, MAX_ROUTES = 256, 50

_STEEL = INSTRUMENTS["steel-string"]


class NoRoute(TheoryError):
    """No way exists: some chord has no place that is allowed.

    index : which chord of the progression, from 0.  chord : its symbol.
    way_out : the nearest place outside what was allowed, as a sentence, "" when no shape gives the chord at
    all.
    """

    index: int
    chord: str
    way_out: str

    def __init__(self, template: str, code: str, index: int, chord: str, way_out: str, **values: object) -> None:
        super().__init__(template + "{space}{way_out}", code=code, chord=chord, number=index + 1,
                         way_out=way_out, space=" " if way_out else "", **values)  # fmt: skip
        self.index = index
        self.chord = chord
        self.way_out = way_out


@dataclass(frozen=True, slots=True)
class Route:
    """One way through a progression.

    chords : what is asked.  voicings : one for each chord, in order.  grips : the demand of each voicing.
    changes : the demand of each change, one fewer.
    """

    chords: tuple[Chord, ...]
    voicings: tuple[Voicing, ...]
    grips: tuple[Demand, ...]
    changes: tuple[Demand, ...]

    @property
    def cost(self) -> float:
        """What the route asks in all, in fingers to press: the sum of `terms`."""
        return sum(self.terms.values())

    @property
    def terms(self) -> dict[str, float]:
        """The parts of the cost: grips, changes, travel."""
        return {
            "grips": sum(grip.total for grip in self.grips),
            "changes": sum(change.total - change.terms["travel"] for change in self.changes),
            "travel": self.travel_mm / MM_PER_UNIT,
        }

    @property
    def travel_mm(self) -> float:
        """How far the hand goes along the neck in all, in mm."""
        return sum(hand_travel_mm(a, b) for a, b in pairwise(self.voicings))

    @property
    def stays(self) -> int:
        """How many times a finger stays down on its string and fret through a change."""
        tips = [set(v.fingertips.items()) for v in self.voicings]
        return sum(len(a & b) for a, b in pairwise(tips))

    @property
    def window(self) -> tuple[int, int]:
        """The lowest and the highest fret that a finger presses."""
        return min(v.lowest_fret for v in self.voicings), max(v.highest_fret for v in self.voicings)


def read_step(text: str, key: str | Key | None = None) -> Chord:
    """The chord that one step of a progression stands for: a numeral in the key, else a chord symbol.

    text : "bVII", "V7/V", or a symbol in any spelling that `read_chord` reads.  key : a Key or its name, or None.
    Raises NumeralError or ChordSymbolError, which point at the character, and TheoryError for a numeral
    without a key.

    >>> read_step("bVII", "D").symbol, read_step("F#m7", "D").symbol
    ('C', 'F#m7')
    """
    home = None if key is None else Key.parse(key)
    looks = text.lstrip() if isinstance(text, str) else ""
    if looks.lstrip("#♯b♭")[:1] in tuple("IViv"):
        if home is None:
            raise TheoryError("The numeral {text!r} needs a key.", code="key-missing", text=looks[:40])
        return home.numeral(text).chord
    return read_chord(text)


@dataclass(frozen=True, slots=True)
class _Step:
    """A chord with the places it may take and their demand."""

    voicings: tuple[Voicing, ...]
    grips: tuple[Demand, ...]


def arrange(
    steps: Iterable[str | Chord],
    key: str | Key | None = None,
    shapes: Iterable[str] | None = None,
    instrument: str | Instrument = _STEEL,
    hand: Hand = AVERAGE,
    window: tuple[int, int] | None = None,
    count: int = 3,
) -> list[Route]:
    """The best few ways through a progression along the neck, least cost first.

    steps : 1 to 256 numerals in the key or chord symbols, mixed as one likes.  key : needed for numerals.
    shapes : ids that may be used; None or none at all allows the usual fingering of every open chord and
        movable shape, and variants and small forms where nothing else gives a chord.
    instrument : an Instrument or a preset's id.  hand : whose demand is least.
    window : the lowest and the highest fret allowed, counted from nut or capo; open strings need a window
        from 0 or 1. None allows the neck up to the body joint, and beyond where nothing else gives a chord.
    count : int, 1 to 50, how many ways at most.
    A chord over another bass (D/F#) takes only voicings with that note lowest.
    Raises NoRoute, naming the first chord that has no place and the nearest one outside what was allowed; and
    other TheoryErrors for steps, shapes, windows and counts that make no sense.

    >>> [v.title for v in arrange(["I", "vi"], "G", ["E-major", "E-minor", "A-minor"])[0].voicings]
    ['G, E-shape at 3', 'Em, A-shape at 7']
    """
    guitar = read_instrument(instrument)
    allowed = _allowed(shapes)
    frets = _window(window, guitar)
    if isinstance(count, bool) or not isinstance(count, int) or not 1 <= count <= MAX_ROUTES:
        raise TheoryError(
            "From 1 to {most} ways can be asked for, not {count}.",
            code="route-count", most=MAX_ROUTES, count=repr(count)[:40],
        )  # fmt: skip
    chords = _chords(steps, None if key is None else Key.parse(key))
    check_hand(hand)

    known: dict[Chord, _Step] = {}
    for index, chord in enumerate(chords):
        if chord not in known:
            known[chord] = _step(index, chord, allowed, guitar, hand, frets)
    return _search(chords, known, hand, count)


def _search(chords: tuple[Chord, ...], known: dict[Chord, _Step], hand: Hand, count: int) -> list[Route]:
    """The `count` cheapest ways, exact: to each place the `count` cheapest ways to it are kept.

    A way to a place is (cost, the place it comes from, the rank of the way there), so ties fall to the lower
    places.
    """
    changes: dict[tuple[Chord, Chord], list[list[float]]] = {}
    first = known[chords[0]]
    ways: list[list[tuple[float, int, int]]] = [[(grip.total, -1, 0)] for grip in first.grips]
    history = [ways]
    for before, chord in pairwise(chords):
        if (before, chord) not in changes:
            changes[before, chord] = [
                [_change(a, b, hand) for a in known[before].voicings] for b in known[chord].voicings
            ]
        ways = []
        for costs, grip in zip(changes[before, chord], known[chord].grips, strict=True):
            own = grip.total
            ways.append(
                nsmallest(
                    count,
                    [
                        (way[0] + change + own, place, rank)
                        for place, change in enumerate(costs)
                        for rank, way in enumerate(history[-1][place])
                    ],
                )
            )
        history.append(ways)
    ends = nsmallest(
        count, [(way[0], place, rank) for place, found in enumerate(ways) for rank, way in enumerate(found)]
    )
    return [_route(chords, known, hand, history, place, rank) for _, place, rank in ends]


def _change(a: Voicing, b: Voicing, hand: Hand) -> float:
    """The cost of a change: its demand, with the way of the hand weighed as a route weighs it."""
    demand = change_demand(a, b, hand)
    travel = demand.terms["travel"]
    return demand.total - travel + travel * hand.reach / MM_PER_UNIT


def _route(
    chords: tuple[Chord, ...],
    known: dict[Chord, _Step],
    hand: Hand,
    history: list[list[list[tuple[float, int, int]]]],
    place: int,
    rank: int,
) -> Route:
    """The way that ends as the `rank`-th one at `place`, followed back to its beginning."""
    path: list[int] = []
    for ways in reversed(history):
        path.append(place)
        _, place, rank = ways[place][rank]
    path.reverse()
    found = [known[chord] for chord in chords]
    voicings = tuple(step.voicings[place] for step, place in zip(found, path, strict=True))
    return Route(
        chords,
        voicings,
        tuple(step.grips[place] for step, place in zip(found, path, strict=True)),
        tuple(change_demand(a, b, hand) for a, b in pairwise(voicings)),
    )


def _chords(steps: Iterable[str | Chord], key: Key | None) -> tuple[Chord, ...]:
    if isinstance(steps, str) or not isinstance(steps, Iterable):
        raise TheoryError("A progression is a list of chords, not {value}.", code="progression", value=repr(steps)[:40])
    chords: list[Chord] = []
    for step in steps:
        if len(chords) == MAX_STEPS:
            raise TheoryError("A progression has at most {most} chords here.", code="progression", most=MAX_STEPS)
        chords.append(Chord.of(step.root, step.quality, step.bass) if isinstance(step, Chord) else read_step(step, key))
    if not chords:
        raise TheoryError("A progression needs at least one chord.", code="progression-empty")
    return tuple(chords)


def _allowed(shapes: Iterable[str] | None) -> frozenset[str]:
    if isinstance(shapes, str):
        shapes = (shapes,)
    elif shapes is not None and not isinstance(shapes, Iterable):
        raise TheoryError("{value} is no list of shapes.", code="shapes", value=repr(shapes)[:40])
    return frozenset(find_shape(shape).id for shape in shapes or ())


def _window(window: Sequence[int] | None, guitar: Instrument) -> tuple[int, int] | None:
    if window is None:
        return None
    if not isinstance(window, (tuple, list)) or len(window) != 2:
        raise TheoryError(
            "A window is two frets, the lowest and the highest, not {value}.", code="window", value=repr(window)[:40]
        )
    low, high = window
    guitar.check_fret(low)
    guitar.check_fret(high)
    if low > high:
        raise TheoryError(
            "A window begins at its lower fret: {low} to {high} runs backwards.", code="window", low=low, high=high
        )
    return low, high


def _step(
    index: int,
    chord: Chord,
    allowed: frozenset[str],
    guitar: Instrument,
    hand: Hand,
    window: tuple[int, int] | None,
) -> _Step:
    """Every allowed place of a chord, or NoRoute."""
    lives = places(chord.root, chord.quality, guitar, hand)
    everywhere = [place.voicing for place in lives]
    grips = {id(place.voicing): place.demand for place in lives}
    if chord.bass is not None:
        everywhere = [v for v in everywhere if v.bass.pitch_class == chord.bass.pitch_class]
    found = [v for v in everywhere if (not allowed or v.shape in allowed) and (window is None or within(v, window))]
    if not allowed:
        found = [v for v in found if not (SHAPES[v.shape].variant or SHAPES[v.shape].kind == "small")] or found
    if window is None:
        found = [v for v in found if not v.past_joint] or found
    if found:
        return _Step(tuple(found), tuple(grips[id(v)] for v in found))
    if not everywhere:
        raise NoRoute(
            "No shape of the catalogue gives {chord} (chord {number}) in this tuning.",
            "no-shape",
            index,
            chord.symbol,
            "",
        )
    middle = sum(window) / 2 if window is not None else 0
    nearest = min(everywhere, key=lambda v: (bool(allowed) and v.shape not in allowed, abs(v.position - middle)))
    where = f" between frets {window[0]} and {window[1]}" if window is not None else ""
    raise NoRoute(
        "{chord} (chord {number}) has no place{where} with the shapes allowed.",
        "no-place", index, chord.symbol, f"Nearest: {nearest.title}.", where=where,
    )  # fmt: skip
