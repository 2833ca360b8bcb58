"""What a goal asks to be held on a student's instrument, and whether that lies heavy on a hand: asked here and nowhere
else, so that no two pages disagree.
"""

from collections.abc import Callable

from practice.facts import StudentFacts
from practice.handday import HandDay
from studio import theory

# Roots at which a shape is tried where a goal names none.
NATURALS = "CDEFGAB"


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


def has_barre(goal: theory.Goal, instrument: theory.Instrument, hand: theory.Hand) -> bool:
    """Whether anything that the goal asks to be held has a barre: the index over three strings or more."""
    return _any(goal, instrument, hand, lambda voicing: voicing.has_barre)


def lays_flat(goal: theory.Goal, instrument: theory.Instrument, hand: theory.Hand) -> bool:
    """Whether anything that the goal asks to be held lays a finger, whichever, flat over three strings or more: what
    rests while a hand asks for rest from barres."""
    return _any(goal, instrument, hand, lambda voicing: voicing.lays_flat)


def rests(goal: theory.Goal, facts: StudentFacts, hand: HandDay) -> bool:
    """Whether the hand lets a student's goal rest on that day."""
    return hand.stop or (hand.no_barre and lays_flat(goal, facts.instrument, facts.hand))


def _any(
    goal: theory.Goal, instrument: theory.Instrument, hand: theory.Hand, ask: Callable[[theory.Voicing], bool]
) -> bool:
    """Of a goal that cannot be placed whole, each chord that can be placed is asked, and of a progression without a way
    each of its shapes; what cannot be placed has none."""
    try:
        return any(ask(voicing) for voicing in voicings_of(goal, instrument, hand))
    except theory.TheoryError:
        chords = goal.chords or [theory.ChordTerm(shape, root) for shape in goal.shapes for root in NATURALS]
        return any(_alone(chord, goal, instrument, ask) for chord in chords)


def _alone(
    chord: theory.ChordTerm, goal: theory.Goal, instrument: theory.Instrument, ask: Callable[[theory.Voicing], bool]
) -> bool:
    try:
        return ask(chord.voicing(goal.on(instrument)))
    except theory.TheoryError:
        return False
