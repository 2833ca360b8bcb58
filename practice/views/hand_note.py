"""A hand note by itself: the page that asks, the answer shown first and alone, and a wrong tap taken back.

The student's, the family's and the teacher's pages are the same but for their addresses (practice.views.hand_answer).
"""

import uuid

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from practice.hand_note_form import HandAskForm, HandNoteForm
from practice.logwork import log_note
from practice.mailing import unhear
from practice.models import HandNote
from practice.store import take_back, was_taken_back
from practice.views.family import child_of
from practice.views.hand_answer import (
    FAMILY,
    NOTHING_ASKED,
    STUDENT,
    TEACHER,
    Side,
    answered,
    beside_questions,
    draw,
    plain_of,
    shown_after,
    shown_alone,
    warned,
)
from students.models import Student
from students.viewer import Role, open_to
from students.views.people import FORM, of_student


def minor_of(request: HttpRequest, code: uuid.UUID) -> Student:
    """The guardian's own child of this code, or 404; of an adult no guardian is asked about the hand."""
    child = child_of(request, code)
    if not child.is_minor(child.studio.today(timezone.now())):
        raise Http404
    return child


# -- the page that asks ----------------------------------------------------------------------------------------------


def _note(request: HttpRequest, student: Student, side: Side, alone: bool = False) -> HttpResponse:
    """Asks, and keeps or answers what is said. alone: for the answer alone; so is everything without a consent."""
    now = timezone.now()
    today = student.studio.today(now)
    consent = student.may_keep_hand_values(today)
    keeps = consent and not alone
    data = request.POST if request.method == "POST" else None
    form = (HandNoteForm if keeps else HandAskForm)(
        data, student=student, now=now, voice=side.reader(student, today).voice
    )
    if form.is_valid() and keeps:
        if logged := log_note(student, form, form.record(), side.by, now):
            return answered(request, side, student, logged, now)
    elif form.is_valid():
        return draw(request, side, student, shown_alone(side, student, form.hand_record(), now), NOTHING_ASKED)
    context = beside_questions(side, student, keeps, now) | {
        "student": student,
        "form": form,
        "ask": not keeps,
        "action": side.address("hand" if keeps else "ask", student),
        "back": side.address("home", student),
        "base": side.base,
        "tell": side.address("tell", student),
        "tell_code": uuid.uuid4(),
        "warned": warned(form, side, student, now),
        "nav": "roster",
    }
    return render(request, "practice/hand_note.html", context)


@open_to(Role.STUDENT)
@require_http_methods(["GET", "POST"])
def own_note(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    return _note(request, request.viewer.student, STUDENT)


@open_to(Role.STUDENT)
@require_POST
def own_ask(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    return _note(request, request.viewer.student, STUDENT, alone=True)


@open_to(Role.GUARDIAN)
@require_http_methods(["GET", "POST"])
def family_note(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    return _note(request, minor_of(request, student), FAMILY)


@open_to(Role.GUARDIAN)
@require_POST
def family_ask(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    return _note(request, minor_of(request, student), FAMILY, alone=True)


@of_student(*FORM)
def add(request: HttpRequest, student: Student) -> HttpResponse:
    """What the teacher hears in a lesson or by telephone."""
    return _note(request, student, TEACHER)


# -- the answer ------------------------------------------------------------------------------------------------------


def _answer(request: HttpRequest, student: Student, side: Side) -> HttpResponse:
    """The answer that holds now, beside the note that `?note=` names."""
    now = timezone.now()
    note = None
    if (code := request.GET.get("note")) is not None:
        try:
            key = uuid.UUID(code)
        except ValueError:
            raise Http404 from None
        note = get_object_or_404(student.hand_notes.select_related("entry"), code=key)
    if note is not None and not student.may_keep_hand_values(student.studio.today(now)):
        note = None  # hidden with the consent
    back = side.address("home", student)
    if side.own and note is not None and note.entry is not None:
        # the page is told which form was stored, so that its timer lets go of exactly that session
        back += f"?logged={note.entry.code}"
    return draw(request, side, student, shown_after(side, student, note, now), plain_of(note), back)


@open_to(Role.STUDENT)
@require_GET
def own_answer(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    return _answer(request, request.viewer.student, STUDENT)


@open_to(Role.GUARDIAN)
@require_GET
def family_answer(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    return _answer(request, minor_of(request, student), FAMILY)


# -- a wrong tap -----------------------------------------------------------------------------------------------------


def _back(request: HttpRequest, student: Student, code: uuid.UUID, side: Side) -> HttpResponse:
    now = timezone.now()
    note: HandNote | None = student.hand_notes.select_related("entry").filter(code=code).first()
    if note is None and not was_taken_back(student, code):
        raise Http404
    with transaction.atomic():
        taken = note is None or take_back(note, side.by, now)
        if taken and note is not None:
            unhear(student, note.at, now)
    if taken:
        words = _("Taken back. %(teacher)s sees that it was a wrong tap, and not what it said.")
        messages.success(request, words % {"teacher": student.teacher.name})
    else:
        words = _("That cannot be taken back here any more. Tell %(teacher)s that it was a wrong tap.")
        messages.warning(request, words % {"teacher": student.teacher.name})
    return redirect(side.address("home", student))


@open_to(Role.STUDENT)
@require_POST
def own_back(request: HttpRequest, student: uuid.UUID, note: uuid.UUID) -> HttpResponse:
    return _back(request, request.viewer.student, note, STUDENT)


@open_to(Role.GUARDIAN)
@require_POST
def family_back(request: HttpRequest, student: uuid.UUID, note: uuid.UUID) -> HttpResponse:
    return _back(request, minor_of(request, student), note, FAMILY)
