"""The neck map: where on the student's own neck each chord's root lies, and how far that chord is.

A mark's form says the state, its place the root, its label the chord; a left-handed neck is mirrored, as the player
sees it. Frets are counted from the capo where there is one. Open strings stand beyond the nut.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from practice.chart_draw import WIDTH, Chart, Sheet, hairlines, new_figure, put, raw_svg
from practice.chart_svg import STAND_IN
from practice.display import state_mark
from practice.facts import GoalFacts, StudentFacts
from practice.goalwork import voicings_of
from practice.progress import DEVELOPING, INTRODUCED, REVIEW_DUE, SECURE, state, was_secure
from studio import theory

# best first: of two goals for one chord the better state is shown
ORDER = (SECURE, REVIEW_DUE, DEVELOPING, INTRODUCED)
LEAST_FRETS = 12
FRET_NUMBERS = (3, 5, 7, 9, 12, 15, 17, 19, 21, 24)
MOST_AT_ONE_PLACE = 3

_GAP = 27
_TOP = 26
_SIDE = 16  # string names
_OPEN = 26  # the space beyond the nut

_MARK: dict[str, dict[str, Any]] = {
    SECURE: {"marker": "o", "markerfacecolor": STAND_IN["good"], "markeredgecolor": STAND_IN["good"]},
    REVIEW_DUE: {"marker": "D", "markerfacecolor": STAND_IN["paper"], "markeredgecolor": STAND_IN["good"]},
    DEVELOPING: {
        "marker": "o",
        "fillstyle": "left",
        "markerfacecolor": STAND_IN["ink"],
        "markerfacecoloralt": STAND_IN["paper"],
        "markeredgecolor": STAND_IN["ink"],
    },
    INTRODUCED: {"marker": "o", "markerfacecolor": STAND_IN["paper"], "markeredgecolor": STAND_IN["ink"]},
}


@dataclass(frozen=True)
class Spot:
    """A chord on the neck. string: 1 the highest; fret: of the root, 0 for an open string; state: of ORDER."""

    title: str
    symbol: str
    string: int
    fret: int
    state: str


def spots(facts: StudentFacts, today: dt.date) -> tuple[Spot, ...]:
    """Every chord that is or was worked on, lowest root first: chord goals by their state, and of changes and goals set
    aside what was secure. A chord that the present instrument cannot have is left out.
    """
    found: dict[tuple[str, str, int], Spot] = {}
    for goal in facts.goals:
        code = _state_of(goal, today)
        if code is None:
            continue
        for voicing in voicings_of(goal.theory, facts.instrument):
            string = voicing.root_string
            fret = voicing.frets[-string]
            if fret is None:
                continue
            spot = Spot(voicing.title, voicing.symbol, string, fret, code)
            key = (voicing.shape, str(voicing.root), voicing.position)
            if key not in found or ORDER.index(code) < ORDER.index(found[key].state):
                found[key] = spot
    return tuple(sorted(found.values(), key=lambda spot: (-spot.string, spot.fret, spot.title)))


def _state_of(goal: GoalFacts, today: dt.date) -> str | None:
    if goal.kind == "chord" and not goal.set_aside:
        return state(goal, today).code
    if goal.kind in ("chord", "change") and was_secure(goal, today):
        return SECURE if goal.set_aside else state(goal, today).code
    return None


def neck_map(facts: StudentFacts, today: dt.date, uid: str = "neck") -> Chart:
    """The student's neck with each chord's root: introduced, developing, secure or waiting for review."""
    shown = spots(facts, today)
    neck = facts.instrument
    names = neck.open_notes
    where = {spot: _("string %(n)d, %(note)s") % {"n": spot.string, "note": names[-spot.string]} for spot in shown}
    return Chart(
        uid=uid,
        title=_("Chords on the neck"),
        sentence=_sentence(shown, facts.first_name),
        columns=(_("Chord"), _("Root on"), _("Fret"), _("State")),
        rows=tuple(
            (spot.title, where[spot], str(spot.fret) if spot.fret else _("open"), state_mark(spot.state).word)
            for spot in shown
        ),
        numeric=frozenset({2}),
        note=_note(neck) if shown else "",
        raw=_draw(shown, neck) if shown else "",
    )


def _note(neck: theory.Instrument) -> str:
    parts = [_("Each mark stands on the chord's root.")]
    if neck.capo:
        parts.append(_("Frets are counted from the capo at fret %(n)d.") % {"n": neck.capo})
    if neck.plays == "left":
        parts.append(_("Drawn for a left-handed player."))
    return " ".join(parts)


def _sentence(shown: Iterable[Spot], name: str) -> str:
    shown = list(shown)
    if not shown:
        return _("No chord has been set yet. The first chord goal puts the first mark on the neck.")
    counts = [(code, sum(spot.state == code for spot in shown)) for code in ORDER]
    told = ", ".join(f"{count} {state_mark(code).word}" for code, count in counts if count)
    first = ngettext("%(n)d chord on the neck: %(told)s.", "%(n)d chords on the neck: %(told)s.", len(shown))
    said = first % {"n": len(shown), "told": told}
    known = [spot for spot in shown if spot.state in (SECURE, REVIEW_DUE)]
    if known:
        highest = max(known, key=lambda spot: spot.fret)
        said += " " + _("The highest root that %(name)s has secure is %(title)s.") % {
            "name": name,
            "title": highest.title,
        }
    return said


def _draw(shown: Iterable[Spot], neck: theory.Instrument) -> str:
    shown = list(shown)
    strings = neck.strings
    frets = min(neck.last_fret, max(LEAST_FRETS, *(spot.fret for spot in shown)))
    height = _TOP + _GAP * (strings - 1) + 30 + 26
    figure = new_figure(height)
    sheet = Sheet(figure, height, mirrored=neck.plays == "left")
    nut = _SIDE + _OPEN
    space = (WIDTH - nut - 4) / frets
    bottom = _TOP + _GAP * (strings - 1)

    def x(fret: int) -> float:
        return nut + (fret - 0.5) * space if fret else nut - 13

    def y(string: int) -> float:
        return _TOP + _GAP * (string - 1)

    hairlines(sheet, [(nut, y(string), WIDTH - 4, y(string)) for string in range(1, strings + 1)], "line", 1.0)
    hairlines(sheet, [(nut + n * space, _TOP, nut + n * space, bottom) for n in range(1, frets + 1)], "hair", 1.0)
    hairlines(sheet, [(nut, _TOP - 1, nut, bottom + 1)], "ink", 3.0)
    for string, note in enumerate(reversed(neck.open_notes), start=1):
        put(sheet, 8, y(string) + 4, str(note), "muted", "center")
    for fret in (number for number in FRET_NUMBERS if number <= frets):
        put(sheet, x(fret), bottom + 20, str(fret), "muted", "center")
    _spots(sheet, shown, x, y, nut)
    _states_at_foot(sheet, shown, height, neck.plays == "left")
    return raw_svg(figure)


def _spots(sheet: Sheet, shown: list[Spot], x: Any, y: Any, nut: float) -> None:
    places: dict[tuple[int, int], list[Spot]] = {}
    for spot in shown:
        places.setdefault((spot.string, spot.fret), []).append(spot)
    marks: dict[str, list[tuple[float, float]]] = {}
    for (string, fret), here in places.items():
        here.sort(key=lambda spot: ORDER.index(spot.state))
        drawn = here[:MOST_AT_ONE_PLACE]
        step = 9 if len(drawn) > 2 else 11
        for number, spot in enumerate(drawn):
            away = step * (number - (len(drawn) - 1) / 2)
            marks.setdefault(spot.state, []).append((x(fret) + away, y(string)))
        names = list(dict.fromkeys(spot.symbol for spot in here))
        label = names[0] if len(names) == 1 else f"{names[0]} +{len(names) - 1}"
        if len(names) == 2 and len(" ".join(names)) <= 4:
            label = " ".join(names)
        clear = nut + 4 + 3.4 * len(label)  # of the nut
        put(sheet, max(x(fret), clear) if fret else x(fret), y(string) - 8, label, "ink", "center")
    for code, at in marks.items():
        _mark(sheet, at, code)


def _mark(sheet: Sheet, at: list[tuple[float, float]], code: str) -> None:
    size = 7 if code == REVIEW_DUE else 9
    sheet.plot(
        *zip(*at, strict=True), linestyle="none", markersize=size, markeredgewidth=1.5, **_MARK[code], clip_on=False
    )


def _states_at_foot(sheet: Sheet, shown: list[Spot], height: int, mirrored: bool) -> None:
    """Each mark that occurs beside its word, read from the left on either neck."""
    at = 10.0
    for code in (code for code in ORDER if any(spot.state == code for spot in shown)):
        word = state_mark(code).word
        _mark(sheet, [(WIDTH - at if mirrored else at, height - 10)], code)
        put(sheet, WIDTH - at - 9 if mirrored else at + 9, height - 6, word, "muted")
        at += 26 + 6.6 * len(word)
