"""The published JSON Schema of a book, an order and an estimate, written from the same table that loads them.

`manage.py book_schema` prints it; `schema.json` beside this module is that print.
"""

from __future__ import annotations

from functools import cache
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
from jobs.orders.line_fields import LINE_FIELDS
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
from studio.interchange.columns import COLUMNS, UNIT_KINDS
from studio.interchange.estimate_schema import estimate_schema
from studio.inventory.models import (
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
    WasteContainer,
    WasteEntry,
)
from studio.models import EdgeType, GunCalibration, House, HouseRates, Person, StoredFile

Schema = dict[str, Any]
DECIMAL = {"type": "string", "pattern": r"^-?[0-9]+(\.[0-9]+)?$", "description": "A decimal number."}
TEXT: Schema = {"type": "string"}
DATE: Schema = {"type": "string", "format": "date", "pattern": r"^\d{4}-\d{2}-\d{2}$"}
MOMENT: Schema = {"type": "string", "format": "date-time", "pattern": r"^\d{4}-\d{2}-\d{2}T.*([+-]\d{2}:\d{2}|Z)$"}
CODE: Schema = {"type": "string", "pattern": r"^[-a-z0-9_]+$"}
KEY: Schema = {"type": "string", "pattern": r"^[-a-z0-9_]+/[0-9]+$", "description": "code/issue number"}
COUNT: Schema = {"type": "integer", "minimum": 0}


def amount(unit: str) -> Schema:
    if unit in ("stock", "dose"):
        return {"type": "string", "description": "An amount with its unit, convertible to the stock unit."}
    return {"type": "string", "description": f"An amount of {UNIT_KINDS[unit]} with its unit; kept in {unit}."}


def _value(field: Any, unit: str) -> Schema:
    if isinstance(field, ExactField):
        return amount(unit) if unit else DECIMAL
    if isinstance(field, models.BooleanField):
        return {"type": "boolean"}
    if isinstance(field, models.DateTimeField):
        return MOMENT
    if isinstance(field, models.DateField):
        return DATE
    if isinstance(field, models.JSONField):
        return {"type": ["object", "array"]}
    if isinstance(field, models.IntegerField):
        return {"type": "integer"}
    if field.choices:
        return {"enum": [value for value, _ in field.choices]}
    return TEXT


def row(model: type[models.Model], required: tuple[str, ...] = (), **more: Schema) -> Schema:
    """Return the schema of a row: its own columns, and what hangs on it."""
    columns = {column.name: _value(model._meta.get_field(column.attribute), column.unit) for column in COLUMNS[model]}
    return {
        "type": "object", "properties": {**columns, **more}, "required": list(required),
        "additionalProperties": False,
    }


def many(items: Schema) -> Schema:
    return {"type": "array", "items": items}


def thing(required: tuple[str, ...] = (), **properties: Schema) -> Schema:
    return {"type": "object", "properties": properties, "required": list(required), "additionalProperties": False}


_LOT = thing(("material", "lot_number"), material=CODE, lot_number=TEXT)
_MOVEMENT = thing(
    ("line", "lot", "kind", "quantity", "unit_cost"), line=COUNT, lot=_LOT, kind=TEXT, quantity=amount("stock"),
    unit_cost=DECIMAL, note=TEXT, reverses=thing(("posting", "line"), posting=TEXT, line=COUNT),
)
_BOUGHT_IN = row(BoughtIn, ("name", "cost"))


def _lot() -> Schema:
    return row(
        Lot, ("material", "lot_number", "received_on", "quantity_received"), material=CODE, delivery=TEXT,
        events=many(row(LotEvent, ("key", "kind", "at", "by"), by=TEXT)),
        papers=many(thing(("kind", "file"), kind={"enum": [value for value, _ in LotPaper.Kind.choices]}, file=TEXT)),
    )


