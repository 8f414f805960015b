"""What of the stockroom a book holds: materials, lots, the ledger, counts, waste, offcuts and promises."""

from __future__ import annotations

from studio.kit.book import CODE, COUNT, TEXT, Entry, Named, Section, by
from studio.kit.pane_sizes import refuse_no_pane
from studio.stockroom.models import (
    ClassesTakenAway,
    CountLine,
    CountSheet,
    Delivery,
    Lot,
    LotEvent,
    LotPaper,
    Material,
    Offcut,
    Posting,
    Purchase,
    Reservation,
    ReservedAmount,
    StockMovement,
    StoragePlace,
    WasteContainer,
    WasteEntry,
)

_MATERIALS = Section(
    name="materials", model=Material, order=("code",), named=by("code", CODE), unit="stock_unit",
    words="""
        code name kind stock_unit liquid density_g_per_ml=density:g/mL formula hydrate assay_share cas_number
        hazard_statements statement_categories precautions pictograms signal_word no_statements reacts_as
        none_apply must_be_diluted
        silver_g_per_unit=silver_per_stock_unit:g storage_place shelf_life_days opened_life_days
        reorder_point=reorder_point:stock pack_size=pack_size:stock list_price sheet_width_mm=sheet_width:mm
        sheet_height_mm=sheet_height:mm thickness_mm=thickness:mm tint treatment same_glass
    """,
    lists=(Section(name="classes_taken_away", model=ClassesTakenAway, parent="material",
                   words="at_save classes at by why"),),
)
_PLACES = Section(name="storage_places", model=StoragePlace, order=("name",), words="name type is_cold is_dark")
_DELIVERIES = Section(name="deliveries", model=Delivery, order=("pk",), named=by("key"),
                      words="key supplier received_on carriage share_by reference")
_LOTS = Section(
    name="lots", model=Lot, order=("pk",), unit="material.stock_unit",
    named=Named({"material": ("material.code", CODE), "lot_number": ("lot_number", TEXT)}, ("material",)),
    words="""
        material lot_number supplier received_on opened_on expires_on_given=expires_on
        quantity_received=quantity_received:stock cost_with_carriage made_here made_at discard_at state
        hold_reason delivery
    """,
    lists=(
        Section(name="events", model=LotEvent, parent="lot", words="key kind at by why"),
        Section(name="papers", model=LotPaper, parent="lot", words="kind file"),
    ),
)
_MOVEMENTS = Section(
    name="movements", model=StockMovement, parent="posting", order=("line",), unit="lot.material.stock_unit",
    words="line lot kind quantity=quantity:stock unit_cost note reverses",
    named=Named({"posting": ("posting.key", TEXT), "line": ("line", COUNT)}, ("posting",)),
)
_POSTINGS = Section(name="postings", model=Posting, order=("pk",), named=by("key"), words="key kind at by why",
                    lists=(_MOVEMENTS,))
_PURCHASES = Section(
    name="purchases", model=Purchase, order=("pk",), unit="material.stock_unit",
    words="form_key material quantity=quantity:stock supplier ordered_on due_on lot cancelled_because",
)


def _written_as_of_its_sheet(line: CountLine, entry: Entry) -> None:
    """Read a figure of a book of before, which was taken as written at its sheet's moment."""
    if line.counted is not None and line.written_at is None:
        line.written_at, line.held_then = line.sheet.as_of, line.expected


_COUNTS = Section(
    name="counts", model=CountSheet, order=("pk",), words="form_key place as_of by hide_expected posted_at posting",
    lists=(Section(name="lines", model=CountLine, parent="sheet", order=("pk",), unit="lot.material.stock_unit",
                   ready=_written_as_of_its_sheet,
                   words="lot expected=expected:stock counted=counted:stock written_at held_then=held_then:stock"),),
)
_WASTE = Section(
    name="waste_containers", model=WasteContainer, order=("pk",),
    words="""
        name meant_for place takes holds_most_ml=holds_most:mL opened_on handed_on handed_to returned_on
        returned_silver_g=returned_silver:g note
    """,
    # nothing goes into a container that was handed over
    later=dict.fromkeys(("handed_on", "handed_to", "returned_on", "returned_silver_g"), ""),
    lists=(Section(name="entries", model=WasteEntry, parent="container", words="""
        key at by what source posting volume_ml=volume:mL silver_g=silver:g reacts_as met_at_bench made_safe none_apply
        ph
    """),),
)
#: the room that promises offcuts says to whom, and when they are read
OFFCUTS = Section(name="offcuts", model=Offcut, order=("number",), ready=refuse_no_pane, words="""
    number material width_mm=width:mm height_mm=height:mm place came_from kept_at kept_by gone_at gone_by gone_because
    form_key
""")
#: stands inside what it is promised to
RESERVATION = Section(
    name="reservation", model=Reservation, words="made_at released_at what_for",
    lists=(Section(name="amounts", model=ReservedAmount, parent="reservation", unit="material.stock_unit",
                   words="material quantity=quantity:stock"),),
)
SECTIONS = (_PLACES, _MATERIALS, _DELIVERIES, _LOTS, _POSTINGS, _PURCHASES, _COUNTS, _WASTE)
