"""What could come next for a student: chords, ranked, each with its reasons in words and the terms of its score.

Knows no Django. The catalogue of the theory core is placed on the student's own instrument; what remains after the
guards and the teaching order is valued and ranked.

Teaching order [C]: open chords and small forms; the open form without the index; the first barre as E-shape major
at fret 5 to 7, then lower, fret by fret, to 3, 2 and 1; E-shape minor and A-shape minor beside it; A-shape major;
sevenths once the plain chord of their family is there; C-, G- and D-shapes last. The first barre is never suggested
at fret 1 before one at fret 5 is secure. Guards: while a hand note is open or the rule book of hand care advises
anything, nothing heavier than what is secure and nothing with a barre, and nothing at all once it says pause; at
most two new chords in seven days, one under ten years or in the first six months [C].

The score is a plain sum of these terms, in points:

key     what the chord is worth in the student's best key: 3 as I, IV or V, 2 as ii or vi, 1 otherwise; and 2 more
        when I, IV and V are then all there. Halved when the chord can be had already with another grip.
step    2 for what the teaching order asks for now, 1 for what it allows beside it
grip    minus the part by which its grip demand passes the heaviest secure one, four points for double the demand
ease    minus a quarter point for each point of grip demand, so that of equals the lighter comes first
change  minus what the easiest change from a secure chord asks, half a point for each point of demand
care    minus half a point for each caution that setting it would raise

References
----------
[C] Common practice, no source. The weights are this project's own and are shown with every suggestion.
"""

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from practice import handcare
from practice.facts import StudentFacts
from practice.progress import secure_items
from practice.said import Said, said
from studio import theory

NEW_WITHIN = dt.timedelta(days=7)
NEW_IN_A_WEEK = 2
NEW_FOR_BEGINNERS = 1
BEGINNER_DAYS = 182
CHILD_UNDER = 10

# Degrees of a key by the letters of its numeral: what a chord on them is worth.
PRIMARY = ("I", "IV", "V")
SECONDARY = ("II", "VI")
# Keys that open chords reach, in the order they are taught [C]; used until a goal names one.
FIRST_KEYS = ("G", "C", "D", "A", "E", "A minor", "E minor")
KEYS_IN_HAND = 3
FIRST_OPEN = ("open-Em", "open-E", "open-Am", "open-A", "open-D", "open-C", "open-G", "open-Dm")
SHORTLIST = 24


@dataclass(frozen=True)
class Suggestion:
    """One chord to set next. goal: its terms; voicing: as placed on this instrument; target: clean strings;
    reasons: why, most telling first; terms: name -> points, adding up to `score`; cautions: what the goal page will
    say when it is set."""

    goal: theory.Goal
    voicing: theory.Voicing
    target: float
    reasons: tuple[Said, ...]
    terms: Mapping[str, float]
    cautions: tuple[theory.Finding, ...] = ()
    measure: str = "clean"

    @property
    def score(self) -> float:
        return sum(self.terms.values())

    @property
    def title(self) -> str:
        return self.voicing.title


@dataclass(frozen=True)
class Known:
    """What a student has: voicings that are secure, chords by (pitch class, quality), and the heaviest of them."""

    voicings: tuple[theory.Voicing, ...]
    chords: frozenset[tuple[int, str]]
    shapes: Mapping[str, frozenset[int]]
    heaviest: theory.Voicing | None
    shown: float

    def has(self, shape: str, positions: Iterable[int] = ()) -> bool:
        """Whether the shape is secure, at one of these positions if any are named."""
        wanted = frozenset(positions)
        return bool(self.shapes.get(shape, frozenset()) & wanted if wanted else self.shapes.get(shape))

    @property
    def first_barre(self) -> bool:
        """A full barre is secure at fret 5 to 7 (or higher)."""
        return any(voicing.has_barre and voicing.position >= 5 for voicing in self.voicings)

    @property
    def lowest_barre(self) -> int | None:
        return min((voicing.position for voicing in self.voicings if voicing.has_barre), default=None)

    @property
    def open_chords(self) -> int:
        return sum(theory.SHAPES[shape].kind == "open" for shape in self.shapes)


@dataclass(frozen=True)
class Step:
    """Where a candidate stands in the teaching order. points: 2 due now, 1 allowed beside; reason: in words."""

    points: float
    reason: Said


@dataclass(frozen=True)
class _Candidate:
    voicing: theory.Voicing
    step: Step
    terms: dict[str, float] = field(default_factory=dict)
    reasons: list[Said] = field(default_factory=list)


