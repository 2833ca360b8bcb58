"""A shape at a root on an instrument: the frets, fingers and notes of a chord in hand, or why it cannot be
had.

Conventions
-----------
- Tuples run by string, lowest string first (6th first on six strings); None is a string not played.
- Frets and `position` (the index finger's fret) count from the capo where there is one, else from the nut.
- With a capo a chord keeps the name it is fingered by: `root`, `notes` and `symbol` are as fingered, and
  `midi`, `sounding_notes` and `sounding_symbol` as heard.  Another tuning is no capo: there the notes are as
  heard.
- Notes are spelled from the root by degree (the third of D-flat minor is F-flat); the root keeps the name
asked for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from types import MappingProxyType
from typing import NamedTuple

from studio.theory.chords import QUALITIES, common_root
from studio.theory.errors import OffNeck, ShapeError
from studio.theory.instrument import INSTRUMENTS, MAX_FRETS, Instrument, read_instrument, spell_tuning
from studio.theory.pitch import Note
from studio.theory.shapes import (
    SHAPES,
    Barre,
    Fit,
    Frets,
    Shape,
    describe_broken,
    find_barres,
    find_shape,
    fingertips,
    fit,
    shapes_of,
)

STEEL = INSTRUMENTS["steel-string"]


@dataclass(frozen=True)
class Voicing:
    """One shape placed at one root on one instrument.

    shape : id in the catalogue.  instrument : Instrument, its capo included.
    root : Note as fingered.  quality : an id of chords.QUALITIES.  symbol : "Bm", as fingered.
    position : int, the index finger's fret from nut or capo; 0 for a form at the nut.
    frets, fingers : per string, lowest first; fingers 1 to 4, 0 open, None not played; a finger that holds
        several strings stands under each.
    notes : Note (no octave) per string, as fingered.  degrees : what each string is of the chord ("1", "b3",
    "5").
    midi : MIDI numbers of the sounding strings only, lowest string first, as heard.
    """

    shape: str
    instrument: Instrument
    root: Note
    quality: str
    symbol: str
    position: int
    frets: Frets
    fingers: Frets
    notes: tuple[Note | None, ...]
    degrees: tuple[str | None, ...]
    midi: tuple[int, ...]

    @property
    def strings_sounding(self) -> int:
        """How many strings sound: what "clean strings" are counted out of."""
        return len(self.midi)

    @property
    def sounding(self) -> tuple[int, ...]:
        """Numbers of the strings that sound, 1 the highest, lowest string first."""
        return tuple(len(self.frets) - i for i, fret in enumerate(self.frets) if fret is not None)

    @cached_property
    def barres(self) -> tuple[Barre, ...]:
        """Every finger that holds two or more strings: (finger, from_string, to_string, fret)."""
        return find_barres(self.frets, self.fingers)

    @cached_property
    def has_barre(self) -> bool:
        """Whether the index lies over three strings or more."""
        return any(barre.is_full for barre in self.barres)

    @cached_property
    def lays_flat(self) -> bool:
        """Whether any finger lies flat over three strings or more, the index or another: a partial barre by the third
        finger asks at least as much of the hand as one by the index over the same strings (common practice, no source).
        A flat finger over two strings does not count."""
        return any(barre.span >= 3 for barre in self.barres)

    @cached_property
    def fingertips(self) -> Mapping[int, tuple[int, int]]:
        """finger -> (the lowest string it holds, its fret): where each finger's end stands."""
        return MappingProxyType(fingertips(self.frets, self.fingers))

    @property
    def pressed(self) -> tuple[int, ...]:
        """The fingers in use, 1 to 4, in order."""
        return tuple(sorted(self.fingertips))

    @property
    def root_string(self) -> int:
        """The lowest string that sounds the root, 1 the highest."""
        return len(self.degrees) - self.degrees.index("1")

    @property
    def bass(self) -> Note:
        """The lowest string's note, as fingered."""
        return next(note for note in self.notes if note is not None)

    @cached_property
    def lowest_fret(self) -> int:
        """The lowest fret that a finger presses; 0 when all strings are open."""
        return min((fret for fret in self.frets if fret), default=0)

    @cached_property
    def highest_fret(self) -> int:
        """The highest fret that a finger presses; 0 when all strings are open."""
        return max((fret for fret in self.frets if fret), default=0)

    @property
    def stretch_frets(self) -> int:
        """Frets from the lowest pressed to the highest pressed; 0 when they are one."""
        return self.highest_fret - self.lowest_fret

    @property
    def stretch_mm(self) -> float:
        """The same along the neck in mm."""
        return self.instrument.fret_distance(self.highest_fret) - self.instrument.fret_distance(self.lowest_fret)

    @cached_property
    def hand_mm(self) -> float:
        """Where the hand stands: the index's fret in mm from the nut; an open form has it at the first
        fret."""
        return self.instrument.point_mm(1, max(1, self.position))[0]

    @property
    def past_joint(self) -> bool:
        """Whether the index stands beyond the last fret that the hand reaches without passing the body."""
        return self.position > self.instrument.easy_fret

    @property
    def sounding_root(self) -> Note:
        """The root as heard: the capo raises it, and then it takes its commoner name."""
        capo = self.instrument.capo
        return common_root(self.root.pitch_class + capo, self.quality) if capo else self.root

    @property
    def sounding_symbol(self) -> str:
        """The chord symbol as heard with the capo: "C" fingered at capo 2 is "D"."""
        return f"{self.sounding_root}{QUALITIES[self.quality].suffix}"

    @property
    def sounding_notes(self) -> tuple[Note | None, ...]:
        """A Note with octave per string as heard, None where not played."""
        root, heard = self.sounding_root, iter(self.midi)
        return tuple(None if d is None else root.degree(d).at_midi(next(heard)) for d in self.degrees)

    @property
    def title(self) -> str:
        """English name: "Bm, E-shape at 7", "C, open", "F, small form"."""
        shape = SHAPES[self.shape]
        if shape.kind == "small":
            where = "small form"
            if self.position != shape.home:
                where = f"{shape.name} form at {self.position}"
        elif self.position == 0:
            where = "open"
        else:
            where = f"{shape.family}-shape at {self.position}"
        return f"{self.symbol}, {where}" + (f" ({shape.variant})" if shape.variant else "")

    def __str__(self) -> str:
        return self.title


