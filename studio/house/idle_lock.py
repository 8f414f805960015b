"""The lock of a bench tablet that nobody has touched for a while: a PIN or the password opens it.

The server decides, with the next request: pages of the bench stay open, so that the safety clock, timers and Trouble
are never hidden, but nothing is recorded there; any other page asks for the PIN. What a form sent comes back unlocked.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any, TypeGuard
from urllib.parse import urlencode

from django.contrib.auth import authenticate
from django.contrib.auth.hashers import check_password
from django.db import OperationalError
from django.db.models import F
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from studio.house.changes import note_failure
from studio.house.clock import now
from studio.house.log_in_throttle import TOO_OFTEN, wait_for
from studio.house.models import Person, PersonSession
from studio.kit.access import OPEN, access_of
from studio.kit.errors import DaybookError

MINUTES, MOST_MINUTES = 10, 240
#: wrong PINs, one after another, before only the password opens
MOST_PINS = 5
LOCKED = 423
_ACTED_AGAIN = timedelta(seconds=15)
_PIN = re.compile(r"[0-9]{4,8}")
NOT_KEPT = frozenset({"csrfmiddlewaretoken", "pin"})


class NotUnlocked(DaybookError):
    """The PIN or password is not the one; what only the password opens says so."""


def check_pin(pin: str) -> None:
    """Raises DaybookError for what is no PIN, and for one that is guessed first."""
    if not _PIN.fullmatch(pin):
        raise DaybookError("A PIN has 4 to 8 figures.", "pin")
    steps = {int(after) - int(before) for before, after in pairwise(pin)}
    if len(steps) == 1 and steps <= {-1, 0, 1}:
        raise DaybookError("That is guessed first: choose figures that are not all alike and do not just count.", "pin")


@dataclass(frozen=True, kw_only=True)
class IdleLock:
    """The lock of this session. at_the_bench: its page stays open; by_pin: a PIN opens it, else only the password."""

    minutes: int
    locked: bool
    at_the_bench: bool
    by_pin: bool
    person: str


def _idle_since(row: PersonSession) -> datetime:
    return row.acted_at or row.made_at


def seconds_left(row: PersonSession) -> int:
    """Return in how many seconds a tablet locks that nobody touches; 0 where it is locked."""
    if row.locked_at is not None or row.tablet_minutes is None:
        return 0
    return max(0, int((_idle_since(row) + timedelta(minutes=row.tablet_minutes) - now()).total_seconds()))


def is_tablet(row: PersonSession | None) -> TypeGuard[PersonSession]:
    return row is not None and row.tablet_minutes is not None


def by_pin(row: PersonSession, person: Person) -> bool:
    return bool(person.pin) and row.wrong_pins < MOST_PINS


def make_tablet(row: PersonSession, minutes: int | None) -> None:
    """Let a session lock after so many idle minutes; None: never."""
    PersonSession.objects.filter(pk=row.pk).update(
        tablet_minutes=minutes, acted_at=now(), locked_at=None, wrong_pins=0)


def unlock_tablet(request: HttpRequest, row: PersonSession, person: Person, *, pin: str, password: str) -> None:
    """Open a locked tablet. Raises NotUnlocked; a wrong PIN counts before it is looked at, so that none is free."""
    mine = PersonSession.objects.filter(pk=row.pk)
    if password:
        if authenticate(request, username=person.username, password=password) != person:
            wait = wait_for(request, person.username)
            raise NotUnlocked(TOO_OFTEN.format(minutes=wait) if wait else "That is not your password.", "password")
    elif not person.pin or not mine.filter(wrong_pins__lt=MOST_PINS).update(wrong_pins=F("wrong_pins") + 1):
        raise NotUnlocked("Write your password: too many wrong PINs were tried." if person.pin else
                          "You have no PIN: write your password.", "password")
    elif not check_password(pin, person.pin):
        note_failure(person.username, "wrong PIN")
        left = MOST_PINS - mine.values_list("wrong_pins", flat=True).get()
        raise NotUnlocked("That is not your PIN." + ("" if left > 0 else " Now only your password opens."),
                          "pin" if left > 0 else "password")
    mine.update(locked_at=None, acted_at=now(), wrong_pins=0)


class LockMiddleware:
    """Keep when a bench tablet was last touched, lock it when that is long ago, and let through what stays open."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        row: PersonSession | None = getattr(request.session, "row", None)
        if row is None or not request.user.is_authenticated or not is_tablet(row):
            return None
        lets = getattr(view, "lets_when_locked", None)
        locked = self._looked_at(row, by_itself=getattr(view, "by_itself", False))
        request.idle_lock = IdleLock(  # type: ignore[attr-defined]
            minutes=row.tablet_minutes or 0, locked=locked, at_the_bench=lets is not None,
            by_pin=by_pin(row, request.user), person=request.user.name,
        )
        if not locked or access_of(view) == OPEN or (lets is not None and lets(request)):
            return None
        return ask(request)

    def _looked_at(self, row: PersonSession, *, by_itself: bool) -> bool:
        """Return whether a tablet is locked now; write what has changed of it."""
        if row.locked_at is not None:
            return True
        mine = PersonSession.objects.filter(pk=row.pk, locked_at=None)
        if seconds_left(row) == 0:
            mine.update(locked_at=now())
            return True
        if not by_itself and abs(now() - _idle_since(row)) >= _ACTED_AGAIN:
            try:
                mine.update(acted_at=now())
            except OperationalError:  # somebody saves for long: at worst it locks a little early
                return False
        return False


def ask(request: HttpRequest) -> HttpResponse:
    """Ask for the PIN: a page goes to the lock and comes back; what a form sent is kept in the lock's own form."""
    if request.content_type == "application/json" or getattr(request, "htmx", False):
        return JsonResponse({"locked": True}, status=LOCKED)
    if request.method in ("GET", "HEAD"):
        return redirect(f"{reverse('studio:lock')}?{urlencode({'next': request.get_full_path()})}")
    pairs = [(name, value) for name, values in request.POST.lists() for value in values
             if name not in NOT_KEPT and "password" not in name]
    return lock_page(request, again=request.get_full_path(), kept=json.dumps(pairs), files=bool(request.FILES))


def lock_page(request: HttpRequest, **context: Any) -> HttpResponse:
    return render(request, "house/lock_page.html", {"is_lock": True, **context}, status=LOCKED)


def kept_pairs(kept: str) -> Sequence[tuple[str, str]]:
    """Return the names and values of a form that was sent while locked; none for anything else."""
    try:
        read = json.loads(kept or "[]")
        return [(str(name), str(value)) for name, value in read]
    except (ValueError, TypeError, RecursionError):
        return []
