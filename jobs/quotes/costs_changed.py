"""What has changed since a quote in what its price was worked out from, and what that does to the price. Pure."""

from __future__ import annotations

from calendar import day_abbr
from collections.abc import Iterator
from dataclasses import dataclass, fields
from fractions import Fraction

from jobs.estimating.basis import Basis, GlassFacts, House
from jobs.estimating.estimate import Estimate
from jobs.estimating.spoilage import PanesPlanned
from recipes.facts import SolutionFacts
from studio.kit.rounding import decimal_string


@dataclass(frozen=True, kw_only=True)
class Change:
    """One change: what changed, its value in the quote, and its value today."""

    what: str
    before: str
    after: str


@dataclass(frozen=True, kw_only=True)
class CostChange:
    kind: str
    before: Fraction
    after: Fraction

    @property
    def difference(self) -> Fraction:
        return self.after - self.before


@dataclass(frozen=True, kw_only=True)
class CostsChanged:
    """What changed since a quote; `changes` is empty where nothing did. costs: by kind of cost."""

    changes: tuple[Change, ...]
    costs: tuple[CostChange, ...]
    net_before: Fraction
    net_after: Fraction

    @property
    def difference(self) -> Fraction:
        return self.net_after - self.net_before


_RATE_WORDS = {
    "tax_share": "tax", "helper_per_hour": "helper's hour", "owner_per_hour": "owner's hour",
    "overhead_per_bench_hour": "overhead per bench hour", "margin_share": "margin", "minimum_charge": "minimum charge",
    "price_step": "price rounded up to", "plan": "spoilage plan", "cover_share": "chance of enough good panes",
    "glass_loss_share": "glass lost in rework",
    "deposit_share": "deposit", "setup_minutes": "set-up minutes", "mixing_minutes_per_batch": "mixing minutes a batch",
    "cutting_minutes_per_pane": "cutting minutes a pane",
    "packing_minutes_per_pane": "packing minutes a pane", "largest_vessel_ml": "largest vessel",
    "increment_ml": "mixes rounded up to", "offcut_credit_share": "offcut credit", "trim_mm": "trim",
    "offcut_trim_mm": "trim of kept offcuts",
    "clearance_mm": "clearance", "smallest_offcut_mm": "smallest offcut kept", "smallest_strip_mm": "narrowest strip",
    "bench_width_mm": "bench width", "bench_height_mm": "bench height", "bench_usable_share": "bench usable share",
    "hands": "pairs of hands", "benches": "benches", "bench_day_minutes": "bench day, minutes",
    "cure_hours": "cure, hours", "two_person_kg": "lifting limit, kg", "crate_most_kg": "a packed crate at most, kg",
    "crate_kg": "an empty crate, kg", "usual_working_days": "usual working days after go-ahead, 0: as worked out",
    "working_days": "working days of the week", "minor_digits": "decimals of the currency",
}
#: What no figure of the estimate is worked out from.
NAMES_ALONE = {"currency", "tax_name", "balance_readability_g"}


def costs_changed(quoted: Estimate, now: Estimate) -> CostsChanged:
    """Compare a quote's estimate with today's of the same order."""
    return CostsChanged(
        changes=tuple(_changes(quoted, now)), costs=tuple(_costs(quoted, now)),
        net_before=quoted.price.net, net_after=now.price.net,
    )


def _changes(quoted: Estimate, now: Estimate) -> Iterator[Change]:
    before, after = quoted.basis, now.basis
    yield from _order(before, after)
    yield from _recipes(before, after)
    yield from _mixing(quoted, now)
    yield from _unit_costs(quoted, now)
    yield from _glass(before, after)
    yield from _house(before.house, after.house)
    yield from _edges(before, after)
    yield from _yields(quoted, now)


def _order(before: Basis, after: Basis) -> Iterator[Change]:
    if (before.lines, before.bought_in, before.discount) != (after.lines, after.bought_in, after.discount):
        def in_words(basis: Basis) -> str:
            panes = sum(line.quantity for line in basis.lines)
            counts = (("line", len(basis.lines)), ("pane", panes), ("bought-in item", len(basis.bought_in)))
            return ", ".join(f"{count} {what}{'' if count == 1 else 's'}" for what, count in counts)

        yield Change(what="the order itself", before=in_words(before), after=in_words(after))


def _recipes(before: Basis, after: Basis) -> Iterator[Change]:
    for key, recipe in before.recipes.items():
        other = after.recipes.get(key)
        if other is not None and other.steps != recipe.steps:
            yield Change(what=f"{recipe.finish}, version {recipe.version_number}: steps",
                        before="as calibrated then", after="as calibrated now")
        if other is not None and other.has_direction != recipe.has_direction:
            yield Change(what=f"panes of {recipe.finish} on the sheet", before=_turned(recipe.has_direction),
                        after=_turned(other.has_direction))


def _mixing(quoted: Estimate, now: Estimate) -> Iterator[Change]:
    """Yield what a solution of the order says for mixing a batch; the studio's own minutes stand among the rates."""
    for key in dict.fromkeys(mix.solution.key for mix in quoted.mixes):
        old, new = quoted.basis.shelf.solutions[key], now.basis.shelf.solutions.get(key)
        if new is not None and old.mixing_minutes != new.mixing_minutes:
            yield Change(what=f"mixing a batch of {old.name}", before=_a_batch(old), after=_a_batch(new))


