"""What an audit need not reckon again: what nobody can change, and a pass that found nothing looked at."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.conf import settings
from django.db.models import Max

from jobs.estimating.estimate import ARITHMETIC
from jobs.models import Quote
from studio.house.clock import now
from studio.house.models import CleanPass, StoredFile

#: a clock that went back by less, or a transaction that lasted as long, hides nothing
MARGIN = timedelta(days=2)


@dataclass(frozen=True, kw_only=True)
class LookedAt:
    """How far earlier passes came. ended_before: what ended before it, and stays as it ended, was looked at."""

    quote: int = 0
    stored_file: int = 0
    ended_before: datetime = datetime(1900, 1, 1, tzinfo=UTC)
    at: datetime | None = None


NOTHING = LookedAt()


def program() -> str:
    """Return what reckons: a program that reckons otherwise looks at everything."""
    return f"{settings.VERSION}, arithmetic {ARITHMETIC}"


def looked_at() -> LookedAt:
    """Return how far the passes of this program came, the last of which found nothing."""
    last = CleanPass.objects.filter(program=program()).last()
    if last is None or last.at > now():  # of a moment still to come: a clock went back
        return NOTHING
    return LookedAt(quote=last.quote, stored_file=last.stored_file, ended_before=last.at - MARGIN, at=last.at)


def here() -> CleanPass:
    """Return a pass over all there is at this moment, not saved yet."""
    return CleanPass(at=now(), program=program(), quote=_last(Quote), stored_file=_last(StoredFile))


def _last(model: type[Quote] | type[StoredFile]) -> int:
    return model._default_manager.aggregate(last=Max("pk"))["last"] or 0
