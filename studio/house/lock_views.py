"""The lock of a bench tablet: its page, and what its script asks."""

from __future__ import annotations

from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from studio.house.http import REFUSED, DeskRequest
from studio.house.idle_lock import LOCKED, NotUnlocked, is_tablet, kept_pairs, lock_page, seconds_left, unlock_tablet
from studio.kit.access import at_the_desk, open_when_locked


def _own(address: str) -> str:
    """Return an address of this studio; its first page for anything else."""
    return address if address.startswith("/") and url_has_allowed_host_and_scheme(address, None) else "/"


@open_when_locked(by_itself=True)
@at_the_desk
@sensitive_post_parameters("pin", "password")
@require_http_methods(["GET", "HEAD", "POST"])
def lock(request: DeskRequest) -> HttpResponse:
    """Ask for the PIN or the password; go on where this tablet was, with what was typed there."""
    row = getattr(request.session, "row", None)
    onward = _own(request.POST.get("next") or request.GET.get("next", "/"))
    again, kept = _own(request.POST.get("again", "")), request.POST.get("kept", "")
    by_script = request.headers.get("Accept") == "application/json"
    if not is_tablet(row) or (request.method != "POST" and not request.idle_lock.locked):
        return redirect(onward)
    if request.method != "POST":
        return lock_page(request, next=onward)
    try:
        unlock_tablet(request, row, request.user, pin=request.POST.get("pin", "").strip(),
                      password=request.POST.get("password", ""))
    except NotUnlocked as refusal:
        if by_script:
            return JsonResponse({"refusal": str(refusal), "field": refusal.field}, status=REFUSED)
        return lock_page(request, next=onward, again=request.POST.get("again", ""), kept=kept, refusal=str(refusal),
                         by_password=refusal.field == "password")
    if by_script:
        return HttpResponse(status=204)
    if pairs := kept_pairs(kept):
        return render(request, "house/lock_again.html", {"again": again, "pairs": pairs, "is_lock": True})
    return redirect(onward)


def _state(request: DeskRequest) -> HttpResponse:
    """Say who is logged in, and in how many seconds this tablet locks; 423 where it is locked."""
    row, person = getattr(request.session, "row", None), request.user.username
    if not is_tablet(row):
        return JsonResponse({"left": None, "person": person})
    return JsonResponse({"left": seconds_left(row), "person": person},
                        status=LOCKED if request.idle_lock.locked else 200)


@open_when_locked(by_itself=True)
@at_the_desk
@require_safe
def lock_state(request: DeskRequest) -> HttpResponse:
    return _state(request)


@open_when_locked()
@at_the_desk
@require_safe
def lock_touched(request: DeskRequest) -> HttpResponse:
    """Take note that somebody touched the tablet, without asking for a page."""
    return _state(request)
