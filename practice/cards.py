"""A goal as it stands on a page: its voicings, how to find the fret, its last first try, its target and its minutes.

Pure: goals come in as `GoalFacts`; what is drawn or derived is computed here, each time, by the theory core.
"""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from practice.facts import GoalFacts, Mark
from practice.goal_voicings import lays_flat, voicings_of
from practice.progress import last_tries
from studio import theory

# Minutes of barre in one stretch, then a goal without one; and of the warm-up [common practice, no source].
BARRE_STRETCH = 5
WARM_UP = 5
OCTAVE = 12  # frets
# Shorter turns at a goal are not set: with less time, the last goals of the order wait [derived].
SHORTEST_TURN = 2


@dataclass(frozen=True)
class Find:
    """Where a movable voicing lies. walk: how to count up the root string to the root, or None where the count ends
    elsewhere; octave: it ends twelve frets lower, so that as many are added."""

    voicing: theory.Voicing
    walk: theory.Walk | None
    octave: bool = False

    @property
    def fret(self) -> int:
        """The fret to put the index finger on."""
        return self.voicing.position

    @property
    def root_fret(self) -> int:
        """The fret of the root on its string."""
        return self.voicing.frets[-self.voicing.root_string] or 0

    @property
    def string(self) -> str:
        """How the string of the walk is called."""
        return theory.STRING[self.walk.string] if self.walk else ""


@dataclass(frozen=True)
class GoalCard:
    """goal: the facts; voicings: what to hold, in order; trouble: why a voicing cannot be shown on this
    instrument (after a change of instrument), or ""; finds: where each movable one lies; last: the last day's try;
    first_today: the value of today's first try, if there is one; lays_flat: it rests while a hand rests from barres. In
    an order (`in_order`) also minutes: of the plan,
    0 for "if there is time"; rest_first: a barre stands right before this one."""

    goal: GoalFacts
    voicings: tuple[theory.Voicing, ...] = ()
    trouble: str = ""
    finds: tuple[Find, ...] = ()
    last: Mark | None = None
    first_today: float | None = None
    minutes: int = 0
    rest_first: bool = False
    lays_flat: bool = False

    @property
    def has_barre(self) -> bool:
        return any(voicing.has_barre for voicing in self.voicings)


def find(voicing: theory.Voicing) -> Find | None:
    """Where a movable voicing lies, None for one at the nut."""
    if theory.SHAPES[voicing.shape].kind != "movable" or not voicing.position:
        return None
    counted = theory.count_up(voicing.root_string, voicing.root, voicing.instrument)
    above = (voicing.frets[-voicing.root_string] or 0) - counted.fret  # asked for an octave up
    return Find(voicing, counted if above in (0, OCTAVE) else None, octave=above == OCTAVE)


def card(goal: GoalFacts, instrument: theory.Instrument, hand: theory.Hand, today: dt.date | None = None) -> GoalCard:
    """The card of one goal on this instrument. Never raises: what cannot be placed is said in words."""
    last = next(iter(last_tries(goal, count=1)), None)
    first = last.value if last is not None and last.day == today and goal.measure.first_try else None
    flat = lays_flat(goal.theory, instrument, hand)
    try:
        voicings = voicings_of(goal.theory, instrument, hand)
    except theory.TheoryError as error:
        return GoalCard(goal, trouble=str(error), last=last, first_today=first, lays_flat=flat)
    # a progression comes back to the same place
    found = {voicing.frets: find(voicing) for voicing in voicings}
    finds = tuple(one for one in found.values() if one is not None)
    return GoalCard(goal, voicings, finds=finds, last=last, first_today=first, lays_flat=flat)


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


@dataclass(frozen=True)
class Order:
    """cards: in the order to practise them, each with its minutes; left: minutes of the plan that no goal takes,
    because each has as much barre as is good in one stretch."""

    cards: tuple[GoalCard, ...]
    left: int = 0

    @property
    def barres(self) -> bool:
        return any(card.has_barre for card in self.cards)

    @property
    def rests(self) -> bool:
        """Whether two barres meet, for want of goals without one."""
        return any(card.rest_first for card in self.cards)


def in_order(cards: Sequence[GoalCard], plan: int) -> Order:
    """The plan's minutes laid over cards in their order: each gets at least two, a goal with a barre at most five in
    its one stretch, and so does the warm-up where another goal can take the rest; with too little time for all, the
    last get none. plan: minutes a day, 0 or more. The minutes and `left` add up to the plan.
    """
    turns = min(len(cards), max(1, plan // SHORTEST_TURN))
    free = [index for index in range(turns) if not cards[index].has_barre]
    warm_up = 0 if 0 in free and len(free) > 1 else None
    most = [
        BARRE_STRETCH if card.has_barre else WARM_UP if index == warm_up else plan
        for index, card in enumerate(cards[:turns])
    ]
    minutes = [0] * len(cards)
    left = plan
    while left and (open_ := [index for index in range(turns) if minutes[index] < most[index]]):
        for index in open_[:left]:
            minutes[index] += 1
        left -= len(open_[:left])
    return Order(
        tuple(
            replace(
                card,
                minutes=minutes[index],
                rest_first=index > 0 and card.has_barre and cards[index - 1].has_barre,
            )
            for index, card in enumerate(cards)
        ),
        left if cards else 0,
    )
