"""Work the week out for longer: `manage.py plan_week`; at night, from a timer of the computer's own."""

from typing import Any

from django.core.management.base import BaseCommand

from jobs.week.kept import standing_plan
from jobs.week.offers import offer_beside, search_longer


class Command(BaseCommand):
    help = ("Look for a better plan of the week. One that is better than the plan that stands is offered on the week's "
            "page, to take or to leave, while nothing it rests on changes.")

    def handle(self, *args: Any, **options: Any) -> None:
        before = standing_plan()
        offer = offer_beside(before) if search_longer() is not None else None
        if offer is None:
            self.stdout.write(f"The plan stands as it is: {len(before.plan.jobs)} jobs, {before.value.late} days late.")
            return
        self.stdout.write(f"A better plan is offered on the week's page: {offer.in_words}.")