def next_chords(facts: StudentFacts, today: dt.date, count: int = 3) -> list[Suggestion]:
    """The best `count` chords to set next (fewer when the guards leave fewer), best first. See `word` for why none."""
    left = min(count, room(facts, today))
    if left <= 0:
        return []
    known = known_of(facts, today)
    allowed = [
        _Candidate(voicing, step)
        for voicing in catalogue(facts.instrument)
        if (step := step_of(voicing, known, facts)) is not None
    ]
    taken = {(chord.shape, theory.Note(chord.root).pitch_class) for chord in _named_chords(facts)}
    limit = hand_limit(facts, today, known)
    keys = keys_in_hand(facts, known)
    found = []
    for candidate in allowed:
        voicing = candidate.voicing
        demand = theory.grip_demand(voicing, facts.hand).total
        if (voicing.shape, voicing.root.pitch_class) in taken or known.has(voicing.shape, (voicing.position,)):
            continue
        if limit is not None and (demand > limit or voicing.has_barre):
            continue
        _value(candidate, demand, known, keys)
        found.append(candidate)
    found.sort(key=_rank)
    finished = [done for one in found[:SHORTLIST] if (done := _finish(one, facts, known, today)) is not None]
    finished.sort(key=lambda one: (-one.score, one.voicing.position, one.title))
    return _varied(finished, left)


def word(facts: StudentFacts, today: dt.date) -> Said | None:
    """Why nothing is suggested, or what is held back, in words; None when nothing is."""
    advice = handcare.advice(facts.notes, today)
    if advice.ask_person:
        return said("suggest-rest")
    if new_in_week(facts, today) >= most_new(facts, today):
        return said("suggest-enough-new", count=most_new(facts, today))
    if advice.level != handcare.NOTHING or handcare.open_notes(facts.notes):
        return said("suggest-light-only")
    return None


def most_new(facts: StudentFacts, today: dt.date) -> int:
    """How many new chords a week may bring."""
    young = facts.age is not None and facts.age < CHILD_UNDER
    beginner = (today - facts.joined).days < BEGINNER_DAYS
    return NEW_FOR_BEGINNERS if young or beginner else NEW_IN_A_WEEK


def new_in_week(facts: StudentFacts, today: dt.date) -> int:
    """Chord goals set in the last seven days and still active."""
    return sum(goal.kind == "chord" and today - goal.set_on < NEW_WITHIN for goal in facts.active_goals)


def room(facts: StudentFacts, today: dt.date) -> int:
    """How many suggestions the guards leave: none while the hand rests or the week has brought enough that is new.

    Otherwise all are shown to choose from; the teacher sets one or two.
    """
    if handcare.advice(facts.notes, today).ask_person or new_in_week(facts, today) >= most_new(facts, today):
        return 0
    return len(theory.SHAPES)


def hand_limit(facts: StudentFacts, today: dt.date, known: Known) -> float | None:
    """The grip demand that nothing may pass while a hand note is open; None when no hand complains."""
    if handcare.open_notes(facts.notes) or handcare.advice(facts.notes, today).level != handcare.NOTHING:
        free = [theory.grip_demand(v, facts.hand).total for v in known.voicings if not v.has_barre]
        return max(free, default=theory.grip_demand(_at_home("open-Em", facts.instrument), facts.hand).total)
    return None


# -- what is there already ------------------------------------------------------------------------------------------


def known_of(facts: StudentFacts, today: dt.date) -> Known:
    """What is secure, placed on the student's instrument; what this instrument cannot have is left out."""
    voicings = []
    for chord in secure_items(facts, today):
        try:
            voicings.append(chord.voicing(facts.instrument))
        except theory.TheoryError:
            continue
    shapes: dict[str, set[int]] = {}
    for voicing in voicings:
        shapes.setdefault(voicing.shape, set()).add(voicing.position)
    demands = [(theory.grip_demand(voicing, facts.hand).total, voicing) for voicing in voicings]
    shown, heaviest = max(demands, key=lambda pair: pair[0], default=(0.0, None))
    return Known(
        tuple(voicings),
        frozenset((voicing.root.pitch_class, voicing.quality) for voicing in voicings),
        {shape: frozenset(positions) for shape, positions in shapes.items()},
        heaviest,
        shown,
    )


def _named_chords(facts: StudentFacts) -> Iterable[theory.ChordTerm]:
    for goal in facts.active_goals:
        if goal.kind == "chord":
            yield from goal.theory.chords


