"""Who works here: added, changed, let go, let back in, given a new password; who did it and when is kept."""

from __future__ import annotations

import secrets
from typing import Any
from uuid import UUID

from django.contrib.auth.hashers import make_password
from django.db import transaction

from studio.house.clock import now
from studio.house.idle_lock import check_pin
from studio.house.log_in_throttle import held_back_until, let_try_again
from studio.house.models import Person, PersonAct
from studio.house.sessions import end_sessions
from studio.kit.errors import DaybookError
from studio.kit.roles import OWNER

#: letters and figures that nobody mistakes for another on a slip of paper
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
LAST_OWNER = ("{name} is the only owner who can log in: make somebody else an owner first, else nobody could change "
              "the studio.")


class LastOwner(DaybookError):
    """The studio would be left without an owner who can log in."""


def one_time_password() -> str:
    """Return a password to be told once, “k7mq-x3vp-9tda”: some 59 bits, replaced at the first log-in."""
    letters = "".join(secrets.choice(_LETTERS) for _ in range(12))
    return "-".join(letters[at:at + 4] for at in range(0, 12, 4))


@transaction.atomic
def add_person(person: Person, *, by: Person) -> str:
    """Save a new person; return the one-time password that opens the first log-in."""
    password = _with_one_time_password(person)
    person.save()
    note(person, by, f"was added as {person.role}")
    return password


@transaction.atomic
def change_person(pk: int, *, by: Person, first_name: str, last_name: str, role: str) -> Person:
    """Give somebody another name or role. Raises LastOwner."""
    person = _locked(pk)
    if role != person.role and person.is_owner:
        _keep_an_owner(person)
    told = []
    if (first_name, last_name) != (person.first_name, person.last_name):
        told.append(f"is now called {f'{first_name} {last_name}'.strip() or person.username}")
    if role != person.role:
        told.append(f"is now {role}, was {person.role}")
    person.first_name, person.last_name, person.role = first_name, last_name, role
    person.full_clean(exclude=["password"])
    person.save(update_fields=["first_name", "last_name", "role"])
    for what in told:
        note(person, by, what)
    return person


@transaction.atomic
def let_go(pk: int, *, by: Person) -> Person:
    """Let somebody no longer log in; whoever is logged in so is out with the next page. Raises LastOwner."""
    person = _locked(pk)
    if not person.is_active:
        return person
    if person.is_owner:
        _keep_an_owner(person)
    person.is_active = False
    person.save(update_fields=["is_active"])
    end_sessions(person)
    note(person, by, "was let go")
    return person


@transaction.atomic
def let_back_in(pk: int, *, by: Person) -> tuple[Person, str]:
    """Let somebody log in again; return the one-time password, since the old one is not trusted any more."""
    person = _locked(pk)
    if person.is_active:
        raise DaybookError(f"{person.name} can log in already.")
    password = _with_one_time_password(person)
    person.is_active = True
    person.save(update_fields=["is_active", "password", "must_change_password", "pin"])
    note(person, by, "was let back in")
    return person, password


@transaction.atomic
def reset_password(pk: int, *, by: Person) -> tuple[Person, str]:
    """Give somebody a one-time password: the old one, and every session it opened, ends."""
    person = _locked(pk)
    if not person.is_active:
        raise DaybookError(f"{person.name} was let go: let them back in first.")
    password = _with_one_time_password(person)
    person.save(update_fields=["password", "must_change_password", "pin"])
    end_sessions(person)
    note(person, by, "was given a one-time password")
    return person, password


@transaction.atomic
def unlock(pk: int, *, by: Person) -> Person:
    """Let somebody try to log in again at once, after too many wrong tries."""
    person = Person.objects.get(pk=pk)
    if held_back_until(person) is not None:
        let_try_again(person)
        note(person, by, "may try to log in again")
    return person


@transaction.atomic
@transaction.atomic
def replace_own_password(person: Person, password: str) -> Person:
    """Give somebody the password they chose. Raises DaybookError where they were let go or reset meanwhile."""
    row = _locked(person.pk)
    if not row.is_active or row.password != person.password:
        raise DaybookError("Your password or your place here was changed by the owner just now: nothing was saved.")
    row.set_password(password)
    row.must_change_password = False
    row.save(update_fields=["password", "must_change_password"])
    return row


def note_own_password(person: Person, *, here: str | None) -> None:
    """Keep that somebody changed the own password, and end every session but the one with this key."""
    end_sessions(person, but=here)
    note(person, person, "changed the own password")


@transaction.atomic
def log_out_of(pk: int, *, by: Person, public: UUID | None = None, but: str | None = None) -> int:
    """End somebody's session of this public name, or all but the one with a key; return how many ended."""
    person = Person.objects.get(pk=pk)
    ended = end_sessions(person, public=public, but=but)
    for browser in ended:
        note(person, by, f"was logged out of {browser or 'a browser'}")
    return len(ended)


@transaction.atomic
def set_pin(person: Person, pin: str) -> None:
    """Save the own PIN, or remove it with ""; raises DaybookError for one that anybody would guess."""
    if pin:
        check_pin(pin)
    person.pin = make_password(pin) if pin else ""
    person.save(update_fields=["pin"])
    note(person, person, "set a PIN" if pin else "removed the PIN")


def _with_one_time_password(person: Person) -> str:
    password = one_time_password()
    person.set_password(password)
    person.must_change_password, person.pin = True, ""
    return password


def _locked(pk: int) -> Person:
    """Return a person to change. All owners are locked first: two who let each other go wait for each other."""
    list(Person.objects.select_for_update().filter(role=OWNER).order_by("pk"))
    return Person.objects.select_for_update().get(pk=pk)


def _keep_an_owner(person: Person) -> None:
    others = Person.objects.filter(role=OWNER, is_active=True).exclude(pk=person.pk)
    if person.is_active and not others.exists():
        raise LastOwner(LAST_OWNER.format(name=person.name), "role")


def note(person: Person, by: Person, what: str) -> Any:
    """Keep what was done about somebody."""
    return PersonAct.objects.create(person=person, by=by, at=now(), what=what[:200])
