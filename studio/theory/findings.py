"""What a teacher should know before setting a goal: `validate` returns findings, errors and cautions.

An error cannot be set: the chord is not there, or the goal says so itself ("the key's own chords only").
A caution can be set knowingly: it is hard here, or outside the key, or already set.

A `Finding` is a code, named values, an English template and, where there is one, a way out: the whole goal as
it would be after one tap.  The apps translate by code; `finding.message` is the English sentence.

`validate` never raises for a Goal, whatever it holds.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Generator, Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

from studio.theory.chords import QUALITIES, Chord, chord_tones, common_root
from studio.theory.demand import AVERAGE, Hand, check_hand, crowded_fret, grip_demand
from studio.theory.errors import GoalError, InstrumentError, NoteError, OffNeck, TheoryError
from studio.theory.goal import KINDS, MAX_ITEMS, ChordTerm, Goal
from studio.theory.instrument import Instrument, read_instrument
from studio.theory.keys import Key
from studio.theory.neck import everywhere, lightest, within
from studio.theory.pitch import Note, alphabet
from studio.theory.route import read_step
from studio.theory.shapes import SHAPES
from studio.theory.voicing import Voicing, place

Level = Literal["error", "caution"]

FIRST_BARRE = (5, 7)  # where a first barre is taught (common practice, no source)
LOW_BARRE = 2  # fret 1 or 2 is no place for a first one (common practice, no source)


@dataclass(frozen=True, slots=True)
class Context:
    """What is known of the student.

    new_to_barres : no barre is secure yet.  open_hand_note : one of the hand notes is still open.
    active_goals : the goals that the student has now.
    """

    new_to_barres: bool = False
    open_hand_note: bool = False
    active_goals: tuple[Goal, ...] = ()


@dataclass(frozen=True, slots=True)
class WayOut:
    """One tap that answers a finding: a label (English template and values) and the goal as it would then
    be."""

    template: str
    values: Mapping[str, object]
    goal: Goal

    @property
    def label(self) -> str:
        """The label in English."""
        return self.template.format(**self.values)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to know about a goal.

    code : for translation, listed in CODES.  level : "error" or "caution".  values : what fills the template.
    way_out : the best one, or None.  more : others.  field : the term it is about, chord : which chord (0, 1)
    or None.
    """

    code: str
    level: Level
    values: Mapping[str, object]
    template: str
    way_out: WayOut | None = None
    more: tuple[WayOut, ...] = ()
    field: str = ""
    chord: int | None = None

    @property
    def message(self) -> str:
        """The finding as a teacher would say it, in English."""
        return self.template.format(**self.values)

    @property
    def is_error(self) -> bool:
        """Whether it blocks saving."""
        return self.level == "error"

    @property
    def ways_out(self) -> tuple[WayOut, ...]:
        """Every way out, the best first."""
        return (self.way_out, *self.more) if self.way_out else ()


