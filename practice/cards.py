"""A goal as it stands on a page: its voicings, how to find the fret, its last first try and its target.

Pure: goals come in as `GoalFacts`; what is drawn or derived is computed here, each time, by the theory core.
"""

import datetime as dt
from dataclasses import dataclass

from practice.facts import GoalFacts, Mark
from studio import theory


@dataclass(frozen=True)
class GoalCard:
    """goal: the facts; voicings: what to hold, in order; trouble: why a voicing cannot be shown on this
    instrument (after a change of instrument), or ""; count_up: the walk along the root string, or ""; last: the
    newest measurement."""

    goal: GoalFacts
    voicings: tuple[theory.Voicing, ...] = ()
    trouble: str = ""
    count_up: str = ""
    last: Mark | None = None

    @property
    def has_barre(self) -> bool:
        return any(voicing.has_barre for voicing in self.voicings)


def voicings_of(goal: theory.Goal, instrument: theory.Instrument) -> tuple[theory.Voicing, ...]:
    """What a goal asks to be held, in order: one for a chord, two for a change, the arranged route of a
    progression; none for roots, pieces and exercises. Raises TheoryError when this instrument has no such place."""
    if goal.capo and goal.capo != instrument.capo:
        instrument = instrument.with_(capo=goal.capo)
    return goal.voicings(instrument)


def card(goal: GoalFacts, instrument: theory.Instrument) -> GoalCard:
    """The card of one goal on this instrument. Never raises: what cannot be placed is said in words."""
    own = goal.own_marks
    last = own[-1] if own else None
    try:
        voicings = voicings_of(goal.theory, instrument)
    except theory.TheoryError as error:
        return GoalCard(goal, trouble=str(error), last=last)
    count_up = ""
    if goal.kind == "chord" and voicings and voicings[0].position:
        count_up = theory.count_up(voicings[0])
    return GoalCard(goal, voicings, count_up=count_up, last=last)


def suggested_order(cards: list[GoalCard], today: dt.date) -> list[GoalCard]:
    """An order to practise in: a short warm-up without a barre first, then what is furthest from its target while
    the hand is fresh, barres and the rest in turn [common practice, no source]."""

    def distance(card: GoalCard) -> float:
        if card.last is None:
            return 1.0
        goal = card.goal
        if goal.measure.meets(card.last.value, goal.target):
            return 0.0
        top = max(goal.target, card.last.value, 1.0)
        return abs(goal.target - card.last.value) / top

    barred = sorted((c for c in cards if c.has_barre), key=distance, reverse=True)
    free = sorted((c for c in cards if not c.has_barre), key=distance)
    if not barred or not free:
        return free[:1] + sorted(free[1:], key=distance, reverse=True) + barred
    ordered, free = [free[0]], sorted(free[1:], key=distance, reverse=True)
    while barred or free:
        ordered += barred[:1] + free[:1]
        barred, free = barred[1:], free[1:]
    return ordered
