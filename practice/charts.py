"""Minutes by week against the plan, and each goal's line to its target.

Each figure is a function of plain values and gives a `Chart`: the drawing, a computed sentence that says what is
seen, and the same numbers as a table. Self-reports are rings, lesson checks solid dots; what was measured on an
earlier instrument is square. The trend's line lies in a light band that says how sure it is (practice.trend).
The other figures: chart_calendar, chart_neck, chart_hand; what they share: chart_draw.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from practice.asked import Asked
from practice.chart_draw import (
    PLAIN,
    Chart,
    axis_title,
    dashed,
    day_labels,
    day_text,
    labels_at_right,
    month_labels,
    name_highest,
    new_figure,
    panel,
    raw_svg,
    rgb,
    side_of,
    weeks_as_bars,
    write,
)
from practice.chart_svg import STAND_IN
from practice.display import NONE, measured_text, minutes_text, number_text
from practice.facts import GoalFacts, Mark
from practice.progress import WEEK, Week, first_tries
from practice.trend import Trend

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# Raised when a drawing changes, so that browsers do not keep the old one.
DRAWING = 2

WEEKS = 12
GOAL_DAYS = 182
MOST_TRIES = 60


def minutes_by_week(
    weeks: Sequence[Week],
    plan: int,
    since: dt.date | None = None,
    uid: str = "minutes",
    asked: Mapping[dt.date, Asked] | None = None,
) -> Chart:
    """Minutes by week against the plan, the last week in the accent colour.

    weeks: oldest first, at least one, as `progress.weekly_minutes` gives them.  plan: minutes a week; 0 for none.
    since: first day with the studio; weeks that ended before it are left out.  asked: what each week asked for, by its
    first day (practice.asked), the whole plan without it; what asked for nothing counts for and against nobody.
    """
    shown = [week for week in weeks if since is None or week.start + WEEK > since] or list(weeks[-1:])
    asks = [asked[week.start].minutes if plan and asked and week.start in asked else plan for week in shown]
    return Chart(
        uid=uid,
        title=_("Minutes by week"),
        sentence=_minutes_sentence(shown, plan, since, asks),
        columns=(_("Week of"), _("Minutes"), _("Days"), *((_("Plan"),) if plan else ())),
        rows=tuple(
            (
                day_text(week.start),
                number_text(week.minutes),
                number_text(week.days),
                *((number_text(part) if part else NONE,) if plan else ()),
            )
            for week, part in zip(reversed(shown), reversed(asks), strict=True)
        ),
        numeric=frozenset({1, 2, 3}),
        raw=_draw_minutes(shown, plan, asks) if any(week.seconds for week in shown) else "",
    )


def _draw_minutes(shown: Sequence[Week], plan: int, asks: Sequence[int]) -> str:
    values = [week.minutes for week in shown]
    now = len(shown) - 1
    figure = new_figure(160)
    axes = panel(figure, 160, left=2, right=76, top=36, bottom=20)
    axes.set_xlim(-0.5, len(shown) - 0.5)
    axes.set_ylim(0, max(*values, plan, 1))
    weeks_as_bars(axes, values, now)
    name_highest(axes, values, now, plan)
    month_labels(axes, [week.start for week in shown])
    axis_title(axes, _("minutes a week"))
    labels: list[tuple[float, str, str]] = []
    if plan and set(asks) == {plan}:
        dashed(axes, plan)
    elif plan:
        _dash_by_week(axes, asks)
    if asks[now]:
        labels.append((asks[now], _("plan %(n)s") % {"n": number_text(asks[now])}, "ink"))
    last = _("%(n)s min") if shown[now].finished else _("%(n)s so far")
    labels.append((values[now], last % {"n": number_text(values[now])}, "accent"))
    labels_at_right(axes, labels)
    return raw_svg(figure)


def _dash_by_week(axes: Axes, asks: Sequence[int]) -> None:
    """The plan's line over each stretch of weeks that asked for the same, none where nothing was asked."""
    first = 0
    for at in range(1, len(asks) + 1):
        if at == len(asks) or asks[at] != asks[first]:
            if asks[first]:
                dashed(axes, asks[first], (first - 0.5, at - 0.5))
            first = at