def check_voicing(value: object) -> None:
    """Raise ShapeError unless `value` is a Voicing."""
    if not isinstance(value, Voicing):
        raise ShapeError(
            "{value} is no placed chord; `place` makes one from a shape and a root.",
            code="voicing",
            value=repr(value)[:40],
        )


class _Ready(NamedTuple):
    """A shape on a tuning: its form at the nut and its moved form, as far as they survive."""

    at_nut: Fit | None
    moved: Fit | None


@lru_cache(maxsize=4096)
def _ready(shape_id: str, tuning: tuple[int, ...]) -> _Ready:
    shape = SHAPES[shape_id]
    moved = fit(shape.moved_form, tuning) if shape.moved_form else None
    at_nut = fit(shape.open_form, tuning) if shape.open_form else moved
    if at_nut is not None:  # a small form slid back to the nut: what the index held rings open
        fingers = tuple(0 if fret == 0 else f for fret, f in zip(at_nut.frets, at_nut.fingers, strict=True))
        at_nut = at_nut._replace(fingers=fingers)
    return _Ready(at_nut, moved)


@lru_cache(maxsize=8192)
def _spelled(root: Note, quality: str, degrees: tuple[str | None, ...]) -> tuple[str, tuple[Note | None, ...]]:
    """The symbol of a chord and the note of each string."""
    notes = tuple(None if degree is None else root.degree(degree) for degree in degrees)
    return f"{root}{QUALITIES[quality].suffix}", notes


