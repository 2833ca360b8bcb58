"""Sends the mails about a hand that did not go out at once: for a timer, every quarter of an hour or so."""

import contextlib
import signal
import threading
from collections.abc import Iterator
from typing import Any, NoReturn
from urllib.parse import urlsplit

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from practice.mailing import send_pending


class Command(BaseCommand):
    help = (
        "Sends again the mails about a hand that failed, each once. Ends with 1 while one still fails."
        " The mails carry links, so the studio's own address is needed."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--address", required=True, help="where people open the site, such as https://studio.example"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        base = read_address(options["address"])
        with ending_in_order():
            found = send_pending(timezone.now(), lambda path: base + path)
        sent = ngettext("%(count)d mail was sent.", "%(count)d mails were sent.", found.sent) % {"count": found.sent}
        if found.failed:
            left = ngettext("%(count)d could not be sent.", "%(count)d could not be sent.", found.failed)
            raise CommandError(f"{sent} {left % {'count': found.failed}}")
        self.stdout.write(sent)


@contextlib.contextmanager
def ending_in_order() -> Iterator[None]:
    """Lets SIGTERM end the process as an exception does: Python's own answer runs no `finally`, and what was claimed
    would wait until the claim ends."""
    if threading.current_thread() is not threading.main_thread():  # signals are the main thread's alone
        yield
        return
    before = signal.signal(signal.SIGTERM, _end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _end(number: int, _frame: object) -> NoReturn:
    raise SystemExit(128 + number)


def read_address(text: str) -> str:
    """The address without a slash at its end. Raises CommandError for what is none."""
    try:
        parts = urlsplit(text)
        fine = parts.scheme in ("http", "https") and bool(parts.hostname) and parts.path in ("", "/")
        fine = fine and not (parts.query or parts.fragment or parts.username)
    except ValueError:
        fine = False
    if not fine:
        raise CommandError(_("--address %r: give it as https://studio.example, without a path.") % text)
    return text.rstrip("/")
