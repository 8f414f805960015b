"""What finishing a run deducts from which lot, as it is shown before it does."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from jobs.models import Run
from jobs.work.bench import BenchError, BenchState, bench_state, taken_from_lots, used_amounts, used_of_lots
from studio.house.clock import today
from studio.house.models import Person
from studio.kit.roles import May
from studio.stockroom.ledger import NotEnough, Taking, Used, takings_of
from studio.stockroom.models import Lot, Material


class ShownAnew(BenchError):
    """What would be deducted is no longer what was shown."""


def used_on(
    state: BenchState, used: Mapping[str, Decimal], chosen: Mapping[int, int] | None = None, chosen_because: str = "",
) -> list[Used]:
    """Return the amounts of a run with the lots they come from, in stock units.

    used: by material code. chosen: the lot taken from first, by material id. What was recorded as taken from a lot is
    taken from that one; the rest from the first to expire. Raises BenchError for a lot that is not there.
    """
    materials = {row.code: row for row in Material.objects.filter(code__in=used).order_by("pk")}
    made, chosen = taken_from_lots(state), chosen or {}
    by_lot = {(code, lot): amount for (code, lot), amount in used_of_lots(state).items() if code in used}
    rest = {code: used[code] - sum((amount for (of, _), amount in by_lot.items() if of == code), Decimal(0))
            for code in materials}
    recorded = _lots_named(by_lot)
    return [
        *(Used(material=materials[code], amount=amount, first_lot=recorded[code, lot], alone=True)
          for (code, lot), amount in by_lot.items()),
        *(Used(material=material, amount=rest[code], first_lot=chosen.get(material.pk),
               note=chosen_because[:200] if material.pk in chosen else "")
          for code, material in materials.items() if rest[code] > 0),
        *(Used(material=lot.material, amount=made[lot.pk], first_lot=lot.pk, alone=True)
          for lot in Lot.objects.filter(pk__in=made).select_related("material").order_by("pk")),
    ]


def _lots_named(by_lot: Collection[tuple[str, str]]) -> dict[tuple[str, str], int]:
    """Return the id of each lot named by material code and lot number. Raises BenchError for one that is not there."""
    named = Lot.objects.filter(material__code__in={code for code, _ in by_lot},
                               lot_number__in={lot for _, lot in by_lot})
    found = {(code, number): pk for pk, code, number in named.values_list("pk", "material__code", "lot_number")}
    missing = ", ".join(lot for code, lot in by_lot if (code, lot) not in found)
    if missing:
        raise BenchError(f"There is no lot of that number: {missing}. Record the mix again, with its lot.", "mixes")
    return found


def mark_of(movements: Iterable[tuple[int, Decimal]]) -> str:
    """Return a mark of what is deducted: lot ids with signed amounts, in any order."""
    lines = sorted(f"{lot}:{amount:.3f}" for lot, amount in movements)
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:24]


@dataclass(frozen=True, kw_only=True)
class Shown:
    """An amount that one lot gives, in its stock unit, and why it is that lot."""

    taking: Taking
    how: str


@dataclass(frozen=True, kw_only=True)
class Deduction:
    """What finishing a run deducts now. short: a sentence for each amount that the lots cannot give."""

    rows: list[Shown]
    short: list[NotEnough]
    unsaid_glass: list[str]

    @property
    def mark(self) -> str:
        return mark_of((row.taking.lot.pk, -row.taking.amount) for row in self.rows)

    @property
    def kept_back(self) -> list[Shown]:
        """Return what comes from held and expired lots, which the owner has to say why."""
        return [row for row in self.rows if row.taking.kept_back]


def deduction_of(run: Run, by: Person, chosen: Mapping[int, int] | None = None) -> Deduction:
    """Return what finishing would deduct, by whoever asks: only for the owner from held and expired lots too."""
    state = bench_state(run)
    made, chosen, day = taken_from_lots(state), chosen or {}, today()
    used = used_on(state, used_amounts(state), chosen)
    takings, short = takings_of(used, day)
    if short and by.may(May.OVERRULE):
        takings, short = takings_of(used, day, kept_back_too=True)

    def how(taking: Taking) -> str:
        if taking.lot.pk in made and taking.used.alone:
            return "mixed ahead, recorded at the mix"
        if taking.used.alone:
            return "recorded at the mix"
        return "chosen here" if chosen.get(taking.used.material.pk) == taking.lot.pk else "the first to expire"

    return Deduction(
        rows=[Shown(taking=taking, how=how(taking)) for taking in takings], short=short,
        unsaid_glass=[glass.name for glass in state.plan.glass
                      if glass.code not in state.cut and state.sheets[glass.code] > 0],
    )


def other_lots(run: Run) -> list[tuple[Material, list[Lot]]]:
    """Return the materials of which an amount is recorded without its lot, and which stand in several usable lots."""
    state, day = bench_state(run), today()
    wanted = [row.material.pk for row in used_on(state, used_amounts(state)) if not row.alone]
    rows = Lot.objects.filter(material__in=wanted, level__on_hand__gt=0).exclude(state=Lot.State.HELD)
    lots: dict[Material, list[Lot]] = {}
    for lot in rows.select_related("material", "level").order_by("material__name", "received_on", "pk"):
        if lot.expires_on is None or lot.expires_on >= day:
            lots.setdefault(lot.material, []).append(lot)
    return [(material, mine) for material, mine in lots.items() if len(mine) > 1]
