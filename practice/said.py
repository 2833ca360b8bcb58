"""What a computation has to say, as a code with named values: `practice.words.say` turns it into a sentence.

Nothing here knows a language. A value may be a whole number or float, a text (a name, a chord symbol, a
goal's title), a day, or another `Said`; a tuple of `Said` is read as a list.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Union

Value = Union[int, float, str, dt.date, "Said", tuple["Said", ...]]


@dataclass(frozen=True)
class Said:
    """code: which sentence; values: what stands in it, by name."""

    code: str
    values: Mapping[str, Value] = field(default_factory=dict, hash=False)


def said(code: str, /, **values: Value) -> Said:
    """`Said(code, values)`, written shorter.

    >>> said("days", days=3)
    Said(code='days', values={'days': 3})
    """
    return Said(code, values)


def measured(measure: str, value: float, of: int | None = None) -> Said:
    """A measurement in its unit, such as "31 changes a minute".

    measure: a code of practice.measures.MEASURES; of: for clean strings, how many the voicing sounds.
    """
    number = int(value) if float(value).is_integer() else round(value, 1)
    if measure == "clean" and of is not None:
        return said("measured-clean-of", value=number, of=of)
    return said(f"measured-{measure}", value=number)
