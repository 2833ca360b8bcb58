"""Students and their guardians: who they are, their links, who has agreed to what."""

import uuid

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from students import consent, links
from students.forms import GuardianAddForm, GuardianForm, StatusForm, StudentForm, WithdrawForm
from students.models import Guardian, Guardianship, Student
from students.viewer import Viewer

form_page = require_http_methods(["GET", "HEAD", "POST"])


def student_of(viewer: Viewer, code: uuid.UUID) -> Student:
    """A student whom the viewer may see, or 404."""
    seen = Student.objects.visible_to(viewer).select_related("studio", "teacher__user")
    return get_object_or_404(seen, code=code)


def guardian_of(viewer: Viewer, student: Student, code: uuid.UUID) -> Guardian:
    seen = Guardian.objects.visible_to(viewer).filter(guardianships__student=student)
    return get_object_or_404(seen, code=code)


def shared_with_others(viewer: Viewer, student: Student) -> set[int]:
    """Ids of the student's guardians who also have a child with another teacher whom the viewer may not see.

    Their link opens that child's pages, so only the owner may show it or change where it is sent.
    """
    if viewer.owns:
        return set()
    others = Student.objects.filter(studio=viewer.studio).exclude(teacher=viewer.teacher)
    theirs = Guardianship.objects.filter(student__in=others, guardian__guardianships__student=student)
    return set(theirs.values_list("guardian_id", flat=True))


def link_address(request: HttpRequest, person: Student | Guardian) -> str:
    """The whole address of a personal link, for copying and printing."""
    return request.build_absolute_uri(
        reverse("students:open-link", args=[links.sign(person.code, person.link_version)])
    )


@form_page
def student_add(request: HttpRequest) -> HttpResponse:
    viewer = request.viewer
    today = viewer.studio.today(timezone.now())
    student = Student(studio=viewer.studio, teacher=viewer.teacher, joined=today)
    form = StudentForm(request.POST if request.method == "POST" else None, instance=student, viewer=viewer, today=today)
    if form.is_valid():
        student = form.save()
        messages.success(request, _("%(name)s is on the roster.") % {"name": student.name})
        return redirect("students:people", student=student.code)
    return render(request, "students/student_form.html", {"form": form, "nav": "roster"})


@form_page
def student_edit(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    viewer = request.viewer
    row = student_of(viewer, student)
    name = row.name  # the form writes what was typed into the row, valid or not
    form = StudentForm(
        request.POST if request.method == "POST" else None,
        instance=row,
        viewer=viewer,
        today=viewer.studio.today(timezone.now()),
    )
    if form.is_valid():
        row = form.save()
        messages.success(request, _("Stored."))
        return redirect(row)
    context = {"form": form, "student": row, "name": name, "nav": "roster"}
    return render(request, "students/student_form.html", context)


@require_POST
def student_status(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """Pauses, archives or takes back a student. An archived student's links open nothing."""
    row = student_of(request.viewer, student)
    form = StatusForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Choose active, paused or archived."))
        return redirect("students:people", student=row.code)
    row.status = form.cleaned_data["status"]
    row.save(update_fields=["status"])
    said = {
        Student.Status.ACTIVE: _("%(name)s is active again."),
        Student.Status.PAUSED: _("%(name)s is paused and stays on the roster."),
        Student.Status.ARCHIVED: _("%(name)s is archived. The links of the student's pages open nothing now."),
    }[Student.Status(row.status)]
    messages.success(request, said % {"name": row.name})
    return redirect("students:people", student=row.code)


@never_cache
@require_http_methods(["GET", "HEAD"])
def people(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    viewer = request.viewer
    row = student_of(viewer, student)
    today = viewer.studio.today(timezone.now())
    shared = shared_with_others(viewer, row)
    consents = list(row.consents.select_related("recorded_by"))
    giver = consent.right_giver(row.birth_year, today, row.studio.adult_age)
    context = {
        "nav": "roster",
        "student": row,
        "today": today,
        "link": link_address(request, row),
        "link_works": row.link_works(row.link_version, today),
        "archived": row.status == Student.Status.ARCHIVED,
        "guardians": [
            {
                "row": guardian,
                "link": None if guardian.pk in shared else link_address(request, guardian),
                "link_works": guardian.link_works(guardian.link_version, today),
            }
            for guardian in row.guardians.all()
        ],
        "giver": giver,
        "standing": [one for one in consents if one.withdrawn_at is None],
        "counts": [one for one in consents if one.withdrawn_at is None and one.given_by == giver],
        "history": consents,
        "withdraw_form": WithdrawForm(),
    }
    return render(request, "students/people.html", context)


@require_POST
def replace_link(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    row = student_of(request.viewer, student)
    row.replace_link()
    messages.success(request, _("%(name)s has a new link. The old one stopped at once.") % {"name": row.name})
    return redirect("students:people", student=row.code)


@form_page
def guardian_add(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    viewer = request.viewer
    row = student_of(viewer, student)
    form = GuardianAddForm(
        request.POST if request.method == "POST" else None,
        viewer=viewer,
        today=viewer.studio.today(timezone.now()),
        student=row,
    )
    if form.is_valid():
        guardian = form.save()
        messages.success(
            request,
            _("%(guardian)s is a guardian of %(student)s.") % {"guardian": guardian.name, "student": row.name},
        )
        return redirect("students:people", student=row.code)
    return render(request, "students/guardian_form.html", {"form": form, "student": row, "nav": "roster"})


@form_page
def guardian_edit(request: HttpRequest, student: uuid.UUID, guardian: uuid.UUID) -> HttpResponse:
    viewer = request.viewer
    row = student_of(viewer, student)
    person = guardian_of(viewer, row, guardian)
    if person.pk in shared_with_others(viewer, row):
        raise PermissionDenied
    name = person.name
    form = GuardianForm(
        request.POST if request.method == "POST" else None,
        instance=person,
        viewer=viewer,
        today=viewer.studio.today(timezone.now()),
    )
    if form.is_valid():
        form.save()
        messages.success(request, _("Stored."))
        return redirect("students:people", student=row.code)
    context = {"form": form, "student": row, "guardian": person, "name": name, "nav": "roster"}
    return render(request, "students/guardian_form.html", context)


@require_POST
def guardian_remove(request: HttpRequest, student: uuid.UUID, guardian: uuid.UUID) -> HttpResponse:
    """Takes a guardian from a student; one who has no child left here is not kept."""
    row = student_of(request.viewer, student)
    person = guardian_of(request.viewer, row, guardian)
    person.guardianships.filter(student=row).delete()
    if not person.guardianships.exists():
        person.delete()
    messages.success(
        request,
        _("%(guardian)s is no longer a guardian of %(student)s.") % {"guardian": person.name, "student": row.name},
    )
    return redirect("students:people", student=row.code)


@require_POST
def guardian_replace_link(request: HttpRequest, student: uuid.UUID, guardian: uuid.UUID) -> HttpResponse:
    """Open to each teacher of a child: a lost phone must be cut off at once, whoever hears of it."""
    row = student_of(request.viewer, student)
    person = guardian_of(request.viewer, row, guardian)
    person.replace_link()
    messages.success(request, _("%(name)s has a new link. The old one stopped at once.") % {"name": person.name})
    return redirect("students:people", student=row.code)
