"""The PIN of a personal link: asked for, chosen, changed and taken off by its holder, removed by a teacher."""

import datetime as dt
import uuid
from http import HTTPStatus

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST

from students import pins
from students.forms import PinForm, UnlockForm
from students.middleware import wants_json
from students.models import Student
from students.viewer import Locked, Role, open_to, viewer_of_links
from students.views.people import FORM, guardian_of, of_student, shared_with_others

AREA = {Role.STUDENT: "s", Role.GUARDIAN: "f"}


def ask(request: HttpRequest, locked: Locked, now: dt.datetime) -> HttpResponse:
    """Stands in place of a page or answer that waits for the PIN. 401, so that no phone keeps it for the page."""
    if wants_json(request):
        said = _("Give your PIN on this device first: open the page again.")
        return JsonResponse({"error": said, "pin": True}, status=HTTPStatus.UNAUTHORIZED)
    student = request.resolver_match.kwargs["student"]
    came = request.get_full_path() if request.method in ("GET", "HEAD") else ""
    form = UnlockForm(initial={"next": came})
    return _asked(request, locked, student, form, now, HTTPStatus.UNAUTHORIZED)


def _asked(
    request: HttpRequest, locked: Locked, student: uuid.UUID, form: UnlockForm, now: dt.datetime, status: int
) -> HttpResponse:
    context = {
        "form": form,
        "name": locked.holder.name.split()[0],
        "action": reverse(f"students:{AREA[locked.role]}-unlock", args=[student]),
        "until": pins.waits_until(locked.holder, now),
        "zone": locked.holder.studio.zone,
        "sending": request.method == "POST" and "pin" not in form.data,
    }
    response = render(request, "students/pin_ask.html", context, status=status)
    response["Cache-Control"] = "no-store"
    return response


def _unlock(request: HttpRequest, student: uuid.UUID, role: Role) -> HttpResponse:
    now = timezone.now()
    found = viewer_of_links(request.session, student, {role}, now)
    home = reverse({Role.STUDENT: "practice:s-page", Role.GUARDIAN: "practice:f-week"}[role], args=[student])
    if found is None:
        raise Http404
    form = UnlockForm(request.POST)
    if not form.is_valid() and isinstance(found, Locked):
        return _asked(request, found, student, form, now, HTTPStatus.UNAUTHORIZED)
    if isinstance(found, Locked):
        holder = found.holder
        answer = pins.try_pin(holder, form.cleaned_data["pin"], now)
        if answer is not pins.Answer.RIGHT:
            if answer is pins.Answer.WRONG and (left := pins.tries_left(holder)):
                form.add_error("pin", wrong_words(left))
            waits = pins.waits_until(holder, now) is not None
            status = HTTPStatus.TOO_MANY_REQUESTS if waits else HTTPStatus.UNAUTHORIZED
            return _asked(request, found, student, form, now, status)
        pins.unlock(request.session, holder)
        request.session.cycle_key()
    after = form.cleaned_data.get("next", "")
    own = after.startswith(f"/{AREA[role]}/{student}/")
    return redirect(after if own and url_has_allowed_host_and_scheme(after, allowed_hosts=None) else home)


def wrong_words(left: int) -> str:
    told = ngettext(
        "That is not the PIN. %(n)d try is left before a wait of 15 minutes.",
        "That is not the PIN. %(n)d tries are left before a wait of 15 minutes.",
        left,
    )
    return told % {"n": left}


@login_not_required
@never_cache
@require_POST
def student_unlock(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    return _unlock(request, student, Role.STUDENT)


@login_not_required
@never_cache
@require_POST
def guardian_unlock(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    return _unlock(request, student, Role.GUARDIAN)


def _own(request: HttpRequest, student: uuid.UUID, template: str) -> HttpResponse:
    """The holder sets, changes or takes off the PIN; over one that stands only with the present one."""
    now = timezone.now()
    holder = request.viewer.student or request.viewer.guardian
    form = PinForm(request.POST if request.method == "POST" else None, holder=holder, now=now)
    if form.is_valid():
        if form.cleaned_data["action"] == PinForm.REMOVE:
            pins.remove_pin(holder)
            messages.success(request, _("The PIN is off. Whoever holds the link opens the page again without one."))
        else:
            pins.set_pin(holder, form.cleaned_data["pin"])
            pins.unlock(request.session, holder)
            messages.success(request, _("The PIN is set. Every other phone and computer is asked for it now."))
        return redirect(request.path)
    # only of the viewer's own: a guardian's address names the child whose page it was opened from
    return render(request, template, {"form": form, "student_code": student, "holder": holder})


@open_to(Role.STUDENT)
@never_cache
@require_http_methods(FORM)
def student_pin(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    return _own(request, student, "students/pin_own.html")


@open_to(Role.GUARDIAN)
@never_cache
@require_http_methods(FORM)
def guardian_pin(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    # whoever signs in with a password names the child in the address: it must be one of theirs
    if not Student.objects.visible_to(request.viewer).current().filter(code=student).exists():
        raise Http404
    return _own(request, student, "students/pin_family.html")


@of_student("POST")
def pin_remove(request: HttpRequest, student: Student) -> HttpResponse:
    """A forgotten PIN goes in one tap; the link stays as it is."""
    pins.remove_pin(student)
    messages.success(request, _("%(name)s needs no PIN now. The link is the same.") % {"name": student.name})
    return redirect("students:people", student=student.code)


@of_student("POST")
def guardian_pin_remove(request: HttpRequest, student: Student, guardian: uuid.UUID) -> HttpResponse:
    """Where the link opens another teacher's student too, only the owner: the PIN may keep out who knew the link."""
    person = guardian_of(request.viewer, student, guardian)
    if person.pk in shared_with_others(request.viewer, student):
        raise PermissionDenied
    pins.remove_pin(person)
    messages.success(request, _("%(name)s needs no PIN now. The link is the same.") % {"name": person.name})
    return redirect("students:people", student=student.code)
