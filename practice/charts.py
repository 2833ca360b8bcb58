"""The figures of the teachers' and families' pages, as functions of plain values.

Each gives a `Chart`: the drawing, a computed sentence that says what is seen, and the same numbers as a table.

Conventions: sizes are CSS pixels at a width of 360, the narrowest phone; text 12. Direct labels stand in place
of legends, the plan or target is a dashed line with its name, self-reports are rings and lesson checks solid
dots. A week is named by its first day; the current one, not finished, is in the accent colour. matplotlib is
used by its objects alone, imported by the code that draws, one artist a series, no ticks of its own.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property
from io import StringIO
from typing import TYPE_CHECKING, Any

from django.utils.formats import date_format
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from practice.chart_svg import STAND_IN, page_svg, print_svg
from practice.display import NONE, measured_text, minutes_text, number_text
from practice.facts import GoalFacts, HandFacts, Mark
from practice.load import WeekLoad
from practice.progress import WEEK, Week, first_tries

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Raised when a drawing changes, so that browsers do not keep the old one.
DRAWING = 1

WEEKS = 12
GOAL_DAYS = 182
MOST_TRIES = 60
FROM_FOUR = 4

_WIDTH = 360
_TEXT = 12
_APART = 14  # of two labels, one above the other
# a line that is not cut at the panel's edge and does not move its limits
_PLAIN: dict[str, Any] = {"clip_on": False, "scalex": False, "scaley": False}


@dataclass(frozen=True)
class Cell:
    """text: as shown; numeric: set to the right."""

    text: str
    numeric: bool


@dataclass(frozen=True)
class Chart:
    """uid: unique in a page; title: of the figure; sentence: what is seen; columns, rows: the same numbers.

    numeric: which columns are numbers, set to the right.  note: how to read the marks, or "".
    """

    uid: str
    title: str
    sentence: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: frozenset[int] = frozenset()
    note: str = ""
    raw: str = field(default="", repr=False)

    @cached_property
    def svg(self) -> str:
        """The drawing for a page: no style, token colours as var(--...), every text in it escaped.

        Empty where there is nothing to draw yet; the sentence says so.
        """
        if not self.raw:
            return ""
        return page_svg(self.raw, self.uid, self.title, self.sentence)

    @property
    def markup(self) -> SafeString:
        """The page's drawing for a template."""
        return mark_safe(self.svg)

    @property
    def head(self) -> list[Cell]:
        return self._cells(self.columns)

    @property
    def body(self) -> list[list[Cell]]:
        return [self._cells(row) for row in self.rows]

    def _cells(self, texts: Sequence[str]) -> list[Cell]:
        return [Cell(text, number in self.numeric) for number, text in enumerate(texts)]

    def print_svg(self, theme: str = "print") -> str:
        """The drawing with resolved colours, for PDFs; empty where there is nothing to draw yet."""
        if not self.raw:
            return ""
        return print_svg(self.raw, self.uid, self.title, self.sentence, theme)


def minutes_by_week(weeks: Sequence[Week], plan: int, since: dt.date | None = None, uid: str = "minutes") -> Chart:
    """Minutes by week against the plan, the last week in the accent colour.

    weeks: oldest first, at least one, as `progress.weekly_minutes` gives them.  plan: minutes a week; 0 for none.
    since: first day with the studio; weeks that ended before it are left out.
    """
    shown = [week for week in weeks if since is None or week.start + WEEK > since] or list(weeks[-1:])
    return Chart(
        uid=uid,
        title=_("Minutes by week"),
        sentence=_minutes_sentence(shown, plan),
        columns=(_("Week of"), _("Minutes"), _("Days"), _("Plan")),
        rows=tuple(
            (_day(week.start), number_text(week.minutes), number_text(week.days), number_text(plan))
            for week in reversed(shown)
        ),
        numeric=frozenset({1, 2, 3}),
        raw=_draw_minutes(shown, plan) if any(week.seconds for week in shown) else "",
    )


