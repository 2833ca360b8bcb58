"""The root drill of a goal: which notes are asked, what may be answered, and what every answer is worth.

All of it is the theory core's (studio.theory.drill); here a goal becomes a drill, and a drill becomes the plain data
that the page and its script read, so that the two cannot disagree about a note.

Conventions: frets count from the nut, or the capo. "find" asks for a fret, "name" for a note, and "guitar" is "find"
answered on the instrument, where the player is their own judge. A round asks each note until it was right once, or
lasts a minute, as the goal's measure says. All notes of the goal are asked once the seven naturals sit
(`theory.ready_for_twelve`); only a round of all of them gives a result. After the goal's own string come all strings
together, a minute at a time: practice of the goal, and no measurement of it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

from django.utils.translation import gettext as _

from practice.measures import MEASURES
from studio import theory

Asks = Literal["find", "name", "guitar"]
ASKS: tuple[Asks, ...] = ("find", "name", "guitar")

NATURALS, TWELVE = ("naturals",), ("twelve",)
FRETS = 12  # open to 11: each note stands once
MINUTE = 60
# A question that waits longer was left alone: the time beyond is no practice, and the round no measurement.
AWAY = 120
REMEMBERED = 60  # answers that a page without a script carries along


@dataclass(frozen=True)
class Drill:
    """string: 1 the highest; instrument: with the goal's capo; asks: one of ASKS; whole: the goal's questions in
    teaching order; first: those asked until the naturals sit, which is `whole` where the goal chooses the notes;
    everywhere: all strings are asked, and nothing is measured."""

    string: int
    instrument: theory.Instrument
    asks: Asks
    whole: tuple[theory.Question, ...]
    first: tuple[theory.Question, ...]
    everywhere: bool = False

    @cached_property
    def by_id(self) -> dict[str, theory.Question]:
        return {question.id: question for question in self.whole}

    def asked(self, history: Sequence[theory.Answer], known: bool = False) -> tuple[theory.Question, ...]:
        """The questions of the next round. known: the goal was measured before, so the naturals are behind."""
        return self.whole if known or theory.ready_for_twelve(self.first, history) else self.first


def drill_of(
    goal: theory.Goal, instrument: theory.Instrument, asks: Asks = "find", everywhere: bool = False
) -> Drill:
    """The drill of a roots goal on an instrument; everywhere: of all twelve notes on every string.

    Raises TheoryError, with a message for the student's page, where this instrument has no such string, a note is
    none, or the neck ends before every note of the goal.
    """
    guitar = goal.on(instrument)
    string = goal.string or 0
    kind: Literal["find", "name"] = "name" if asks == "name" else "find"
    if everywhere:
        strings = range(guitar.strings, 0, -1)
        found = tuple(one for each in strings for one in theory.questions(each, guitar, key=goal.key, asks=kind))
        return Drill(string, guitar, asks, found, found, everywhere=True)
    every = theory.questions(string, guitar, key=goal.key, asks=kind)
    naturals = theory.questions(string, guitar, key=goal.key, naturals_only=True, asks=kind)
    if goal.notes in ((), TWELVE):
        return Drill(string, guitar, asks, every, naturals)
    whole = naturals if goal.notes == NATURALS else _named(every, goal.notes)
    if not whole:
        raise theory.OffNeck(
            "This neck ends before the notes of the goal.", code="drill-empty", values={"string": string}
        )
    return Drill(string, guitar, asks, whole, whole)


def _named(every: Sequence[theory.Question], names: Sequence[str]) -> tuple[theory.Question, ...]:
    """The questions of the notes that the teacher named, by the names that the teacher wrote."""
    places = {question.note.pitch_class: question for question in every}
    found: dict[int, theory.Question] = {}
    for name in names:
        note = theory.Note(name).without_octave()
        place = places.get(note.pitch_class)
        if place is not None:
            found.setdefault(note.pitch_class, theory.Question(place.asks, place.string, place.fret, note))
    return tuple(found.values())


def choices(drill: Drill) -> tuple[tuple[str, ...], ...]:
    """What can be tapped, in groups: the frets from the open string, or the names of notes.

    Names: the seven naturals, and where more than they are asked both names of the five between; a name of the
    questions' own beside these (E# in F-sharp major) stands with the naturals.
    """
    if drill.asks != "name":
        return (tuple(str(fret) for fret in range(min(FRETS, drill.instrument.last_fret + 1))),)
    naturals = [*"ABCDEFG"]
    between = [name for letter in "ACDFG" for name in (f"{letter}#", f"{_after(letter)}b")]
    asked = [str(question.note) for question in drill.whole]
    naturals += [name for name in asked if name not in naturals + between]
    if all(theory.common_note(question.note.pitch_class).is_natural for question in drill.whole):
        return (tuple(naturals),)
    return (tuple(naturals), tuple(between))


def _after(letter: str) -> str:
    return "ABCDEFGA"["ABCDEFG".index(letter) + 1]


def mark_text(mark: theory.Mark) -> str:
    """A mark's sentence in the reader's language."""
    return _(mark.template).format(**mark.values)


def question_text(question: theory.Question, asks: Asks) -> str:
    """A question in the reader's language."""
    if asks == "guitar":
        return _("Find {note} on the {string}.").format(**question.values)
    return _(question.template).format(**question.values)


