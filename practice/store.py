"""Writing what was logged: one transaction for an entry or a hand note, and never a second row for the same code."""

import datetime as dt
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, fields

from django.db import IntegrityError, connection, transaction
from django.db.models import Subquery
from django.http import Http404

from practice.handcheck import in_order
from practice.models import Goal, HandNote, PracticeEntry, RemovedEntry, Result, Segment, TellTeacher
from practice.record import EntryRecord, HandNoteRecord, HandRecord, ResultRecord, same_content, same_note
from practice.wire import write
from students.calendar import local_day
from students.models import Student

# wishes for a word that wait to be seen: the teacher is asked already, and one more would say nothing new
MOST_WISHES = 5


@dataclass(frozen=True)
class Stored:
    """entry: the row; fresh: written now; same: what was stored before is the same as what was sent."""

    entry: PracticeEntry
    fresh: bool
    same: bool = True


class ForeignCode(Exception):
    """The code of an entry belongs to another student's entry."""


class Gone(Http404):
    """The student's record was erased since the request began: every page answers with 404."""


class RemovedCode(ForeignCode):
    """The code belongs to an entry or a note of this student that was removed: it does not come back by itself."""


class NoConsent(Exception):
    """Nobody agrees any more that what is said of this hand is kept."""


def store_entry(
    student: Student,
    record: EntryRecord,
    by: str,
    by_name: str,
    now: dt.datetime,
    hand_consent: bool,
    goals: Mapping[uuid.UUID, Goal] | None = None,
    looked: bool = False,
) -> Stored:
    """Writes entry, segments, results and hand note in one transaction, or finds them written before.

    Hand values (how tiring, the hand note) are dropped unless `hand_consent`, which is asked again inside. Goals
    that are not the student's are an error of the caller and end in KeyError with nothing written.
    goals: `goals_of(student)` where the caller has them; looked: the caller has looked for the code and found
    nothing. Raises ForeignCode, RemovedCode, Gone.
    """
    earlier = None if looked else PracticeEntry.objects.filter(code=record.code).first()
    if earlier is None:
        try:
            with transaction.atomic():
                return Stored(_write(student, record, by, by_name, now, hand_consent, goals), fresh=True)
        except IntegrityError:
            # the same entry sent twice at once: the other request was first
            earlier = PracticeEntry.objects.filter(code=record.code).first()
            if earlier is None:
                require_student(student)
                raise
    if earlier.student_id != student.pk:
        raise ForeignCode(str(record.code))
    # a caller may have left the question to the transaction above
    agreed = hand_consent and (
        (record.tiring is None and record.hand is None) or student.may_keep_hand_values(student.studio.today(now))
    )
    return Stored(earlier, fresh=False, same=same_content(record_of(earlier), record, agreed))


def _write(
    student: Student,
    record: EntryRecord,
    by: str,
    by_name: str,
    now: dt.datetime,
    hand_consent: bool,
    goals: Mapping[uuid.UUID, Goal] | None,
) -> PracticeEntry:
    zone = student.studio.zone
    hand_consent = _still_free(student, record, now) and hand_consent
    entry = PracticeEntry.objects.create(
        code=record.code,
        student=student,
        begun=record.begun,
        seconds=record.seconds,
        day=local_day(record.begun, zone),
        by=by,
        by_name=by_name,
        tiring=record.tiring if hand_consent else None,
        tiring_in_words=record.tiring_in_words and hand_consent,
        note=record.note,
        stored_at=now,
    )
    _write_parts(entry, record, goals_of(student) if goals is None else goals)
    if hand_consent:
        _write_hand(entry, record, by, now)
    return entry


def hold(student: Student) -> None:
    """Holds the student's row to the end of the transaction: a withdrawal of consent that comes now waits and then
    finds what is written here; one that came first is seen. SQLite has one writer at a time anyway."""
    if connection.features.has_select_for_update:
        Student.objects.select_for_update().filter(pk=student.pk).values_list("pk").first()


