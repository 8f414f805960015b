"""A form that is sent twice at the same moment, by a double click or a slow network: the second answer is the first's.

Two who send the same form, the same key and the same fields, take turns. Once the first was taken, whoever came before
that was known gets its answer, without asking again; who comes later is told by the page that it was taken before.
Where another process took the first, the database refuses the second row: then the form is read once more, and finds
what was saved by its key.
"""

from __future__ import annotations

import hashlib
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from copy import copy
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.messages.storage.base import BaseStorage, Message
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase

from studio.house.form_keys import NAME

#: so many forms are kept with their answers
MOST_KEPT = 500
#: nobody waits longer for the first; the service that takes the form finds its key then
LONGEST_WAIT_SECONDS = 30
_NO_MATTER = frozenset({"csrfmiddlewaretoken"})


@dataclass
class _Turn:
    """One form that was sent: who is at it, and what was answered."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    answer: HttpResponse | None = None
    at: float = 0.0
    said: list[Message] = field(default_factory=list)


class SentTwice:
    """Stands last, so that it is asked for a view when nothing else has an answer."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response
        self.turns: OrderedDict[str, _Turn] = OrderedDict()
        self.guard = threading.Lock()

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        taken: _Turn | None = None
        request.came_at = time.monotonic()  # type: ignore[attr-defined]
        try:
            response = self.get_response(request)
            taken = getattr(request, "turn", None)
            if taken is not None and not hasattr(request, "answered_before") and _was_taken(response):
                taken.answer, taken.said, taken.at = _kept(response), _said(request), time.monotonic()
            return response
        finally:
            taken = taken or getattr(request, "turn", None)
            if taken is not None:
                taken.lock.release()

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        mark = _mark(request)
        if not mark:
            return None
        turn = self._turn(mark)
        if not turn.lock.acquire(timeout=LONGEST_WAIT_SECONDS):
            return None
        request.turn = turn  # type: ignore[attr-defined]
        if turn.answer is not None and request.came_at < turn.at:  # type: ignore[attr-defined]
            request.answered_before = True  # type: ignore[attr-defined]
            _say_again(request, turn.said)
            return _kept(turn.answer)
        return None

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponseBase | None:
        """Read a form once more whose key somebody saved between the look for it and the row."""
        if not isinstance(exception, IntegrityError) or not _mark(request) or hasattr(request, "read_again"):
            return None
        match = request.resolver_match
        if match is None:
            return None
        request.read_again = True  # type: ignore[attr-defined]
        answer: HttpResponseBase = match.func(request, *match.args, **match.kwargs)
        return answer

    def _turn(self, mark: str) -> _Turn:
        with self.guard:
            turn = self.turns.setdefault(mark, _Turn())
            self.turns.move_to_end(mark)
            while len(self.turns) > MOST_KEPT:
                self.turns.popitem(last=False)
            return turn


def _mark(request: HttpRequest) -> str:
    """Return what tells a form from every other: who sends it, where, its key and its fields; "" without a key."""
    if request.method != "POST":
        return ""
    try:
        key = UUID(request.POST.get(NAME, ""))
    except ValueError:
        return ""
    sent = [(name, values) for name, values in request.POST.lists() if name not in _NO_MATTER]
    files = [(name, file.name, file.size) for name, files in request.FILES.lists() for file in files]
    who = getattr(request, "user", None)
    part = request.headers.get("HX-Request")
    said = repr((getattr(who, "pk", None), request.get_full_path(), part, key, sent, files))
    return hashlib.sha256(said.encode("utf-8", "replace")).hexdigest()


def _was_taken(response: HttpResponseBase) -> bool:
    """Say whether an answer leads on: a form that was refused, or only looked at, is read anew each time."""
    return response.status_code in (302, 303) or any(map(response.has_header, ("HX-Redirect", "HX-Location")))


def _kept(response: HttpResponseBase) -> HttpResponse:
    """Return a copy of an answer without its cookies: they are of the browser that was answered."""
    to = response.headers.get("Location")
    answer = HttpResponse(getattr(response, "content", b""), status=response.status_code)
    if to is not None:
        answer = HttpResponseRedirect(to, status=response.status_code)
    answer.headers = copy(response.headers)
    return answer


def _said(request: HttpRequest) -> list[Message]:
    """Return the messages that go with an answer, which reads none of them: the next page shows them."""
    storage = messages.get_messages(request)
    if not isinstance(storage, BaseStorage):
        return []
    were_read = storage.used
    said = list(storage)
    storage.used = were_read
    return said


def _say_again(request: HttpRequest, said: list[Message]) -> None:
    """Let the second answer bring what the first said: a browser that was clicked twice shows the second alone."""
    brought = _said(request)
    for message in said:
        if message not in brought:
            messages.add_message(request, message.level, message.message, message.extra_tags)
