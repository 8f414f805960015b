"""Work going on: what was asked for, how far it is, what came of it. Each sees the kinds that they may ask for."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_safe

from studio.house.form_keys import sent_key
from studio.house.http import REFUSED, DeskRequest, posted_from, render_page_or_part
from studio.house.lists import paged
from studio.house.long_work.asking import NotAsked, StillCancelling, ask, cancel, worker_at_hand, works_for
from studio.house.long_work.files import KEPT_DAYS, FileGone, file_of
from studio.house.long_work.kinds import kind_of, kinds_for
from studio.house.models import LongWork, LongWorker
from studio.kit.access import allowed, asked_by_itself
from studio.kit.roles import May


def _frame(open_work: bool) -> dict[str, Any]:
    """Return what both pages say of workers, and whether there is anything to look at again."""
    worker = worker_at_hand()
    last = None if worker else LongWorker.objects.order_by("-seen_at").first()
    return {"worker": worker, "last_worker": last, "looks_again": open_work, "kept_days": KEPT_DAYS}


@allowed(May.ORDERS)
@require_safe
def going_on(request: DeskRequest) -> HttpResponse:
    """Every piece of long work, the newest first, and what can be asked for here."""
    works = works_for(request.user)
    asked_here = [kind for kind in kinds_for(request.user) if kind.button]
    return render_page_or_part(request, "house/going_on.html", "works", {
        "listing": paged(request, works), "asked_here": asked_here,
        **_frame(works.filter(state__in=LongWork.OPEN).exists()),
    })


@allowed(May.ORDERS)
@asked_by_itself
@require_safe
def going_on_now(request: DeskRequest) -> HttpResponse:
    """The same, asked for by the page itself while anything is open."""
    return going_on(request)


@allowed(May.ORDERS)
@posted_from("studio:going_on")
def ask_here(request: DeskRequest) -> HttpResponse:
    """Ask for a kind that needs no more said."""
    sent_key(request)
    kind = kind_of(request.POST.get("kind", ""))
    if kind is None or not kind.button:
        raise Http404
    try:
        work = ask(kind=kind.name, inputs={}, by=request.user)
    except StillCancelling as refusal:
        messages.warning(request, str(refusal))
        return redirect("studio:going_on")
    except NotAsked as refusal:
        raise Http404 from refusal
    return redirect("studio:long_work", work.pk)


def _one(request: DeskRequest, pk: int) -> LongWork:
    return get_object_or_404(works_for(request.user), pk=pk)


@allowed(May.ORDERS)
@require_safe
def long_work(request: DeskRequest, pk: int) -> HttpResponse:
    """One piece of long work."""
    return _answer(request, _one(request, pk))


@allowed(May.ORDERS)
@asked_by_itself
@require_safe
def long_work_now(request: DeskRequest, pk: int) -> HttpResponse:
    """The same, asked for by the page itself while it is open."""
    return _answer(request, _one(request, pk))


def _answer(request: DeskRequest, work: LongWork, refusal: str = "") -> HttpResponse:
    return render_page_or_part(request, "house/long_work.html", "work", {
        "work": work, "refusal": refusal, **_frame(work.is_open)}, status=REFUSED if refusal else 200)


@allowed(May.ORDERS)
@posted_from("studio:going_on")
def cancel_long_work(request: DeskRequest, pk: int) -> HttpResponse:
    """Cancel it; what has ended meanwhile stays as it is."""
    work = cancel(_one(request, pk), request.user)
    if work.state == LongWork.State.CANCELLED:
        messages.success(request, f"{work} is cancelled.")
    elif work.is_open:
        messages.success(request, f"{work} will be cancelled where it next tells how far it is.")
    else:
        messages.warning(request, f"{work} had ended before.")
    return redirect("studio:long_work", work.pk)


@allowed(May.ORDERS)
@require_safe
def long_work_file(request: DeskRequest, pk: int) -> HttpResponseBase:
    """The file that came of it, to save; what is gone is said in words."""
    work = _one(request, pk)
    try:
        file = file_of(work).open("rb")
    except FileGone as refusal:
        return _answer(request, work, refusal=str(refusal))
    response = FileResponse(file, as_attachment=True, filename=work.file_name, content_type=work.file_type)
    response["X-Content-Type-Options"] = "nosniff"
    return response