def _build(shape: Shape, root: Note, instrument: Instrument, form: Fit, position: int) -> Voicing:
    lift = position + instrument.capo
    symbol, notes = _spelled(root, shape.quality, form.degrees)
    return Voicing(
        shape.id,
        instrument,
        root,
        shape.quality,
        symbol,
        position,
        tuple([None if fret is None else fret + position for fret in form.frets]),
        form.fingers,
        notes,
        form.degrees,
        tuple([midi + lift for midi in form.midi]),
    )


def place(
    shape_id: str | Shape,
    root: str | Note | None = None,
    instrument: Instrument | str = STEEL,
    position: int | None = None,
) -> Voicing:
    """A shape at a root on an instrument.

    shape_id : an id of SHAPES.  root : a note name such as "Bb" or "F#"; open chords and small forms have
    their own when none is given.  instrument : an Instrument or a preset's id.
    position : the index finger's fret, counted from nut or capo.  None takes the lowest of 1 or higher (an
    open chord or small form stays where it is at home); 0 is the open form.

    Raises OffNeck, with the reason and the nearest way out, when the shape cannot be had there; NoteError,
    ShapeError or InstrumentError when the question itself makes no sense.

    >>> place("E-minor", "B").frets, place("A-minor", "B").fingers
    ((7, 9, 9, 7, 7, 7), (None, 1, 3, 4, 2, 1))
    """
    shape = find_shape(shape_id)
    if not isinstance(instrument, Instrument):
        instrument = read_instrument(instrument)
    ready = _ready(shape.id, instrument.tuning)
    if position is not None and (
        isinstance(position, bool) or not isinstance(position, int) or not 0 <= position <= MAX_FRETS
    ):
        raise ShapeError(
            "A position is a fret from 0, the open form, to {last}, not {position}.",
            code="position",
            last=MAX_FRETS,
            position=repr(position)[:40],
        )
    if root is None:
        note = _own_root(shape, ready, instrument, position)
    else:
        note = _root(root) if isinstance(root, str) else Note(root).without_octave()

    if position == 0 or (not shape.moves):
        form = ready.at_nut
        if form is None:
            raise _broken(shape, note, instrument, at_nut=True)
        if position or form.base != note.pitch_class:
            raise _tied(shape, note, instrument, form, position)
        position = 0
    else:
        form = ready.moved
        if form is None:
            raise _broken(shape, note, instrument, at_nut=False)
        lowest = (note.pitch_class - form.base - 1) % 12 + 1
        if position is None:
            own = shape.home
            position = own if own and (own - lowest) % 12 == 0 else lowest
        elif (position - lowest) % 12:
            raise _elsewhere(shape, note, instrument, form, position, lowest)
    if position + form.highest > instrument.frets - instrument.capo:
        raise _past_last_fret(shape, note, instrument, position)
    return _build(shape, note, instrument, form, position)


@lru_cache(maxsize=512)
def _root(name: str) -> Note:
    return Note(name).without_octave()


def _own_root(shape: Shape, ready: _Ready, instrument: Instrument, position: int | None) -> Note:
    """The root that a form has by itself in this tuning, for shapes that are at home somewhere."""
    if shape.home is None and position is None:
        raise ShapeError("{name} can stand at any root: say which, like B or F#.", code="root-missing", name=shape.name)
    where = shape.home if position is None else position
    form = ready.at_nut if where == 0 else ready.moved
    if form is None:
        raise _broken(shape, None, instrument, at_nut=where == 0)
    return common_root(form.base + (where or 0), shape.quality)


# -- why not, and the nearest way out ------------------------------------------------------------------------


