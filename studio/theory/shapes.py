"""The catalogue: open chords, small forms, and the movable shapes derived from open forms.

A movable shape is an open chord's fingering played with other fingers, so that the index finger takes the
nut's place.  The catalogue therefore keeps one open form for each shape and the fingering that moves it;
every placement follows by moving the nut, and no placement is typed in.

Conventions
-----------
- Six columns, 6th string first: "x02210" is a form counted from the nut (0 open, x not played), "x13421"
  its fingers (1 index to 4 little finger, 0 open; a finger that holds several strings stands under each).
- A form's `frets` are offsets from the nut, or from the index finger once it has taken the nut's place, so
  the index always has offset 0 in a moved form and `position` is its fret.
- A string is known by its number, 1 the highest.  A shape's *degrees* ("1", "b3", "5") are what each string
  is of the chord in standard tuning; in another tuning the shape survives if they stay the same.
- ids: `<open form>-<quality>` with a suffix for other fingerings; `open-...` and `small-...` for the rest.

Sources
-------
All fingerings and forms: common practice, no source.  The E- and A-shape fingerings, the partial barre that
leaves out string 1, the forms used where the open one cannot be moved (E-6, A-m6, dim7) and the small forms
follow the project's facts; other rows are what the trade teaches, from memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from types import MappingProxyType
from typing import NamedTuple

from studio.theory.chords import QUALITIES
from studio.theory.errors import ShapeError
from studio.theory.instrument import STANDARD, STRING, check_tuning
from studio.theory.pitch import DEGREES, Note

Frets = tuple[int | None, ...]

FINGER_NAMES: Mapping[int, str] = MappingProxyType(
    {1: "first finger", 2: "second finger", 3: "third finger", 4: "fourth finger"}
)


KINDS = ("movable", "open", "small")


class Barre(NamedTuple):
    """One finger over several strings of one fret: from the lower string (higher number) to the higher.

    It lies over the strings between as well, even where another finger sounds them further up.
    """

    finger: int
    from_string: int
    to_string: int
    fret: int

    @property
    def span(self) -> int:
        """How many strings it lies over."""
        return self.from_string - self.to_string + 1

    @property
    def is_full(self) -> bool:
        """Whether it is the index over three strings or more: what a player means by a barre chord."""
        return self.finger == 1 and self.span >= 3


@lru_cache(maxsize=8192)
def find_barres(frets: Frets, fingers: Frets) -> tuple[Barre, ...]:
    """The barres of a fingering: every finger (1 to 4) that holds two or more strings.

    frets, fingers : one value per string, lowest string first, as in a Voicing.
    """
    held: dict[int, list[int]] = {}
    for index, finger in enumerate(fingers):
        if finger:
            held.setdefault(finger, []).append(index)
    found = []
    for finger, columns in sorted(held.items()):
        fret = frets[columns[0]]
        if len(columns) > 1 and fret is not None:
            found.append(Barre(finger, len(frets) - columns[0], len(frets) - columns[-1], fret))
    return tuple(found)


def fingertips(frets: Frets, fingers: Frets) -> dict[int, tuple[int, int]]:
    """finger -> (the lowest string it holds, its fret): where each finger's end stands."""
    tips: dict[int, tuple[int, int]] = {}
    for index, (fret, finger) in enumerate(zip(frets, fingers, strict=True)):
        if finger and fret is not None and finger not in tips:
            tips[finger] = (len(frets) - index, fret)
    return tips


@dataclass(frozen=True)
class Form:
    """One way to hold a shape, counted from the nut or from the index finger in the nut's place.

    frets, fingers : six values, 6th string first; None where not played.
    degrees : what each string is of the chord, None where not played.  root_string : 6 to 2.
    """

    frets: Frets
    fingers: Frets
    degrees: tuple[str | None, ...]
    root_string: int

    @property
    def sounding(self) -> tuple[int, ...]:
        """Numbers of the strings that sound, lowest string first."""
        return tuple(6 - index for index, fret in enumerate(self.frets) if fret is not None)

    @property
    def highest(self) -> int:
        """The largest offset: how many frets past the nut or the index the form reaches."""
        return max(fret for fret in self.frets if fret is not None)


