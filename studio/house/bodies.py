"""How much may be sent at once: asked before it is read, and answered in words with what was typed.

The head of a request says how long its body is, and the server gives no more of it than that. A form's text has a limit
of its own (`DATA_UPLOAD_MAX_MEMORY_SIZE`), whatever its pictures weigh.
"""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import parse_qsl

from django.conf import settings
from django.core.exceptions import RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent
from django.http import HttpRequest, HttpResponse
from django.http.request import UnreadablePostError

from studio.house.form_keys import NOT_TYPED
from studio.house.http import REFUSED, render_page_or_part
from studio.kit.typed_numbers import whole_number

#: two photographs of thirty million bytes, and what is written beside them
MOST_BYTES = 65_000_000
#: before anybody has logged in: a name and a password
MOST_AT_THE_DOOR = 200_000
#: so much of a text that was too long is read, to show what was typed beside it
MOST_SHOWN_OF = 20_000_000
#: and so much of each value is shown
SHOWN = 2000
TOO_LARGE = 413


class BodyLimits:
    """Refuse what is too long before it is read; read a form here, so that no later step meets the refusal."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.method not in ("GET", "HEAD") and (answer := self._refused(request)) is not None:
            return answer
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Answer a view that reads a body by itself."""
        if isinstance(exception, (RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent)):
            return _too_large(request, _text_sentence())
        return None

    def _refused(self, request: HttpRequest) -> HttpResponse | None:
        sent = request.META.get("CONTENT_LENGTH") or "0"
        length = whole_number(sent, otherwise=MOST_BYTES + 1)
        most = MOST_BYTES if request.user.is_authenticated else MOST_AT_THE_DOOR
        if length > most:
            return _too_large(request, f"That is larger than {most / 1_000_000:.3g} MB, which is more than can be sent "
                                       "here at once. Nothing was saved: go back and send less.")
        is_text = request.content_type == "application/x-www-form-urlencoded"
        if is_text and length > (settings.DATA_UPLOAD_MAX_MEMORY_SIZE or length):
            return _too_large(request, _text_sentence(), _typed(request.read(min(length, MOST_SHOWN_OF))))
        try:
            request.POST  # noqa: B018  (read once, here)
        except (RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent):
            return _too_large(request, _text_sentence())
        except UnreadablePostError:  # whoever sent it went away
            return HttpResponse(status=400)
        return None


def _text_sentence() -> str:
    most = (settings.DATA_UPLOAD_MAX_MEMORY_SIZE or 0) / 1_000_000
    return (f"That is more text than can be saved at once: {most:.3g} MB, or {settings.DATA_UPLOAD_MAX_NUMBER_FIELDS} "
            "fields. Nothing was saved: go back, where it still stands, and save less of it.")


def _typed(body: bytes) -> list[tuple[str, str]]:
    """Return what was typed, a long value shortened, without what no person typed and without passwords."""
    try:
        pairs = parse_qsl(body.decode("utf-8", "replace"), max_num_fields=settings.DATA_UPLOAD_MAX_NUMBER_FIELDS)
    except ValueError:
        return []
    return [(name.replace("_", " ")[:80], value if len(value) <= SHOWN else f"{value[:SHOWN]} … and so on")
            for name, value in pairs if value and name not in NOT_TYPED and "password" not in name]


def _too_large(request: HttpRequest, refusal: str, typed: list[tuple[str, str]] | None = None) -> HttpResponse:
    request._mark_post_parse_error()  # type: ignore[attr-defined]  # nothing reads the body after this
    swaps = bool(request.headers.get("HX-Request"))  # a script shows no other refusal than this one
    context = {"refusal": refusal, "typed": typed or []}
    return render_page_or_part(request, "house/lost_key.html", "lost", context,
                               status=REFUSED if swaps else TOO_LARGE)
