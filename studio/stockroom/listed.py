"""Which of a studio's materials are the trade's: by name, or by number and strength."""

from __future__ import annotations

from collections.abc import Iterable

from studio.kit.rounding import as_decimal
from studio.stockroom.hazards.trade import TradeMaterial
from studio.stockroom.models import Material


def standing_for(wanted: TradeMaterial, materials: Iterable[Material]) -> Material | None:
    """Return the material that is a listed one already: by name, or by number and strength."""
    for row in materials:
        same_strength = wanted.assay_share is None or row.assay_share == as_decimal(wanted.assay_share)
        if row.name.casefold() == wanted.name.casefold() or (wanted.cas and row.cas_number == wanted.cas
                                                             and same_strength):
            return row
    return None