@dataclass(frozen=True)
class Shape:
    """One entry of the catalogue.

    id : "E-minor".  name : "E-shape minor", "open C", "small F".  quality : an id of chords.QUALITIES.
    kind : "movable", "open" or "small".
    family : the open chord a movable shape comes from ("E", "A", "C", "G", "D"); an open form's own letter;
        "" for small forms.
    variant : words that tell this fingering from the usual one, "" for the usual.
    open_form : the form at the nut with its own fingering, None for a small form without open strings.
    moved_form : the form with the index in the nut's place, None where open strings tie it to the nut.
    home : the position a small form has of its own (F xx3211 has 1), 0 where it is tied to the nut, None for
        movable shapes.
    origin : one sentence on where the form comes from.
    """

    id: str
    name: str
    quality: str
    kind: str
    family: str
    variant: str
    open_form: Form | None
    moved_form: Form | None
    home: int | None
    origin: str

    @property
    def form(self) -> Form:
        """The form it is known by: moved where the shape can move, else at the nut."""
        form = self.moved_form or self.open_form
        assert form is not None
        return form

    @property
    def moves(self) -> bool:
        """Whether it can be had at other frets than its own."""
        return self.moved_form is not None

    @property
    def root_string(self) -> int:
        """The string that carries the root, 1 the highest."""
        return self.form.root_string

    @property
    def degrees(self) -> tuple[str | None, ...]:
        """What each string is of the chord, 6th string first."""
        return self.form.degrees

    @property
    def open_frets(self) -> Frets | None:
        """The open form, 6th string first, or None."""
        return self.open_form.frets if self.open_form else None

    @property
    def open_fingers(self) -> Frets | None:
        """The open form's own fingering, or None."""
        return self.open_form.fingers if self.open_form else None

    @property
    def moved_frets(self) -> Frets | None:
        """Offsets from the index finger's fret, or None where the form cannot move."""
        return self.moved_form.frets if self.moved_form else None

    @property
    def moved_fingers(self) -> Frets | None:
        """The fingering with the index in the nut's place, or None where the form cannot move."""
        return self.moved_form.fingers if self.moved_form else None

    @property
    def omitted(self) -> tuple[str, ...]:
        """Degrees of the quality that no string sounds, such as ("5",) in the movable E-6."""
        return tuple(degree for degree in quality_degrees(self.quality) if degree not in self.degrees)

    @cached_property
    def barres(self) -> tuple[Barre, ...]:
        """Its barres, frets counted from the index finger (or the nut)."""
        return find_barres(self.form.frets, self.form.fingers)

    @cached_property
    def has_barre(self) -> bool:
        """Whether the index lies over three strings or more (a flat fingertip over two is none yet)."""
        return any(barre.is_full for barre in self.barres)

    @cached_property
    def has_partial_barre(self) -> bool:
        """Whether any finger lies over some strings without being the full barre by the index."""
        return any(not barre.is_full for barre in self.barres)


def quality_degrees(quality: str) -> tuple[str, ...]:
    """The degrees of a quality in stacking order, such as ("1", "b3", "5") for "minor".

    Raises ShapeError for a quality that chords.QUALITIES lacks.
    """
    return tuple(_degree_names(quality).values())


def _check_quality(quality: object) -> None:
    if not isinstance(quality, str) or quality not in QUALITIES:
        raise ShapeError("{quality} is not a kind of chord here.", code="quality-unknown", quality=repr(quality)[:40])


def _degree_names(quality: str) -> dict[int, str]:
    """Semitones above the root, 0 to 11 -> the degree's name in this quality."""
    _check_quality(quality)
    return {DEGREES[name][1]: name for name in QUALITIES[quality].degrees}


def _columns(text: str) -> Frets:
    return tuple(None if char == "x" else int(char) for char in text)


def _form(frets: str | Sequence[int | None], fingers: str, quality: str, root_string: int) -> Form:
    columns = _columns(frets) if isinstance(frets, str) else tuple(frets)
    root = columns[6 - root_string]
    assert root is not None, frets
    names = _degree_names(quality)
    degrees = tuple(
        None if fret is None else names[(STANDARD[i] + fret - STANDARD[6 - root_string] - root) % 12]
        for i, fret in enumerate(columns)
    )
    return Form(columns, _columns(fingers), degrees, root_string)


_FAMILY_ROOT_STRING = {"E": 6, "A": 5, "C": 5, "G": 6, "D": 4}

