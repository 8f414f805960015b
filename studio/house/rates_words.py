"""What changed from one row of rates to the next, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from studio.house.models import EdgeType, HouseRates
from studio.house.rates_forms import GROUPS, LABELS, MONEY, SHARES
from studio.kit.currencies import show_money
from studio.kit.locks import in_words
from studio.kit.rounding import plain

NAMES = tuple(name for group in GROUPS for name in (*group.fields, *group.rare))


@dataclass(frozen=True, kw_only=True)
class Told:
    """A row of rates and what is said of it. values: every rate by its label; changes: against the row before."""

    row: HouseRates
    values: list[tuple[str, str]]
    changes: list[str]
    first: bool


def rate_in_words(row: HouseRates, name: str) -> str:
    """Return a rate as it is read: “£24.00”, “35 %”, “1000”."""
    value = getattr(row, name)
    if name in MONEY:
        return show_money(Fraction(value), row.currency)
    if name in SHARES:
        return f"{plain(value * 100)} %"
    return plain(value) if isinstance(value, Decimal) else str(value)


def differing_rates(row: HouseRates, typed: Mapping[str, object]) -> str:
    """Return what a row of rates holds where it differs from what was typed: “Margin 35 %”; the rest as columns say."""
    names = [name for name, value in typed.items() if name in LABELS and getattr(row, name) != value]
    other = {name: value for name, value in typed.items() if name not in LABELS}
    told = [f"{LABELS[name]} {rate_in_words(row, name)}" for name in names]
    rest = in_words(row, [name for name, value in other.items() if hasattr(row, name) and getattr(row, name) != value])
    return ", ".join(filter(None, [*told, rest])) or "just what you typed"


def _edge(edge: EdgeType) -> str:
    ground = f", {plain(edge.grinds_off_mm)} mm off" if edge.grinds_off_mm else ""
    return f"{edge.name} {plain(edge.minutes_per_m)} min a metre{ground}"


def edges_told(row: HouseRates) -> str:
    """Return the edges of a row of rates, as the database holds them: “polished 12 min a metre”."""
    return "; ".join(map(_edge, row.edge_types.all())) or "none"


def changes_between(before: HouseRates, row: HouseRates) -> list[str]:
    """Return what changed, a phrase each: “Helper, an hour: £24.00 → £26.00”."""
    told = [
        f"{LABELS[name]}: {rate_in_words(before, name)} → {rate_in_words(row, name)}"
        for name in NAMES if getattr(before, name) != getattr(row, name)
    ]
    old, new = ([_edge(edge) for edge in each.edge_types.all()] for each in (before, row))
    told += [f"Edge no longer: {edge}" for edge in old if edge not in new]
    return told + [f"Edge: {edge}" for edge in new if edge not in old]


def rates_told(rows: Sequence[HouseRates]) -> list[Told]:
    """Return rows of rates, newest first as they are given, each with what changed from the one before."""
    told = []
    for at, row in enumerate(rows):
        before = rows[at + 1] if at + 1 < len(rows) else None
        told.append(Told(
            row=row, first=before is None, changes=changes_between(before, row) if before else [],
            values=[*((LABELS[name], rate_in_words(row, name)) for name in NAMES),
                    ("Edges", "; ".join(map(_edge, row.edge_types.all())))],
        ))
    return told
