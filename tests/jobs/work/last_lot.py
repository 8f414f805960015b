"""A scene for two processes: two runs that both need the same last lot of silver.

    python -m tests.jobs.work.last_lot furnish
    python -m tests.jobs.work.last_lot finish RUN     prints "finished" or the refusal
"""

from __future__ import annotations

import sys


def furnish() -> None:
    """Two runs, worked and ready to finish, on a shelf that holds silver for one."""
    from decimal import Decimal

    from jobs.work.bench import bench_state
    from studio.stockroom.ledger import Movement, post
    from studio.stockroom.models import LotLevel
    from tests import builders

    owner = builders.person("maud", "owner")
    builders.house()
    builders.rates()
    workshop = builders.Workshop(owner)
    first, second = (builders.worked(workshop.run(), owner) for _ in range(2))
    needed = sum(ingredient.amount for mix in bench_state(first).mixes for ingredient in mix.mix.ingredients
                 if ingredient.code == "silver-nitrate")
    left = LotLevel.objects.get(lot=workshop.silver_lot).on_hand
    post(key=builders.key(), kind="discard", by=owner, movements=[Movement(
        lot=workshop.silver_lot, kind="discard", quantity=needed * Decimal("1.5") - left,
        unit_cost=workshop.silver_lot.unit_cost)])
    print(first.pk, second.pk)


def finish(run_pk: int) -> None:
    from jobs.models import Run
    from jobs.work.finishing import finish_run
    from studio.house.models import Person
    from studio.kit.errors import DaybookError

    print("ready", flush=True)
    sys.stdin.readline()  # both start together
    try:
        finish_run(run=Run.objects.get(pk=run_pk), by=Person.objects.get())
        print("finished")
    except DaybookError as refusal:
        print(refusal)


if __name__ == "__main__":
    import django

    django.setup()
    if sys.argv[1] == "furnish":
        furnish()
    else:
        finish(int(sys.argv[2]))