# The trade's movable form where the open one cannot be moved as it stands.
_FIVE = "The open form {open} moved would need five fingers; this is the form the trade moves instead."
_INNER = "The inner strings of the open form: taught before the full shape."

# id suffix, quality, open form, its fingers, moved form (index 0; "" for the open form), fingers, variant,
# origin
_Row = tuple[str, str, str, str, str, str, str, str]
_MOVABLE: dict[str, tuple[_Row, ...]] = {
    "E": (
        ("major", "major", "022100", "023100", "", "134211", "", ""),
        ("minor", "minor", "022000", "023000", "", "134111", "", ""),
        ("7", "7", "020100", "020100", "", "131211", "", ""),
        ("7-fourth-finger", "7", "020130", "020140", "", "131241", "", ""),
        ("m7", "m7", "020000", "020000", "", "131111", "", ""),
        ("m7-fourth-finger", "m7", "022030", "012040", "", "123141", "", ""),
        ("maj7", "maj7", "021100", "031200", "", "142311", "", ""),
        ("maj7-inner", "maj7", "0x110x", "0x120x", "", "1x342x", "strings 6, 4, 3 and 2", "inner"),
        ("sus4", "sus4", "022200", "023400", "", "123411", "", ""),
        ("7sus4", "7sus4", "020200", "020300", "", "131411", "", ""),
        ("6", "6", "022120", "023140", "0x2120", "1x3241", "", "five"),
        ("m6", "m6", "022020", "012030", "", "123141", "", ""),
        ("5", "5", "022xxx", "012xxx", "", "134xxx", "", ""),
        ("5-two", "5", "02xxxx", "01xxxx", "", "13xxxx", "two strings", ""),
        ("aug", "aug", "0x211x", "0x312x", "", "1x423x", "", ""),
    ),
    "A": (
        ("major", "major", "x02220", "x01230", "", "x12341", "", ""),
        ("major-partial", "major", "x0222x", "x0111x", "", "x1333x", "partial barre", ""),
        ("major-partial-full", "major", "x02220", "x01110", "", "x13331", "partial barre and string 1", ""),
        ("minor", "minor", "x02210", "x02310", "", "x13421", "", ""),
        ("7", "7", "x02020", "x02030", "", "x13141", "", ""),
        ("7-fourth-finger", "7", "x02223", "x01112", "", "x13334", "", ""),
        ("m7", "m7", "x02010", "x02010", "", "x13121", "", ""),
        ("maj7", "maj7", "x02120", "x02130", "", "x13241", "", ""),
        ("sus2", "sus2", "x02200", "x01200", "", "x13411", "", ""),
        ("sus4", "sus4", "x02230", "x01240", "", "x12341", "", ""),
        ("7sus4", "7sus4", "x02030", "x02030", "", "x13141", "", ""),
        ("6", "6", "x02222", "x01111", "", "x13333", "", ""),
        ("m6", "m6", "x02212", "x02314", "x02x12", "x13x24", "", "five"),
        ("5", "5", "x022xx", "x012xx", "", "x134xx", "", ""),
        ("5-two", "5", "x02xxx", "x01xxx", "", "x13xxx", "two strings", ""),
        ("m7b5", "m7b5", "x0101x", "x0102x", "", "x1324x", "", ""),
        ("m7b5-barre", "m7b5", "x0101x", "x0102x", "", "x1213x", "barre", ""),
        ("dim7", "dim7", "x01212", "x01324", "x1202x", "x2314x", "", "five"),
        ("dim", "dim", "x0121x", "x0132x", "", "x1243x", "", ""),
        ("aug", "aug", "x0322x", "x0312x", "", "x1423x", "", ""),
    ),
    "C": (
        ("major", "major", "x32010", "x32010", "", "x43121", "", ""),
        ("major-inner", "major", "x3201x", "x3201x", "", "x4312x", "strings 5 to 2", "inner"),
        ("minor", "minor", "x3101x", "x3102x", "", "x4213x", "", ""),
        ("7", "7", "x32310", "x32410", "x2120x", "x3241x", "", "string1"),
        ("maj7", "maj7", "x32000", "x32000", "", "x43111", "", ""),
    ),
    "G": (
        ("major-inner", "major", "x2000x", "x2000x", "", "x3111x", "inner strings", "inner"),
        ("major", "major", "320003", "210003", "", "321114", "", ""),
        ("minor", "minor", "3100xx", "3100xx", "", "4211xx", "strings 6 to 3", "inner"),
    ),
    "D": (
        ("major", "major", "xx0232", "xx0132", "", "xx1243", "", ""),
        ("minor", "minor", "xx0231", "xx0231", "", "xx1342", "", ""),
        ("7", "7", "xx0212", "xx0213", "", "xx1324", "", ""),
        ("m7", "m7", "xx0211", "xx0211", "", "xx1322", "", ""),
        ("maj7", "maj7", "xx0222", "xx0111", "", "xx1333", "", ""),
        ("sus2", "sus2", "xx0230", "xx0130", "", "xx1341", "", ""),
        ("sus4", "sus4", "xx0233", "xx0134", "", "xx1234", "", ""),
        ("5", "5", "xx023x", "xx013x", "", "xx134x", "", ""),
        ("m7b5", "m7b5", "xx0111", "xx0123", "", "xx1234", "", ""),
        ("m7b5-partial", "m7b5", "xx0111", "xx0111", "", "xx1333", "partial barre", ""),
        ("dim7", "dim7", "xx0101", "xx0102", "", "xx1324", "", ""),
        ("dim", "dim", "xx0131", "xx0142", "", "xx1243", "", ""),
        ("aug", "aug", "xx0332", "xx0231", "", "xx1342", "", ""),
    ),
}
_ROOT_STRING_OF = {"G-major-inner": 3}

