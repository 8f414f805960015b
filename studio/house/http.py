"""Pages and their parts: one place decides which a request gets."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.utils.cache import patch_vary_headers
from django.views.decorators.http import require_http_methods
from django_htmx.middleware import HtmxDetails

from studio.house.models import Person
from studio.kit.locks import ChangedMeanwhile
from studio.kit.typed_numbers import whole_number

REFUSED = 422
View = Callable[..., HttpResponse]


class DeskRequest(HttpRequest):
    """A request by somebody at the desk (the access middleware has made sure)."""

    user: Person
    htmx: HtmxDetails
    idle_lock: Any  #: studio.house.idle_lock.IdleLock, on a bench tablet
    saves_now: int  #: set where the forms of the answer carry another count of saves than they were sent with


def posted_from(page: str) -> Callable[[View], View]:
    """Take only what a page's form posts. Without a script its address stays behind: opened again, it is that page."""
    def decorated(view: View) -> View:
        @wraps(view)
        def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            return redirect(page) if request.method in ("GET", "HEAD") else view(request, *args, **kwargs)

        return require_http_methods(["GET", "HEAD", "POST"])(answered)

    return decorated


def pdf_response(content: bytes, name: str) -> HttpResponse:
    """Return a paper to look at in the browser, under a name of its own when it is saved."""
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response


def csv_response(content: str, name: str) -> HttpResponse:
    """Return a table to keep as a file of its own name."""
    response = HttpResponse(content, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def csv_stream(lines: Iterable[str], name: str) -> StreamingHttpResponse:
    """Return a long table to keep as a file of its own name, sent line by line."""
    response = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def sent_saves(request: HttpRequest) -> int:
    """Return the saves that a form was opened at; 0, which no record has, where it does not say."""
    return whole_number(request.POST.get("saves", ""))


def carry_new_saves(request: DeskRequest, refusal: Exception) -> None:
    """Once a refusal showed what somebody else saved, the form carries the new count: sent again, it replaces that.

    Refused for another reason it carries the count it was opened at, so that nobody's change is replaced unseen.
    """
    if isinstance(refusal, ChangedMeanwhile):
        request.saves_now = refusal.saves


def render_page_or_part(
    request: HttpRequest, page: str, part: str, context: dict[str, Any], status: int = 200
) -> HttpResponse:
    """Render the page, or only its named part when htmx will swap it into the page already shown."""
    htmx: HtmxDetails = request.htmx  # type: ignore[attr-defined]
    swap = htmx and not htmx.boosted and not htmx.history_restore_request
    response = render(request, f"{page}#{part}" if swap else page, context, status=status)
    patch_vary_headers(response, ["HX-Request", "HX-Boosted", "HX-History-Restore-Request"])
    return response
