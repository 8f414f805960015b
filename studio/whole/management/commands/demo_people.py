"""Give the demo's people passwords anyone may know: `manage.py demo_people`. Refused outside the demo's folder."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from studio.house.models import Person
from studio.whole.demo import PASSWORDS


class Command(BaseCommand):
    help = "Give the demo's people their known passwords; refused outside the demo's folder."

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.DATA.name != ".daybook-demo":
            raise CommandError("These passwords are known to everybody: they are for the demo's folder alone.")
        for name, password in PASSWORDS.items():
            person = Person.objects.get(username=name)
            person.set_password(password)
            person.save(update_fields=["password"])
            self.stdout.write(f"  {person.role}: log in as {name}, password {password}")