def keys_in_hand(facts: StudentFacts, known: Known) -> tuple[theory.Key, ...]:
    """The keys that the student's goals name, active ones first; else the first keys that most known chords fit."""
    named: dict[str, None] = {}
    for goal in sorted(facts.goals, key=lambda goal: (goal.set_aside, -goal.set_on.toordinal())):
        if goal.theory.key:
            named[goal.theory.key] = None
    keys = []
    for text in named:
        try:
            keys.append(theory.Key.parse(text))
        except theory.TheoryError:
            continue
    if keys:
        return tuple(keys[:KEYS_IN_HAND])
    first = [theory.Key.parse(text) for text in FIRST_KEYS]
    first.sort(key=lambda key: -sum(_chord(one) in known.chords for one in key.triads))
    return tuple(first[:KEYS_IN_HAND])


def _chord(one: theory.KeyChord) -> tuple[int, str]:
    return one.root.pitch_class, one.quality


# -- candidates and the teaching order ------------------------------------------------------------------------------


@lru_cache(maxsize=64)
def catalogue(instrument: theory.Instrument) -> tuple[theory.Voicing, ...]:
    """Every shape at every root that this neck has in easy reach, at its lowest position, in the catalogue's order."""
    found = []
    for shape in theory.SHAPES.values():
        roots: Iterable[theory.Note | None] = (None,)
        if shape.kind == "movable":
            roots = [theory.common_root(pitch_class, shape.quality) for pitch_class in range(12)]
        for root in roots:
            try:
                voicing = theory.place(shape.id, root, instrument)
            except theory.TheoryError:
                continue
            if not voicing.past_joint:
                found.append(voicing)
    return tuple(found)


def _at_home(shape: str, instrument: theory.Instrument) -> theory.Voicing:
    try:
        return theory.place(shape, None, instrument)
    except theory.TheoryError:
        return theory.place(shape, None)


def step_of(voicing: theory.Voicing, known: Known, facts: StudentFacts) -> Step | None:
    """Where a voicing stands in the teaching order for what is known, or None when it is not its turn yet."""
    shape = theory.SHAPES[voicing.shape]
    if shape.variant and shape.id != "A-major-partial":
        return None
    if shape.kind == "small":
        small = facts.hand.size == "small" or (facts.age is not None and facts.age < 13)
        return Step(2 if known.open_chords < 3 else 1, said("suggest-small-form")) if small else None
    if shape.kind == "open":
        return _open_step(shape, known)
    if shape.family in ("E", "A"):
        return _barre_step(voicing, shape, known)
    if known.has("E-major") and known.has("A-minor") and known.lowest_barre is not None and known.lowest_barre <= 3:
        return Step(1, said("suggest-last-shapes", family=shape.family))
    return None


def _open_step(shape: theory.Shape, known: Known) -> Step | None:
    if shape.id in FIRST_OPEN:
        return Step(2 if known.open_chords < len(FIRST_OPEN) else 1, said("suggest-open-chord"))
    if shape.quality == "7" and known.open_chords >= 3:
        return Step(1, said("suggest-open-seventh"))
    return None


def _barre_step(voicing: theory.Voicing, shape: theory.Shape, known: Known) -> Step | None:
    position = voicing.position
    if not known.first_barre:
        # the first barre of all: E-shape major at 5 to 7, once open E and a few others are at home
        if shape.id == "E-major" and 5 <= position <= 7 and known.open_chords >= 3:
            return Step(2, said("suggest-first-barre", position=position))
        return None
    lowest = known.lowest_barre or 5
    if position < lowest - 2 or (position == 1 and lowest > 3):
        return None
    plain = {"E": ("E-major", "E-minor"), "A": ("A-major", "A-major-partial", "A-minor")}[shape.family]
    if shape.id == "E-major":
        if position < lowest:
            return Step(2, said("suggest-lower-fret", position=position, lowest=lowest))
        return Step(1, said("suggest-same-shape", position=position))
    if shape.id in ("E-minor", "A-minor"):
        if known.has(shape.id):
            return Step(1, said("suggest-same-shape", position=position))
        return Step(2, said("suggest-beside", shape=shape.name))
    if shape.id in plain:
        if known.has("A-minor") or known.has("E-minor"):
            return Step(2 if not known.has(shape.id) else 1, said("suggest-a-major"))
        return None
    if any(known.has(one) for one in plain):
        return Step(1, said("suggest-seventh", family=shape.family))
    return None


