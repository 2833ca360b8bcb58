"""Whose address counts wrong sign-ins."""

import logging
import sys

import pytest
from django.test import RequestFactory
from django.urls import reverse

from students.views.access import MOST_ASKED_FROM
from studio.logs import HidingFormatter
from studio.network import client_address


@pytest.mark.parametrize(
    ("behind", "forwarded", "expected"),
    [
        (False, None, "10.0.0.1"),
        (False, "6.6.6.6", "10.0.0.1"),  # without a proxy the header is the client's own word
        (True, "7.7.7.7", "7.7.7.7"),
        (True, "6.6.6.6, 7.7.7.7", "7.7.7.7"),  # only what our proxy appended counts
        # a household may take any of the 2**64 addresses of its /64 (from memory: RFC 6177)
        (True, "2001:db8::1", "2001:db8::"),
        (True, "2001:db8:0:0:ffff:ffff:ffff:ffff", "2001:db8::"),
        (True, "2001:db8:0:1::1", "2001:db8:0:1::"),
        (True, "fe80::1%eth0", "fe80::"),
        (True, "::ffff:7.7.7.7", "7.7.7.7"),
        (True, None, "10.0.0.1"),
        (True, "nonsense", "10.0.0.1"),
    ],
)
def test_client_address(settings, behind, forwarded, expected):
    settings.BEHIND_PROXY = behind
    headers = {"X-Forwarded-For": forwarded} if forwarded else {}
    request = RequestFactory().get("/", headers=headers, REMOTE_ADDR="10.0.0.1")
    assert client_address(request) == expected


def test_without_a_proxy_too(settings):
    settings.BEHIND_PROXY = False
    for own, expected in (("2001:db8::abc:1", "2001:db8::"), ("", ""), ("unix:", "unix:")):
        assert client_address(RequestFactory().get("/", REMOTE_ADDR=own)) == expected


def test_a_new_address_of_the_same_household_is_no_new_visitor(cast, client, settings):
    """The sign-in lock and the forgotten password count the /64, whatever address of it comes."""
    settings.AXES_ENABLED = True
    wrong = {"username": cast.teacher.user.email, "password": "wrong"}
    for number in range(settings.AXES_FAILURE_LIMIT):
        client.post("/sign-in/", wrong, REMOTE_ADDR=f"2001:db8::{number + 1:x}")
    assert client.post("/sign-in/", wrong, REMOTE_ADDR="2001:db8::ffff").status_code == 429
    assert client.post("/sign-in/", wrong, REMOTE_ADDR="2001:db8:0:1::1").status_code == 200
    forgotten = [
        client.post(
            reverse("students:password-forgotten"), {"email": "a@b.example"}, REMOTE_ADDR=f"2001:db8::{number:x}"
        ).status_code
        for number in range(1, MOST_ASKED_FROM + 2)
    ]
    assert forgotten == [302] * MOST_ASKED_FROM + [429]


def test_a_traceback_keeps_no_token():
    try:
        raise ValueError("GET /open/abc:1:secret/ failed")
    except ValueError:
        said = "Broken at /password/new/MQ/secret/"
        record = logging.LogRecord("x", logging.ERROR, __file__, 1, said, (), sys.exc_info())
    text = HidingFormatter("{message}", style="{").format(record)
    assert "secret" not in text
    assert "[link]" in text