def _keeping() -> dict[str, Schema]:
    line = row(CountLine, ("lot", "expected"), lot=_LOT)
    entry = row(WasteEntry, ("key", "at", "by", "what"), by=TEXT, posting=TEXT)
    return {
        "offcuts": many(row(
            Offcut, ("number", "material", "width", "height", "kept_at", "kept_by", "form_key"), material=CODE,
            kept_by=TEXT, gone_by=TEXT, promised_to_job=COUNT, left_by=row(
                KeptOffcut, ("job", "ticket", "glass", "sheet", "piece"), job=COUNT, ticket=COUNT))),
        "purchases": many(row(Purchase, ("material", "form_key", "quantity", "ordered_on"), material=CODE, lot=_LOT)),
        "counts": many(row(CountSheet, ("form_key", "as_of", "by", "lines"), by=TEXT, posting=TEXT,
                           lines=many(line))),
        "waste_containers": many(row(WasteContainer, ("name", "meant_for", "opened_on"), entries=many(entry))),
    }


def _library() -> dict[str, Schema]:
    ingredient = row(
        Ingredient, ("number", "unit"), material=CODE, solution=KEY, unit={"enum": ["g", "mL"]},
    ) | {"oneOf": [{"required": ["material"]}, {"required": ["solution"]}]}
    solution_issue = row(SolutionIssue, ("number", "ingredients"), ingredients=many(ingredient),
                         made_lots=many(thing(("lot",), lot=_LOT, ready_at=MOMENT)))
    step = row(Step, ("number", "kind"), parts=many(row(Part, ("number", "solution"), solution=KEY)))
    event = row(IssueEvent, ("kind", "at", "by"), by=TEXT)
    issue = row(RecipeIssue, ("number", "steps"), came_from=KEY, came_from_trial=COUNT, steps=many(step),
                events=many(event))
    picture = thing(("side", "file"), side={"enum": ["front", "back"]}, file=TEXT, caption=TEXT)
    return {
        "solutions": many(thing(
            ("code", "name", "issues"), code=CODE, name=TEXT, shelf_place=CODE, issues=many(solution_issue)
        )),
        "trials": many(_trial()),
        "finishes": many(row(Finish, ("code", "name", "issues"), pictures=many(picture), issues=many(issue))),
    }


def _trial() -> Schema:
    by_file = dict.fromkeys(("original", "print_copy", "screen_copy", "aligned_copy"), TEXT)
    return row(
        Trial, ("number", "recipe", "made_by", "started_at", "width", "height", "form_key"), recipe=KEY, made_by=TEXT,
        parent=COUNT, glass=CODE, changes=many(row(TrialChange, ("step", "what"))),
        notes=many(row(TrialNote, ("key", "at", "by", "text"), by=TEXT)),
        timings=many(row(TrialTiming, ("key", "step", "seconds", "at", "by"), by=TEXT)),
        photographs=many(row(TrialPhotograph, ("key", "side", "at", "by", *by_file), by=TEXT, **by_file)),
        postings=many(TEXT),
    )


def _jobs() -> Schema:
    line = row(
        OrderLine, ("number", "size_text", "width", "height", "quantity", "recipe", "glass", "edge"),
        recipe=KEY, glass=CODE,
    )
    order = row(
        Order, ("customer", "title", "entered_at", "entered_by", "form_key", "lines"), customer=TEXT,
        entered_by=TEXT, lines=many(line), bought_in=many(_BOUGHT_IN),
        site_records=many(row(SiteRecord, ("line", "measured_by", "measured_on"))),
    )
    reserved = thing(("material", "quantity"), material=CODE, quantity=amount("stock"))
    ended = thing(
        ("at", "by", "made_safe_at", "made_safe_by", "posting"), at=MOMENT, by=TEXT, made_safe_at=MOMENT,
        made_safe_by=TEXT, posting=TEXT,
    )
    run = thing(
        ("opened_at",), opened_at=MOMENT, finished=ended,
        entries=many(row(RunEntry, ("client_key", "kind", "content", "at", "by"), by=TEXT)),
        pane_results=many(row(
            PaneResult, ("label", "line_number", "width", "height", "area", "good", "recipe"), recipe=KEY
        )),
        kept_leftovers=many(row(KeptLeftover, ("lot", "mix", "volume", "mixed"), lot=_LOT)),
    )
    ticket = thing(
        ("number", "plan", "made_at", "made_by", "run"), number=COUNT, plan={"type": "object"}, made_at=MOMENT,
        made_by=TEXT, paper=TEXT, run=run,
    )
    return many(row(
        Job, ("number", "order"), order=order,
        photographs=many(row(JobPhotograph, ("key", "kind", "at", "by", "picture"), by=TEXT, picture=TEXT)),
        quotes=many(row(Quote, ("number", "basis", "plan"), made_by=TEXT, paper=TEXT)),
        booked_quote=thing(("number", "revision"), number=COUNT, revision=COUNT), tickets=many(ticket),
        reservation=thing(
            ("made_at", "what_for", "amounts"), made_at=MOMENT, released_at=MOMENT, what_for=TEXT,
            amounts=many(reserved),
        ),
    ))