def _draw_minutes(shown: Sequence[Week], plan: int) -> str:
    values = [week.minutes for week in shown]
    now = len(shown) - 1
    figure = _figure(160)
    axes = _panel(figure, 160, left=2, right=76, top=36, bottom=20)
    axes.set_xlim(-0.5, len(shown) - 0.5)
    axes.set_ylim(0, max(*values, plan, 1))
    _weeks_as_bars(axes, values, now)
    _name_highest(axes, values, now, plan)
    _month_labels(axes, [week.start for week in shown])
    _axis_title(axes, _("minutes a week"))
    labels: list[tuple[float, str, str]] = []
    if plan:
        _dashed(axes, plan)
        labels.append((plan, _("plan %(n)s") % {"n": number_text(plan)}, "ink"))
    last = _("%(n)s min") if shown[now].finished else _("%(n)s so far")
    labels.append((values[now], last % {"n": number_text(values[now])}, "accent"))
    _labels_at_right(axes, labels)
    return _raw(figure)


def _current(shown: Sequence[Week] | Sequence[WeekLoad]) -> int | None:
    """Place of the week that is not finished, which only the last can be."""
    return None if shown[-1].finished else len(shown) - 1


def _minutes_sentence(shown: Sequence[Week], plan: int) -> str:
    finished = [week for week in shown if week.finished]
    current = next((week for week in shown if not week.finished), None)
    if not any(week.seconds for week in shown):
        return _("Nothing is logged yet. The first entry draws the first bar.")
    parts = []
    if len(finished) == 1 and plan:
        met = finished[0].minutes >= plan
        form = (
            _("The first finished week reached the plan of %(plan)d minutes.")
            if met
            else _("The first finished week brought %(minutes)d of the %(plan)d minutes planned.")
        )
        parts.append(form % {"minutes": finished[0].minutes, "plan": plan})
    elif finished and plan:
        reached = sum(week.minutes >= plan for week in finished)
        parts.append(
            ngettext(
                "%(reached)d of the last %(count)d finished week reached the plan of %(plan)d minutes.",
                "%(reached)d of the last %(count)d finished weeks reached the plan of %(plan)d minutes.",
                len(finished),
            )
            % {"reached": reached, "count": len(finished), "plan": plan}
        )
        silent = 0
        for week in reversed(finished):
            if week.seconds:
                break
            silent += 1
        if silent > 1:
            parts.append(_("Nothing was logged in the last %(count)d of them.") % {"count": silent})
    if current is None:
        last = {"day": _day(shown[-1].start), "minutes": minutes_text(shown[-1].seconds)}
        parts.append(_("The week of %(day)s: %(minutes)s.") % last)
    else:
        so_far = minutes_text(current.seconds)
        parts.append(_("This week so far: %(minutes)s.") % {"minutes": so_far})
    return " ".join(parts)


def goal_over_time(goal: GoalFacts, today: dt.date, uid: str = "") -> Chart:
    """A goal's own measure over the last half year, one try a day, at most 60 of them, with its target."""
    tries = [mark for mark in first_tries(goal, today) if mark.day > today - dt.timedelta(days=GOAL_DAYS)]
    tries = tries[-MOST_TRIES:]
    axis = _AXES[goal.measure.code]()
    return Chart(
        uid=uid or f"goal-{goal.code}",
        title=goal.title,
        sentence=_goal_sentence(goal, tries),
        columns=(_("Day"), axis[:1].upper() + axis[1:], _("Reported by")),
        rows=tuple(
            (_day(mark.day), number_text(mark.value), _("lesson check") if mark.check else _("own report"))
            for mark in reversed(tries)
        ),
        numeric=frozenset({1}),
        note=_("Rings are own reports, solid dots lesson checks.") if tries else "",
        raw=_draw_goal(goal, tries, today, axis) if tries else "",
    )


