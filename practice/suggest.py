"""What could come next for one student: three things, ranked, with their reasons and the terms of their scores.

Candidates are the shapes of the teaching order below, at the roots that the student's keys ask for, on the student's
own instrument. What the guards and the order leave is scored; the score is a plain sum of named terms.

The teaching order (`RUNGS`) [C]: open chords; the open form without the index; a small form; E-shape major at fret 5
to 7, then at 3, 2 and 1; A-shape minor and E-shape minor beside it; A-shape major; sevenths later; then the rest. A
rung opens when what it stands on is secure; a shape that is secure is open at other roots. Any other shape of the
catalogue comes in where a progression asks for its chord, or a song lacks nothing else and no shape of the order gives
it. A teacher's own order of the steps (`STEPS`) replaces this one: a step then opens when something of the step before
it is known; groundwork (the form without the index, small forms) holds nobody up. No barre breaks these rules, in
either order:

- none below fret 5 until one at fret 5 or higher is secure; then down to 3, to 2, to 1, each after the one before (and
  never lower than what is held already where somebody began low);
- none for a child under ten, who gets small forms before the full open chord.

Where a barre is being worked on before any is secure, what leads up to it counts as asked for: its open form without
the index, its shape at fret 5 to 7, its small form.

Songs come in as plain values (practice.songbook.SongFacts): chords that they lack are asked for as roots, and a
candidate is worth the songs that it completes, those that it brings nearer, and its place in `learning_order` over all
candidates whose turn it is.

What is taken as known: what is secure (or waits for its review). The log does not hold what was learnt before, so
whoever has a goal with a movable shape is taken to have the open chords as well, who works on a form without the
index has its usual form, and a progression that was measured counts for its own chords. Not suggested again: what is
active, what is secure, a shape that is being worked on at another root, and for four weeks what was set aside or
declined.

The guards (`word` says which holds): at a sign nothing but rest; at a pause roots to find, which press nothing hard;
in the last week before a performance nothing (practice.stage); at an open hand note, "ease off" or an open stepwise
return no barre and nothing heavier than what is known without one; not more than two new chords in seven days, one for
a child under ten and in the first six months [C].

The terms, in points:

key     4 for a chord that an active progression asks for; 3 for one that leads up to a barre being worked on; else 1
        to 3 for one that a key in hand owns, more the fuller the key, 1 for its V7; half of that in the key that known
        chords fill best, where no goal names one
step    4 on the next rung of the teaching order, 0.75 less for each rung beyond; for a shape that is secure at
        another root 2, or for the next step down with a barre 4.5 (3 while E-shape major is not secure, but not in
        a teacher's own order); for a review 2.5; 1 less above fret 7
songs   a half for each song that becomes ready, at most 2; a tenth for each that comes nearer, for each chord it still
        lacks then halved, at most 1; and 1.5, 1 or a half for the first three places in `learning_order`
ease    minus a quarter of the grip demand
grip    minus half of what the grip demand goes beyond the heaviest that is secure
change  minus a tenth of what the easiest change from a known chord asks
care    minus 0.5 for each caution that setting it would raise

Two functions that stand alone, `learning_order` and `song_level`, are written in practice.songs_core.

References
----------
[C] Common practice, no source. The weights are this project's own and are shown with every suggestion.
"""

import datetime as dt
import math
from collections.abc import Collection, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from practice.facts import GoalFacts, StudentFacts
from practice.goal_voicings import lays_flat
from practice.handcare import open_notes
from practice.handday import hand_day
from practice.handrows import PAUSE, SEE_SOMEONE
from practice.progress import REVIEW_DUE, state, was_secure
from practice.said import Said, said
from practice.songbook import Known, SongFacts, lacking, pair_of
from practice.songs_core import learning_order, song_level
from practice.stage import final_week
from studio import theory

__all__ = [
    "RUNGS",
    "STEPS",
    "Refusal",
    "Suggestion",
    "in_hand",
    "in_turn",
    "learning_order",
    "next_chords",
    "refused",
    "song_level",
    "steps_of",
    "word",
]

NEW_A_WEEK = 2
NEW_A_WEEK_AT_FIRST = 1
FIRST_DAYS = 183
CHILD_UNDER = 10

FIRST_BARRE = (5, 7)
# Higher up the body comes near, and the ear has nothing to compare with yet.
HIGHEST = 10
SET_ASIDE_FOR = dt.timedelta(weeks=4)
LOOK_AHEAD = 6  # chords for which the order that opens the song book is worked out

OPEN_TRIADS = ("open-Em", "open-A", "open-D", "open-G", "open-E", "open-Am", "open-C", "open-Dm")
OPEN_SEVENTHS = ("open-A7", "open-E7", "open-D7", "open-G7", "open-B7", "open-C7")
# movable shape -> its open form without the index
NO_INDEX = {
    "E-major": "open-E-no-index",
    "E-minor": "open-Em-no-index",
    "A-major": "open-A-no-index",
    "A-minor": "open-Am-no-index",
}
SMALL = ("small-G", "small-C", "small-D", "small-G7")
# the full open chords of those forms: later for whoever plays small forms
FULL = ("open-G", "open-C", "open-D", "open-G7")
SMALL_BARRE = ("small-F", "small-Bm")
MINORS = ("A-minor", "E-minor")
A_MAJORS = ("A-major-partial", "A-major")
POWER = ("E-5", "A-5")
SEVENTHS = ("E-7", "E-m7", "A-7", "A-m7")
LATER = ("E-maj7", "A-maj7", "E-sus4", "A-sus4", "D-major", "C-major-inner", "G-major-inner")

