"""Recompute the ledger and the rules, and print what does not tie and what is in doubt: `manage.py audit [--all]`.

Quotes, and runs and trials that ended, which a pass of this program looked at and found well, and which nobody can
change, are reckoned again with --all, and once a month. It fails on what does not tie; known doubts are told.
"""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.formats import date_format
from django.utils.timezone import localtime

from studio.whole.audit import audit_and_note
from studio.whole.known_doubts import known_doubts


class Command(BaseCommand):
    help = "Recompute the ledger and the rules, and print what does not tie."

    def _say(self, done: int, of: int, what: str) -> None:
        """Say on a terminal what is looked at; kept output holds what was found alone."""
        if self.stderr.isatty():
            self.stderr.write(f"{done + 1} of {of}: {what}")

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--all", action="store_true", help="reckon again what was looked at and never changes, too")

    def handle(self, *args: Any, **options: Any) -> None:
        found, since = audit_and_note(self._say, everything=options["all"])
        if since.everything_at is not None:
            when = date_format(localtime(since.everything_at), "j M Y, H:i")
            self.stdout.write(f"Everything was looked at on {when}: quotes, ended runs and trials of before tied then.")
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
