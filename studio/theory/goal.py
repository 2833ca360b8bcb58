"""A goal in plain terms: what a student is to work on, as the apps store it and as the theory core checks it.

A `Goal` is a plain value.  It may hold nonsense (a teacher is still typing); `validate` in findings.py says
what is wrong with it.  `Goal.to_terms` and `Goal.from_terms` are inverses: the terms are a dict that JSON can
carry, with everything left out that has its usual value.

Kinds: "chord" (one voicing), "change" (between two), "progression" (numerals in a key, or chord symbols),
"roots" (root notes along a string), "piece" (the teacher's own words, not checked further).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from studio.theory.errors import GoalError, TheoryError
from studio.theory.instrument import INSTRUMENTS, STRING, Instrument
from studio.theory.shapes import SHAPES
from studio.theory.voicing import Voicing, place

KINDS = ("chord", "change", "progression", "roots", "piece")

MAX_TEXT = 200  # characters of a title, a section or a name
MAX_ITEMS = 64  # numerals, chords, shapes or notes in one goal


@dataclass(frozen=True, slots=True)
class ChordTerm:
    """One chord of a goal: shape id, root name as fingered, position (None: the lowest, or the form's
    own)."""

    shape: str
    root: str
    position: int | None = None

    def voicing(self, instrument: Instrument = INSTRUMENTS["steel-string"]) -> Voicing:
        """The term placed on an instrument.  Raises OffNeck and other TheoryErrors as `place` does."""
        return place(self.shape, self.root, instrument, self.position)


@dataclass(frozen=True, slots=True)
class Goal:
    """The terms of a goal.

    kind : one of KINDS.
    chords : one ChordTerm for a chord, two for a change.
    key : "G", "A minor" or None, as fingered where there is a capo.  own_chords_only : an error, not a
        caution, for chords outside it.
    capo : int, fret of the capo; 0 leaves the instrument as it is.
    numerals : of a progression, such as ("I", "vi", "IV", "V"); chord symbols such as "Am7" stand too.
    shapes : ids that a progression may use, () for all.  window : lowest and highest fret that it may use, or
    None.
    metre : "4/4".  beats_per_chord : int.
    string : of a roots goal, 1 the highest.  notes : () for all twelve, ("naturals",) or names.
    title, section, from_memory : of a piece or exercise, in the teacher's words.
    code : what the app calls the goal by; goals with the same code are one goal.
    """

    kind: str
    chords: tuple[ChordTerm, ...] = ()
    key: str | None = None
    own_chords_only: bool = False
    capo: int = 0
    numerals: tuple[str, ...] = ()
    shapes: tuple[str, ...] = ()
    window: tuple[int, int] | None = None
    metre: str = "4/4"
    beats_per_chord: int = 4
    string: int | None = None
    notes: tuple[str, ...] = ()
    title: str = ""
    section: str = ""
    from_memory: bool = False
    code: str = ""

    def with_(self, **changes: Any) -> Goal:
        """The same goal with other terms.  Raises GoalError for a term it does not have."""
        try:
            return replace(self, **changes)
        except TypeError:
            raise GoalError("A goal has no terms {names}.", code="goal-term", names=sorted(changes)) from None

    def with_chord(self, index: int, chord: ChordTerm) -> Goal:
        """The same goal with another chord at `index`."""
        return replace(self, chords=(*self.chords[:index], chord, *self.chords[index + 1 :]))

    def on(self, instrument: Instrument) -> Instrument:
        """The instrument as this goal asks for it: with the goal's capo, if it has one."""
        return instrument.with_(capo=self.capo) if self.capo else instrument

    # -- stored and read back --------------------------------------------------------------------------------

    def to_terms(self) -> dict[str, Any]:
        """The goal as a dict for JSON, without terms that have their usual value."""
        terms: dict[str, Any] = {}
        for field in fields(self):
            value = getattr(self, field.name)
            if field.name == "kind" or value != field.default:
                terms[field.name] = list(value) if isinstance(value, tuple) else value
        if "chords" in terms:
            terms["chords"] = [
                {"shape": c.shape, "root": c.root} | ({} if c.position is None else {"position": c.position})
                for c in self.chords
            ]
        return terms

    @classmethod
    def from_terms(cls, terms: Mapping[str, Any]) -> Goal:
        """The goal that `to_terms` wrote.  Raises GoalError, naming the term, for anything malformed.

        >>> Goal.from_terms({"kind": "chord", "chords": [{"shape": "E-minor", "root": "B"}]}).chords[0].root
        'B'
        """
        if not isinstance(terms, Mapping):
            raise GoalError("The terms of a goal are named values, not {value}.", code="goal", value=_shown(terms))
        unknown = [name for name in terms if name not in _READERS]
        if unknown:
            raise GoalError(
                "A goal has no term {name}.",
                code="goal-term",
                name=_shown(unknown[0]),
                field=str(unknown[0])[:40],
            )
        if "kind" not in terms:
            raise GoalError("A goal needs a kind.", code="goal-kind", field="kind")
        return cls(**{name: _READERS[name](name, value) for name, value in terms.items()})

    # -- said in English -------------------------------------------------------------------------------------

    def title_text(self, instrument: Instrument = INSTRUMENTS["steel-string"]) -> str:
        """A short English title: "Bm, E-shape at 7", "D to Bm", "G: I vi IV V", "Roots, 5th string".

        Never raises: a goal that cannot be placed is named by its terms.
        """
        chords = self.chords if isinstance(self.chords, (tuple, list)) else ()
        if self.kind == "chord":
            text = ", ".join(self._chord_title(chord, instrument) for chord in chords[:1])
        elif self.kind == "change":
            text = " to ".join(self._chord_symbol(chord) for chord in chords[:2])
        elif self.kind == "progression":
            text = " ".join(map(str, self.numerals)) if isinstance(self.numerals, (tuple, list)) else ""
            text = f"{self.key}: {text}" if self.key else text
        elif self.kind == "roots":
            known = isinstance(self.string, int) and self.string in STRING
            text = f"Roots, {STRING[self.string] if known and self.string else f'string {self.string}'}"
        else:
            text = str(self.title) + (f", {self.section}" if self.section else "")
        if self.capo and self.kind != "piece":
            text += f", capo {self.capo}"
        return text or str(self.title) or "Untitled"

    def _chord_title(self, chord: ChordTerm, instrument: Instrument) -> str:
        try:
            return chord.voicing(self.on(instrument)).title
        except (TheoryError, AttributeError):
            asked = getattr(chord, "shape", chord)
            shape = SHAPES.get(asked) if isinstance(asked, str) else None
            return f"{getattr(chord, 'root', '')}, {shape.name if shape else asked}"

    def _chord_symbol(self, chord: ChordTerm) -> str:
        try:
            return chord.voicing().symbol
        except (TheoryError, AttributeError):
            return str(getattr(chord, "root", chord))


