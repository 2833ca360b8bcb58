"""A copy made while the site runs, brought back in another place."""

import datetime as dt
import os
import shutil
import sqlite3
import stat
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def manage(state, *words, **environment):
    plain = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "SECRET_KEY", "CI")}
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env={**plain, "STATE_DIR": str(state), **environment},
        capture_output=True,
        text=True,
        check=False,
    )


def question(state, code):
    done = manage(state, "shell", "-v0", "-c", code)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """A state folder with a database and a key."""
    state = tmp_path_factory.mktemp("site")
    assert manage(state, "migrate", "-v0").returncode == 0
    question(state, "from students.models import Studio; Studio.objects.create(name='Kept Studio')")
    return state


def copies(folder):
    return sorted(path for path in folder.iterdir() if path.is_dir())


SIGNED = "from django.core.signing import Signer; print(Signer().sign('a'))"
NAMES = "from students.models import Studio; print(list(Studio.objects.values_list('name', flat=True)))"


def test_a_copy_brought_back_is_the_same_site(site, tmp_path):
    folder = tmp_path / "copies"
    # somebody is writing meanwhile: an open transaction of another process does not spoil the copy, nor get into it
    with sqlite3.connect(site / "ledgerline.sqlite3", isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        other.execute("UPDATE students_studio SET name = 'Half Written'")
        done = manage(site, "backup", str(folder))
        other.execute("ROLLBACK")
    assert done.returncode == 0, done.stderr
    [copy] = copies(folder)
    assert {path.name for path in copy.iterdir()} == {"ledgerline.sqlite3", "secret-key"}
    for path in copy.iterdir():
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path.name
    assert stat.S_IMODE(copy.stat().st_mode) == 0o700

    again = tmp_path / "again"
    again.mkdir()
    for path in copy.iterdir():
        shutil.copy(path, again)
    assert question(again, NAMES) == question(site, NAMES) == "['Kept Studio']"
    # the same key: personal links that were printed go on opening
    assert question(again, SIGNED) == question(site, SIGNED)


@pytest.mark.long
def test_old_copies_go_and_nothing_else(site, tmp_path):
    now = dt.datetime.now(dt.UTC)
    names = [f"ledgerline-{now - dt.timedelta(days=days):%Y%m%d-%H%M%S}" for days in (29, 31, 400)]
    for name in (*names, "ledgerline-2020", "other", "ledgerline-20209999-999999"):
        (tmp_path / name).mkdir()
    (tmp_path / "ledgerline-20200101-000000").write_text("a file")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (tmp_path / "ledgerline-20200101-000001").symlink_to(elsewhere)
    before = set(copies(tmp_path))
    assert manage(site, "backup", str(tmp_path), "--keep-old").returncode == 0
    assert all((tmp_path / name).exists() for name in names)
    # a copy is named by its second, and a quick machine makes both copies within one
    [made] = set(copies(tmp_path)) - before
    made.rename(tmp_path / "made")
    done = manage(site, "backup", str(tmp_path), BACKUP_DAYS="30")
    assert "Older than 30 days and removed: 2." in done.stdout
    assert [(tmp_path / name).exists() for name in names] == [True, False, False]
    for name in ("ledgerline-2020", "other", "ledgerline-20209999-999999", "ledgerline-20200101-000000", "elsewhere"):
        assert (tmp_path / name).exists(), name


@pytest.mark.parametrize("days", ["0", "-1", "1.5", "a month", "99999999999"])
@pytest.mark.long
def test_days_that_would_remove_every_copy_stop_the_start(site, tmp_path, days):
    done = manage(site, "backup", str(tmp_path), BACKUP_DAYS=days)
    assert done.returncode != 0
    assert f"BACKUP_DAYS is {days!r}: write a whole number from 1" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_the_copy_just_made_is_never_an_old_one(tmp_path):
    """Whatever the clock or the setting says."""
    from studio.management.commands.backup import Command

    new, old = (tmp_path / f"ledgerline-20261125-00000{second}" for second in (1, 0))
    new.mkdir()
    old.mkdir()
    assert Command().remove_old(new, dt.datetime(2100, 1, 1, tzinfo=dt.UTC)) == 1
    assert copies(tmp_path) == [new]


def test_it_writes_over_nothing(tmp_path, monkeypatch):
    from django.core.management import CommandError, call_command

    from studio.management.commands import backup

    monkeypatch.setattr(backup, "NAME", "ledgerline-20261125-000000")
    there = tmp_path / "ledgerline-20261125-000000"
    there.mkdir()
    (there / "secret-key").write_text("older")
    with pytest.raises(CommandError, match=r"there already|not SQLite"):
        call_command("backup", str(tmp_path))
    assert (there / "secret-key").read_text() == "older"


@pytest.mark.long
def test_half_a_copy_is_removed(site, tmp_path):
    (tmp_path / "file").write_text("")
    done = manage(site, "backup", str(tmp_path / "file"))
    assert done.returncode != 0
    assert "cannot be made" in done.stderr
    assert "Traceback" not in done.stderr
    state = tmp_path / "state"
    state.mkdir()
    done = manage(state, "backup", str(tmp_path / "copies"), SECRET_KEY="k" * 60)
    # an empty database is copied; the key is the environment's and is said to be missing
    assert "keep it with the copy" in done.stdout


@pytest.mark.long
def test_another_database_names_its_own_tool(site, tmp_path):
    pytest.importorskip("psycopg", reason="PostgreSQL's driver comes with '.[postgres]', as .ci/run installs it")
    done = manage(site, "backup", str(tmp_path), DATABASE_URL="postgres://nobody@localhost/nothing")
    assert done.returncode != 0
    assert "pg_dump" in done.stderr
    assert list(tmp_path.iterdir()) == []
