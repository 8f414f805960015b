"""Print an estimate as JSON for an order against this studio: `manage.py estimate ORDER.json`."""

import json
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from jobs.estimating.output import as_output
from jobs.estimating.price_contents import price_contents
from jobs.quotes.pricing import price_order
from studio.kit.errors import DaybookError
from studio.whole.book.orders import read_order


class Command(BaseCommand):
    help = "Print an estimate as JSON for an order against this studio."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            draft, as_of = read_order(options["file"])
            estimate = price_order(draft, as_of)
        except DaybookError as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(json.dumps(as_output(estimate, price_contents(estimate)), indent=1, ensure_ascii=False))
