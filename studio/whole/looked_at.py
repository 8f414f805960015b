"""What an audit need not reckon again: what nobody can change, and a pass that found nothing looked at."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache

from django.conf import settings

from studio.house.clock import now
from studio.house.models import CleanPass

#: a clock that went back by less, or a transaction that lasted as long, hides nothing
MARGIN = timedelta(days=2)
#: so long after everything was last looked at, everything is looked at again
EVERYTHING_AGAIN = timedelta(days=30)


@dataclass(frozen=True, kw_only=True)
class LookedAt:
    """How far earlier passes came: what was frozen or ended before a moment, and so stays, was looked at.

    at: when the last of them was; everything_at: when one last looked at everything.
    """

    ended_before: datetime = datetime(1900, 1, 1, tzinfo=UTC)
    at: datetime | None = None
    everything_at: datetime | None = None


NOTHING = LookedAt()


@cache
def program() -> str:
    """Return the SHA-256 of what reckons: a program that is another in any letter looks at everything."""
    sums = hashlib.sha256()
    for room in ("studio", "recipes", "jobs"):
        for path in sorted((settings.HOME / room).rglob("*.py")):
            sums.update(f"{path.relative_to(settings.HOME)}\0".encode() + path.read_bytes() + b"\0")
    return sums.hexdigest()


def looked_at() -> LookedAt:
    """Return how far the passes of this program came: nothing, where everything was not looked at for long."""
    mine = CleanPass.objects.filter(program=program())
    last, all_of_it = mine.last(), mine.filter(everything=True).last()
    if last is None or all_of_it is None or last.at > now() or all_of_it.at < now() - EVERYTHING_AGAIN:
        return NOTHING  # one of a moment still to come: a clock went back
    return LookedAt(ended_before=last.at - MARGIN, at=last.at, everything_at=all_of_it.at)
