"""A goal as it stands on a page: its voicings, how to find the fret, its last first try and its target.

Pure: goals come in as `GoalFacts`; what is drawn or derived is computed here, each time, by the theory core.
"""

import datetime as dt
from dataclasses import dataclass

from practice.facts import GoalFacts, Mark
from practice.progress import last_tries
from studio import theory


@dataclass(frozen=True)
class GoalCard:
    """goal: the facts; voicings: what to hold, in order; trouble: why a voicing cannot be shown on this
    instrument (after a change of instrument), or ""; walk: how to count up the root string to the root, for a
    movable chord; last: the last day's try."""

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
    def index_fret(self) -> int | None:
        """The fret to put the index finger on."""
        return self.voicings[0].position if self.voicings else None

    @property
    def has_barre(self) -> bool:
        return any(voicing.has_barre for voicing in self.voicings)


def voicings_of(
    goal: theory.Goal, instrument: theory.Instrument, hand: theory.Hand
) -> tuple[theory.Voicing, ...]:
    """What a goal asks to be held, in order: one voicing for a chord, two for a change, the way along the neck with
    the least travel for a progression, none for roots, pieces and exercises.

    Raises TheoryError when this instrument has no such place.
    """
    guitar = goal.on(instrument)
    if goal.kind == "progression" and goal.numerals:
        ways = theory.arrange(goal.numerals, goal.key, goal.shapes or None, guitar, hand, goal.window, count=1)
        return ways[0].voicings
    return tuple(chord.voicing(guitar) for chord in goal.chords)


def asks_barre(goal: theory.Goal, instrument: theory.Instrument, hand: theory.Hand) -> bool:
    """Whether anything that the goal asks to be held has a barre. What cannot be placed has none."""
    try:
        return any(voicing.has_barre for voicing in voicings_of(goal, instrument, hand))
    except theory.TheoryError:
        return False


def card(goal: GoalFacts, instrument: theory.Instrument, hand: theory.Hand) -> GoalCard:
    """The card of one goal on this instrument. Never raises: what cannot be placed is said in words."""
    last = next(iter(last_tries(goal, count=1)), None)
    try:
        voicings = voicings_of(goal.theory, instrument, hand)
    except theory.TheoryError as error:
        return GoalCard(goal, trouble=str(error), last=last)
    walk = None
    held = voicings[0] if goal.kind == "chord" and voicings else None
    if held is not None and theory.SHAPES[held.shape].kind == "movable" and held.position:
        counted = theory.count_up(held.root_string, held.root, held.instrument)
        # a voicing asked for an octave up is not where the count ends
        walk = counted if counted.fret == held.frets[-held.root_string] else None
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
