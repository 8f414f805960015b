"""Sessions that say whose they are, since when, in what kind of browser, and when they were last used."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseSessions
from django.db import OperationalError
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from studio.house.clock import now
from studio.house.models import Person, PersonSession
from studio.kit.typed_numbers import whole_number

_BROWSER, _MADE = "browser", "logged_in_at"
_OF_TABLET = ("tablet_minutes", "acted_at", "locked_at", "wrong_pins")
#: a tablet is the browser's, not the log-in's: whoever logs in there next is locked out too
TABLET_COOKIE = f"{'__Host-' if settings.SESSION_COOKIE_SECURE else ''}bench-tablet"
_TABLET_KEPT = timedelta(days=365)
#: how old “last seen” may be before it is written again
_SEEN_AGAIN = timedelta(minutes=1)

#: the first that a browser's name for itself holds: many name others too
_BROWSERS = (("Edg", "Edge"), ("OPR/", "Opera"), ("SamsungBrowser", "Samsung browser"), ("Firefox", "Firefox"),
             ("FxiOS", "Firefox"), ("CriOS", "Chrome"), ("Chrom", "Chrome"), ("Safari", "Safari"))
_MACHINES = (("iPad", "iPad"), ("iPhone", "iPhone"), ("Android", "Android"), ("Windows", "Windows"),
             ("CrOS", "a Chromebook"), ("Mac OS X", "a Mac"), ("Linux", "Linux"))


def browser_words(user_agent: str) -> str:
    """Return a browser's name for itself in a person's words, “Firefox on Windows”; "" where it says nothing known."""
    browser, machine = (
        next((words for mark, words in table if re.search(re.escape(mark), user_agent)), "")
        for table in (_BROWSERS, _MACHINES)
    )
    return f"{browser or 'A browser'} on {machine}" if machine else browser


class SessionStore(DatabaseSessions):
    """The framework's sessions in the database, in rows that say whose they are."""

    row: PersonSession | None = None

    @classmethod
    def get_model_class(cls) -> type[PersonSession]:
        return PersonSession

    def _get_session_from_db(self) -> PersonSession | None:
        self.row = super()._get_session_from_db()  # type: ignore[misc]  # the stubs leave it out
        return self.row

    def _validate_session_key(self, key: str) -> bool:
        """A key is letters and figures: no database is asked for anything else that a browser sends."""
        return bool(super()._validate_session_key(key)) and key.isascii() and key.isalnum()  # type: ignore[misc]

    def create_model_instance(self, data: dict[str, Any]) -> PersonSession:
        row: Any = super().create_model_instance(data)
        row.person_id = int(data[SESSION_KEY]) if SESSION_KEY in data else None
        row.made_at = datetime.fromisoformat(data[_MADE]) if _MADE in data else now()
        row.browser, row.seen_at = data.get(_BROWSER, ""), now()
        if self.row is not None and self.row.person_id == row.person_id:  # a new key after a new password
            for name in _OF_TABLET:
                setattr(row, name, getattr(self.row, name))
        return row

    def flush(self) -> None:
        super().flush()
        self.row = None


def keep_tablet(answer: HttpResponse, minutes: int | None) -> None:
    """Let a browser keep that it is the bench tablet, whoever logs in there next; None: that it is none."""
    if minutes is None:
        answer.delete_cookie(TABLET_COOKIE, samesite="Strict")
        return
    answer.set_signed_cookie(
        TABLET_COOKIE, str(minutes), salt=TABLET_COOKIE, max_age=_TABLET_KEPT, httponly=True, samesite="Strict",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def kept_minutes(request: HttpRequest) -> int | None:
    """Return after how many idle minutes a browser locks that was made the bench tablet; None for any other."""
    kept = request.get_signed_cookie(TABLET_COOKIE, default="", salt=TABLET_COOKIE, max_age=_TABLET_KEPT)
    return whole_number(kept) if kept else None


def note_browser(sender: Any, request: HttpRequest, user: Person, **_: Any) -> None:
    """Keep with a session that begins its browser and its beginning, and that the browser is the bench tablet."""
    request.session[_BROWSER] = browser_words(request.META.get("HTTP_USER_AGENT", ""))
    request.session[_MADE] = now().isoformat()
    if minutes := kept_minutes(request):
        if request.session.session_key is None:
            request.session.create()
        PersonSession.objects.filter(pk=request.session.session_key).update(tablet_minutes=minutes, acted_at=now())


class LastSeen:
    """Write when a session was last used, once a minute at most."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        known = request.user.is_authenticated  # the session is read now
        row: PersonSession | None = getattr(request.session, "row", None)
        if known and row is not None and abs(now() - row.seen_at) >= _SEEN_AGAIN:
            with suppress(OperationalError):  # somebody saves for long: it is written with the next page
                PersonSession.objects.filter(pk=row.pk).update(seen_at=now())
        return self.get_response(request)


def sessions_of(person: Person) -> QuerySet[PersonSession]:
    """Return where somebody is logged in, what was used last first."""
    return PersonSession.objects.filter(person=person, expire_date__gt=timezone.now()).order_by("-seen_at", "public")


def end_sessions(person: Person, *, public: UUID | None = None, but: str | None = None) -> list[str]:
    """End somebody's sessions, or the one of a public name, but never the one with the key `but`; return browsers."""
    ending = sessions_of(person)
    if public is not None:
        ending = ending.filter(public=public)
    if but is not None:
        ending = ending.exclude(pk=but)
    browsers = list(ending.values_list("browser", flat=True))
    ending.order_by().delete()
    return browsers
