"""The materials stage: what the starter set needs and the glass that most studios cut, each with what a pack costs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db import transaction

from studio.exact import RATIO_DECIMALS
from studio.kit.rounding import as_decimal
from studio.stockroom.listed import standing_for
from studio.stockroom.materials import save_material
from studio.stockroom.models import Material
from studio.stockroom.places import make_place
from studio.stockroom.starting.starting_shelf import pick_starting_shelf
from studio.whole.starting.forms import MaterialRow
from studio.whole.starting.library import BACKING_KEY, NEEDED
from studio.whole.starting.starter_set import listed_by_key

#: packs as they are often sold, to be typed over (common practice, no source)
PACKS = {
    "distilled_water": "25 L", "silver_nitrate": "100 g", "ammonia_25": "1 L", "ammonia_28_30": "1 L",
    "potassium_hydroxide": "500 g", "dextrose": "1 kg", "rochelle_salt": "500 g", "tin_chloride_dihydrate": "100 g",
    "cerium_oxide": "1 kg", BACKING_KEY: "2.5 L",
}
#: key, name, tint, thickness in mm, whether it is ticked; one size of sheet that is often kept
GLASS = (
    ("clear_4", "Clear float 4 mm", "clear", 4, True), ("clear_6", "Clear float 6 mm", "clear", 6, False),
    ("low_iron_4", "Low-iron float 4 mm", "low-iron", 4, False),
)
SHEET = "2250 x 1605 mm"
GLASS_PLACE = "glass rack"

#: what somebody who has the paint's data sheet at hand says of it
PAINTS = {
    "": "I shall say later", "none": "Water-based; its sheet was read, and none of the classes apply",
    "solvent": "Solvent-based, flammable",
}


def rows_for(data: Mapping[str, Any] | None, currency: str) -> list[MaterialRow]:
    """Return a form for each material that the starter set needs, then for each glass."""
    standing, listed = list(Material.objects.all()), listed_by_key()
    keys = [key for needed in NEEDED for key in needed] + [BACKING_KEY]
    rows = [
        MaterialRow(
            data, name=listed[key].name, prefix=key, unit=listed[key].stock_unit, pack=PACKS[key],
            ticked=key != "ammonia_28_30" and key != BACKING_KEY, currency=currency, density=listed[key].density,
            standing=standing_for(listed[key], standing),
        )
        for key in keys
    ]
    named = {row.name.casefold(): row for row in standing}
    return rows + [
        MaterialRow(data, name=name, prefix=key, unit="sheet", pack=SHEET, ticked=ticked, currency=currency,
                    standing=named.get(name.casefold()))
        for key, name, _, _, ticked in GLASS
    ]


@transaction.atomic
def enter(rows: Sequence[MaterialRow], paint: str) -> tuple[list[Material], list[str]]:
    """Enter what is ticked and the prices that were typed, all of it or nothing.

    rows: valid. paint: a key of PAINTS. Returns what was entered or priced, and in sentences what was left alone.
    """
    ticked = {str(row.prefix) for row in rows if row.cleaned_data["tick"] and row.standing is None and not row.is_glass}
    picked = pick_starting_shelf(ticked | ({BACKING_KEY} if paint else set()))
    changed = list(picked.added)
    by_name = {material.name: material for material in Material.objects.all()}
    for row in rows:
        if not row.cleaned_data["tick"]:
            continue
        material = row.standing or by_name.get(row.name)
        if row.is_glass and material is None:
            material = _glass(row)
            changed.append(material)
        if material is not None and _priced(row, material) and material not in changed:
            changed.append(material)
    _say_paint(by_name.get(listed_by_key()[BACKING_KEY].name), paint)
    return changed, picked.said


def _glass(row: MaterialRow) -> Material:
    tint, thickness = next((tint, mm) for key, _, tint, mm, _ in GLASS if key == row.prefix)
    width, height = row.cleaned_data["size"]
    make_place(GLASS_PLACE)
    material = Material(
        name=row.name, kind=Material.Kind.GLASS, stock_unit=Material.StockUnit.SHEET, sheet_width_mm=width,
        sheet_height_mm=height, thickness_mm=Decimal(thickness), tint=tint, treatment=Material.Treatment.ANNEALED,
        storage_place=GLASS_PLACE,
    )
    return save_material(material)


def _priced(row: MaterialRow, material: Material) -> bool:
    """Write the price of a pack as the material's list price; say whether there was one."""
    price = row.cleaned_data.get("price")
    if price is None:
        return False
    pack = Decimal(1) if row.is_glass else row.cleaned_data["size"]
    material.list_price = as_decimal(Fraction(price) / Fraction(pack), RATIO_DECIMALS)
    if not row.is_glass:
        material.pack_size = pack
    save_material(material, material.saves)
    return True


def _say_paint(material: Material | None, paint: str) -> None:
    """Write down what somebody read in the paint's data sheet: nothing is taken as read that nobody read."""
    if material is None or not paint or not material.is_unclassed:
        return
    material.refresh_from_db()
    if paint == "solvent":
        material.reacts_as = sorted({*material.reacts_as, "solvent"})
    else:
        material.none_apply = True
    save_material(material, material.saves)
