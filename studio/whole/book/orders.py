"""An order file as a draft: names instead of keys, sizes as people write them."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

from jobs.draft import DraftBoughtIn, DraftLine, OrderDraft
from jobs.line_fields import LINE_FIELDS, from_file
from jobs.orders.sizes import finished_size
from recipes.models import Finish, RecipeVersion
from studio.house.clock import today
from studio.kit.errors import DaybookError
from studio.kit.pane_sizes import size_question
from studio.kit.typed_numbers import read_decimal
from studio.kit.units import parse_size
from studio.stockroom.models import Material
from studio.whole.book.document import read_document
from studio.whole.book.order_schema import order_schema
from studio.whole.book.reading import BookError


class OrderFileError(DaybookError):
    """An order file that cannot be read; says where in it and why."""


def newest_version(finish: Finish) -> RecipeVersion | None:
    """Return a finish's newest recipe version that is in use and not withdrawn."""
    return RecipeVersion.objects.filter(finish=finish).in_use().order_by("-number").first()


def read_order(path: Path) -> tuple[OrderDraft, date]:
    """Return the draft of an order file and the day it is worked out for. Raises OrderFileError."""
    try:
        document = read_document(path)
    except BookError as unreadable:
        raise OrderFileError(str(unreadable)) from unreadable
    for wrong in Draft202012Validator(order_schema()).iter_errors(document):
        raise OrderFileError(f"/{'/'.join(map(str, wrong.absolute_path))}: {wrong.message[:300]}")
    lines = []
    for at, entry in enumerate(document["lines"]):
        try:
            lines.append(line_of(at + 1, entry))
        except DaybookError as refusal:
            raise OrderFileError(f"/lines/{at}: {refusal}") from refusal
    discount = document.get("discount", {})
    draft = OrderDraft(
        lines=tuple(lines),
        bought_in=tuple(
            DraftBoughtIn(
                name=item["name"], cost=read_decimal(item["cost"]), line_number=item.get("line"),
                kind=item.get("kind", "thing"), days=item.get("days", 0),
                markup_share=read_decimal(item["markup_share"]) if "markup_share" in item else None,
                due_on=date.fromisoformat(item["due_on"]) if "due_on" in item else None,
                before=item.get("before", "silvering" if item.get("kind") == "toughening" else "packing"),
            )
            for item in document.get("bought_in", [])
        ),
        discount_share=read_decimal(discount.get("share", "0")),
        discount_amount=read_decimal(discount.get("amount", "0")),
        discount_reason=discount.get("reason", ""),
    )
    return draft, date.fromisoformat(document["as_of"]) if "as_of" in document else today()


def line_of(number: int, entry: dict[str, Any]) -> DraftLine:
    size = parse_size(entry["size"])
    question = size_question(size)
    if question and not entry.get("meant_so"):
        raise OrderFileError(f"{question} If it is meant so, give the line “meant_so”: true.")
    shape = entry.get("shape", "rectangle")
    if size.single and shape != "circle":
        raise OrderFileError("give width × height; one measure is a circle's diameter.")
    values = {field.name: from_file(field, entry) for field in LINE_FIELDS}
    width, height = finished_size(size.width_mm, size.height_mm, values["joint_mm"])
    return DraftLine(number=number, **{
        **values, "width_mm": width, "height_mm": height, "opening": "joint" in entry,
        "recipe_version_id": _version(entry).pk, "glass_id": _glass(entry["glass"]).pk,
    })


def _version(entry: dict[str, Any]) -> RecipeVersion:
    finish = Finish.objects.filter(name=entry["finish"]).first()
    if finish is None:
        raise OrderFileError(f"there is no finish called “{entry['finish']}”.")
    if "version" in entry:
        version = finish.versions.filter(number=entry["version"]).first()
    else:
        version = newest_version(finish)
    if version is None:
        raise OrderFileError(f"{finish.name} has no such in use recipe.")
    return version


def _glass(name: str) -> Material:
    glass = Material.objects.filter(name=name, kind=Material.Kind.GLASS).first()
    if glass is None:
        raise OrderFileError(f"there is no glass called “{name}”.")
    return glass
