"""Who may see what. Access is denied unless a view declares what somebody must be allowed to have it.

`allowed(May.ORDERS)` and its like, by the table in `studio/kit/roles.py`; `at_the_desk` (everybody who works here) and
`open_door` (anyone, also without a log-in). `manage.py access` prints them all.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from typing import Any, TypeVar

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url
from django.urls import URLPattern, URLResolver, get_resolver
from django_htmx.http import HttpResponseClientRedirect

from studio.kit.roles import May, who_may

View = TypeVar("View", bound=Callable[..., Any])
OPEN = "anyone"
security = logging.getLogger("daybook.security")


class NotForThem(PermissionDenied):
    """A page that somebody who is logged in may not see; the sentence says who may."""


class UndeclaredAccess(PermissionDenied):
    """A view says nothing of who may see it, so nobody may."""


def _declare(what: str) -> Callable[[View], View]:
    def mark(view: View) -> View:
        view.access = what  # type: ignore[attr-defined]
        return view

    return mark


def allowed(what: May) -> Callable[[View], View]:
    """Let those have a view who may do something."""
    return _declare(what)


at_the_desk = allowed(May.WORK)
open_door = _declare(OPEN)


def _always(request: HttpRequest) -> bool:
    return True


def open_when_locked(
    lets: Callable[[HttpRequest], bool] = _always, *, by_itself: bool = False,
) -> Callable[[View], View]:
    """Leave a view of the bench open on a tablet that nobody has touched for a while (`studio.house.idle_lock`).

    lets: returns whether this request is answered while locked. by_itself: a page's script asks for it, not a person.
    """
    def mark(view: View) -> View:
        view.lets_when_locked, view.by_itself = lets, by_itself  # type: ignore[attr-defined]
        return view

    return mark


def asked_by_itself(view: View) -> View:
    """Say that a page's script asks for a view again and again: nobody touched the tablet for it."""
    view.by_itself = True  # type: ignore[attr-defined]
    return view


def access_of(view: Callable[..., Any]) -> str:
    """Return what somebody must be allowed to have a view, `OPEN` for anyone, or "" when it declares nothing."""
    declared = getattr(view, "access", None) or getattr(getattr(view, "view_class", None), "access", "")
    return str(declared)


def who_has(view: Callable[..., Any]) -> str:
    """Return who may see a view in words: “owner, helper”, “anyone”; "" when it declares nobody."""
    declared = access_of(view)
    return declared if declared in ("", OPEN) else who_may(May(declared))


class AccessMiddleware:
    """Let through whom the view declares; ask for a log-in, or refuse."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponse | None:
        declared, person = access_of(view), request.user
        if declared == OPEN:
            return None
        if not declared:
            raise UndeclaredAccess("This page declares nobody who may see it.")
        if not person.is_authenticated:
            return self._ask_to_log_in(request)
        what = May(declared)
        if not person.may(what):
            security.warning("Refused: %s asked for %s", person.username, request.path)
            raise NotForThem(f"This page is for: {who_may(what)}.")
        return None

    @staticmethod
    def _ask_to_log_in(request: HttpRequest) -> HttpResponse:
        if getattr(request, "htmx", False):
            return HttpResponseClientRedirect(resolve_url(settings.LOGIN_URL))
        return redirect_to_login(request.get_full_path(), settings.LOGIN_URL)


def every_address(patterns: Any = None, prefix: str = "") -> Iterator[tuple[str, str, str]]:
    """Yield address, view name and who may see it, for every pattern."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        address = prefix + str(pattern.pattern)
        if isinstance(pattern, URLResolver):
            yield from every_address(pattern.url_patterns, address)
        elif isinstance(pattern, URLPattern):
            yield "/" + address, pattern.name or "", who_has(pattern.callback)