def _minutes_sentence(
    shown: Sequence[Week], plan: int, since: dt.date | None = None, asks: Sequence[int] | None = None
) -> str:
    needs = {week.start: part for week, part in zip(shown, asks or [plan] * len(shown), strict=True)}
    ended = [week for week in shown if week.finished]
    finished = [week for week in ended if needs[week.start] or not plan]
    rested = any(needs[week.start] < plan for week in ended)
    current = next((week for week in shown if not week.finished), None)
    if not any(week.seconds for week in shown):
        if since is not None and since < shown[0].start:  # something may have been logged before
            none = ngettext(
                "Nothing is logged in this %(n)d week.", "Nothing is logged in these %(n)d weeks.", len(shown)
            )
            return none % {"n": len(shown)}
        return _("Nothing is logged yet. The first entry draws the first bar.")
    parts = []
    if len(finished) == 1 and plan and not rested:
        met = finished[0].minutes >= plan
        form = (
            _("The first finished week reached the plan of %(plan)d minutes.")
            if met
            else _("The first finished week brought %(minutes)d of the %(plan)d minutes planned.")
        )
        parts.append(form % {"minutes": finished[0].minutes, "plan": plan})
    elif finished and plan:
        reached = sum(week.minutes >= needs[week.start] for week in finished)
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
    if rested:
        parts.append(_("Days of rest ask for nothing."))
    if current is None:
        last = {"day": day_text(shown[-1].start), "minutes": minutes_text(shown[-1].seconds)}
        parts.append(_("The week of %(day)s: %(minutes)s.") % last)
    else:
        so_far = minutes_text(current.seconds)
        parts.append(_("This week so far: %(minutes)s.") % {"minutes": so_far})
    return " ".join(parts)


def goal_over_time(
    goal: GoalFacts,
    today: dt.date,
    uid: str = "",
    *,
    trend: Trend | None = None,
    instrument_since: dt.date | None = None,
    start: dt.date | None = None,
) -> Chart:
    """A goal's own measure over the last half year, one try a day, at most 60 of them, with its target.

    trend: its line and band.  instrument_since: first day of the present instrument; what was measured before is
    marked.  start: the first day shown, in place of half a year before today.
    """
    since = today - dt.timedelta(days=GOAL_DAYS - 1) if start is None else start
    every = first_tries(goal, today)
    tries = [mark for mark in every if mark.day >= since][-MOST_TRIES:]
    before = every[-1] if every and not tries else None
    axis = _AXES[goal.measure.code]()
    changed = instrument_since if tries and instrument_since and tries[0].day < instrument_since <= today else None
    return Chart(
        uid=uid or f"goal-{goal.code}",
        title=goal.title,
        sentence=_goal_sentence(goal, tries, before, trend if tries else None),
        columns=(_("Day"), axis[:1].upper() + axis[1:], _("Reported by")),
        rows=tuple(
            (day_text(mark.day), number_text(mark.value), _reported(mark, instrument_since)) for mark in reversed(tries)
        ),
        numeric=frozenset({1}),
        note=_goal_note(trend, changed) if tries else "",
        raw=_draw_goal(goal, tries, today, axis, trend, changed) if tries else "",
    )


def _reported(mark: Mark, instrument_since: dt.date | None) -> str:
    if instrument_since is not None and mark.day < instrument_since:
        return _("lesson check, earlier instrument") if mark.check else _("own report, earlier instrument")
    return _("lesson check") if mark.check else _("own report")


def _goal_note(trend: Trend | None, changed: dt.date | None) -> str:
    parts = [_("Rings are own reports, solid dots lesson checks.")]
    if changed:
        parts.append(_("Squares were measured on the earlier instrument, before %(day)s.") % {"day": day_text(changed)})
    if trend:
        parts.append(
            _("The straight line is the trend, its band where it likely lies (%(share)d %%).")
            % {"share": round(trend.confidence * 100)}
        )
    return " ".join(parts)


def _draw_goal(
    goal: GoalFacts,
    tries: Sequence[Mark],
    today: dt.date,
    axis: str,
    trend: Trend | None,
    changed: dt.date | None,
) -> str:
    figure = new_figure(160)
    axes = panel(figure, 160, left=34, right=82, top=34, bottom=20)
    first = tries[0].day
    last = max(today, first + dt.timedelta(days=1))
    axes.set_xlim(first.toordinal(), last.toordinal())
    axes.set_ylim(*_value_range([mark.value for mark in tries], goal))
    if trend:
        _draw_trend(axes, trend, last)
    dashed(axes, goal.target)
    axis_title(axes, _("%(axis)s, fewer is better") % {"axis": axis} if goal.measure.fewer_is_better else axis)
    day_labels(axes, first, last)
    if changed:
        _draw_change(axes, changed, (changed - first).days / (last - first).days)
    _marks(axes, tries, changed, joined=trend is None)
    if len(tries) > 1:
        first_value = number_text(tries[0].value)
        write(axes, first.toordinal(), tries[0].value, first_value, "muted", "right", dx=-9, dy=-4)
    labels = [
        (goal.target, _("target %(n)s") % {"n": number_text(goal.target)}, "ink"),
        (tries[-1].value, _("last %(n)s") % {"n": number_text(tries[-1].value)}, "accent"),
    ]
    labels_at_right(axes, labels)
    return raw_svg(figure)


