"""Consent to keeping hand values: on paper by a teacher, or in one click by who may give it; and taking it back."""

import uuid
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from students import consent, held
from students.forms import OwnConsentForm, PaperConsentForm, WithdrawForm
from students.models import Consent, Student
from students.viewer import Role, open_to
from students.views.people import FORM, left_behind, of_student


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
    """A teacher enters that the family has withdrawn: every standing consent ends at once, what was kept if asked."""
    form = WithdrawForm(request.POST)
    if not form.is_valid():
        context = {"form": form, "student": student, "nav": "roster"}
        return render(request, "students/consent_withdraw.html", context)
    erase = form.cleaned_data["erase"]
    done = end_consents(student, student.consents.standing(), form.cleaned_data["name"], TEACHER, erase=erase)
    said = []
    if erase:
        said += [_("No hand value is stored from now on."), erased_words(done.erased)]
    elif done.ended:
        said.append(_("The consent is withdrawn. No hand value is stored from now on."))
    if done.eased:
        said.append(EASED_TEACHER)
    if said:
        messages.success(request, " ".join(map(str, said)))
    else:
        messages.info(request, _("No consent stands."))
    return redirect("students:people", student=student.code)


TEACHER = "teacher"
EASED_TEACHER = gettext_lazy(
    "The plan was eased for the hand until now, and is not any more: please talk with the family before the next"
    " practice."
)


@dataclass(frozen=True)
class Done:
    """ended: consents; erased: rows that the erasing changed; eased: the plan was eased for the hand until now, and is
    not any more."""

    ended: int
    erased: int
    eased: bool


def end_consents(student: Student, rows: QuerySet[Consent], name: str, by: str, *, erase: bool = False) -> Done:
    """Withdraws standing consents of the student and with `erase` the hand values that were kept; both or neither.

    Where no consent counts any more, those who hold hand values hear of it. by: "student", "guardian" or "teacher".
    """
    now = timezone.now()
    today = student.studio.today(now)
    with transaction.atomic():
        # who stores a hand value at this moment holds the student's row; whoever comes after finds no consent
        Student.objects.select_for_update().filter(pk=student.pk).first()
        counted = student.may_keep_hand_values(today)
        eased = counted and held.eases(student, today)
        ended = rows.update(withdrawn_at=now, withdrawn_name=name)
        erased = held.erase(student) if erase else 0
        lost = counted and not student.may_keep_hand_values(today)
        if lost:
            held.ended(student, by, now)
    return Done(ended, erased, eased and lost)


@of_student("POST")
def end_left(request: HttpRequest, student: Student) -> HttpResponse:
    """The teacher ends the consents whose givers are no guardians of the student any more; those of others stand."""
    with transaction.atomic():
        Student.objects.select_for_update().filter(pk=student.pk).first()
        left = [one.pk for one in left_behind(student.consents.standing(), student.guardians.all())]
        words = _("%(name)s, as the giver is no guardian here") % {"name": request.viewer.name}
        done = end_consents(student, student.consents.standing().filter(pk__in=left), words[:120], TEACHER)
    if done.ended:
        said = [_("The consent is ended. What was kept before is not erased by this.")]
        messages.success(request, " ".join(map(str, [*said, EASED_TEACHER] if done.eased else said)))
    else:
        messages.info(request, _("No such consent stands."))
    return redirect("students:people", student=student.code)


def erased_words(changed: int) -> str:
    return _("What was kept about the hand is erased.") if changed else _("Nothing was kept about the hand.")


def own_page(request: HttpRequest, student: uuid.UUID, giver: str, template: str) -> HttpResponse:
    """The page on which a student or guardian reads the wording, gives a consent, withdraws it, or has erased what is
    still held.

    Only whose consent counts may give one, and may withdraw those of their kind. Erasing is for whose consent counts
    alone: never for the guardian of an adult, nor for a minor, also once the guardians' consent is withdrawn.
    """
    viewer = request.viewer
    seen = Student.objects.visible_to(viewer).current().select_related("studio", "teacher")
    row = get_object_or_404(seen, code=student)
    today = viewer.studio.today(timezone.now())
    may_decide = consent.right_giver(row.birth_year, today, row.studio.adult_age) == giver
    standing = row.consents.standing().filter(given_by=giver)
    may_erase = may_decide
    form = OwnConsentForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        action = request.POST.get("action")
        if action == OwnConsentForm.ERASE or request.POST.get("erase"):
            allowed = may_erase
        else:
            allowed = may_decide or (action == OwnConsentForm.WITHDRAW and standing.exists())
        if not allowed:
            raise PermissionDenied
        if form.is_valid():
            _act(request, row, giver, form.cleaned_data)
            return redirect(request.path)
    first = standing.first()
    context = {
        "form": form,
        "student": row,
        "may_decide": may_decide,
        "may_erase": may_erase,
        "standing": first,
        "mine": viewer.guardian is None or standing.filter(guardian=viewer.guardian).exists(),
        "version": consent.WORDING_VERSION,
        # asked only where the page offers to withdraw
        "eased": may_decide and first is not None and held.eases(row, today),
        # asked only where the page offers to erase it
        "kept": may_erase and held.kept(row),
        "backup_days": settings.BACKUP_DAYS,
    }
    return render(request, template, context)


def _act(request: HttpRequest, student: Student, giver: str, data: dict[str, Any]) -> None:
    """What a checked form asks for. Giving twice stores one row; erasing under a standing consent withdraws it first,
    or the next answer would be kept again."""
    viewer = request.viewer
    if data["action"] == OwnConsentForm.GIVE:
        if not student.consents.standing().filter(given_by=giver).exists():
            Consent.objects.create(
                student=student, given_by=giver, guardian=viewer.guardian, name=viewer.name,
                given_at=timezone.now(), way=Consent.Way.LINK,
            )  # fmt: skip
            messages.success(request, _("Thank you. Your consent is recorded."))
        return
    erase = data["erase"] or data["action"] == OwnConsentForm.ERASE
    done = end_consents(student, student.consents.standing().filter(given_by=giver), viewer.name, giver, erase=erase)
    said = [_("Your consent is withdrawn. No hand value is stored from now on.")] if done.ended or not erase else []
    if erase:
        said.append(erased_words(done.erased))
    if done.eased:
        words = _(
            "The plan was eased for the hand until now, and is not any more: please talk with %(teacher)s before the"
            " next practice."
        )
        said.append(words % {"teacher": student.teacher.name})
    messages.success(request, " ".join(said))


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
