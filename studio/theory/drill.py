"""Root notes along a string: the musical alphabet counted up to a root, questions, and their marking.

A movable shape is worth as much as its player's knowledge of the string that carries the root. Beginners
count up the alphabet from the open string (two frets a letter, one from B to C and from E to F); the drill
makes that quick.

Conventions
-----------
- Strings are numbered 1 (the highest) to 6 or more. Frets count from the nut, and from the capo where there
  is one: with a capo a chord keeps the name it is fingered by, so the walk is the same.
- A question asks for one of the twelve notes between the open string and fret 11; a note an octave higher is
  right too.
- Texts are English; an app that translates takes `template` and `values`.

References
----------
Counting up the alphabet, seven naturals before the twelve: common practice, no source. The weights are this
module's own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from studio.theory.errors import NoteError, OffNeck, TheoryError
from studio.theory.instrument import STRING, Instrument, read_instrument
from studio.theory.keys import Key
from studio.theory.pitch import Note, Step, alphabet, common_note

__all__ = [
    "Answer",
    "Mark",
    "Question",
    "Walk",
    "count_up",
    "mark",
    "pick",
    "questions",
    "ready_for_twelve",
    "root_frets",
    "weights",
]

Asks = Literal["find", "name"]

# -- counting up -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Walk:
    """The way to a root by counting up the alphabet.

    string : 1 the highest.  open_note : the open string.  steps : (fret, natural note) passed, the open
    string included where it is natural, up to the root's own letter.  bend : frets from that letter to the
    root, -1 for a flat. root, fret : where it ends.
    """

    string: int
    open_note: Note
    steps: tuple[Step, ...]
    root: Note
    bend: int
    fret: int

    @property
    def values(self) -> Mapping[str, object]:
        """What `template` is filled with."""
        return MappingProxyType({"walk": self.walk, "root": str(self.root), "fret": self.fret, "count": abs(self.bend)})

    @property
    def walk(self) -> str:
        """The letters passed: "open E, F 1, G 3"."""
        words = [f"open {self.open_note}"]
        words += [f"{step.note} {step.fret}" for step in self.steps if step.fret]
        return ", ".join(words)

    @property
    def template(self) -> str:
        """English sentence for `values`."""
        if self.bend < 0:
            return "{walk}, then {count} down: {root} {fret}" if self.fret else "{walk}, then {count} down: open {root}"
        return "{walk}, then {count} up: {root} {fret}" if self.bend else "{walk}"

    @property
    def text(self) -> str:
        """The walk in English: "open E, F 1, G 3, A 5"; "open A, B 2, then 1 down: Bb 1"."""
        return self.template.format(**self.values)

    def __str__(self) -> str:
        return self.text


def count_up(string: int, root: str | Note, instrument: str | Instrument = "steel-string") -> Walk:
    """The walk from the open string up to a root, letter by letter.

    string : int, 1 (the highest) to the number of strings.  root : note name or Note.
    instrument : an Instrument or a preset's id.
    A sharp or flat root is reached from its own letter, so the walk to B-flat passes B.
    Raises NoteError, InstrumentError, and OffNeck where the neck ends before the root.

    >>> count_up(6, "A").text, count_up(5, "D").text
    ('open E, F 1, G 3, A 5', 'open A, B 2, C 3, D 5')
    >>> count_up(6, "Bb").text
    'open E, F 1, G 3, A 5, B 7, then 1 down: Bb 6'
    """
    guitar = read_instrument(instrument)
    guitar.check_point(string, 0)
    note = Note(root).without_octave()
    midi = guitar.tuning[-string]
    steps = alphabet(midi, min(36, 127 - midi))
    for step in steps:
        fret = step.fret + note.accidental
        if step.note.letter == note.letter and fret >= 0:
            break
    else:  # pragma: no cover - two octaves hold each letter twice, and a note bends by four frets at most
        raise AssertionError(note)
    if fret > guitar.last_fret:
        raise OffNeck(
            "{root} on the {string} is at fret {fret}; this neck ends at {last}.",
            code="past-last-fret",
            values={
                "root": str(note),
                "string": STRING[string],
                "fret": fret,
                "last": guitar.last_fret,
            },
        )
    passed = tuple(Step(each.fret, each.note.without_octave()) for each in steps if each.fret <= step.fret)
    return Walk(string, guitar.open_notes[-string].without_octave(), passed, note, note.accidental, fret)


def root_frets(string: int, root: str | Note, instrument: str | Instrument = "steel-string") -> tuple[int, ...]:
    """Every fret from the open string to the last at which a string gives a root, counted from nut or capo.

    string : int, 1 (the highest) to the number of strings.  root : note name or Note.
    instrument : an Instrument or a preset's id.  () where the neck ends before the first.
    Raises NoteError and InstrumentError.

    >>> root_frets(6, "G"), root_frets(6, "E")
    ((3, 15), (0, 12))
    """
    guitar = read_instrument(instrument)
    guitar.check_point(string, 0)
    first = (Note(root).pitch_class - guitar.tuning[-string]) % 12
    return tuple(range(first, guitar.last_fret + 1, 12))


# -- questions -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Question:
    """One note on one string.

    asks : "find" (where is B on the 6th string?) or "name" (which note is at fret 7?).
    string : 1 the highest.  fret : 0 to 11, the lowest place of the note.  note : Note, spelled by the key.
    key : the key that spells, or None.
    """

    asks: Asks
    string: int
    fret: int
    note: Note
    key: Key | None = None

    @property
    def id(self) -> str:
        """Short name, the same in every key: "find-6-10" is pitch class 10 on the 6th string."""
        return f"{self.asks}-{self.string}-{self.note.pitch_class}"

    @property
    def values(self) -> Mapping[str, object]:
        """What `template` is filled with."""
        where = "open" if self.fret == 0 else f"at fret {self.fret}"
        return MappingProxyType({"note": str(self.note), "string": STRING[self.string], "where": where})

    @property
    def template(self) -> str:
        """English question for `values`."""
        if self.asks == "find":
            return "Where is {note} on the {string}?"
        return "Which note is the {string} {where}?"

    @property
    def text(self) -> str:
        """The question in English."""
        return self.template.format(**self.values)


def questions(
    string: int,
    instrument: str | Instrument = "steel-string",
    *,
    key: str | Key | None = None,
    naturals_only: bool = False,
    asks: Asks = "find",
) -> tuple[Question, ...]:
    """The questions of one string in teaching order: the seven naturals up the string, then the other five.

    key : spells the notes; without one naturals and the commoner names (Db Eb F# Ab Bb) are asked.
    naturals_only : the first seven alone. Their pitches are the naturals', their names the key's: in F-sharp
        major the natural F is asked as E#.
    string : int, 1 (the highest) to the number of strings.  instrument : an Instrument or a preset's id.
    asks : "find" (a fret is answered) or "name" (a note's name).
    Raises InstrumentError, KeyNameError, and TheoryError for another `asks`.  Common practice, no source.
    """
    if asks not in ("find", "name"):
        raise TheoryError(
            "A question asks to find a note or to name it, not {asks}.", code="asks", asks=repr(asks)[:40]
        )
    guitar = read_instrument(instrument)
    guitar.check_point(string, 0)
    spelled = None if key is None else Key.parse(key)
    midi = guitar.tuning[-string]
    pool = []
    for fret in range(min(12, guitar.last_fret + 1)):
        note = common_note(midi + fret) if spelled is None else spelled.spell(midi + fret)
        pool.append(Question(asks, string, fret, note, spelled))
    naturals = [question for question in pool if common_note(question.note.pitch_class).is_natural]
    return tuple(naturals if naturals_only else naturals + [q for q in pool if q not in naturals])


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer given.

    question : id of a Question.  right : whether it was right.
    seconds : float, 0 or more, or None where not timed.  Raises TheoryError for values of other types.
    """

    question: str
    right: bool
    seconds: float | None = None

    def __post_init__(self) -> None:
        timed = self.seconds
        if not (
            isinstance(self.question, str)
            and isinstance(self.right, bool)
            and (timed is None or (isinstance(timed, (int, float)) and timed >= 0))
        ):
            raise TheoryError(
                "An answer is a question's id, right or not, and its seconds: {value} is none.",
                code="drill-answer",
                value=repr((self.question, self.right, timed))[:60],
            )


def _checked(pool: object, history: object) -> tuple[tuple[Question, ...], tuple[Answer, ...]]:
    """The questions and answers as tuples; TheoryError where they are something else."""
    if not isinstance(pool, Iterable) or not isinstance(history, Iterable):
        raise TheoryError("A drill needs its questions and the answers given.", code="drill-pool")
    asked, given = tuple(pool), tuple(history)
    for question in asked:
        check_question(question)
    for answer in given:
        if not isinstance(answer, Answer):
            raise TheoryError("{value} is no answer to a drill.", code="drill-answer", value=repr(answer)[:60])
    return asked, given


def check_question(value: object) -> None:
    """Raise TheoryError unless `value` is a Question."""
    if not isinstance(value, Question):
        raise TheoryError("{value} is no question of a drill.", code="drill-question", value=repr(value)[:60])


_START, _MISSED, _RIGHT, _LEAST, _MOST = 2.0, 2.0, 0.6, 0.25, 8.0
_SLOW_SECONDS = 5.0  # a root found slower than this is counted up, not yet known


def weights(pool: Sequence[Question], history: Iterable[Answer]) -> tuple[float, ...]:
    """How much each question of the pool wants to be asked next, 0.25 to 8.

    A question starts at 2, doubles with each miss, is multiplied by 0.6 with each right answer under 5
    seconds (or untimed) and keeps its weight with a slower one. So what was missed comes more often, and
    nothing ever disappears.
    history : answers in the order in which they were given; answers to questions outside the pool are passed
        over.  Raises TheoryError for what are no questions or answers.  The weights are this module's own.
    """
    asked, given = _checked(pool, history)
    found = {question.id: _START for question in asked}
    for answer in given:
        weight = found.get(answer.question)
        if weight is None:
            continue
        if not answer.right:
            weight *= _MISSED
        elif answer.seconds is None or answer.seconds < _SLOW_SECONDS:
            weight *= _RIGHT
        found[answer.question] = min(_MOST, max(_LEAST, weight))
    return tuple(found[question.id] for question in asked)


def pick(pool: Sequence[Question], history: Sequence[Answer], at: float) -> Question:
    """The next question: the one on which `at` falls when the weights are laid end to end.

    pool : questions.  history : answers, the last one last.
    at : float, 0 <= at < 1, the caller's random number.  The question answered last is not asked again at
    once, unless it is the only one. Raises TheoryError for an empty pool or a number outside the range.
    """
    asked, given = _checked(pool, history)
    if not asked:
        raise TheoryError("There is no question to choose from.", code="drill-empty")
    if isinstance(at, bool) or not isinstance(at, (int, float)) or not 0 <= at < 1:
        raise TheoryError("{at} is not from 0 to just under 1.", code="drill-random", at=repr(at)[:40])
    last = given[-1].question if given else None
    open_to_ask = [
        (question, weight)
        for question, weight in zip(asked, weights(asked, given), strict=True)
        if question.id != last or len(asked) == 1
    ]
    mark_at = at * sum(weight for _, weight in open_to_ask)
    for question, weight in open_to_ask:
        mark_at -= weight
        if mark_at < 0:
            return question
    return open_to_ask[-1][0]


def ready_for_twelve(pool: Sequence[Question], history: Iterable[Answer]) -> bool:
    """Whether each natural of the pool was right the last two times it was asked: then all twelve are
    asked.  Raises TheoryError for what are no questions or answers.

    pool : questions, with or without the other five.  history : answers, the last one last.
    """
    asked, given = _checked(pool, history)
    lately: dict[str, list[bool]] = {q.id: [] for q in asked if common_note(q.note.pitch_class).is_natural}
    for answer in given:
        if answer.question in lately:
            lately[answer.question].append(answer.right)
    return bool(lately) and all(marks[-2:] == [True, True] for marks in lately.values())


# -- marking ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Mark:
    """What an answer was worth. right : bool.  template, values, text : one English sentence and its
    parts.
    """

    right: bool
    code: str
    template: str
    values: Mapping[str, object]

    @property
    def text(self) -> str:
        """The sentence in English."""
        return self.template.format(**self.values)


def mark(question: Question, answer: str | int | Note) -> Mark:
    """Mark an answer: a fret for a "find" question, a note's name for a "name" question.

    The same note an octave up or down is right, and so is an enharmonic name; then the key's own name is
    said. Raises NoteError for a text that names no note and TheoryError for a fret that is no whole number
    from 0 to 24.
    """
    check_question(question)
    note = question.note
    values: dict[str, object] = {
        "note": str(note),
        "fret": question.fret,
        "string": STRING[question.string],
        "key": str(question.key or ""),
    }
    if question.asks == "find":
        fret = _fret(answer)
        values["given"] = fret
        right = (fret - question.fret) % 12 == 0
        if right:
            template = "Right: {note} is at fret {given}." if fret else "Right: {note} is the open {string}."
        else:
            template = "{note} on the {string} is at fret {fret}." if question.fret else "{note} is the open {string}."
        return Mark(right, "right" if right else "wrong-fret", template, MappingProxyType(values))
    if isinstance(answer, (bool, int)):
        raise NoteError("{value} is not the name of a note.", code="note-unknown", value=repr(answer)[:40])
    given = Note(answer).without_octave()
    values["given"] = str(given)
    if not given.enharmonic(note):
        code, template = "wrong-note", "It is {note}, not {given}."
    elif given == note:
        code, template = "right", "Right: {note}."
    elif question.key is not None:
        code, template = "right-enharmonic", "Right: {given}. In {key} it is written {note}."
    else:
        code, template = "right-enharmonic", "Right: {given} and {note} are one pitch."
    return Mark(code != "wrong-note", code, template, MappingProxyType(values))


def _fret(value: object) -> int:
    if isinstance(value, str) and value.strip().isdecimal() and len(value.strip()) <= 2:
        value = int(value)
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 24:
        raise TheoryError("{value} is no fret from 0 to 24.", code="fret", value=repr(value)[:40])
    return value
