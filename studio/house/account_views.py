"""One's own account: the password, the PIN, whether this is the bench tablet, and where one is logged in."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from studio.house.changes import note_change
from studio.house.http import REFUSED, DeskRequest
from studio.house.idle_lock import MINUTES, MOST_MINUTES, make_tablet
from studio.house.log_in_throttle import check_own_password
from studio.house.models import ChangeRecord
from studio.house.people import log_out_of, set_pin
from studio.house.second_step import has_second_step
from studio.house.sessions import keep_tablet, sessions_of
from studio.kit.access import at_the_desk
from studio.kit.errors import DaybookError

_ENDED = {0: "That log-in had ended already.", 1: "One log-in is ended."}


def say_ended(request: DeskRequest, ended: int) -> None:
    messages.success(request, _ENDED.get(ended, f"{ended} log-ins are ended."))


class OwnPasswordOnly(forms.Form):
    """The own password, asked again before something of the account is changed."""

    own_password = forms.CharField(
        label="Your password", strip=False, widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}))

    def __init__(self, request: DeskRequest, *given: Any) -> None:
        super().__init__(*given)
        self._request = request

    def clean_own_password(self) -> str:
        typed = str(self.cleaned_data["own_password"])
        check_own_password(self._request, self._request.user, typed)
        return typed


class PinForm(OwnPasswordOnly):
    """A PIN for the bench tablet; whoever sets it shows that it is theirs to set."""

    pin = forms.CharField(
        max_length=8, label="New PIN", help_text="4 to 8 figures; it opens a locked bench tablet and nothing else.",
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off", "data-may-show": ""}),
    )
    field_order = ["pin", "own_password"]


class TabletForm(forms.Form):
    minutes = forms.IntegerField(
        min_value=1, max_value=MOST_MINUTES, initial=MINUTES, label="Lock after, minutes",
        help_text="When nobody has touched it for so long.",
    )


@at_the_desk
@require_safe
def account(request: DeskRequest) -> HttpResponse:
    return account_page(request)


def account_page(request: DeskRequest, **refused: forms.Form) -> HttpResponse:
    """Return one's own account. refused: forms by their names here, pin_form or tablet_form, to be shown again."""
    row: Any = getattr(request.session, "row", None)
    return render(request, "house/account.html", {
        "sessions": sessions_of(request.user), "here": request.session.session_key,
        "has_second_step": has_second_step(request.user),
        "has_pin": bool(request.user.pin), "tablet": row.tablet_minutes if row is not None else None,
        "pin_form": PinForm(request), "tablet_form": TabletForm(), **refused,
    }, status=REFUSED if refused else 200)


@at_the_desk
@require_POST
def own_pin(request: DeskRequest) -> HttpResponse:
    """Set one's own PIN, or remove it."""
    if "remove" in request.POST:
        set_pin(request.user, "")
        messages.success(request, "Your PIN is removed.")
        return redirect("studio:account")
    form = PinForm(request, request.POST)
    if form.is_valid():
        try:
            set_pin(request.user, form.cleaned_data["pin"])
            messages.success(request, "Your PIN is set.")
            return redirect("studio:account")
        except DaybookError as refusal:
            form.add_error(refusal.field, str(refusal))
    return account_page(request, pin_form=form)


@at_the_desk
@require_POST
def bench_tablet(request: DeskRequest) -> HttpResponse:
    """Make this browser the bench tablet, or an ordinary one again."""
    row: Any = getattr(request.session, "row", None)
    form, minutes, name = TabletForm(request.POST), None, request.user.username
    if row is not None and "end" in request.POST:
        make_tablet(row, minutes)
        note_change(ChangeRecord.Kind.DOOR, name, "a bench tablet is an ordinary browser again")
        messages.success(request, "This browser does not lock any more.")
    elif row is not None and form.is_valid():
        minutes = form.cleaned_data["minutes"]
        make_tablet(row, minutes)
        untouched = "a minute" if minutes == 1 else f"{minutes} minutes"
        note_change(ChangeRecord.Kind.DOOR, name, f"a browser is the bench tablet: it locks untouched for {untouched}")
        messages.success(request, "This is the bench tablet now, whoever logs in here: it locks when nobody touches "
                                  f"it for {untouched}.")
    else:
        return account_page(request, tablet_form=form)
    answer = redirect("studio:account")
    keep_tablet(answer, minutes)
    return answer


@at_the_desk
@require_POST
def end_own_session(request: DeskRequest, public: UUID) -> HttpResponse:
    say_ended(request, log_out_of(request.user.pk, by=request.user, public=public))
    return redirect("studio:account")


@at_the_desk
@require_POST
def end_other_sessions(request: DeskRequest) -> HttpResponse:
    say_ended(request, log_out_of(request.user.pk, by=request.user, but=request.session.session_key))
    return redirect("studio:account")
