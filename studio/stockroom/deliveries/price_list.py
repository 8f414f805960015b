"""A price list read back: new prices, reorder points, pack sizes and places of materials; all of it or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from django.db import transaction
from django.db.models import F

from studio.exact import RATIO_DECIMALS, STOCK_DECIMALS
from studio.house.changes import note_change
from studio.house.models import ChangeRecord
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal, plain
from studio.kit.units import plain_number
from studio.stockroom.deliveries.receiving import WrongCell, known_materials, label_amount
from studio.stockroom.materials import DeadlyTogether, storage_conflicts
from studio.stockroom.models import Material
from studio.stockroom.places import make_place
from studio.stockroom.tables import table_rows

#: head of a column → the attribute it sets, and its decimals (None: words)
SETS: dict[str, tuple[str, int | None]] = {
    "list price": ("list_price", RATIO_DECIMALS), "reorder point": ("reorder_point", STOCK_DECIMALS),
    "pack size": ("pack_size", STOCK_DECIMALS), "storage place": ("storage_place", None),
}


@dataclass(frozen=True, kw_only=True)
class PriceLine:
    """One material with its values in the list; an empty cell leaves a value as it is."""

    row: int
    material: Material
    values: dict[str, Decimal | str] = field(default_factory=dict)

    @property
    def changes(self) -> dict[str, Decimal | str]:
        """Return the values that differ from the material's."""
        return {name: value for name, value in self.values.items() if getattr(self.material, name) != value}

    @property
    def changes_in_words(self) -> list[tuple[str, Decimal | str]]:
        """Return the changes by the names of their columns."""
        return [(name.replace("_", " "), value) for name, value in self.changes.items()]


def read_price_list(text: str) -> tuple[list[PriceLine], list[WrongCell]]:
    """Read a table whose head names “material” and some of the columns that it sets; others are ignored."""
    rows = table_rows(text)
    head = [cell.casefold() for cell in rows[0]] if rows else []
    if "material" not in head or not set(head) & set(SETS):
        needed = ", ".join(SETS)
        return [], [WrongCell(row=1, column="", why=f"The first row must name “material” and one of: {needed}.")]
    materials, lines, wrong = known_materials(), [], []
    for number, cells in enumerate(rows[1:], start=2):
        named = dict(zip(head, cells, strict=False))
        material = materials.get(named.get("material", "").casefold())
        if not any(cells):
            continue
        if material is None:
            name = named.get("material", "")
            wrong.append(WrongCell(row=number, column="material", why=f"There is no material “{name}”."))
            continue
        values: dict[str, Decimal | str] = {}
        for column, (field_name, decimals) in SETS.items():
            cell = named.get(column, "")
            if not cell:
                continue
            try:
                values[field_name] = cell[:60] if decimals is None else as_decimal(_figure(cell, material), decimals)
            except DaybookError:
                wrong.append(WrongCell(row=number, column=column, why=f"“{cell}” is not a number."))
        lines.append(PriceLine(row=number, material=material, values=values))
    return lines, wrong


def _figure(cell: str, material: Material) -> Fraction:
    """Read a figure of a stock unit; a price also as a pack is paid: “24.00 for 2.5 L”. Raises DaybookError."""
    paid, by_the_pack, pack = cell.partition(" for ")
    figure = Fraction(plain_number(paid))
    return figure / Fraction(label_amount(pack, material)) if by_the_pack else figure


def _note_price(line: PriceLine) -> None:
    if "list_price" in line.changes:
        before, new = line.material.list_price, Decimal(line.changes["list_price"])
        note_change(ChangeRecord.Kind.PRICES, line.material.name,
                    f"list price: {'nothing' if before is None else plain(before)} → {plain(new)}")


@transaction.atomic
def apply_price_list(lines: Sequence[PriceLine]) -> int:
    """Save what differs; return how many materials changed. Raises DeadlyTogether for places they are moved to."""
    changed, moved = 0, []
    for line in lines:
        if line.changes:
            Material.objects.filter(pk=line.material.pk).update(**line.changes, saves=F("saves") + 1)
            _note_price(line)
            changed += 1
        if "storage_place" in line.changes:
            moved.append(line.material.pk)
            make_place(str(line.changes["storage_place"]))
    stops = [finding for finding in storage_conflicts(*Material.objects.filter(pk__in=moved)) if finding.stops]
    if stops:
        raise DeadlyTogether(stops[0].sentence, "table")
    return changed
