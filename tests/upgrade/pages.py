"""What an upgraded studio's pages and papers answer, for owner and helper: `python -m tests.upgrade.pages`."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator

import django


def addresses() -> Iterator[str]:
    from jobs.models import Job, Quote, Run, WorkTicket
    from recipes.models import RecipeVersion, Trial

    yield from ("/", "/jobs/", "/bench/", "/finishes/", "/stockroom/", "/stockroom/buying/", "/swatch-book/")
    for job in Job.objects.all():
        yield from (f"/jobs/{job.number}/", f"/jobs/{job.number}/silver/", f"/jobs/{job.number}/trace/")
    yield from (f"/quotes/{quote.pk}/paper.pdf" for quote in Quote.objects.all())
    yield from (f"/tickets/{ticket.pk}/paper.pdf" for ticket in WorkTicket.objects.all())
    yield from (f"/bench/{run.pk}/" for run in Run.objects.all())
    yield from (f"/finishes/trials/{trial.number}/" for trial in Trial.objects.all())
    for version in RecipeVersion.objects.select_related("finish"):
        page = f"/finishes/{version.finish.code}/{version.number}/"
        yield from (page, f"{page}bigger/", f"{page}silver/", f"{page}used/")


def answers() -> dict[str, int]:
    """Return the status of every address, under who asked."""
    from django.test import Client

    from studio.house.models import Person

    found = {}
    for role in ("owner", "helper"):
        client = Client(raise_request_exception=False)
        client.force_login(Person.objects.filter(role=role).order_by("pk").first())
        found |= {f"{role} {address}": client.get(address, HTTP_HOST="127.0.0.1").status_code for address in addresses()}
    return found


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
    django.setup()
    print(json.dumps(answers()))
