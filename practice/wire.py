"""A practice entry as the phone sends it: JSON in, a plain record or errors by field out.

The body is one object:

    code      the entry's id, as in the address; may be left out
    version   only in a correction: the stored version that it changes
    begun     instant with its offset, of a session that was timed;  else
    day       local day in the studio's zone, and perhaps
    start     local time of day, HH:MM
    seconds   played, 1 to 28,800; may be left out where segments add up to it
    segments  [{goal, seconds}]
    results   [{goal, measure, value, failed}]; failed: the strings that did not ring, or rang although marked x.
              Where `failed` stands, even empty, the value of clean strings is counted and may be left out
    tiring    0 to 10, and tiring_in_words: true where it stands for one of three words
    hand      {discomfort, rested, hand, place, sensation, settles, began, at_rest, daily, tip_only, face_arm_leg, also,
              in_words}: numbers 0 to 10, words, true or false, and in `also` a list of practice.handrows.ALSO;
              `sudden`, and numb or weak as `sensation`, come from phones whose page was drawn earlier
    note      at most 1,000 characters

A hand note by itself (`read_note`) is {hand, code, day, at}: the hand as above; day: its local day; or at: the instant
at which it was answered, so that two notes of one day keep their order. Without both it is of now.

Null stands for "not said" everywhere. A field is named by its path, such as `segments.0.seconds`; what is wrong with
it is a code with values (practice.said) that practice.wire_words says in words. Nothing here reads the clock or the
database, and no body ends in another exception than `WireError`.
"""

import datetime as dt
import json
import math
import re
import uuid
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from practice import handcheck
from practice.goalwork import clean_count
from practice.handrows import ALSO
from practice.measures import MEASURES
from practice.record import (
    LONGEST,
    OLDEST_DAYS,
    EntryRecord,
    HandNoteRecord,
    HandRecord,
    ResultRecord,
    Span,
    faults,
    note_instant,
    place_in_day,
)
from practice.said import Said, said
from students.calendar import local_day
from studio import theory

MOST_BYTES = 64 * 1024
MOST_ITEMS = 200  # of segments or results: far more than anybody has goals
MOST_NOTE = 1000
BODY = "body"

T = TypeVar("T")

_UUID = re.compile(r"[0-9a-f]{8}-(?:[0-9a-f]{4}-){3}[0-9a-f]{12}", re.ASCII)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_TIME = re.compile(r"\d{2}:\d{2}", re.ASCII)
_INSTANT = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d{1,6})?(Z|[+-]\d{2}:\d{2})", re.ASCII)


@dataclass(frozen=True)
class WireGoal:
    """What the parser must know of a goal: the measures it may have, and the voicing whose strings are told."""

    measures: tuple[str, ...]
    voicing: theory.Voicing | None = None


@dataclass(frozen=True)
class Sent:
    """A body that was read: the record but for its instant, and how the session's time was said.

    Either begun is given, or day with or without start.
    """

    record: EntryRecord
    begun: dt.datetime | None
    day: dt.date | None
    start: dt.time | None
    version: int | None


@dataclass(frozen=True)
class SentNote:
    """A body with a hand note by itself: its hand, and when it was; both day and at None for "now"."""

    code: uuid.UUID
    hand: HandRecord
    day: dt.date | None
    at: dt.datetime | None


class WireError(Exception):
    """errors: what is wrong, by the path of the field; BODY for the whole."""

    def __init__(self, errors: Mapping[str, list[Said]]) -> None:
        super().__init__(", ".join(errors))
        self.errors = dict(errors)