# symbol, suffix, quality, root string, form, fingers, variant
_OPEN = (
    ("C", "", "major", 5, "x32010", "x32010", ""),
    ("A", "", "major", 5, "x02220", "x01230", ""),
    ("G", "", "major", 6, "320003", "210003", ""),
    ("E", "", "major", 6, "022100", "023100", ""),
    ("D", "", "major", 4, "xx0232", "xx0132", ""),
    ("Am", "", "minor", 5, "x02210", "x02310", ""),
    ("Em", "", "minor", 6, "022000", "023000", ""),
    ("Dm", "", "minor", 4, "xx0231", "xx0231", ""),
    ("E7", "", "7", 6, "020100", "020100", ""),
    ("A7", "", "7", 5, "x02020", "x02030", ""),
    ("D7", "", "7", 4, "xx0212", "xx0213", ""),
    ("G7", "", "7", 6, "320001", "320001", ""),
    ("C7", "", "7", 5, "x32310", "x32410", ""),
    ("B7", "", "7", 5, "x21202", "x21304", ""),
    ("Cmaj7", "", "maj7", 5, "x32000", "x32000", ""),
    ("Amaj7", "", "maj7", 5, "x02120", "x02130", ""),
    ("Gmaj7", "", "maj7", 6, "320002", "320001", ""),
    ("Emaj7", "", "maj7", 6, "021100", "031200", ""),
    ("Dmaj7", "", "maj7", 4, "xx0222", "xx0123", ""),
    ("Fmaj7", "", "maj7", 4, "xx3210", "xx3210", ""),
    ("Am7", "", "m7", 5, "x02010", "x02010", ""),
    ("Em7", "", "m7", 6, "020000", "020000", ""),
    ("Dm7", "", "m7", 4, "xx0211", "xx0211", ""),
    ("Bm7", "", "m7", 5, "x20202", "x10203", ""),
    ("Asus2", "", "sus2", 5, "x02200", "x01200", ""),
    ("Dsus2", "", "sus2", 4, "xx0230", "xx0130", ""),
    ("Asus4", "", "sus4", 5, "x02230", "x01240", ""),
    ("Dsus4", "", "sus4", 4, "xx0233", "xx0134", ""),
    ("Esus4", "", "sus4", 6, "022200", "023400", ""),
    ("A7sus4", "", "7sus4", 5, "x02030", "x02030", ""),
    ("E7sus4", "", "7sus4", 6, "020200", "020300", ""),
    ("E", "-no-index", "major", 6, "022100", "034200", "without the index"),
    ("Em", "-no-index", "minor", 6, "022000", "034000", "without the index"),
    ("A", "-no-index", "major", 5, "x02220", "x02340", "without the index"),
    ("Am", "-no-index", "minor", 5, "x02210", "x03420", "without the index"),
)