# The steps of the teaching order with their shapes [common practice, no source]. A teacher may put them in another one.
STEPS: Mapping[str, tuple[str, ...]] = {
    "open": (*OPEN_TRIADS, *SMALL),
    "no-index": tuple(NO_INDEX.values()),
    "small-barre": SMALL_BARRE,
    "e-major": ("E-major", *POWER),
    "minors": MINORS,
    "a-major": A_MAJORS,
    "sevenths": (*OPEN_SEVENTHS, *SEVENTHS),
    "later": LATER,
}
# Steps on which nothing else waits.
ASIDE = frozenset({"no-index", "small-barre"})

# shape -> rung of the usual order
RUNGS: Mapping[str, int] = {shape: rung for rung, shapes in enumerate(STEPS.values()) for shape in shapes}
IN_ORDER = frozenset(theory.SHAPES[shape].quality for shape in RUNGS)
STEP_OF: Mapping[str, str] = {shape: step for step, shapes in STEPS.items() for shape in shapes}
LAST_RUNG = max(RUNGS.values()) + 1

# Keys that open chords reach, in the order in which they are taught [C].
FIRST_KEYS = ("G", "C", "D", "A", "E", "A minor", "E minor")
SHORTLIST = 24

# Of a form without the index, and of a small form of a barre chord, one at a time is enough.
GROUNDWORK = (RUNGS[NO_INDEX["E-major"]], RUNGS[SMALL_BARRE[0]])

Pair = tuple[int, str]  # pitch class of the root, quality


@dataclass(frozen=True)
class Suggestion:
    """Something that could be set. goal, measure and target are what one tap sets; title: in English, as the
    goal's own; voicing: what it looks like, None for roots; reasons: why, the most telling first; terms: name
    -> points, which add up to `score`; cautions: what the goal page will say when it is set.
    """

    goal: theory.Goal
    measure: str
    target: float
    title: str
    voicing: theory.Voicing | None
    reasons: tuple[Said, ...]
    terms: Mapping[str, float]
    cautions: tuple[theory.Finding, ...] = ()

    @property
    def score(self) -> float:
        return math.fsum(self.terms.values())

    @property
    def code(self) -> str:
        """What a refusal names: "E-minor@B" for a shape at a root, "roots@6" for roots along a string."""
        if self.voicing is None:
            return f"roots@{self.goal.string}"
        return f"{self.voicing.shape}@{self.voicing.root}"


@dataclass(frozen=True)
class Refusal:
    """A suggestion that the teacher declined. candidate: its `code`; day: when."""

    candidate: str
    day: dt.date

    @property
    def until(self) -> dt.date:
        """The first day on which it may be made again."""
        return self.day + SET_ASIDE_FOR


def steps_of(order: Iterable[object]) -> tuple[str, ...]:
    """A teacher's own order as steps, complete: unknown and repeated ones are passed over, missing ones come last, in
    the usual order. () where it is the usual order.

    >>> steps_of(["minors", "no such step"])[:3]
    ('minors', 'open', 'no-index')
    >>> steps_of([])
    ()
    """
    found = dict.fromkeys(step for step in order if isinstance(step, str) and step in STEPS)
    whole = tuple(dict.fromkeys((*found, *STEPS)))
    return () if whole == tuple(STEPS) else whole


def refused(declined: Iterable[Refusal], today: dt.date) -> frozenset[tuple[str, int]]:
    """What was declined within four weeks: (shape, pitch class of the root), for roots ("roots", string)."""
    found = set()
    for one in declined:
        shape, _, root = one.candidate.partition("@")
        if not one.day <= today < one.until:
            continue
        if shape == "roots":
            found.add((shape, int(root) if root.isdecimal() else 0))
            continue
        try:
            found.add((shape, theory.Note(root).pitch_class))
        except theory.TheoryError:
            continue
    return frozenset(found)


# -- the guards ---------------------------------------------------------------------------------------------------


def _hand_level(facts: StudentFacts, today: dt.date) -> str:
    """The hand's answer, "" without consent: where nothing is played nothing is suggested, and a step without barres is
    a pause."""
    day = hand_day(facts, today)
    if day.advice is None:
        return ""
    if day.stop or day.advice.level == SEE_SOMEONE:
        return SEE_SOMEONE
    return PAUSE if day.no_barre else day.advice.level


def word(facts: StudentFacts, today: dt.date) -> Said | None:
    """Why there is less to suggest than usual, or nothing; None when nothing holds back."""
    level = _hand_level(facts, today)
    if level == SEE_SOMEONE:
        return said("suggest-rest")
    if level == PAUSE:
        return said("suggest-pause")
    if show := final_week(facts, today):
        return said("suggest-stage", title=show.title, day=show.day)
    new, limit = _new_chords(facts, today)
    if new >= limit:
        return said("suggest-enough-new", count=new)
    if _eased(facts, today):
        return said("suggest-return" if facts.hand_return else "suggest-light-only")
    return None


def _eased(facts: StudentFacts, today: dt.date) -> bool:
    if not facts.hand_consent:
        return False
    day = hand_day(facts, today)
    return day.step is not None or day.answers or bool(open_notes(note for note in facts.notes if note.day <= today))