class _Reader:
    """Reads fields of objects, collects what is wrong with each, and goes on."""

    def __init__(self) -> None:
        self.errors: dict[str, list[Said]] = {}

    def wrong(self, path: str, code: str, /, **values: Any) -> None:
        self.errors.setdefault(path, []).append(said(code, **values))

    def object_(self, value: Any, path: str, known: Collection[str]) -> dict[str, Any]:
        if not isinstance(value, dict):
            self.wrong(path or BODY, "wire-object")
            return {}
        for name in value:
            if name not in known:
                # the name is a stranger's text: shown short, and never as a path of its own depth
                self.wrong(path or BODY, "wire-unknown", name=_short(name))
        return value

    def list_(self, value: Any, path: str) -> list[Any]:
        if value is None:
            return []
        if not isinstance(value, list):
            self.wrong(path, "wire-list")
            return []
        if len(value) > MOST_ITEMS:
            self.wrong(path, "wire-many", most=MOST_ITEMS)
            return []
        return value

    def whole(self, value: Any, path: str, lowest: int, highest: int) -> int | None:
        if value is None:
            return None
        if type(value) is not int or not lowest <= value <= highest:  # True is an int, too
            self.wrong(path, "wire-whole", lowest=lowest, highest=highest)
            return None
        return value

    def choice(self, value: Any, path: str, choices: Collection[str]) -> str:
        if value is None or value == "":
            return ""
        if not isinstance(value, str) or value not in choices:
            self.wrong(path, "wire-choice")
            return ""
        return value

    def matched(self, value: Any, path: str, pattern: re.Pattern[str], make: Callable[[str], T], code: str) -> T | None:
        if value is None:
            return None
        if isinstance(value, str) and pattern.fullmatch(value):
            try:
                return make(value)
            except (ValueError, OverflowError):
                pass
        self.wrong(path, code)
        return None


def read(
    body: bytes, code: uuid.UUID, goals: Mapping[uuid.UUID, WireGoal], hand_choices: Mapping[str, Collection[str]]
) -> Sent:
    """The entry in a body. Raises WireError with every field that is wrong.

    code: the address's; goals: the student's, set aside ones too, as a phone may have been offline for a while;
    hand_choices: the words that a hand note's hand, place, sensation, settles and began may have.
    """
    reader = _Reader()
    names = ("code", "version", "begun", "day", "start", "seconds", "segments", "results", "tiring",
             "tiring_in_words", "hand", "note")  # fmt: skip
    data = reader.object_(_json(body), "", names)
    if BODY in reader.errors and not data:
        raise WireError(reader.errors)
    _own_code(reader, data.get("code"), code)
    version = reader.whole(data.get("version"), "version", 1, 1_000_000)
    begun = reader.matched(data.get("begun"), "begun", _INSTANT, _instant, "wire-instant")
    day = reader.matched(data.get("day"), "day", _DAY, dt.date.fromisoformat, "wire-day")
    start = reader.matched(data.get("start"), "start", _TIME, dt.time.fromisoformat, "wire-time")
    if data.get("begun") is None and data.get("day") is None and data:
        reader.wrong("day", "wire-when")
    segments = _segments(reader, data.get("segments"), goals)
    results = _results(reader, data.get("results"), goals)
    tiring, tiring_words = _tiring(reader, data)
    record = EntryRecord(
        code=code,
        begun=begun or dt.datetime(1970, 1, 1, tzinfo=dt.UTC),
        seconds=_seconds(reader, data.get("seconds"), segments),
        segments=segments,
        results=results,
        tiring=tiring,
        tiring_in_words=tiring_words,
        hand=_hand(reader, data.get("hand"), hand_choices),
        note=_note(reader, data.get("note")),
    )
    if reader.errors:
        raise WireError(reader.errors)
    return Sent(record, begun, day, start, version)


def read_note(body: bytes, code: uuid.UUID, hand_choices: Mapping[str, Collection[str]]) -> SentNote:
    """The hand note by itself in a body. code, hand_choices: as for `read`. Raises WireError with every field that is
    wrong."""
    reader = _Reader()
    data = reader.object_(_json(body), "", ("code", "day", "at", "hand"))
    if BODY in reader.errors and not data:
        raise WireError(reader.errors)
    _own_code(reader, data.get("code"), code)
    day = reader.matched(data.get("day"), "day", _DAY, dt.date.fromisoformat, "wire-day")
    at = reader.matched(data.get("at"), "at", _INSTANT, _instant, "wire-instant")
    hand = _hand(reader, data.get("hand"), hand_choices)
    if hand is None and not any(path.startswith("hand") for path in reader.errors):
        reader.wrong("hand.discomfort", "wire-discomfort")
    if reader.errors or hand is None:
        raise WireError(reader.errors)
    return SentNote(code, hand, day, at)


