"""How single values are written on a page: short forms for tables and lines of facts.

Sentences are `practice.words`; this is the shorter set beside a diagram or in a cell: "31 / min", "64 bpm".
State marks are shapes, so that colour never carries the meaning alone.
"""

import datetime as dt
from dataclasses import dataclass

from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

NONE = "–"

# code: (mark, word, class of the page)
STATES = {
    "introduced": ("○", gettext_lazy("introduced"), ""),
    "developing": ("◐", gettext_lazy("developing"), ""),
    "secure": ("●", gettext_lazy("secure"), "good"),
    "review-due": ("↻", gettext_lazy("review due"), ""),
    "set-aside": ("◌", gettext_lazy("set aside"), "muted"),
}


@dataclass(frozen=True)
class StateMark:
    """mark: one character; word: the state's name; css: a class that only repeats what mark and word say."""

    mark: str
    word: str
    css: str


def state_mark(code: str) -> StateMark:
    """Mark and word of a goal's state. code: of practice.progress.STATES; KeyError for any other."""
    mark, word, css = STATES[code]
    return StateMark(mark, str(word), css)


def number_text(value: float) -> str:
    """A whole number without a fraction, another with one decimal, in the reader's notation."""
    whole = float(value).is_integer() or round(value, 1).is_integer()
    return str(number_format(round(value) if whole else round(value, 1), None if whole else 1))


def measured_text(value: float | None, measure: str, of: int | None = None) -> str:
    """A measurement with its unit in short: "31 / min", "64 bpm", "58 s", "4 landings of 5"; a dash for None.

    measure: a code of practice.measures.MEASURES; of: for clean strings, how many the voicing sounds.
    """
    if value is None:
        return NONE
    number = number_text(value)
    if measure == "clean":
        if of:
            return _("%(n)s of %(of)d strings") % {"n": number, "of": of}
        return ngettext("%(n)s clean string", "%(n)s clean strings", round(value)) % {"n": number}
    if measure == "landings":
        return ngettext("%(n)s landing of 5", "%(n)s landings of 5", round(value)) % {"n": number}
    form = {
        "changes": _("%(n)s / min"),
        "tempo": _("%(n)s bpm"),
        "seconds": _("%(n)s s"),
        "right": _("%(n)s right / min"),
        "runs": _("%(n)s of 3 runs"),
        "mark": _("%(n)s of 5"),
        "minutes": _("%(n)s min a week"),
    }[measure]
    return form % {"n": number}


def minutes_text(seconds: float | None) -> str:
    """Seconds as minutes: "25 min"; less than half a minute is "under 1 min", a dash for None."""
    if seconds is None:
        return NONE
    if 0 < seconds < 30:
        return _("under 1 min")
    return _("%(n)s min") % {"n": number_text(round(seconds / 60))}


def days_ago_text(day: dt.date | None, today: dt.date) -> str:
    """A day as seen from today: "today", "yesterday", "3 days ago", "in 2 days"; a dash for None."""
    if day is None:
        return NONE
    days = (today - day).days
    if days == 0:
        return _("today")
    if days == 1:
        return _("yesterday")
    if days == -1:
        return _("tomorrow")
    if days < 0:
        return ngettext("in %(n)d day", "in %(n)d days", -days) % {"n": -days}
    return ngettext("%(n)d day ago", "%(n)d days ago", days) % {"n": days}