def _a_batch(solution: SolutionFacts) -> str:
    minutes = solution.mixing_minutes
    return "as the studio's rates say" if minutes is None else f"{decimal_string(minutes, 2)} min"


def _unit_costs(quoted: Estimate, now: Estimate) -> Iterator[Change]:
    for key in quoted.amounts:
        old, new = quoted.basis.shelf.materials.get(key), now.basis.shelf.materials.get(key)
        if old is not None and new is not None and old.unit_cost != new.unit_cost:
            yield Change(
                what=f"{old.name}, a {old.stock_unit}", before=_cost(old.unit_cost, old.unit_cost_source),
                after=_cost(new.unit_cost, new.unit_cost_source),
            )


def _glass(before: Basis, after: Basis) -> Iterator[Change]:
    for key, glass in before.glasses.items():
        other = after.glasses.get(key)
        if other is not None and other.sheet_cost != glass.sheet_cost:
            yield Change(what=f"{glass.name}, a sheet", before=_cost(glass.sheet_cost, glass.sheet_cost_source),
                        after=_cost(other.sheet_cost, other.sheet_cost_source))
        if other is not None and _sheet(other) != _sheet(glass):
            yield Change(what=f"{glass.name}, sheet size", before=_sheet(glass), after=_sheet(other))
    if before.nesting != after.nesting:
        yield Change(what="how panes are laid on sheets", before=before.nesting, after=after.nesting)
    kept, free = ({offcut.number for glass in basis.glasses.values() for offcut in glass.offcuts}
                  for basis in (before, after))
    if kept != free:
        yield Change(what="kept offcuts free to use", before=str(len(kept)), after=str(len(free)))


def _house(before: House, after: House) -> Iterator[Change]:
    for rate in fields(House):
        old, new = getattr(before, rate.name), getattr(after, rate.name)
        if old != new and rate.name in _RATE_WORDS:
            yield Change(what=_RATE_WORDS[rate.name], before=_value(rate.name, old), after=_value(rate.name, new))


def _edges(before: Basis, after: Basis) -> Iterator[Change]:
    for name in dict.fromkeys(line.edge for line in before.lines):
        old, new = before.edges.get(name), after.edges.get(name)
        if old is None or new is None:
            continue
        if old.minutes_per_m != new.minutes_per_m:
            yield Change(what=f"a {name} edge", before=f"{decimal_string(old.minutes_per_m, 2)} min a metre",
                        after=f"{decimal_string(new.minutes_per_m, 2)} min a metre")
        if old.grinds_off_mm != new.grinds_off_mm:
            yield Change(what=f"a {name} edge grinds off", before=f"{decimal_string(old.grinds_off_mm, 2)} mm",
                        after=f"{decimal_string(new.grinds_off_mm, 2)} mm")


def _yields(quoted: Estimate, now: Estimate) -> Iterator[Change]:
    """Yield the yield that each line was planned by: its band of sizes alone, where that tells enough."""
    seen = set()
    for size in quoted.sizes:
        number, recipe = size.line.number, quoted.basis.recipes[size.line.recipe]
        old, new = quoted.panes[number], now.panes.get(number)
        same = any(line.number == number and line.recipe == recipe.key for line in now.basis.lines)
        if new is None or not same or old.yield_share == new.yield_share:
            continue
        change = Change(what=f"yield of {recipe.finish}", before=_planned_by(old), after=_planned_by(new))
        if change not in seen:
            seen.add(change)
            yield change


def _planned_by(plan: PanesPlanned) -> str:
    share = _percent(plan.yield_share)
    if plan.own_yield:
        return f"{share}, set by the owner"
    if plan.band is None:
        return f"{share}, of all sizes"
    over, up_to = plan.band.over_m2, plan.band.up_to_m2
    sizes = [f"over {decimal_string(over, 2)}"] if over else []
    sizes += [] if up_to is None else [f"up to {decimal_string(up_to, 2)}"]
    return f"{share}, of panes {' and '.join(sizes)} m²"


def _turned(has_direction: bool) -> str:
    return "keep their direction" if has_direction else "may be turned"


def _sheet(glass: GlassFacts) -> str:
    sides = [decimal_string(side or Fraction(0), 1) for side in (glass.sheet_width_mm, glass.sheet_height_mm)]
    return f"{' × '.join(sides)} mm, {decimal_string(glass.thickness_mm, 1)} mm thick"


def _costs(quoted: Estimate, now: Estimate) -> Iterator[CostChange]:
    for kind in ("chemistry", "glass", "labour", "overhead", "bought_in", "rework"):
        old, new = (sum((getattr(cost, kind) for cost in estimate.costs), Fraction(0)) for estimate in (quoted, now))
        if old != new:
            yield CostChange(kind=kind.replace("_", " "), before=old, after=new)


def _cost(cost: Fraction | None, source: str) -> str:
    return "no price" if cost is None else f"{decimal_string(cost, 6)} ({source})"


def _percent(share: Fraction) -> str:
    return f"{decimal_string(share * 100, 1)} %"


def _value(name: str, value: Fraction | int | str | tuple[int, ...]) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, tuple):
        return ", ".join(day_abbr[day] for day in value)
    return _percent(Fraction(value)) if name.endswith("_share") else decimal_string(Fraction(value), 4)
