"""An entry on its way into the database: a plain record, the rules it must keep, and one transaction.

Whatever logs (the student's form, a parent's, a teacher's from paper) ends in an `EntryRecord`; `store` writes
it once, however often it is sent.
"""

import datetime as dt
import uuid
from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum
from zoneinfo import ZoneInfo

from students.calendar import local_day

LONGEST = 8 * 3600
OLDEST_DAYS = 366
# Where an entry without a time of day is put when nothing else is logged on that day: early afternoon.
USUAL_TIME = dt.time(14, 0)
# Where a hand note of an earlier day stands that does not say when: after most of what is logged on a day.
EVENING = dt.time(20, 0)
# A clock that runs up to so far ahead is nobody's fault.
AHEAD = dt.timedelta(minutes=2)


@dataclass(frozen=True)
class ResultRecord:
    """One self-reported measurement. goal: its code; failed_strings: numbers, 6 the lowest."""

    goal: uuid.UUID
    measure: str
    value: float
    failed_strings: tuple[int, ...] = ()


@dataclass(frozen=True)
class HandRecord:
    """A hand note as answered. discomfort, and `rested` after ten minutes' rest, 0 to 10; words as in
    practice.models.HandNote, "" for not said; yes/no answers None where not given.

    in_words: the numbers stand for three words (practice.handcheck); also: what was ticked under "Any of these?", in
    the order of practice.handrows.ALSO, whatever the order of the ticks.
    """

    discomfort: int
    hand: str = ""
    place: str = ""
    sensation: str = ""
    settles: str = ""
    rested: int | None = None
    began: str = ""
    at_rest: bool | None = None
    daily: bool | None = None
    sudden: bool | None = None
    tip_only: bool | None = None
    in_words: bool = False
    face_arm_leg: bool | None = None
    also: tuple[str, ...] = ()


@dataclass(frozen=True)
class EntryRecord:
    """A whole session. begun: aware; seconds: 1 to 28,800 played; segments: (goal code, seconds) pairs.

    placed: nobody said the time of day, `place_in_day` chose it. tiring_in_words: as HandRecord.in_words.
    """

    code: uuid.UUID
    begun: dt.datetime
    seconds: int
    segments: tuple[tuple[uuid.UUID, int], ...] = ()
    results: tuple[ResultRecord, ...] = ()
    tiring: int | None = None
    hand: HandRecord | None = None
    note: str = ""
    placed: bool = False
    tiring_in_words: bool = False

    @property
    def end(self) -> dt.datetime:
        return self.begun + dt.timedelta(seconds=self.seconds)

    @property
    def hand_values(self) -> tuple[int | None, bool, HandRecord | None]:
        """What needs a consent."""
        return self.tiring, self.tiring_in_words, self.hand

    def without_hand(self) -> "EntryRecord":
        """The record as it is kept without a consent, and read back to a phone."""
        return replace(self, tiring=None, tiring_in_words=False, hand=None)


@dataclass(frozen=True)
class HandNoteRecord:
    """A hand note by itself: nobody needs to have practised. at: aware; placed: nobody said the day, so it is the
    moment at which the note came."""

    code: uuid.UUID
    at: dt.datetime
    hand: HandRecord
    placed: bool = False


def same_note(stored: HandNoteRecord, sent: HandNoteRecord, zone: str) -> bool:
    """Whether a note that came again says what is stored of it. When on its day it was is nobody's answer: one that did
    not say so stands where it came first."""
    same_day = local_day(stored.at, zone) == local_day(sent.at, zone)
    return stored.hand == sent.hand and (sent.placed or same_day)


def note_instant(day: dt.date, start: dt.time | None, now: dt.datetime, zone: str) -> dt.datetime:
    """The instant of a hand note of a local day, in UTC: at `start`, or else today now and on an earlier day in the
    evening."""
    if start is None and day >= local_day(now, zone):
        return now
    return dt.datetime.combine(day, EVENING if start is None else start, tzinfo=ZoneInfo(zone)).astimezone(dt.UTC)


def same_content(stored: EntryRecord, sent: EntryRecord, hand_consent: bool) -> bool:
    """Whether an entry that came again says what is stored of it.

    Hand values are left out without consent, as they were when it was stored. An instant is compared by the
    second; one that was placed may have been placed elsewhere in its day.
    """
    apart = abs((stored.begun - sent.begun).total_seconds())
    return (
        apart < (2 * 86400 if sent.placed else 1)
        and stored.seconds == sent.seconds
        and stored.note == sent.note
        and set(stored.segments) == set(sent.segments)
        and {_comparable(result) for result in stored.results} == {_comparable(result) for result in sent.results}
        and (not hand_consent or stored.hand_values == sent.hand_values)
    )


def _comparable(result: ResultRecord) -> tuple[object, ...]:
    return result.goal, result.measure, result.value, frozenset(result.failed_strings)


class Fault(Enum):
    """Why a span cannot be logged as it stands; the form says it beside the field."""

    FUTURE = "future"
    TOO_LONG = "too-long"
    TOO_OLD = "too-old"
    OVERLAP = "overlap"


Span = tuple[dt.datetime, dt.datetime]


def overlap_seconds(one: Span, other: Span) -> float:
    """Seconds that two half-open spans share."""
    return max(0.0, (min(one[1], other[1]) - max(one[0], other[0])).total_seconds())


def overlapping(span: Span, others: Iterable[Span]) -> Span | None:
    """The first of `others` that shares more than half of the shorter of the two spans."""
    for other in others:
        shorter = min((span[1] - span[0]).total_seconds(), (other[1] - other[0]).total_seconds())
        if overlap_seconds(span, other) * 2 > shorter:
            return other
    return None


def faults(begun: dt.datetime, seconds: int, now: dt.datetime, others: Iterable[Span]) -> list[Fault]:
    """What is wrong with a session's span, given the student's other sessions. Empty when nothing is."""
    end = begun + dt.timedelta(seconds=seconds)
    found = []
    if end > now + AHEAD:
        found.append(Fault.FUTURE)
    if seconds > LONGEST:
        found.append(Fault.TOO_LONG)
    if begun < now - dt.timedelta(days=OLDEST_DAYS):
        found.append(Fault.TOO_OLD)
    if not found and overlapping((begun, end), others):
        found.append(Fault.OVERLAP)
    return found


def place_in_day(day: dt.date, seconds: int, now: dt.datetime, zone: str, others: Iterable[Span]) -> dt.datetime:
    """An instant for a session whose time of day nobody wrote down, in UTC.

    Today's ends now, or where a session logged before it begins; an earlier day's stands at 14:00, or behind
    what is already logged on that day, and never leaves its day.
    """
    tz = ZoneInfo(zone)
    length = dt.timedelta(seconds=seconds)
    if day >= now.astimezone(tz).date():
        end = now
        for begun, other_end in sorted(others, reverse=True):
            if overlap_seconds((end - length, end), (begun, other_end)):
                end = begun
        return end - length
    start = dt.datetime.combine(day, USUAL_TIME, tzinfo=tz).astimezone(dt.UTC)
    for begun, end in sorted(others):
        if overlap_seconds((start, start + length), (begun, end)):
            start = end
    if start.astimezone(tz).date() != day:
        start = dt.datetime.combine(day, dt.time(23, 59), tzinfo=tz).astimezone(dt.UTC)
    return start
