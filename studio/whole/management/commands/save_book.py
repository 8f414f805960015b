"""Save the whole studio as a book: `manage.py save_book FILE`."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.kit.errors import DaybookError
from studio.whole.book.save import save_book


class Command(BaseCommand):
    help = "Save the whole studio as a book, its files in a folder beside it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            save_book(options["file"])
        except DaybookError as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"Saved {options['file'].name}.")
