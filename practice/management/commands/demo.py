"""`manage.py demo`: the example studio in a database of its own, served on this machine."""

import contextlib
import datetime as dt
import logging
import os
import signal
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler, get_internal_wsgi_application
from django.db import DatabaseError, connections
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from students import calendar

HOST = "127.0.0.1"
# How a file says that this command made it: SQLite's application id, four bytes in the file's header.
OURS = int.from_bytes(b"LdgR", "big")
# For an installation whose own database is not SQLite.
OPTIONS = {"transaction_mode": "IMMEDIATE", "timeout": 20, "init_command": "PRAGMA journal_mode=WAL;"}


class QuietHandler(WSGIRequestHandler):
    """Writes no line per request: an address may carry a personal link."""

    def log_message(self, format: str, *args: Any) -> None:
        pass


class Server(ThreadedWSGIServer):
    daemon_threads = True


class Command(BaseCommand):
    help = "Draws the example studio into a database file of its own and serves it on this machine."
    # nothing may ask for a database before it is the demo's own
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        # read as texts, so that a bad value gets one line from here and not the parser's usage
        parser.add_argument("--port", default="8000", help="port on 127.0.0.1, 0 for any free one; 8000 unless given")
        parser.add_argument("--no-serve", action="store_true", help="only make the file and print the links")
        parser.add_argument("--database", help="the demo's file; demo.sqlite3 in the state folder unless given")
        parser.add_argument("--today", help="last day of the data, YYYY-MM-DD; counts only when the file is drawn")
        parser.add_argument("--fresh", action="store_true", help="draw the example studio anew")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        port = read_port(options["port"])
        asked = read_day(options["today"])
        path = Path(options["database"] or settings.STATE_DIR / "demo.sqlite3").absolute()
        if not options["no_serve"]:
            listen(port).server_close()  # told before the wait for the drawing; bound for good below
        if options["database"] is None:
            settings.STATE_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
        drawn = not is_ours(path) or options["fresh"]
        try:
            if drawn:
                draw(path, asked, now)
            stand_apart(path)
            if not drawn:
                call_command("migrate", interactive=False, verbosity=0)
            self.serve_or_print(path, port, drawn, asked, now, serve=not options["no_serve"])
        except (OSError, DatabaseError, sqlite3.Error) as error:
            raise CommandError(_("%(path)s: %(error)s") % {"path": path, "error": error}) from error
        except KeyboardInterrupt:  # while drawing; the draft is gone already
            raise SystemExit(130) from None

    def serve_or_print(
        self, path: Path, port: int, drawn: bool, asked: dt.date | None, now: dt.datetime, *, serve: bool
    ) -> None:
        server = listen(port) if serve else None
        base = f"http://{HOST}:{server.server_port if server else port}"
        for line in introduction(path, base, now):
            self.say(line)
        if asked is not None and not drawn:
            self.say(_("--today counts only when the file is drawn: add --fresh to draw it up to %s.") % asked)
        if server is not None:
            serve_until_told(server, lambda: self.say(_("Ledgerline is at %s/ (Ctrl-C stops it)") % base))

    def say(self, line: str) -> None:
        """Writes a line at once, for a parent process that reads it from a pipe."""
        self.stdout.write(line)
        self.stdout.flush()


# -- arguments -------------------------------------------------------------------------------------------------


def read_port(text: str) -> int:
    if text.isascii() and text.isdigit() and int(text) <= 65535:
        return int(text)
    raise CommandError(_("--port %r: give a whole number from 1 to 65535, or 0 for any free port.") % text)


def read_day(text: str | None) -> dt.date | None:
    """The day, or None when none was given. Years in which the example's birth years make sense."""
    if text is None:
        return None
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        raise CommandError(_("--today %r: give a day as YYYY-MM-DD, such as 2026-03-27.") % text) from None
    if not 2000 <= day.year <= 2100:
        raise CommandError(_("--today %s: give a day between 2000 and 2100.") % day)
    return day


# -- the file --------------------------------------------------------------------------------------------------


def is_ours(path: Path) -> bool:
    """Whether the file exists and was made by this command; anything else in its place is refused."""
    if not path.parent.is_dir():
        raise CommandError(_("There is no folder %s for the demo's file.") % path.parent)
    if not path.exists():
        return False
    if path.is_file():
        with path.open("rb") as file:
            header = file.read(100)
        # https://www.sqlite.org/fileformat.html: the application id stands at offset 68
        if header.startswith(b"SQLite format 3\0") and int.from_bytes(header[68:72], "big") == OURS:
            return True
    raise CommandError(_("%s was not made by `manage.py demo` and stays as it is; give another --database.") % path)


def last_day() -> dt.date | None:
    """The last day of the data, kept in the file's header (SQLite's user version) when it was drawn.

    Asked of SQLite: opening and closing the file beside it would drop this process's locks on it.
    """
    with connections["default"].cursor() as cursor:
        cursor.execute("PRAGMA user_version")
        number = cursor.fetchone()[0]
    return dt.date.fromordinal(number) if number > 0 else None


def companions(path: Path) -> list[Path]:
    """The files that SQLite keeps beside a database in WAL mode."""
    return [path.with_name(path.name + suffix) for suffix in ("-wal", "-shm", "-journal")]


