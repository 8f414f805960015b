"""How answers leave: a HEAD without a body, text compressed, and nothing shown to a person kept by browser or proxy.

A view that says itself how long its answer may be kept is left alone: static files, photographs, and the bench's own
screens, which the browser keeps for when there is no network (they hold no price and no contact).
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import FileResponse, HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware

NOT_KEPT = "no-store"
#: of a screen of the bench: its worker keeps it; nobody else shows it without asking here first
KEPT_BY_THE_BENCH = "private, no-cache"
#: text by other names
_TEXT = frozenset({"application/json", "image/svg+xml", "application/javascript", "application/manifest+json"})


class BareHeads:
    """Send the heads of an answer to HEAD, with the length that the body has, and no body."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if request.method == "HEAD":
            if isinstance(response, HttpResponse):
                length = str(len(response.content))
                response.content = b""
                response.headers.setdefault("Content-Length", length)
            elif isinstance(response, StreamingHttpResponse | FileResponse):
                response.close()
                response.streaming_content = ()
        return response


class Compressed(GZipMiddleware):
    """Compress what is text, of an answer that is not so already; each answer by bytes of chance, as Django does.

    So the length of a page tells nobody what stands in it (the attack is called BREACH). Pictures and PDFs are left as
    they are: they would hardly be shorter.
    """

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        kind = str(response.headers.get("Content-Type", "")).partition(";")[0].strip()
        if not kind.startswith("text/") and kind not in _TEXT:
            return response
        return super().process_response(request, response)


class NotKept:
    """Let no browser and no proxy keep an answer, unless its view says otherwise."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        response.headers.setdefault("Cache-Control", NOT_KEPT)
        return response
