"""Pages that gather from every room: Today, find, guides, health, and what is said when something breaks."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import Any

from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import DatabaseError, connection, transaction
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.csrf import requires_csrf_token
from django.views.decorators.http import require_safe

from jobs.models import WeekPlan
from studio.house.clock import today
from studio.house.http import DeskRequest
from studio.house.kept_files import FileDamaged
from studio.house.models import House, HouseRates
from studio.kit import database_rules
from studio.kit.access import NotForThem, at_the_desk, open_door
from studio.kit.locks import TooBusy
from studio.kit.roles import May
from studio.kit.trouble import BUSY, Trouble, trouble_of
from studio.kit.typed_numbers import whole_number
from studio.stockroom.hazards.pairs import DANGEROUS_PAIRS
from studio.whole.find.everything import everything
from studio.whole.find.wanted import read_wanted
from studio.whole.starting.stages import setting_up_of
from studio.whole.today import gather
from studio.whole.trouble import in_words, server_warnings

#: the guides there are, by name
GUIDES = frozenset(page.stem for page in (settings.HOME / "templates" / "whole" / "guides").glob("*.html"))
#: no group is paged further
MOST_PAGES = 1000


@at_the_desk
@require_safe
def today_page(request: DeskRequest) -> HttpResponse:
    starting = setting_up_of(request.user)
    trouble = WeekPlan.objects.filter(offered=False).values_list("trouble", flat=True).first() or ""
    return render(request, "whole/today.html", {
        "today": gather(request.user, today()), "starting": starting, "week_trouble": trouble,
    })


@at_the_desk
@require_safe
def find(request: DeskRequest) -> HttpResponse:
    text = request.GET.get("q", "").strip()
    wanted = read_wanted(text, House.objects.values_list("units", flat=True).first() or "metric",
                         HouseRates.objects.values_list("currency", flat=True).first() or "")
    page = request.GET.get("page", "")
    answer = everything(wanted, runs_desk=request.user.may(May.ORDERS), only=request.GET.get("in", ""),
                        page=min(max(whole_number(page), 1), MOST_PAGES))
    return render(request, "whole/find.html", {"wanted": wanted, "text": text, "answer": answer})


@open_door
@require_safe
def guides(request: HttpRequest) -> HttpResponse:
    return render(request, "whole/guides/index.html")


@open_door
@require_safe
def guide(request: HttpRequest, name: str) -> HttpResponse:
    if name not in GUIDES:
        raise Http404
    return render(request, f"whole/guides/{name}.html", {"pairs": DANGEROUS_PAIRS if name == "sources" else ()})


@open_door
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """Answer a monitor: the database answers, takes writing and keeps its rules; room, clock."""
    missing = database_rules.missing(connection)
    warnings = [*server_warnings(), *_takes_no_writing()]
    well = not missing and not warnings
    return JsonResponse(
        {"well": well, "database": connection.vendor, "missing_rules": missing, "warnings": warnings},
        status=200 if well else 503,
    )


def _takes_no_writing() -> Iterator[str]:
    """Try to write, and take it back; somebody else's turn is no trouble."""
    try:
        with transaction.atomic():
            Session.objects.filter(session_key="").delete()
            transaction.set_rollback(True)
    except DatabaseError as refused:
        trouble = trouble_of(refused)
        if trouble is None:
            raise
        if trouble is not BUSY:
            yield f"{trouble.title}. {trouble.sentence}"


def _error(request: HttpRequest, status: int, title: str, sentence: str) -> HttpResponse:
    return render(request, "whole/error.html", {"title": title, "sentence": sentence, "code": status}, status=status)


@requires_csrf_token
def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _error(request, 400, "That could not be read", "Go back, check what you typed, and send it again.")


@requires_csrf_token
def not_allowed(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    who = str(exception) if isinstance(exception, NotForThem) else "This page is closed."
    return _error(request, 403, "Not open to you", f"{who} Ask the owner if you need it.")


@requires_csrf_token
def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _error(request, 404, "Not found", "The address is wrong, or what was here was removed.")


BROKEN = Trouble(status=500, title="Something went wrong", sentence="Nothing was half-saved. Try again; if it goes "
                 "wrong again, write down what you did and tell whoever looks after this server.")


@requires_csrf_token
def broken(request: HttpRequest) -> HttpResponse:
    """Say what broke; on a page that needs no database where that is what broke, or breaks with it."""
    trouble = trouble_of(sys.exc_info()[1])
    if trouble is not None:
        return in_words(request, trouble)
    try:
        return _error(request, BROKEN.status, BROKEN.title, BROKEN.sentence)
    except Exception as once_more:
        return in_words(request, trouble_of(once_more) or BROKEN)


@requires_csrf_token
def form_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    return _error(request, 403, "This form is too old", "Go back, reload the page and send it again.")


class BusyMiddleware:
    """Answer 503 in words when a lock could not be had, or when database, disk or a kept file is in trouble."""

    def __init__(self, get_response: Any) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response: HttpResponse = self.get_response(request)
        return response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if isinstance(exception, TooBusy):
            return in_words(request, Trouble(title=BUSY.title, sentence=str(exception)))
        if isinstance(exception, FileDamaged):
            return in_words(request, Trouble(status=404, title="A kept file is missing or damaged", sentence=(
                f"{exception} Everything else works. Whoever looks after this server restores it from a backup.")))
        trouble = trouble_of(exception)
        return in_words(request, trouble) if trouble is not None else None