# -- strict readers, one per term ----------------------------------------------------------------------------


def _shown(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:39] + "…"


def _bad(name: str, value: object, wanted: str) -> GoalError:
    return GoalError(
        "{field} must be {wanted}, not {value}.",
        code="goal-term",
        field=name,
        wanted=wanted,
        value=_shown(value),
    )


def _text(name: str, value: object) -> str:
    if not isinstance(value, str) or len(value) > MAX_TEXT:
        raise _bad(name, value, f"a text of at most {MAX_TEXT} characters")
    return value


def _text_or_none(name: str, value: object) -> str | None:
    return None if value is None else _text(name, value)


def _kind(name: str, value: object) -> str:
    if value not in KINDS or not isinstance(value, str):
        raise _bad(name, value, f"one of {', '.join(KINDS)}")
    return value


def _yes_no(name: str, value: object) -> bool:
    if not isinstance(value, bool):
        raise _bad(name, value, "true or false")
    return value


def _count(name: str, value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or abs(value) > 1000:
        raise _bad(name, value, "a whole number up to 1000")
    return value


def _count_or_none(name: str, value: object) -> int | None:
    return None if value is None else _count(name, value)


def _list(name: str, value: object) -> list[Any] | tuple[Any, ...]:
    if not isinstance(value, (list, tuple)) or len(value) > MAX_ITEMS:
        raise _bad(name, value, f"a list of at most {MAX_ITEMS}")
    return value


def _texts(name: str, value: object) -> tuple[str, ...]:
    return tuple(_text(name, item) for item in _list(name, value))


def _window(name: str, value: object) -> tuple[int, int] | None:
    if value is None:
        return None
    items = _list(name, value)
    if len(items) != 2:
        raise _bad(name, value, "two frets, lowest and highest")
    return _count(name, items[0]), _count(name, items[1])


def _chords(name: str, value: object) -> tuple[ChordTerm, ...]:
    chords = []
    for item in _list(name, value):
        if not isinstance(item, Mapping) or not {"shape", "root"} <= set(item) <= {
            "shape",
            "root",
            "position",
        }:
            raise _bad(name, item, "a shape, a root and perhaps a position")
        chords.append(
            ChordTerm(
                _text("shape", item["shape"]),
                _text("root", item["root"]),
                _count_or_none("position", item.get("position")),
            )
        )
    return tuple(chords)


_READERS: dict[str, Any] = {
    "kind": _kind,
    "chords": _chords,
    "key": _text_or_none,
    "own_chords_only": _yes_no,
    "capo": _count,
    "numerals": _texts,
    "shapes": _texts,
    "window": _window,
    "metre": _text,
    "beats_per_chord": _count,
    "string": _count_or_none,
    "notes": _texts,
    "title": _text,
    "section": _text,
    "from_memory": _yes_no,
    "code": _text,
}
