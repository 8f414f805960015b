"""Print the JSON Schema of book, order and estimate: `manage.py book_schema`."""

import json
from typing import Any

from django.core.management.base import BaseCommand

from studio.whole.book.schema import book_schema


class Command(BaseCommand):
    help = "Print the JSON Schema of book, order and estimate."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(json.dumps(book_schema(), indent=1, ensure_ascii=False))
