"""What every page is given: the studio, its currency, the rooms, who is at the desk."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from studio.house.models import House, HouseRates

#: name, address, whose: in the order of the top line
ROOMS = (
    ("Today", "studio:today", "both"), ("Jobs", "jobs:list", "owner"), ("Finishes", "recipes:finishes", "both"),
    ("Stockroom", "stockroom:shelf", "both"), ("Bench", "jobs:bench", "both"),
)


@dataclass(frozen=True, kw_only=True)
class Alarm:
    """Something that everybody who is logged in is told on every page until it is dealt with.

    starts: from when on; before that it waits in the page, for one that is left open.
    """

    sentence: str
    where: str
    address: str
    minutes: int
    since: datetime
    starts: datetime
    waits: bool = False


#: rooms above give alarms here, each from the studio, which is only read where one needs it
ALARMS: list[Callable[[House], list[Alarm]]] = []


def page_frame(request: HttpRequest) -> dict[str, Any]:
    """Return the frame's context; the studio and its rates are only read where a page shows them."""
    person: Any = getattr(request, "user", None)
    at_the_desk = person is not None and person.is_authenticated
    owner = at_the_desk and person.is_owner
    match = request.resolver_match
    house: Any = SimpleLazyObject(lambda: House.objects.first() or House(name="Silvering Daybook"))
    return {
        "house": house,
        "alarms": SimpleLazyObject(lambda: [alarm for give in ALARMS for alarm in give(house)]) if at_the_desk else [],
        "currency": SimpleLazyObject(_currency),
        "rooms": [(name, address) for name, address, whose in ROOMS if owner or whose == "both"] if at_the_desk else [],
        "here": f"{match.app_name}:{match.url_name}" if match else "",
        "is_owner": owner,
        "program_version": settings.VERSION,
    }


def _currency() -> str:
    """Return the currency of the newest rates: it is fixed once a price exists in it."""
    return HouseRates.objects.values_list("currency", flat=True).first() or ""