def still_agreed(student: Student, today: dt.date) -> bool:
    """Asks for the consent again inside the transaction that writes, under the student's row: it may have been
    withdrawn since the page was drawn, and what stands now stands until what follows is written."""
    hold(student)
    return student.may_keep_hand_values(today)


def require_student(student: Student) -> None:
    """Raises Gone when the student's row is not there any more. One query."""
    if not Student.objects.filter(pk=student.pk).exists():
        raise Gone


def _still_free(student: Student, record: EntryRecord, now: dt.datetime) -> bool:
    """Asks, in one query inside the transaction that writes, for the consent and whether an entry of this code was
    removed: True when hand values may be kept. Raises RemovedCode, ForeignCode, Gone."""
    if record.tiring is not None or record.hand is not None:
        hold(student)
    removed = RemovedEntry.objects.filter(code=record.code).values("student")[:1]
    rows = Student.objects.filter(pk=student.pk).with_hand_consent(student.studio.today(now))
    found = rows.annotate(removed=Subquery(removed)).values_list("hand_consent", "removed").first()
    if found is None:
        raise Gone
    agreed, whose = found
    if whose is not None:
        raise RemovedCode(str(record.code)) if whose == student.pk else ForeignCode(str(record.code))
    return bool(agreed)


def goals_of(student: Student) -> dict[uuid.UUID, Goal]:
    """The student's goals by their codes, set aside ones too. One query."""
    return {goal.code: goal for goal in Goal.objects.filter(student=student)}


