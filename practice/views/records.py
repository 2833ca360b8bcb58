"""A student's whole record: what is kept, as a file, corrected, erased."""

import uuid
from typing import Any

from django import forms
from django.conf import settings
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from practice.erase import alone, erase_record, rows_of
from practice.kept import TABLES
from practice.record_file import ABOUT, Reader, write_record
from practice.views.family import child_of
from students.models import Student, Teacher
from students.retention import erased_on
from students.viewer import Role, Viewer, open_to
from students.views.people import of_student

READ = ("GET", "HEAD")


class EraseForm(forms.Form):
    """The student's name, typed: an erasure is not a matter of one slip."""

    name = forms.CharField(
        label=gettext_lazy("The student's name, to be sure"), max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
        error_messages={"required": gettext_lazy("Type the name as it stands above.")},
    )  # fmt: skip

    def __init__(self, *args: Any, student: Student, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.student = student

    def clean_name(self) -> str:
        typed = " ".join(self.cleaned_data["name"].split())
        if typed.casefold() != " ".join(self.student.name.split()).casefold():
            raise ValidationError(_("This is another name. Nothing was erased."))
        return typed


def held_rows(student: Student) -> list[tuple[str, int]]:
    """(what a row is, how many) of every table that holds something. One query for each table."""
    found = [(str(ABOUT[table.file]), rows_of(table, student).count()) for table in TABLES if table.file]
    return [(about, count) for about, count in found if count]


def owners_of(student: Student) -> str:
    names = Teacher.objects.filter(studio=student.studio_id, is_owner=True).values_list("name", flat=True)
    return ", ".join(names)


@never_cache
@of_student(*READ)
def record(request: HttpRequest, student: Student) -> HttpResponse:
    """What is kept of a student, where it is corrected, and how it becomes a file or is erased."""
    today = student.studio.today(timezone.now())
    months = student.studio.retention_months
    context = {
        "nav": "roster",
        "student": student,
        "rows": held_rows(student),
        "consent": student.may_keep_hand_values(today),
        "owners": "" if request.viewer.owns else owners_of(student),
        "months": months,
        "erased_on": erased_on(student.left_on, months) if student.left_on else None,
    }
    return render(request, "practice/record.html", context)


@of_student(*READ)
def record_zip(request: HttpRequest, student: Student) -> HttpResponse:
    return _as_file(student, Reader(request.viewer.name, studio=True))


@open_to(Role.OWNER)
@never_cache
@of_student("GET", "HEAD", "POST")
def erase(request: HttpRequest, student: Student) -> HttpResponse:
    """The owner erases a whole record. The page says what goes, offers the file first, and asks for the name."""
    form = EraseForm(request.POST if request.method == "POST" else None, student=student)
    if form.is_valid():
        erased = erase_record(student)
        if erased is None:
            messages.info(request, _("This record was erased a moment ago."))
        else:
            said = _("The record is erased: %(count)d rows. Copies for emergencies last up to %(days)d days longer.")
            messages.success(request, said % {"count": erased.total, "days": settings.BACKUP_DAYS})
        return redirect("students:studio")
    context = {
        "nav": "roster",
        "student": student,
        "form": form,
        "rows": held_rows(student),
        "guardians": list(alone(student).values_list("name", flat=True)),
        "stay": list(student.guardians.exclude(pk__in=alone(student)).values_list("name", flat=True)),
        "backup_days": settings.BACKUP_DAYS,
    }
    return render(request, "practice/record_erase.html", context)


def _as_file(student: Student, reader: Reader) -> HttpResponse:
    now = timezone.now()
    today = student.studio.today(now)
    file = write_record(student, now, student.may_keep_hand_values(today), reader)
    response = FileResponse(file, as_attachment=True, filename=f"record-{today:%Y-%m-%d}.zip")
    response["Content-Type"] = "application/zip"
    response["Cache-Control"] = "no-store"
    return response


# -- the family's ------------------------------------------------------------------------------------------------------


def own_student(viewer: Viewer, now: Any) -> Student | None:
    """The student who may have their own record: an adult. A minor's is asked for by a guardian."""
    student = viewer.student
    return None if student is None or student.is_minor(student.studio.today(now)) else student


@open_to(Role.STUDENT)
@never_cache
@require_safe
def own_record(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    row = request.viewer.student
    adult = own_student(request.viewer, timezone.now())
    context = {"student": row, "may": adult is not None, "rows": held_rows(row) if adult else []}
    return render(request, "practice/record_own.html", context | _family_words(row))


@open_to(Role.STUDENT)
def own_zip(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    row = own_student(request.viewer, timezone.now())
    if row is None:
        raise Http404
    if request.method not in READ:
        return HttpResponseNotAllowed(READ)
    return _as_file(row, Reader(row.name))


@open_to(Role.GUARDIAN)
@never_cache
@require_safe
def family_record(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """A guardian's page about the child's record; an adult child asks for themselves."""
    child = child_of(request, student)
    may = child.is_minor(child.studio.today(timezone.now()))
    context = {"child": child, "may": may, "rows": held_rows(child) if may else []}
    return render(request, "practice/record_family.html", context | _family_words(child))


@open_to(Role.GUARDIAN)
def family_zip(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    child = child_of(request, student)
    if not child.is_minor(child.studio.today(timezone.now())):
        raise Http404
    if request.method not in READ:
        return HttpResponseNotAllowed(READ)
    guardian = request.viewer.guardian
    return _as_file(child, Reader(guardian.name, guardian=guardian.pk))


def _family_words(student: Student) -> dict[str, Any]:
    """What the family's pages say besides the rows."""
    return {
        "owners": owners_of(student),
        "months": student.studio.retention_months,
        "backup_days": settings.BACKUP_DAYS,
        "consent": student.may_keep_hand_values(student.studio.today(timezone.now())),
    }
