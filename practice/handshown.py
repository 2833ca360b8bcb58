"""What stands on the page of a hand's answer: the answer, what happens next, music that rests the hand. The same value
is drawn on a page, sent to a phone and waits in its page for an answer that must not wait for a server.

Nothing here reads a clock or a database: whether the teacher has been told is an argument.
"""

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from practice.facts import HandFacts, StudentFacts
from practice.handanswer import Answer, Reader, answer_of
from practice.handcare import BARRE_HANDS, BARRE_PLACES, SEVERE_SKIN, Advice, by_row, of_one
from practice.handday import HandDay
from practice.handrows import (
    ALSO,
    ASKS_FURTHER,
    EASE_OFF,
    FIRM,
    LEVELS,
    NOTHING,
    PAUSE,
    ROWS,
    SEE_SOMEONE,
    SEVERE,
    SKIN,
    STOP,
    Row,
)
from practice.record import HandRecord
from practice.said import Said, said

# Whether the teacher has been told: was written to; will be when the phone is connected; could not be written to;
# nothing was kept that could be told.
TOLD, WAITS, FAILED, NOT_KEPT = "told", "waits", "failed", "not-kept"

LISTEN, NOTES, READ = "listen", "notes", "read"
MOST_LISTENS = 2
RETURN = "return"

# Where an answer differs by the place (practice.handcare.is_barre_hand), or skin by its number.
BARRE, PLAYED, NEW = "barre", "played", "new"


@dataclass(frozen=True)
class Rest:
    """Music that rests the hand. kind: LISTEN, NOTES or READ; title, line: in words; url: where it is done, or ""."""

    kind: str
    title: Said
    line: Said
    url: str = ""


@dataclass(frozen=True)
class Shown:
    """answer; next: what happens next, in order; rests; minutes_kept: that the session is kept, in words, or ""; back:
    where "I tapped that by mistake" is sent, or "" where it is the teacher's to do; kept: whether anything was stored;
    voice: of whom it speaks to (practice.handanswer.VOICES).

    code and where: of one that waits in a page for the phone: the row, and which of its wordings.
    """

    answer: Answer
    next: tuple[Said, ...]
    rests: tuple[Rest, ...]
    voice: str
    kept: bool = True
    minutes_kept: str = ""
    back: str = ""
    code: str = ""
    where: str = ""


def facts_of_hand(given: HandRecord, day: dt.date, at: dt.datetime) -> HandFacts:
    """A note that is only answered, as the rule book reads it."""
    return HandFacts(day=day, at=at, **vars(given))


def answer_alone(given: HandRecord, now: dt.datetime, today: dt.date, reader: Reader) -> Answer | None:
    """The answer to a note by itself, whatever was noted before."""
    return answer_of(of_one(facts_of_hand(given, today, now)), reader)


def answer_of_day(day: HandDay, reader: Reader) -> Answer | None:
    """The answer that a day goes by. What is felt on a step of a return stops the day, so that nothing milder may head
    it."""
    advice = day.advice
    stops_by_step = day.stop and day.step is not None and day.verdict is not None
    if not stops_by_step or (advice is not None and advice.stops):
        return answer_of(advice, reader)
    see = advice is not None and advice.level == SEE_SOMEONE
    if advice is None or advice.level in (NOTHING, EASE_OFF):
        reasons = (day.verdict.reason,) if day.verdict is not None else ()
        advice = Advice(STOP, RETURN, day.source, reasons, None if advice is None else advice.note, no_barre=True)
    else:
        advice = replace(advice, level=STOP, no_barre=True)
    head = f"{RETURN}-see" if see else RETURN
    return Answer(STOP, advice.rule, reader.says(head), reader.says(f"line-{RETURN}"), advice)


def next_steps(answer: Answer, reader: Reader, told: str, lesson: dt.date | None = None) -> tuple[Said, ...]:
    """What happens next. told: one of TOLD, WAITS, FAILED, NOT_KEPT; lesson: the next one's day."""
    return tuple(_next_steps(answer, reader, told, lesson))


