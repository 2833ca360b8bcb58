"""What is answered to whom: invented notes of every kind, written as a table that can be read aloud
(`manage.py hand_answers`). The answers come from the code that the pages use; only the notes are chosen here."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from practice.facts import HandFacts, ReturnFacts, StudentFacts
from practice.hand_words import TICKED
from practice.handanswer import ADULT, CHILD, FAMILY, TEEN, UNKNOWN, Reader
from practice.handcare import of_one
from practice.handday import HandDay, hand_day
from practice.handshown import NOT_KEPT, TOLD, Shown, answer_of_day, next_steps, rests_of
from practice.models import HandNote
from practice.words import say
from studio import theory

TODAY = dt.date(2026, 11, 12)
NAME, TEACHER = "Wren", "Rosamund"
READERS = {
    CHILD: "a child of 9",
    UNKNOWN: "a student, birth year not known",
    TEEN: "a student of 15",
    ADULT: "an adult",
    FAMILY: "a parent",
}
STEP = ReturnFacts(TODAY - dt.timedelta(days=9), 2, TODAY - dt.timedelta(days=3), 10, 50, 2)


def note(discomfort: int, place: str = "", days: int = 0, hand: str = "fretting", **more: Any) -> HandFacts:
    """A note of `days` ago. What was ticked at 0 has no place."""
    day = TODAY - dt.timedelta(days=days)
    at = dt.datetime.combine(day, dt.time(18), tzinfo=dt.UTC)
    return HandFacts(day, at, discomfort, hand if place else "", place, **more)


@dataclass(frozen=True)
class Case:
    """voice: of the reader; notes: oldest first, the last is what was just said; consent: without it nothing is kept
    and each note stands alone; step: on a step of a return."""

    name: str
    voice: str
    notes: tuple[HandFacts, ...]
    consent: bool = True
    step: bool = False


def _cases() -> Iterator[Case]:
    # every number, at one place
    for value in range(11):
        yield Case(f"wrist {value}, adult", ADULT, (note(value, "wrist" if value else ""),))
    for value in (1, 4, 7):
        yield Case(f"thumb {value}, teen", TEEN, (note(value, "thumb", sensation="tight", settles="hour"),))
    for value, word in ((2, "a little"), (5, "some"), (8, "a lot")):
        yield Case(f"{word}, child", CHILD, (note(value, "index", in_words=True),))
    for voice in (UNKNOWN, FAMILY):
        for value in (3, 6, 9):
            yield Case(f"index {value}, {voice}", voice, (note(value, "index", sensation="ache", settles="day"),))
    # places
    for place in ("palm", "forearm", "elbow", "shoulder", "neck"):
        yield Case(f"{place} 5, adult", ADULT, (note(5, place, sensation="ache"),))
    yield Case("picking wrist 5, teen", TEEN, (note(5, "wrist", hand="picking"),))
    yield Case("picking wrist 8, family", FAMILY, (note(8, "wrist", hand="picking"),))
    yield Case("neck 5, child", CHILD, (note(5, "neck", hand="middle"),))
    yield Case("neck 7, family", FAMILY, (note(7, "neck", hand="middle"),))
    # fingertip skin, and a numb tip
    for value in (1, 3, 4, 6, 7, 10):
        for voice in (CHILD, ADULT):
            one = note(value, "fingertip", sensation="sore", settles="day")
            yield Case(f"fingertip {value}, {voice}", voice, (one,))
    for value in (3, 4, 7):
        one = note(value, "fingertip", sensation="sore", settles="next-day")
        yield Case(f"fingertip {value} next day, family", FAMILY, (one,))
        yield Case(f"fingertip {value} next day, a day later, family", FAMILY, (replace(one, **_at(1)),))
    yield Case("fingertip 4, settling not said, teen", TEEN, (note(4, "fingertip", sensation="dented"),))
    yield Case("blister 5, teen", TEEN, (note(5, "fingertip", sensation="blister", settles="day"),))
    yield Case("broken skin 8, unknown", UNKNOWN, (note(8, "fingertip", sensation="broken"),))
    yield Case("fingertip 8 yesterday, child", CHILD, (note(8, "fingertip", 1, sensation="sore"),))
    yield Case("pus, family", FAMILY, (note(2, "fingertip", sensation="blister", also=("hot",)),))
    yield Case("numb tip, teen", TEEN, (note(1, "fingertip", settles="hour", also=("numb",), face_arm_leg=False),))
    yield Case("numb tip by answer, child", CHILD, (
        note(2, "second", also=("numb",), tip_only=True, settles="at-once", face_arm_leg=False),
    ))  # fmt: skip
    # painless signs, at 0
    for sign in ("fell", "shape", "hot", "numb", "weak", "itself"):
        for voice in (CHILD, FAMILY):
            no = False if sign in ("numb", "weak") else None
            yield Case(f"0 and {sign}, {voice}", voice, (note(0, also=(sign,), face_arm_leg=no),))
    # arm, leg or face
    for voice in READERS:
        yield Case(f"face, {voice}", voice, (note(0, also=("numb",), face_arm_leg=True),))
    yield Case("numb, the question not answered, adult", ADULT, (note(3, "little", also=("numb",)),))
    yield Case("weak 6, no, teen", TEEN, (note(6, "thumb", also=("weak",), face_arm_leg=False),))
    # injuries
    for sign in ("shape", "snap", "extreme", "cold", "stuck"):
        yield Case(f"fell and {sign}, child", CHILD, (note(4, "wrist", also=("fell", sign)),))
    yield Case("fell and snap, unknown", UNKNOWN, (note(4, "wrist", also=("fell", "snap")),))
    yield Case("fell and snap, adult", ADULT, (note(4, "wrist", also=("fell", "snap")),))
    yield Case("fell and snap, family", FAMILY, (note(4, "wrist", also=("fell", "snap")),))
    yield Case("fell at 10, teen", TEEN, (note(10, "wrist", also=("fell",)),))
    yield Case("fell at 9, teen", TEEN, (note(9, "wrist", also=("fell",)),))
    yield Case("cut fingertip, child", CHILD, (note(2, "fingertip", sensation="broken", also=("fell",)),))
    yield Case("stuck, no fall, adult", ADULT, (note(5, "second", also=("weak", "stuck"), face_arm_leg=False),))
    yield Case("extreme, no fall, adult", ADULT, (note(6, "wrist", also=("hot", "extreme")),))
    yield Case("extreme by itself, child", CHILD, (note(4, "wrist", also=("extreme",)),))
    # when it settles, and what it is in the way of
    signs = {"next day": {"settles": "next-day"}, "rest": {"settles": "rest"}, "night": {"at_rest": True}}
    for name, said in (signs | {"daily": {"daily": True}}).items():
        yield Case(f"elbow 2 {name}, adult", ADULT, (note(2, "elbow", sensation="ache", **said),))
        yield Case(f"wrist 4 {name}, child", CHILD, (note(4, "wrist", sensation="ache", **said),))
    yield Case("a finger by itself at 5, adult", ADULT, (note(5, "little", also=("itself",)),))
    yield Case("a finger by itself at 5, teen", TEEN, (note(5, "little", also=("itself",)),))
    # rows of the older question
    yield Case("sudden, older question, adult", ADULT, (note(4, "elbow", sensation="ache", sudden=True),))
    yield Case("sudden and numb, older question, child", CHILD, (note(1, "wrist", sensation="numb", sudden=True),))
    # what was noted before
    yield Case("3 twice in a week, child", CHILD, (note(3, "wrist", 2), note(3, "wrist")))
    yield Case("0, then 2, adult", ADULT, (note(0, days=3), note(2, "wrist")))
    yield Case("2 on four days, teen", TEEN, tuple(note(2, "wrist", days) for days in (6, 4, 2, 0)))
    yield Case("4 on two days, family", FAMILY, (note(4, "wrist", 3), note(4, "wrist")))
    yield Case("4, then 0, family", FAMILY, (note(4, "wrist", 3), note(0)))
    yield Case("sore tips on two days, then well, teen", TEEN, (
        note(2, "fingertip", 5, sensation="sore"), note(3, "fingertip", 4, sensation="sore"), note(0),
    ))  # fmt: skip
    for voice in (CHILD, FAMILY):
        yield Case(f"8 three days ago, 0 today, {voice}", voice, (note(8, "wrist", 3), note(0)))
        yield Case(f"a fall yesterday, {voice}", voice, (note(3, "wrist", 1, also=("fell",)),))
        yield Case(f"a fall and a snap two days ago, {voice}", voice, (note(3, "wrist", 2, also=("fell", "snap")),))
        yield Case(f"face two days ago, {voice}", voice, (note(0, days=2, also=("weak",), face_arm_leg=True),))
    yield Case("8, closed with a clinician's word, adult", ADULT, (note(8, "wrist", 3, closed=True), note(0)))
    # on a step of a return
    yield Case("0 on a step, child", CHILD, (note(0),), step=True)
    yield Case("1 on a step, child", CHILD, (note(1, "wrist"),), step=True)
    yield Case("1 on a step, family", FAMILY, (note(1, "wrist"),), step=True)
    yield Case("weak on a step, adult", ADULT, (note(1, "wrist", also=("weak",), face_arm_leg=False),), step=True)
    yield Case("8 on a step, teen", TEEN, (note(8, "wrist"),), step=True)
    # nothing is kept
    for voice in (CHILD, UNKNOWN, ADULT, FAMILY):
        for value in (3, 5, 8):
            yield Case(f"{value} and no consent, {voice}", voice, (note(value, "wrist"),), consent=False)
        yield Case(f"fell, no consent, {voice}", voice, (note(2, "wrist", also=("fell",)),), consent=False)
    yield Case("face, no consent, teen", TEEN, (note(2, "wrist", also=("weak",), face_arm_leg=True),), consent=False)


def _at(days: int) -> dict[str, Any]:
    one = note(0, days=days)
    return {"day": one.day, "at": one.at}


CASES = tuple(_cases())


@dataclass(frozen=True)
class Row:
    """A case with what is answered: level and rule, "nothing" and "" for nothing; answer, next and rests: as read."""

    case: Case
    said: str
    reader: str
    level: str
    rule: str
    answer: str
    next: str
    rests: str


def row_of(case: Case) -> Row:
    reader = Reader(case.voice, NAME, TEACHER)
    facts = facts_of(case)
    day = hand_day(facts, TODAY) if case.consent else HandDay(of_one(case.notes[-1]), facts.plan_minutes, 0)
    answer = answer_of_day(day, reader)
    said = "; ".join(map(said_of, case.notes))
    if case.step:
        said = f"on step 2 of a return: {said}"
    if not case.consent:
        said += "; no consent"
    if answer is None:
        return Row(case, said, READERS[case.voice], "nothing", "", "nothing: the day goes on", "", _rests(case, day))
    steps = next_steps(answer, reader, TOLD if case.consent else NOT_KEPT, facts.next_lesson)
    shown = Shown(answer, steps, rests_of(answer, facts, TODAY), reader.voice)
    told = [say(one) for one in shown.next]
    if shown.rests:
        told.append("; ".join(f"{say(one.title)}: {say(one.line)}" for one in shown.rests))
    answered = f"**{say(answer.head)}** {say(answer.line)}"
    return Row(case, said, READERS[case.voice], answer.level, answer.rule, answered, " ".join(told), _rests(case, day))


def facts_of(case: Case) -> StudentFacts:
    return StudentFacts(
        name=f"{NAME} Example", first_name=NAME, joined=TODAY - dt.timedelta(days=400),
        instrument=theory.INSTRUMENTS["steel-string"], hand=theory.Hand(), plan_days=5, plan_minutes=20,
        daily_most=40, hand_consent=case.consent,
        next_lesson=TODAY + dt.timedelta(days=7), notes=case.notes if case.consent else (),
        hand_return=STEP if case.step else None,
    )  # fmt: skip


def _rests(case: Case, day: HandDay) -> str:
    if not case.consent:
        return "nothing is kept, so the plan stays as it is" if day.asks_person else ""
    if day.stop:
        return "all playing"
    if not day.no_barre:
        return ""
    return f"what lies flat; {day.most} minutes at most" if day.step else f"what lies flat; {day.plan} of 20 minutes"


def said_of(one: HandFacts) -> str:
    """A note in the words of the questions."""
    days = (TODAY - one.day).days
    words = [f"{one.discomfort} of 10"]
    if one.place:
        hand = "" if one.hand == "fretting" else f" ({HandNote.Hand(one.hand).label})"
        words.append(f"{HandNote.Place(one.place).label}{hand}")
    if one.sensation:
        words.append(str(HandNote.Sensation(one.sensation).label))
    if one.settles:
        words.append(f"settles: {HandNote.Settles(one.settles).label}")
    if one.also:
        words.append(f"ticked: {' and '.join(str(TICKED[code]) for code in one.also)}")
    words += [f"{question} {'yes' if answer else 'no'}" for question, answer in _answers(one) if answer is not None]
    if one.in_words:
        words.append("asked in three words")
    if one.closed:
        words.append("closed with a clinician’s word")
    when = {0: "", 1: "yesterday: "}.get(days, f"{days} days ago: ")
    return when + ", ".join(words)


def _answers(one: HandFacts) -> Iterator[tuple[str, bool | None]]:
    for name in ("at_rest", "daily", "sudden", "tip_only", "face_arm_leg"):
        yield str(HandNote._meta.get_field(name).verbose_name), getattr(one, name)


OPENING = """\
# Hand care: what is answered to whom

This page is written by `manage.py hand_answers` with the rules and words that the pages use; a test keeps it true and
holds each row to an expectation that was written by hand. People and notes are invented; the day is 12 November 2026,
the student is Wren, the teacher Rosamund, the plan 20 minutes a day. Where nothing else is said the note is of that day
and of the fretting hand, and a consent stands. Levels, mildest first: nothing, ease-off, pause, see-someone, stop,
same-day, hospital, emergency; the rule stands in brackets, with its source in [the texts about a hand](hand-care.md).
"""


def document() -> str:
    lines = [OPENING, "| | what was said | who reads | level (rule) | the answer | what happens next | what rests |"]
    lines.append("| ---: | --- | --- | --- | --- | --- | --- |")
    for number, case in enumerate(CASES, start=1):
        row = row_of(case)
        level = f"{row.level} ({row.rule})" if row.rule else row.level
        lines.append(f"| {number} | {row.said} | {row.reader} | {level} | {row.answer} | {row.next} | {row.rests} |")
    return "\n".join(lines) + "\n"
