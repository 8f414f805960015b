"""The one clock, and the house's own time zone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.http import HttpRequest, HttpResponse
from django.utils import timezone


def now() -> datetime:
    """Return the moment, aware of its time zone. Everything that needs the time asks here."""
    return timezone.now()


def house_zone() -> ZoneInfo:
    from studio.models import House  # the clock stands below the models that stamp with it

    zone = House.objects.values_list("time_zone", flat=True).first()
    return ZoneInfo(zone or "UTC")


def today() -> date:
    """Return the date in the house's time zone: a lot is usable to the end of its expiry day there."""
    return now().astimezone(house_zone()).date()


class HouseTimeMiddleware:
    """Show times in the house's zone."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not request.user.is_authenticated:
            return self.get_response(request)
        with timezone.override(house_zone()):
            return self.get_response(request)
