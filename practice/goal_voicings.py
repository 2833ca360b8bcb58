"""What a goal asks to be held on a student's instrument, and whether that lies heavy on a hand: asked here and nowhere
else, so that no two pages disagree.
"""

from collections.abc import Callable

from studio import theory


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


def _any(
    goal: theory.Goal, instrument: theory.Instrument, hand: theory.Hand, ask: Callable[[theory.Voicing], bool]
) -> bool:
    """Of a goal that cannot be placed whole, each chord that can be placed is asked; what cannot has none."""
    try:
        return any(ask(voicing) for voicing in voicings_of(goal, instrument, hand))
    except theory.TheoryError:
        return any(_alone(chord, goal.on(instrument), ask) for chord in goal.chords)


def _alone(chord: theory.ChordTerm, guitar: theory.Instrument, ask: Callable[[theory.Voicing], bool]) -> bool:
    try:
        return ask(chord.voicing(guitar))
    except theory.TheoryError:
        return False
