"""Make the studio's first owner by a prompt: `manage.py first_owner`. The browser does the same at /first-owner/."""

from getpass import getpass
from typing import Any

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from studio.house import begun
from studio.house.models import House, Person
from studio.house.passwords import HELP
from studio.kit import data_folder
from studio.kit.roles import OWNER


class Command(BaseCommand):
    help = "Make the studio's first owner."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--if-empty", action="store_true",
                            help="print where the owner is made in the browser, and its secret; make nobody")
        parser.add_argument("--begin-another", action="store_true",
                            help="begin another studio where one was whose database is missing or empty")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["begin_another"]:
            self._begin_another()
            return
        if begun.is_lost():
            raise CommandError(f"{begun.LOST.title}. {begun.LOST.sentence}")
        if Person.objects.exists():
            begun.note_begun()
            if options["if_empty"]:
                return
            raise CommandError(begun.BEGUN)
        if options["if_empty"]:
            self.stdout.write(f"Nobody works here yet. Open {settings.PUBLIC_URL}/first-owner/ in the browser and make "
                              "the owner. It asks for this secret, which is printed this once:\n\n"
                              f"    {begun.new_secret()}\n")
            return
        self._ask()

    def _begin_another(self) -> None:
        if not begun.is_lost():
            raise CommandError("No studio was lost from this data folder.")
        data_folder.unmark(begun.folder())
        self.stdout.write("Another studio may begin here: start the daybook again.")

    def _ask(self) -> None:
        self.stdout.write(f"The password has {HELP}")
        name, password = input("Log-in name: ").strip(), getpass("Password: ")
        person = Person(username=name, role=OWNER)
        try:
            validate_password(password, person)
        except ValidationError as weak:
            raise CommandError(" ".join(weak.messages)) from weak
        person.set_password(password)
        person.full_clean()
        try:
            with begun.the_first():
                person.save()
                House.objects.get_or_create(id=1, defaults={"name": "The studio"})
        except begun.AlreadyBegun as already:
            raise CommandError(str(already)) from already
        self.stdout.write(f"{name} is the owner. Enter the studio settings, rates and edges in the browser.")
