"""Whose address counts wrong sign-ins."""

import logging
import sys

import pytest
from django.test import RequestFactory

from studio.logs import HidingFormatter
from studio.network import client_address


@pytest.mark.parametrize(
    ("behind", "forwarded", "expected"),
    [
        (False, None, "10.0.0.1"),
        (False, "6.6.6.6", "10.0.0.1"),  # without a proxy the header is the client's own word
        (True, "7.7.7.7", "7.7.7.7"),
        (True, "6.6.6.6, 7.7.7.7", "7.7.7.7"),  # only what our proxy appended counts
        (True, "2001:db8::1", "2001:db8::1"),
        (True, None, "10.0.0.1"),
        (True, "nonsense", "10.0.0.1"),
    ],
)
def test_client_address(settings, behind, forwarded, expected):
    settings.BEHIND_PROXY = behind
    headers = {"X-Forwarded-For": forwarded} if forwarded else {}
    request = RequestFactory().get("/", headers=headers, REMOTE_ADDR="10.0.0.1")
    assert client_address(request) == expected


def test_a_traceback_keeps_no_token():
    try:
        raise ValueError("GET /open/abc:1:secret/ failed")
    except ValueError:
        said = "Broken at /password/new/MQ/secret/"
        record = logging.LogRecord("x", logging.ERROR, __file__, 1, said, (), sys.exc_info())
    text = HidingFormatter("{message}", style="{").format(record)
    assert "secret" not in text
    assert "[link]" in text
