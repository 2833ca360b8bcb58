"""`manage.py hand_answers`: what is answered to whom, as a table in studio/docs that can be read aloud."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser
from django.utils import translation

from practice.answer_table import CASES, document

DOCUMENT = Path(settings.BASE_DIR) / "studio" / "docs" / "hand-answers.md"


class Command(BaseCommand):
    help = "Writes the hand's answers, invented notes of every kind with what each reader is told, into studio/docs."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--to", default=str(DOCUMENT), help="the file to write")

    def handle(self, *args: Any, **options: Any) -> None:
        with translation.override(settings.LANGUAGE_CODE):
            Path(options["to"]).write_text(document(), encoding="utf-8")
        self.stdout.write(f"{len(CASES)} answers are written.")
