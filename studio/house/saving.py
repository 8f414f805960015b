"""Save the studio's settings."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from typing import Any

from django.db import models, transaction

from studio.house.models import House
from studio.kit.errors import DaybookError
from studio.kit.locks import check_opened, differing, write

#: what rooms above say, in sentences, once ammoniacal silver may stand less long
TOUCHED_BY_LIMIT: list[Callable[[], list[str]]] = []

#: what rooms above do, in the same transaction, once the limit or the making-safe procedure is another
AFTER_SAVING_SAFETY: list[Callable[[], None]] = []
_OF_SAFETY = ("ammoniacal_limit_minutes", "making_safe_procedure")


#: rooms above say here whether a price exists, after which the currency stays
PRICES_EXIST: list[Callable[[], bool]] = []


class ProcedureTaken(DaybookError):
    """The making-safe procedure would be left empty, and recipes in use may ask for it."""


def as_opened(row: models.Model, names: Iterable[str]) -> str:
    """Return a mark of some settings as they are: the same as long as nobody changes one of them."""
    held = "\n".join(f"{name}={getattr(row, name)!r}" for name in sorted(names))
    return hashlib.sha256(held.encode()).hexdigest()[:16]


@transaction.atomic
def save_house(saves: int | None, values: dict[str, Any], opened_as: str = "") -> House:
    """Save the settings, or a group of them.

    opened_as: the mark of just these settings when their form was opened: what was saved of others meanwhile does not
    matter then. Raises ChangedMeanwhile when somebody else saved them since, ProcedureTaken for a making-safe
    procedure that would be emptied: nothing is saved.
    """
    row = House.objects.select_for_update().get()
    untouched = bool(opened_as) and opened_as == as_opened(row, values)
    check_opened(row, row.saves if untouched else saves, differing(row, values))
    if row.making_safe_procedure.strip() and not str(values.get("making_safe_procedure", "kept")).strip():
        raise ProcedureTaken(
            "Recipes with ammoniacal silver rest on this procedure: rewrite it, but do not leave it empty.",
            "making_safe_procedure",
        )
    changed = any(name in values and values[name] != getattr(row, name) for name in _OF_SAFETY)
    write(row, values)
    if changed:
        for follow in AFTER_SAVING_SAFETY:
            follow()
    return row


def touched_by_limit() -> list[str]:
    """Return what no longer keeps within the studio's limit on ammoniacal silver, by name."""
    return [sentence for touched in TOUCHED_BY_LIMIT for sentence in touched()]