def draw(path: Path, asked: dt.date | None, now: dt.datetime) -> None:
    """Draws the example studio into a file beside `path` and puts it in place once it is whole."""
    from practice import example

    real = calendar.local_day(now, example.ZONE.key)
    if asked is not None and asked > real:
        raise CommandError(_("--today %(day)s has not come yet: it is %(real)s.") % {"day": asked, "real": real})
    today = asked or real
    if path.exists():
        refuse_if_served(path)
    draft = path.with_name(f"{path.name}.{os.getpid()}.new")
    try:
        # before Django turns on WAL mode, so that both numbers lie in the header and not in the log beside it
        with contextlib.closing(sqlite3.connect(draft)) as header:
            header.execute(f"PRAGMA application_id = {OURS}")
            header.execute(f"PRAGMA user_version = {today.toordinal()}")
        draft.chmod(0o600)
        stand_apart(draft)
        call_command("migrate", interactive=False, verbosity=0)
        example.store(example.draw(example.SEED, today), until=now)
        connections.close_all()  # the last connection to close writes the log back into the file
        for companion in companions(path):
            companion.unlink(missing_ok=True)
        draft.replace(path)
    finally:
        connections.close_all()
        for left in (draft, *companions(draft)):
            left.unlink(missing_ok=True)


def refuse_if_served(path: Path) -> None:
    """A file that another process has open must not be replaced under it: leaving WAL mode needs it alone."""
    with contextlib.closing(sqlite3.connect(path, timeout=0)) as alone:
        try:
            (mode,) = alone.execute("PRAGMA journal_mode = DELETE").fetchone()
        except sqlite3.OperationalError:  # locked
            mode = None
    if mode != "delete":
        raise CommandError(_("%s is in use: stop the other demo first.") % path)


def stand_apart(path: Path) -> None:
    """Points this process at the demo's file and makes it a demo, whatever the environment says: plain HTTP on
    this machine, no debug pages, no mail sent."""
    own = settings.DATABASES["default"]
    sqlite = own["ENGINE"] == "django.db.backends.sqlite3"
    connections.close_all()
    settings.DATABASES["default"] = {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": str(path),
        "OPTIONS": own.get("OPTIONS", {}) if sqlite else OPTIONS,
        "CONN_MAX_AGE": None,
    }
    connections.settings = connections.configure_settings(settings.DATABASES)
    with contextlib.suppress(AttributeError):  # this thread has not connected yet
        del connections["default"]
    settings.DEBUG = False
    settings.ALLOWED_HOSTS = [HOST, "localhost"]
    settings.SECURE_SSL_REDIRECT = settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = False
    settings.SECURE_HSTS_SECONDS = 0
    # mails carry links, so they are kept beside the database and not written to the output
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = str(path.parent / "mail")


# -- what is said ----------------------------------------------------------------------------------------------


def introduction(path: Path, base: str, now: dt.datetime) -> list[str]:
    """Who may sign in and which links open: the same each time, as links are signed from stored codes."""
    from practice import example
    from students import links
    from students.models import Guardian, Student, Teacher

    def link(person: Student | Guardian) -> str:
        return base + reverse("students:open-link", args=[links.sign(person.code, person.link_version)])

    owner = Teacher.objects.select_related("user", "studio").filter(is_owner=True).order_by("pk").first()
    if owner is None:
        raise CommandError(_("%s holds no studio: draw it anew with --fresh.") % path)
    lines = [f"{owner.studio.name}: {path}"]
    for label, email in ((_("Owner"), example.OWNER_EMAIL), (_("Teacher"), example.TEACHER_EMAIL)):
        said = {"address": base, "who": label, "email": email, "password": example.PASSWORD}
        lines.append(_("%(who)s: sign in at %(address)s/ as %(email)s, password %(password)s") % said)
    student = Student.objects.filter(studio=owner.studio, name=example.LINK_STUDENT).first()
    if student is not None:
        lines.append(_("Student %(name)s: %(link)s") % {"name": student.name, "link": link(student)})
    guardian = Guardian.objects.filter(studio=owner.studio, name=example.LINK_GUARDIAN).first()
    if guardian is not None:
        lines.append(_("Guardian %(name)s: %(link)s") % {"name": guardian.name, "link": link(guardian)})
    last, today = last_day(), owner.studio.today(now)
    if last is not None and last < today:
        days = (today - last).days
        lines.append(
            ngettext(
                "The example's last day is %(day)s, %(count)s day ago; `manage.py demo --fresh` draws it up to today.",
                "The example's last day is %(day)s, %(count)s days ago; `manage.py demo --fresh` draws it up to today.",
                days,
            )
            % {"day": last, "count": days}
        )
    return lines


# -- serving ---------------------------------------------------------------------------------------------------


def listen(port: int) -> Server:
    """A server bound to the port and listening, not yet answering."""
    try:
        return Server((HOST, port), QuietHandler, ipv6=False)
    except PermissionError:
        raise CommandError(_("Port %s is not for everybody: give a --port from 1024 up.") % port) from None
    except OSError as error:
        raise CommandError(
            _("Port %(port)s cannot be had (%(why)s): stop what runs there or give another --port.")
            % {"port": port, "why": error.strerror or error}
        ) from None


def serve_until_told(server: Server, ready: Callable[[], None]) -> None:
    """Answers requests until Ctrl-C or a request to end, then ends quietly."""

    def end(signum: int, frame: object) -> NoReturn:
        raise KeyboardInterrupt

    server.set_app(get_internal_wsgi_application())
    # "Not Found" for a browser's guesses is no news on the terminal of a demo; what breaks is
    logging.getLogger("django.request").setLevel(logging.ERROR)
    signal.signal(signal.SIGTERM, end)
    try:
        ready()
        server.serve_forever()
    except KeyboardInterrupt:
        pass
    finally:
        server.server_close()
        connections.close_all()