def place_note(
    sent: SentNote, now: dt.datetime, zone: str, joined: dt.date | None, *, check: bool = True
) -> HandNoteRecord:
    """The note at its instant. A phone whose clock is ahead has asked now: nothing of that kind may hold a note up.
    joined: the student's first day with the studio; check: refuse a day that cannot be, which what is stored already
    was not. Raises WireError."""
    today = local_day(now, zone)
    if sent.at is not None:
        at, when = min(sent.at, now), "at"
        # the ends of the calendar have no local day
        day = local_day(at, zone) if at.year > dt.MINYEAR else dt.date.min
    else:
        at, when, day = now, "day", sent.day or today
    if check and (code := handcheck.wrong_day(day, today, joined)):
        raise WireError({when: [said(code)]})
    if sent.at is None:
        at = note_instant(day, None, now, zone)
    return HandNoteRecord(sent.code, at, sent.hand, placed=sent.at is None and sent.day is None)


def place(
    sent: Sent,
    now: dt.datetime,
    zone: str,
    others: Iterable[Span],
    *,
    check: bool = True,
    joined: dt.date | None = None,
) -> EntryRecord:
    """The record at its instant. others: the student's other sessions; check: refuse what cannot have been; joined: the
    student's first day with the studio, before which no hand note lies.

    Raises WireError. An entry that is stored already is compared and not checked again: what was true when it was
    stored may have come to overlap since.
    """
    when = "begun" if sent.begun is not None else "start" if sent.start is not None else "day"
    record = _placed(sent, now, zone, list(others), when, check)
    if check and record.hand is not None and handcheck.too_early(record.end, joined, zone):
        raise WireError({when: [said("wire-before-joined")]})
    return record


def _placed(sent: Sent, now: dt.datetime, zone: str, spans: list[Span], when: str, check: bool) -> EntryRecord:
    tz = ZoneInfo(zone)
    try:
        if sent.begun is None and sent.day is not None:
            today = now.astimezone(tz).date()
            if check and sent.day > today:
                raise WireError({"day": [said("wire-day-to-come")]})
            if check and (today - sent.day).days > OLDEST_DAYS:
                raise WireError({"day": [said("wire-too-old")]})
            if sent.start is None:
                begun = place_in_day(sent.day, sent.record.seconds, now, zone, spans)
                return replace(sent.record, begun=begun, placed=True)
            begun = dt.datetime.combine(sent.day, sent.start, tzinfo=tz).astimezone(dt.UTC)
        else:
            begun = sent.record.begun
        record = replace(sent.record, begun=begun)
        found = faults(begun, record.seconds, now, spans) if check else []
    except (OverflowError, ValueError):
        raise WireError({when: [said("wire-too-old")]}) from None
    if found:
        raise WireError({when: [said(f"wire-{fault.value}") for fault in found]})
    return record


def write(record: EntryRecord) -> dict[str, Any]:
    """The body that says a stored record; `read` of it gives the record again."""
    return {
        "code": str(record.code),
        "begun": record.begun.astimezone(dt.UTC).isoformat(),
        "seconds": record.seconds,
        "segments": [{"goal": str(goal), "seconds": seconds} for goal, seconds in record.segments],
        "results": [
            {"goal": str(result.goal), "measure": result.measure, "value": result.value}
            | ({"failed": list(result.failed_strings)} if result.failed_strings else {})
            for result in record.results
        ],
        "tiring": record.tiring,
        **({"tiring_in_words": True} if record.tiring_in_words else {}),
        "hand": record.hand and _written_hand(record.hand),
        "note": record.note,
    }


# -- the parts -------------------------------------------------------------------------------------------------------


