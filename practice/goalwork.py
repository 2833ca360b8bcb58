"""What follows from a goal's terms for the teacher's taps: targets, the next root, the partner of a change.

Conventions: strings are numbered 6 (lowest) to 1; frets are counted from the nut or the capo; targets and values
are in the unit of their measure (practice.measures). Nothing here reads the clock or the database.
"""

import datetime as dt
from collections.abc import Collection, Iterable

from practice.measures import MEASURES, MEASURES_OF_KIND, Measure
from studio import theory

# How far one tap raises a target (common practice, no source): a count by one, a tempo or a rate by what is
# noticed but not a jump, a time for twelve roots by five seconds.
STEPS: dict[str, float] = {
    "clean": 1,
    "landings": 1,
    "changes": 4,
    "tempo": 4,
    "seconds": 5,
    "right": 2,
    "runs": 1,
    "mark": 1,
    "minutes": 10,
}

# Frets after which the notes of a string come again.
OCTAVE = 12

# Without a weekly slot a goal is due in a week.
DAYS_WITHOUT_SLOT = 7


def due_after(day: dt.date, next_lesson: dt.date | None) -> dt.date:
    """The day on which a goal set or kept on `day` is due: the next lesson, else a week later."""
    return next_lesson or day + dt.timedelta(days=DAYS_WITHOUT_SLOT)


# -- voicings and what is counted on them -------------------------------------------------------------------------


def voicings_of(goal: theory.Goal, instrument: theory.Instrument) -> list[theory.Voicing]:
    """The voicings of a goal's chords on this instrument, in order; chords that it cannot have are left out."""
    found = []
    for term in goal.chords:
        try:
            found.append(term.voicing(goal.on(instrument)))
        except theory.TheoryError:
            continue
    return found


def first_voicing(goal: theory.Goal, instrument: theory.Instrument) -> theory.Voicing | None:
    """The voicing to draw beside a goal: its only or first chord, or None where it has none."""
    return next(iter(voicings_of(goal, instrument)), None)


def clean_count(voicing: theory.Voicing, failed: Collection[int]) -> int:
    """Clean strings of a try: the strings that the voicing sounds, less one for each fault, and never below 0.

    failed: string numbers, 1 the highest, of strings that did not ring and of strings marked x that did: both are
    faults.
    """
    return max(0, voicing.strings_sounding - len(set(failed)))


def most_of(goal: theory.Goal, measure: Measure, instrument: theory.Instrument) -> float:
    """The best value that the measure can have for this goal: the strings that sound, or the measure's end."""
    if measure.code == "clean":
        voicing = first_voicing(goal, instrument)
        return voicing.strings_sounding if voicing else measure.usual
    return measure.lowest if measure.fewer_is_better else measure.highest


def offered_measure(kind: str) -> Measure:
    """The measure that a new goal of this kind starts from."""
    return MEASURES[MEASURES_OF_KIND[kind][0]]


def offered_target(goal: theory.Goal | None, measure: Measure, instrument: theory.Instrument) -> float:
    """The target that a new goal starts from: every string that sounds, else the measure's usual one."""
    if measure.code == "clean" and goal is not None:
        return most_of(goal, measure, instrument)
    return measure.usual


def raised(measure: Measure, target: float, most: float) -> float | None:
    """The target one step further, at most `most`; None when it stands there already."""
    step = STEPS[measure.code]
    if measure.fewer_is_better:
        return max(most, target - step) if target > most else None
    return min(most, target + step) if target < most else None


# -- the same shape at the next root -------------------------------------------------------------------------------


def next_root(
    goal: theory.Goal, instrument: theory.Instrument, taken: Iterable[theory.Goal] = ()
) -> theory.Goal | None:
    """The same shape at the next root, as a goal; None for other kinds, for open chords and when nothing is left.

    Up the root string from where the chord lies now, the next natural note; in a key, the next root whose chord
    the key owns. It lies at fret 12 or below (there the neck repeats itself) and before the body joint; past them the
    search begins again at the lowest fret. Roots that are among `taken` already with this shape are passed over.
    (Common practice, no source: naturals first.)
    """
    if goal.kind != "chord" or not goal.chords:
        return None
    term = goal.chords[0]
    shape = theory.SHAPES.get(term.shape)
    here = first_voicing(goal, instrument)
    if shape is None or shape.moved_form is None or here is None:
        return None
    neck = goal.on(instrument)
    key = theory.Key.parse(goal.key) if goal.key else None
    have = {
        theory.Note(other.chords[0].root).pitch_class
        for other in taken
        if other.kind == "chord" and other.chords and other.chords[0].shape == term.shape
    }
    for steps in range(1, 12):
        pitch_class = (here.root.pitch_class + steps) % 12
        if pitch_class in have:
            continue
        if key is not None:
            root = key.spell_root(pitch_class, here.quality)
            if not key.contains(root, here.quality):
                continue
        else:
            root = theory.common_note(pitch_class)
            if not root.is_natural:
                continue
        for position in (here.position + steps, None):
            try:
                there = theory.place(term.shape, str(root), neck, position=position)
            except theory.TheoryError:
                continue
            if there.position <= OCTAVE and not there.past_joint:
                return theory.Goal(
                    kind="chord",
                    chords=(theory.ChordTerm(term.shape, str(root), there.position),),
                    key=goal.key,
                    own_chords_only=goal.own_chords_only,
                    capo=goal.capo,
                )
    return None


# -- into a change -------------------------------------------------------------------------------------------------


def keys_shared(one: theory.Voicing, other: theory.Voicing) -> int:
    """How many of the twelve major keys own both chords: how often tunes will ask for this change."""
    return sum(
        key.contains(one.root, one.quality) and key.contains(other.root, other.quality)
        for key in (theory.Key(name) for name in ("C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F"))
    )


def partner(
    goal: theory.Goal, others: Iterable[theory.Goal], instrument: theory.Instrument
) -> theory.ChordTerm | None:
    """The chord to change to: of the other chord goals, the one with which this one shares the most major keys.

    others: the student's other goals, oldest first; of equals the newest wins. A chord of the same name is no
    partner. None when there is nothing to change to.
    """
    here = first_voicing(goal, instrument)
    if here is None:
        return None
    best: tuple[int, theory.ChordTerm] | None = None
    for other in others:
        if other.kind != "chord" or not other.chords:
            continue
        there = first_voicing(other, instrument)
        if there is None or there.symbol == here.symbol:
            continue
        score = keys_shared(here, there)
        if best is None or score >= best[0]:
            best = score, other.chords[0]
    return best[1] if best else None


def into_change(
    goal: theory.Goal, others: Iterable[theory.Goal], instrument: theory.Instrument
) -> theory.Goal | None:
    """A change from this chord to its `partner`; None for a goal that is no chord or has no partner."""
    if goal.kind != "chord":
        return None
    other = partner(goal, others, instrument)
    if other is None:
        return None
    return theory.Goal(kind="change", chords=(goal.chords[0], other), key=goal.key, capo=goal.capo)
