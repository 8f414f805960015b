"""Materials, lots, the append-only ledger, what is promised, counts, offcuts and waste."""

from studio.stockroom.models.counts import CountLine, CountSheet, Offcut, Purchase
from studio.stockroom.models.lots import (
    KIND_IN_WORDS,
    UNDONE,
    UNIT_COST_DECIMALS,
    Delivery,
    Lot,
    LotEvent,
    LotLevel,
    LotPaper,
    Posting,
    Reservation,
    ReservedAmount,
    StockMovement,
)
from studio.stockroom.models.materials import (
    ClassesTakenAway,
    Material,
    Materials,
    StoragePlace,
    _check_agents,
    _check_cas,
    _check_categories,
    _check_pictograms,
    _check_precautions,
    _check_statements,
    _known_agents,
)
from studio.stockroom.models.waste import WasteContainer, WasteEntry

#: those with an underscore are named here by migrations, for ever
__all__ = [
    "KIND_IN_WORDS", "UNDONE", "UNIT_COST_DECIMALS", "ClassesTakenAway", "CountLine", "CountSheet", "Delivery",
    "Lot", "LotEvent", "LotLevel", "LotPaper", "Material", "Materials", "Offcut", "Posting", "Purchase",
    "Reservation", "ReservedAmount", "StockMovement", "StoragePlace", "WasteContainer", "WasteEntry",
    "_check_agents", "_check_cas", "_check_categories", "_check_pictograms", "_check_precautions", "_check_statements",
    "_known_agents",
]
