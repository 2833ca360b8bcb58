"""What every figure is made of: the `Chart` itself, and the few ways in which figures put marks, lines and labels.

Conventions: sizes are CSS pixels at a width of 360, the narrowest phone; text 12. Direct labels stand in place
of legends, the plan or target is a dashed line with its name. A week is named by its first day; the current one,
not finished, is in the accent colour. matplotlib is used by its objects alone, imported by the code that draws, one
artist a series, no ticks of its own. Colours are stand-ins of practice.chart_svg, by the token's name.
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

from practice.chart_svg import STAND_IN, page_svg, print_svg
from practice.display import number_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

WIDTH = 360
TEXT = 12
APART = 14  # of two labels, one above the other
# a line that is not cut at the panel's edge and does not move its limits
PLAIN: dict[str, Any] = {"clip_on": False, "scalex": False, "scaley": False}


@dataclass(frozen=True)
class Cell:
    """text: as shown; numeric: set to the right."""

    text: str
    numeric: bool


@dataclass(frozen=True)
class Chart:
    """uid: unique in a page; title: of the figure; sentence: what is seen; columns, rows: the same numbers.

    numeric: which columns are numbers, set to the right.  note: how to read the marks, or "".  hand: shows how a
    hand felt, so that it waits behind one tap where others may look on.
    """

    uid: str
    title: str
    sentence: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: frozenset[int] = frozenset()
    note: str = ""
    hand: bool = False
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


@cache
def matplotlib_ready() -> None:
    """Sets, once, what every drawing relies on: text stays text, and the same numbers give the same file."""
    import matplotlib

    matplotlib.rcParams["svg.fonttype"] = "none"
    matplotlib.rcParams["svg.hashsalt"] = "ledgerline"
    matplotlib.rcParams["path.simplify"] = False


def new_figure(height: int) -> Figure:
    """An empty figure of 360 by `height` pixels, one unit of the drawing a pixel (72 to the inch)."""
    matplotlib_ready()
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH / 72, height / 72), dpi=72)
    figure.patch.set_visible(False)
    return figure


def panel(figure: Figure, height: int, *, left: int, right: int, top: int, bottom: int) -> Axes:
    """Axes with these margins, in pixels, and none of matplotlib's own furniture."""
    box = (left / WIDTH, bottom / height, (WIDTH - left - right) / WIDTH, (height - top - bottom) / height)
    axes = figure.add_axes(box)
    axes.set_axis_off()
    return axes


class Sheet:
    """A drawing surface measured in pixels, y downwards, without axes: for figures that need no scale.

    mirrored: x runs from the right. Its methods take what those of Axes take, as far as the figures use them.
    """

    def __init__(self, figure: Figure, height: int, mirrored: bool = False) -> None:
        from matplotlib.transforms import Affine2D

        self._figure = figure
        self._pixels = Affine2D().scale(-1 if mirrored else 1, -1).translate(WIDTH if mirrored else 0, height)

    def text(self, x: float, y: float, text: str, **more: Any) -> None:
        from matplotlib.text import Text

        self._figure.add_artist(Text(x, y, text, transform=self._pixels, **more))

    def plot(self, xs: Sequence[float], ys: Sequence[float], **more: Any) -> None:
        from matplotlib.lines import Line2D

        self._figure.add_artist(Line2D(xs, ys, transform=self._pixels, **more))

    def add_patch(self, patch: Patch) -> None:
        patch.set_transform(self._pixels)
        self._figure.add_artist(patch)


def raw_svg(figure: Figure) -> str:
    out = StringIO()
    figure.savefig(out, format="svg", metadata={"Date": None}, transparent=True)
    return out.getvalue()


def write(
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
        fontsize=TEXT,
        color=STAND_IN[colour],
        annotation_clip=False,
        parse_math=False,
        **more,
    )


def put(sheet: Sheet, x: float, y: float, text: str, colour: str, ha: str = "left") -> None:
    """A text on a sheet, by the left, the middle or the right end of its baseline. What was typed stays text."""
    sheet.text(x, y, text, ha=ha, va="baseline", fontsize=TEXT, color=STAND_IN[colour], clip_on=False, parse_math=False)


def hairlines(sheet: Sheet, lines: Sequence[tuple[float, float, float, float]], colour: str, width: float) -> None:
    """Straight lines (x0, y0, x1, y1) as one path."""
    if not lines:
        return
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    points = [point for x0, y0, x1, y1 in lines for point in ((x0, y0), (x1, y1))]
    path = Path(points, [Path.MOVETO, Path.LINETO] * len(lines))
    sheet.add_patch(
        PathPatch(path, fill=False, edgecolor=STAND_IN[colour], linewidth=width, capstyle="butt", clip_on=False)
    )


def axis_title(axes: Axes, text: str) -> None:
    """What is measured, in words with its unit, above the panel and its highest number."""
    write(axes, 0, 1, text, "muted", dx=2 - axes.bbox.x0, dy=22, xycoords="axes fraction")


