"""Pages of the second step: asked at the door, set up and removed on one's own account."""

from __future__ import annotations

from datetime import timedelta

from django import forms
from django.contrib import messages
from django.contrib.auth import login
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.urls import reverse
from django.utils.crypto import constant_time_compare
from django.utils.dateparse import parse_datetime
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_http_methods, require_POST, require_safe

from studio.house.account_views import OwnPasswordOnly
from studio.house.clock import now
from studio.house.http import REFUSED, DeskRequest
from studio.house.models import Person
from studio.house.second_step import (
    NotTheCode,
    begin,
    begun_device,
    check_code,
    codes_left,
    confirm,
    has_second_step,
    new_codes,
    picture,
    remove,
    written_key,
)
from studio.kit.access import at_the_desk, open_door
from studio.kit.errors import DaybookError

#: where a session keeps who gave the right password and is asked for a code, and the recovery codes to be shown once
_ASKED, _CODES = "asked for a code", "recovery codes"
#: how long a right password waits for its code
_PATIENCE = timedelta(minutes=5)
_BACKEND = "django.contrib.auth.backends.ModelBackend"


class CodeForm(forms.Form):
    code = forms.CharField(max_length=30, label="Code", widget=forms.TextInput(attrs={
        "autocomplete": "one-time-code", "autofocus": True, "autocapitalize": "none", "spellcheck": "false"}))


class CodeAndPassword(CodeForm, OwnPasswordOnly):
    """A device counts once it gave a code, and its owner the password."""

    field_order = ["code", "own_password"]


def ask_for_code(request: HttpRequest, person: Person, onward: str) -> HttpResponse:
    """Keep that somebody gave the right password, and ask for the code: nobody is logged in yet."""
    request.session.cycle_key()
    request.session[_ASKED] = [person.pk, person.get_session_auth_hash(), now().isoformat(), onward]
    return redirect("studio:log_in_code")


def _asked(request: HttpRequest) -> tuple[Person | None, str]:
    pk, of_password, since, onward = request.session.get(_ASKED, [0, "", "", ""])
    begun = parse_datetime(since) if since else None
    person = Person.objects.filter(pk=pk, is_active=True).first()
    if person is None or begun is None or not timedelta(0) <= now() - begun <= _PATIENCE:
        return None, ""
    return (person, onward) if constant_time_compare(of_password, person.get_session_auth_hash()) else (None, "")


@open_door
@require_http_methods(["GET", "HEAD", "POST"])
def log_in_code(request: HttpRequest) -> HttpResponse:
    """Ask whoever gave the right password for the code, and log in."""
    person, onward = _asked(request)
    if person is None:
        request.session.pop(_ASKED, None)
        messages.warning(request, "The password is asked for again: its code was not given within five minutes.")
        return redirect("studio:log_in")
    form = CodeForm(request.POST or None)
    if form.is_valid():
        try:
            check_code(person, form.cleaned_data["code"])
            del request.session[_ASKED]
            login(request, person, backend=_BACKEND)
            safe = url_has_allowed_host_and_scheme(onward, {request.get_host()}, require_https=request.is_secure())
            return redirect(onward if safe else resolve_url("studio:today"))
        except NotTheCode as refusal:
            form.add_error("code", str(refusal))
    return render(request, "house/log_in_code.html", {"form": form}, status=REFUSED if form.is_bound else 200)


@at_the_desk
@require_safe
def second_step(request: DeskRequest) -> HttpResponse:
    return _page(request)


def _page(request: DeskRequest, **refused: forms.Form) -> HttpResponse:
    device, is_on = begun_device(request.user), has_second_step(request.user)
    answer = render(request, "house/second_step.html", {
        "is_on": is_on, "codes_left": codes_left(request.user) if is_on else 0,
        "written_key": written_key(device) if device is not None and not is_on else "",
        "confirm_form": CodeAndPassword(request), "password_form": OwnPasswordOnly(request), **refused,
    }, status=REFUSED if refused else 200)
    answer["Cache-Control"] = "no-store"
    return answer


@at_the_desk
@require_safe
def second_step_picture(request: DeskRequest) -> HttpResponse:
    """Give the picture that a device reads, while it is set up."""
    device = begun_device(request.user)
    if device is None:
        raise Http404
    return HttpResponse(picture(device), content_type="image/svg+xml", headers={"Cache-Control": "no-store"})


@at_the_desk
@require_POST
def begin_second_step(request: DeskRequest) -> HttpResponse:
    try:
        begin(request.user)
    except DaybookError as refusal:
        messages.warning(request, str(refusal))
    return redirect("studio:second_step")


@at_the_desk
@require_POST
def confirm_second_step(request: DeskRequest) -> HttpResponse:
    form = CodeAndPassword(request, request.POST)
    if form.is_valid():
        try:
            codes = confirm(request.user, form.cleaned_data["code"], here=request.session.session_key)
            return _show_codes(request, codes)
        except NotTheCode as refusal:
            form.add_error("code", str(refusal))
    return _page(request, confirm_form=form)


@at_the_desk
@require_POST
def change_second_step(request: DeskRequest) -> HttpResponse:
    """Make new recovery codes, or remove the second step: with the password."""
    form = OwnPasswordOnly(request, request.POST)
    if not form.is_valid() or not has_second_step(request.user):
        return _page(request, password_form=form)
    if "remove" not in request.POST:
        return _show_codes(request, new_codes(request.user))
    remove(request.user, by=request.user)
    messages.success(request, "The second step is removed: your password alone logs you in.")
    return redirect("studio:account")


def _show_codes(request: DeskRequest, codes: list[str]) -> HttpResponse:
    """Lead to the page that shows recovery codes: loaded again it shows none."""
    request.session[_CODES] = codes
    return redirect(reverse("studio:recovery_codes"))


@at_the_desk
@require_GET
def recovery_codes(request: DeskRequest) -> HttpResponse:
    """Show recovery codes that were just made: once, and nothing keeps them."""
    codes = request.session.pop(_CODES, None)
    if codes is None:
        messages.warning(request, "Recovery codes are shown once. Nobody noted them? Make new ones here.")
        return redirect("studio:second_step")
    answer = render(request, "house/recovery_codes.html", {"codes": codes})
    answer["Cache-Control"] = "no-store"
    return answer
