"""A scene for many processes: everybody takes from one small shelf at once, in every way there is.

    python -m tests.stockroom.crowd furnish
    python -m tests.stockroom.crowd work NUMBER     takes, makes up, discards and counts; prints how often it was refused
"""

from __future__ import annotations

import sys

ROUNDS = 6


def furnish() -> None:
    from decimal import Decimal

    from tests import builders

    owner = builders.person("maud", "owner")
    builders.house()
    builders.rates()
    salt, water = builders.material("Salt"), builders.material("Water", "mL")
    for number in range(3):
        builders.lot(salt, "400", owner, f"S{number}", cost=str(Decimal(number + 1)))
        builders.lot(water, "4000", owner, f"W{number}", cost=str(Decimal(number + 2)))
    builders.solution("Brine", {"material": salt, "amount": 100, "unit": "g"}, {"material": water})
    print("furnished")


def work(worker: int) -> None:
    from decimal import Decimal
    from fractions import Fraction
    from uuid import NAMESPACE_URL, uuid5

    from recipes.models import SolutionVersion
    from recipes.solutions.mixing_ahead import mix_ahead
    from studio.house.clock import today
    from studio.house.models import Person
    from studio.kit.errors import DaybookError
    from studio.stockroom.counts.counting import post_count, record_counts, start_count
    from studio.stockroom.ledger import Used, use_up
    from studio.stockroom.lots.keeping import discard
    from studio.stockroom.models import Lot, Material

    owner, brine = Person.objects.get(), SolutionVersion.objects.select_related("solution").get()
    salt = Material.objects.get(name="Salt")
    print("ready", flush=True)
    sys.stdin.readline()
    refused = 0
    for at in range(ROUNDS):
        key = uuid5(NAMESPACE_URL, f"crowd/{worker}/{at}")
        deeds = (
            lambda key=key: mix_ahead(key=key, by=owner, version=brine, volume_ml=Fraction(1000), day=today()),
            lambda key=key: use_up(key=key, by=owner, used=[Used(material=salt, amount=Decimal(45))], day=today(), why="bench"),
            lambda key=key: discard(key=key, lot=Lot.objects.select_related("material").get(lot_number="S1"), by=owner,
                                    amount=Decimal(30), why="spilt"),
        )
        for number, deed in enumerate(deeds):
            try:
                deed() if number == (at + worker) % 3 else None
            except DaybookError:
                refused += 1
        if at == 3:
            sheet = start_count(key=uuid5(key, "count"), by=owner, place="", hide_expected=True)
            record_counts(sheet, {line.pk: line.expected for line in sheet.lines.all()})
            post_count(sheet, owner)
    print(f"refused {refused}")


if __name__ == "__main__":
    import django

    django.setup()
    furnish() if sys.argv[1] == "furnish" else work(int(sys.argv[2]))