def _write_parts(entry: PracticeEntry, record: EntryRecord, goals: Mapping[uuid.UUID, Goal]) -> None:
    Segment.objects.bulk_create(
        Segment(entry=entry, goal=goals[code], seconds=seconds) for code, seconds in record.segments
    )
    Result.objects.bulk_create(
        Result(
            student_id=entry.student_id,
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


def _write_hand(entry: PracticeEntry, record: EntryRecord, by: str, now: dt.datetime) -> None:
    if record.hand is None:
        return
    zone = entry.student.studio.zone
    at = record.end
    if record.placed and entry.day == local_day(now, zone):
        # nobody said when it was, so today's session may stand before an earlier one; the hand was asked after now
        at = now
    earlier = HandNote.objects.filter(student=entry.student, code=record.code, entry=None).first()
    if earlier is not None and hand_of(earlier) == record.hand:
        # the form went back and came again with minutes: what was said once is one note
        earlier.entry = entry
        earlier.save(update_fields=["entry"])
        return
    HandNote.objects.create(
        student=entry.student,
        entry=entry,
        at=at,
        day=local_day(at, zone),
        by=by,
        **_columns(record.hand),
    )


def _columns(hand: HandRecord) -> dict[str, object]:
    return {**vars(hand), "also": list(hand.also)}


def hand_of(note: HandNote) -> HandRecord:
    """What is stored of a hand, as the record that it was."""
    values = {one.name: getattr(note, one.name) for one in fields(HandRecord)}
    return HandRecord(**{**values, "also": in_order(note.also)})


def record_of(entry: PracticeEntry) -> EntryRecord:
    """What is stored of an entry, as the record that it was. Three queries."""
    note = entry.hand_notes.first()
    return EntryRecord(
        code=entry.code,
        begun=entry.begun,
        seconds=entry.seconds,
        segments=tuple(entry.segments.order_by("pk").values_list("goal__code", "seconds")),
        results=tuple(
            ResultRecord(goal, measure, value, tuple(failed))
            for goal, measure, value, failed in entry.results.order_by("pk").values_list(
                "goal__code", "measure", "value", "failed_strings"
            )
        ),
        tiring=entry.tiring,
        tiring_in_words=entry.tiring_in_words,
        hand=note and hand_of(note),
        note=entry.note,
    )


class VersionPassed(Exception):
    """A correction names a version that is not the stored one any more."""


def correct_entry(
    entry: PracticeEntry,
    record: EntryRecord,
    version: int,
    by: str,
    now: dt.datetime,
    hand_consent: bool,
    by_name: str = "",
) -> PracticeEntry:
    """Puts a corrected record in place of the stored version that it names; the former values are kept with the
    entry: until when they stood, and who (by, by_name) changed them. One transaction. Raises VersionPassed when
    somebody else corrected or removed it first.

    Without `hand_consent` everything said of the hand stays as it is stored. Former hand values are not kept: a
    consent that is withdrawn must find them in one place.
    """
    before = record_of(entry)
    former = write(before.without_hand())
    kept = {"version": version, "until": now.isoformat(), "by": by, "name": by_name, "entry": former}
    student = entry.student
    with transaction.atomic():
        hand_consent = hand_consent and still_agreed(student, student.studio.today(now))
        changed = PracticeEntry.objects.filter(pk=entry.pk, version=version).update(
            begun=record.begun,
            seconds=record.seconds,
            day=local_day(record.begun, student.studio.zone),
            note=record.note,
            version=version + 1,
            former=[*entry.former, kept],
            changed_at=now,
            # without a consent what is stored stays: `entry` was read before, and it may have been erased since
            **({"tiring": record.tiring, "tiring_in_words": record.tiring_in_words} if hand_consent else {}),
        )
        if not changed:
            raise VersionPassed(str(entry.code))
        entry.refresh_from_db()
        entry.segments.all().delete()
        entry.results.all().delete()
        _write_parts(entry, record, goals_of(student))
        if hand_consent and record.hand != before.hand:
            _drop_notes(entry, by, now)
            entry.hand_notes.update(entry=None)
            _write_hand(entry, record, by, now)
    return entry


def remove_entry(entry: PracticeEntry, version: int, by: str, by_name: str, now: dt.datetime) -> None:
    """Removes the version of an entry that is named, for good: what stays is that it was removed. One transaction.
    Raises VersionPassed when somebody else corrected or removed it first.

    A hand note of it goes too, but for what stays in the hand's own history (`_drop_notes`).
    """
    with transaction.atomic():
        if not PracticeEntry.objects.filter(pk=entry.pk, version=version).update(version=version + 1):
            raise VersionPassed(str(entry.code))
        _drop_notes(entry, by, now)
        RemovedEntry.objects.create(code=entry.code, student_id=entry.student_id, at=now, by=by, by_name=by_name)
        entry.delete()


def _drop_notes(entry: PracticeEntry, by: str, now: dt.datetime) -> None:
    """Removes the hand notes of a session that is put right or removed. What the teacher has seen or closed stays in
    the hand's own history, and so does what stops all playing, once a wrong tap can no longer be taken back: that is
    closed by the teacher with a clinician's word, and not by putting the session right."""
    for note in entry.hand_notes.filter(seen_at__isnull=True, closed_at__isnull=True).select_related("entry"):
        if not note.stops or may_take_back(note, by, now):
            note.delete()


# -- a hand note by itself --------------------------------------------------------------------------------------------

# For how long a note is taken back as a wrong tap, while nobody has seen it; after that it is the teacher's to do.
TAKEN_BACK_FOR = dt.timedelta(minutes=60)


@dataclass(frozen=True)
class StoredNote:
    """note: the row; fresh: written now; same: what was stored before is the same as what was sent."""

    note: HandNote
    fresh: bool
    same: bool = True


def store_note(student: Student, record: HandNoteRecord, by: str, now: dt.datetime) -> StoredNote:
    """Writes a hand note that belongs to no session, or finds it written before. One transaction, in which the consent
    is asked again. Raises NoConsent, ForeignCode, RemovedCode, Gone."""
    zone = student.studio.zone
    try:
        with transaction.atomic():
            if not still_agreed(student, student.studio.today(now)):
                require_student(student)
                raise NoConsent
            if TellTeacher.objects.filter(code=record.code, about=TellTeacher.About.TAKEN_BACK).exists():
                raise RemovedCode(str(record.code))
            earlier = HandNote.objects.filter(code=record.code).first()
            if earlier is None:
                note = HandNote.objects.create(
                    code=record.code, student=student, at=record.at, day=local_day(record.at, zone), by=by,
                    **_columns(record.hand),
                )  # fmt: skip
                return StoredNote(note, fresh=True)
    except IntegrityError:
        # the same note sent twice at once: the other request was first
        earlier = HandNote.objects.filter(code=record.code).first()
        if earlier is None:
            require_student(student)
            raise
    if earlier.student_id != student.pk:
        raise ForeignCode(str(record.code))
    stored = HandNoteRecord(earlier.code, earlier.at, hand_of(earlier))
    return StoredNote(earlier, fresh=False, same=same_note(stored, record, zone))


def may_take_back(note: HandNote, by: str, now: dt.datetime) -> bool:
    """Whether whoever gave a note may still call it a wrong tap. note: with its entry."""
    since = note.entry.stored_at if note.entry is not None else note.at
    untouched = note.seen_at is None and note.closed_at is None
    return note.by == by and untouched and now - since <= TAKEN_BACK_FOR


def take_back(note: HandNote, by: str, now: dt.datetime) -> bool:
    """Removes a note that was tapped by mistake, and lets the teacher know that there was one, without a value; its
    session stays. One transaction. False when it is not to be had any more: somebody has seen or closed it meanwhile.

    What the teacher is told keeps the note's code, so that a phone which missed the answer does not bring it back.
    """
    student = note.student
    with transaction.atomic():
        hold(student)
        left = HandNote.objects.filter(pk=note.pk, by=by, seen_at__isnull=True, closed_at__isnull=True)
        if not may_take_back(note, by, now) or not left.delete()[0]:
            return False
        about = TellTeacher.About.TAKEN_BACK
        if not _told_enough(student, about):
            TellTeacher.objects.get_or_create(
                code=note.code, defaults={"student": student, "by": by, "at": now, "about": about}
            )
    return True


def was_taken_back(student: Student, code: uuid.UUID) -> bool:
    """Whether a note of this code was taken back by this student's own people."""
    return TellTeacher.objects.filter(student=student, code=code, about=TellTeacher.About.TAKEN_BACK).exists()


# -- a wish for a word ------------------------------------------------------------------------------------------------


def _told_enough(student: Student, about: str) -> bool:
    return TellTeacher.objects.filter(student=student, about=about, seen_at=None).count() >= MOST_WISHES


def _wished_enough(student: Student) -> bool:
    return _told_enough(student, TellTeacher.About.WORD)


def tell_teacher(student: Student, code: object, by: str, now: dt.datetime) -> None:
    """Keeps that somebody asks for a word about the hand, once per code while the teacher has not seen it; no value
    is stored.

    A code that cannot be read, was answered before or is another student's gets a fresh one: the wish is worth more
    than its form. While MOST_WISHES wait to be seen a further one is not stored.
    """
    if _wished_enough(student):
        return
    try:
        key = uuid.UUID(str(code))
    except ValueError:
        key = uuid.uuid4()
    told = TellTeacher.objects.filter(code=key).first()
    if told is not None and told.student_id == student.pk and told.seen_at is None:
        return
    key = uuid.uuid4() if told is not None else key
    TellTeacher.objects.get_or_create(code=key, defaults={"student": student, "by": by, "at": now})


def keep_tell(student: Student, code: uuid.UUID, by: str, now: dt.datetime) -> bool:
    """Keeps a wish for a word about the hand that a phone sent, once per code for good: a phone that missed the answer
    sends it again, also after the teacher has seen it. While MOST_WISHES wait to be seen a further one is not stored.
    Whether it was stored now. Raises ForeignCode, Gone.
    """
    with transaction.atomic():
        hold(student)
        require_student(student)
        if _wished_enough(student) and not TellTeacher.objects.filter(code=code).exists():
            return False
        row, fresh = TellTeacher.objects.get_or_create(code=code, defaults={"student": student, "by": by, "at": now})
    if row.student_id != student.pk:
        raise ForeignCode(str(code))
    return fresh
