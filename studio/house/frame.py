"""What every page is given: the studio, its currency, the rooms, who is at the desk."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from studio.house.models import House, HouseRates
from studio.kit.roles import May


@dataclass(frozen=True, kw_only=True)
class Room:
    """A room of the top line: its name and first page, whose it is, where its pages lie, and its line-drawn sign.

    current: "page" on its first page, "true" on any other of its pages, else "".
    """

    name: str
    address: str
    sign: str
    pages: tuple[str, ...]
    needs: May = May.WORK
    current: str = ""


#: in the order of the top line; the sign is a path in a square of 24
ROOMS = (
    Room(name="Today", address="studio:today", pages=(), sign="M4 5h16v15H4zM4 9.5h16M8.5 3v4M15.5 3v4"),
    Room(name="Jobs", address="jobs:list", pages=("/jobs/", "/quotes/", "/tickets/", "/customers/"), needs=May.ORDERS,
         sign="M5 3h11l3 3v15H5zM8 9h8M8 13h8M8 17h5"),
    Room(name="Finishes", address="recipes:finishes", pages=("/finishes/", "/swatch-book/"),
         sign="M4 4h16v16H4zM4 12c4-3 6 3 9 0s4-2 7-1"),
    Room(name="Stockroom", address="stockroom:shelf", pages=("/stockroom/",),
         sign="M3 11h18M3 21h18M6 11V5h4v6M13 11V7h4v4M8 21v-6h5v6"),
    Room(name="Bench", address="jobs:bench", pages=("/bench/", "/week/"), sign="M3 17h18M6 17v4M18 17v4M9 17V4h6v13"),
)


def _rooms(person: Any, here: str, path: str) -> list[Room]:
    """Return the rooms that this person may enter, the one whose page this is marked."""
    return [
        replace(room, current="page" if here == room.address else "true" if path.startswith(room.pages) else "")
        for room in ROOMS if person.may(room.needs)
    ]


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
    match = request.resolver_match
    house: Any = SimpleLazyObject(lambda: House.objects.first() or House(name="Silvering Daybook"))
    return {
        "house": house,
        "alarms": SimpleLazyObject(lambda: [alarm for give in ALARMS for alarm in give(house)]) if at_the_desk else [],
        "currency": SimpleLazyObject(_currency),
        "rooms": _rooms(person, f"{match.app_name}:{match.url_name}" if match else "", request.path)
        if at_the_desk else [],
        "may": {what.value: at_the_desk and person.may(what) for what in May},
        "idle_lock": getattr(request, "idle_lock", None),
        "server_warnings": getattr(request, "server_warnings", []),
        "program_version": settings.VERSION,
    }


def _currency() -> str:
    """Return the currency of the newest rates: it is fixed once a price exists in it."""
    return HouseRates.objects.values_list("currency", flat=True).first() or ""
