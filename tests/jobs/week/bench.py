"""What the tests of the week share: a Monday at eight, a workshop with the times of a small studio, a page as text."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.http import HttpResponse

from studio.house.models import Person
from tests import builders

MONDAY_EIGHT = datetime(2026, 11, 30, 8, 0, tzinfo=ZoneInfo("UTC"))


def workshop(owner: Person, **rates: Any) -> builders.Workshop:
    """Return the workshop of a house of two hands and two benches, unless said otherwise."""
    builders.house()
    builders.rates(**{"hands": 2, "benches": 2, "setup_minutes": 30, "cutting_minutes_per_pane": 4,
                      "packing_minutes_per_pane": 8, "cure_hours": 24, **rates})
    return builders.Workshop(owner)


def text(response: HttpResponse) -> str:
    """Return what a page says, without its marks."""
    return " ".join(re.sub(r"<[^>]+>", " ", response.content.decode()).split())
