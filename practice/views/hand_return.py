"""A stepwise return as the teacher begins, moves and ends it; it stands on the page of the hand notes."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from practice import hand_acts
from practice.hand_acts import Refused
from practice.hand_forms import BeginForm, EndForm, OwnStepForm
from practice.handreturn import OWN_FROM
from practice.models import HandReturn
from practice.views.hands import REFUSED, page
from students.models import Student


def hand_return(request: HttpRequest, student: Any) -> HttpResponse:
    """POST only: `action` begins, moves up or back, or ends; what does not hold is said on the hand's page."""
    row = get_object_or_404(
        Student.objects.visible_to(request.viewer).select_related("studio", "teacher"), code=student
    )
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    act = ACTS.get(request.POST.get("action", ""))
    home = redirect("practice:hand-notes", student=row.code)
    if act is None:
        messages.error(request, _("Choose what should happen to the return."))
        return home
    try:
        return act(request, row) or home
    except Refused as refused:
        messages.warning(request, str(REFUSED[refused.code]))
        return home


def _begin(request: HttpRequest, student: Student) -> HttpResponse | None:
    now = timezone.now()
    if hand_acts.open_return(student) is not None:
        raise Refused("open")
    form = BeginForm(request.POST, prefix="begin", today=student.studio.today(now), joined=student.joined)
    if not form.is_valid():
        return page(request, student, form)
    data = form.cleaned_data
    closing = _("Cleared by %(name)s; a stepwise return begins on %(day)s.") % {
        "name": data["cleared_by"], "day": date_format(data["day"], "j F")
    }
    hand_acts.begin(
        student, data["day"], data["cleared_by"], data["words"].strip(), request.viewer.teacher, now, closing
    )
    messages.success(request, _("The return has begun, on the first step."))
    return None


def _shown(request: HttpRequest, student: Student) -> HandReturn:
    """The open return, if it is still as the page showed it."""
    row = hand_acts.open_return(student)
    if row is None or hand_acts.mark(row) != request.POST.get("moved"):
        raise Refused("none")
    return row


def _up(request: HttpRequest, student: Student) -> HttpResponse | None:
    row = _shown(request, student)
    hand_acts.require_up(student, row, student.studio.today(timezone.now()))
    own = None
    if row.level + 1 >= OWN_FROM:
        form = OwnStepForm(request.POST, prefix="own")
        if not form.is_valid():
            return page(request, student, form)
        own = form.own
    hand_acts.move_up(student, row, own, request.viewer.teacher, timezone.now())
    messages.success(request, _("The next step begins today."))
    return None


def _back(request: HttpRequest, student: Student) -> HttpResponse | None:
    row = _shown(request, student)
    closing = _("Back to step %(level)d of the return.") % {"level": max(1, row.level - 1)}
    hand_acts.move_back(student, row, request.viewer.teacher, timezone.now(), closing)
    messages.success(request, closing)
    return None


def _end(request: HttpRequest, student: Student) -> HttpResponse | None:
    row = _shown(request, student)
    form = EndForm(request.POST, prefix="end")
    if not form.is_valid():
        return page(request, student, form)
    hand_acts.end(student, row, form.cleaned_data["words"].strip(), timezone.now())
    messages.success(request, _("The return has ended; its steps stay in the record."))
    return None


ACTS = {"begin": _begin, "up": _up, "back": _back, "end": _end}
