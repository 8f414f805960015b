"""Make the studio's first owner by a prompt: `manage.py first_owner`. The browser does the same at /first-owner/."""

from getpass import getpass
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.house.models import House, Person


class Command(BaseCommand):
    help = "Make the studio's first owner."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--if-empty", action="store_true", help="say where to go in the browser, and do nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["if_empty"]:
            if not Person.objects.exists():
                self.stdout.write("Nobody works here yet: open /first-owner/ in the browser and make the owner.")
            return
        if Person.objects.exists():
            raise CommandError("Somebody works here already: the owner lets others in under People.")
        name, password = input("Log-in name: ").strip(), getpass("Password: ")
        person = Person(username=name, role=Person.Role.OWNER)
        try:
            validate_password(password, person)
        except ValidationError as weak:
            raise CommandError(" ".join(weak.messages)) from weak
        person.set_password(password)
        person.full_clean()
        person.save()
        House.objects.get_or_create(id=1, defaults={"name": "The studio"})
        self.stdout.write(f"{name} is the owner. Enter the studio settings, rates and edges in the browser.")
