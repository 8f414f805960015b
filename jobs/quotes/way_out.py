"""Where what refused a price is put right: pages of the rooms below, by the kind of the refusal."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from jobs.estimating.refusals import EstimateError
from jobs.quotes.freezing import NotInUse
from studio.kit.errors import DaybookError


@dataclass(frozen=True, kw_only=True)
class WayOut:
    """A link: its address and what it does, in words."""

    address: str
    words: str


def ways_out(refusal: DaybookError) -> list[WayOut]:
    """Return where a refusal is put right; nothing where that is the page it stands on."""
    if isinstance(refusal, EstimateError) and refusal.wants_prices:
        address = f"{reverse('stockroom:prices')}?{urlencode({'of': refusal.words['codes']})}"
        return [WayOut(address=address, words="Write the prices that are missing"),
                WayOut(address=reverse("stockroom:read_note"), words="Paste a delivery")]
    if isinstance(refusal, NotInUse):
        return [WayOut(address=reverse("recipes:recipe", args=recipe.key.split("/")),
                       words=f"Look at {recipe.finish} {recipe.version_number}") for recipe in refusal.recipes]
    return []
