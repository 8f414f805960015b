"""How single columns look in a book. One table a model serves saving, loading and the schema."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.db import models

from jobs.models import (
    BoughtIn,
    Customer,
    CustomerChoices,
    Job,
    JobPhotograph,
    KeptLeftover,
    KeptOffcut,
    Order,
    OrderLine,
    PaneResult,
    Quote,
    RunEntry,
    SiteRecord,
    SwatchBook,
)
from recipes.models import (
    Finish,
    Ingredient,
    IssueEvent,
    Part,
    RecipeIssue,
    SolutionIssue,
    Step,
    Trial,
    TrialChange,
    TrialNote,
    TrialPhotograph,
    TrialTiming,
)
from studio.exact import ExactField
from studio.inventory.models import (
    CountLine,
    CountSheet,
    Delivery,
    Lot,
    LotEvent,
    Material,
    Offcut,
    Posting,
    Purchase,
    WasteContainer,
    WasteEntry,
)
from studio.models import EdgeType, GunCalibration, House, HouseRates, Person, StoredFile
from studio.rounding import as_decimal, plain
from studio.units import amount_in

#: unit shown in a book → the kind of amount it is
UNIT_KINDS = {
    "mm": "length", "mL": "volume", "g": "mass", "min": "time", "m2": "area", "mL/m2": "coverage", "g/mL": "density",
}


@dataclass(frozen=True)
class Column:
    """A column by its attribute, its name in the book, and its unit ("" for a plain value)."""

    attribute: str
    name: str
    unit: str = ""


def _columns(model: type[models.Model], *written: str) -> tuple[Column, ...]:
    """Read “attribute”, “attribute=name” or “attribute=name:unit”."""
    columns = []
    for text in written:
        attribute, _, rest = text.partition("=")
        name, _, unit = (rest or attribute).partition(":")
        model._meta.get_field(attribute)  # a misspelt attribute fails here, at import
        columns.append(Column(attribute, name or attribute, unit))
    return tuple(columns)


COLUMNS: dict[type[models.Model], tuple[Column, ...]] = {
    House: _columns(
        House, "name", "address", "email", "phone", "tax_number", "time_zone", "paper", "units", "terms", "care_note",
        "making_safe_procedure", "spill_procedure", "waste_procedure", "waste_days_open", "discharge_permit",
    ),
    Person: _columns(Person, "username", "first_name", "last_name", "role", "is_active"),
    HouseRates: _columns(
        HouseRates, "effective_from", "currency", "minor_digits", "tax_name", "tax_share", "helper_per_hour",
        "owner_per_hour", "overhead_per_bench_hour", "margin_share", "minimum_charge", "price_step", "plan",
        "cover_share", "glass_loss_share", "bench_width_mm=bench_width:mm", "bench_height_mm=bench_height:mm",
        "bench_usable_share", "increment_ml=measuring_increment:mL", "largest_vessel_ml=largest_vessel:mL",
        "balance_readability_g=balance_readability:g", "trim_mm=trim:mm", "clearance_mm=clearance:mm",
        "keep_size_mm=keep_size:mm", "smallest_strip_mm=smallest_strip:mm",
        "offcut_credit_share", "deposit_share", "quote_valid_days",
        "setup_minutes=set_up:min", "cutting_minutes_per_pane=cutting_per_pane:min",
        "packing_minutes_per_pane=packing_per_pane:min", "hands", "benches", "bench_day_minutes=bench_day:min",
        "cure_hours", "two_person_kg", "crate_most_kg", "crate_kg",
    ),
    EdgeType: _columns(EdgeType, "name", "minutes_per_m=time_per_metre:min", "grinds_off_mm=grinds_off:mm"),
    GunCalibration: _columns(
        GunCalibration, "gun", "measured_on", "flow_ml_per_minute=flow_per_minute:mL", "passes",
        "traverse_m2_per_minute=traverse_per_minute:m2", "stroke_ml=stroke:mL", "strokes_per_m2",
    ),
    StoredFile: _columns(StoredFile, "sha256", "name", "media_type", "size_bytes", "owner_only"),
    Material: _columns(
        Material, "code", "name", "kind", "stock_unit", "liquid", "density_g_per_ml=density:g/mL", "formula",
        "hydrate", "assay_share", "cas_number", "hazard_statements", "pictograms", "signal_word", "agent_classes",
        "must_be_diluted", "silver_g_per_unit=silver_per_stock_unit:g", "storage_place", "shelf_life_days",
        "opened_life_days", "reorder_point=reorder_point:stock", "pack_size=pack_size:stock", "list_price",
        "sheet_width_mm=sheet_width:mm", "sheet_height_mm=sheet_height:mm", "thickness_mm=thickness:mm", "tint",
        "treatment", "same_glass",
    ),
    Lot: _columns(
        Lot, "lot_number", "supplier", "received_on", "opened_on", "expires_on_given=expires_on",
        "quantity_received=quantity_received:stock", "landed_cost", "made_here", "state", "hold_reason",
    ),
    Posting: _columns(Posting, "key", "kind", "at", "why"),
    Delivery: _columns(Delivery, "key", "supplier", "received_on", "carriage", "share_by", "reference"),
    LotEvent: _columns(LotEvent, "key", "kind", "at", "why"),
    Purchase: _columns(
        Purchase, "form_key", "quantity=quantity:stock", "supplier", "ordered_on", "due_on", "called_off_because",
    ),
    CountSheet: _columns(CountSheet, "form_key", "place", "as_of", "blind", "posted_at"),
    CountLine: _columns(CountLine, "expected=expected:stock", "counted=counted:stock"),
    WasteContainer: _columns(
        WasteContainer, "name", "meant_for", "place", "opened_on", "handed_on", "handed_to", "returned_on",
        "returned_silver_g=returned_silver:g", "note",
    ),
    WasteEntry: _columns(
        WasteEntry, "key", "at", "what", "volume_ml=volume:mL", "silver_g=silver:g", "agent_classes", "made_safe",
    ),
    Offcut: _columns(
        Offcut, "number", "width_mm=width:mm", "height_mm=height:mm", "place", "came_from", "kept_at", "gone_at",
        "gone_because", "form_key",
    ),
    SolutionIssue: _columns(
        SolutionIssue, "number", "keeps_minutes=keeps:min", "works_at_once", "ready_after_minutes=ready_after:min",
        "minimum_batch_ml=minimum_batch:mL", "reject_if", "longer_keeping_reason", "cautions", "why",
        "typed", "frozen_at",
    ),
    Ingredient: _columns(
        Ingredient, "number", "amount_per_litre=amount_per_litre:dose", "typed", "active", "make_up", "instruction",
        "end_point",
    ),
    Finish: _columns(
        Finish, "code", "name", "family", "story", "suits_glass", "has_direction", "typical_variation",
        "in_swatch_book", "swatch_place", "lead_time_days",
    ),
    RecipeIssue: _columns(RecipeIssue, "number", "film_nm", "own_yield_share", "why"),
    IssueEvent: _columns(IssueEvent, "kind", "at", "note", "acknowledged"),
    Step: _columns(
        Step, "number", "kind", "name", "how", "coats", "coverage_ml_per_m2=coverage:mL/m2", "gun",
        "border_mm=border:mm", "extra_per_pane_ml=extra_per_pane:mL", "overspill_share",
        "loss_per_load_ml=loss_per_load:mL", "dwell_minutes=dwell:min", "dwell_attended", "motion", "pane_lies",
        "drying", "rinse_full", "rinse_water", "surface_before", "harshness", "minutes_per_load=time_per_load:min",
        "minutes_per_pane=time_per_pane:min", "minutes_per_m2=time_per_m2:min", "hands", "temperature_low_c",
        "temperature_high_c", "instructions", "looks_good", "cautions", "typed",
    ),
    Part: _columns(Part, "number", "strength", "parts", "mixed_for", "typed"),
    Trial: _columns(
        Trial, "number", "question", "started_at", "width_mm=width:mm", "height_mm=height:mm", "size_text", "air_c",
        "glass_c", "solution_c", "humidity_share", "water", "conductivity_us_cm", "score", "verdict", "kept_where",
        "closed_at", "form_key",
    ),
    TrialChange: _columns(TrialChange, "step", "part", "what", "value"),
    TrialNote: _columns(TrialNote, "key", "at", "text"),
    TrialTiming: _columns(TrialTiming, "key", "step", "seconds", "at"),
    TrialPhotograph: _columns(TrialPhotograph, "key", "side", "crop_left", "crop_top", "crop_side", "at"),
    SwatchBook: _columns(SwatchBook, "foreword", "small_size_text", "large_size_text", "edge", "shows_prices"),
    Customer: _columns(Customer, "name", "email", "phone", "address", "note"),
    CustomerChoices: _columns(
        CustomerChoices, "name", "shape", "route", "edge", "backing", "plan", "cut_price_per_m2", "cut_minimum_each",
    ),
    Order: _columns(
        Order, "title", "needed_by", "discount_share", "discount_amount", "discount_reason", "note", "entered_at",
        "form_key",
    ),
    OrderLine: _columns(
        OrderLine, "number", "shape", "size_text", "width_mm=width:mm", "height_mm=height:mm", "area_m2=area:m2",
        "perimeter_mm=perimeter:mm", "quantity", "route", "cut_price_per_m2", "cut_minimum_each", "edge", "backing",
        "plan", "own_panes_to_start", "oversize_method", "match_group", "place", "opening", "joint_mm=joint:mm",
        "holes_text", "holes", "note",
    ),
    BoughtIn: _columns(
        BoughtIn, "name", "cost", "line_number=line", "kind", "markup_share", "days", "due_on", "before",
    ),
    Quote: _columns(
        Quote, "number", "revision", "state", "basis", "plan", "figures", "wording", "currency", "net", "tax", "total",
        "deposit", "made_at", "valid_until", "sent_at", "decided_at", "form_key",
    ),
    Job: _columns(
        Job, "number", "state", "due_on", "sample_approved", "deposit_noted", "waived_because", "booked_at",
    ),
    SiteRecord: _columns(
        SiteRecord, "line_number=line", "width_low_mm=width_low:mm", "width_middle_mm=width_middle:mm",
        "width_high_mm=width_high:mm", "height_left_mm=height_left:mm", "height_middle_mm=height_middle:mm",
        "height_right_mm=height_right:mm", "diagonal_rising_mm=diagonal_rising:mm",
        "diagonal_falling_mm=diagonal_falling:mm", "access", "measured_by", "measured_on", "note",
    ),
    JobPhotograph: _columns(JobPhotograph, "key", "kind", "caption", "at"),
    KeptLeftover: _columns(KeptLeftover, "mix", "volume_ml=volume:mL", "mixed_ml=mixed:mL"),
    KeptOffcut: _columns(KeptOffcut, "glass", "sheet", "piece"),
    RunEntry: _columns(RunEntry, "client_key", "kind", "subject", "content", "device_at", "at"),
    PaneResult: _columns(
        PaneResult, "label", "line_number", "width_mm=width:mm", "height_mm=height:mm", "area_m2=area:m2", "good",
        "attempts", "spoilt_because",
    ),
}


def amount_text(value: Decimal, unit: str) -> str:
    """Return an amount with its unit, without trailing zeros: “500 g”."""
    return f"{plain(value)} {unit}"


def read_amount(text: str, unit: str, decimals: int) -> Decimal:
    """Read “500 g” or “1 lb” in the unit a column is kept in; a leading minus is kept."""
    sign, bare = (-1, text[1:]) if text.startswith("-") else (1, text)
    if unit in ("sheet", "each"):
        return sign * Decimal(bare.split()[0])
    return sign * as_decimal(Fraction(amount_in(bare, UNIT_KINDS[unit])), decimals)


def _unit(column: Column, stock_unit: str) -> str:
    return stock_unit if column.unit in ("stock", "dose") else column.unit


def written(row: models.Model, stock_unit: str = "") -> dict[str, Any]:
    """Return a row's own columns as book values; what is as by default is left out."""
    out: dict[str, Any] = {}
    for column in COLUMNS[type(row)]:
        field: Any = row._meta.get_field(column.attribute)
        value = getattr(row, column.attribute)
        if value is None or (field.has_default() and field.to_python(field.get_default()) == value) or value == "":
            continue
        out[column.name] = _as_book_value(value, _unit(column, stock_unit))
    return out