def _json(body: bytes) -> Any:
    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        # two values for one name: nobody can say which was meant
        if len({name for name, _ in pairs}) < len(pairs):
            raise ValueError("name given twice")
        return dict(pairs)

    def no_number(text: str) -> None:
        raise ValueError(text)

    if len(body) > MOST_BYTES:
        raise WireError({BODY: [said("wire-long", most=MOST_BYTES // 1024)]})
    try:
        return json.loads(body.decode("utf-8"), object_pairs_hook=once, parse_constant=no_number)
    except (ValueError, RecursionError):
        raise WireError({BODY: [said("wire-json")]}) from None


def _own_code(reader: _Reader, value: Any, code: uuid.UUID) -> None:
    own = reader.matched(value, "code", _UUID, uuid.UUID, "wire-code")
    if own is not None and own != code:
        reader.wrong("code", "wire-other-code")


def _instant(text: str) -> dt.datetime:
    return dt.datetime.fromisoformat(text).astimezone(dt.UTC)


def _short(text: str) -> str:
    return "".join(filter(str.isprintable, text))[:40]


def _goal(
    reader: _Reader, value: Any, path: str, goals: Mapping[uuid.UUID, WireGoal]
) -> tuple[uuid.UUID, WireGoal] | None:
    if value is None:
        reader.wrong(path, "wire-missing")
        return None
    code = reader.matched(value, path, _UUID, uuid.UUID, "wire-code")
    if code is None:
        return None
    if code not in goals:
        reader.wrong(path, "wire-goal")
        return None
    return code, goals[code]


def _segments(reader: _Reader, value: Any, goals: Mapping[uuid.UUID, WireGoal]) -> tuple[tuple[uuid.UUID, int], ...]:
    found: dict[uuid.UUID, int] = {}
    for index, item in enumerate(reader.list_(value, "segments")):
        path = f"segments.{index}"
        fields = reader.object_(item, path, ("goal", "seconds"))
        if not isinstance(item, dict):
            continue
        goal = _goal(reader, fields.get("goal"), f"{path}.goal", goals)
        seconds = reader.whole(fields.get("seconds"), f"{path}.seconds", 1, LONGEST)
        if fields.get("seconds") is None:
            reader.wrong(f"{path}.seconds", "wire-missing")
        if goal and seconds:
            if goal[0] in found:
                reader.wrong(f"{path}.goal", "wire-twice")
            found[goal[0]] = seconds
    return tuple(found.items())


def _seconds(reader: _Reader, value: Any, segments: tuple[tuple[uuid.UUID, int], ...]) -> int:
    spent = sum(seconds for _, seconds in segments)
    seconds = reader.whole(value, "seconds", 1, LONGEST)
    if seconds is None:
        if "seconds" not in reader.errors:
            if not spent and not any(path.startswith("segments") for path in reader.errors):
                reader.wrong("seconds", "wire-how-long")
            elif spent > LONGEST:
                reader.wrong("seconds", "wire-too-long")
        return max(1, spent)
    # a minute's grace: whoever writes whole minutes rounds each of them
    if spent > seconds + 60:
        reader.wrong("seconds", "wire-sum")
    elif spent > LONGEST:
        reader.wrong("seconds", "wire-too-long")
    return max(seconds, spent)


def _results(reader: _Reader, value: Any, goals: Mapping[uuid.UUID, WireGoal]) -> tuple[ResultRecord, ...]:
    found: dict[tuple[uuid.UUID, str], ResultRecord] = {}
    for index, item in enumerate(reader.list_(value, "results")):
        path = f"results.{index}"
        fields = reader.object_(item, path, ("goal", "measure", "value", "failed"))
        if not isinstance(item, dict):
            continue
        goal = _goal(reader, fields.get("goal"), f"{path}.goal", goals)
        if goal is None:
            continue
        measure = reader.choice(fields.get("measure"), f"{path}.measure", goal[1].measures)
        if not measure:
            if f"{path}.measure" not in reader.errors:
                reader.wrong(f"{path}.measure", "wire-missing")
            continue
        result = _result(reader, fields, path, goal[0], goal[1], measure)
        if result is not None:
            if (goal[0], measure) in found:
                reader.wrong(f"{path}.goal", "wire-twice")
            found[goal[0], measure] = result
    return tuple(found.values())


def _result(
    reader: _Reader, fields: dict[str, Any], path: str, code: uuid.UUID, goal: WireGoal, measure: str
) -> ResultRecord | None:
    scale, value = MEASURES[measure], fields.get("value")
    voicing = goal.voicing if measure == "clean" else None
    highest = voicing.strings_sounding if voicing else scale.highest
    if value is not None:
        if isinstance(value, bool) or not isinstance(value, int | float) or not scale.lowest <= value <= highest:
            reader.wrong(f"{path}.value", "wire-number", lowest=scale.lowest, highest=highest)
            return None
        if not math.isfinite(value) or (scale.whole and value != int(value)):
            reader.wrong(f"{path}.value", "wire-whole", lowest=int(scale.lowest), highest=int(highest))
            return None
    failed: tuple[int, ...] = ()
    if fields.get("failed") is not None:
        if voicing is None:
            reader.wrong(f"{path}.failed", "wire-no-strings")
            return None
        strings = len(voicing.frets)
        told = [reader.whole(n, f"{path}.failed", 1, strings) for n in reader.list_(fields["failed"], f"{path}.failed")]
        if f"{path}.failed" in reader.errors:
            return None
        if None in told or len(set(told)) < len(told):
            reader.wrong(f"{path}.failed", "wire-whole", lowest=1, highest=strings)
            return None
        failed = tuple(sorted(number for number in told if number is not None))
        counted = clean_count(voicing, failed)
        if value is not None and value != counted:
            reader.wrong(f"{path}.value", "wire-counted", counted=counted)
            return None
        value = counted
    if value is None:
        reader.wrong(f"{path}.value", "wire-missing")
        return None
    return ResultRecord(code, measure, float(value), failed)


_HAND_WORDS = ("hand", "place", "sensation", "settles", "began")


def _written_hand(hand: HandRecord) -> dict[str, Any]:
    """The five things that every phone knows, and of the others those that were answered."""
    always = ("discomfort", "hand", "place", "sensation", "settles")
    more = ("rested", "began", *handcheck.QUESTIONS, "in_words")
    empty = HandRecord(0)
    said = [name for name in more if getattr(hand, name) != getattr(empty, name)]
    return {name: getattr(hand, name) for name in (*always, *said)} | ({"also": list(hand.also)} if hand.also else {})


def _also(reader: _Reader, value: Any) -> tuple[str, ...]:
    """What was ticked under "Any of these?"."""
    ticked = reader.list_(value, "hand.also")
    # a list or an object is no key to be looked up
    if not all(isinstance(one, str) and one in ALSO for one in ticked):
        reader.wrong("hand.also", "wire-choice")
        return ()
    return handcheck.in_order(ticked)


def _yes(reader: _Reader, value: Any, path: str) -> bool | None:
    if value is None or isinstance(value, bool):
        return value
    reader.wrong(path, "wire-yes")
    return None


def _tiring(reader: _Reader, data: dict[str, Any]) -> tuple[int | None, bool]:
    """How tiring it was, and whether that stands for a word."""
    tiring = reader.whole(data.get("tiring"), "tiring", 0, 10)
    words = bool(_yes(reader, data.get("tiring_in_words"), "tiring_in_words"))
    if words and tiring is not None and tiring not in (0, *handcheck.WORDS):
        reader.wrong("tiring", "wire-words")
    return tiring, words and tiring is not None


def _hand(reader: _Reader, value: Any, choices: Mapping[str, Collection[str]]) -> HandRecord | None:
    if value is None:
        return None
    fields = reader.object_(
        value, "hand", ("discomfort", "rested", *_HAND_WORDS, *handcheck.QUESTIONS, "also", "in_words")
    )
    if not isinstance(value, dict):
        return None
    discomfort = reader.whole(fields.get("discomfort"), "hand.discomfort", 0, 10)
    rested = reader.whole(fields.get("rested"), "hand.rested", 0, 10)
    told = {name: reader.choice(fields.get(name), f"hand.{name}", choices.get(name, ())) for name in _HAND_WORDS}
    answers = {name: _yes(reader, fields.get(name), f"hand.{name}") for name in handcheck.QUESTIONS}
    words = bool(_yes(reader, fields.get("in_words"), "hand.in_words"))
    also = _also(reader, fields.get("also"))
    if discomfort is None:
        if "hand.discomfort" not in reader.errors:
            reader.wrong("hand.discomfort", "wire-discomfort")
        return None
    given: dict[str, Any] = {**told, **answers, "also": also}
    found = handcheck.fitting(HandRecord(discomfort, rested=rested, in_words=words, **given))
    for name, code in handcheck.wrong(found):
        if f"hand.{name}" not in reader.errors:
            reader.wrong(f"hand.{name}", code)
    return found


def _note(reader: _Reader, value: Any) -> str:
    if value is None:
        return ""
    if not isinstance(value, str):
        reader.wrong("note", "wire-text")
        return ""
    note = value.strip()
    if len(note) > MOST_NOTE:
        reader.wrong("note", "wire-note-long", most=MOST_NOTE)
    # half of a surrogate pair cannot be stored as UTF-8, a zero byte not in PostgreSQL
    if "\x00" in note or any(0xD800 <= ord(sign) <= 0xDFFF for sign in note):
        reader.wrong("note", "wire-text")
    return note