def _new_chords(facts: StudentFacts, today: dt.date) -> tuple[int, int]:
    """Active chord goals set in the last seven days, and how many there may be."""
    since = today - dt.timedelta(days=7)
    new = sum(goal.kind == "chord" and since < goal.set_on <= today for goal in facts.active_goals)
    first = (today - facts.joined).days < FIRST_DAYS
    child = facts.age is not None and facts.age < CHILD_UNDER
    return new, NEW_A_WEEK_AT_FIRST if first or child else NEW_A_WEEK


# -- what the student has -----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Hand:
    """What one student has.

    secure: voicings by the log; known: these and the open chords taken as known; pairs: chords in hand, by whatever
    voicing; heaviest: of the secure ones (of the known, without any) that which asks most, and most: its grip demand;
    working: voicings of active chord goals that are not secure yet, with the goals' titles; child: under ten;
    small: plays small forms; order: the teacher's own, () for the usual one.
    """

    secure: tuple[theory.Voicing, ...]
    known: tuple[theory.Voicing, ...]
    pairs: frozenset[Pair]
    heaviest: theory.Voicing | None
    most: float
    working: tuple[tuple[theory.Voicing, str], ...]
    child: bool
    small: bool
    order: tuple[str, ...] = ()

    def rung(self, step: str) -> int:
        """The place of a step in the order that holds, from 0."""
        return (self.order or tuple(STEPS)).index(step)

    @cached_property
    def shapes(self) -> frozenset[str]:
        """Shapes that are secure."""
        return frozenset(voicing.shape for voicing in self.secure)

    @cached_property
    def opened(self) -> frozenset[str]:
        """Shapes that are known."""
        return frozenset(voicing.shape for voicing in self.known)

    @cached_property
    def triads(self) -> int:
        """How many of the first open chords are known."""
        return sum(shape in self.opened for shape in OPEN_TRIADS)

    @cached_property
    def barres(self) -> tuple[int, ...]:
        """Frets of the full barres that are secure, counted from the nut."""
        return tuple(_fret(voicing) for voicing in self.secure if voicing.has_barre)

    @cached_property
    def only_small(self) -> frozenset[Pair]:
        """Chords in hand as small forms and in no other way."""
        small = {_pair(one) for one in self.known if one.shape in SMALL}
        return frozenset(small - {_pair(one) for one in self.known if one.shape not in SMALL})

    @cached_property
    def leads(self) -> Mapping[str, tuple[str, Pair | None]]:
        """What leads up to the barres being worked on while none is secure: shape -> (the goal's title, the chord
        that it must give, None for any)."""
        found: dict[str, tuple[str, Pair | None]] = {}
        for voicing, title in self.working if not self.barres else ():
            if voicing.has_barre:
                if voicing.shape in NO_INDEX:
                    found.setdefault(NO_INDEX[voicing.shape], (title, None))
                for shape in SMALL_BARRE:
                    found.setdefault(shape, (title, _pair(voicing)))
                if _fret(voicing) < FIRST_BARRE[0]:
                    found.setdefault(voicing.shape, (title, None))
        return found

    def leads_to(self, voicing: theory.Voicing) -> str | None:
        """The title of the goal that a voicing leads up to."""
        title, pair = self.leads.get(voicing.shape, (None, None))
        return title if pair is None or pair == _pair(voicing) else None


def _fret(voicing: theory.Voicing) -> int:
    """The position counted from the nut, where a voicing counts from its capo."""
    return voicing.position + voicing.instrument.capo


def _placed(goal: GoalFacts, instrument: theory.Instrument) -> Iterator[theory.Voicing]:
    """The goal's chords on the student's instrument; those it cannot have (any more) are left out. A capo of
    the goal's own makes other chords of the same shapes, so it is left on.
    """
    for chord in goal.theory.chords:
        try:
            yield chord.voicing(goal.theory.on(instrument))
        except theory.TheoryError:
            continue


def _place(shape: str, root: str | theory.Note | None, instrument: theory.Instrument) -> theory.Voicing | None:
    try:
        return theory.place(shape, root, instrument)
    except theory.TheoryError:
        return None


def _pair(voicing: theory.Voicing) -> Pair:
    return voicing.root.pitch_class, voicing.quality


def _is_movable(chord: theory.ChordTerm) -> bool:
    shape = theory.SHAPES.get(chord.shape)
    return shape is not None and shape.kind == "movable"


def in_hand(facts: StudentFacts, today: dt.date) -> Known:
    """The chords that the student has, for the song book: by the log, and by what is taken as known. facts: with the
    notes that say what rests today."""
    has = _in_hand(facts, today)
    hand = hand_day(facts, today)
    if hand.stop:
        return Known(has.pairs, has.shapes, has.small, has.pairs, flat_rests=True)
    if not hand.no_barre:
        return Known(has.pairs, has.shapes, has.small)
    # a chord that is held in another way, too, is played in that one
    held = {_pair(voicing) for voicing in has.known if not voicing.lays_flat}
    for goal in facts.goals:
        if goal.kind == "progression" and not lays_flat(goal.theory, facts.instrument, facts.hand):
            held.update(pair for pair, _ in _asked(goal))
    return Known(has.pairs, has.shapes, has.small, has.pairs - held, flat_rests=True)


