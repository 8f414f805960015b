"""A scene for several processes: jobs whose money is asked for at the same moment.

    python -m tests.jobs.money.next_number furnish
    python -m tests.jobs.money.next_number ask JOB     prints the request, or the refusal
"""

from __future__ import annotations

import sys

#: so many ask at once
AT_ONCE = 4


def furnish() -> None:
    from tests import builders

    owner = builders.person("maud", "owner")
    builders.house(request_prefix="R-", request_first_number=41)
    builders.rates()
    workshop = builders.Workshop(owner)
    print(*(workshop.booked(workshop.line(f"{300 + at} x 400 mm", 1)).number for at in range(AT_ONCE)))


def ask(number: int) -> None:
    from jobs.models import Job
    from jobs.money.requests import ask_balance
    from studio.house.models import Person
    from studio.kit.errors import DaybookError
    from tests import builders

    job = Job.objects.get(number=number)
    key = [builders.key() for _ in range(1000 + number)][-1]  # each process its own
    print("ready", flush=True)
    sys.stdin.readline()  # all start together
    try:
        print(ask_balance(job=job, by=Person.objects.get(), key=key))
    except DaybookError as refusal:
        print(refusal)


if __name__ == "__main__":
    import django

    django.setup()
    if sys.argv[1] == "furnish":
        furnish()
    else:
        ask(int(sys.argv[2]))
