"""Writing what was logged: one transaction for an entry, and never a second row for the same code."""

import datetime as dt
import uuid
from dataclasses import dataclass

from django.db import IntegrityError, transaction

from practice.models import Goal, HandNote, PracticeEntry, Result, Segment, TellTeacher
from practice.record import EntryRecord, HandRecord
from students.calendar import local_day
from students.models import Student


@dataclass(frozen=True)
class Stored:
    """entry: the row; fresh: written now; same: what was stored before is the same as what was sent."""

    entry: PracticeEntry
    fresh: bool
    same: bool = True


class ForeignCode(Exception):
    """The code of an entry belongs to another student's entry."""


def store_entry(
    student: Student, record: EntryRecord, by: str, by_name: str, now: dt.datetime, hand_consent: bool
) -> Stored:
    """Writes entry, segments, results and hand note in one transaction, or finds them written before.

    Hand values (how tiring, the hand note) are dropped unless `hand_consent`. Goals that are not the student's
    are an error of the caller and refused by KeyError before anything is written. Raises ForeignCode.
    """
    earlier = PracticeEntry.objects.filter(code=record.code).first()
    if earlier is None:
        try:
            with transaction.atomic():
                return Stored(_write(student, record, by, by_name, now, hand_consent), fresh=True)
        except IntegrityError:
            # the same entry sent twice at once: the other request was first
            earlier = PracticeEntry.objects.filter(code=record.code).first()
            if earlier is None:
                raise
    if earlier.student_id != student.pk:
        raise ForeignCode(str(record.code))
    return Stored(earlier, fresh=False, same=_is_same(earlier, record, hand_consent))


def _write(
    student: Student, record: EntryRecord, by: str, by_name: str, now: dt.datetime, hand_consent: bool
) -> PracticeEntry:
    zone = student.studio.zone
    entry = PracticeEntry.objects.create(
        code=record.code,
        student=student,
        begun=record.begun,
        seconds=record.seconds,
        day=local_day(record.begun, zone),
        by=by,
        by_name=by_name,
        tiring=record.tiring if hand_consent else None,
        note=record.note,
        stored_at=now,
    )
    goals = {goal.code: goal for goal in Goal.objects.filter(student=student)}
    Segment.objects.bulk_create(
        Segment(entry=entry, goal=goals[code], seconds=seconds) for code, seconds in record.segments
    )
    Result.objects.bulk_create(
        Result(
            student=student,
            goal=goals[result.goal],
            entry=entry,
            day=entry.day,
            at=record.end,
            measure=result.measure,
            value=result.value,
            failed_strings=list(result.failed_strings),
        )
        for result in record.results
    )
    if record.hand is not None and hand_consent:
        HandNote.objects.create(
            student=student,
            entry=entry,
            at=record.end,
            day=local_day(record.end, zone),
            by=by,
            discomfort=record.hand.discomfort,
            hand=record.hand.hand,
            place=record.hand.place,
            sensation=record.hand.sensation,
            settles=record.hand.settles,
        )
    return entry


def _is_same(entry: PracticeEntry, record: EntryRecord, hand_consent: bool) -> bool:
    """Whether a stored entry says what the record says; a start that nobody typed may have moved meanwhile."""
    note = entry.hand_notes.first()
    stored_hand = note and HandRecord(note.discomfort, note.hand, note.place, note.sensation, note.settles)
    return (
        (stored_hand == record.hand or not hand_consent)
        and abs((entry.begun - record.begun).total_seconds()) < 3600
        and entry.seconds == record.seconds
        and (entry.tiring == record.tiring or not hand_consent)
        and entry.note == record.note
        and set(entry.segments.values_list("goal__code", "seconds")) == set(record.segments)
        and set(entry.results.values_list("goal__code", "measure", "value"))
        == {(result.goal, result.measure, result.value) for result in record.results}
    )


def tell_teacher(student: Student, code: object, by: str, now: dt.datetime) -> None:
    """Keeps that somebody asks for a word about the hand, once per code; no value is stored.

    A code that cannot be read gets a fresh one: the wish is worth more than its form.
    """
    try:
        key = uuid.UUID(str(code))
    except ValueError:
        key = uuid.uuid4()
    TellTeacher.objects.get_or_create(code=key, defaults={"student": student, "by": by, "at": now})