def _in_hand(facts: StudentFacts, today: dt.date, order: Iterable[object] = ()) -> _Hand:
    secure: dict[theory.Voicing, None] = {}
    working: list[tuple[theory.Voicing, str]] = []
    pairs: set[Pair] = set()
    moves, small, bases = False, False, set[str]()
    for goal in facts.goals:
        if goal.kind in ("chord", "change"):
            shapes = {one.shape for one in goal.theory.chords}
            moves |= any(_is_movable(one) for one in goal.theory.chords)
            bases.update(one.removesuffix("-no-index") for one in shapes & set(NO_INDEX.values()))
            known = was_secure(goal, today)
            small |= bool(shapes & set(SMALL)) and (known or not goal.set_aside)
            if known:
                secure.update(dict.fromkeys(_placed(goal, facts.instrument)))
            elif goal.kind == "chord" and not goal.set_aside:
                working += [(voicing, goal.title) for voicing in _placed(goal, facts.instrument)]
        elif goal.kind == "progression" and any(mark.day <= today for mark in goal.own_marks):
            pairs.update(pair for pair, _ in _asked(goal))
    taken = dict(secure)
    opened = (_place(shape, None, facts.instrument) for shape in (OPEN_TRIADS if moves else sorted(bases)))
    taken.update(dict.fromkeys(voicing for voicing in opened if voicing is not None))
    pairs.update(map(_pair, taken))
    demands = [(theory.grip_demand(voicing, facts.hand).total, voicing) for voicing in secure or taken]
    most, heaviest = max(demands, key=lambda one: one[0], default=(0.0, None))
    child = facts.age is not None and facts.age < CHILD_UNDER
    return _Hand(
        tuple(secure), tuple(taken), frozenset(pairs), heaviest, most, tuple(working), child, small or child,
        steps_of(order),
    )  # fmt: skip


# -- what the keys ask --------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Need:
    """A chord that a goal or a key in hand asks for. root: as spelled there; by_goal: a progression asks for it."""

    root: theory.Note
    points: float
    says: Said
    by_goal: bool = False


def _asked(goal: GoalFacts) -> Iterator[tuple[Pair, theory.Chord]]:
    """The chords of a progression; a step that cannot be read is left out."""
    for step in goal.theory.numerals:
        try:
            chord = theory.read_step(step, goal.theory.key)
        except theory.TheoryError:
            continue
        yield (chord.root.pitch_class, chord.quality), chord


def _needs(facts: StudentFacts, has: _Hand) -> dict[Pair, _Need]:
    """Chords not in hand that an active progression uses, else that a key in hand owns: the weightiest reason."""
    found: dict[Pair, _Need] = {}
    for goal in facts.active_goals:
        if goal.kind == "progression":
            for pair, chord in _asked(goal):
                if pair not in has.pairs:
                    says = said("suggest-progression", title=goal.title, symbol=chord.symbol)
                    found.setdefault(pair, _Need(chord.root, 4.0, says, by_goal=True))
    keys, weight = _keys(facts), 1.0
    if not keys:
        keys, weight = _fitting_keys(has), 0.5
    for key in keys:
        own = [one for one in key.own_chords() if one.quality in ("major", "minor")]
        have = sum((one.root.pitch_class, one.quality) in has.pairs for one in own)
        for one in own:
            if have + 1 == len(own):
                points, says = 3.0, said("suggest-key-last", symbol=one.symbol, key=str(key), of=len(own))
            else:
                points = 1.0 + 1.5 * have / len(own)
                says = said("suggest-key", symbol=one.symbol, key=str(key), have=have, of=len(own))
            _weigh(found, has, one, _Need(one.root, weight * points, says))
        for one in key.own_chords():
            if one.numeral == "V7":
                says = said("suggest-key-seventh", symbol=one.symbol, key=str(key))
                _weigh(found, has, one, _Need(one.root, weight, says))
    return found


def _weigh(found: dict[Pair, _Need], has: _Hand, chord: theory.KeyChord, need: _Need) -> None:
    """Puts a need down unless the chord is in hand or something weightier asks for it."""
    pair = (chord.root.pitch_class, chord.quality)
    if pair not in has.pairs and (pair not in found or found[pair].points < need.points):
        found[pair] = need


def _keys(facts: StudentFacts) -> list[theory.Key]:
    """The keys that the active goals name, the newest goal's first, none twice."""
    keys: dict[theory.Key, None] = {}
    for goal in reversed(facts.active_goals):
        if goal.theory.key:
            try:
                keys[theory.Key.parse(goal.theory.key)] = None
            except theory.TheoryError:
                continue
    return list(keys)


def _fitting_keys(has: _Hand) -> list[theory.Key]:
    """The key of the first ones that the chords in hand fill best, for a student whose goals name none."""
    keys = [theory.Key.parse(name) for name in FIRST_KEYS]
    return [max(keys, key=lambda key: sum((one.root.pitch_class, one.quality) in has.pairs for one in key.triads))]


# -- candidates ---------------------------------------------------------------------------------------------------


def _lowest_barre(frets: Collection[int]) -> int:
    """The lowest fret that the next barre may have, from those secure: 5, then 3, then 2, then 1."""
    if not frets:
        return FIRST_BARRE[0]
    if max(frets) < FIRST_BARRE[0]:
        return min(frets)
    return 3 if min(frets) >= FIRST_BARRE[0] else 2 if min(frets) >= 3 else 1


