"""The house: settings from the environment, the policy of every kind of page, migrations, packaging."""

import ast
import os
import re
import stat
import subprocess
import sys
import tomllib
from concurrent.futures import ThreadPoolExecutor
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.test import Client, override_settings
from django.urls import reverse

from studio.env import StrictEnv, kept_secret

ROOT = Path(__file__).resolve().parent.parent
PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))

# What a real installation sets; everything else has a safe default.
REAL = {
    "SECRET_KEY": "Vd3kq0v5Zr8x1Tn7Hs2Jw9Lf4Pb6Gm0Yc3Ra5Ue8Ki1Qo7Wz2Xt9",
    "HTTPS": "true",
    "ALLOWED_HOSTS": "studio.example",
    "EMAIL_URL": "smtp://mail.studio.example:25",
}
OURS = {
    "SECRET_KEY", "HTTPS", "ALLOWED_HOSTS", "EMAIL_URL", "DEBUG", "DATABASE_URL", "STATE_DIR", "COLLECTING",
    "BEHIND_PROXY", "HSTS_SECONDS", "SECRET_KEY_FALLBACKS", "CSRF_TRUSTED_ORIGINS", "DEFAULT_FROM_EMAIL",
    "DJANGO_ALLOW_ASYNC_UNSAFE",  # set beside a browser (tests/browser/conftest.py)
}  # fmt: skip


