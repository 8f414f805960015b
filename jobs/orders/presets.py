"""A customer's own choices for lines: kept from a line as typed, and handed to new ones."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from jobs.line_fields import KEPT_CHOICES, to_form
from jobs.models import Customer, CustomerChoices
from recipes.models import RecipeVersion
from studio.house.http import whole_number
from studio.kit.errors import DaybookError
from studio.stockroom.models import Material


class ChoicesError(DaybookError):
    """The choices of a line cannot be kept as it stands."""


@transaction.atomic
def keep_choices(customer: Customer | None, name: str, row: Mapping[str, str]) -> CustomerChoices:
    """Keep a typed line's choices under a name, in place of those that had it before.

    Raises ChoicesError when customer, name, finish, glass or edge is missing.
    """
    if customer is None:
        raise ChoicesError("Choose a customer who is known already: choices are kept for one.")
    if not name.strip():
        raise ChoicesError("Give the choices a name, for instance “shop fronts”.")
    version = (
        RecipeVersion.objects.select_related("finish").filter(pk=whole_number(row.get("recipe_version", ""))).first()
    )
    glass = Material.objects.filter(pk=whole_number(row.get("glass", "")), kind=Material.Kind.GLASS).first()
    if version is None or glass is None or not row.get("edge"):
        raise ChoicesError("Choose finish, glass and edge in that line first.")
    kept = CustomerChoices.objects.filter(customer=customer, name=name.strip()).first() or CustomerChoices(
        customer=customer, name=name.strip()
    )
    kept.finish, kept.glass = version.finish, glass
    for one in KEPT_CHOICES:
        column: Any = CustomerChoices._meta.get_field(one.name)
        setattr(kept, one.name, column.to_python(row.get(one.typed) or one.default))
    kept.full_clean()
    kept.save()
    return kept


def as_line(kept: CustomerChoices) -> dict[str, str]:
    """Return kept choices as the fields of a line; the finish's newest version in force, or none when it has none."""
    version = RecipeVersion.objects.filter(finish_id=kept.finish_id).in_use().order_by("-number").first()
    chosen = {one.typed: str(to_form(one, getattr(kept, one.name))) for one in KEPT_CHOICES}
    for one in KEPT_CHOICES:
        if one.kind == "money" and not chosen[one.typed]:
            del chosen[one.typed]  # no price kept says nothing of the next line's
    return {**chosen, "recipe_version": str(version.pk) if version else "", "glass": str(kept.glass_id)}
