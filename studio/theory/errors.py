"""What can go wrong when a teacher asks the theory core something, as one family of exceptions.

Every public function of `studio.theory` raises a `TheoryError` (a `ValueError`) and nothing else for bad
input. Its text is an English sentence a teacher understands. An app that translates uses `code`, `template`
and `values` instead of the finished text.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType


class TheoryError(ValueError):
    """Something asked of the theory core makes no sense musically or on this neck.

    template : English sentence; `{name}` is filled from `values`.  Without values it is taken literally.
    code : short name of the case, for translation and tests.

    >>> str(TheoryError("{text!r} is no note", code="note-unknown", text="H"))
    "'H' is no note"
    """

    code: str
    template: str
    values: Mapping[str, object]

    def __init__(self, template: str, /, code: str = "theory", **values: object) -> None:
        self.template = template
        self.code = code
        self.values = MappingProxyType(dict(values))
        super().__init__(template.format(**values) if values else template)


class NoteError(TheoryError):
    """A text or number that names no note, or a note spelled beyond four accidentals."""


class InstrumentError(TheoryError):
    """A tuning, fret, scale length, capo or string that no instrument here can have."""


class ShapeError(TheoryError):
    """A shape id that is not in the catalogue, or a question that the shape cannot answer."""


class GoalError(TheoryError):
    """Terms of a goal, stored or typed, that cannot be read back, or a value that is no goal."""


class OffNeck(TheoryError):
    """A shape cannot be had at this root (or position) on this instrument.

    values : what fills the template, as in TheoryError.
    reason : why, as a sentence.  way_out : the nearest thing that can be had, as a sentence ("" if nothing
    can).
    instead : that thing as (shape id, root, position), to be asked for next, or None.
    """

    reason: str
    way_out: str
    instead: tuple[str, str, int] | None

    def __init__(
        self,
        template: str,
        /,
        code: str = "off-neck",
        *,
        way_out: str = "",
        instead: tuple[str, str, int] | None = None,
        values: Mapping[str, object] | None = None,
    ) -> None:
        super().__init__(template, code=code, **(values or {}))
        self.reason = str(self)
        self.way_out = way_out
        self.instead = instead
        if way_out:
            self.args = (f"{self.reason} {way_out}",)
