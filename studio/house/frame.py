"""What every page's frame shows: the house, the rooms, who is at the desk."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from studio.house.models import House

#: name, address, whose: in the order of the top line
ROOMS = (
    ("Today", "studio:today", "both"), ("Jobs", "jobs:list", "owner"), ("Finishes", "recipes:finishes", "both"),
    ("Stockroom", "stockroom:shelf", "both"), ("Bench", "jobs:bench", "both"),
)


def page_frame(request: HttpRequest) -> dict[str, Any]:
    """Return the frame's context; the house is only read where a page shows it."""
    person: Any = getattr(request, "user", None)
    at_the_desk = person is not None and person.is_authenticated
    owner = at_the_desk and person.is_owner
    match = request.resolver_match
    return {
        "house": SimpleLazyObject(lambda: House.objects.first() or House(name="Silvering Daybook")),
        "rooms": [(name, address) for name, address, whose in ROOMS if owner or whose == "both"] if at_the_desk else [],
        "here": f"{match.app_name}:{match.url_name}" if match else "",
        "is_owner": owner,
        "version": settings.VERSION,
    }