def _draw_trend(axes: Axes, trend: Trend, last: dt.date) -> None:
    """The band, which is narrow at the trend's middle and opens to both sides, and the line within it."""
    middle = trend.start + dt.timedelta(days=round(trend.middle * 7))
    days = sorted({trend.start, middle, last})
    bands = [trend.band(day) for day in days]
    at = [day.toordinal() for day in days]
    (patch,) = axes.fill(
        [*at, *reversed(at)],
        [*(low for low, _high in bands), *(high for _low, high in reversed(bands))],
        facecolor=(*rgb("accent"), 0.16),
        linewidth=0,
    )
    patch.set_clip_on(True)
    axes.plot(
        [at[0], at[-1]],
        [trend.value(days[0]), trend.value(days[-1])],
        color=STAND_IN["accent"],
        linewidth=1.6,
        solid_capstyle="butt",
        scalex=False,
        scaley=False,
    )


def _draw_change(axes: Axes, changed: dt.date, share: float) -> None:
    axes.plot(
        [changed.toordinal()] * 2,
        [0, 1],
        transform=axes.get_xaxis_transform(),
        color=STAND_IN["line"],
        linewidth=1,
        linestyle=(0, (1, 2)),
        **PLAIN,
    )
    place = {"xycoords": ("data", "axes fraction"), "dy": 4}
    write(axes, changed.toordinal(), 1, _("new instrument"), "muted", side_of(share), **place)


def _marks(axes: Axes, tries: Sequence[Mark], changed: dt.date | None, joined: bool) -> None:
    if len(tries) > 1 and joined:
        axes.plot(
            [mark.day.toordinal() for mark in tries],
            [mark.value for mark in tries],
            color=STAND_IN["accent"],
            linewidth=1.2,
            alpha=0.55,
            solid_capstyle="butt",
            **PLAIN,
        )
    for earlier, marker, colour in ((True, "s", "muted"), (False, "o", "accent")):
        for check, face in ((False, "paper"), (True, colour)):
            some = [
                (mark.day.toordinal(), mark.value)
                for mark in tries
                if mark.check is check and (changed is not None and mark.day < changed) is earlier
            ]
            if some:
                axes.plot(
                    *zip(*some, strict=True),
                    linestyle="none",
                    marker=marker,
                    markersize=7,
                    markeredgewidth=1.6,
                    markerfacecolor=STAND_IN[face],
                    markeredgecolor=STAND_IN[colour],
                    **PLAIN,
                )


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


def _goal_sentence(goal: GoalFacts, tries: Sequence[Mark], before: Mark | None, trend: Trend | None) -> str:
    said = _goal_course(goal, tries, before)
    return f"{said} {_trend_sentence(trend)}" if trend else said


def _trend_sentence(trend: Trend) -> str:
    if trend.low <= 0 <= trend.high:
        return _("The trend points neither up nor down.")
    small, large = sorted((abs(trend.low), abs(trend.high)))
    form = (
        _("The trend rises by %(slope)s a week, likely by %(small)s to %(large)s.")
        if trend.slope > 0
        else _("The trend falls by %(slope)s a week, likely by %(small)s to %(large)s.")
    )
    values = {"slope": abs(trend.slope), "small": small, "large": large}
    return form % {name: number_format(round(value, 1), 1) for name, value in values.items()}


def _goal_course(goal: GoalFacts, tries: Sequence[Mark], before: Mark | None) -> str:
    def short(value: float) -> str:
        return measured_text(value, goal.measure.code)

    target = short(goal.target)
    if before is not None:
        old = _("Not measured in this time; the last time was %(value)s on %(day)s. The target is %(target)s.")
        return old % {"value": short(before.value), "day": date_format(before.day, "j M Y"), "target": target}
    if not tries:
        return _("Not measured yet. The target is %(target)s.") % {"target": target}
    last = tries[-1]
    values = {"last": short(last.value), "day": day_text(last.day), "target": target}
    if len(tries) == 1:
        one = _("One measurement: %(last)s on %(day)s. The target is %(target)s.")
        met = _("One measurement: %(last)s on %(day)s, which meets the target of %(target)s.")
        return (met if goal.measure.meets(last.value, goal.target) else one) % values
    values |= {"first": short(tries[0].value), "since": day_text(tries[0].day)}
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
