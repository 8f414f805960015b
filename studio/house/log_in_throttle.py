"""How often a log-in may be tried: by name and address, wherever a password is asked for (django-axes keeps count).

Three counts, each open again a quarter of an hour after its last wrong try: a name from one address, any names from
one address, a name from any addresses. Who knows one password cannot clear the count of another's.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy
from datetime import datetime
from ipaddress import ip_address, ip_network
from math import ceil
from typing import Any, NamedTuple

from axes.handlers.database import AxesDatabaseHandler
from axes.helpers import get_client_ip_address, get_cool_off
from axes.models import AccessAttempt
from django import forms
from django.conf import settings
from django.contrib.auth import authenticate
from django.db.models import Max, Q, QuerySet, Sum
from django.http import HttpRequest, HttpResponse, QueryDict
from django.utils import timezone
from django.utils.crypto import salted_hmac

from studio.house.models import Person

#: wrong tries: of any names from one address (a studio has one, seen from outside), of a name from any addresses
FROM_ADDRESS, OF_NAME = 30, 50
TOO_OFTEN = ("Too many wrong tries, so no password is looked at for now. Wait {minutes}, or ask the owner, who can let "
             "you try again at once.")


class Count(NamedTuple):
    """Wrong tries that still count, how many are let through, and when the last was made."""

    tries: int
    most: int
    last: datetime | None

    @property
    def over(self) -> bool:
        return self.tries >= self.most


def name_code(name: str) -> str:
    """Return what stands for a log-in name in the counts: a password typed in its place is kept nowhere."""
    # both databases compare names by capitals: “ı” and “i” may be the same name
    return salted_hmac("studio.house.log_in_throttle", name.strip().upper().lower()).hexdigest()


def name_code_of(request: HttpRequest, credentials: dict[str, Any] | None = None) -> str:
    return name_code(str((credentials or request.POST).get("username") or ""))


def address_of(request: HttpRequest) -> str | None:
    """Return the address that a request came from; of IPv6 the network, as one machine has a whole one.

    Behind TLS the proxy in front says it, last in X-Forwarded-For; without one that header is anybody's to write.
    """
    said = request.META.get("REMOTE_ADDR", "")
    if settings.BEHIND_TLS:
        said = request.META.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2].strip() or said
    try:
        address = ip_address(said)
    except ValueError:
        return None
    if address.version == 4:
        return str(address)
    return str(address.ipv4_mapped or ip_network((address, 64), strict=False).network_address)


def answer_stays(request: HttpRequest, answer: HttpResponse, credentials: Any = None) -> HttpResponse:
    """Leave the answer as it is: the form says how long to wait."""
    return answer


class Throttle(AxesDatabaseHandler):
    """The counts of wrong tries, each with its own limit."""

    def get_failures(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> int:
        """Return the wrong tries of this name from here, or as many as are let through where another count is over."""
        of_both, *others = _counts(name_code_of(request, credentials), address_of(request))
        return max(of_both.tries, of_both.most if any(count.over for count in others) else 0)

    def user_login_failed(self, sender: Any, credentials: dict[str, Any], request: Any = None, **more: Any) -> None:
        if request is None:
            return
        # one row a name and address, whatever a browser calls itself, and nothing of what was typed
        bare = copy(request)
        bare.GET = bare.POST = QueryDict()
        bare.axes_user_agent = bare.axes_http_accept = ""
        super().user_login_failed(sender, credentials, bare, **more)
        request.axes_locked_out, request.axes_credentials = bare.axes_locked_out, bare.axes_credentials

    def reset_user_attempts(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> int:
        """Forget the wrong tries of this name from here: whoever knows one password may not go on with another's."""
        tries = AccessAttempt.objects.filter(
            username=name_code_of(request, credentials), ip_address=get_client_ip_address(request),
        )
        return int(tries.delete()[0])


def _recent() -> QuerySet[AccessAttempt]:
    return AccessAttempt.objects.filter(attempt_time__gte=timezone.now() - _pause())


def _pause() -> Any:
    return get_cool_off()


def _counts(code: str, address: str | None) -> Iterator[Count]:
    """Yield the counts of a name from an address, of the address, and of the name."""
    for rows, most in ((Q(username=code, ip_address=address), settings.AXES_FAILURE_LIMIT),
                       (Q(ip_address=address), FROM_ADDRESS), (Q(username=code), OF_NAME)):
        found = _recent().filter(rows).aggregate(tries=Sum("failures_since_start"), last=Max("attempt_time"))
        yield Count(found["tries"] or 0, most, found["last"])


def wait_for(request: HttpRequest, name: str) -> str:
    """Return how long to wait before a password is looked at again, “7 minutes”; "" where it is now."""
    over = [count.last for count in _counts(name_code(name), address_of(request)) if count.over and count.last]
    if not over:
        return ""
    minutes = max(1, ceil((max(over) + _pause() - timezone.now()).total_seconds() / 60))
    return "a minute" if minutes == 1 else f"{minutes} minutes"


def _held_addresses() -> list[str | None]:
    sums = _recent().order_by().values("ip_address").annotate(tries=Sum("failures_since_start"))
    return list(sums.filter(tries__gte=FROM_ADDRESS).values_list("ip_address", flat=True))


def _holding(person: Person) -> Q:
    held = Q(username=name_code(person.username))
    for address in _held_addresses():
        held |= Q(ip_address=address)
    return held


def held_back_until(person: Person) -> datetime | None:
    """Return until when somebody's password is not looked at, at one address at least; None where it is."""
    of_name = _recent().order_by().filter(username=name_code(person.username))
    most = of_name.values("ip_address").annotate(tries=Sum("failures_since_start")).aggregate(Max("tries"))
    every = of_name.aggregate(tries=Sum("failures_since_start"))["tries"] or 0
    held = (most["tries__max"] or 0) >= settings.AXES_FAILURE_LIMIT or every >= OF_NAME or bool(_held_addresses())
    last = _recent().filter(_holding(person)).aggregate(Max("attempt_time"))["attempt_time__max"] if held else None
    return last + _pause() if last else None


def let_try_again(person: Person) -> None:
    """Forget somebody's wrong tries, and those of addresses from which nobody may try at all."""
    AccessAttempt.objects.filter(_holding(person)).delete()


def check_own_password(request: HttpRequest, person: Person, typed: str) -> None:
    """Raises ValidationError; wrong tries count as they do at the door."""
    if authenticate(request, username=person.username, password=typed) != person:
        wait = wait_for(request, person.username)
        raise forms.ValidationError(TOO_OFTEN.format(minutes=wait) if wait else "That is not your password.")