def line_across(axes: Axes, y: float, colour: str, width: float, dashes: tuple[int, int] | None = None) -> None:
    axes.plot(
        [0, 1],
        [y, y],
        transform=axes.get_yaxis_transform(),
        color=STAND_IN[colour],
        linewidth=width,
        linestyle=(0, dashes) if dashes else "-",
        dash_capstyle="butt",
        solid_capstyle="butt",
        **PLAIN,
    )


def side_of(share: float) -> str:
    """To which side a label hangs so that it stays inside; share: 0 at the left edge, 1 at the right."""
    if share > 0.75:
        return "right"
    return "left" if share < 0.15 else "center"


def dashed(axes: Axes, y: float, span: tuple[float, float] | None = None) -> None:
    """A dashed line across, or from one x to another."""
    if span is None:
        line_across(axes, y, "ink", 1.2, (4, 3))
    else:
        axes.plot(
            span, [y, y], color=STAND_IN["ink"], linewidth=1.2, linestyle=(0, (4, 3)), dash_capstyle="butt", **PLAIN
        )


def labels_at_right(axes: Axes, labels: Sequence[tuple[float, str, str]]) -> None:
    """Direct labels beside the last value; two that would touch are moved apart, the higher one up."""
    low, high = axes.get_ylim()
    pixels = pixels_of(axes)
    placed: list[float] = []
    ranked = sorted(labels, reverse=True)
    for value, _text, _colour in ranked:
        at = (value - low) / (high - low) * pixels
        down = at - 4
        if placed and placed[-1] - down < APART:
            down = placed[-1] - APART
        placed.append(down)
    # the lowest stays above the foot, and those over it make room
    floor = 1.0
    for number in range(len(placed) - 1, -1, -1):
        placed[number] = max(placed[number], floor)
        floor = placed[number] + APART
    for (value, text, colour), down in zip(ranked, placed, strict=True):
        at = (value - low) / (high - low) * pixels
        bold: dict[str, Any] = {"fontweight": "bold"} if colour == "accent" else {}
        write(axes, 1, value, text, colour, dx=6, dy=down - at, xycoords=("axes fraction", "data"), **bold)


def weeks_as_bars(axes: Axes, values: Sequence[float], now: int | None) -> None:
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
                facecolor=(*rgb("line"), 0.4),
                edgecolor=STAND_IN["line"],
                linewidth=1,
                clip_on=False,
            )
        )
    if now is not None and values[now] > 0:
        axes.add_patch(PathPatch(bars([now]), facecolor=STAND_IN["accent"], linewidth=0, clip_on=False))
    line_across(axes, 0, "line", 1.0)


def name_highest(axes: Axes, values: Sequence[float], now: int | None, crossed_by: float = 0) -> None:
    """The value of the highest finished bar above it, unless the plan's line would run through the number."""
    past = [x for x in range(len(values)) if x != now and values[x] > 0]
    if not past:
        return
    at = max(past, key=lambda x: values[x])
    room = APART / pixels_of(axes) * axes.get_ylim()[1]
    if not values[at] < crossed_by < values[at] + room:
        write(axes, at, values[at], number_text(round(values[at])), "muted", "center", dy=4)


def pixels_of(axes: Axes) -> float:
    """Height of a panel."""
    return float(axes.bbox.height)


def rgb(name: str) -> tuple[float, float, float]:
    colour = STAND_IN[name]
    return int(colour[1:3], 16) / 255, int(colour[3:5], 16) / 255, int(colour[5:7], 16) / 255


def month_labels(axes: Axes, starts: Sequence[dt.date]) -> None:
    """The month under the first week that begins in it, and under the first one where there is room."""
    last_at = -9
    firsts = [at for at, day in enumerate(starts) if at == 0 or day.month != starts[at - 1].month]
    if len(firsts) > 1 and firsts[1] - firsts[0] < 2:
        firsts = firsts[1:]
    for at in firsts:
        if at - last_at >= 2:
            write(axes, at, 0, date_format(starts[at], "M"), "muted", "center", dy=-15)
            last_at = at


def day_labels(axes: Axes, first: dt.date, last: dt.date) -> None:
    """The first and the last day under the base line, and the months between where there is room."""
    line_at_foot(axes)
    pixels = axes.get_position().width * WIDTH
    span = (last - first).days
    foot: dict[str, Any] = {"dy": -15, "xycoords": ("data", "axes fraction")}
    write(axes, first.toordinal(), 0, day_text(first), "muted", "left", **foot)
    write(axes, last.toordinal(), 0, day_text(last), "muted", "right", **foot)
    taken = 44.0
    month = (first.replace(day=1) + dt.timedelta(days=32)).replace(day=1)
    while month < last:
        at = (month - first).days / span * pixels
        if at - taken >= 18 and pixels - 44 - at >= 18:
            write(axes, month.toordinal(), 0, date_format(month, "M"), "muted", "center", **foot)
            taken = at + 14
        month = (month + dt.timedelta(days=32)).replace(day=1)


def line_at_foot(axes: Axes) -> None:
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


def day_text(day: dt.date) -> str:
    return date_format(day, "j M")
