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
    instrument (after a change of instrument), or ""; walk: how to count up the root string to the root, for a
    movable chord; last: the newest measurement."""

    goal: GoalFacts
    voicings: tuple[theory.Voicing, ...] = ()
    trouble: str = ""
    walk: theory.Walk | None = None
    last: Mark | None = None

    @property
    def root_string(self) -> str:
        """How the string of the walk is called."""
        return theory.STRING[self.walk.string] if self.walk else ""

    @property
    def has_barre(self) -> bool:
        return any(voicing.has_barre for voicing in self.voicings)


def voicings_of(goal: theory.Goal, instrument: theory.Instrument) -> tuple[theory.Voicing, ...]:
    """What a goal asks to be held, in order: one voicing for a chord, two for a change, none for the other kinds.

    Raises TheoryError when this instrument has no such place.
    """
    return tuple(chord.voicing(goal.on(instrument)) for chord in goal.chords)


def card(goal: GoalFacts, instrument: theory.Instrument) -> GoalCard:
    """The card of one goal on this instrument. Never raises: what cannot be placed is said in words."""
    own = goal.own_marks
    last = own[-1] if own else None
    try:
        voicings = voicings_of(goal.theory, instrument)
    except theory.TheoryError as error:
        return GoalCard(goal, trouble=str(error), last=last)
    walk = None
    if goal.kind == "chord" and voicings and voicings[0].position:
        held = voicings[0]
        walk = theory.count_up(held.root_string, held.root, held.instrument)
    return GoalCard(goal, voicings, walk=walk, last=last)


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
