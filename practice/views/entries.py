"""A student's practice entries: the lists, the form that logs one for the student, and the pages that correct one."""

import datetime as dt
import uuid
from http import HTTPStatus
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods

from practice.correcting import CorrectionForm, former_of, removed_lately, summary_of, why_not_student
from practice.handanswer import FAMILY
from practice.logwork import entry_form, log_entry, spans_near
from practice.mailing import hear_after_commit, unhear
from practice.models import PracticeEntry
from practice.record import same_content
from practice.store import VersionPassed, correct_entry, goals_of, remove_entry
from practice.views.hand_answer import TEACHER, answered, beside_questions, warned
from students.models import Student
from students.viewer import Role, open_to
from students.views.people import FORM, of_student

PAGE = 50
OWN_PAGE = 20


@require_http_methods(["GET", "POST"])
def log(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """The teacher logs what the student tells, or what the paper sheet says."""
    seen = Student.objects.visible_to(request.viewer).select_related("studio", "teacher")
    row = get_object_or_404(seen, code=student)
    now = timezone.now()
    data = request.POST if request.method == "POST" else None
    form = entry_form(row, now, data, paper=True, voice=FAMILY)
    if form.is_valid():
        by = PracticeEntry.By.PAPER if form.cleaned_data["paper"] else PracticeEntry.By.TEACHER
        if logged := log_entry(row, form, by, request.viewer.name, now):
            return answered(request, TEACHER, row, logged, now, reverse("practice:student", args=[row.code]))
    return render(
        request,
        "practice/log.html",
        beside_questions(TEACHER, row, form.asks_hand, now)
        | {
            "student": row,
            "form": form,
            "parts": form.goal_parts(),
            "warned": warned(form, TEACHER, row, now),
            "nav": "roster",
        },
    )


def _listed(request: HttpRequest, student: Student, size: int, now: dt.datetime) -> dict[str, Any]:
    """A page of a student's entries, each with its corrections, and what was removed lately. Seven queries."""
    page = Paginator(student.entries.for_log(), size).get_page(request.GET.get("page"))
    titles = {str(code): goal.title for code, goal in goals_of(student).items()}
    rows = []
    for entry in page:
        why_not = why_not_student(entry, now)
        rows.append({"entry": entry, "former": former_of(entry, titles, student.studio.zone), "why_not": why_not})
    return {"student": student, "page": page, "rows": rows, "removed": removed_lately(student, now), "nav": "roster"}


@require_GET
def entries(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    row = get_object_or_404(Student.objects.visible_to(request.viewer).select_related("studio"), code=student)
    return render(request, "practice/entries.html", _listed(request, row, PAGE, timezone.now()))


@open_to(Role.STUDENT)
@require_GET
def own_entries(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """What the student has logged, each with the way to put it right."""
    return render(
        request, "practice/my_entries.html", _listed(request, request.viewer.student, OWN_PAGE, timezone.now())
    )


def _correct(
    request: HttpRequest, student: Student, code: uuid.UUID, by: str, template: str, back: str, now: dt.datetime
) -> HttpResponse:
    """Draws, corrects or removes one entry of this student. by: who does it; back: the list's address name."""
    entry = get_object_or_404(student.entries, code=code)
    # the row's own student would be read once more from the database
    entry.student = student
    goals = goals_of(student)
    titles = {str(goal): row.title for goal, row in goals.items()}
    zone = student.studio.zone
    why_not = why_not_student(entry, now) if by == PracticeEntry.By.STUDENT else ""
    if why_not and request.method == "POST":
        raise PermissionDenied
    form = CorrectionForm(
        request.POST if request.method == "POST" else None,
        entry=entry,
        goals=goals,
        spans=spans_near(student, now, str(entry.code)),
        now=now,
    )
    conflict: list[str] = []
    if request.method == "POST":
        removing = request.POST.get("action") == "remove"
        try:
            if removing:
                begun, said_hand = entry.begun, entry.hand_notes.exists()
                remove_entry(entry, _version(request), by, request.viewer.name, now)
                if said_hand:
                    unhear(student, begun, now)
                hear_after_commit(student, now, request.build_absolute_uri)
                messages.success(request, _("The session is removed."))
                return redirect(back, student.code)
            if form.is_valid():
                if same_content(form.before, form.record, False) and form.cleaned_data["version"] == entry.version:
                    messages.info(request, _("Nothing was changed."))
                else:
                    version = form.cleaned_data["version"]
                    correct_entry(entry, form.record, version, by, now, False, request.viewer.name)
                    messages.success(request, _("Corrected. What stood before is kept beside it."))
                return redirect(back, student.code)
        except VersionPassed:
            stored = student.entries.filter(pk=entry.pk).first()
            if stored is None:
                messages.error(request, _("Somebody removed this session meanwhile. Nothing was changed."))
                return redirect(back, student.code)
            stored.student = student
            entry = stored
            conflict = summary_of(stored, titles, zone)
            form.take_version(stored.version)
    theirs, others = form.parts()
    context = {
        "student": student,
        "entry": entry,
        "form": form,
        "theirs": theirs,
        "others": others,
        "conflict": conflict,
        "why_not": why_not,
        "minor": student.is_minor(student.studio.today(now)),
        "former": former_of(entry, titles, zone),
        "now_stored": summary_of(entry, titles, zone),
        "back": back,
        "nav": "roster",
    }
    status = HTTPStatus.CONFLICT if conflict else HTTPStatus.OK
    return render(request, template, context, status=status)


def _version(request: HttpRequest) -> int:
    """The version that a removal names; 0, which no entry has, where it names none."""
    text = request.POST.get("version", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 8 else 0


@never_cache
@of_student(*FORM)
def entry(request: HttpRequest, student: Student, entry: uuid.UUID) -> HttpResponse:
    """The teacher corrects or removes an entry, however old."""
    by, now = PracticeEntry.By.TEACHER, timezone.now()
    return _correct(request, student, entry, by, "practice/entry.html", "practice:entries", now)


@open_to(Role.STUDENT)
@never_cache
@require_http_methods(FORM)
def own_entry(request: HttpRequest, student: uuid.UUID, entry: uuid.UUID) -> HttpResponse:
    """The student corrects or removes an entry of the last 48 hours that is theirs; an older one is shown."""
    by, now = PracticeEntry.By.STUDENT, timezone.now()
    row = request.viewer.student
    return _correct(request, row, entry, by, "practice/my_entry.html", "practice:s-entries", now)
