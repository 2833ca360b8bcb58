"""Personal links: who gets in, how long, and that the token stays nowhere."""

import datetime as dt
import io
import logging

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from students.links import SESSION_KEY, sign
from tests import factory


def path_of(person, version=None):
    return reverse("students:open-link", args=[sign(person.code, version or person.link_version)])


def test_a_student_gets_to_their_page_and_the_token_stays_behind(cast):
    client = Client()
    response = client.get(path_of(cast.student))
    assert (response.status_code, response.url) == (302, f"/s/{cast.student.code}/")
    assert response.headers["Referrer-Policy"] == "no-referrer"
    assert "no-store" in response.headers["Cache-Control"]
    assert client.get(response.url).status_code == 200


def test_a_guardian_gets_to_the_first_child_by_name_and_to_each_of_them(cast):
    younger = factory.make_student(teacher=cast.teacher, name="Abel Child", birth_year=2018)
    factory.make_student(teacher=cast.teacher, name="Aaron Child", birth_year=2018)  # of another family
    cast.guardian.guardianships.create(student=younger)
    client = Client()
    assert client.get(path_of(cast.guardian)).url == f"/f/{younger.code}/"
    for child in (younger, cast.child):
        assert client.get(reverse("students:f-consent", args=[child.code])).status_code == 200
    assert client.get(reverse("students:f-consent", args=[cast.other_student.code])).status_code == 404


def test_a_guardian_whose_children_are_archived_is_told_kindly(cast):
    cast.child.status = "archived"
    cast.child.save()
    response = Client().get(path_of(cast.guardian))
    assert response.status_code == 200
    assert "nobody to show just now" in response.content.decode()
    assert cast.child.first_name not in response.content.decode()


def test_the_session_lasts_a_year_and_gets_a_new_key(cast):
    client = Client()
    client.get("/sign-in/")
    session = client.session
    session["before"] = "x"
    session.save()
    client.cookies["sessionid"] = session.session_key
    client.get(path_of(cast.student))
    assert client.session.session_key != session.session_key
    assert client.session.get_expiry_age() > 390 * 24 * 3600
    assert client.session[SESSION_KEY] == [["student", str(cast.student.code), 1]]


def test_a_teacher_who_tries_a_link_stays_signed_in_as_before(cast):
    client = cast.client("teacher")
    client.get(path_of(cast.child))
    assert client.session.get_expiry_age() <= 14 * 24 * 3600
    assert client.get(reverse("practice:roster")).status_code == 200


def test_signing_in_on_a_family_s_phone_ends_the_long_session(cast):
    client = Client()
    client.get(path_of(cast.child))
    client.post("/sign-in/", {"username": cast.teacher.user.email, "password": factory.PASSWORD})
    assert client.session.get_expiry_age() <= 14 * 24 * 3600


@pytest.mark.parametrize("who", ["student", "guardian"])
def test_a_replaced_link_opens_nothing_and_the_new_one_does(cast, who):
    person = getattr(cast, who)
    old = path_of(person)
    person.replace_link()
    refused(Client().get(old), person)
    assert Client().get(path_of(person)).status_code == 302


@pytest.mark.parametrize("who", ["student", "guardian"])
def test_a_link_works_on_its_last_day_and_not_after(cast, who):
    person = getattr(cast, who)
    today = cast.studio.today(timezone.now())
    for day, status in ((today, 302), (today - dt.timedelta(days=1), 404), (None, 302)):
        person.link_expires = day
        person.save()
        assert Client().get(path_of(person)).status_code == status


def test_an_archived_student_s_link_opens_nothing_until_taken_back(cast):
    path = path_of(cast.student)
    cast.student.status = "archived"
    cast.student.save()
    refused(Client().get(path), cast.student)
    cast.student.status = "paused"
    cast.student.save()
    assert Client().get(path).status_code == 302


def refused(response, person):
    page = response.content.decode()
    assert response.status_code == 404
    assert response.headers["Referrer-Policy"] == "no-referrer"
    assert "Ask your teacher for a new link" in page
    for told in (person.name, person.name.split()[0], person.studio.name, str(person.code)):
        assert told not in page


def test_a_link_that_nobody_signed_opens_nothing(cast):
    code, other = cast.student.code, cast.guardian.code
    good = sign(code, 1)
    for token in (
        "x", "a:b:c", good[:-1], good + "x", good.upper(), good.replace(str(code), str(other)), f"{code}:1:",
        f"{code}:1", good.replace(":1:", ":2:"), "%00", "\N{GUITAR}", "1" + "0" * 400, sign(code, 99),
        sign(cast.teacher.code, 1),
    ):  # fmt: skip
        client = Client()
        refused(client.get(reverse("students:open-link", args=[token])), cast.student)
        assert SESSION_KEY not in client.session


@pytest.mark.parametrize("method", ["post", "put", "delete", "patch"])
def test_a_link_is_only_read(cast, method):
    response = getattr(Client(), method)(path_of(cast.student))
    assert response.status_code == 405
    assert response.headers["Referrer-Policy"] == "no-referrer"


def test_no_token_gets_into_the_log(cast):
    """Through the handlers that the settings set up: a refused link is logged as 404, without what it was."""
    [handler] = [one for one in logging.getLogger("django").handlers if type(one) is logging.StreamHandler]
    log = io.StringIO()
    before = handler.setStream(log)
    token = sign(cast.student.code, 7)
    try:
        Client().get(f"/open/{token}/")
        Client().post(f"/open/{token}/")
        logging.getLogger("django.server").warning('"GET /open/%s/ HTTP/1.1" 404', token)
    finally:
        handler.setStream(before)
    said = log.getvalue()
    assert said.count("/open/[link]") >= 2
    assert token not in said
    assert token.split(":")[-1] not in said
    assert str(cast.student.code) not in said
