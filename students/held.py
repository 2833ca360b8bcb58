"""What other apps hold about a student's hand, and what they do with it.

Consent is given and withdrawn here, the hand values lie in tables of an app above, which this one does not name. That
app registers how to ask for them, how to erase them and what to do when a consent ends, when it starts (its
AppConfig.ready).
"""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from students.models import Student


def _eases_nothing(_student: "Student", _today: dt.date) -> bool:
    return False


def _hears_nothing(_student: "Student", _by: str, _now: dt.datetime) -> None:
    return None


@dataclass(frozen=True)
class Keeper:
    """kept: whether any hand value of the student is held; erase: erases them all and says how many rows it changed;
    eases: whether what is held eases the student's plan that day; ended: hears that no consent counts any more, and who
    ended it ("student", "guardian" or "teacher"), in the transaction that ends it."""

    kept: Callable[["Student"], bool]
    erase: Callable[["Student"], int]
    eases: Callable[["Student", dt.date], bool] = _eases_nothing
    ended: Callable[["Student", str, dt.datetime], None] = _hears_nothing


_keepers: dict[str, Keeper] = {}


def register(name: str, keeper: Keeper) -> None:
    """name: the app's label; registering it again replaces what it registered before."""
    _keepers[name] = keeper


def kept(student: "Student") -> bool:
    """Whether any hand value of the student is held anywhere."""
    return any(keeper.kept(student) for keeper in _keepers.values())


def eases(student: "Student", today: dt.date) -> bool:
    """Whether what is held eases the student's plan on `today`: that ends with the consent."""
    return any(keeper.eases(student, today) for keeper in _keepers.values())


def ended(student: "Student", by: str, now: dt.datetime) -> None:
    """Says everywhere that no consent counts any more."""
    for keeper in _keepers.values():
        keeper.ended(student, by, now)


def erase(student: "Student") -> int:
    """Erases the student's hand values everywhere and says how many rows that changed.

    Raises LookupError when nobody is registered: a promise to erase must not pass unheard.
    """
    if not _keepers:
        raise LookupError("no app has registered what it holds about hands")
    return sum(keeper.erase(student) for keeper in _keepers.values())
