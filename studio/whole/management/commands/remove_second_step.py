"""Let a password alone log somebody in: `manage.py remove_second_step NAME`, for an owner who lost device and codes."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.house.models import Person
from studio.house.second_step import remove


class Command(BaseCommand):
    help = "Remove the second step of somebody who lost the device and the recovery codes."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="the log-in name")

    def handle(self, *args: Any, name: str, **options: Any) -> None:
        person = Person.objects.filter(username__iexact=name).first()
        if person is None:
            raise CommandError(f"Nobody logs in as {name}.")
        remove(person, by=person, by_program=True)
        self.stdout.write(f"{person.username} logs in with the password alone.")