#: code -> (level, field, English template).  The apps translate templates and way-out labels by code.
CODES: Mapping[str, tuple[Level, str, str]] = MappingProxyType(
    {
        # errors: cannot be set
        "kind-unknown": ("error", "kind", "{kind} is no kind of goal; there are {kinds}."),
        "chords-missing": ("error", "chords", "Choose {wanted} for this goal."),
        "change-same": ("error", "chords", "A change needs two different voicings; both are {title}."),
        "root-unknown": (
            "error",
            "root",
            "{root} is not a note. Write a letter from A to G, with # or b if it needs one.",
        ),
        "shape-unknown": ("error", "shape", "{shape} is not a shape in the catalogue."),
        "position": ("error", "position", "{position} is not a fret that a shape can stand at."),
        "tuning-breaks-shape": (
            "error",
            "shape",
            "{name} is lost in the tuning {tuning}, because it uses {strings}.",
        ),
        "past-last-fret": (
            "error",
            "position",
            "{symbol} with this shape would reach fret {highest}; the neck ends at {last}{capo}.",
        ),
        "position-root": (
            "error",
            "position",
            "At fret {position} this shape gives {there}; {asked} is at fret {lowest}.",
        ),
        "open-form": ("error", "root", "{name} with its open strings gives {own}, not {asked}."),
        "off-neck": ("error", "shape", "{reason}"),
        "capo": ("error", "capo", "A capo at {capo} leaves too little of this neck: put it at 0 to {last}."),
        "key-unknown": (
            "error",
            "key",
            "{key} is not a key. Write a note and major or minor, like Bb or F# minor.",
        ),
        "not-own-chord": (
            "error",
            "key",
            "{symbol} is not one of {key}'s own chords, and only those were asked for.",
        ),
        "numerals-missing": ("error", "numerals", "Write the progression: I vi IV V, or chords."),
        "numeral-unknown": ("error", "numerals", "{numeral} cannot be read{key}: {reason}."),
        "key-missing": ("error", "key", "{numeral} is a numeral: choose a key for it."),
        "no-shape": ("error", "numerals", "No shape in the catalogue gives {symbol}."),
        "no-place": (
            "error",
            "shapes",
            "{symbol} cannot be had with the shapes chosen{window}, so there is no way through.",
        ),
        "window": ("error", "window", "The fret window must run from a lower to a higher fret, 0 to {last}."),
        "metre": ("error", "metre", "{metre} is not a metre; write it like 4/4, 3/4 or 6/8."),
        "beats": ("error", "beats_per_chord", "Give each chord 1 to 32 beats, not {beats}."),
        "string": ("error", "string", "Choose a string from 1 to {strings}."),
        "note-unknown": ("error", "notes", "{note} is not a note."),
        "title-missing": ("error", "title", "Give the piece or exercise a name."),
        # cautions: can be set knowingly
        "borrowed": ("caution", "key", "{symbol} is not in {key}: it is borrowed from {parallel}."),
        "outside-key": ("caution", "key", "{symbol} is not in {key}."),
        "past-joint": (
            "caution",
            "position",
            "{symbol} stands at fret {position}, beyond the body joint at {joint}: the body is in the way.",
        ),
        "crowded": (
            "caution",
            "shape",
            "{count} fingertips in fret {fret} need about {needed} mm together; that fret has {there} mm.",
        ),
        "first-barre-low": (
            "caution",
            "position",
            "Fret {position} is a hard place for a first barre ({symbol}); frets 5 to 7 are easier.",
        ),
        "stretch": (
            "caution",
            "shape",
            "{symbol} here spans {frets} frets ({mm} mm); this hand reaches {reach} mm in comfort.",
        ),
        "duplicate": ("caution", "kind", "{title} is already an active goal."),
        "respell": ("caution", "root", "{key} writes this chord as {right}, not {symbol}."),
        "odd-spelling": (
            "caution",
            "root",
            "Written as {symbol} this chord has {notes} in it; {right} is the usual name.",
        ),
        "open-hand-note": (
            "caution",
            "kind",
            "There is an open hand note: ask how the hand is before setting {title}.",
        ),
    }
)


def _finding(code: str, ways: tuple[WayOut, ...] = (), chord: int | None = None, **values: object) -> Finding:
    level, where, template = CODES[code]
    return Finding(
        code,
        level,
        MappingProxyType(values),
        template,
        ways[0] if ways else None,
        ways[1:],
        where,
        chord,
    )


def _say(value: object) -> str:
    """A typed value as it may stand in a sentence: short, and never empty."""
    text = value if isinstance(value, str) else repr(value)
    text = text.strip()
    return (text if len(text) <= 40 else text[:39] + "…") or "An empty field"