def manage(state: Path, *words: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Runs a command in a process of its own, started in a folder of its own with only this environment."""
    plain = {name: value for name, value in os.environ.items() if name not in OURS}
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), *words],
        env={**plain, "STATE_DIR": str(state), **environment},
        cwd=state,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


# --- settings -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "flag"),
    [
        *((text, True) for text in ("true", "True", " yes ", "on", "1")),
        *((text, False) for text in ("false", "No", "off", "0", "")),
    ],
)
def test_a_boolean_is_read(monkeypatch, text, flag):
    monkeypatch.setenv("LEDGERLINE_FLAG", text)
    assert StrictEnv().flag("LEDGERLINE_FLAG", default=not flag) is flag


@pytest.mark.parametrize("text", ["Ture", "2", "y", "None", "true false"])
def test_a_boolean_that_is_neither_is_refused_by_name(monkeypatch, text):
    monkeypatch.setenv("LEDGERLINE_FLAG", text)
    with pytest.raises(ImproperlyConfigured, match="LEDGERLINE_FLAG"):
        StrictEnv().flag("LEDGERLINE_FLAG", default=False)


@pytest.mark.parametrize("name", ["DEBUG", "HTTPS", "BEHIND_PROXY"])
def test_a_mistyped_boolean_stops_the_start(tmp_path, name):
    done = manage(tmp_path, "check", **{name: "Ture"})
    assert done.returncode != 0
    assert f"{name} is 'ture': write true or false." in done.stderr


def test_the_secret_key_is_made_once_and_only_its_owner_reads_it(tmp_path):
    path = tmp_path / "state" / "secret-key"
    with ThreadPoolExecutor(1) as other:
        first, second = kept_secret(path), other.submit(kept_secret, path).result()
    assert first == second
    assert len(first) >= 50
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
    assert [file.name for file in path.parent.iterdir()] == ["secret-key"]


def test_processes_that_start_at_once_agree_on_the_key(tmp_path):
    script = (
        "import sys; from pathlib import Path; from studio.env import kept_secret;"
        "print(kept_secret(Path(sys.argv[1])))"
    )
    started = [
        subprocess.Popen(
            [sys.executable, "-c", script, str(tmp_path / "key")], cwd=ROOT, stdout=subprocess.PIPE, text=True
        )
        for _ in range(6)
    ]
    said = {process.communicate(timeout=60)[0].strip() for process in started}
    assert len(said) == 1
    assert said == {(tmp_path / "key").read_text("ascii")}


def test_the_key_of_the_state_folder_is_used_and_kept(tmp_path):
    asked = ["shell", "-v0", "-c", "from django.conf import settings; print('key', settings.SECRET_KEY)"]
    first, second = manage(tmp_path, *asked), manage(tmp_path, *asked)
    assert first.stdout == second.stdout == f"key {(tmp_path / 'secret-key').read_text('ascii')}\n"
    given = manage(tmp_path, *asked, SECRET_KEY=REAL["SECRET_KEY"])
    assert given.stdout == f"key {REAL['SECRET_KEY']}\n"


def test_sqlite_is_opened_as_it_is_to_be_served(tmp_path):
    script = """
from django.db import connection, transaction
with connection.cursor() as cursor:
    for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout"):
        print(name, cursor.execute("PRAGMA " + name).fetchone()[0])
print("persistent", connection.settings_dict["CONN_MAX_AGE"])
with transaction.atomic():
    import sqlite3
    other = sqlite3.connect(connection.settings_dict["NAME"], timeout=0)
    try:
        other.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as error:
        print("second writer:", error)
"""
    done = manage(tmp_path, "shell", "-v0", "-c", script)
    assert done.stdout.splitlines() == [
        "journal_mode wal",
        "synchronous 2",  # FULL
        "foreign_keys 1",
        "busy_timeout 20000",
        "persistent None",
        # a transaction takes the write lock at its BEGIN
        "second writer: database is locked",
    ], done.stderr


# --- deployment -----------------------------------------------------------------------------------


def test_deploy_check_asks_a_real_installation_for_its_own_settings(tmp_path):
    done = manage(tmp_path, "check", "--deploy", "--fail-level", "WARNING")
    assert done.returncode == 1
    said = set(re.findall(r"\((\w+\.[WE]\d+)\)", done.stderr))
    assert {"studio.W001", "security.W004", "security.W008", "security.W012", "security.W016"} <= said
    assert "hint: set secret_key" in done.stderr.lower()


def test_deploy_check_is_content_with_a_real_environment(tmp_path):
    done = manage(tmp_path, "check", "--deploy", "--fail-level", "WARNING", **REAL)
    assert done.returncode == 0, done.stderr


@override_settings(TIME_ZONE="Europe/London")
def test_a_server_zone_other_than_utc_is_an_error():
    from studio.checks import time_zone_is_utc

    assert [found.id for found in time_zone_is_utc(None)] == ["studio.E001"]


def test_no_migration_is_missing(db):
    call_command("makemigrations", "--check", "--dry-run", verbosity=0)


@pytest.mark.long
def test_collected_static_files_carry_a_hash_and_pages_name_them(tmp_path):
    done = manage(tmp_path, "collectstatic", "--noinput", COLLECTING="true")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "static" / "staticfiles.json").exists()
    script = """
from django.core.management import call_command
from django.test import Client
call_command("migrate", verbosity=0)
page = Client(headers={"host": "localhost"}).get("/sign-in/").content.decode()
import re
names = re.findall(r'(?:href|src)="/static/([^"]+)"', page)
assert names
for name in names:
    assert re.search(r"\\.[0-9a-f]{12}\\.", name), name
    got = Client(headers={"host": "localhost"}).get("/static/" + name)
    assert got.status_code == 200 and "immutable" in got.headers["Cache-Control"], (name, got.headers)
print("names", len(names))
"""
    served = manage(tmp_path, "shell", "-v0", "-c", script)
    assert re.match(r"names [1-9]", served.stdout), served.stderr


# --- the policy of pages --------------------------------------------------------------------------

DIRECTIVES = {
    "default-src": "'self'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self' data:",
    "connect-src": "'self'",
    "form-action": "'self'",
    "object-src": "'none'",
    "base-uri": "'none'",
    "frame-ancestors": "'none'",
}

# One page of each kind: who asks, and where.
PAGES = {
    "signing in": ("anonymous", "students:sign-in", False, 200),
    "wide page": ("teacher", "practice:roster", False, 200),
    "wide page with charts": ("teacher", "practice:charts", True, 200),
    "student's phone": ("child", "practice:s-page", True, 200),
    "family's phone": ("guardian", "practice:f-week", True, 200),
    "not found": ("teacher", "practice:s-page", True, 404),
}


class Markup(HTMLParser):
    """Collects what the policy forbids: inline scripts and styles, on...= attributes, foreign addresses."""

    def __init__(self, text: str):
        super().__init__()
        self.wrong: list[str] = []
        self.headings: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag in {"h1"}:
            self.headings.append(tag)
        if tag == "style" or (
            tag == "script" and "src" not in given and given.get("type") != "application/json"
        ):
            self.wrong.append(f"inline <{tag}>")
        for name, value in attrs:
            runs = str(value).strip().lower().startswith("javascript:")
            if name == "style" or name.startswith(("on", "hx-on")) or runs:
                self.wrong.append(f"<{tag} {name}={value!r}>")
            if name in {"src", "srcset", "action", "data"} and re.match(r"(https?:)?//", str(value)):
                self.wrong.append(f"<{tag} {name}={value!r}> loads from another host")
        if tag == "link" and re.match(r"(https?:)?//", str(given.get("href"))):
            self.wrong.append(f"<link href={given['href']!r}> loads from another host")

    handle_startendtag = handle_starttag


@pytest.mark.parametrize("kind", PAGES)
def test_every_kind_of_page_carries_the_whole_policy_and_keeps_it(cast, kind):
    who, name, of_student, status = PAGES[kind]
    response = cast.client(who).get(reverse(name, args=[cast.child.code] if of_student else []))
    assert response.status_code == status
    said = dict(part.split(" ", 1) for part in response.headers["Content-Security-Policy"].split("; "))
    assert said == DIRECTIVES
    assert response.headers["Referrer-Policy"] in {"same-origin", "no-referrer"}
    assert response.headers["X-Frame-Options"] == "DENY"
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    markup = Markup(response.content.decode())
    assert markup.wrong == []
    assert markup.headings == ["h1"]


def test_the_page_for_a_broken_server_needs_nothing_that_may_be_broken(client, monkeypatch):
    from students.errors import server_error

    response = server_error(client.get("/sign-in/").wsgi_request)
    assert response.status_code == 500
    assert Markup(response.content.decode()).wrong == []


@pytest.mark.parametrize("path", sorted((ROOT / "templates").rglob("*.html")), ids=lambda path: path.name)
def test_no_template_says_what_the_policy_forbids(path):
    text = re.sub(r"{%.*?%}|{#.*?#}", "", path.read_text("utf-8"), flags=re.S)
    assert Markup(text).wrong == []


def test_the_form_guard_refuses_a_form_from_elsewhere(cast):
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.teacher.user, "django.contrib.auth.backends.ModelBackend")
    path = reverse("students:student-add")
    assert client.post(path, {"name": "Nobody"}).status_code == 403
    asked = client.post(path, {}, content_type="application/json", headers={"accept": "application/json"})
    assert (asked.status_code, set(asked.json())) == (403, {"error"})


def test_a_page_of_another_host_name_is_refused(client):
    assert client.get("/sign-in/", headers={"host": "elsewhere.example"}).status_code == 400


# --- the tree -------------------------------------------------------------------------------------


def test_every_package_is_packed():
    found = {
        ".".join(path.parent.relative_to(ROOT).parts)
        for top in ("studio", "students", "practice")
        for path in (ROOT / top).rglob("__init__.py")
    }
    assert set(PYPROJECT["tool"]["setuptools"]["packages"]) == found


def test_the_theory_core_needs_the_standard_library_only():
    files = list((ROOT / "studio" / "theory").rglob("*.py"))
    assert len(files) > 5
    for file in files:
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                names = [node.module or ""]
            for name in names:
                top = name.partition(".")[0]
                assert top in sys.stdlib_module_names or name.startswith("studio.theory"), (file.name, name)


def test_a_pure_module_knows_no_clock():
    """Now is an argument: no pure module reads it (modules: those that mypy and import-linter hold)."""
    modules = PYPROJECT["tool"]["mypy"]["modules"]
    files = [ROOT / (name.replace(".", "/") + ".py") for name in modules]
    files += (ROOT / "studio" / "theory").rglob("*.py")
    clock = re.compile(r"(datetime\.(utc)?now|date\.today|timezone\.(now|local\w+)|time\.time)$")
    for file in files:
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            if isinstance(node, ast.Attribute):
                assert not clock.search(ast.unparse(node)), (file.name, node.lineno)


def test_every_test_folder_is_a_package():
    for file in (ROOT / "tests").rglob("test_*.py"):
        assert (file.parent / "__init__.py").exists(), file


SET_UP = "python3 -m venv .venv && .venv/bin/pip install -e "


def test_readme_gives_the_two_commands_and_ci_calls_the_second():
    blocks = re.findall(r"^```.*?\n(.*?)^```", (ROOT / "README.md").read_text("utf-8"), flags=re.S | re.M)
    lines = [line for block in blocks for line in block.splitlines() if "venv" in line]
    assert lines[:2] == [
        SET_UP + ". && .venv/bin/python manage.py demo",
        SET_UP + "'.[test]' && .venv/bin/pytest",
    ]
    assert f"\n{lines[1]} " in (ROOT / ".ci" / "run").read_text("utf-8")


def test_developers_page_lists_every_setting_that_is_read():
    settings = (ROOT / "studio" / "settings.py").read_text("utf-8")
    read = set(re.findall(r'env\.\w+\("(\w+)"', settings))
    assert "STATE_DIR" in read
    listed = set(re.findall(r"^\| `(\w+)` \|", (ROOT / "DEVELOPERS.md").read_text("utf-8"), flags=re.M))
    assert read <= listed


def test_readme_pictures_are_there_and_light():
    readme = (ROOT / "README.md").read_text("utf-8")
    pictures = re.findall(r"!\[(.+?)\]\((studio/docs/pictures/[^)]+)\)", readme)
    assert len(pictures) >= 3
    for words, path in pictures:
        assert len(words) > 20
        assert 5_000 < (ROOT / path).stat().st_size < 200_000
