"""Recompute the ledger and the rules, and print what does not tie and what is in doubt: `manage.py audit`.

It fails on what does not tie; known doubts are told.
"""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.whole.audit import audit
from studio.whole.known_doubts import known_doubts


class Command(BaseCommand):
    help = "Recompute the ledger and the rules, and print what does not tie."

    def _say(self, done: int, of: int, what: str) -> None:
        """Say on a terminal what is looked at; kept output holds what was found alone."""
        if self.stderr.isatty():
            self.stderr.write(f"{done + 1} of {of}: {what}")

    def handle(self, *args: Any, **options: Any) -> None:
        found = audit(self._say)
        for sentence in found:
            self.stdout.write(sentence)
        doubts = known_doubts()
        if doubts:
            self.stdout.write("Known doubts: nothing new is made of these until they are looked at.")
        for sentence in doubts:
            self.stdout.write(f"  {sentence}")
        if found:
            raise CommandError(f"{len(found)} things do not tie.")
        self.stdout.write("Everything ties.")