# -- value ----------------------------------------------------------------------------------------------------------


def _value(candidate: _Candidate, demand: float, known: Known, keys: tuple[theory.Key, ...]) -> None:
    voicing = candidate.voicing
    points, reason = _key_points(voicing, known, keys)
    candidate.terms["key"] = points
    candidate.terms["step"] = candidate.step.points
    candidate.terms["grip"] = -4 * max(0.0, demand / known.shown - 1) if known.shown else 0.0
    candidate.terms["ease"] = -demand / 4
    if reason is not None:
        candidate.reasons.append(reason)
    candidate.reasons.append(candidate.step.reason)
    if known.heaviest is not None and known.shown:
        percent = round(100 * (demand / known.shown - 1))
        code = "suggest-grip-more" if percent > 0 else "suggest-grip-less"
        candidate.reasons.append(said(code, percent=abs(percent), title=known.heaviest.title))


def _key_points(
    voicing: theory.Voicing, known: Known, keys: tuple[theory.Key, ...]
) -> tuple[float, Said | None]:
    """What the chord is worth in the best of the keys, with the reason."""
    mine = (voicing.root.pitch_class, voicing.quality)
    best: tuple[float, Said | None] = (0.0, None)
    for key in keys:
        chord = next((one for one in key.own_chords() if _chord(one) == mine), None)
        if chord is None:
            continue
        degree = chord.numeral.rstrip("dim7+").upper()
        points = 3.0 if degree in PRIMARY else 2.0 if degree in SECONDARY else 1.0
        primary = {_chord(one) for one in key.triads if one.numeral.rstrip("dim+").upper() in PRIMARY}
        have = len(known.chords & {_chord(one) for one in key.triads})
        values = {"chord": voicing.symbol, "numeral": chord.numeral, "key": str(key)}
        if mine in known.chords:
            points, reason = points / 2, said("suggest-key-again", **values)
        elif primary - known.chords == {mine}:
            points, reason = points + 2, said("suggest-key-complete", **values)
        else:
            reason = said("suggest-key", **values, have=have, of=len(key.triads))
        if points > best[0]:
            best = points, reason
    return best


def _rank(candidate: _Candidate) -> tuple[float, int, str]:
    return -sum(candidate.terms.values()), candidate.voicing.position, candidate.voicing.title


def _finish(candidate: _Candidate, facts: StudentFacts, known: Known, today: dt.date) -> Suggestion | None:
    """Adds what is dear to compute (changes, findings); None when the goal could not be set."""
    voicing = candidate.voicing
    changes = [(theory.change_demand(one, voicing, facts.hand).total, one) for one in known.voicings]
    reasons = list(candidate.reasons)
    easiest = min(changes, key=lambda pair: pair[0], default=None)
    if easiest is not None:
        candidate.terms["change"] = -easiest[0] / 2
        reasons.append(
            said("suggest-change", title=easiest[1].title, mm=round(theory.hand_travel_mm(easiest[1], voicing)))
        )
    position = voicing.position if theory.SHAPES[voicing.shape].kind == "movable" else None
    goal = theory.Goal("chord", (theory.ChordTerm(voicing.shape, str(voicing.root), position),))
    context = theory.Context(
        new_to_barres=known.lowest_barre is None,
        active_goals=tuple(one.theory for one in facts.active_goals),
    )
    findings = theory.validate(goal, facts.instrument, facts.hand, context)
    if any(finding.is_error for finding in findings):
        return None
    candidate.terms["care"] = -len(findings) / 2
    return Suggestion(
        goal=goal,
        voicing=voicing,
        target=float(voicing.strings_sounding),
        reasons=tuple(reasons),
        terms=dict(candidate.terms),
        cautions=tuple(findings),
    )


def _varied(ranked: list[Suggestion], count: int) -> list[Suggestion]:
    """The best `count`, of one chord (or one shape at neighbouring frets) only the best."""
    chosen: list[Suggestion] = []
    for one in ranked:
        same_chord = any(_names_same(other.voicing, one.voicing) for other in chosen)
        same_shape = sum(other.voicing.shape == one.voicing.shape for other in chosen)
        if not same_chord and same_shape < 2:
            chosen.append(one)
        if len(chosen) == count:
            break
    return chosen


def _names_same(one: theory.Voicing, other: theory.Voicing) -> bool:
    return (one.root.pitch_class, one.quality) == (other.root.pitch_class, other.quality)
