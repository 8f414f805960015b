"""Write every paper of every job into a folder: `manage.py save_papers FOLDER`."""

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from jobs.desk.all_papers import all_papers
from studio.house.models import Person
from studio.kit.errors import DaybookError
from studio.kit.roles import OWNER


class Command(BaseCommand):
    help = "Write kept quotes and tickets, and a fresh ticket of every booked job, as PDF files. Nothing is recorded."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        owner = Person.objects.filter(role=OWNER, is_active=True).order_by("pk").first()
        if owner is None:
            raise CommandError("This studio has no owner yet.")
        folder: Path = options["folder"]
        folder.mkdir(parents=True, exist_ok=True)
        written = 0
        try:
            for name, content in all_papers(owner):
                (folder / name).write_bytes(content)
                written += 1
        except DaybookError as refusal:
            raise CommandError(f"{refusal} {written} papers were written before.") from refusal
        self.stdout.write(f"{written} papers.")
