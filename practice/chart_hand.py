"""Practice load, and discomfort beside the minutes on barres. Only to be drawn under a standing consent.

Practice load is a session's rating times its minutes (practice.load); it is not validated for instruments and says
nothing of injury. Notes of the hand are marks by day: no place and no name stands in a drawing.
"""

from __future__ import annotations

import datetime as dt
import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from practice.chart_draw import (
    PLAIN,
    Chart,
    axis_title,
    day_labels,
    day_text,
    labels_at_right,
    line_across,
    month_labels,
    name_highest,
    new_figure,
    panel,
    raw_svg,
    side_of,
    weeks_as_bars,
    write,
)
from practice.chart_svg import STAND_IN
from practice.display import NONE, number_text
from practice.facts import EntryFacts, HandFacts
from practice.load import DAY, DayLoad, daily_load, ewma
from practice.progress import WEEK
from students.calendar import week_of

SHORT, LONG = 7, 28
LOAD_DAYS = 84
BARRE_WEEKS = 12
FROM_FOUR = 4


# ---------------------------------------------------------------- practice load


def practice_load(entries: Iterable[EntryFacts], today: dt.date, days: int = LOAD_DAYS, uid: str = "load") -> Chart:
    """ "How tiring" x minutes by day, with its weighted means over 7 and 28 days.

    entries: with ratings; the means begin with the first of their days, so that more than `days` days are wanted.
    """
    entries = [entry for entry in entries if entry.day <= today]
    loads: tuple[DayLoad, ...] = ()
    if any(entry.tiring is not None for entry in entries):
        first = min(entry.day for entry in entries if entry.tiring is not None)
        loads = daily_load(entries, first, today + DAY)
    values = [day.load for day in loads]
    means = list(zip(loads, ewma(values, SHORT), ewma(values, LONG), strict=True))[-days:]
    early = 0 < len(means) < SHORT
    something = any(day.load for day, _short, _long in means) and not early
    return Chart(
        uid=uid,
        title=_("Practice load"),
        sentence=_too_early(loads[0].day) if early else _load_sentence(means if something else []),
        columns=(_("Week up to"), _("Load"), _("7-day mean"), _("28-day mean"), _("Minutes not rated")),
        rows=tuple(_load_rows(means)) if something else (),
        numeric=frozenset({1, 2, 3, 4}),
        note=_(
            "Practice load is how tiring times minutes: how much was asked of the hand. It is not validated for"
            " instruments and says nothing of injury. Days that were not rated count nothing."
        )
        + _of_words(entry.tiring_in_words for entry in entries if entry.day >= means[0][0].day)
        if something
        else "",
        raw=_draw_load(means) if something else "",
    )


def _of_words(marks: Iterable[bool]) -> str:
    """Says what stands for a young child's words, where a figure has such numbers in it."""
    return " " + _("A young child answers in three words, kept as 2, 5 and 8.") if any(marks) else ""


_Means = Sequence[tuple[DayLoad, float, float]]


def _load_rows(means: _Means) -> Iterable[tuple[str, ...]]:
    """One row for seven days, the newest first: a day's table would be long and say no more."""
    for end in range(len(means), 0, -7):
        span = means[max(0, end - 7) : end]
        last, short, long = span[-1]
        yield (
            day_text(last.day),
            number_text(round(sum(day.load for day, _short, _long in span))),
            number_text(round(short)),
            number_text(round(long)),
            number_text(round(sum(day.unrated for day, _short, _long in span) / 60)),
        )


def _too_early(first: dt.date) -> str:
    form = _("How tiring practice was is noted since %(day)s. A week of it gives the first mean.")
    return form % {"day": day_text(first)}


def _load_sentence(means: _Means) -> str:
    if not means:
        return _("No session was rated for how tiring it was, so there is no practice load to draw.")
    _last, short, long = means[-1]
    said = _("Practice load is %(short)s a day by its 7-day mean and %(long)s by its 28-day mean.") % {
        "short": number_text(round(short)),
        "long": number_text(round(long)),
    }
    top, highest, _long = max(means, key=lambda row: row[1])
    if top is not means[-1][0] and round(highest) > round(short):
        said += " " + _("The 7-day mean was highest on %(day)s, at %(value)s.") % {
            "day": day_text(top.day),
            "value": number_text(round(highest)),
        }
    unrated = round(sum(day.unrated for day, _short, _long in means) / 60)
    played = round(sum(day.seconds for day, _short, _long in means) / 60)
    if unrated:
        said += " " + _("Not rated: %(unrated)s of %(played)s minutes.") % {
            "unrated": number_text(unrated),
            "played": number_text(played),
        }
    return said


def _draw_load(means: _Means) -> str:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    figure = new_figure(170)
    axes = panel(figure, 170, left=2, right=88, top=36, bottom=20)
    days = [day.day.toordinal() for day, _short, _long in means]
    first, last = means[0][0].day, max(means[-1][0].day, means[0][0].day + DAY)
    axes.set_xlim(first.toordinal(), last.toordinal())
    axes.set_ylim(0, max(max(day.load, short, long) for day, short, long in means) or 1.0)
    axis_title(axes, _("load a day: how tiring × minutes"))
    stems = [(day.day.toordinal(), day.load) for day, _short, _long in means if day.load]
    points = [point for at, load in stems for point in ((at, 0.0), (at, load))]
    axes.add_patch(
        PathPatch(
            Path(points, [Path.MOVETO, Path.LINETO] * len(stems)),
            fill=False,
            edgecolor=STAND_IN["line"],
            linewidth=1.4,
            alpha=0.6,
            capstyle="butt",
            clip_on=False,
        )
    )
    for number, colour, dashes, width in ((2, "ink", (4, 2), 1.3), (1, "accent", None, 1.8)):
        axes.plot(
            days,
            [row[number] for row in means],
            color=STAND_IN[colour],
            linewidth=width,
            linestyle=(0, dashes) if dashes else "-",
            solid_capstyle="butt",
            **PLAIN,
        )
    day_labels(axes, first, last)
    _day, short, long = means[-1]
    labels_at_right(
        axes,
        [
            (short, _("7 days %(n)s") % {"n": number_text(round(short))}, "accent"),
            (long, _("28 days %(n)s") % {"n": number_text(round(long))}, "ink"),
        ],
    )
    return raw_svg(figure)