# symbol, quality, root string, form as known, fingers
_SMALL = (
    ("G", "major", 3, "xxx003", "xxx003"),
    ("C", "major", 2, "xxx010", "xxx010"),
    ("D", "major", 2, "xxx232", "xxx132"),
    ("G7", "7", 3, "xxx001", "xxx001"),
    ("F", "major", 4, "xx3211", "xx3211"),
    ("Bm", "minor", 3, "xx4432", "xx3421"),
)


def _quality_words(quality: str) -> str:
    return {"5": "power chord", "dim": "diminished", "aug": "augmented"}.get(quality, quality)


def _movable_shape(family: str, row: _Row) -> Shape:
    suffix, quality, opened, open_fingers, moved, moved_fingers, variant, origin = row
    shape_id = f"{family}-{suffix}"
    moved = moved or opened
    # Derived, not typed: with the index in the nut's place every fret of the open form counts from the index.
    root_string = _ROOT_STRING_OF.get(shape_id, _FAMILY_ROOT_STRING[family])
    if not variant and suffix.endswith("-fourth-finger"):
        variant = "with the fourth finger"
    said = {
        "five": _FIVE.format(open=opened),
        "inner": _INNER,
        "string1": f"The open form {opened} without string 1, which no finger is left to hold.",
        "": f"The open form {opened} with the index in the nut's place.",
    }[origin]
    name = f"{family}-shape {_quality_words(quality)}" + (f" ({variant})" if variant else "")
    return Shape(
        id=shape_id,
        name=name,
        quality=quality,
        kind="movable",
        family=family,
        variant=variant,
        open_form=_form(opened, open_fingers, quality, root_string),
        moved_form=_form(moved, moved_fingers, quality, root_string),
        home=None,
        origin=said,
    )


def _open_shape(row: tuple[str, str, str, int, str, str, str]) -> Shape:
    symbol, suffix, quality, root_string, frets, fingers, variant = row
    return Shape(
        id=f"open-{symbol}{suffix}",
        name=f"open {symbol}" + (f" ({variant})" if variant else ""),
        quality=quality,
        kind="open",
        family=symbol[0],
        variant=variant,
        open_form=_form(frets, fingers, quality, root_string),
        moved_form=None,
        home=0,
        origin="Open chord" + (", fingered so that the index is free to become the nut." if suffix else "."),
    )


def _small_shape(row: tuple[str, str, int, str, str]) -> Shape:
    symbol, quality, root_string, text, fingers = row
    columns = _columns(text)
    lowest = min(fret for fret in columns if fret is not None)
    moved = tuple(None if fret is None else fret - lowest for fret in columns)
    form = _form(moved, fingers, quality, root_string)
    return Shape(
        id=f"small-{symbol}",
        name=f"small {symbol}",
        quality=quality,
        kind="small",
        family="",
        variant="",
        open_form=None if lowest else form,
        moved_form=form if lowest else None,
        home=lowest,
        origin=f"{sum(fret is not None for fret in columns)} strings of the chord, for small or new hands.",
    )


#: The catalogue by id, in the order in which it is usually taught: open chords, small forms, movable shapes.
SHAPES: Mapping[str, Shape] = MappingProxyType(
    {
        shape.id: shape
        for shape in (
            *map(_open_shape, _OPEN),
            *map(_small_shape, _SMALL),
            *(_movable_shape(family, row) for family, rows in _MOVABLE.items() for row in rows),
        )
    }
)


def find_shape(shape: str | Shape) -> Shape:
    """The shape with this id, or the shape itself.

    shape : an id of SHAPES ("E-minor", "open-C", "small-F") or a Shape.
    Raises ShapeError, with the ids that come near, for anything else.

    >>> find_shape("A-major-partial").name
    'A-shape major (partial barre)'
    """
    if isinstance(shape, Shape):
        return shape
    found = SHAPES.get(shape) if isinstance(shape, str) else None
    if found is None:
        raise ShapeError(
            "There is no shape {shape}{hint}.",
            code="shape-unknown",
            shape=repr(shape)[:40],
            hint=_hint(shape),
        )
    return found


def _hint(shape: object) -> str:
    from difflib import get_close_matches  # only on the way to an error, so not worth its import time before

    near = get_close_matches(shape, list(SHAPES), n=3, cutoff=0.5) if isinstance(shape, str) else []
    return f"; the nearest are {', '.join(near)}" if near else ""


