"""Load a whole studio from a book into an empty database: `manage.py load_book FILE [--today DATE]`."""

from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.kit.errors import DaybookError
from studio.whole.book.load import load_file
from studio.whole.book.unusual import unusual


class Command(BaseCommand):
    help = "Load a whole studio from a book into an empty database."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--today", type=date.fromisoformat, help="move the book's dates: written on this day")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            load_file(options["file"], options["today"])
        except DaybookError as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"Loaded {options['file'].name}.")
        if found := unusual():
            self.stdout.write("Unusual, and taken as it stands in the book:")
        for sentence in found:
            self.stdout.write(f"  {sentence}")
