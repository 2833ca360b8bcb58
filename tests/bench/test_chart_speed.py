"""Speed of the figures, as interleaved ratios. Nothing is asserted about time: read the table (`-m bench -s`).

The other side draws the same artists (the same series, marks, lines, bars and texts at the same places) on a figure of
the same size as bare matplotlib comes: its defaults for ticks, spines, grid of text as paths, and its own SVG, which no
page's policy lets through. Ours includes the page's SVG, made from matplotlib's. The bar of the issue is one half.
"""

import datetime as dt
import statistics
from collections.abc import Callable
from io import StringIO
from time import perf_counter

import pytest

from practice import chart_calendar, chart_hand, chart_neck, charts
from practice import chart_draw as draw
from practice.trend import fit
from tests.practice.test_charts import TODAY, chords_of, entry, goal_of, mark, note, weeks_of

pytestmark = pytest.mark.bench

ROUNDS = 15
DEFAULTS = {"svg.fonttype": "path", "svg.hashsalt": None, "path.simplify": True}

GOAL = goal_of(*(mark(back, 40 - back / 4 + back % 5, back % 6 == 0) for back in range(110, 0, -2)))
FIGURES: dict[str, Callable[[], draw.Chart]] = {
    "minutes by week": lambda: charts.minutes_by_week(weeks_of(*range(20, 80, 5)), 60),
    "goal line": lambda: charts.goal_over_time(GOAL, TODAY),
    "goal line with trend": lambda: charts.goal_over_time(GOAL, TODAY, trend=fit(GOAL.marks)),
    "calendar": lambda: chart_calendar.practice_calendar(
        [entry(back, 5 * (back % 10 + 1)) for back in range(0, 182, 2)], TODAY, plan_days=5
    ),
    "neck": lambda: chart_neck.neck_map(chords_of(), TODAY),
    "load": lambda: chart_hand.practice_load([entry(back, 30, back % 7) for back in range(0, 150, 2)], TODAY),
    "barres": lambda: chart_hand.barre_and_discomfort([note(9, 4)], {TODAY: 600}, TODAY),
}


def as_bare_matplotlib(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on the figures are matplotlib's own: default axes with all their furniture, text as paths."""
    import matplotlib
    from matplotlib.figure import Figure

    def new_figure(height: int) -> Figure:
        return Figure(figsize=(draw.WIDTH / 72, height / 72), dpi=72)

    def panel(figure: Figure, height: int, *, left: int, right: int, top: int, bottom: int):
        box = (left / draw.WIDTH, bottom / height, (draw.WIDTH - left - right) / draw.WIDTH)
        return figure.add_axes((*box, (height - top - bottom) / height))

    def sheet(figure: Figure, height: int, mirrored: bool = False):
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set_xlim((draw.WIDTH, 0) if mirrored else (0, draw.WIDTH))
        axes.set_ylim(height, 0)
        return axes

    def raw_svg(figure: Figure) -> str:
        out = StringIO()
        with matplotlib.rc_context(DEFAULTS):
            figure.savefig(out, format="svg")
        return out.getvalue()

    for module in (charts, chart_calendar, chart_hand, chart_neck):
        monkeypatch.setattr(module, "new_figure", new_figure)
        monkeypatch.setattr(module, "raw_svg", raw_svg)
        surface = "panel" if hasattr(module, "panel") else "Sheet"
        monkeypatch.setattr(module, surface, panel if surface == "panel" else sheet)


@pytest.mark.parametrize("name", FIGURES)
def test_a_figure_against_bare_matplotlib(name: str) -> None:
    make = FIGURES[name]
    ours, bare = [], []
    for _round in range(ROUNDS + 1):
        begun = perf_counter()
        assert "<svg" in make().svg
        ours.append(perf_counter() - begun)
        with pytest.MonkeyPatch.context() as monkeypatch:
            as_bare_matplotlib(monkeypatch)
            begun = perf_counter()
            assert "<svg" in make().raw
            bare.append(perf_counter() - begun)
    ratios = [mine / other for mine, other in zip(ours[1:], bare[1:], strict=True)]
    mine, other = (statistics.median(times[1:]) * 1000 for times in (ours, bare))
    ratio = statistics.median(ratios)
    print(f"\n{name:>22}: ours {mine:6.1f} ms, bare {other:6.1f} ms, ratio {ratio:.2f} (bar 0.50)", end="")


def test_a_repeat_view_against_the_first(cast, monkeypatch) -> None:
    from tests import factory

    monkeypatch.setattr("django.utils.timezone.now", lambda: factory.NOW)
    goal = factory.make_goal(cast.student)
    for back in range(0, 60, 2):
        factory.make_result(goal, 3 + back % 4, day=factory.TODAY - dt.timedelta(days=back))
    client = cast.client("teacher")
    path = f"/students/{cast.student.code}/charts/"
    etag = client.get(path, headers={"HX-Request": "true"}).headers["ETag"]
    first, again = [], []
    for _round in range(ROUNDS):
        begun = perf_counter()
        assert client.get(path, headers={"HX-Request": "true"}).status_code == 200
        first.append(perf_counter() - begun)
        begun = perf_counter()
        answer = client.get(path, headers={"HX-Request": "true", "If-None-Match": etag})
        again.append(perf_counter() - begun)
        assert answer.status_code == 304
    ratio = statistics.median(two / one for one, two in zip(first, again, strict=True))
    print(
        f"\n{'repeat view':>22}: {statistics.median(again) * 1000:6.1f} ms against"
        f" {statistics.median(first) * 1000:6.1f} ms, ratio {ratio:.2f}",
        end="",
    )
