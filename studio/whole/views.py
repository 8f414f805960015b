"""Pages that gather from every room: Today, find, guides, health, and what is said when something breaks."""

from __future__ import annotations

from typing import Any

from django.db import connection
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.template import TemplateDoesNotExist
from django.template.loader import get_template
from django.views.decorators.csrf import requires_csrf_token
from django.views.decorators.http import require_safe

from studio.house.clock import today
from studio.house.http import DeskRequest
from studio.kit import database_rules
from studio.kit.access import at_the_desk, open_door
from studio.kit.locks import TooBusy
from studio.stockroom.hazards.pairs import DANGEROUS_PAIRS
from studio.whole.search import search
from studio.whole.today import gather


@at_the_desk
@require_safe
def today_page(request: DeskRequest) -> HttpResponse:
    return render(request, "whole/today.html", {"today": gather(request.user, today())})


@at_the_desk
@require_safe
def find(request: DeskRequest) -> HttpResponse:
    wanted = request.GET.get("q", "").strip()
    return render(request, "whole/find.html", {"wanted": wanted, "found": search(wanted, request.user)})


@open_door
@require_safe
def guides(request: HttpRequest) -> HttpResponse:
    return render(request, "whole/guides/index.html")


@open_door
@require_safe
def guide(request: HttpRequest, name: str) -> HttpResponse:
    try:
        template = get_template(f"whole/guides/{name}.html")
    except TemplateDoesNotExist as missing:
        raise Http404 from missing
    return HttpResponse(template.render({"pairs": DANGEROUS_PAIRS if name == "sources" else ()}, request))


@open_door
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """Answer a monitor: the database answers, and it keeps its rules."""
    missing = database_rules.missing(connection)
    return JsonResponse(
        {"well": not missing, "database": connection.vendor, "missing_rules": missing}, status=503 if missing else 200
    )


def _error(request: HttpRequest, status: int, title: str, sentence: str) -> HttpResponse:
    return render(request, "whole/error.html", {"title": title, "sentence": sentence, "code": status}, status=status)


@requires_csrf_token
def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _error(request, 400, "That could not be read", "Go back, check what you typed, and send it again.")


@requires_csrf_token
def not_allowed(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _error(request, 403, "For the owner", "Only the owner can open this page. Ask the owner if you need it.")


@requires_csrf_token
def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _error(request, 404, "Not found", "The address is wrong, or what was here was removed.")


@requires_csrf_token
def broken(request: HttpRequest) -> HttpResponse:
    return _error(request, 500, "Something went wrong", "Nothing was half-saved. Try again; if it goes wrong again, "
                  "write down what you did and tell whoever looks after this server.")


@requires_csrf_token
def form_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    return _error(request, 403, "This form is too old", "Go back, reload the page and send it again.")


class BusyMiddleware:
    """Answer 503 in words when a lock could not be had."""

    def __init__(self, get_response: Any) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response: HttpResponse = self.get_response(request)
        return response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if isinstance(exception, TooBusy):
            return _error(request, 503, "Somebody else is saving", str(exception))
        return None
