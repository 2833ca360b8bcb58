"""The studio's own page, for its owner: what holds for all, and who teaches."""

import logging
import uuid
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.tokens import default_token_generator
from django.core.mail import send_mail
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from students.forms import StudioForm, TeacherForm
from students.models import Student, Studio, Teacher, User
from students.retention import erased_on
from students.viewer import Role, open_to
from students.views.people import FORM

logger = logging.getLogger(__name__)

# The list of those who left is a page's length; the command erases whoever is due, listed or not.
MOST_LEFT = 50


@open_to(Role.OWNER)
@require_http_methods(FORM)
def settings_page(request: HttpRequest) -> HttpResponse:
    studio = get_object_or_404(Studio, pk=request.viewer.studio.pk)
    form = StudioForm(request.POST if request.method == "POST" else None, instance=studio)
    if form.is_valid():
        form.save()
        messages.success(request, _("Stored."))
        return redirect("students:studio")
    current = Q(students__status__in=["active", "paused"])
    teachers = (
        Teacher.objects.visible_to(request.viewer)
        .select_related("user")
        .annotate(current=Count("students", filter=current))
    )
    context = {
        "form": form,
        "teachers": teachers,
        "left": who_left(request.viewer.studio),  # not `studio`: the form writes what was typed into it
        "backup_days": settings.BACKUP_DAYS,
        "nav": "studio",
    }
    return render(request, "students/studio.html", context)


def who_left(studio: Studio) -> list[dict[str, Any]]:
    """Archived students, the first to be erased at the top: {"student", "day"}; day None where it is not noted yet.

    One query. Over MOST_LEFT the rest waits its turn.
    """
    rows = Student.objects.filter(studio=studio).left()[:MOST_LEFT]
    months = studio.retention_months
    return [{"student": row, "day": row.left_on and erased_on(row.left_on, months)} for row in rows]


@open_to(Role.OWNER)
@require_http_methods(FORM)
def teacher_add(request: HttpRequest) -> HttpResponse:
    form = TeacherForm(
        request.POST if request.method == "POST" else None,
        instance=Teacher(studio=request.viewer.studio),
        viewer=request.viewer,
    )
    if form.is_valid() and (teacher := form.save()) is not None:
        if invite(request, teacher):
            messages.success(
                request,
                _("%(name)s is a teacher of the studio; a mail with a link for the first password is on its way.")
                % {"name": teacher.name},
            )
        else:
            messages.warning(
                request,
                _("%(name)s is a teacher of the studio, but the mail could not be sent. Hand over the link below.")
                % {"name": teacher.name},
            )
        return redirect("students:teacher-edit", teacher=teacher.code)
    return render(request, "students/teacher_form.html", {"form": form, "nav": "studio"})


@open_to(Role.OWNER)
@never_cache
@require_http_methods(FORM)
def teacher_edit(request: HttpRequest, teacher: uuid.UUID) -> HttpResponse:
    row = get_object_or_404(Teacher.objects.visible_to(request.viewer).select_related("user"), code=teacher)
    name, no_password_yet = row.name, not row.user.has_usable_password()
    form = TeacherForm(request.POST if request.method == "POST" else None, instance=row, viewer=request.viewer)
    if form.is_valid() and form.save() is not None:
        messages.success(request, _("Stored."))
        return redirect("students:studio")
    context = {
        "form": form,
        "teacher": row,
        "name": name,
        "first_password": first_password_address(request, row.user) if no_password_yet else "",
        "students": row.students.current().count(),
        "nav": "studio",
    }
    return render(request, "students/teacher_form.html", context)


def first_password_address(request: HttpRequest, user: User) -> str:
    """Where a new teacher sets the first password; works as long as a forgotten password's link."""
    return request.build_absolute_uri(
        reverse(
            "students:password-new",
            kwargs={
                "uidb64": urlsafe_base64_encode(force_bytes(user.pk)),
                "token": default_token_generator.make_token(user),
            },
        )
    )


def invite(request: HttpRequest, teacher: Teacher) -> bool:
    """Mails a new teacher the link for the first password; False when the mail could not be handed over."""
    context = {
        "teacher": teacher,
        "studio": teacher.studio,
        "address": first_password_address(request, teacher.user),
        "days": settings.PASSWORD_RESET_TIMEOUT // 86_400,
    }
    subject = render_to_string("students/invite_subject.txt", context).strip()
    body = render_to_string("students/invite_mail.txt", context)
    try:
        return send_mail(subject, body, None, [teacher.user.email]) == 1
    except OSError:  # smtplib's errors are OSErrors; the account stands and the link can be handed over
        logger.exception("The invitation could not be mailed.")
        return False
