"""Getting in and out: password, forgotten password, personal link."""

import datetime as dt
from collections.abc import Callable
from functools import partial, wraps
from http import HTTPStatus
from typing import Any

from axes.helpers import get_client_ip_address
from axes.utils import reset as unlock
from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse, reverse_lazy
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from students import links
from students.forms import ChangePasswordForm, ForgottenPasswordForm, NewPasswordForm, SignInForm
from students.later import RedirectThen
from students.models import Guardian, Student, UserManager
from students.throttle import allowed
from students.viewer import Role, Viewer, open_to, viewer_of_user

# A family opens its link once and practises for a year; browsers keep no cookie longer than this.
LINK_SESSION_SECONDS = 400 * 24 * 3600
# Forgotten passwords an hour: for one e-mail address, and from one network address, which a whole house may share.
HOUR = dt.timedelta(hours=1)
MOST_ASKED_FOR, MOST_ASKED_FROM = 3, 20


def no_referrer(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """For addresses that carry a token: the next site is not told it."""

    @wraps(view)
    def wrapper(*args: Any, **kwargs: Any) -> HttpResponse:
        response = view(*args, **kwargs)
        response["Referrer-Policy"] = "no-referrer"
        return response

    return wrapper


def landing(viewer: Viewer) -> str:
    """The address of the viewer's first page."""
    if viewer.teaches:
        return reverse("practice:today")
    if viewer.student is not None:
        return reverse("practice:s-page", args=[viewer.student.code])
    child = first_child(viewer.guardian)
    return reverse("practice:f-week", args=[child.code]) if child else reverse("practice:home")


def first_child(guardian: Guardian) -> Student | None:
    """The first by name of a guardian's children who are on the roster."""
    return Student.objects.current().filter(guardianships__guardian=guardian).order_by("name", "pk").first()


# Django's form views take PUT for a second POST; no page here does
METHODS = ["get", "head", "post", "options"]


class SignIn(auth.LoginView):
    http_method_names = METHODS
    template_name = "students/sign_in.html"
    authentication_form = SignInForm

    def form_valid(self, form: SignInForm) -> HttpResponse:
        response = super().form_valid(form)
        # a session that a family's link made long-lived becomes an ordinary one
        self.request.session.set_expiry(None)
        return response

    def get_default_redirect_url(self) -> str:
        viewer = viewer_of_user(self.request.user)
        return landing(viewer) if viewer else resolve_url("students:sign-in")


@login_not_required
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    messages.info(request, _("You are signed out."))
    return redirect("students:sign-in")


@login_not_required
@no_referrer
@never_cache
@require_safe
def open_link(request: HttpRequest, token: str) -> HttpResponse:
    """Lets the bearer of a personal link in, and leaves the token behind."""
    found = person_of(token, timezone.now())
    if found is None:
        return render(request, "students/link_ended.html", status=404)
    link, person = found
    links.remember(request.session, link)
    request.session.cycle_key()
    if not request.user.is_authenticated:
        request.session.set_expiry(LINK_SESSION_SECONDS)
    if isinstance(person, Student):
        return redirect("practice:s-page", student=person.code)
    child = first_child(person)
    if child is None:
        return render(request, "students/no_child.html")
    return redirect("practice:f-week", student=child.code)


def person_of(token: str, now: dt.datetime) -> tuple[links.Link, Student | Guardian] | None:
    """Whom a token lets in at `now`: None when it is no token, or was replaced, or has ended."""
    unsigned = links.unsign(token)
    if unsigned is None:
        return None
    code, version = unsigned
    for role, people in ((Role.STUDENT, Student.objects.current()), (Role.GUARDIAN, Guardian.objects.all())):
        person = people.select_related("studio").filter(code=code).first()
        if person is not None and person.link_works(version, person.studio.today(now)):
            return links.Link(role.value, code, version), person
    return None


@method_decorator(open_to(*Role), name="dispatch")
class ChangePassword(auth.PasswordChangeView):
    http_method_names = METHODS
    template_name = "students/password.html"
    form_class = ChangePasswordForm

    def get_success_url(self) -> str:
        return landing(self.request.viewer)

    def form_valid(self, form: ChangePasswordForm) -> HttpResponse:
        messages.success(self.request, _("Your new password holds from now on."))
        return super().form_valid(form)


class ForgottenPassword(auth.PasswordResetView):
    """Answers everybody the same in the same time: who has the address is looked up when the answer is on its way.

    Asked for too often, an address gets no further mail for a while, and whoever asks too often is told to wait.
    """

    http_method_names = METHODS
    template_name = "students/password_forgotten.html"
    form_class = ForgottenPasswordForm
    success_url = reverse_lazy("students:password-sent")
    subject_template_name = "students/password_subject.txt"
    email_template_name = "students/password_mail.txt"

    def form_valid(self, form: ForgottenPasswordForm) -> HttpResponse:
        now = timezone.now()
        if not allowed("forgotten-from", get_client_ip_address(self.request), MOST_ASKED_FROM, HOUR, now):
            form.add_error(None, _("That was asked for very often from here. Please wait an hour."))
            return self.render_to_response(self.get_context_data(form=form), status=HTTPStatus.TOO_MANY_REQUESTS)
        email = UserManager.normalise(form.cleaned_data["email"])
        mails = allowed("forgotten-for", email, MOST_ASKED_FOR, HOUR, now)
        return RedirectThen(str(self.success_url), partial(self._mail, form) if mails else _nothing)

    def _mail(self, form: ForgottenPasswordForm) -> None:
        form.save(
            use_https=self.request.is_secure(),
            token_generator=self.token_generator,
            from_email=self.from_email,
            email_template_name=self.email_template_name,
            subject_template_name=self.subject_template_name,
            request=self.request,
            html_email_template_name=self.html_email_template_name,
            extra_email_context=self.extra_email_context,
        )


def _nothing() -> None:
    """What is done for an address that was asked for too often."""


class ForgottenPasswordSent(auth.PasswordResetDoneView):
    template_name = "students/password_sent.html"


@method_decorator(login_not_required, name="dispatch")
class NewPassword(auth.PasswordResetConfirmView):
    http_method_names = METHODS
    template_name = "students/password_new.html"
    form_class = NewPasswordForm
    success_url = reverse_lazy("students:sign-in")

    def dispatch(self, *args: Any, **kwargs: Any) -> HttpResponse:
        # for a dead link Django answers before it looks at the method
        if self.request.method.lower() not in METHODS:
            return self.http_method_not_allowed(self.request)
        response = super().dispatch(*args, **kwargs)
        # the form's own address carries no token, and needs its referrer for the CSRF check
        if kwargs["token"] != self.reset_url_token:
            response["Referrer-Policy"] = "no-referrer"
        return response

    def form_valid(self, form: NewPasswordForm) -> HttpResponse:
        unlock(username=self.user.email)
        messages.success(self.request, _("Your new password is set. Sign in with it."))
        return super().form_valid(form)