def _natural(value: object, low: int, high: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high


# -- the entry -----------------------------------------------------------------------------------------------


def validate(
    goal: Goal,
    instrument: Instrument | str = "steel-string",
    hand: Hand = AVERAGE,
    context: Context = Context(),
) -> list[Finding]:
    """Everything to know before a goal is set: errors first, then cautions, each in the order of its chords.

    goal : any Goal.  instrument : the student's Instrument or a preset's id.  hand : the student's Hand.
    context : what else is known of the student.
    Raises InstrumentError, TheoryError and GoalError for an instrument, a hand, a context or a goal of another
    type; for a Goal, whatever it holds, it never raises.

    >>> [finding.code for finding in validate(Goal("chord", (ChordTerm("E-major", "H"),)))]
    ['root-unknown']
    """
    instrument = read_instrument(instrument)
    check_hand(hand)
    for value, wanted in ((goal, Goal), (context, Context)):
        if not isinstance(value, wanted):
            raise GoalError("{value} is no {wanted}.", code="goal", value=_say(value), wanted=wanted.__name__)
    if goal.kind not in KINDS:
        return [_finding("kind-unknown", kind=_say(goal.kind), kinds=", ".join(KINDS))]
    check = _Check(goal, instrument, hand, context)
    found = list(check.run())
    return sorted(found, key=lambda finding: finding.level != "error")


@dataclass(slots=True)
class _Check:
    """One validation: the goal and what it is checked against, and the instrument with the goal's capo."""

    goal: Goal
    instrument: Instrument
    hand: Hand
    context: Context
    neck: Instrument = field(init=False)
    key: Key | None = field(init=False, default=None)

    def run(self) -> Iterator[Finding]:
        goal = self.goal
        self.neck = self.instrument
        if goal.capo != 0 or isinstance(goal.capo, bool):
            try:
                self.neck = self.instrument.with_(capo=goal.capo)
            except InstrumentError:
                last = self.instrument.frets - 5
                way = WayOut("Take the capo off", MappingProxyType({}), goal.with_(capo=0))
                yield _finding("capo", (way,), capo=_say(goal.capo), last=last)
                return
        if goal.key is not None and goal.kind != "piece":
            try:
                self.key = Key.parse(goal.key)
            except TheoryError:
                yield _finding("key-unknown", key=_say(goal.key))
        voicings: list[Voicing] = []
        if goal.kind in ("chord", "change"):
            voicings = yield from self._chords()
        elif goal.kind == "progression":
            yield from self._progression()
        elif goal.kind == "roots":
            yield from self._roots()
        elif not isinstance(goal.title, str) or not goal.title.strip():
            yield _finding("title-missing")
        yield from self._duplicate(voicings)
        if self.context.open_hand_note and goal.kind in ("chord", "change", "progression"):
            ways = self._lighter(voicings[0]) if len(voicings) == 1 else ()
            yield _finding("open-hand-note", ways, title=goal.title_text(self.instrument))

    # -- chords and changes ----------------------------------------------------------------------------------

    def _chords(self) -> Generator[Finding, None, list[Voicing]]:
        """Findings on the chords; returns the voicings that could be placed."""
        goal = self.goal
        wanted = 1 if goal.kind == "chord" else 2
        if not isinstance(goal.chords, (tuple, list)) or len(goal.chords) != wanted:
            yield _finding("chords-missing", wanted="one chord" if wanted == 1 else "two chords")
            return []
        voicings = []
        for index, term in enumerate(goal.chords):
            voicing = yield from self._placed(index, term)
            if voicing is not None:
                voicings.append(voicing)
                yield from self._in_key(voicing.root, voicing.quality, voicing.symbol, index)
                yield from self._spelled(voicing, index)
                yield from self._in_hand(voicing, index)
        if len({(voicing.frets, voicing.fingers) for voicing in voicings}) < len(voicings):
            yield _finding("change-same", title=voicings[0].title)
        return voicings

    def _placed(self, index: int, term: ChordTerm) -> Generator[Finding, None, Voicing | None]:
        try:
            return place(term.shape, term.root, self.neck, term.position)
        except OffNeck as error:
            values = dict(error.values)
            if error.code not in CODES:
                yield _finding("off-neck", self._instead(index, error), index, reason=error.reason)
            else:
                if isinstance(values.get("name"), str):
                    values["name"] = "The " + str(values["name"])
                yield _finding(error.code, self._instead(index, error), index, **values)
        except NoteError:
            ways: tuple[WayOut, ...] = ()
            shape = SHAPES.get(term.shape) if isinstance(term.shape, str) else None
            if shape is not None:
                ways = tuple(
                    self._way(index, ChordTerm(shape.id, root), "Use {root}", root=root)
                    for root in _near_roots(term.root, shape.quality)
                )
            yield _finding("root-unknown", ways, index, root=_say(term.root))
        except TheoryError as error:
            if error.code == "position":
                way = self._way(index, ChordTerm(term.shape, term.root), "Let the shape find its fret")
                yield _finding("position", (way,), index, position=_say(term.position))
            elif error.code in ("shape-unknown", "root-missing"):
                code = "shape-unknown" if error.code == "shape-unknown" else "root-unknown"
                yield _finding(code, (), index, shape=_say(term.shape), root=_say(term.root))
            else:
                yield _finding("off-neck", (), index, reason=str(error))
        except AttributeError:
            yield _finding("chords-missing", (), index, wanted="a shape and a root")
        return None

    def _way(self, index: int, term: ChordTerm, template: str, **values: object) -> WayOut:
        return WayOut(template, MappingProxyType(values), self.goal.with_chord(index, term))

    def _to(self, index: int, voicing: Voicing, template: str = "Use {title}") -> WayOut:
        # Leave out a position that `place` finds by itself, so that the same goal is written in one way only.
        plain = _at_home(voicing)
        term = ChordTerm(voicing.shape, str(voicing.root), None if plain else voicing.position)
        return self._way(index, term, template, title=voicing.title)

    def _instead(self, index: int, error: OffNeck) -> tuple[WayOut, ...]:
        if error.instead is None:
            return ()
        return (self._to(index, place(error.instead[0], error.instead[1], self.neck, error.instead[2])),)

    def _in_key(self, root: Note, quality: str, symbol: str, index: int | None) -> Iterator[Finding]:
        key = self.key
        if key is None:
            return
        standing = key.standing(root, quality)
        if standing == "own":
            return
        if self.goal.own_chords_only is True:
            way = WayOut("Allow other chords too", MappingProxyType({}), self.goal.with_(own_chords_only=False))
            yield _finding("not-own-chord", (way,), index, symbol=symbol, key=str(key))
        elif standing == "borrowed":
            yield _finding("borrowed", (), index, symbol=symbol, key=str(key), parallel=str(key.parallel))
        else:
            yield _finding("outside-key", (), index, symbol=symbol, key=str(key))

    def _spelled(self, voicing: Voicing, index: int) -> Iterator[Finding]:
        root, quality = voicing.root, voicing.quality
        term = self.goal.chords[index]
        if self.key is not None:
            right = self.key.spell_root(root, quality)
            if right != root:
                symbol = f"{right}{QUALITIES[quality].suffix}"
                way = self._way(index, ChordTerm(term.shape, str(right), term.position), "Write {right}", right=symbol)
                yield _finding("respell", (way,), index, key=str(self.key), right=symbol, symbol=voicing.symbol)
            return
        odd = _odd_notes(root, quality)
        if odd:
            right = common_root(root.pitch_class, quality)
            if right != root and len(_odd_notes(right, quality)) < len(odd):
                symbol = f"{right}{QUALITIES[quality].suffix}"
                way = self._way(index, ChordTerm(term.shape, str(right), term.position), "Write {right}", right=symbol)
                yield _finding(
                    "odd-spelling",
                    (way,),
                    index,
                    symbol=voicing.symbol,
                    notes=" and ".join(odd),
                    right=symbol,
                )

    def _in_hand(self, voicing: Voicing, index: int) -> Iterator[Finding]:
        neck, hand = self.neck, self.hand
        if voicing.past_joint:
            ways = self._elsewhere(voicing, index, lambda v: not v.past_joint, same_first=True)
            yield _finding(
                "past-joint",
                ways,
                index,
                symbol=voicing.symbol,
                position=voicing.position,
                joint=neck.joint - neck.capo,
            )
        crowd = crowded_fret(voicing, hand)
        if crowd is not None:
            fret, needed, there = crowd
            count = _fingers_in(voicing, fret)
            if count >= 3:
                if voicing.shape == "A-major":
                    ways = (self._partial(voicing, index),)
                else:
                    ways = self._elsewhere(voicing, index, lambda v: crowded_fret(v, hand) is None)
                yield _finding(
                    "crowded",
                    ways,
                    index,
                    count={3: "Three", 4: "Four"}[count],
                    fret=fret,
                    needed=round(needed),
                    there=round(there),
                )
        if self.context.new_to_barres and voicing.has_barre and voicing.position <= LOW_BARRE:
            yield _finding(
                "first-barre-low",
                self._first_barres(voicing, index),
                index,
                symbol=voicing.symbol,
                position=voicing.position,
            )
        if voicing.stretch_mm > hand.reach:
            reach = hand.reach
            ways = self._elsewhere(voicing, index, lambda v: v.stretch_mm <= reach)
            yield _finding(
                "stretch",
                ways,
                index,
                symbol=voicing.symbol,
                frets=voicing.stretch_frets + 1,
                mm=round(voicing.stretch_mm),
                reach=round(reach),
            )

    def _partial(self, voicing: Voicing, index: int) -> WayOut:
        term = self.goal.chords[index]
        return self._way(
            index,
            ChordTerm("A-major-partial", term.root, term.position),
            "Use the partial barre",
            title=voicing.title,
        )

    def _elsewhere(
        self,
        voicing: Voicing,
        index: int,
        good: Callable[[Voicing], bool],
        same_first: bool = False,
    ) -> tuple[WayOut, ...]:
        """Up to two other places of the same chord that are `good`: the same kind first, then the nearest."""
        found = [
            other
            for other in everywhere(voicing.root, voicing.quality, self.neck)
            if (other.shape, other.position) != (voicing.shape, voicing.position) and good(other)
        ]
        found.sort(
            key=lambda other: (
                same_first and other.shape != voicing.shape,
                other.past_joint,
                SHAPES[other.shape].kind != SHAPES[voicing.shape].kind,
                abs(other.position - voicing.position),
            )
        )
        return tuple(self._to(index, other) for other in found[:2])

    def _first_barres(self, voicing: Voicing, index: int) -> tuple[WayOut, ...]:
        """Where a first barre is easier: the chord with a barre at fret 5 to 7, a small form, the shape at
        fret 5."""
        low, high = FIRST_BARRE
        ways = []
        family = everywhere(voicing.root, voicing.quality, self.neck)
        middle = [v for v in family if v.has_barre and low <= v.position <= high and v.stretch_frets <= 2]
        ways += [self._to(index, other) for other in middle[:1]]
        small = [v for v in family if SHAPES[v.shape].kind == "small" and v.position <= LOW_BARRE]
        ways += [self._to(index, other) for other in small[:1]]
        shape = SHAPES[voicing.shape]
        for position in range(low, high + 1):
            root = common_root(voicing.root.pitch_class + position - voicing.position, voicing.quality)
            if root.is_natural and shape.moves:
                try:
                    other = place(shape.id, root, self.neck, position)
                except TheoryError:  # a neck too short for it
                    continue
                ways.append(self._to(index, other, "Start with {title}"))
                break
        return tuple(ways)

    def _lighter(self, voicing: Voicing) -> tuple[WayOut, ...]:
        """The place of the same chord that asks least of the hand, if it asks clearly less."""
        found = lightest(voicing.root, voicing.quality, self.neck, self.hand)
        if found is None or found[1] > grip_demand(voicing, self.hand).total - 1:
            return ()
        return (self._to(0, found[0], "Use the lighter {title}"),)

    # -- progressions ----------------------------------------------------------------------------------------

    def _progression(self) -> Iterator[Finding]:
        goal, last = self.goal, self.neck.last_fret
        if not isinstance(goal.metre, str) or not _METRE.fullmatch(goal.metre):
            way = WayOut("Use 4/4", MappingProxyType({}), goal.with_(metre="4/4"))
            yield _finding("metre", (way,), metre=_say(goal.metre))
        if not _natural(goal.beats_per_chord, 1, 32):
            way = WayOut("Use 4 beats", MappingProxyType({}), goal.with_(beats_per_chord=4))
            yield _finding("beats", (way,), beats=_say(goal.beats_per_chord))
        window = goal.window
        if window is not None and not (
            isinstance(window, (tuple, list))
            and len(window) == 2
            and _natural(window[0], 0, last)
            and _natural(window[1], window[0], last)
        ):
            way = WayOut("Use the whole neck", MappingProxyType({}), goal.with_(window=None))
            yield _finding("window", (way,), last=last)
            window = None
        shapes = goal.shapes if isinstance(goal.shapes, (tuple, list)) else ()
        for shape in shapes:
            if not isinstance(shape, str) or shape not in SHAPES:
                kept = tuple(s for s in shapes if s != shape)
                way = WayOut("Leave it out", MappingProxyType({}), goal.with_(shapes=kept))
                yield _finding("shape-unknown", (way,), shape=_say(shape), root="")
        if not isinstance(goal.numerals, (tuple, list)) or not 1 <= len(goal.numerals) <= MAX_ITEMS:
            yield _finding("numerals-missing")
            return
        for numeral in {repr(numeral): numeral for numeral in goal.numerals}.values():
            chord = yield from self._numeral(numeral)
            if chord is not None:
                yield from self._passable(chord, shapes, window)

    def _numeral(self, numeral: object) -> Generator[Finding, None, Chord | None]:
        """Findings on one numeral or chord symbol; returns the chord."""
        reason: object = "write it like IV, vi or bVII, or as a chord symbol"
        if isinstance(numeral, str):
            try:
                return read_step(numeral, self.key)
            except TheoryError as error:
                if error.code == "key-missing":
                    if self.goal.key is None:  # else the key itself could not be read, which has been said
                        yield _finding("key-missing", numeral=_say(numeral))
                    return None
                reason = error.values.get("reason", reason)
        key = f" in {self.key}" if self.key is not None else ""
        yield _finding("numeral-unknown", numeral=_say(numeral), key=key, reason=reason)
        return None

    def _passable(self, chord: Chord, shapes: tuple[str, ...], window: tuple[int, int] | None) -> Iterator[Finding]:
        """Findings on one chord of a progression: of all the places it may take, so that no route is
        presumed."""
        symbol = chord.symbol
        yield from self._in_key(chord.root, chord.quality, symbol, None)
        lives = list(everywhere(chord.root, chord.quality, self.neck))
        if chord.bass is not None:  # D/F#: only voicings with the F# lowest
            lives = [v for v in lives if v.bass.pitch_class == chord.bass.pitch_class]
        if not lives:
            yield _finding("no-shape", symbol=symbol)
            return
        allowed = [v for v in lives if (not shapes or v.shape in shapes) and (window is None or within(v, window))]
        if not allowed:
            ways = []
            if window is not None and (not shapes or any(v.shape in shapes for v in lives)):
                ways.append(WayOut("Use the whole neck", MappingProxyType({}), self.goal.with_(window=None)))
            if shapes and (window is None or any(within(v, window) for v in lives)):
                ways.append(WayOut("Allow every shape", MappingProxyType({}), self.goal.with_(shapes=())))
            if not ways:
                free = self.goal.with_(window=None, shapes=())
                ways.append(WayOut("Allow every shape on the whole neck", MappingProxyType({}), free))
            where = f" between frets {window[0]} and {window[1]}" if window is not None else ""
            yield _finding("no-place", tuple(ways), symbol=symbol, window=where)
            return
        if self.context.new_to_barres and all(v.has_barre and v.position <= LOW_BARRE for v in allowed):
            yield _finding("first-barre-low", symbol=symbol, position=min(v.position for v in allowed))
        if all(v.past_joint for v in allowed):
            least = min(allowed, key=lambda v: v.position)
            joint = self.neck.joint - self.neck.capo
            yield _finding("past-joint", symbol=symbol, position=least.position, joint=joint)
        if all(v.stretch_mm > self.hand.reach for v in allowed):
            least = min(allowed, key=lambda v: v.stretch_mm)
            yield _finding(
                "stretch",
                symbol=symbol,
                frets=least.stretch_frets + 1,
                mm=round(least.stretch_mm),
                reach=round(self.hand.reach),
            )

    # -- roots, duplicates -----------------------------------------------------------------------------------

    def _roots(self) -> Iterator[Finding]:
        goal = self.goal
        if not _natural(goal.string, 1, self.neck.strings):
            yield _finding("string", strings=self.neck.strings)
        notes = goal.notes if isinstance(goal.notes, (tuple, list)) else (goal.notes,)
        if len(notes) == 1 and notes[0] in ("naturals", "twelve"):
            return
        for note in notes:
            try:
                Note(note)
            except TheoryError:
                kept = tuple(other for other in notes if other != note)
                way = WayOut("Leave it out", MappingProxyType({}), goal.with_(notes=kept))
                yield _finding("note-unknown", (way,), note=_say(note))

    def _duplicate(self, voicings: list[Voicing]) -> Iterator[Finding]:
        goal = self.goal
        mine: object = None
        for other in self.context.active_goals:
            if other.kind != goal.kind or (goal.code and goal.code == other.code):
                continue
            mine = mine if mine is not None else self._same_as(goal)
            if self._same_as(other) == mine:
                yield _finding("duplicate", self._next_root(voicings), title=goal.title_text(self.instrument))
                return

    def _same_as(self, goal: Goal) -> object:
        """What two goals must share to be the same work: spelling and an unsaid position do not count."""
        chords: list[object] = []
        for term in goal.chords if isinstance(goal.chords, (tuple, list)) else ():
            try:
                voicing = place(term.shape, term.root, self.neck, term.position)
                chords.append((voicing.shape, voicing.position, voicing.root.pitch_class))
            except (TheoryError, AttributeError):
                chords.append(repr(term))
        if goal.kind in ("chord", "change"):
            return chords, goal.capo
        if goal.kind == "piece":
            return str(goal.title).casefold().strip(), str(goal.section).casefold().strip(), goal.from_memory
        return repr(goal.with_(code="", title="", section=""))

    def _next_root(self, voicings: list[Voicing]) -> tuple[WayOut, ...]:
        """The same shape at the next natural root up the string."""
        if self.goal.kind != "chord" or len(voicings) != 1:
            return ()
        voicing = voicings[0]
        string = -voicing.root_string
        fret = voicing.frets[string]
        if fret is None or not SHAPES[voicing.shape].moves:
            return ()
        taken = {repr(self._same_as(goal)) for goal in self.context.active_goals}
        for step in alphabet(self.neck.tuning[string], self.neck.last_fret):
            if step.fret > fret:
                root, position = step.note.without_octave(), voicing.position + step.fret - fret
                try:
                    way = self._to(0, place(voicing.shape, root, self.neck, position))
                except TheoryError:  # the neck ends
                    return ()
                if repr(self._same_as(way.goal)) not in taken:
                    return (way,)
        return ()


_METRE = re.compile(r"(?:[1-9]|1[0-9])/(?:1|2|4|8|16)")


def _at_home(voicing: Voicing) -> bool:
    """Whether `place` finds this position by itself."""
    try:
        return place(voicing.shape, voicing.root, voicing.instrument).position == voicing.position
    except TheoryError:
        return False


def _fingers_in(voicing: Voicing, fret: int) -> int:
    fingers = [f for n, f in zip(voicing.frets, voicing.fingers, strict=True) if n == fret and f]
    return len([finger for finger in fingers if voicing.fingers.count(finger) == 1])


def _odd_notes(root: Note, quality: str) -> tuple[str, ...]:
    """Chord tones that need a double sharp or flat, where the quality does not make them usual (dim7
    does)."""
    if quality == "dim7":
        return ()
    return tuple(str(note) for note in chord_tones(root, quality) if abs(note.accidental) > 1)


def _near_roots(text: object, quality: str) -> tuple[str, ...]:
    """What a mistyped root may have meant: its letter; for the German H a B."""
    letter = text.strip()[:1].upper() if isinstance(text, str) else ""
    letter = {"H": "B"}.get(letter, letter)
    return (letter,) if letter in tuple("ABCDEFG") else ()
