"""What the phone's queue talks to: a PUT that stores an entry once, one that keeps a hand note once, and the token that
it needs for them.

Every answer is JSON and none is a redirect. The phone lets go of an entry only on a 200 or 201 with its code. Where
a hand was spoken of, the answer carries what is to be shown first: `html`, `level` and `rule` of the hand's answer by
all that is known of it, and `kept`, false where no consent stands any more.
"""

import datetime as dt
import uuid
from dataclasses import dataclass
from http import HTTPStatus
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from practice import wire
from practice.correcting import why_not_student, wire_goals
from practice.logwork import NOTE_KEPT, NOTE_NOT_KEPT, TOLD_TEACHER, is_drill, spans_near, told_of
from practice.mailing import hear_after_commit, unhear
from practice.models import Goal, HandNote, PracticeEntry
from practice.record import EntryRecord, HandRecord, same_content
from practice.store import (
    ForeignCode,
    Gone,
    NoConsent,
    RemovedCode,
    VersionPassed,
    correct_entry,
    goals_of,
    hand_of,
    keep_tell,
    record_of,
    store_entry,
    store_note,
)
from practice.views.hand_answer import STUDENT, as_json, shown_after, shown_alone
from practice.wire_words import in_words
from practice.worker import worker_script
from students.models import Student
from students.viewer import Role, open_to

HAND_CHOICES = {
    "hand": HandNote.Hand.values,
    "place": HandNote.Place.values,
    "sensation": HandNote.Sensation.values,
    "settles": HandNote.Settles.values,
    "began": HandNote.Began.values,
}


@open_to(Role.STUDENT)
@never_cache
@require_http_methods(["PUT"])
def entry(request: HttpRequest, student: uuid.UUID, entry: uuid.UUID) -> HttpResponse:
    """201: stored now; 200: the same is stored already, or a correction was; 409: something else is, and here it is;
    400: that is no JSON; 404: the record was erased meanwhile; 413: over 64 KB; 415: not said to be JSON; 422: errors
    by field."""
    body = _json_body(request)
    if isinstance(body, HttpResponse):
        return body
    row, now = request.viewer.student, timezone.now()
    goals = goals_of(row)
    try:
        sent = wire.read(body, entry, wire_goals(row, goals.values()), HAND_CHOICES)
        kept = _keep(row, sent, goals, now)
    except wire.WireError as error:
        return _wrong(error)
    except Gone:
        return _gone()
    if isinstance(kept, HttpResponse):
        return kept
    said = {"code": str(kept.entry.code), "version": kept.entry.version, "said": told_of(kept.record)}
    hand = kept.record.hand
    if hand is not None:
        note = kept.entry.hand_notes.select_related("entry").first()
        said |= _answer(request, row, hand, note, now, kept.record.seconds)
    return JsonResponse({**NO_HAND, **said}, status=kept.status)


@open_to(Role.STUDENT)
@never_cache
@require_http_methods(["PUT"])
def hand(request: HttpRequest, student: uuid.UUID, note: uuid.UUID) -> HttpResponse:
    """A hand note by itself. 201: kept now; 200: the same is kept already, or nothing may be kept; 409: something else
    is, it was taken back, or the code is somebody else's; the others as for an entry."""
    body = _json_body(request)
    if isinstance(body, HttpResponse):
        return body
    row, now = request.viewer.student, timezone.now()
    try:
        sent = wire.read_note(body, note, HAND_CHOICES)
        fresh = not row.hand_notes.filter(code=note).exists()
        record = wire.place_note(sent, now, row.studio.zone, row.joined, check=fresh)
        stored = store_note(row, record, PracticeEntry.By.STUDENT, now)
    except wire.WireError as error:
        return _wrong(error)
    except NoConsent:
        answer = _answer(request, row, sent.hand, None, now)
        return JsonResponse({"code": str(note), "said": str(NOTE_NOT_KEPT), **answer})
    except RemovedCode:
        return _taken(_("This note was taken back as a wrong tap. Send it once more if it was none."))
    except ForeignCode:
        return _taken()
    except Gone:
        return _gone()
    if not stored.same:
        return _taken(_("This note was kept before, with other answers. Send it once more as a second note."))
    answer = _answer(request, row, sent.hand, stored.note, now)
    status = HTTPStatus.CREATED if stored.fresh else HTTPStatus.OK
    return JsonResponse({"code": str(note), "said": str(NOTE_KEPT), **answer}, status=status)


# What an answer says of the hand where none was spoken of.
NO_HAND = {"html": "", "level": "", "rule": "", "kept": True}


def _answer(
    request: HttpRequest, student: Student, given: HandRecord, note: HandNote | None, now: dt.datetime, seconds: int = 0
) -> dict[str, Any]:
    """What the phone shows first. note: the row that is kept of what was given; None where nothing may be kept."""
    if note is None:
        return {**as_json(request, shown_alone(STUDENT, student, given, now, seconds)), "kept": False}
    # the mail first: whether the teacher was told is said in the answer
    hear_after_commit(student, now, request.build_absolute_uri)
    return {**as_json(request, shown_after(STUDENT, student, note, now)), "kept": True}


@dataclass(frozen=True)
class Kept:
    """An entry that is stored as it was sent."""

    entry: PracticeEntry
    record: EntryRecord
    status: HTTPStatus = HTTPStatus.OK


