"""Consent to keeping hand values: on paper by a teacher, or in one click by who may give it."""

import uuid

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from students import consent
from students.forms import OwnConsentForm, PaperConsentForm, WithdrawForm
from students.models import Consent, Student
from students.viewer import Role, open_to
from students.views.people import FORM, of_student


@of_student(*FORM)
def record(request: HttpRequest, student: Student) -> HttpResponse:
    """A teacher enters a consent that was signed on paper."""
    viewer = request.viewer
    today = viewer.studio.today(timezone.now())
    form = PaperConsentForm(
        request.POST if request.method == "POST" else None, student=student, teacher=viewer.teacher, today=today
    )
    stands = student.may_keep_hand_values(today)
    if stands and request.method == "POST":
        messages.info(request, _("A consent stands already."))
        return redirect("students:people", student=student.code)
    if form.is_valid():
        form.save()
        messages.success(request, _("The consent is recorded. Hand values may be kept from now on."))
        return redirect("students:people", student=student.code)
    context = {
        "form": form, "student": student, "giver": form.giver, "stands": stands,
        "version": consent.WORDING_VERSION, "nav": "roster",
    }  # fmt: skip
    return render(request, "students/consent_record.html", context)


@of_student("POST")
def withdraw(request: HttpRequest, student: Student) -> HttpResponse:
    """A teacher enters that the family has withdrawn: every standing consent ends at once."""
    form = WithdrawForm(request.POST)
    if not form.is_valid():
        context = {"form": form, "student": student, "nav": "roster"}
        return render(request, "students/consent_withdraw.html", context)
    if end_consents(student, form.cleaned_data["name"]):
        messages.success(request, _("The consent is withdrawn. No hand value is stored from now on."))
    else:
        messages.info(request, _("No consent stands."))
    return redirect("students:people", student=student.code)


def end_consents(student: Student, name: str, given_by: str | None = None) -> int:
    """Withdraws the standing consents (of one kind of giver, or all) and says how many. One query."""
    standing = student.consents.standing()
    if given_by is not None:
        standing = standing.filter(given_by=given_by)
    return standing.update(withdrawn_at=timezone.now(), withdrawn_name=name)


def own_page(request: HttpRequest, student: uuid.UUID, giver: str, template: str) -> HttpResponse:
    """The page on which a student or guardian reads the wording, gives a consent or withdraws it.

    Only whose consent counts may give one, and may withdraw those of their kind.
    """
    viewer = request.viewer
    row = get_object_or_404(Student.objects.visible_to(viewer).current().select_related("studio"), code=student)
    today = viewer.studio.today(timezone.now())
    may_decide = consent.right_giver(row.birth_year, today, row.studio.adult_age) == giver
    standing = row.consents.standing().filter(given_by=giver)
    form = OwnConsentForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        giving = request.POST.get("action") == OwnConsentForm.GIVE
        if not may_decide and (giving or not standing.exists()):
            raise PermissionDenied
        if form.is_valid():
            if giving and not standing.exists():
                Consent.objects.create(
                    student=row, given_by=giver, guardian=viewer.guardian, name=viewer.name,
                    given_at=timezone.now(), way=Consent.Way.LINK,
                )  # fmt: skip
                messages.success(request, _("Thank you. Your consent is recorded."))
            elif not giving:
                end_consents(row, viewer.name, giver)
                messages.success(request, _("Your consent is withdrawn. No hand value is stored from now on."))
            return redirect(request.path)
    context = {
        "form": form,
        "student": row,
        "may_decide": may_decide,
        "standing": standing.first(),
        "mine": viewer.guardian is None or standing.filter(guardian=viewer.guardian).exists(),
        "version": consent.WORDING_VERSION,
    }
    return render(request, template, context)


@open_to(Role.STUDENT)
@never_cache
@require_http_methods(FORM)
def own(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    return own_page(request, student, consent.STUDENT, "students/consent_own.html")


@open_to(Role.GUARDIAN)
@never_cache
@require_http_methods(FORM)
def family(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    return own_page(request, student, consent.GUARDIAN, "students/consent_family.html")
