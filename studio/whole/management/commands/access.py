"""Print every address and who may see it; fail when one declares nobody: `manage.py access`."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio.kit.access import every_address


class Command(BaseCommand):
    help = "Print every address by role; exit with 1 when one declares none."

    def handle(self, *args: Any, **options: Any) -> None:
        undeclared = 0
        for address, name, who in every_address():
            undeclared += not who
            self.stdout.write(f"{who or 'NOBODY DECLARED':<19} {address:<44} {name}")
        if undeclared:
            raise CommandError(f"{undeclared} addresses declare nobody who may see them.")