def _draw_goal(goal: GoalFacts, tries: Sequence[Mark], today: dt.date, axis: str) -> str:
    figure = _figure(160)
    axes = _panel(figure, 160, left=34, right=82, top=34, bottom=20)
    first = tries[0].day
    last = max(today, first + dt.timedelta(days=1))
    axes.set_xlim(first.toordinal(), last.toordinal())
    axes.set_ylim(*_value_range([mark.value for mark in tries], goal))
    _dashed(axes, goal.target)
    _axis_title(axes, _("%(axis)s, fewer is better") % {"axis": axis} if goal.measure.fewer_is_better else axis)
    _day_labels(axes, first, last)
    _marks(axes, tries)
    if len(tries) > 1:
        first_value = number_text(tries[0].value)
        _write(axes, first.toordinal(), tries[0].value, first_value, "muted", "right", dx=-9, dy=-4)
    labels = [
        (goal.target, _("target %(n)s") % {"n": number_text(goal.target)}, "ink"),
        (tries[-1].value, _("last %(n)s") % {"n": number_text(tries[-1].value)}, "accent"),
    ]
    _labels_at_right(axes, labels)
    return _raw(figure)


# What the axis is called; a function each, so that the words are in the reader's language.
_AXES = {
    "clean": lambda: _("clean strings"),
    "landings": lambda: _("landings of five"),
    "changes": lambda: _("changes a minute"),
    "tempo": lambda: _("beats per minute"),
    "seconds": lambda: _("seconds for all twelve"),
    "right": lambda: _("right answers a minute"),
    "runs": lambda: _("run-throughs of three"),
    "mark": lambda: _("mark, 0 to 5"),
    "minutes": lambda: _("minutes a week"),
}


def _value_range(values: Sequence[float], goal: GoalFacts) -> tuple[float, float]:
    """A count with a ceiling is drawn from 0; others from a little below what occurs to a little above."""
    low, high = min([*values, goal.target]), max([*values, goal.target])
    if goal.measure.ceiling:
        return 0.0, high or 1.0
    pad = (high - low) * 0.12 or max(high * 0.12, 1.0)
    return low - pad, high + pad


def _goal_sentence(goal: GoalFacts, tries: Sequence[Mark]) -> str:
    def short(value: float) -> str:
        return measured_text(value, goal.measure.code)

    target = short(goal.target)
    if not tries:
        return _("Not measured yet. The target is %(target)s.") % {"target": target}
    last = tries[-1]
    values = {"last": short(last.value), "day": _day(last.day), "target": target}
    if len(tries) == 1:
        one = _("One measurement: %(last)s on %(day)s. The target is %(target)s.")
        met = _("One measurement: %(last)s on %(day)s, which meets the target of %(target)s.")
        return (met if goal.measure.meets(last.value, goal.target) else one) % values
    values |= {"first": short(tries[0].value), "since": _day(tries[0].day)}
    if goal.measure.meets(last.value, goal.target):
        form = _("From %(first)s on %(since)s to %(last)s on %(day)s, which meets the target of %(target)s.")
    elif any(goal.measure.meets(mark.value, goal.target) for mark in tries):
        form = _(
            "From %(first)s on %(since)s to %(last)s on %(day)s. The target of %(target)s was met before,"
            " not the last time."
        )
    else:
        form = _("From %(first)s on %(since)s to %(last)s on %(day)s. The target is %(target)s.")
    return form % values


