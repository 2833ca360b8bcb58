"""What other apps hold about a student's hand.

Consent is given and withdrawn here, the hand values lie in tables of an app above, which this one does not name. That
app registers how to ask for them and how to erase them when it starts (its AppConfig.ready).
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from students.models import Student


@dataclass(frozen=True)
class Keeper:
    """kept: whether any hand value of the student is held; erase: erases them all and says how many rows it changed."""

    kept: Callable[["Student"], bool]
    erase: Callable[["Student"], int]


_keepers: dict[str, Keeper] = {}


def register(name: str, keeper: Keeper) -> None:
    """name: the app's label; registering it again replaces what it registered before."""
    _keepers[name] = keeper


def kept(student: "Student") -> bool:
    """Whether any hand value of the student is held anywhere."""
    return any(keeper.kept(student) for keeper in _keepers.values())


def erase(student: "Student") -> int:
    """Erases the student's hand values everywhere and says how many rows that changed.

    Raises LookupError when nobody is registered: a promise to erase must not pass unheard.
    """
    if not _keepers:
        raise LookupError("no app has registered what it holds about hands")
    return sum(keeper.erase(student) for keeper in _keepers.values())