def _customers() -> Schema:
    choices = row(CustomerChoices, ("name", "finish", "glass", "edge"), finish=CODE, glass=CODE)
    return many(row(Customer, ("name",), choices=many(choices)))


def _line_of_a_file() -> dict[str, Schema]:
    """Return the schema of each field of an order file's line that is named after a field of an order line."""
    kinds: dict[str, Schema] = {
        "length": amount("mm"), "area": amount("m2"), "money": DECIMAL, "whole number": {"type": "integer"},
    }
    found: dict[str, Schema] = {}
    for one in LINE_FIELDS:
        column: Any = OrderLine._meta.get_field(one.name)
        choices = [value for value, _ in column.flatchoices if value]
        kind = {"enum": choices} if choices else kinds.get(one.kind, TEXT)
        told: Schema = {"description": one.about} if one.about else {}
        least: Schema = {} if one.least is None else {"minimum": one.least}
        if one.file and one.kind != "holes":  # holes are written as their text
            found[one.file] = {**kind, **told, **least}
    return found


def order_schema() -> Schema:
    """Return the schema of an order file for `manage.py estimate`."""
    line = thing(
        ("size", "quantity", "finish", "glass", "edge"), **_line_of_a_file(),
        size={"type": "string", "description": "As people write it: “24 3/8 x 36”, “610 x 915 mm”, “61cm”."},
        finish=TEXT, glass=TEXT,
        issue={"type": "integer", "description": "A recipe issue; the newest issued one without it."},
    )
    return thing(
        ("lines",), as_of={**DATE, "description": "The day whose rates, prices and lots count; today without it."},
        customer=TEXT, title=TEXT, lines=many(line), bought_in=many(_BOUGHT_IN),
        discount=thing((), share=DECIMAL, amount=DECIMAL, reason=TEXT),
    )


@cache
def book_schema() -> Schema:
    """Return the schema of a book; an order and an estimate stand under $defs."""
    book = thing(
        ("format", "version", "written_on"), format={"const": "silvering daybook"}, version={"const": 1},
        written_on=DATE, house=row(House, ("name",)), people=many(row(Person, ("username",))),
        rates=many(row(HouseRates, ("effective_from", "currency"), edges=many(row(EdgeType, ("name",))))),
        guns=many(row(GunCalibration, ("gun", "measured_on"))),
        files=many(row(StoredFile, ("sha256", "name", "media_type"))),
        materials=many(row(Material, ("code", "name", "kind", "stock_unit"))),
        deliveries=many(row(Delivery, ("key", "supplier", "received_on"))), lots=many(_lot()), **_keeping(),
        postings=many(row(Posting, ("key", "kind", "at", "by", "movements"), by=TEXT, movements=many(_MOVEMENT))),
        customers=_customers(), jobs=_jobs(), swatch_book=row(SwatchBook, glass=CODE),
        **_library(),
    )
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Silvering Daybook: a studio's book",
        **book, "$defs": {"order": order_schema(), "estimate": estimate_schema()},
    }
