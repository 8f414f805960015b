"""Pages of who works here: add a person, change one, let go, give a new password."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.db.models import F, Max
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.house.account_views import say_ended
from studio.house.forms import ChangePersonForm, PersonForm
from studio.house.http import REFUSED, DeskRequest
from studio.house.lists import ordered
from studio.house.log_in_throttle import held_back_until
from studio.house.models import Person
from studio.house.passwords import HELP
from studio.house.people import (
    LastOwner,
    add_person,
    change_person,
    let_back_in,
    let_go,
    log_out_of,
    reset_password,
    unlock,
)
from studio.house.second_step import has_second_step, remove
from studio.house.sessions import sessions_of
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import ROLES, May

#: the heads of the list of people, who was never changed last; who works here first where none is asked
SORTS: dict[str, Sequence[Any]] = {
    "who": ("-is_active", "username"), "name": ("username",), "role": ("role", "username"),
    "changed": (F("changed_at").asc(nulls_last=True), "username"),
}


@allowed(May.PEOPLE)
@require_http_methods(["GET", "HEAD", "POST"])
def people_page(request: DeskRequest) -> HttpResponse:
    """Who works here, and a form to add a person."""
    form = PersonForm(request.POST or None)
    if form.is_valid():
        person = form.save(commit=False)
        return _told_once(request, person, add_person(person, by=request.user))
    people = ordered(request, Person.objects.annotate(changed_at=Max("acts__at")), SORTS)
    return render(request, "house/people.html", {"form": form, "listing": people, "roles": ROLES},
                  status=REFUSED if form.is_bound else 200)


@allowed(May.PEOPLE)
@require_http_methods(["GET", "HEAD", "POST"])
def person_page(request: DeskRequest, pk: int) -> HttpResponse:
    """One person: name and role to change, what was done, and the ways out and in."""
    person = get_object_or_404(Person, pk=pk)
    form = ChangePersonForm(request.POST or None, instance=person)
    if form.is_valid():
        try:
            changed = change_person(pk, by=request.user, **form.cleaned_data)
            messages.success(request, f"{changed.name} is saved.")
            return redirect("studio:people")
        except LastOwner as refusal:
            form.add_error(refusal.field, str(refusal))
    return _person_answer(request, person.pk, form)


def _person_answer(request: DeskRequest, pk: int, form: ChangePersonForm | None = None,
                   refusal: str = "") -> HttpResponse:
    person = Person.objects.get(pk=pk)  # as saved: a refused form has put its values on its own instance
    refused = bool(refusal) or (form is not None and form.is_bound)
    return render(request, "house/person.html", {
        "person": person, "form": form or ChangePersonForm(instance=person), "refusal": refusal,
        "acts": person.acts.select_related("by"), "own": person.pk == request.user.pk,
        "has_second_step": has_second_step(person),
        "held_back": held_back_until(person),
        "sessions": sessions_of(person), "here": request.session.session_key,
    }, status=REFUSED if refused else 200)


@allowed(May.PEOPLE)
@require_POST
def let_person_go(request: DeskRequest, pk: int) -> HttpResponse:
    get_object_or_404(Person, pk=pk)
    try:
        person = let_go(pk, by=request.user)
    except LastOwner as refusal:
        return _person_answer(request, pk, refusal=str(refusal))
    messages.success(request, f"{person.name} can no longer log in, and is logged out everywhere.")
    return redirect("studio:log_in" if person.pk == request.user.pk else "studio:people")


@allowed(May.PEOPLE)
@require_POST
def let_person_back_in(request: DeskRequest, pk: int) -> HttpResponse:
    get_object_or_404(Person, pk=pk)
    try:
        return _told_once(request, *let_back_in(pk, by=request.user))
    except DaybookError as refusal:
        return _person_answer(request, pk, refusal=str(refusal))


@allowed(May.PEOPLE)
@require_POST
def give_one_time_password(request: DeskRequest, pk: int) -> HttpResponse:
    get_object_or_404(Person, pk=pk)
    if pk == request.user.pk:
        return _person_answer(request, pk, refusal="Your own password you change yourself, with the old one.")
    try:
        return _told_once(request, *reset_password(pk, by=request.user))
    except DaybookError as refusal:
        return _person_answer(request, pk, refusal=str(refusal))


@allowed(May.PEOPLE)
@require_POST
def let_person_try_again(request: DeskRequest, pk: int) -> HttpResponse:
    get_object_or_404(Person, pk=pk)
    messages.success(request, f"{unlock(pk, by=request.user).name} can try to log in again.")
    return redirect("studio:person", pk)


@allowed(May.PEOPLE)
@require_POST
def end_session(request: DeskRequest, pk: int, public: UUID | None = None) -> HttpResponse:
    """End one of somebody's sessions, or all but the one that asks."""
    get_object_or_404(Person, pk=pk)
    but = request.session.session_key if public is None else None
    say_ended(request, log_out_of(pk, by=request.user, public=public, but=but))
    return redirect("studio:person", pk)


@allowed(May.PEOPLE)
@require_POST
def remove_second_step(request: DeskRequest, pk: int) -> HttpResponse:
    """Let somebody who lost the device log in with the password alone; one's own is removed with the password."""
    person = get_object_or_404(Person, pk=pk)
    if pk == request.user.pk:
        return redirect("studio:second_step")
    remove(person, by=request.user)
    messages.success(request, f"{person.name} logs in with the password alone.")
    return redirect("studio:person", pk)


#: where a session keeps a one-time password from its making until the page that shows it
_TOLD = "one-time password"


def _told_once(request: DeskRequest, person: Person, password: str) -> HttpResponse:
    """Lead to the page that shows a one-time password: loaded again it neither makes another nor shows this one."""
    request.session[_TOLD] = [person.pk, password]
    return redirect("studio:told_once", person.pk)


@allowed(May.PEOPLE)
@require_GET
def told_once(request: DeskRequest, pk: int) -> HttpResponse:
    """Show a one-time password that was just made: once, and nothing keeps it."""
    person = get_object_or_404(Person, pk=pk)
    of, password = request.session.pop(_TOLD, [0, ""])
    if of != pk:
        messages.warning(request, f"The one-time password of {person.name} was shown once. Nobody noted it? Give "
                                  "another here.")
        return redirect("studio:person", pk)
    answer = render(request, "house/one_time_password.html", {"person": person, "password": password, "help": HELP})
    answer["Cache-Control"] = "no-store"
    return answer