def _next_steps(answer: Answer, reader: Reader, told: str, lesson: dt.date | None) -> Iterator[Said]:
    teacher, asks = reader.teacher, answer.advice.ask_person
    if told == NOT_KEPT and not asks:
        yield said("next-kept-nowhere")
    elif told == NOT_KEPT:
        yield said("next-not-kept-young" if reader.is_young else "next-not-kept", teacher=teacher, who=reader.at_home)
    elif asks and told == TOLD:
        # on a later day the answer itself says it
        stopped = reader.is_young and answer.level == STOP and answer.advice.until_seen and answer.advice.days == 0
        yield said("next-told-stop" if stopped else "next-told", teacher=teacher)
    elif asks and told == WAITS:
        yield said("next-waits", teacher=teacher)
    elif asks:
        yield said("next-show" if reader.is_young else "next-call", teacher=teacher, who=reader.at_home)
    # beside where help is to be had today nothing else is said
    if asks and not answer.advice.urgent:
        if lesson is not None:
            yield said("next-lesson", day=lesson)
        yield said("next-nothing-made-up")


def rests_of(
    answer: Answer, facts: StudentFacts | None, today: dt.date, drill: Callable[[str], str] | None = None
) -> tuple[Rest, ...]:
    """Music that rests the hand, from what the student works on. drill: from a goal's code to its drill's address,
    where the reader may open it."""
    return _music(facts, today, drill) if answer.rests_hand else ()


def offers_of(facts: StudentFacts, today: dt.date, drill: Callable[[str], str] | None = None) -> tuple[Rest, ...]:
    """What is left of a day on which enough was played: music that rests the hand, and the next piece looked at."""
    return (*_music(facts, today, drill), Rest(READ, said("rests-read"), said("rests-read-how")))


def _music(facts: StudentFacts | None, today: dt.date, drill: Callable[[str], str] | None) -> tuple[Rest, ...]:
    goals = facts.active_goals if facts is not None else ()
    titles = [goal.title for goal in goals if goal.kind == "piece"]
    for performance in facts.performances if facts is not None else ():
        titles += performance.pieces if performance.day >= today else ()
    listens = tuple(
        Rest(LISTEN, said("rests-title", title=title), said("rests-listen"))
        for title in list(dict.fromkeys(titles))[:MOST_LISTENS]
    )
    notes = tuple(
        Rest(NOTES, said("rests-notes"), said("rests-notes-how"), drill(goal.code) if drill else "")
        for goal in goals
        if goal.kind == "roots"
    )
    return (*(listens or (Rest(LISTEN, said("rests-any"), said("rests-listen")),)), *notes[:1])


# -- what waits in the page for the phone ------------------------------------------------------------------------------


def _wordings() -> Iterator[tuple[Row, str, HandFacts]]:
    """(row, which of its wordings, a note of that wording) for every answer to one note."""
    day = dt.date(2000, 1, 1)
    at = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)

    def note(discomfort: int = FIRM, place: str = "wrist", hand: str = "fretting") -> HandFacts:
        return HandFacts(day, at, discomfort, hand, place)

    for row in ROWS:
        if row.level in (PAUSE, SEE_SOMEONE):
            yield row, BARRE, note()
            yield row, PLAYED, note(place="shoulder")
        elif row.code == "skin":
            yield row, NEW, note(FIRM - 1, SKIN)
            yield row, "", note(FIRM, SKIN)
        else:
            yield row, "", note(SEVERE, SKIN if row.code == SEVERE_SKIN else "wrist")


def on_the_phone(
    reader: Reader, kept: bool, facts: StudentFacts | None, today: dt.date, drill: Callable[[str], str] | None = None
) -> tuple[Shown, ...]:
    """The answers to a note alone, one for each wording of each row: what a phone shows before a server has answered.
    kept: whether what is answered will be sent."""
    found = []
    for row, where, note in _wordings():
        answer = answer_of(by_row(row, note), reader)
        if answer is not None:
            steps = next_steps(answer, reader, WAITS if kept else NOT_KEPT)
            rests = rests_of(answer, facts, today, drill)
            found.append(Shown(answer, steps, rests, reader.voice, kept, code=row.code, where=where))
    return tuple(found)


def rules_beside() -> dict[str, object]:
    """What a phone needs beside the table of rows (practice.handrows.as_data): levels, mildest first; after which ticks
    more is asked; where an answer speaks of barres."""
    return {
        "levels": list(LEVELS),
        "also": list(ALSO),
        "further": list(ASKS_FURTHER),
        "firm": FIRM,
        "barre_hands": list(BARRE_HANDS),
        "barre_places": [*BARRE_PLACES, ""],
    }
