"""Who changed what: settings, rates, prices, recipes in use, people, and who came to the door.

A model that is watched tells of itself whenever one of its rows is saved or removed, in the same transaction, whatever
page or program did it. Rows that are written without being loaded (`update`, `bulk_create`) are told of by hand.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.db import models
from django.db.models.signals import post_delete, post_save, pre_save

from studio.house.at_hand import asked_from, person_at_hand
from studio.house.clock import now
from studio.house.models import ChangeRecord, Person, PersonAct
from studio.kit.locks import column_in_words

#: a long text is kept by its beginning: the record says that it was changed, papers keep what it said
LONGEST = 200
#: so many failures of one name stand in the record within so long; the log file holds them all
FAILURES, WITHIN = 10, timedelta(minutes=10)
UNKNOWN = "a name that nobody has"
security = logging.getLogger("daybook.security")

InWords = Callable[[Any, str], tuple[str, str]]


@dataclass(frozen=True, kw_only=True)
class Watched:
    """What is told of a model: of which columns, about what, and how a column is read.

    secret: columns that are told to have changed, and no more. told_by_acts: pages keep acts of their own about it, so
    that only what was done without a page is told. follows: the row that a new one takes over from, if any.
    """

    kind: str
    subject: Callable[[Any], str]
    columns: tuple[str, ...]
    in_words: InWords
    secret: frozenset[str]
    told_by_acts: bool
    follows: Callable[[Any], Any]


_watched: dict[type[models.Model], Watched] = {}


def watch(model: type[models.Model], *, kind: str, subject: Callable[[Any], str], columns: Iterable[str],
          in_words: InWords = column_in_words, secret: Iterable[str] = (), told_by_acts: bool = False,
          follows: Callable[[Any], Any] = lambda row: None) -> None:
    """Keep what is changed in these columns of a model from now on."""
    if model in _watched:
        return
    _watched[model] = Watched(kind=kind, subject=subject, columns=tuple(columns), in_words=in_words,
                              secret=frozenset(secret), told_by_acts=told_by_acts, follows=follows)
    pre_save.connect(_before_saving, sender=model, dispatch_uid=f"changes of {model.__name__}")
    post_save.connect(_after_saving, sender=model, dispatch_uid=f"changes of {model.__name__}")
    post_delete.connect(_after_removing, sender=model, dispatch_uid=f"changes of {model.__name__}")


def note_change(kind: str, subject: str, what: str, *, by: Person | None = None) -> ChangeRecord:
    """Append one change; by whom, where nobody is named: whoever's page is being answered."""
    change = ChangeRecord.objects.create(
        at=now(), by=by or person_at_hand(), kind=kind, subject=subject[:200], what=what, asked_from=asked_from(),
    )
    if kind in (ChangeRecord.Kind.PEOPLE, ChangeRecord.Kind.DOOR):
        security.info("%s: %s", change.subject, change.what)
    return change


def told_changes(before: Any, row: Any, watched: Watched) -> list[str]:
    """Return what differs between two states of a row, a phrase each: “list price: 12.00 → 14.00”."""
    told = []
    for name in watched.columns:
        (label, old), (_, new) = watched.in_words(before, name), watched.in_words(row, name)
        if old != new:
            told.append(f"{label} changed" if name in watched.secret else f"{label}: {_short(old)} → {_short(new)}")
    return told


def _held(row: Any, watched: Watched) -> str:
    names = [name for name in watched.columns if name not in watched.secret and getattr(row, name) not in (None, "")]
    return ", ".join(f"{label} {_short(value)}" for label, value in (watched.in_words(row, name) for name in names))


def _short(value: str) -> str:
    return value if len(value) <= LONGEST else f"{value[:LONGEST]}…"


def _before_saving(sender: type[models.Model], instance: Any, raw: bool, using: str, **_: Any) -> None:
    """Remember the row as it was."""
    if not raw and instance.pk and not instance._state.adding:
        instance._before_saving = sender._base_manager.using(using).filter(pk=instance.pk).first()


def _after_saving(sender: type[models.Model], instance: Any, created: bool, raw: bool, using: str, **_: Any) -> None:
    watched = _watched[sender]
    if raw or (watched.told_by_acts and person_at_hand() is not None):
        return
    # read back as the database holds it: what was typed and what is kept are told alike
    row = sender._base_manager.using(using).get(pk=instance.pk)
    before = instance.__dict__.pop("_before_saving", None) or watched.follows(row)
    new = f"new: {_held(row, watched)}".removesuffix(": ")  # all of it may be secret
    what = new if before is None else "; ".join(told_changes(before, row, watched))
    if what:
        note_change(watched.kind, watched.subject(row), what)


def _after_removing(sender: type[models.Model], instance: Any, **_: Any) -> None:
    watched = _watched[sender]
    note_change(watched.kind, watched.subject(instance), "removed")


def _person_acted(sender: Any, instance: PersonAct, created: bool, raw: bool, **_: Any) -> None:
    if created and not raw:
        note_change(ChangeRecord.Kind.PEOPLE, instance.person.name, instance.what, by=instance.by)


def _came_in(sender: Any, request: Any, user: Person, **_: Any) -> None:
    note_change(ChangeRecord.Kind.DOOR, user.username, "logged in", by=user)


def _went_out(sender: Any, request: Any, user: Person | None, **_: Any) -> None:
    if user is not None:
        note_change(ChangeRecord.Kind.DOOR, user.username, "logged out", by=user)


def _stayed_out(sender: Any, credentials: dict[str, Any], request: Any = None, **_: Any) -> None:
    """Keep a failed log-in. A name that nobody has is not kept: it may be a password in the wrong box."""
    person = Person.objects.filter(username__iexact=str(credentials.get("username") or "")[:150]).first()
    subject = person.username if person else UNKNOWN
    note_failure(subject, "log-in failed")


def note_failure(subject: str, what: str) -> None:
    """Keep that somebody was not let in: in the log each time, in the record as often as somebody would read it."""
    security.warning("%s: %s, from %s", subject, what, asked_from() or "a program")
    lately = ChangeRecord.objects.filter(kind=ChangeRecord.Kind.DOOR, subject=subject, what=what,
                                         asked_from=asked_from(), at__gte=now() - WITHIN)
    if lately.count() < FAILURES:
        note_change(ChangeRecord.Kind.DOOR, subject, what)


def listen() -> None:
    """Keep what is done about people and at the door."""
    post_save.connect(_person_acted, sender=PersonAct, dispatch_uid="changes of people")
    user_logged_in.connect(_came_in, dispatch_uid="changes at the door, in")
    user_logged_out.connect(_went_out, dispatch_uid="changes at the door, out")
    user_login_failed.connect(_stayed_out, dispatch_uid="changes at the door, failed")