def _opens(shape: str, has: _Hand) -> bool:
    """Whether what a shape of the teaching order stands on is there."""
    secure = has.shapes
    if shape in secure or shape in has.leads or shape in OPEN_TRIADS:
        return True
    if shape in SMALL:
        return has.small
    if shape in SMALL_BARRE:
        return not has.barres and (has.triads >= 3 or (has.child and len(secure) >= 3))
    if shape in NO_INDEX.values():
        return shape == NO_INDEX["E-major"] and not has.barres and "open-E" in has.opened
    if shape in OPEN_SEVENTHS:
        return has.triads >= 5
    if has.child:
        return False
    if has.order:
        return _opens_in_own_order(shape, has)
    if shape == "E-major":
        return "open-E" in has.opened or bool(has.barres)
    if shape in POWER:
        return bool(secure & set(POWER))
    majors = secure & set(A_MAJORS)
    if shape in MINORS:
        return bool(secure & {"E-major", *MINORS})
    if shape in A_MAJORS:
        return "E-major" in secure and bool(secure & set(MINORS))
    if shape in SEVENTHS:
        return bool(secure & TRIADS_OF[shape]) and len(secure & {"E-major", *MINORS}) + bool(majors) >= 3
    return bool(majors) and bool(secure & set(SEVENTHS))


# a seventh -> the shapes of its plain chord
TRIADS_OF = {"E-7": {"E-major"}, "E-m7": {"E-minor"}, "A-7": set(A_MAJORS), "A-m7": {"A-minor"}}


def _opens_in_own_order(shape: str, has: _Hand) -> bool:
    """Whether something of the step before is known; sevenths and power chords stand on what they stand on in any
    order."""
    if shape in POWER:
        return bool(has.shapes & set(POWER))
    if shape in SEVENTHS and not has.shapes & TRIADS_OF[shape]:
        return False
    before = [step for step in has.order[: has.rung(STEP_OF[shape])] if step not in ASIDE]
    return not before or bool(has.opened & set(STEPS[before[-1]]))


def _answers(shape: theory.Shape, has: _Hand) -> bool:
    """Whether a shape beyond the teaching order may answer what a progression asks for."""
    if shape.kind == "open":
        return has.triads >= 3
    moved = {one.shape for one in has.secure if one.has_barre}
    return shape.kind == "movable" and not has.child and len(moved) >= (2 if shape.has_barre else 1)


def _roots(shape: str, needs: Mapping[Pair, _Need], book: "_Book") -> list[theory.Note]:
    """Roots worth asking: those needed, by goals and keys or by songs, and the naturals for groundwork; spelled as what
    asks spells them."""
    quality = theory.SHAPES[shape].quality
    roots = {need.root.pitch_class: need.root for pair, need in needs.items() if pair[1] == quality}
    for pair, asked in book.roots.items():
        if pair[1] == quality:
            roots.setdefault(pair[0], asked)
    for pitch_class in range(12):
        root = theory.common_root(pitch_class, quality)
        if len(str(root)) == 1 or pitch_class == 6:  # F sharp is the step from G down to F
            roots.setdefault(pitch_class, root)
    return list(roots.values())


def _voicings(
    facts: StudentFacts, has: _Hand, needs: Mapping[Pair, _Need], book: "_Book"
) -> Iterator[theory.Voicing]:
    """Every shape that is open or asked for, at its roots."""
    for shape in RUNGS:
        if not _opens(shape, has):
            continue
        if theory.SHAPES[shape].kind == "movable":
            found = [_place(shape, root, facts.instrument) for root in _roots(shape, needs, book)]
        else:
            found = [_at_home(shape, facts.instrument, needs)]
        yield from (voicing for voicing in found if voicing)
    asked = {pair: need.root for pair, need in needs.items() if need.by_goal}
    # a song asks for an odd shape only where no shape of the order gives its chord
    asked |= {pair: book.roots[pair] for pair in book.completing if pair not in asked and pair[1] not in IN_ORDER}
    for (_, quality), root in asked.items():
        for one in theory.SHAPES.values():
            beyond = one.id not in RUNGS and one.quality == quality
            if beyond and _answers(one, has) and (voicing := _place(one.id, root, facts.instrument)):
                yield voicing


def _at_home(shape: str, instrument: theory.Instrument, needs: Mapping[Pair, _Need]) -> theory.Voicing | None:
    """An open chord or small form, spelled as what asks for it: F is E# in A# minor."""
    voicing = _place(shape, None, instrument)
    need = needs.get(_pair(voicing)) if voicing else None
    return _place(shape, need.root, instrument) if need else voicing


def _candidates(
    facts: StudentFacts, has: _Hand, needs: Mapping[Pair, _Need], book: "_Book"
) -> Iterator[theory.Voicing]:
    lowest = _lowest_barre(has.barres)
    begun = {voicing.shape for voicing, _ in has.working if theory.SHAPES[voicing.shape].kind == "movable"}
    for voicing in _voicings(facts, has, needs, book):
        if voicing.past_joint or voicing.position > HIGHEST:
            continue
        if voicing.shape in begun - has.shapes and not has.leads_to(voicing):
            continue
        if voicing.shape in OPEN_SEVENTHS and has.barres and _pair(voicing) not in needs:
            continue
        if voicing.has_barre and (has.child or _fret(voicing) < lowest):
            continue
        if voicing.has_barre and not has.barres and _fret(voicing) > FIRST_BARRE[1]:
            continue
        yield voicing


def _taken(facts: StudentFacts, has: _Hand, today: dt.date) -> set[tuple[str, int]]:
    """(shape, pitch class of the root) of what is secure, active, or was set aside lately."""
    goals = (goal for goal in facts.goals if not goal.set_aside or _lately(goal, today) or was_secure(goal, today))
    voicings = [voicing for goal in goals for voicing in _placed(goal, facts.instrument)]
    return {(voicing.shape, voicing.root.pitch_class) for voicing in (*voicings, *has.secure)}


