"""In by password, out by POST, a new password by mail."""

import re

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from students.models import User
from tests import factory

SIGN_IN = "/sign-in/"


@pytest.fixture
def attempt(client):
    """attempt(email, password) -> the answer to a sign-in form."""
    return lambda email, password, **more: client.post(
        SIGN_IN, {"username": email, "password": password, **more}, REMOTE_ADDR=more.get("from_", "127.0.0.1")
    )


def test_the_form_lets_a_password_manager_fill_it_in(client, db):
    page = client.get(SIGN_IN).content.decode()
    assert re.search(r'<input type="email"[^>]*name="username"[^>]*autocomplete="username"', page)
    assert re.search(r'<input type="password"[^>]*name="password"[^>]*autocomplete="current-password"', page)
    assert "onpaste" not in page


def test_a_teacher_signs_in_whatever_the_case_of_the_address_and_sees_today(attempt, cast):
    response = attempt(f" {cast.teacher.user.email.upper()} ", factory.PASSWORD)
    assert (response.status_code, response.url) == (302, reverse("practice:today"))


def test_sign_in_goes_on_to_the_page_that_was_asked_for_but_to_no_other_site(attempt, cast):
    email = cast.teacher.user.email
    assert attempt(email, factory.PASSWORD, next="/roster/").url == "/roster/"
    assert attempt(email, factory.PASSWORD, next="https://elsewhere.example/").url == reverse("practice:today")


def test_an_adult_student_or_guardian_with_a_password_lands_on_their_own_page(attempt, cast):
    cast.student.user = factory.make_user(email="robin@family.example")
    cast.student.save()
    cast.guardian.user = factory.make_user(email="gil@family.example")
    cast.guardian.save()
    assert attempt("robin@family.example", factory.PASSWORD).url == f"/s/{cast.student.code}/"
    assert attempt("gil@family.example", factory.PASSWORD).url == f"/f/{cast.child.code}/"


def test_an_account_that_belongs_to_nobody_is_told_so(attempt, db):
    factory.make_user(email="nobody@studio.example")
    response = attempt("nobody@studio.example", factory.PASSWORD)
    assert response.status_code == 200
    assert "belongs to nobody" in response.content.decode()


@pytest.mark.parametrize(
    ("email", "password"),
    [
        ("", ""),
        ("nobody@studio.example", "wrong"),
        ("x" * 5000, "y" * 5000),
        ("a\x00b@studio.example", "\x00"),
        ("\N{GUITAR}", "\N{GUITAR}"),
        ("1" + "0" * 400, "-1"),
    ],
)
def test_a_wrong_form_says_so_and_keeps_the_address(attempt, db, email, password):
    response = attempt(email, password)
    assert response.status_code == 200
    assert response.context["form"].errors
    assert response.context["form"]["username"].value() == email


def test_a_deactivated_teacher_gets_neither_in_nor_on(attempt, cast):
    client = cast.client("teacher")
    assert client.get(reverse("practice:roster")).status_code == 200
    cast.teacher.user.is_active = False
    cast.teacher.user.save()
    assert client.get(reverse("practice:roster")).status_code == 302
    assert attempt(cast.teacher.user.email, factory.PASSWORD).status_code == 200


def test_six_wrong_passwords_lock_that_address_from_there_and_nobody_else(attempt, cast, settings):
    settings.AXES_ENABLED = True
    email = cast.teacher.user.email
    for _ in range(settings.AXES_FAILURE_LIMIT):
        last = attempt(email, "wrong")
    assert last.status_code == 429
    locked = attempt(email.upper(), factory.PASSWORD)  # the right one now, too
    assert locked.status_code == 429
    assert "Too many wrong passwords" in locked.content.decode()
    assert email not in locked.content.decode()
    assert attempt(cast.owner.user.email, factory.PASSWORD).status_code == 302
    assert attempt(email, factory.PASSWORD, from_="10.1.2.3").status_code == 302


def test_a_new_password_by_mail_ends_the_lock(attempt, cast, settings, client):
    settings.AXES_ENABLED = True
    email = cast.teacher.user.email
    for _ in range(settings.AXES_FAILURE_LIMIT):
        attempt(email, "wrong")
    _set_by_mail(client, email, "another long pass phrase")
    assert attempt(email, "another long pass phrase").status_code == 302