# ---------------------------------------------------------------- barres and discomfort


@dataclass(frozen=True)
class _BarreWeek:
    start: dt.date
    minutes: int
    ratings: tuple[int, ...]


def barre_and_discomfort(
    notes: Sequence[HandFacts],
    barres: Mapping[dt.date, int],
    today: dt.date,
    weeks: int = BARRE_WEEKS,
    week_start: int = 0,
    since: dt.date | None = None,
    uid: str = "barre",
) -> Chart:
    """Discomfort by day over the minutes on barres by week, on one time axis.

    notes: hand notes, oldest first; barres: seconds by day (`load.barre_seconds`); those outside the last `weeks` weeks
    are left out.  since: first day with the studio; weeks that ended before it are left out.
    """
    now = week_of(today, week_start)
    starts = [now - back * WEEK for back in range(weeks - 1, -1, -1)]
    starts = [start for start in starts if since is None or start + WEEK > since] or [now]
    seen = [note for note in notes if starts[0] <= note.day <= today]
    shown = [
        _BarreWeek(
            start,
            round(sum(barres.get(start + n * DAY, 0) for n in range(7) if start + n * DAY <= today) / 60),
            tuple(note.discomfort for note in seen if start <= note.day < start + WEEK),
        )
        for start in starts
    ]
    something = bool(seen) or any(week.minutes for week in shown)
    return Chart(
        uid=uid,
        title=_("Discomfort and minutes on barres"),
        sentence=_barre_sentence(seen, shown),
        columns=(_("Week of"), _("Hand notes"), _("Highest discomfort"), _("Minutes on barres")),
        rows=tuple(
            (
                day_text(week.start),
                number_text(len(week.ratings)),
                number_text(max(week.ratings)) if week.ratings else NONE,
                number_text(week.minutes),
            )
            for week in reversed(shown)
        ),
        numeric=frozenset({1, 2, 3}),
        hand=bool(seen),
        note=_(
            "Dots are hand notes. Barres are those by the index, over three strings or more. That two things fall"
            " together does not say that one causes the other."
        )
        + _of_words(note.in_words for note in seen)
        if something
        else "",
        raw=_draw_barre(seen, shown) if something else "",
    )


def _barre_sentence(seen: Sequence[HandFacts], shown: Sequence[_BarreWeek]) -> str:
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
        ) % {"count": len(felt), "worst": worst, "day": day_text(day)}
    if not any(week.minutes for week in shown):
        return first + " " + _("No minutes on barres were logged.")
    before = [week.minutes for week in shown[:-1]]
    if not before:
        return first + " " + _("%(n)d minutes on barres so far this week.") % {"n": shown[-1].minutes}
    most = max(shown[:-1], key=lambda week: week.minutes)
    return (
        first
        + " "
        + _("Barres took %(mean)d minutes a week on average; the most was %(most)d in the week of %(day)s.")
        % {"mean": round(statistics.fmean(before)), "most": most.minutes, "day": day_text(most.start)}
    )


def _draw_barre(seen: Sequence[HandFacts], shown: Sequence[_BarreWeek]) -> str:
    figure = new_figure(260)
    upper = panel(figure, 260, left=2, right=76, top=36, bottom=148)
    lower = panel(figure, 260, left=2, right=76, top=156, bottom=20)
    for axes in (upper, lower):
        axes.set_xlim(-0.5, len(shown) - 0.5)

    upper.set_ylim(0, 10)
    axis_title(upper, _("discomfort, 0 to 10"))
    line_across(upper, 0, "line", 1.0)
    for rating in (FROM_FOUR, 10):
        line_across(upper, rating, "hair", 1.0)
    labels_at_right(upper, [(float(rating), number_text(rating), "muted") for rating in (0, FROM_FOUR, 10)])
    if seen:
        # a day stands at its place in its week: the bar's middle is the fourth of the seven
        places = [(note.day - shown[0].start).days / 7 - 3 / 7 for note in seen]
        ratings = [note.discomfort for note in seen]
        upper.plot(places, ratings, "o", color=STAND_IN["ink"], markersize=6, markeredgewidth=0, **PLAIN)
        worst = max(ratings)
        if worst > 0:
            at = len(ratings) - 1 - ratings[::-1].index(worst)
            label = _("%(n)d on %(day)s") % {"n": worst, "day": day_text(seen[at].day)}
            write(upper, places[at], worst, label, "ink", side_of((places[at] + 0.5) / len(shown)), dy=7)

    minutes = [week.minutes for week in shown]
    now = len(shown) - 1
    lower.set_ylim(0, max(*minutes, 1))
    weeks_as_bars(lower, minutes, now)
    name_highest(lower, minutes, now)
    axis_title(lower, _("minutes a week on goals with a barre"))
    month_labels(lower, [week.start for week in shown])
    so_far = _("%(n)s so far") % {"n": number_text(minutes[now])}
    labels_at_right(lower, [(minutes[now], so_far, "accent")])
    return raw_svg(figure)
