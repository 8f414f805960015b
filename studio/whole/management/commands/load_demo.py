"""Load the demo's book as of today, once, into the demo's own folder: `manage.py load_demo`."""

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio.house.clock import now
from studio.whole.book.load import load_file, studio_is_empty

BOOK = Path(__file__).resolve().parents[2] / "demo" / "book.json"


class Command(BaseCommand):
    help = "Load the demo's book as of today into the demo's own folder, unless it is there already."

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.DATA.name != ".daybook-demo":
            raise CommandError("The demo is only loaded into a data folder called .daybook-demo.")
        if studio_is_empty():
            load_file(BOOK, now().date())
            self.stdout.write("The demo studio is loaded.")
        else:
            self.stdout.write("The demo studio is there already: it is left as it is.")
