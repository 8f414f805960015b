"""What a session saved itself: so that whoever has a form open twice is not told that somebody else changed it."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from studio.kit.locks import remembering

_SAVED, _MOST = "own_saves", 50


class OwnSavesMiddleware:
    """Remember in the session which records it saved, and how often they had been saved then."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.method != "POST":
            return self.get_response(request)
        before: dict[str, int] = request.session.get(_SAVED, {})
        with remembering(before) as own:
            response = self.get_response(request)
        if own and response.status_code < 400:  # what is refused was rolled back
            kept = {name: saves for name, saves in before.items() if name not in own} | own
            request.session[_SAVED] = dict(list(kept.items())[-_MOST:])
        return response
