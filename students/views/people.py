"""Students and their guardians: who they are, their links, who has agreed to what."""

import uuid
from collections.abc import Callable, Iterable
from functools import wraps
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from students import consent, links, pins
from students.forms import GuardianAddForm, GuardianForm, StatusForm, StudentForm, WithdrawForm
from students.models import Consent, Guardian, Guardianship, Student
from students.signals import teacher_changed
from students.viewer import Viewer

FORM = ("GET", "HEAD", "POST")
READ = ("GET", "HEAD")


def of_student(*methods: str) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """Hands the view the student of its address, whom the viewer may see, or answers 404; then 405.

    In this order: a 405 would tell whoever tries methods on codes what a 404 does not.
    """

    def decorate(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @wraps(view)
        def wrapper(request: HttpRequest, student: uuid.UUID, **kwargs: Any) -> HttpResponse:
            seen = Student.objects.visible_to(request.viewer).select_related("studio", "teacher__user", "user")
            row = get_object_or_404(seen, code=student)
            if request.method not in methods:
                return HttpResponseNotAllowed(methods)
            return view(request, row, **kwargs)

        return wrapper

    return decorate


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


@require_http_methods(FORM)
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


@of_student(*FORM)
def student_edit(request: HttpRequest, student: Student) -> HttpResponse:
    viewer, now = request.viewer, timezone.now()
    # the form writes what was typed into the student, valid or not
    name, teacher = student.name, student.teacher_id
    form = StudentForm(
        request.POST if request.method == "POST" else None,
        instance=student,
        viewer=viewer,
        today=viewer.studio.today(now),
    )
    if form.is_valid():
        student = form.save()
        if student.teacher_id != teacher:
            teacher_changed.send(Student, student=student, now=now, absolute=request.build_absolute_uri)
        messages.success(request, _("Stored."))
        return redirect(student)
    context = {"form": form, "student": student, "name": name, "nav": "roster"}
    return render(request, "students/student_form.html", context)


@of_student("POST")
def student_status(request: HttpRequest, student: Student) -> HttpResponse:
    """Pauses, archives or takes back a student. An archived student's links open nothing."""
    form = StatusForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Choose active, paused or archived."))
        return redirect("students:people", student=student.code)
    student.set_status(form.cleaned_data["status"], student.studio.today(timezone.now()))
    said = {
        Student.Status.ACTIVE: _("%(name)s is active again."),
        Student.Status.PAUSED: _("%(name)s is paused and stays on the roster."),
        Student.Status.ARCHIVED: _("%(name)s is archived. The links of the student's pages open nothing now."),
    }[Student.Status(student.status)]
    messages.success(request, said % {"name": student.name})
    return redirect("students:people", student=student.code)


def left_behind(consents: Iterable[Consent], guardians: Iterable[Guardian]) -> list[Consent]:
    """The standing consents of guardians whose giver is not among the student's guardians: removed since, or for one
    on paper perhaps never on the list."""
    here, names = set(), set()
    for guardian in guardians:
        here.add(guardian.pk)
        names.add(guardian.name.casefold())
    return [
        one
        for one in consents
        if one.withdrawn_at is None
        and one.given_by == consent.GUARDIAN
        and one.guardian_id not in here
        and (one.guardian_id is not None or one.way == Consent.Way.LINK or one.name.casefold() not in names)
    ]


@never_cache
@of_student(*READ)
def people(request: HttpRequest, student: Student) -> HttpResponse:
    viewer = request.viewer
    now = timezone.now()
    today = viewer.studio.today(now)
    shared = shared_with_others(viewer, student)
    consents = list(student.consents.select_related("recorded_by"))
    guardians = list(student.guardians.all())
    attached = request.GET.get("attached", "")
    giver = consent.right_giver(student.birth_year, today, student.studio.adult_age)
    context = {
        "nav": "roster",
        "student": student,
        "today": today,
        "link": link_address(request, student),
        "link_works": student.link_works(student.link_version, today),
        "pin_waits": pins.waits_until(student, now),
        "archived": student.status == Student.Status.ARCHIVED,
        "guardians": [
            {
                "row": guardian,
                "link": None if guardian.pk in shared else link_address(request, guardian),
                "link_works": guardian.link_works(guardian.link_version, today),
                "pin_waits": pins.waits_until(guardian, now),
                "attached": str(guardian.code) == attached,
            }
            for guardian in guardians
        ],
        "giver": giver,
        "standing": [one for one in consents if one.withdrawn_at is None],
        "counts": [one for one in consents if one.withdrawn_at is None and one.given_by == giver],
        "left": left_behind(consents, guardians),
        "history": consents,
        "withdraw_form": WithdrawForm(),
    }
    return render(request, "students/people.html", context)


@of_student("POST")
def replace_link(request: HttpRequest, student: Student) -> HttpResponse:
    """For a lost phone: the link, every session and the sign-in by e-mail end in one tap."""
    by_email = student.user is not None
    student.cut_off()
    told = _("%(name)s has a new link. The old one stopped at once.")
    if by_email:
        told = _("%(name)s has a new link. The old one and the sign-in by e-mail stopped at once.")
    messages.success(request, told % {"name": student.name})
    return redirect("students:people", student=student.code)


@of_student(*FORM)
def guardian_add(request: HttpRequest, student: Student) -> HttpResponse:
    viewer = request.viewer
    form = GuardianAddForm(
        request.POST if request.method == "POST" else None,
        viewer=viewer,
        today=viewer.studio.today(timezone.now()),
        student=student,
    )
    if form.is_valid():
        guardian = form.save()
        messages.success(
            request,
            _("%(guardian)s is a guardian of %(student)s.") % {"guardian": guardian.name, "student": student.name},
        )
        people_page = reverse("students:people", args=[student.code])
        # who was here before has a link that others were handed: the page says so and offers a new one
        return redirect(people_page if form.found is None else f"{people_page}?attached={guardian.code}#guardians")
    return render(request, "students/guardian_form.html", {"form": form, "student": student, "nav": "roster"})


@of_student(*FORM)
def guardian_edit(request: HttpRequest, student: Student, guardian: uuid.UUID) -> HttpResponse:
    viewer = request.viewer
    person = guardian_of(viewer, student, guardian)
    if person.pk in shared_with_others(viewer, student):
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
        return redirect("students:people", student=student.code)
    context = {"form": form, "student": student, "guardian": person, "name": name, "nav": "roster"}
    return render(request, "students/guardian_form.html", context)


@of_student("POST")
def guardian_remove(request: HttpRequest, student: Student, guardian: uuid.UUID) -> HttpResponse:
    """Takes a guardian from a student; one who has no child left here is not kept."""
    person = guardian_of(request.viewer, student, guardian)
    agreed = student.consents.standing().filter(guardian=person).exists()
    with transaction.atomic():
        person.guardianships.filter(student=student).delete()
        Guardian.objects.filter(pk=person.pk, guardianships__isnull=True).delete()
    messages.success(
        request,
        _("%(guardian)s is no longer a guardian of %(student)s.") % {"guardian": person.name, "student": student.name},
    )
    if agreed:
        messages.warning(
            request,
            _("The consent that %(name)s gave still stands. Below you can end it.") % {"name": person.name},
        )
    return redirect("students:people", student=student.code)


@of_student("POST")
def guardian_replace_link(request: HttpRequest, student: Student, guardian: uuid.UUID) -> HttpResponse:
    """Open to each teacher of a child: a lost phone must be cut off at once, whoever hears of it."""
    person = guardian_of(request.viewer, student, guardian)
    person.cut_off()
    messages.success(request, _("%(name)s has a new link. The old one stopped at once.") % {"name": person.name})
    return redirect("students:people", student=student.code)
