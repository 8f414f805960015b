"""Pages and their parts: one place decides which a request gets."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.cache import patch_vary_headers
from django_htmx.middleware import HtmxDetails

from studio.house.models import Person
from studio.kit.locks import ChangedMeanwhile

REFUSED = 422


class DeskRequest(HttpRequest):
    """A request by somebody at the desk (the access middleware has made sure)."""

    user: Person
    htmx: HtmxDetails
    saves_now: int  #: set where the forms of the answer carry another count of saves than they were sent with


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


def whole_number(sent: str) -> int:
    """Return a whole number that a page sent; 0 for anything else."""
    return int(sent) if sent.isdecimal() else 0


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