def shapes_of(quality: str, kind: str | None = None) -> tuple[Shape, ...]:
    """Every shape of a quality, in teaching order; of one kind ("movable", "open", "small") if asked.

    quality : an id of chords.QUALITIES; () where the catalogue has no shape of it.  Raises ShapeError for others.

    >>> [shape.id for shape in shapes_of("dim7")]
    ['A-dim7', 'D-dim7']
    """
    _check_quality(quality)
    if kind not in (None, *KINDS):
        raise ShapeError(
            "A shape is {kinds}, not {kind}.", code="shape-kind", kinds=" or ".join(KINDS), kind=repr(kind)[:40]
        )
    return _shapes_of(quality, kind)


@lru_cache(maxsize=256)
def _shapes_of(quality: str, kind: str | None) -> tuple[Shape, ...]:
    return tuple(shape for shape in SHAPES.values() if shape.quality == quality and kind in (None, shape.kind))


# -- what another tuning does to a form ----------------------------------------------------------------------


class Fit(NamedTuple):
    """A form on a tuning that keeps it.

    base : pitch class of the root with the form at the nut.  frets, fingers, degrees : one per string of the
    instrument, lowest first.  midi : what each sounding string gives with the form at the nut, no capo.
    highest : the largest of the frets.
    """

    base: int
    frets: Frets
    fingers: Frets
    degrees: tuple[str | None, ...]
    midi: tuple[int, ...]
    highest: int


@lru_cache(maxsize=4096)
def fit(form: Form, tuning: tuple[int, ...]) -> Fit | None:
    """The form on this tuning, or None when some string no longer gives its degree of the chord."""
    pad = len(tuning) - 6
    if pad < 0 and any(fret is not None for fret in form.frets[:-pad]):
        return None

    def widen(columns: tuple[int | None, ...] | tuple[str | None, ...]) -> tuple[object, ...]:
        return (None,) * pad + tuple(columns) if pad >= 0 else tuple(columns[-pad:])

    frets: Frets = widen(form.frets)  # type: ignore[assignment]
    degrees: tuple[str | None, ...] = widen(form.degrees)  # type: ignore[assignment]
    root_fret = frets[-form.root_string]
    assert root_fret is not None
    root = tuning[-form.root_string] + root_fret
    for open_string, fret, degree in zip(tuning, frets, degrees, strict=True):
        if fret is not None and degree is not None and (open_string + fret - root - DEGREES[degree][1]) % 12:
            return None
    midi = tuple(o + fret for o, fret in zip(tuning, frets, strict=True) if fret is not None)
    return Fit(root % 12, frets, widen(form.fingers), degrees, midi, form.highest)  # type: ignore[arg-type]


def broken_strings(form: Form, tuning: tuple[int, ...]) -> tuple[int, ...]:
    """Numbers of the strings whose tuning breaks the form: those that left their place among the others.

    Tuned up or down as a whole, no string is named.  () where the form survives.
    """
    if fit(form, tuning) is not None:
        return ()
    missing = tuple(string for string in form.sounding if string > len(tuning))
    if missing:
        return missing
    shifts = [(tuning[-string] - STANDARD[-string]) % 12 for string in range(1, min(6, len(tuning)) + 1)]
    usual = max(sorted(set(shifts)), key=shifts.count)
    return tuple(string for string in form.sounding if shifts[string - 1] != usual) or form.sounding


def survives(shape: str | Shape, tuning: Sequence[int] | str) -> bool:
    """Whether a shape keeps every degree of its chord in this tuning.

    shape : an id of SHAPES or a Shape.  tuning : 4 to 8 MIDI numbers of the open strings, lowest string first, or a
    text that `read_tuning` reads.  Derived from the shape's degrees.  Raises ShapeError and InstrumentError.

    >>> [survives(name, "D A D G B E") for name in ("E-major", "A-major")]
    [False, True]
    """
    return fit(find_shape(shape).form, check_tuning(tuning)) is not None


def describe_broken(form: Form, tuning: tuple[int, ...], names: Sequence[Note]) -> str:
    """Words for `broken_strings`: "the 6th string, now D"."""
    parts = []
    for string in broken_strings(form, tuning):
        if string > len(tuning):
            parts.append(f"the {STRING[string]}, which this instrument lacks")
        else:
            parts.append(f"the {STRING[string]}, now {names[-string]}")
    return "; ".join(parts)