def hand_and_load(
    notes: Sequence[HandFacts], weeks: Sequence[WeekLoad], since: dt.date | None = None, uid: str = "hand"
) -> Chart:
    """Discomfort and practice load by week on one time axis. Only to be drawn under a standing consent.

    notes: hand notes, oldest first; those outside the weeks are left out.  weeks: at least one, as
    `load.weekly_load` gives them.  since: as in `minutes_by_week`.
    """
    shown = [week for week in weeks if since is None or week.start + WEEK > since] or list(weeks[-1:])
    begin, end = shown[0].start, shown[-1].start + WEEK
    seen = [note for note in notes if begin <= note.day < end]
    by_week: dict[dt.date, list[int]] = {week.start: [] for week in shown}
    for note in seen:
        by_week[begin + (note.day - begin) // WEEK * WEEK].append(note.discomfort)
    something = bool(seen) or any(week.load for week in shown)
    return Chart(
        uid=uid,
        title=_("Discomfort and practice load"),
        sentence=_hand_sentence(seen, shown),
        columns=(
            _("Week of"),
            _("Hand notes"),
            _("Highest discomfort"),
            _("Practice load"),
            _("Minutes not rated"),
        ),
        rows=tuple(
            (
                _day(week.start),
                number_text(len(by_week[week.start])),
                number_text(max(by_week[week.start])) if by_week[week.start] else NONE,
                number_text(round(week.load)),
                number_text(round(week.unrated / 60)),
            )
            for week in reversed(shown)
        ),
        numeric=frozenset({1, 2, 3, 4}),
        note=_(
            "Practice load says how much was asked of the hand. It is not validated for instruments and says"
            " nothing of injury."
        )
        if something
        else "",
        raw=_draw_hand(seen, shown) if something else "",
    )


def _draw_hand(seen: Sequence[HandFacts], shown: Sequence[WeekLoad]) -> str:
    figure = _figure(260)
    upper = _panel(figure, 260, left=2, right=76, top=36, bottom=148)
    lower = _panel(figure, 260, left=2, right=76, top=156, bottom=20)
    for axes in (upper, lower):
        axes.set_xlim(-0.5, len(shown) - 0.5)

    upper.set_ylim(0, 10)
    _axis_title(upper, _("discomfort, 0 to 10"))
    _line(upper, 0, "line", 1.0)
    for rating in (FROM_FOUR, 10):
        _line(upper, rating, "hair", 1.0)
    _labels_at_right(upper, [(float(rating), number_text(rating), "muted") for rating in (0, FROM_FOUR, 10)])
    if seen:
        # a day stands at its place in its week: the bar's middle is the fourth of the seven
        places = [(note.day - shown[0].start).days / 7 - 3 / 7 for note in seen]
        ratings = [note.discomfort for note in seen]
        upper.plot(places, ratings, "o", color=STAND_IN["ink"], markersize=6, markeredgewidth=0, **_PLAIN)
        worst = max(ratings)
        if worst > 0:
            at = len(ratings) - 1 - ratings[::-1].index(worst)
            label = _("%(n)d on %(day)s") % {"n": worst, "day": _day(seen[at].day)}
            _write(upper, places[at], worst, label, "ink", _side(places[at] / len(shown)), dy=7)

    loads = [week.load for week in shown]
    now = _current(shown)
    lower.set_ylim(0, max(*loads, 1.0))
    _weeks_as_bars(lower, loads, now)
    _name_highest(lower, loads, now)
    _axis_title(lower, _("practice load a week: how tiring × minutes"))
    _month_labels(lower, [week.start for week in shown])
    if now is not None:
        so_far = _("%(n)s so far") % {"n": number_text(round(loads[now]))}
        _labels_at_right(lower, [(loads[now], so_far, "accent")])
    return _raw(figure)


def _hand_sentence(seen: Sequence[HandFacts], shown: Sequence[WeekLoad]) -> str:
    weeks = len(shown)
    felt = [note for note in seen if note.discomfort > 0]
    if not seen:
        first = ngettext("No hand note in %(n)d week.", "No hand notes in %(n)d weeks.", weeks) % {"n": weeks}
    elif not felt:
        first = ngettext(
            "%(count)d hand note in this time, without discomfort.",
            "%(count)d hand notes in this time, all without discomfort.",
            len(seen),
        ) % {"count": len(seen)}
    else:
        worst = max(note.discomfort for note in felt)
        day = max(note.day for note in felt if note.discomfort == worst)
        first = ngettext(
            "%(count)d hand note with discomfort: %(worst)d of 10 on %(day)s.",
            "%(count)d hand notes with discomfort, the highest %(worst)d of 10 on %(day)s.",
            len(felt),
        ) % {"count": len(felt), "worst": worst, "day": _day(day)}
    finished = [week for week in shown if week.finished]
    if not any(week.load for week in shown):
        return first + " " + _("No session was rated for how tiring it was.")
    if len(finished) < 2:
        return first
    most = max(finished, key=lambda week: week.load)
    return (
        first
        + " "
        + _("Practice load was %(last)s last week; the most was %(most)s in the week of %(day)s.")
        % {
            "last": number_text(round(finished[-1].load)),
            "most": number_text(round(most.load)),
            "day": _day(most.start),
        }
    )


# ---------------------------------------------------------------- drawing


@cache
def _matplotlib() -> None:
    """Sets, once, what every drawing relies on: text stays text, and the same numbers give the same file."""
    import matplotlib

    matplotlib.rcParams["svg.fonttype"] = "none"
    matplotlib.rcParams["svg.hashsalt"] = "ledgerline"
    matplotlib.rcParams["path.simplify"] = False


def _figure(height: int) -> Figure:
    """An empty figure of 360 by `height` pixels, one unit of the drawing a pixel (72 to the inch)."""
    _matplotlib()
    from matplotlib.figure import Figure

    figure = Figure(figsize=(_WIDTH / 72, height / 72), dpi=72)
    figure.patch.set_visible(False)
    return figure


def _panel(figure: Figure, height: int, *, left: int, right: int, top: int, bottom: int) -> Axes:
    """Axes with these margins, in pixels, and none of matplotlib's own furniture."""
    box = (left / _WIDTH, bottom / height, (_WIDTH - left - right) / _WIDTH, (height - top - bottom) / height)
    axes = figure.add_axes(box)
    axes.set_axis_off()
    return axes


def _raw(figure: Figure) -> str:
    out = StringIO()
    figure.savefig(out, format="svg", metadata={"Date": None}, transparent=True)
    return out.getvalue()


def _write(
    axes: Axes,
    x: float,
    y: float,
    text: str,
    colour: str,
    ha: str = "left",
    dx: float = 0,
    dy: float = 0,
    **more: Any,
) -> None:
    """A text at a point of the data, its baseline moved by (dx, dy) pixels. What was typed stays text."""
    axes.annotate(
        text,
        (x, y),
        xytext=(dx, dy),
        textcoords="offset points",
        ha=ha,
        va="baseline",
        fontsize=_TEXT,
        color=STAND_IN[colour],
        annotation_clip=False,
        parse_math=False,
        **more,
    )


def _axis_title(axes: Axes, text: str) -> None:
    """What is measured, in words with its unit, above the panel and its highest number."""
    _write(axes, 0, 1, text, "muted", dx=2 - axes.bbox.x0, dy=22, xycoords="axes fraction")


def _line(axes: Axes, y: float, colour: str, width: float, dashes: tuple[int, int] | None = None) -> None:
    axes.plot(
        [0, 1],
        [y, y],
        transform=axes.get_yaxis_transform(),
        color=STAND_IN[colour],
        linewidth=width,
        linestyle=(0, dashes) if dashes else "-",
        dash_capstyle="butt",
        solid_capstyle="butt",
        **_PLAIN,
    )


def _side(share: float) -> str:
    """To which side a label hangs so that it stays inside; share: 0 at the left edge, 1 at the right."""
    if share > 0.75:
        return "right"
    return "left" if share < 0.15 else "center"


def _dashed(axes: Axes, y: float) -> None:
    _line(axes, y, "ink", 1.2, (4, 3))


def _labels_at_right(axes: Axes, labels: Sequence[tuple[float, str, str]]) -> None:
    """Direct labels beside the last value; two that would touch are moved apart, the higher one up."""
    low, high = axes.get_ylim()
    pixels = _pixels(axes)
    placed: list[float] = []
    ranked = sorted(labels, reverse=True)
    for value, _text, _colour in ranked:
        at = (value - low) / (high - low) * pixels
        down = at - 4
        if placed and placed[-1] - down < _APART:
            down = placed[-1] - _APART
        placed.append(down)
    # the lowest stays above the foot, and those over it make room
    floor = 1.0
    for number in range(len(placed) - 1, -1, -1):
        placed[number] = max(placed[number], floor)
        floor = placed[number] + _APART
    for (value, text, colour), down in zip(ranked, placed, strict=True):
        at = (value - low) / (high - low) * pixels
        bold: dict[str, Any] = {"fontweight": "bold"} if colour == "accent" else {}
        _write(axes, 1, value, text, colour, dx=6, dy=down - at, xycoords=("axes fraction", "data"), **bold)


def _weeks_as_bars(axes: Axes, values: Sequence[float], now: int | None) -> None:
    """One bar a week on a base line: the finished ones in one path, the current one in another."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    def bars(places: Sequence[int]) -> Path:
        return Path.make_compound_path(
            *(
                Path([(x - 0.39, 0), (x - 0.39, values[x]), (x + 0.39, values[x]), (x + 0.39, 0)], closed=False)
                for x in places
                if values[x] > 0
            )
        )

    past = [x for x in range(len(values)) if x != now]
    if any(values[x] > 0 for x in past):
        axes.add_patch(
            PathPatch(
                bars(past),
                facecolor=(*_rgb("line"), 0.4),
                edgecolor=STAND_IN["line"],
                linewidth=1,
                clip_on=False,
            )
        )
    if now is not None and values[now] > 0:
        axes.add_patch(PathPatch(bars([now]), facecolor=STAND_IN["accent"], linewidth=0, clip_on=False))
    _line(axes, 0, "line", 1.0)


def _name_highest(axes: Axes, values: Sequence[float], now: int | None, crossed_by: float = 0) -> None:
    """The value of the highest finished bar above it, unless the plan's line would run through the number."""
    past = [x for x in range(len(values)) if x != now and values[x] > 0]
    if not past:
        return
    at = max(past, key=lambda x: values[x])
    room = _APART / _pixels(axes) * axes.get_ylim()[1]
    if not values[at] < crossed_by < values[at] + room:
        _write(axes, at, values[at], number_text(round(values[at])), "muted", "center", dy=4)


def _pixels(axes: Axes) -> float:
    """Height of a panel."""
    return float(axes.bbox.height)


def _rgb(name: str) -> tuple[float, float, float]:
    colour = STAND_IN[name]
    return int(colour[1:3], 16) / 255, int(colour[3:5], 16) / 255, int(colour[5:7], 16) / 255


def _marks(axes: Axes, tries: Sequence[Mark]) -> None:
    days = [mark.day.toordinal() for mark in tries]
    if len(tries) > 1:
        axes.plot(
            days,
            [mark.value for mark in tries],
            color=STAND_IN["accent"],
            linewidth=1.2,
            alpha=0.55,
            solid_capstyle="butt",
            **_PLAIN,
        )
    for check, face in ((False, "paper"), (True, "accent")):
        some = [(mark.day.toordinal(), mark.value) for mark in tries if mark.check is check]
        if some:
            axes.plot(
                *zip(*some, strict=True),
                linestyle="none",
                marker="o",
                markersize=7,
                markeredgewidth=1.6,
                markerfacecolor=STAND_IN[face],
                markeredgecolor=STAND_IN["accent"],
                **_PLAIN,
            )


def _month_labels(axes: Axes, starts: Sequence[dt.date]) -> None:
    """The month under the first week that begins in it, and under the first one where there is room."""
    last_at = -9
    firsts = [at for at, day in enumerate(starts) if at == 0 or day.month != starts[at - 1].month]
    if len(firsts) > 1 and firsts[1] - firsts[0] < 2:
        firsts = firsts[1:]
    for at in firsts:
        if at - last_at >= 2:
            _write(axes, at, 0, date_format(starts[at], "M"), "muted", "center", dy=-15)
            last_at = at


def _day_labels(axes: Axes, first: dt.date, last: dt.date) -> None:
    """The first and the last day under the base line, and the months between where there is room."""
    _line_at_foot(axes)
    pixels = axes.get_position().width * _WIDTH
    span = (last - first).days
    foot: dict[str, Any] = {"dy": -15, "xycoords": ("data", "axes fraction")}
    _write(axes, first.toordinal(), 0, _day(first), "muted", "left", **foot)
    _write(axes, last.toordinal(), 0, _day(last), "muted", "right", **foot)
    taken = 44.0
    month = (first.replace(day=1) + dt.timedelta(days=32)).replace(day=1)
    while month < last:
        at = (month - first).days / span * pixels
        if at - taken >= 18 and pixels - 44 - at >= 18:
            _write(axes, month.toordinal(), 0, date_format(month, "M"), "muted", "center", **foot)
            taken = at + 14
        month = (month + dt.timedelta(days=32)).replace(day=1)


def _line_at_foot(axes: Axes) -> None:
    axes.plot(
        [0, 1],
        [0, 0],
        transform=axes.transAxes,
        color=STAND_IN["line"],
        linewidth=1,
        solid_capstyle="butt",
        clip_on=False,
        scalex=False,
        scaley=False,
    )


def _day(day: dt.date) -> str:
    return date_format(day, "j M")