def _lately(goal: GoalFacts, today: dt.date) -> bool:
    """Whether a goal was set aside within four weeks; where the day is not known, whether anything was done on it."""
    if goal.set_aside_on is not None:
        return goal.set_aside_on > today - SET_ASIDE_FOR
    days = [goal.set_on, *(mark.day for mark in goal.marks), *(day for day, _ in goal.practised)]
    return max(days) > today - SET_ASIDE_FOR


# -- the song book ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Book:
    """What the songs lack. lacks: per song (title, pairs missing), songs that lack nothing or cannot be read left out;
    roots: pair -> its root as the first such song spells it; completing: pairs that are all that some song lacks."""

    lacks: tuple[tuple[str, frozenset[Pair]], ...] = ()
    roots: Mapping[Pair, theory.Note] = field(default_factory=dict)
    completing: tuple[Pair, ...] = ()

    def order(self, pairs: Collection[Pair]) -> list[Pair]:
        """The first chords, of these, in the order that makes songs playable early."""
        named = {pair: f"{pair[0]} {pair[1]}" for pair in self.roots}
        songs = {str(n): {named[pair] for pair in lacks} for n, (_, lacks) in enumerate(self.lacks)}
        useful = [pair for pair in dict.fromkeys(pairs) if pair in named]
        return learning_order(songs, set(), {pair: {named[pair]} for pair in useful}, LOOK_AHEAD)


def _book(songs: Sequence[SongFacts], has: _Hand) -> _Book:
    known = Known(has.pairs)
    lacks: list[tuple[str, frozenset[Pair]]] = []
    roots: dict[Pair, theory.Note] = {}
    completing: dict[Pair, None] = {}
    for song in songs:
        missing = lacking(song, known)
        if missing:
            pairs = [pair_of(chord) for chord in missing]
            lacks.append((song.title, frozenset(pairs)))
            for pair, chord in zip(pairs, missing, strict=True):
                roots.setdefault(pair, chord.root)
            if len(pairs) == 1:
                completing.setdefault(pairs[0])
    return _Book(tuple(lacks), roots, tuple(completing))


@dataclass(frozen=True)
class _Opens:
    """What a chord does for the song book: points, and why."""

    points: float
    says: tuple[Said, ...]


# points for the first chords of the order that makes songs playable early
FIRST_PLACES = (1.5, 1.0, 0.5)


def _opened_songs(book: _Book, pairs: Collection[Pair]) -> dict[Pair, _Opens]:
    """What each chord does for the song book, by pair; chords that no song lacks are left out."""
    found = {}
    places = {pair: place for place, pair in enumerate(book.order(pairs))} if book.lacks else {}
    for pair in dict.fromkeys(pairs):
        ready = [title for title, lacks in book.lacks if lacks == {pair}]
        nearer = [len(lacks) - 1 for _, lacks in book.lacks if pair in lacks and len(lacks) > 1]
        if not ready and not nearer:
            continue
        points = min(2.0, 0.5 * len(ready)) + min(1.0, math.fsum(0.1 * 0.5 ** (left - 1) for left in nearer))
        says = []
        if ready:
            titles = ", ".join(f"“{title}”" for title in ready[:3]) + (" …" if len(ready) > 3 else "")
            says.append(said("suggest-songs-ready", count=len(ready), titles=titles))
        if nearer:
            says.append(said("suggest-songs-nearer", count=len(nearer)))
        place = places.get(pair, len(FIRST_PLACES))
        if place < len(FIRST_PLACES):
            points += FIRST_PLACES[place]
            says.append(said("suggest-songs-order", place=place + 1))
        found[pair] = _Opens(points, tuple(says))
    return found


# -- the score ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Scored:
    voicing: theory.Voicing
    terms: dict[str, float]
    reasons: tuple[Said, ...]

    @property
    def points(self) -> float:
        return math.fsum(self.terms.values())


def _score(
    voicing: theory.Voicing,
    facts: StudentFacts,
    has: _Hand,
    needs: Mapping[Pair, _Need],
    opens: Mapping[Pair, _Opens],
    rung: int,
) -> _Scored:
    need = needs.get(_pair(voicing))
    if (title := has.leads_to(voicing)) is not None and (need is None or not need.by_goal):
        need = _Need(voicing.root, 3.0, said("suggest-leads-to", title=title))
    points, reasons = _step(voicing, has, rung)
    demand = theory.grip_demand(voicing, facts.hand).total
    terms = {"key": need.points if need else 0.0, "step": points, "ease": -0.25 * demand}
    if songs := opens.get(_pair(voicing)):
        terms["songs"] = songs.points
        reasons[:0] = songs.says
    if need:
        reasons.insert(0, need.says)
    if has.secure and has.heaviest:
        terms["grip"] = -0.5 * max(0.0, demand - has.most)
        values: dict[str, str | float] = {"known": has.heaviest.title, "demand": round(demand, 1)}
        values["most"] = round(has.most, 1)
        reasons.append(said("suggest-grip-beyond" if demand > has.most else "suggest-grip-within", **values))
    else:
        reasons.append(said("suggest-grip-alone", demand=round(demand, 1)))
    if has.known:
        least, title = min((theory.change_demand(one, voicing, facts.hand).total, one.title) for one in has.known)
        terms["change"] = -0.1 * least
        reasons.append(said("suggest-change", known=title, demand=round(least, 1)))
    return _Scored(voicing, terms, tuple(reasons))


def _rung(shape: str, has: _Hand) -> int:
    """The rung of a shape for this student: full open chords come after the small forms for whoever plays those."""
    if has.small and shape in FULL:
        return has.rung("open") + 1
    if shape in STEP_OF:
        return has.rung(STEP_OF[shape])
    return has.rung("sevenths") if theory.SHAPES[shape].kind == "open" else LAST_RUNG


