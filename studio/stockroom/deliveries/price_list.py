"""A price list read back: known materials get new prices, reorder points, packs and places; all of it or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.db import transaction
from django.db.models import F

from studio.exact import RATIO_DECIMALS, STOCK_DECIMALS
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal
from studio.kit.units import plain_number
from studio.stockroom.deliveries.receiving import Wrong, known_materials
from studio.stockroom.models import Material
from studio.stockroom.tables import table_rows

#: head of a column → the attribute it sets, and its decimals (None: words)
SETS: dict[str, tuple[str, int | None]] = {
    "list price": ("list_price", RATIO_DECIMALS), "reorder point": ("reorder_point", STOCK_DECIMALS),
    "pack size": ("pack_size", STOCK_DECIMALS), "storage place": ("storage_place", None),
}


@dataclass(frozen=True, kw_only=True)
class PriceLine:
    """One material with what the list says of it; an empty cell leaves a value as it is."""

    row: int
    material: Material
    values: dict[str, Decimal | str] = field(default_factory=dict)

    @property
    def changes(self) -> dict[str, Decimal | str]:
        """Return what differs from what is kept."""
        return {name: value for name, value in self.values.items() if getattr(self.material, name) != value}


def read_price_list(text: str) -> tuple[list[PriceLine], list[Wrong]]:
    """Read a table whose head names “material” and some of the columns that it sets; others are passed over."""
    rows = table_rows(text)
    head = [cell.casefold() for cell in rows[0]] if rows else []
    if "material" not in head or not set(head) & set(SETS):
        needed = ", ".join(SETS)
        return [], [Wrong(row=1, column="", why=f"The first row must name “material” and one of: {needed}.")]
    materials, lines, wrong = known_materials(), [], []
    for number, cells in enumerate(rows[1:], start=2):
        named = dict(zip(head, cells, strict=False))
        material = materials.get(named.get("material", "").casefold())
        if not any(cells):
            continue
        if material is None:
            told = named.get("material", "")
            wrong.append(Wrong(row=number, column="material", why=f"“{told}” is no material here."))
            continue
        values: dict[str, Decimal | str] = {}
        for column, (name, decimals) in SETS.items():
            cell = named.get(column, "")
            if not cell:
                continue
            try:
                values[name] = cell[:60] if decimals is None else as_decimal(plain_number(cell), decimals)
            except DaybookError:
                wrong.append(Wrong(row=number, column=column, why=f"“{cell}” is no number."))
        lines.append(PriceLine(row=number, material=material, values=values))
    return lines, wrong


@transaction.atomic
def take_over(lines: Sequence[PriceLine]) -> int:
    """Write what differs; return how many materials changed."""
    changed = 0
    for line in lines:
        if line.changes:
            Material.objects.filter(pk=line.material.pk).update(**line.changes, saves=F("saves") + 1)
            changed += 1
    return changed
