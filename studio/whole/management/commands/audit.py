"""Recompute the ledger and the rules, and print what does not tie: `manage.py audit`."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.whole.audit import audit


class Command(BaseCommand):
    help = "Recompute the ledger and the rules, and print what does not tie."

    def handle(self, *args: Any, **options: Any) -> None:
        found = audit()
        for sentence in found:
            self.stdout.write(sentence)
        if found:
            raise CommandError(f"{len(found)} things do not tie.")
        self.stdout.write("Everything ties.")
