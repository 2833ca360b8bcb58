"""A copy of the database and the secret key, made while the site runs."""

import datetime as dt
import os
import re
import shutil
import sqlite3
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

NAME = "ledgerline-{:%Y%m%d-%H%M%S}"
OURS = re.compile(r"ledgerline-(\d{8}-\d{6})")
DATABASE, KEY = "ledgerline.sqlite3", "secret-key"


class Command(BaseCommand):
    help = (
        "Copies the SQLite database, while the site runs, and the secret key into a new folder below PATH, named for "
        "the time; never writes over anything. Copies of this name that are older than BACKUP_DAYS are then removed, "
        "since the pages about erasing promise it. PostgreSQL has pg_dump."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("path", help="the folder of the copies, best on another disk")
        parser.add_argument("--keep-old", action="store_true", help="leave older copies; then remove them yourself")

    def handle(self, *args: Any, path: str, keep_old: bool, **options: Any) -> None:
        if connection.vendor != "sqlite":
            raise CommandError("This database is not SQLite: use its own tool, for PostgreSQL pg_dump (docs/data.md).")
        now = dt.datetime.now(dt.UTC)
        folder = Path(path).absolute() / NAME.format(now)
        try:
            folder.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            if folder.exists():
                raise CommandError(f"{folder} is there already; nothing was written.")
            folder.mkdir(mode=0o700)
        except OSError as error:
            raise CommandError(f"{folder} cannot be made: {error.strerror}.") from None
        try:
            self.copy_database(folder / DATABASE)
            kept = self.copy_key(folder / KEY)
        except (sqlite3.Error, OSError) as error:
            # half a copy is worse than none: somebody would trust it
            shutil.rmtree(folder, ignore_errors=True)
            raise CommandError(f"The copy failed and was removed: {error}") from error
        self.stdout.write(f"{folder}: the database{' and the secret key' if kept else ''}.")
        if not kept:
            self.stdout.write("The secret key comes from the environment: keep it with the copy, or no link works.")
        if not keep_old:
            removed = self.remove_old(folder, now - dt.timedelta(days=settings.BACKUP_DAYS))
            if removed:
                self.stdout.write(f"Older than {settings.BACKUP_DAYS} days and removed: {removed}.")

    def copy_database(self, target: Path) -> None:
        """Uses SQLite's online backup (a whole copy of one instant), then asks the copy whether it is sound."""
        os.close(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
        connection.ensure_connection()
        copy = sqlite3.connect(target)
        try:
            connection.connection.backup(copy)
            # one plain file, without the journal that the copied settings ask for
            copy.execute("PRAGMA journal_mode=DELETE")
            [sound] = copy.execute("PRAGMA integrity_check").fetchone()
        finally:
            copy.close()
        if sound != "ok":
            raise sqlite3.DatabaseError(f"integrity check: {sound}")

    def copy_key(self, target: Path) -> bool:
        """Copies the key file; False where the key comes from the environment."""
        if settings.SECRET_KEY_GIVEN:
            return False
        handle = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write((settings.STATE_DIR / KEY).read_bytes())
        return True

    def remove_old(self, new: Path, before: dt.datetime) -> int:
        """Removes copies of this command made before an instant that lie beside the new one; touches nothing of another
        name, and never the new one."""
        removed = 0
        for folder in new.parent.iterdir():
            found = OURS.fullmatch(folder.name)
            if not found or folder == new or folder.is_symlink() or not folder.is_dir():
                continue
            try:
                made = dt.datetime.strptime(found[1], "%Y%m%d-%H%M%S").replace(tzinfo=dt.UTC)
            except ValueError:
                continue
            if made < before:
                shutil.rmtree(folder)
                removed += 1
        return removed
