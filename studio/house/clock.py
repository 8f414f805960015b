"""The one clock, and the studio's own time zone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

_pretended: ContextVar[datetime | None] = ContextVar("pretended", default=None)
#: the studio's zone while a request is answered, so that a page of many dates asks for it once
_zone: ContextVar[ZoneInfo | None] = ContextVar("zone", default=None)


def now() -> datetime:
    """Return the moment, aware of its time zone. Everything that needs the time asks here."""
    return _pretended.get() or timezone.now()


@contextmanager
def pretend(moment: datetime) -> Iterator[None]:
    """Let the clock stand at a moment: for tests, and for writing the demo's past."""
    token = _pretended.set(moment)
    try:
        yield
    finally:
        _pretended.reset(token)


def house_zone() -> ZoneInfo:
    known = _zone.get()
    if known is not None:
        return known
    from studio.house.models import House  # the clock stands below the models that stamp with it

    zone = House.objects.values_list("time_zone", flat=True).first()
    return ZoneInfo(zone or "UTC")


def today() -> date:
    """Return the date in the studio's time zone: a lot is usable to the end of its expiry day there."""
    return now().astimezone(house_zone()).date()


class HouseTimeMiddleware:
    """Show times in the studio's zone."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not request.user.is_authenticated:
            return self.get_response(request)
        zone = house_zone()
        token = _zone.set(zone)
        try:
            with timezone.override(zone):
                return self.get_response(request)
        finally:
            _zone.reset(token)