def _step(voicing: theory.Voicing, has: _Hand, rung: int) -> tuple[float, list[Said]]:
    """What the teaching order gives: most for the next rung, less for each rung beyond it and high on the neck."""
    far = 1.0 if voicing.position > FIRST_BARRE[1] else 0.0
    same = [one for one in has.secure if one.shape == voicing.shape]
    if not same:
        return max(0.0, 4.0 - 0.75 * (_rung(voicing.shape, has) - rung)) - far, _why_now(voicing, has)
    near = min(same, key=lambda one: (abs(one.position - voicing.position), one.position))
    again = said("suggest-same-shape", known=near.title)
    lowest = min(has.barres, default=FIRST_BARRE[0])
    if voicing.has_barre and _fret(voicing) < lowest:
        points = 4.5 if "E-major" in has.shapes or has.order else 3.0
        return points, [said("suggest-lower-fret", position=voicing.position, lowest=lowest), again]
    return 2.0 - far, [again]


def _why_now(voicing: theory.Voicing, has: _Hand) -> list[Said]:
    """Why it is the turn of a shape that is not secure anywhere; nothing where only a progression asks for it."""
    shape = theory.SHAPES[voicing.shape]
    own = [said("suggest-own-order", step=has.rung(STEP_OF[shape.id]) + 1)] if has.order and shape.id in STEP_OF else []
    if voicing.has_barre and not has.barres:
        return [*own, said("suggest-first-barre", position=voicing.position)]
    if own:
        return own
    if shape.id in OPEN_TRIADS:
        full = _pair(voicing) in has.only_small
        return [said("suggest-full-form", symbol=voicing.symbol) if full else said("suggest-open-chord")]
    if shape.id in OPEN_SEVENTHS:
        return [said("suggest-open-seventh")]
    if shape.id in NO_INDEX.values():
        return [said("suggest-no-index")]
    if shape.kind == "small":
        return [said("suggest-small-form")]
    if shape.id == "E-major":
        return [said("suggest-e-major")]
    if shape.id in MINORS:
        return [said("suggest-beside", shape=shape.name)]
    if shape.id in A_MAJORS:
        return [said("suggest-a-major")]
    if shape.id in POWER:
        return [said("suggest-power", string=said(f"string-{voicing.root_string}"))]
    if shape.id in SEVENTHS:
        return [said("suggest-seventh", family=shape.family)]
    return [said("suggest-next-shape")] if shape.id in LATER else []


def next_chords(
    facts: StudentFacts,
    today: dt.date,
    count: int = 3,
    *,
    songs: Sequence[SongFacts] = (),
    declined: Collection[Refusal] = (),
    order: Iterable[object] = (),
) -> list[Suggestion]:
    """The best `count` things to set next, best first; fewer or none where a guard holds (`word` says which).

    songs: the teacher's song book; declined: what the teacher declined for this student, whenever; order: the teacher's
    own order of STEPS, empty for the usual one.
    Of one shape at most one suggestion, and of one chord at most one. Besides new chords there is at most one
    review: a goal that was set aside when secure and whose review has fallen due.
    """
    level = _hand_level(facts, today)
    if level == SEE_SOMEONE or count < 1:
        return []
    shut = refused(declined, today)
    if level == PAUSE:
        return _roots_to_find(facts, count, shut)
    if final_week(facts, today):
        return []
    has = _in_hand(facts, today, order)
    limit = _comfortable(facts, has) if _eased(facts, today) else math.inf
    new, most_new = _new_chords(facts, today)
    found = _new(facts, has, today, limit, _book(songs, has), shut) if new < most_new else []
    return _best_few(found + _review(facts, today, limit, shut), count)


def in_turn(
    facts: StudentFacts,
    today: dt.date,
    *,
    songs: Sequence[SongFacts] = (),
    declined: Collection[Refusal] = (),
    order: Iterable[object] = (),
) -> tuple[theory.Voicing, ...]:
    """Every voicing whose turn it is by the teaching order, in that order, without what is active, secure or declined
    already; while a hand note is open only what the hand may do. A week's count of new chords and a pause do
    not enter.
    """
    has = _in_hand(facts, today, order)
    limit = _comfortable(facts, has) if _eased(facts, today) else math.inf
    return _turns(facts, has, _needs(facts, has), today, limit, _book(songs, has), refused(declined, today))


def _turns(
    facts: StudentFacts,
    has: _Hand,
    needs: Mapping[Pair, _Need],
    today: dt.date,
    limit: float,
    book: _Book,
    shut: frozenset[tuple[str, int]],
) -> tuple[theory.Voicing, ...]:
    taken = _taken(facts, has, today) | shut
    return tuple(
        voicing
        for voicing in _candidates(facts, has, needs, book)
        if (voicing.shape, voicing.root.pitch_class) not in taken
        and _within(voicing, facts, limit)
        and not _same_chord(voicing, has)
    )


