"""A customer's presets for lines: saved from a line as typed, and used for new lines."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from jobs.line_fields import PRESET_FIELDS, LineField, to_form
from jobs.models import Customer, CustomerChoices
from recipes.models import RecipeVersion
from studio.house.typed_fields import MoneyField
from studio.kit.errors import DaybookError
from studio.kit.typed_numbers import whole_number
from studio.stockroom.models import Material


class PresetError(DaybookError):
    """A line cannot be saved as a preset as it stands."""


@transaction.atomic
def save_preset(customer: Customer | None, name: str, row: Mapping[str, str]) -> CustomerChoices:
    """Save a typed line as a customer's preset, in place of the one that had the name before.

    Raises PresetError when customer, name, finish, glass or edge is missing, or a value is not understood.
    """
    if customer is None:
        raise PresetError("Choose a saved customer first: a preset belongs to a customer.")
    if not name.strip():
        raise PresetError("Give the preset a name, for instance “shop fronts”.")
    version = (
        RecipeVersion.objects.select_related("finish").filter(pk=whole_number(row.get("recipe_version", ""))).first()
    )
    glass = Material.objects.filter(pk=whole_number(row.get("glass", "")), kind=Material.Kind.GLASS).first()
    if version is None or glass is None or not row.get("edge"):
        raise PresetError("Choose finish, glass and edge in that line first.")
    preset = CustomerChoices.objects.filter(customer=customer, name=name.strip()).first() or CustomerChoices(
        customer=customer, name=name.strip()
    )
    preset.finish, preset.glass = version.finish, glass
    try:
        for field in PRESET_FIELDS:
            setattr(preset, field.name, _value(field, row.get(field.typed, "")))
        preset.full_clean()
    except ValidationError as unread:
        raise PresetError(" ".join(unread.messages)) from unread
    preset.save()
    return preset


def _value(field: LineField, typed: str) -> Any:
    if field.kind == "money":
        money = MoneyField(required=False).clean(typed)
        return field.default if money is None else money
    column: Any = CustomerChoices._meta.get_field(field.name)
    return column.to_python(typed or field.default)


def newest_in_use(presets: Iterable[CustomerChoices]) -> dict[int, int]:
    """Return the newest version in use of each finish that presets name, by the finish. One query."""
    finishes = {preset.finish_id for preset in presets}
    versions = RecipeVersion.objects.filter(finish_id__in=finishes).in_use().order_by("number")
    return dict(versions.values_list("finish_id", "pk"))


def as_line(preset: CustomerChoices, newest: Mapping[int, int]) -> dict[str, str]:
    """Return a preset as the fields of a line; the finish's newest version in use, or none when it has none."""
    version = newest.get(preset.finish_id)
    chosen = {field.typed: str(to_form(field, getattr(preset, field.name))) for field in PRESET_FIELDS}
    for field in PRESET_FIELDS:
        if field.kind == "money" and not chosen[field.typed]:
            del chosen[field.typed]  # a preset without a price leaves the next line's alone
    return {**chosen, "recipe_version": str(version or ""), "glass": str(preset.glass_id)}
