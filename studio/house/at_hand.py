"""Who asks for the page that is being answered, and from where: for what keeps who did something."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.http import HttpRequest, HttpResponse

_request: ContextVar[HttpRequest | None] = ContextVar("request at hand", default=None)


def person_at_hand() -> Any:
    """Return the person whose page is being answered; None for a program, and where nobody is logged in."""
    request = _request.get()
    person = getattr(request, "user", None)
    return person if person is not None and person.is_authenticated else None


def asked_from() -> str:
    """Return the network address that the page was asked from; "" for a program."""
    request = _request.get()
    return "" if request is None else str(request.META.get("REMOTE_ADDR", ""))[:45]


@contextmanager
def answering(request: HttpRequest | None) -> Iterator[None]:
    token = _request.set(request)
    try:
        yield
    finally:
        _request.reset(token)


class AtHandMiddleware:
    """Tell whose page is being answered while it is."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with answering(request):
            return self.get_response(request)