def _new(
    facts: StudentFacts, has: _Hand, today: dt.date, limit: float, book: _Book, shut: frozenset[tuple[str, int]]
) -> list[Suggestion]:
    """What could be set that is new, best first but for the cautions."""
    needs = _needs(facts, has)
    voicings = _turns(facts, has, needs, today, limit, book, shut)
    opens = _opened_songs(book, [_pair(voicing) for voicing in voicings])
    rung = min((_rung(voicing.shape, has) for voicing in voicings if voicing.shape not in has.shapes), default=0)
    scored = [_score(voicing, facts, has, needs, opens, rung) for voicing in voicings]
    scored.sort(key=lambda one: (-one.points, one.voicing.position, one.voicing.title))
    context = theory.Context(
        new_to_barres=not has.barres, active_goals=tuple(goal.theory for goal in facts.active_goals)
    )
    found = []
    for one in scored[:SHORTLIST]:
        voicing = one.voicing
        position = voicing.position if theory.SHAPES[voicing.shape].kind == "movable" else None
        goal = theory.Goal("chord", (theory.ChordTerm(voicing.shape, str(voicing.root), position),))
        findings = theory.validate(goal, facts.instrument, facts.hand, context)
        if any(finding.is_error for finding in findings):
            continue
        terms = one.terms | ({"care": -0.5 * len(findings)} if findings else {})
        target = float(voicing.strings_sounding)
        found.append(Suggestion(goal, "clean", target, voicing.title, voicing, one.reasons, terms, tuple(findings)))
    return found


def _same_chord(voicing: theory.Voicing, has: _Hand) -> bool:
    """Whether an open chord or small form asks nothing new: the chord is in hand in another form, or is being worked
    on in one. The full form of what is only there as a small form is new, but for a child."""
    if theory.SHAPES[voicing.shape].kind == "movable" or voicing.shape in NO_INDEX.values():
        return False
    pair = _pair(voicing)
    if any(_pair(one) == pair and theory.SHAPES[one.shape].kind != "movable" for one, _ in has.working):
        return True
    full = voicing.shape in FULL and pair in has.only_small and not has.child
    return pair in has.pairs and not full


def _comfortable(facts: StudentFacts, has: _Hand) -> float:
    """The heaviest grip that counts as comfortable: the heaviest known one that lays no finger flat, else an open E
    minor.
    """
    free = [voicing for voicing in has.known if not voicing.lays_flat]
    if not free and (easy := _place("open-Em", None, facts.instrument)):
        free = [easy]
    return max((theory.grip_demand(one, facts.hand).total for one in free), default=0.0)


def _within(voicing: theory.Voicing, facts: StudentFacts, limit: float) -> bool:
    """Whether a grip stays within what a complaining hand may do; a limit without end allows all."""
    if limit == math.inf:
        return True
    return not voicing.lays_flat and theory.grip_demand(voicing, facts.hand).total <= limit


def _best_few(found: list[Suggestion], count: int) -> list[Suggestion]:
    best: list[Suggestion] = []
    seen: set[Hashable] = set()
    for one in sorted(found, key=lambda one: (-round(one.score, 9), one.title)):
        marks: set[Hashable] = {one.title}
        if one.voicing is not None:
            marks = {one.voicing.shape, _pair(one.voicing)}
            if RUNGS.get(one.voicing.shape) in GROUNDWORK:
                marks.add(RUNGS[one.voicing.shape])
        if not marks & seen:
            best.append(one)
            seen |= marks
        if len(best) == count:
            break
    return best


def _review(
    facts: StudentFacts, today: dt.date, limit: float, shut: frozenset[tuple[str, int]]
) -> list[Suggestion]:
    """The chord that was set aside when secure, is not in use since, and waits longest for its review."""
    waiting = []
    for goal in facts.goals:
        if goal.set_aside and goal.kind == "chord":
            stands = state(replace(goal, set_aside=False), today)
            voicing = next(_placed(goal, facts.instrument), None)
            if stands.code == REVIEW_DUE and stands.review_on and voicing and not _in_use(facts, voicing):
                waiting.append((stands.review_on, goal.code, goal, voicing))
    for due, _code, goal, voicing in sorted(waiting, key=lambda one: one[:2]):
        if _within(voicing, facts, limit) and (voicing.shape, voicing.root.pitch_class) not in shut:
            demand = theory.grip_demand(voicing, facts.hand).total
            terms, says = {"step": 2.5, "ease": -0.25 * demand}, (said("suggest-review", day=due),)
            return [Suggestion(goal.theory, goal.measure.code, goal.target, goal.title, voicing, says, terms)]
    return []


def _in_use(facts: StudentFacts, voicing: theory.Voicing) -> bool:
    """Whether the active goals keep the chord up anyway: they hold it, or they are past open chords and it is one."""
    for goal in facts.active_goals:
        if any(_is_movable(one) for one in goal.theory.chords) and voicing.shape in OPEN_TRIADS:
            return True
        if goal.kind == "progression" and any(pair == _pair(voicing) for pair, _ in _asked(goal)):
            return True
        held = _placed(goal, facts.instrument)
        if any((one.shape, one.root.pitch_class) == (voicing.shape, voicing.root.pitch_class) for one in held):
            return True
    return False


def _roots_to_find(facts: StudentFacts, count: int, shut: frozenset[tuple[str, int]]) -> list[Suggestion]:
    """While barre work is paused: the roots along the lowest strings, which press nothing hard."""
    active = {goal.theory.string for goal in facts.active_goals if goal.kind == "roots"}
    found = []
    for weight, string in enumerate((6, 5, 4)):
        if string not in active and ("roots", string) not in shut and string <= facts.instrument.strings:
            goal = theory.Goal("roots", string=string)
            title, says = goal.title_text(facts.instrument), (said("suggest-roots"),)
            found.append(Suggestion(goal, "seconds", 40.0, title, None, says, {"step": 3.0 - weight}))
    return found[:count]
