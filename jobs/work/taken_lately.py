"""What the bench recorded as taken from the stockroom and the ledger takes only when the run is finished.

For counting: a jar that is counted after its mix was made, and before its run is finished, has given that mix already.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import datetime
from decimal import Decimal

from django.db.models import Q

from jobs.models import Run, RunEntry
from jobs.work.entries import Entries
from jobs.work.ticketing import plan_of
from studio.exact import STOCK_DECIMALS
from studio.kit.asking import among
from studio.kit.rounding import as_decimal
from studio.stockroom.counts.counting import Taken
from studio.stockroom.models import Lot

Kind = RunEntry.Kind


def taken_on_the_bench(lots: Collection[int], since: datetime) -> Iterator[Taken]:
    """Yield what runs took of these lots that the ledger had not taken at a moment. A fixed number of queries.

    Of what was recorded without its lot it is known only where its material stands in one lot.
    """
    materials = {lot.material_id for lot in among(Lot.objects.only("material_id"), "pk", lots)}
    rows = [(lot.pk, lot.material.code, lot.lot_number, lot.level.on_hand) for lot in among(
        Lot.objects.select_related("material", "level"), "material_id", materials)]
    named = {(code, number): pk for pk, code, number, _ in rows}
    standing: dict[str, list[int]] = {}
    for pk, code, _, on_hand in rows:
        if on_hand > 0:
            standing.setdefault(code, []).append(pk)
    only = {code: pks[0] for code, pks in standing.items() if len(pks) == 1}
    runs = Run.objects.filter(Q(posting=None) | Q(posting__at__gt=since)).select_related(
        "ticket__job__quote", "posting")
    mine: dict[int, list[RunEntry]] = {}
    kinds = [Kind.MIXED, Kind.GLASS, Kind.UNDONE]
    for entry in RunEntry.objects.filter(run__in=runs, kind__in=kinds).order_by("pk"):
        mine.setdefault(entry.run_id, []).append(entry)
    for run in runs:
        posted_at = run.posting.at if run.posting is not None else None
        entries = Entries(mine.get(run.pk, ()))
        newest: dict[tuple[str, str], RunEntry] = {
            (str(kind), subject): last for kind in (Kind.MIXED, Kind.GLASS) for subject in entries.subjects(kind)
            if (last := entries.newest(kind, subject)) is not None
        }
        for lot, amount, at in _taken(run, newest, named, only):
            if lot in lots and amount > 0:
                yield Taken(lot_id=lot, amount=amount, at=at, posted_at=posted_at)


def _taken(
    run: Run, newest: dict[tuple[str, str], RunEntry], named: dict[tuple[str, str], int], only: dict[str, int],
) -> Iterator[tuple[int, Decimal, datetime]]:
    """Yield each amount of a run that is known to have come from a lot: its id, the amount, and when."""
    mixes = {mix.key: mix for mix in plan_of(run.ticket).mixes} if newest else {}
    for (kind, subject), entry in newest.items():
        content, at, mix = entry.content, entry.device_at or entry.at, mixes.get(subject.partition("-")[0])
        if kind == Kind.GLASS:
            if subject in only:
                yield only[subject], Decimal(content["sheets"]), at
        elif content.get("lot") is not None and mix is not None:
            yield content["lot"], as_decimal(mix.volume_ml, STOCK_DECIMALS), at
        elif content["made"] and mix is not None:
            for row in mix.ingredients:
                lots = content.get("lots", {}).get(str(row.number), [])
                whole = Decimal(content["amounts"].get(str(row.number), row.amount))
                for lot, amount in lots:
                    if (row.code, lot) in named:
                        yield named[row.code, lot], Decimal(amount), at
                unsaid = whole - sum((Decimal(amount) for _, amount in lots), Decimal(0))
                if row.code in only and unsaid > 0:
                    yield only[row.code], unsaid, at
