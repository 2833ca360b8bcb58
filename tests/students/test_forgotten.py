"""Forgotten password: neither answer nor time tells who has an account, and it cannot be asked for without end."""

import datetime as dt

import pytest
from django.core import mail
from django.core.signals import request_finished
from django.db import close_old_connections, connection
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from students.later import RedirectThen
from students.models import Tries
from students.throttle import allowed
from students.views.access import MOST_ASKED_FOR, MOST_ASKED_FROM, ForgottenPassword

PATH = "/password/forgotten/"


def asked(email, address="10.0.0.1"):
    return Client().post(PATH, {"email": email}, REMOTE_ADDR=address)


@pytest.fixture
def _connection_stays():
    """The end of an answer closes the test's own connection, unless told not to: Django's client does the same."""
    request_finished.disconnect(close_old_connections)
    yield
    request_finished.connect(close_old_connections)


@pytest.mark.usefixtures("_connection_stays")
def test_nothing_is_looked_up_before_the_answer(cast):
    """The time to the answer is spent on the same queries for an account and for none; the mail comes after it."""
    found = {}
    for email in (cast.teacher.user.email, "nobody@studio.example", cast.stranger.user.email):
        request = RequestFactory().post(PATH, {"email": email}, REMOTE_ADDR=f"10.0.0.{len(found)}")
        request._dont_enforce_csrf_checks = True
        with CaptureQueriesContext(connection) as captured:
            response = ForgottenPassword.as_view()(request)
            body = response.content
        kinds = [query["sql"].split('"')[:2] for query in captured]
        found[email] = (response.status_code, response.url, body, [kind[0] for kind in kinds])
        assert not any("students_user" in query["sql"] for query in captured)
        assert mail.outbox == []
        mails = len(mail.outbox)
        response.close()
        assert len(mail.outbox) == mails + ("nobody" not in email)
        mail.outbox.clear()
    assert len({str(one) for one in found.values()}) == 1


def test_the_test_client_sends_it_as_a_server_does(cast):
    asked(cast.teacher.user.email)
    assert [message.to for message in mail.outbox] == [[cast.teacher.user.email]]


def test_an_address_gets_three_mails_an_hour_and_the_answer_is_the_same(cast, monkeypatch):
    email = cast.teacher.user.email
    answers = [asked(email.upper() if n % 2 else f" {email}", f"10.0.1.{n}") for n in range(MOST_ASKED_FOR + 4)]
    assert {(answer.status_code, answer.url) for answer in answers} == {(302, "/password/forgotten/sent/")}
    assert len(mail.outbox) == MOST_ASKED_FOR
    asked(cast.owner.user.email)  # somebody else's is not held up
    assert len(mail.outbox) == MOST_ASKED_FOR + 1
    later = timezone.now() + dt.timedelta(minutes=61)
    monkeypatch.setattr("django.utils.timezone.now", lambda: later)
    asked(email)
    assert len(mail.outbox) == MOST_ASKED_FOR + 2


def test_one_network_address_is_told_to_wait_whatever_it_asks_for(cast):
    for number in range(MOST_ASKED_FROM):
        assert asked(f"person{number}@guess.example").status_code == 302
    for email in ("nobody@guess.example", cast.teacher.user.email):
        answer = asked(email)
        assert answer.status_code == 429
        assert "wait an hour" in answer.content.decode()
        assert answer.context["form"]["email"].value() == email
    assert mail.outbox == []
    # what is refused is not counted for the address that it names: nobody is shut out by another's guessing
    assert asked(cast.teacher.user.email, "10.9.9.9").status_code == 302
    assert len(mail.outbox) == 1


def test_behind_a_proxy_the_clients_own_address_counts(cast, settings):
    settings.BEHIND_PROXY = True
    for number in range(MOST_ASKED_FROM):
        Client().post(PATH, {"email": f"p{number}@guess.example"}, headers={"x-forwarded-for": "8.8.8.8, 10.1.1.1"})
    forged = Client().post(PATH, {"email": "x@guess.example"}, headers={"x-forwarded-for": "1.2.3.4, 10.1.1.1"})
    assert forged.status_code == 429
    other = Client().post(PATH, {"email": "x@guess.example"}, headers={"x-forwarded-for": "10.1.1.1, 1.2.3.4"})
    assert other.status_code == 302


def test_the_count_keeps_no_address_and_goes_after_a_day(cast):
    asked("somebody@home.example", "10.7.7.7")
    assert Tries.objects.count() == 2
    assert all("home" not in row.key and "10.7" not in row.key and len(row.key) == 64 for row in Tries.objects.all())
    Tries.objects.update(since=timezone.now() - dt.timedelta(days=1, seconds=1))
    asked("other@home.example", "10.7.7.8")
    assert Tries.objects.count() == 2


@pytest.mark.parametrize("most", [1, 2, 5])
def test_exactly_so_many_within_the_time(db, most):
    now, hour = timezone.now(), dt.timedelta(hours=1)
    assert [allowed("x", "who", most, hour, now) for _ in range(most + 3)] == [True] * most + [False] * 3
    assert allowed("x", "other", most, hour, now)
    assert allowed("y", "who", most, hour, now)
    edge = now + hour - dt.timedelta(seconds=1)
    assert not allowed("x", "who", most, hour, edge)
    assert [allowed("x", "who", most, hour, now + hour) for _ in range(most + 1)] == [True] * most + [False]


def test_a_mail_server_that_fails_is_logged_without_an_address(cast, settings, monkeypatch, caplog):
    def fails(*args, **kwargs):
        raise OSError("nobody@studio.example refused")

    response = RedirectThen("/x/", fails)
    response.close()
    response.close()
    assert "OSError" in caplog.text
    assert "nobody@" not in caplog.text
