"""Who may see what. Access is denied unless a view declares who may have it.

Three declarations: `owner_only`, `at_the_desk` (owner and helper) and `open_door`
(anyone, also without a log-in). `manage.py access` prints them all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, TypeVar

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url
from django.urls import URLPattern, URLResolver, get_resolver
from django_htmx.http import HttpResponseClientRedirect

View = TypeVar("View", bound=Callable[..., Any])
OWNER, DESK, OPEN = "owner", "owner, helper", "anyone"


class UndeclaredAccess(PermissionDenied):
    """A view says nothing of who may see it, so nobody may."""


def _declare(who: str) -> Callable[[View], View]:
    def mark(view: View) -> View:
        view.access = who  # type: ignore[attr-defined]
        return view

    return mark


owner_only = _declare(OWNER)
at_the_desk = _declare(DESK)
open_door = _declare(OPEN)


def access_of(view: Callable[..., Any]) -> str:
    """Return who may see a view, or "" when it declares nobody."""
    declared = getattr(view, "access", None) or getattr(getattr(view, "view_class", None), "access", "")
    return str(declared)


class AccessMiddleware:
    """Let through whom the view declares; ask for a log-in, or refuse."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponse | None:
        who, person = access_of(view), request.user
        if who == OPEN:
            return None
        if not who:
            raise UndeclaredAccess("This page declares nobody who may see it.")
        if not person.is_authenticated:
            return self._ask_to_log_in(request)
        if who == OWNER and not person.is_owner:
            raise PermissionDenied("This page is the owner's.")
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
            yield "/" + address, pattern.name or "", access_of(pattern.callback)