def walk_text(drill: Drill, question: theory.Question) -> str:
    """How to get to a question's note: "Count up: open E, F 1, G 3."; "" for the open string and past the neck."""
    try:
        walk = theory.count_up(question.string, question.note, drill.instrument)
    except theory.OffNeck:
        return ""
    if not walk.fret and not walk.bend:
        return ""
    return _("Count up: {walk}.").format(walk=_(walk.template).format(**walk.values))


def place_text(question: theory.Question) -> str:
    """Where the note of a "find" question lies, for the player to check what was found: "G ... is at fret 3."."""
    return mark_text(theory.mark(question, (question.fret + 1) % FRETS))


def page_data(drill: Drill, measure: str, known: bool) -> dict[str, Any]:
    """Everything that the script needs, for JSON.

    counts: whether a round can give a result; first, naturals, whole: ids of questions; questions: by id {note, text,
    place, walk, marks}, and marks by answer [right, sentence]; minute, away: seconds; range: lowest and highest value
    of the measure.
    """
    if drill.everywhere:
        measure, known = "right", True
    answers = () if drill.asks == "guitar" else tuple(answer for group in choices(drill) for answer in group)
    return {
        "asks": drill.asks,
        "measure": measure,
        "counts": not drill.everywhere,
        "known": known,
        "minute": MINUTE,
        "range": [MEASURES[measure].lowest, MEASURES[measure].highest],
        "away": AWAY,
        "first": [question.id for question in drill.first],
        "naturals": [
            question.id for question in drill.first if theory.common_note(question.note.pitch_class).is_natural
        ],
        "whole": [question.id for question in drill.whole],
        "words": _page_words(drill, measure),
        "questions": {
            question.id: {
                "note": str(question.note),
                "text": question_text(question, drill.asks),
                "place": place_text(question) if drill.asks == "guitar" else "",
                "walk": walk_text(drill, question),
                "marks": {
                    answer: [mark.right, mark_text(mark)]
                    for answer in answers
                    for mark in (theory.mark(question, answer),)
                },
            }
            for question in drill.whole
        },
    }


def _page_words(drill: Drill, measure: str) -> dict[str, str]:
    """The script's own sentences; it fills in what stands in braces."""
    staged = drill.first != drill.whole
    by_time = measure == "seconds"
    return {
        "start_whole": _("Each of the {all} notes until it is right once, against the clock.")
        if by_time
        else _("One minute, on all strings: how many are right? It counts as practice and is not measured.")
        if drill.everywhere
        else _("One minute: how many are right?"),
        "start_first": _("First the seven naturals. Once each was right twice running, all twelve are asked.")
        if staged
        else "",
        "count": _("{right} of {all} right") if by_time else _("{right} right"),
        "done": _("All {all} right in {took} s.") if by_time else _("{right} right in {took} s."),
        "stopped": _("Stopped after {right} right."),
        "first": _("The seven come first: what is measured are all twelve.") if staged else "",
        "away": _("You were away for over two minutes, so this round is practice and not measured."),
        "short": _("That was too quick to be measured."),
        "missed": _("Missed: {notes}."),
        "sends": _("This goes to your teacher: {value}, and {time} of practice."),
        "sends_time": _("This goes to your teacher: {time} of practice."),
        "time_s": _("{n} s"),
        "time_min": _("{n} min"),
        "value": _("{value} s, your first round") if by_time else _("{value} right a minute, your first round"),
        "kept": _("A drill that was not sent yet."),
        "waits": _("It waits on this phone and is sent when the connection returns. It is safe there."),
        "loose": _("This phone has no room to keep it: leave this page open until it is sent."),
        "refused": _("It was not taken. It stands on your practice page, where you can put it right."),
    }


# -- answers that a page without a script carries along ----------------------------------------------------------------

_REMEMBERED = re.compile(r"((?:find|name)-\d-\d{1,2}):([01])")


def read_history(text: str, drill: Drill) -> tuple[theory.Answer, ...]:
    """The answers in a text as `write_history` makes it; what is not of this drill is passed over."""
    parts = (_REMEMBERED.fullmatch(part) for part in text[-16 * REMEMBERED :].split())
    found = [theory.Answer(part[1], part[2] == "1") for part in parts if part and part[1] in drill.by_id]
    return tuple(found[-REMEMBERED:])


def write_history(history: Sequence[theory.Answer]) -> str:
    """The last answers as a text for a hidden field; inverse of `read_history`."""
    return " ".join(f"{answer.question}:{answer.right:d}" for answer in history[-REMEMBERED:])