def _as_book_value(value: Any, unit: str) -> Any:
    if unit and isinstance(value, Decimal):
        return amount_text(value, unit)
    if isinstance(value, Decimal):
        return plain(value)
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    if isinstance(value, (bool, int, str, list, dict)):
        return value
    return str(value)  # UUID


def values_of(
    model: type[models.Model], entry: dict[str, Any], moved: timedelta = timedelta(0), stock_unit: str = ""
) -> dict[str, Any]:
    """Return the keyword values of a row from its book entry, its dates moved."""
    values: dict[str, Any] = {}
    for column in COLUMNS[model]:
        if column.name not in entry:
            continue
        field = model._meta.get_field(column.attribute)
        values[column.attribute] = _from_book_value(entry[column.name], field, _unit(column, stock_unit), moved)
    return values


def _from_book_value(value: Any, field: Any, unit: str, moved: timedelta) -> Any:
    if isinstance(field, ExactField):
        return read_amount(value, unit, field.decimals) if unit else Decimal(value)
    if isinstance(field, models.DateTimeField):
        return datetime.fromisoformat(value) + moved
    if isinstance(field, models.DateField):
        return date.fromisoformat(value) + moved
    if isinstance(field, models.JSONField):
        return move_dates(value, moved)
    return value


def move_dates(value: Any, moved: timedelta) -> Any:
    """Return JSON values with every ISO date or time in them moved."""
    if not moved:
        return value
    if isinstance(value, dict):
        return {key: move_dates(one, moved) for key, one in value.items()}
    if isinstance(value, list):
        return [move_dates(one, moved) for one in value]
    if isinstance(value, str) and len(value) >= 10 and value[4:5] == value[7:8] == "-":
        try:
            return (date.fromisoformat(value) + moved).isoformat()
        except ValueError:
            return value
    return value
