"""Erases the records of students who left longer ago than their studio keeps them; says what would go without --yes."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from practice.erase import pack
from practice.retention import apply_beside, apply_to
from students.models import Studio


class Command(BaseCommand):
    help = (
        "Erases the records of students who were archived longer ago than their studio's retention, old failed "
        "sign-ins, ended sessions, seen wishes for a word and counters of tries. Says only what would go unless --yes "
        "is given. Prints counts and no names; may be run every night, and on several machines."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--yes", action="store_true", help="erase; without it nothing is changed")
        parser.add_argument("--dry-run", action="store_true", help="change nothing (as without --yes), and win over it")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        dry = options["dry_run"] or not options["yes"]
        if dry:
            self.stdout.write("Nothing is changed: this is what --yes would do.")
        for number, studio in enumerate(Studio.objects.order_by("pk"), 1):
            found = apply_to(studio, now, dry)
            # by its place, not its name: a log may lie where names should not
            line = f"studio {number}: {studio.retention_months} months; students: {found.students}"
            if not dry:
                line += f", rows: {found.rows}"
            if found.dated:
                line += f"; archived without a day, counted from today: {found.dated}"
            self.stdout.write(line)
        beside = apply_beside(now, dry)
        self.stdout.write("; ".join(f"{what}: {count}" for what, count in sorted(beside.items())))
        if not dry:
            # also when nothing went now: an erasure of the day may have left it to this night
            pack()