def _ways(shape: Shape, root: Note, instrument: Instrument, near: int | None) -> Iterator[Voicing]:
    """What can be had instead, best first: the shape elsewhere, then other shapes of the chord."""
    own = list(positions(shape, root, instrument))
    yield from sorted(own, key=lambda v: abs(v.position - (near or 0)))
    order = ("movable", "small", "open") if shape.kind == "movable" else ("open", "small", "movable")
    others = [
        voicing
        for other in shapes_of(shape.quality)
        if other.id != shape.id
        for voicing in positions(other, root, instrument)
    ]
    yield from sorted(others, key=lambda v: (v.past_joint, order.index(SHAPES[v.shape].kind), v.position))


def positions(shape: Shape, root: Note, instrument: Instrument) -> Iterator[Voicing]:
    """Every place of one shape at one root on a neck, lowest first; none where the tuning breaks the
    shape."""
    ready = _ready(shape.id, instrument.tuning)
    form = ready.at_nut
    if form is not None and form.base == root.pitch_class and (shape.home or 0) == 0:
        yield _build(shape, root, instrument, form, 0)
    form = ready.moved
    if form is not None:
        first = (root.pitch_class - form.base - 1) % 12 + 1
        for position in range(first, instrument.last_fret - form.highest + 1, 12):
            yield _build(shape, root, instrument, form, position)


def _off(
    shape: Shape,
    root: Note | None,
    instrument: Instrument,
    near: int | None,
    code: str,
    template: str,
    **values: object,
) -> OffNeck:
    way = next(_ways(shape, root, instrument, near), None) if root is not None else None
    values["name"] = shape.name
    return OffNeck(
        template,
        code=code,
        way_out=f"Nearest: {way.title}." if way else "",
        instead=(way.shape, str(way.root), way.position) if way else None,
        values=values,
    )


def _broken(shape: Shape, root: Note | None, instrument: Instrument, at_nut: bool) -> OffNeck:
    form = (shape.open_form if at_nut else shape.moved_form) or shape.form
    words = describe_broken(form, instrument.tuning, spell_tuning(instrument.tuning))
    return _off(
        shape,
        root,
        instrument,
        None,
        "tuning-breaks-shape",
        "The {name} is lost in the tuning {tuning}, because it uses {strings}.",
        tuning=instrument.describe_tuning(),
        strings=words,
    )


def _tied(shape: Shape, root: Note, instrument: Instrument, form: Fit, position: int | None) -> OffNeck:
    own = common_root(form.base, shape.quality)
    symbol = f"{own}{QUALITIES[shape.quality].suffix}"
    if shape.moves:
        template = "The open form of the {name} gives {own}, not {asked}."
    elif form.base == root.pitch_class:
        template = "The {name} has open strings and cannot move to fret {position}."
    else:
        template = "The {name} has open strings: it gives {own}, never {asked}."
    asked = f"{root}{QUALITIES[shape.quality].suffix}"
    return _off(shape, root, instrument, position, "open-form", template, own=symbol, asked=asked, position=position)


def _elsewhere(shape: Shape, root: Note, instrument: Instrument, form: Fit, position: int, lowest: int) -> OffNeck:
    there = common_root(form.base + position, shape.quality)
    suffix = QUALITIES[shape.quality].suffix
    return _off(
        shape,
        root,
        instrument,
        position,
        "position-root",
        "The {name} at fret {position} is {there}; {asked} is at fret {lowest}.",
        position=position,
        there=f"{there}{suffix}",
        asked=f"{root}{suffix}",
        lowest=lowest,
    )


def _past_last_fret(shape: Shape, root: Note, instrument: Instrument, position: int) -> OffNeck:
    form = shape.form
    return _off(
        shape,
        root,
        instrument,
        position,
        "past-last-fret",
        "{symbol}, {name}, stands at fret {position} and reaches fret {highest}; this neck ends at {last}{capo}.",
        symbol=f"{root}{QUALITIES[shape.quality].suffix}",
        position=position,
        highest=position + form.highest,
        last=instrument.last_fret,
        capo=f", counted from the capo at {instrument.capo}" if instrument.capo else "",
    )
