"""An adult student's sign-in by e-mail: made on their own page, ended by a teacher in one tap."""

import datetime as dt
import uuid
from http import HTTPStatus

from django.contrib import messages
from django.contrib.auth import login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from students.forms import SignInByEmailForm
from students.models import Student
from students.throttle import allowed
from students.viewer import Role, open_to
from students.views.people import FORM, of_student

BACKEND = "django.contrib.auth.backends.ModelBackend"
# Whoever has the link of one student learns at most so many times a day whether an address is taken.
MOST_A_DAY = 10
DAY = dt.timedelta(days=1)


@sensitive_post_parameters("new_password1", "new_password2")
@open_to(Role.STUDENT)
@never_cache
@require_http_methods(FORM)
def own(request: HttpRequest, student: uuid.UUID) -> HttpResponse:
    """E-mail and password in place of the link, or beside it; for adults."""
    row, now = request.viewer.student, timezone.now()
    minor = row.is_minor(row.studio.today(now))
    if request.method == "POST":
        if request.POST.get("action") == "stop-link" and row.user is not None:
            return _stop_link(request, row)
        if minor or row.user is not None:
            raise PermissionDenied
    form = SignInByEmailForm(request.POST if request.method == "POST" else None, student=row)
    status = HTTPStatus.OK
    if form.is_valid():
        if not allowed("account", str(row.code), MOST_A_DAY, DAY, now):
            form.add_error(None, _("That was tried very often today. Please try again tomorrow."))
            status = HTTPStatus.TOO_MANY_REQUESTS
        elif user := form.save():
            messages.success(
                request, _("From now on you can sign in as %(email)s with your password.") % {"email": user.email}
            )
            return _go_on(request, row)
    context = {
        "form": form,
        "student": row,
        "minor": minor,
        "adult_age": row.studio.adult_age,
        "by_password": row.user is not None and request.user == row.user,
    }
    return render(request, "students/account_own.html", context, status=status)


def _stop_link(request: HttpRequest, row: Student) -> HttpResponse:
    """The link stops; only for who signed in by password: a link's bearer alone must not shut the student out."""
    if request.user != row.user:
        raise PermissionDenied
    row.replace_link()
    messages.success(request, _("Your personal link has stopped. Your teacher can give you a new one."))
    return redirect(request.path)


def _go_on(request: HttpRequest, row: Student) -> HttpResponse:
    """Back to the page, signed in where the link has stopped; somebody who tries a link stays who they are."""
    link = request.viewer.link
    if link is not None and link.version == row.link_version:
        return redirect(request.path)
    if not request.user.is_authenticated:
        login(request, row.user, BACKEND)
        request.session.set_expiry(None)
    return redirect(request.path)


@of_student("POST")
def end(request: HttpRequest, student: Student) -> HttpResponse:
    """The teacher ends a sign-in by e-mail in one tap: the account is gone, every session of it too."""
    if student.end_sign_in():
        messages.success(request, _("%(name)s no longer signs in by e-mail.") % {"name": student.name})
    else:
        messages.info(request, _("There is no sign-in by e-mail."))
    return redirect("students:people", student=student.code)
