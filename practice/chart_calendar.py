"""The practice calendar: one line a week, one note-head a practised day, larger for more minutes.

A week that had its planned days, or what days of rest left of them (practice.asked), ends with a double bar. Sizes
stand for spans of minutes (`SPANS`), so that a head can be read without its neighbours; the same minutes stand in the
table.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from django.utils.dates import WEEKDAYS, WEEKDAYS_ABBR
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from practice.chart_draw import Chart, Sheet, day_text, hairlines, new_figure, put, raw_svg
from practice.chart_svg import STAND_IN
from practice.display import NONE, number_text
from practice.facts import EntryFacts
from practice.progress import WEEK
from students.calendar import week_of

if TYPE_CHECKING:
    from matplotlib.path import Path

CALENDAR_WEEKS = 26
DAY = dt.timedelta(days=1)

# from so many minutes on, a head of this many pixels
SPANS = ((0, 5.0), (10, 8.5), (20, 12.0), (40, 15.5))
# a silence shorter than this is not spoken of
LONG_SILENCE = 7

_COLUMN_ROWS = 13  # weeks in one column; more of them stand in two
_PITCH = 20
_DAY = 17
_LABEL = 46
_COLUMN = 184
_TOP = 28
_FOOT = 34


@dataclass(frozen=True)
class _Row:
    """A week: seconds by day, None for a day before the student came or after the last one shown; finished: none of
    its days lies after that one; asked: how many days it asked for."""

    start: dt.date
    days: tuple[int | None, ...]
    finished: bool
    asked: int

    @property
    def practised(self) -> int:
        return sum(bool(seconds) for seconds in self.days)

    @property
    def whole(self) -> bool:
        return self.finished and None not in self.days

    @property
    def full(self) -> bool:
        """Whether it had the days that it asked for."""
        return self.asked > 0 and self.practised >= self.asked


def practice_calendar(
    entries: Iterable[EntryFacts],
    today: dt.date,
    *,
    plan_days: int,
    weeks: int = CALENDAR_WEEKS,
    week_start: int = 0,
    since: dt.date | None = None,
    start: dt.date | None = None,
    rest: Collection[dt.date] = (),
    uid: str = "calendar",
) -> Chart:
    """The days of the last `weeks` weeks up to `today`, one mark a day by its minutes.

    entries: in any order; those outside are left out.  plan_days: days a week.  since: first day with the studio.
    start: the first day shown, at most `weeks` weeks back (a term's).  rest: days that asked for nothing.
    """
    now = week_of(today, week_start)
    first = now - (weeks - 1) * WEEK
    opening = max(day for day in (first, since, start) if day is not None)
    first = max(first, week_of(min(opening, today), week_start))
    by_day: dict[dt.date, int] = {}
    for entry in entries:
        if opening <= entry.day <= today:
            by_day[entry.day] = by_day.get(entry.day, 0) + entry.seconds
    rows = []
    while first <= now:
        days = [first + n * DAY for n in range(7)]
        shown = tuple(by_day.get(day, 0) if opening <= day <= today else None for day in days)
        left = min(plan_days, sum(day not in rest for day in days))
        rows.append(_Row(first, shown, first + WEEK <= today + DAY, left))
        first += WEEK
    something = any(by_day.values())
    order = [(week_start + n) % 7 for n in range(7)]
    return Chart(
        uid=uid,
        title=_("Practice calendar"),
        sentence=_sentence(by_day, rows, opening, today, plan_days, rest),
        columns=(_("Week of"), *(str(WEEKDAYS_ABBR[day]) for day in order), _("Days"), _("Minutes")),
        rows=tuple(
            (
                day_text(row.start),
                *(NONE if seconds is None else number_text(round(seconds / 60)) for seconds in row.days),
                number_text(row.practised),
                number_text(round(sum(seconds or 0 for seconds in row.days) / 60)),
            )
            for row in reversed(rows)
        ),
        numeric=frozenset(range(1, 10)),
        note=ngettext(
            "Each head is a day with practice, larger for more minutes. A double bar closes a week with the planned"
            " %(n)d day.",
            "Each head is a day with practice, larger for more minutes. A double bar closes a week with the planned"
            " %(n)d days.",
            plan_days,
        )
        % {"n": plan_days}
        if something
        else "",
        raw=_draw(rows, order) if something else "",
    )


def _sentence(
    by_day: dict[dt.date, int],
    rows: Sequence[_Row],
    opening: dt.date,
    today: dt.date,
    plan_days: int,
    rest: Collection[dt.date],
) -> str:
    practised = sorted(day for day, seconds in by_day.items() if seconds)
    if not practised:
        form = ngettext(
            "No practice is logged in this %(n)d week. The first entry puts the first head on its line.",
            "No practice is logged in these %(n)d weeks. The first entry puts the first head on its line.",
            len(rows),
        )
        return form % {"n": len(rows)}
    span = (today - opening).days + 1
    resting = sum(opening <= day <= today for day in rest)
    if resting:
        form = _("Practised on %(days)d of %(span)d days, days of rest left out.")
    else:
        form = ngettext(
            "Practised on %(days)d of %(span)d day.", "Practised on %(days)d of the last %(span)d days.", span
        )
    parts = [form % {"days": len(practised), "span": max(span - resting, len(practised))}]
    whole = [row for row in rows if row.whole and row.asked]
    if whole and plan_days:
        reached = sum(row.full for row in whole)
        form = ngettext(
            "%(reached)d of %(count)d finished week had the planned %(plan)d days.",
            "%(reached)d of %(count)d finished weeks had the planned %(plan)d days.",
            len(whole),
        )
        parts.append(form % {"reached": reached, "count": len(whole), "plan": plan_days})
    silent = _longest_silence(practised, today, rest)
    if silent is not None:
        days, last, end = silent
        if end is None:
            parts.append(_("Nothing since %(day)s, %(days)d days.") % {"day": day_text(last), "days": days})
        else:
            form = _("The longest time without was %(days)d days, after %(day)s.")
            parts.append(form % {"days": days, "day": day_text(last)})
    return " ".join(parts)


def _longest_silence(
    practised: Sequence[dt.date], today: dt.date, rest: Collection[dt.date]
) -> tuple[int, dt.date, dt.date | None] | None:
    """(days without, days of rest left out; the last day before, the first after or None while it lasts), None when
    all are short."""
    found: tuple[int, dt.date, dt.date | None] | None = None
    for last, after in zip(practised, [*practised[1:], None], strict=True):
        end = after or today + DAY
        days = (end - last).days - 1 - sum(last < day < end for day in rest)
        if days >= LONG_SILENCE and (found is None or days > found[0]):
            found = days, last, after
    return found


@cache
def _head() -> Path:
    """A note-head: an oval that leans as it is written."""
    from matplotlib.path import Path
    from matplotlib.transforms import Affine2D

    return Path.unit_circle().transformed(Affine2D().scale(1, 0.74).rotate_deg(24))


def _size(seconds: int) -> float:
    return [size for least, size in SPANS if seconds / 60 >= least][-1]


def _draw(rows: Sequence[_Row], order: Sequence[int]) -> str:
    columns = 2 if len(rows) > _COLUMN_ROWS else 1
    deep = -(-len(rows) // columns)
    height = _TOP + deep * _PITCH + _FOOT
    figure = new_figure(height)
    sheet = Sheet(figure, height)
    # a single column has room for wider days
    wide = _DAY if columns == 2 else 34

    def left(column: int) -> float:
        return column * _COLUMN + _LABEL

    def middle(column: int, place: int) -> float:
        return left(column) + place * wide + wide // 2  # whole pixels: half the bytes

    lines: list[tuple[float, float, float, float]] = []
    bars: list[tuple[float, float, float, float]] = []
    thick: list[tuple[float, float, float, float]] = []
    heads: dict[tuple[bool, float], list[tuple[float, float]]] = {}
    for column in range(columns):
        for place, day in enumerate(order):
            put(sheet, middle(column, place), 14, str(WEEKDAYS[day])[:1], "muted", "center")
    for number, row in enumerate(rows):
        column, place = divmod(number, deep)
        x, y = left(column), _TOP + (place + 0.5) * _PITCH
        now = number == len(rows) - 1
        put(sheet, x - 6, y + 4, day_text(row.start), "accent" if now else "muted", "right")
        shown = [at for at, seconds in enumerate(row.days) if seconds is not None]
        end = x + 7 * wide + 3
        lines.append((x + shown[0] * wide, y, end if row.finished else x + (shown[-1] + 1) * wide, y))
        if row.finished:
            full = row.full
            bars.append((end - 5 * full, y - 6, end - 5 * full, y + 6))
            if full:
                thick.append((end - 1.5, y - 6, end - 1.5, y + 6))
        for at, seconds in enumerate(row.days):
            if seconds:
                heads.setdefault((now, _size(seconds)), []).append((middle(column, at), y))
    for size, place in _sizes_at_foot(sheet, height):
        heads.setdefault((False, size), []).append(place)
    hairlines(sheet, lines, "line", 0.8)
    hairlines(sheet, bars, "line", 1.0)
    hairlines(sheet, thick, "ink", 2.6)
    for (now, size), places in heads.items():
        _heads(sheet, places, size, "accent" if now else "ink")
    return raw_svg(figure)


def _heads(sheet: Sheet, places: Sequence[tuple[float, float]], size: float, colour: str) -> None:
    sheet.plot(
        *zip(*places, strict=True),
        linestyle="none",
        marker=_head(),
        markersize=size,
        markeredgewidth=0,
        color=STAND_IN[colour],
        clip_on=False,
    )


def _sizes_at_foot(sheet: Sheet, height: int) -> list[tuple[float, tuple[float, float]]]:
    """What each size stands for: writes the minutes, and gives the size and place of the head beside them."""
    y, x = height - 12, 14
    found = []
    for number, (least, size) in enumerate(SPANS):
        last = number == len(SPANS) - 1
        text = _("%(n)d min and more") % {"n": least} if last else f"{max(1, least)}–{SPANS[number + 1][0] - 1}"
        found.append((size, (x, y)))
        put(sheet, x + 12, y + 4, text, "muted")
        x += 32 + 7 * len(text)
    return found