def _keep(student: Student, sent: wire.Sent, goals: dict[uuid.UUID, Goal], now: dt.datetime) -> Kept | HttpResponse:
    # a drill stands beside a session, as the timer does not run meanwhile: it is not held against one
    spans = [] if is_drill(sent.record, goals) else spans_near(student, now, str(sent.record.code))
    earlier = PracticeEntry.objects.filter(code=sent.record.code).first()
    if earlier is None:
        record = wire.place(sent, now, student.studio.zone, spans, joined=student.joined)
        try:
            by = PracticeEntry.By.STUDENT
            # the store asks for the consent itself, inside its transaction
            stored = store_entry(student, record, by, student.name, now, True, goals, looked=True)
        except RemovedCode:
            return _taken(_("This session was removed. Throw it away here too, or put it right to log it anew."))
        except ForeignCode:
            return _taken()
        if stored.fresh:
            return Kept(stored.entry, record, HTTPStatus.CREATED)
        return Kept(stored.entry, record) if stored.same else _other(stored.entry)
    if earlier.student_id != student.pk:
        return _taken()
    consent = student.may_keep_hand_values(student.studio.today(now))
    # the row's own student would be read once more from the database
    earlier.student = student
    record = wire.place(sent, now, student.studio.zone, spans, check=False)
    if same_content(record_of(earlier), record, consent):
        return Kept(earlier, record)
    if sent.version != earlier.version:
        return _other(earlier)
    if why := why_not_student(earlier, now):
        return _other(earlier, why)
    record = wire.place(sent, now, student.studio.zone, spans, joined=student.joined)
    by, begun, before = PracticeEntry.By.STUDENT, earlier.begun, earlier.hand_notes.first()
    try:
        corrected = correct_entry(earlier, record, sent.version, by, now, consent, student.name)
        if before is not None and consent and hand_of(before) != record.hand:
            # the mail about what was said before speaks of nothing any more
            unhear(student, begun, now)
        return Kept(corrected, record)
    except VersionPassed:
        # corrected by somebody else meanwhile, or removed
        earlier = PracticeEntry.objects.filter(pk=earlier.pk).first()
        return _other(earlier) if earlier is not None else _taken()


def _json_body(request: HttpRequest) -> bytes | HttpResponse:
    """The body of a request that says it is JSON, or the answer that refuses it."""
    if request.content_type != "application/json":
        return _refuse(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, _("Send it as application/json."))
    body = _body(request)
    if body is None:
        return _refuse(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, _("That is over 64 KB. Nothing was stored."))
    return body


def _body(request: HttpRequest) -> bytes | None:
    """The body, or None when it is longer than any entry. A connection that breaks off leaves a body cut short."""
    length = request.META.get("CONTENT_LENGTH") or "0"
    if length.isdecimal() and int(length[:20]) > wire.MOST_BYTES:
        return None
    try:
        body = request.read(wire.MOST_BYTES + 1)
    except OSError:
        return b""
    return body if len(body) <= wire.MOST_BYTES else None


def _wrong(error: wire.WireError) -> JsonResponse:
    unread = set(error.errors) == {wire.BODY}
    return _refuse(
        HTTPStatus.BAD_REQUEST if unread else HTTPStatus.UNPROCESSABLE_ENTITY,
        _("Nothing was stored yet. Please look at what is marked."),
        errors=in_words(error.errors),
    )


def _other(entry: PracticeEntry, why: str = "") -> JsonResponse:
    return _refuse(
        HTTPStatus.CONFLICT,
        why or _("This session was stored before, with other values. Look at them, and send it as you mean it."),
        # what was said of the hand is never read back: whoever holds the phone now may not be who said it
        stored={**wire.write(record_of(entry).without_hand()), "version": entry.version},
    )


def _taken(why: str = "") -> JsonResponse:
    """The code is not to be had: it belongs to somebody else's entry, of which nothing is told, or to a removed one."""
    return _refuse(HTTPStatus.CONFLICT, why or _("Please send it once more."), taken=True)


def _gone() -> JsonResponse:
    return _refuse(HTTPStatus.NOT_FOUND, _("This page has ended. Nothing was stored."))


def _refuse(status: HTTPStatus, error: str, **more: Any) -> JsonResponse:
    return JsonResponse({"error": error, **more}, status=status)


@open_to(Role.STUDENT)
@never_cache
@require_http_methods(["PUT"])
def tell(request: HttpRequest, student: uuid.UUID, tell: uuid.UUID) -> HttpResponse:
    """A wish for a word about the hand. 201: kept now; 200: was kept before, or enough of them wait to be seen; 409:
    the code is somebody else's. What stands in the body is not read: no value belongs to a wish."""
    row = request.viewer.student
    try:
        fresh = keep_tell(row, tell, PracticeEntry.By.STUDENT, timezone.now())
    except ForeignCode:
        return _taken()
    except Gone:
        return _gone()
    status = HTTPStatus.CREATED if fresh else HTTPStatus.OK
    return JsonResponse({"code": str(tell), "said": TOLD_TEACHER}, status=status)


@open_to(Role.STUDENT)
@never_cache
@require_GET
def token(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """The form token for a PUT: a page that was opened offline carries one that may be long out of date."""
    return JsonResponse({"token": get_token(request)})


@login_not_required
@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker. It tells nothing of anybody, so that a phone can update it when its link has ended."""
    response = HttpResponse(worker_script(), content_type="text/javascript; charset=utf-8")
    patch_cache_control(response, no_cache=True)
    return response
