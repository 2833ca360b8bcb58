"""What could come next for one student: three things, ranked, with their reasons and the terms of their scores.

Candidates are the shapes of the teaching order below, at the roots that the student's keys ask for, on the
student's own instrument. What the guards and the order leave is scored; the score is a plain sum of named
terms.

The teaching order (`RUNGS`) [C]: open chords; the open form without the index; a small form; E-shape major at
fret 5 to 7, then at 3, 2 and 1; A-shape minor and E-shape minor beside it; A-shape major; sevenths later;
then the rest. A rung opens when what it stands on is secure. Two rules have no exception:

- no barre below fret 5 until one at fret 5 or higher is secure; then from fret 3, from 2, from 1, each after
  the one before;
- no barre for a child under ten, who gets small forms.

What is taken as known: what is secure (or waits for its review). The log does not hold what was learnt before, so
whoever has a goal with a movable shape is taken to have the open chords as well, who works on a form without the
index has its usual form, and a progression that was measured counts for its own chords.

The guards (`word` says which holds): at a sign nothing but rest; at a pause roots to find, which press
nothing hard; at an open hand note or "ease off" no barre and nothing heavier than what is secure; not more
than two new chords in seven days, one for a child under ten and in the first six months [C].

The terms, in points:

key     3 for a chord that an active progression asks for; else 1 to 3 for one that a key in hand owns, more the
        fuller the key; half of that in the key that known chords fill best, where no goal names one
step    4 on the next rung of the teaching order, 0.75 less for each rung beyond; for a shape that is secure at
        another root 2, or 4.5 for the next step down with a barre; for a review 2.5
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
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from practice.facts import GoalFacts, StudentFacts
from practice.handcare import EASE_OFF, PAUSE, SEE_SOMEONE, advice, open_notes
from practice.progress import REVIEW_DUE, state, was_secure
from practice.said import Said, said
from practice.songs_core import learning_order, song_level
from studio import theory

__all__ = ["RUNGS", "Suggestion", "in_turn", "learning_order", "next_chords", "song_level", "word"]

NEW_A_WEEK = 2
NEW_A_WEEK_AT_FIRST = 1
FIRST_DAYS = 183
CHILD_UNDER = 10

FIRST_BARRE = (5, 7)

OPEN_TRIADS = ("open-Em", "open-A", "open-D", "open-G", "open-E", "open-Am", "open-C", "open-Dm")
OPEN_SEVENTHS = ("open-A7", "open-E7", "open-D7", "open-G7", "open-B7", "open-C7")
NO_INDEX = ("open-E-no-index",)
SMALL = ("small-G", "small-C", "small-D", "small-G7")
SMALL_BARRE = ("small-F", "small-Bm")
MINORS = ("A-minor", "E-minor")
A_MAJORS = ("A-major-partial", "A-major")
SEVENTHS = ("E-7", "E-m7", "A-7", "A-m7")
LATER = ("E-maj7", "A-maj7", "E-sus4", "A-sus4", "D-major", "C-major-inner", "G-major-inner")

# shape -> rung of the teaching order [common practice, no source]
RUNGS: Mapping[str, int] = {
    shape: rung
    for rung, shapes in enumerate(
        (
            (*OPEN_TRIADS, *SMALL),
            NO_INDEX,
            SMALL_BARRE,
            ("E-major",),
            MINORS,
            A_MAJORS,
            (*OPEN_SEVENTHS, *SEVENTHS),
            LATER,
        )
    )
    for shape in shapes
}

# Keys that open chords reach, in the order in which they are taught [C].
FIRST_KEYS = ("G", "C", "D", "A", "E", "A minor", "E minor")
SHORTLIST = 24

# Of a form without the index, and of a small form of a barre chord, one at a time is enough.
GROUNDWORK = (RUNGS[NO_INDEX[0]], RUNGS[SMALL_BARRE[0]])

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


# -- the guards
# -------------------------------------------------------------------------------------------------------


def word(facts: StudentFacts, today: dt.date) -> Said | None:
    """Why there is less to suggest than usual, or nothing; None when nothing holds back."""
    level = advice(facts.notes, today).level if facts.hand_consent else ""
    if level == SEE_SOMEONE:
        return said("suggest-rest")
    if level == PAUSE:
        return said("suggest-pause")
    new, limit = _new_chords(facts, today)
    if new >= limit:
        return said("suggest-enough-new", count=new)
    return said("suggest-light-only") if _eased(facts, today) else None


def _eased(facts: StudentFacts, today: dt.date) -> bool:
    if not facts.hand_consent:
        return False
    notes = [note for note in facts.notes if note.day <= today]
    return bool(open_notes(notes)) or advice(notes, today).level == EASE_OFF


def _new_chords(facts: StudentFacts, today: dt.date) -> tuple[int, int]:
    """Active chord goals set in the last seven days, and how many there may be."""
    since = today - dt.timedelta(days=7)
    new = sum(goal.kind == "chord" and since < goal.set_on <= today for goal in facts.active_goals)
    first = (today - facts.joined).days < FIRST_DAYS
    return new, NEW_A_WEEK_AT_FIRST if first or _is_child(facts) else NEW_A_WEEK


def _is_child(facts: StudentFacts) -> bool:
    return facts.age is not None and facts.age < CHILD_UNDER


# -- what the student has
# ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Hand:
    """secure: voicings by the log; known: these and the open chords taken as known; pairs: chords in hand, by
    whatever voicing; most: the heaviest secure grip demand (of the open chords taken as known, without one).
    """

    secure: tuple[theory.Voicing, ...]
    known: tuple[theory.Voicing, ...]
    pairs: frozenset[Pair]
    most: float

    def shapes(self) -> set[str]:
        return {voicing.shape for voicing in self.secure}

    @property
    def barres(self) -> tuple[int, ...]:
        """Positions of the full barres that are secure."""
        return tuple(voicing.position for voicing in self.secure if voicing.has_barre)


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


def _in_hand(facts: StudentFacts, today: dt.date) -> _Hand:
    secure: dict[theory.Voicing, None] = {}
    pairs: set[Pair] = set()
    moves, bases = False, set[str]()
    for goal in facts.goals:
        if goal.kind in ("chord", "change"):
            moves |= any(_is_movable(one) for one in goal.theory.chords)
            bases.update(one.shape.removesuffix("-no-index") for one in goal.theory.chords if one.shape in NO_INDEX)
            if was_secure(goal, today):
                secure.update(dict.fromkeys(_placed(goal, facts.instrument)))
        elif goal.kind == "progression" and any(mark.day <= today for mark in goal.own_marks):
            pairs.update(pair for pair, _ in _asked(goal))
    known = dict(secure)
    opened = (_place(shape, None, facts.instrument) for shape in (OPEN_TRIADS if moves else sorted(bases)))
    known.update(dict.fromkeys(voicing for voicing in opened if voicing is not None))
    pairs.update(map(_pair, known))
    demands = [theory.grip_demand(voicing, facts.hand).total for voicing in secure or known]
    return _Hand(tuple(secure), tuple(known), frozenset(pairs), max(demands, default=0.0))


# -- what the keys ask
# -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Need:
    """A chord that a goal or a key in hand asks for. root: as spelled there."""

    root: theory.Note
    points: float
    says: Said


def _asked(goal: GoalFacts) -> Iterator[tuple[Pair, theory.Chord]]:
    """The chords of a progression; a numeral that cannot be read is left out."""
    for numeral in goal.theory.numerals:
        try:
            chord = theory.Key.parse(goal.theory.key).numeral(numeral).chord if goal.theory.key else None
        except theory.TheoryError:
            chord = None
        if chord is None:
            try:
                chord = theory.read_chord(numeral)
            except theory.TheoryError:
                continue
        yield (chord.root.pitch_class, chord.quality), chord


def _needs(facts: StudentFacts, has: _Hand) -> dict[Pair, _Need]:
    """Chords not in hand that an active progression uses, else that a key in hand owns; the weightiest
    reason.
    """
    found: dict[Pair, _Need] = {}
    for goal in facts.active_goals:
        if goal.kind == "progression":
            for pair, chord in _asked(goal):
                if pair not in has.pairs:
                    says = said("suggest-progression", title=goal.title, symbol=chord.symbol)
                    found.setdefault(pair, _Need(chord.root, 3.0, says))
    keys, weight = _keys(facts), 1.0
    if not keys:
        keys, weight = _fitting_keys(has), 0.5
    for key in keys:
        own = [one for one in key.own_chords() if one.quality in ("major", "minor")]
        have = sum((one.root.pitch_class, one.quality) in has.pairs for one in own)
        for one in own:
            pair = (one.root.pitch_class, one.quality)
            if pair in has.pairs or pair in found:
                continue
            if have + 1 == len(own):
                points, says = 3.0, said("suggest-key-last", symbol=one.symbol, key=str(key), of=len(own))
            else:
                points = 1.0 + 1.5 * have / len(own)
                says = said("suggest-key", symbol=one.symbol, key=str(key), have=have, of=len(own))
            found[pair] = _Need(one.root, weight * points, says)
    return found


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
    return sorted(keys, key=lambda key: -sum((one.root.pitch_class, one.quality) in has.pairs for one in key.triads))[
        :1
    ]


# -- candidates
# --------------------------------------------------------------------------------------------------------


def _lowest_barre(positions: Iterable[int]) -> int:
    """The lowest fret that the next barre may have, from those secure: 5, then 3, then 2, then 1."""
    lowest = min(positions, default=99)
    return 5 if lowest > 24 else 3 if lowest >= 5 else 2 if lowest >= 3 else 1


def _opens(shape: str, has: _Hand, child: bool) -> bool:
    """Whether what a shape stands on is there."""
    secure = has.shapes()
    opened = {voicing.shape for voicing in has.known}
    triads = sum(one in opened for one in OPEN_TRIADS)
    if shape in OPEN_TRIADS:
        return True
    if shape in SMALL:
        return child
    if shape in SMALL_BARRE:
        return not has.barres and (triads >= 3 or (child and len(secure) >= 3))
    if shape in NO_INDEX:
        return not has.barres and shape.removesuffix("-no-index") in opened
    if shape in OPEN_SEVENTHS:
        return triads >= 5
    if child:
        return False
    if shape == "E-major":
        return "open-E" in opened or "open-E-no-index" in opened or bool(has.barres)
    majors = secure & set(A_MAJORS)
    if shape in MINORS:
        return "E-major" in secure
    if shape in A_MAJORS:
        return "E-major" in secure and bool(secure & set(MINORS))
    triad_of = {"E-7": {"E-major"}, "E-m7": {"E-minor"}, "A-7": set(A_MAJORS), "A-m7": {"A-minor"}}
    if shape in SEVENTHS:
        return bool(secure & triad_of[shape]) and len(secure & {"E-major", *MINORS}) + bool(majors) >= 3
    return bool(majors) and bool(secure & set(SEVENTHS))


def _roots(shape: str, needs: Mapping[Pair, _Need]) -> list[theory.Note]:
    """Roots worth asking: those needed, and the naturals for groundwork; spelled as the key spells them."""
    quality = theory.SHAPES[shape].quality
    roots = {need.root.pitch_class: need.root for pair, need in needs.items() if pair[1] == quality}
    for pitch_class in range(12):
        root = theory.common_root(pitch_class, quality)
        if len(str(root)) == 1 or pitch_class == 6:  # F sharp is the step from G down to F
            roots.setdefault(pitch_class, root)
    return list(roots.values())


def _candidates(facts: StudentFacts, has: _Hand, needs: Mapping[Pair, _Need]) -> Iterator[theory.Voicing]:
    child = _is_child(facts)
    lowest = _lowest_barre(has.barres)
    for shape in RUNGS:
        if not _opens(shape, has, child):
            continue
        moves = theory.SHAPES[shape].kind == "movable"
        for root in _roots(shape, needs) if moves else (None,):
            voicing = _place(shape, root, facts.instrument)
            if voicing is None or voicing.past_joint:
                continue
            if voicing.has_barre and (child or voicing.position < lowest):
                continue
            if voicing.has_barre and not has.barres and voicing.position > FIRST_BARRE[1]:
                continue
            yield voicing


def _taken(facts: StudentFacts, has: _Hand, today: dt.date) -> set[tuple[str, int]]:
    """(shape, pitch class of the root) of what is secure, active or set aside with its review to come."""
    goals = (goal for goal in facts.goals if not goal.set_aside or was_secure(goal, today))
    voicings = [voicing for goal in goals for voicing in _placed(goal, facts.instrument)]
    return {(voicing.shape, voicing.root.pitch_class) for voicing in (*voicings, *has.secure)}


# -- the score
# ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Scored:
    voicing: theory.Voicing
    terms: dict[str, float]
    reasons: tuple[Said, ...]

    @property
    def points(self) -> float:
        return math.fsum(self.terms.values())


def _score(voicing: theory.Voicing, facts: StudentFacts, has: _Hand, needs: Mapping[Pair, _Need], rung: int) -> _Scored:
    need = needs.get((voicing.root.pitch_class, voicing.quality))
    points, reasons = _step(voicing, has, rung)
    demand = theory.grip_demand(voicing, facts.hand).total
    terms = {"key": need.points if need else 0.0, "step": points, "ease": -0.25 * demand}
    if need:
        reasons.insert(0, need.says)
    if has.secure:
        terms["grip"] = -0.5 * max(0.0, demand - has.most)
        reasons.append(said("suggest-grip", demand=round(demand, 1), most=round(has.most, 1)))
    else:
        reasons.append(said("suggest-grip-alone", demand=round(demand, 1)))
    if has.known:
        least, title = min((theory.change_demand(one, voicing, facts.hand).total, one.title) for one in has.known)
        terms["change"] = -0.1 * least
        reasons.append(said("suggest-change", known=title, demand=round(least, 1)))
    return _Scored(voicing, terms, tuple(reasons))


def _step(voicing: theory.Voicing, has: _Hand, rung: int) -> tuple[float, list[Said]]:
    """What the teaching order gives: most for the next rung, less for each rung beyond it."""
    shape = voicing.shape
    same = [one for one in has.secure if one.shape == shape]
    if same:
        near = min(same, key=lambda one: (abs(one.position - voicing.position), one.position))
        again = said("suggest-same-shape", known=near.title)
        lowest = min(has.barres, default=FIRST_BARRE[0])
        if voicing.has_barre and voicing.position < lowest:
            return 4.5, [said("suggest-lower-fret", position=voicing.position, lowest=lowest), again]
        return 2.0, [again]
    kind = theory.SHAPES[shape].kind
    if shape in NO_INDEX:
        says = said("suggest-no-index")
    elif kind == "movable" and voicing.has_barre and not has.barres:
        says = said("suggest-first-barre", position=voicing.position)
    elif kind == "movable":
        says = said("suggest-next-shape")
    elif shape in OPEN_SEVENTHS:
        says = said("suggest-open-seventh")
    else:
        says = said("suggest-small-form" if kind == "small" else "suggest-open-chord")
    return max(0.0, 4.0 - 0.75 * (RUNGS[shape] - rung)), [says]


def next_chords(facts: StudentFacts, today: dt.date, count: int = 3) -> list[Suggestion]:
    """The best `count` things to set next, best first; fewer or none where a guard holds (`word` says which).

    Of one shape at most one suggestion, and of one chord at most one. Besides new chords there is at most one
    review: a goal that was set aside when secure and whose review has fallen due.
    """
    level = advice(facts.notes, today).level if facts.hand_consent else ""
    if level == SEE_SOMEONE or count < 1:
        return []
    if level == PAUSE:
        return _roots_to_find(facts, count)
    has = _in_hand(facts, today)
    limit = _comfortable(facts, has) if _eased(facts, today) else math.inf
    new, most_new = _new_chords(facts, today)
    found = _new(facts, has, today, limit) if new < most_new else []
    return _best_few(found + _review(facts, today, limit), count)


def in_turn(facts: StudentFacts, today: dt.date) -> tuple[theory.Voicing, ...]:
    """Every voicing whose turn it is by the teaching order, in that order, without what is active or secure
    already; while a hand note is open only what the hand may do. A week's count of new chords and a pause do
    not enter.
    """
    has = _in_hand(facts, today)
    limit = _comfortable(facts, has) if _eased(facts, today) else math.inf
    return _turns(facts, has, _needs(facts, has), today, limit)


def _turns(
    facts: StudentFacts, has: _Hand, needs: Mapping[Pair, _Need], today: dt.date, limit: float
) -> tuple[theory.Voicing, ...]:
    taken = _taken(facts, has, today)
    return tuple(
        voicing
        for voicing in _candidates(facts, has, needs)
        if (voicing.shape, voicing.root.pitch_class) not in taken
        and _within(voicing, facts, limit)
        and not _same_open_chord(voicing, has)
    )


def _new(facts: StudentFacts, has: _Hand, today: dt.date, limit: float) -> list[Suggestion]:
    """What could be set that is new, best first but for the cautions."""
    needs = _needs(facts, has)
    voicings = _turns(facts, has, needs, today, limit)
    rung = min((RUNGS[voicing.shape] for voicing in voicings if voicing.shape not in has.shapes()), default=0)
    scored = [_score(voicing, facts, has, needs, rung) for voicing in voicings]
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


def _same_open_chord(voicing: theory.Voicing, has: _Hand) -> bool:
    """An open chord that is in hand in another form already asks nothing new; a small form beside it neither."""
    kind = theory.SHAPES[voicing.shape].kind
    return kind in ("open", "small") and voicing.shape not in NO_INDEX and _pair(voicing) in has.pairs


def _comfortable(facts: StudentFacts, has: _Hand) -> float:
    """The heaviest grip that counts as comfortable: the heaviest known one without a barre, else an open E
    minor.
    """
    free = [voicing for voicing in has.known if not voicing.has_barre]
    if not free and (easy := _place("open-Em", None, facts.instrument)):
        free = [easy]
    return max((theory.grip_demand(one, facts.hand).total for one in free), default=0.0)


def _within(voicing: theory.Voicing, facts: StudentFacts, limit: float) -> bool:
    """Whether a grip stays within what a complaining hand may do; a limit without end allows all."""
    if limit == math.inf:
        return True
    return not voicing.has_barre and theory.grip_demand(voicing, facts.hand).total <= limit


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


def _review(facts: StudentFacts, today: dt.date, limit: float) -> list[Suggestion]:
    """The chord that was set aside when secure, is not in use since, and waits longest for its review."""
    waiting = []
    for goal in facts.goals:
        if goal.set_aside and goal.kind == "chord":
            stands = state(replace(goal, set_aside=False), today)
            voicing = next(_placed(goal, facts.instrument), None)
            if stands.code == REVIEW_DUE and stands.review_on and voicing and not _in_use(facts, voicing):
                waiting.append((stands.review_on, goal.code, goal, voicing))
    for due, _code, goal, voicing in sorted(waiting, key=lambda one: one[:2]):
        if _within(voicing, facts, limit):
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


def _roots_to_find(facts: StudentFacts, count: int) -> list[Suggestion]:
    """While barre work is paused: the roots along the lowest strings, which press nothing hard."""
    active = {goal.theory.string for goal in facts.active_goals if goal.kind == "roots"}
    found = []
    for weight, string in enumerate((6, 5, 4)):
        if string not in active and string <= facts.instrument.strings:
            goal = theory.Goal("roots", string=string)
            title, says = goal.title_text(facts.instrument), (said("suggest-roots"),)
            found.append(Suggestion(goal, "seconds", 40.0, title, None, says, {"step": 3.0 - weight}))
    return found[:count]
