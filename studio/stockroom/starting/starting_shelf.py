"""A starting shelf: materials of the trade's list, each complete, entered in one press and editable afterwards."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

from django.db import transaction

from studio.exact import RATIO_DECIMALS
from studio.kit.rounding import as_decimal
from studio.stockroom.hazards.identity import told_by
from studio.stockroom.hazards.trade import TradeMaterial, trade_materials
from studio.stockroom.listed import standing_for
from studio.stockroom.materials import DeadlyTogether, save_material
from studio.stockroom.models import Material
from studio.stockroom.places import make_place
from studio.stockroom.storage import OXIDISERS

SHARE_DECIMALS = 4


@dataclass(kw_only=True)
class Picked:
    """What a pick added, and in sentences what it left alone."""

    added: list[Material] = field(default_factory=list)
    said: list[str] = field(default_factory=list)


def offered() -> list[TradeMaterial]:
    return [material for material in trade_materials() if material.is_offered]


def material_of(wanted: TradeMaterial) -> Material:
    """Return a listed material as it would be entered, not saved: classes only where its identity does not tell them.

    A generic one has no hazards: its data sheet says them.
    """
    told = told_by(wanted.identity).classes
    return Material(
        name=wanted.name, kind=wanted.kind, stock_unit=wanted.stock_unit, liquid=wanted.is_liquid,
        cas_number=wanted.cas, formula=wanted.formula, hydrate=wanted.hydrate,
        density_g_per_ml=None if wanted.density is None else as_decimal(wanted.density, RATIO_DECIMALS),
        assay_share=None if wanted.assay_share is None else as_decimal(wanted.assay_share, SHARE_DECIMALS),
        reacts_as=sorted({*wanted.classes} - told), hazard_statements=list(wanted.statements),
        statement_categories=wanted.statement_categories, precautions=list(wanted.precautions),
        pictograms=list(wanted.pictograms), signal_word=wanted.signal_word,
        silver_g_per_unit=as_decimal(wanted.silver_g_per_unit, RATIO_DECIMALS),
        storage_place=wanted.storage_place, shelf_life_days=wanted.keeps_days,
    )


@transaction.atomic
def pick_starting_shelf(keys: Collection[str]) -> Picked:
    """Enter the listed materials of some keys; what is in the stockroom already is left alone and said."""
    picked, standing = Picked(), list(Material.objects.all())
    for wanted in offered():
        if wanted.key not in keys:
            continue
        row = standing_for(wanted, standing)
        if row is not None:
            as_what = "" if row.name == wanted.name else f" as {row.name}"
            picked.said.append(f"{wanted.name} is in the stockroom already{as_what}: left as it is.")
            continue
        added = _entered(wanted, picked)
        standing.append(added)
        picked.added.append(added)
    return picked


def _entered(wanted: TradeMaterial, picked: Picked) -> Material:
    make_place(wanted.storage_place, wanted.storage_type, is_dark=wanted.storage_type == OXIDISERS)
    try:
        with transaction.atomic():
            return save_material(material_of(wanted))
    except DeadlyTogether as deadly:
        picked.said.append(f"{wanted.name} has no storage place yet: {deadly}")
        row = material_of(wanted)
        row.storage_place = ""
        return save_material(row)