def test_sign_out_takes_a_post(cast):
    client = cast.client("teacher")
    assert client.get("/sign-out/").status_code == 405
    assert client.get(reverse("practice:roster")).status_code == 200
    assert client.post("/sign-out/").url == SIGN_IN
    assert client.get(reverse("practice:roster")).status_code == 302


def test_a_form_without_its_csrf_token_does_nothing(cast):
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.teacher.user, "django.contrib.auth.backends.ModelBackend")
    assert client.post("/sign-out/").status_code == 403
    assert client.get(reverse("practice:roster")).status_code == 200


# -- changing and forgetting -------------------------------------------------------------------------------------


def test_a_password_is_changed_by_who_knows_it(cast):
    client = cast.client("teacher")
    data = {
        "old_password": factory.PASSWORD,
        "new_password1": "brand new phrase 7",
        "new_password2": "brand new phrase 7",
    }
    wrong = client.post("/password/", data | {"old_password": "not it"})
    assert wrong.status_code == 200
    assert "old_password" in wrong.context["form"].errors
    short = client.post("/password/", data | {"new_password1": "a", "new_password2": "a"})
    assert "new_password2" in short.context["form"].errors
    assert client.post("/password/", data).url == reverse("practice:today")
    assert User.objects.get(pk=cast.teacher.user.pk).check_password("brand new phrase 7")
    assert client.get(reverse("practice:roster")).status_code == 200  # still signed in


def _set_by_mail(client, email, password):
    assert client.post("/password/forgotten/", {"email": email}).url == "/password/forgotten/sent/"
    [message] = mail.outbox
    path = re.search(r"http://testserver(/password/new/\S+)", message.body).group(1)
    first = client.get(path)
    page = client.get(first.url)
    response = client.post(first.url, {"new_password1": password, "new_password2": password})
    return message, path, first, page, response


def test_a_forgotten_password_is_replaced_once_by_a_link_that_tells_no_other_site(cast, client):
    user = cast.teacher.user
    message, path, first, page, response = _set_by_mail(client, user.email.upper(), "another long pass phrase")
    assert message.to == [user.email]
    assert message.subject == "Ledgerline: a new password"
    assert "three days" in message.body
    assert first.headers["Referrer-Policy"] == "no-referrer"
    assert page.headers["Referrer-Policy"] == "same-origin"  # its address has no token, its form needs the referrer
    assert path.split("/")[-2] not in page.content.decode()
    assert response.url == SIGN_IN
    assert User.objects.get(pk=user.pk).check_password("another long pass phrase")
    again = Client().get(path)
    assert again.status_code == 200
    assert again.headers["Referrer-Policy"] == "no-referrer"
    assert "does not open anything" in again.content.decode()


def test_asking_for_an_unknown_address_says_the_same_and_mails_nothing(client, db):
    for email in ("nobody@studio.example", "far@away.example"):
        assert client.post("/password/forgotten/", {"email": email}).url == "/password/forgotten/sent/"
    assert mail.outbox == []


@pytest.mark.parametrize("email", ["", "no address", "a@b\x00.example", "\N{GUITAR}", "x" * 10_000])
def test_asking_with_no_address_says_so(client, db, email):
    response = client.post("/password/forgotten/", {"email": email})
    assert response.status_code == 200
    assert response.context["form"]["email"].errors
    assert response.context["form"]["email"].value() == email


def test_the_way_to_a_password_is_closed_to_who_may_not_sign_in(cast, client):
    cast.teacher.user.is_active = False
    cast.teacher.user.save()
    client.post("/password/forgotten/", {"email": cast.teacher.user.email})
    assert mail.outbox == []


@pytest.mark.parametrize("path", ["/password/new/MQ/a-b/", "/password/new/%00/set-password/", "/password/new/!!/x/"])
def test_a_link_that_nobody_made_says_so_kindly(client, db, path):
    response = client.get(path)
    assert response.status_code == 200
    assert "does not open anything" in response.content.decode()
