"""A scene for two processes: two accepted quotes that are both cut from the one kept offcut.

    python -m tests.jobs.work.last_offcut furnish
    python -m tests.jobs.work.last_offcut book JOB     prints "booked" or the refusal
"""

from __future__ import annotations

import sys


def furnish() -> None:
    from decimal import Decimal

    from jobs.quotes.quoting import decide, save_quote
    from studio.stockroom.offcuts.kept import keep_offcut
    from tests import builders

    owner = builders.person("maud", "owner")
    builders.house()
    builders.rates()
    workshop = builders.Workshop(owner)
    keep_offcut(key=builders.key(), by=owner, material=workshop.glass, width_mm=Decimal(700), height_mm=Decimal(1000))
    jobs = []
    for _ in range(2):
        order = workshop.order(workshop.line(quantity=1, route="offcut", own_panes_to_start=1))
        decide(quote=save_quote(order=order, by=owner, form_key=builders.key()), accepted=True)
        jobs.append(order.job.pk)
    print(*jobs)


def book(job_pk: int) -> None:
    from jobs.models import Job
    from jobs.work.booking import book_job
    from studio.house.models import Person
    from studio.kit.errors import DaybookError

    print("ready", flush=True)
    sys.stdin.readline()  # both start together
    try:
        book_job(job=Job.objects.get(pk=job_pk), by=Person.objects.get(), sample_approved=True, deposit_noted=True,
                 waived_because="", due_on=None)
        print("booked")
    except DaybookError as refusal:
        print(refusal)


if __name__ == "__main__":
    import django

    django.setup()
    if sys.argv[1] == "furnish":
        furnish()
    else:
        book(int(sys.argv[2]))
