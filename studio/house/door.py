"""The door: logging in and out, one's own password, and the one page that a one-time password opens."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.contrib.auth.views import LoginView, LogoutView, PasswordChangeView
from django.core.exceptions import NON_FIELD_ERRORS
from django.core.validators import MaxLengthValidator
from django.http import HttpRequest, HttpResponse, HttpResponseBase, HttpResponseRedirect
from django.shortcuts import redirect
from django.urls import reverse_lazy

from studio.house.begun import refuse_lost
from studio.house.http import REFUSED
from studio.house.log_in_throttle import TOO_OFTEN, check_own_password, wait_for
from studio.house.models import Person
from studio.house.passwords import HELP
from studio.house.people import note_own_password, replace_own_password
from studio.house.second_step import has_second_step
from studio.house.second_step_views import ask_for_code
from studio.kit.access import at_the_desk, open_door
from studio.kit.errors import DaybookError

NOT_TOGETHER = ("That name and password do not go together. Capital letters count in the password: see that Caps Lock "
                "is off. Whoever has forgotten the password asks the owner for a new one.")
TOO_MANY = 429
LET_GO = "You can no longer log in here: ask the owner to let you back in."
LONGEST_NAME = 150
ONE_TIME = "Your password was made for you: choose one of your own, then go on."


class LogInForm(AuthenticationForm):
    """A log-in name and a password; what is wrong is said in plain words."""

    error_messages = {"invalid_login": NOT_TOGETHER, "inactive": LET_GO}

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        self.fields["username"].label = "Log-in name"
        bound: Any = self.fields["username"]
        bound.max_length = LONGEST_NAME
        bound.validators.append(MaxLengthValidator(LONGEST_NAME, "No log-in name is that long."))
        self.fields["username"].error_messages["required"] = "Write your log-in name."
        self.fields["password"].error_messages["required"] = "Write your password."
        self.fields["password"].widget.attrs["data-may-show"] = ""

    def clean(self) -> dict[str, Any]:
        """Say how long to wait after too many wrong tries; tell whoever was let go so, with the right password."""
        try:
            return super().clean()
        except forms.ValidationError:
            name = self.cleaned_data.get("username", "")
            if self.request and (wait := wait_for(self.request, name)):
                raise forms.ValidationError(TOO_OFTEN.format(minutes=wait), code="too_often") from None
            person = Person.objects.filter(username__iexact=name, is_active=False).first()
            if person is not None and person.check_password(self.cleaned_data.get("password", "")):
                raise forms.ValidationError(LET_GO, code="inactive") from None
            raise


class LogIn(LoginView):
    """The door; in a studio where nobody works yet it leads to the first owner's form."""

    template_name = "house/log_in.html"
    authentication_form = LogInForm
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not Person.objects.exists():
            refuse_lost()
            return redirect("studio:first_owner")
        return super().dispatch(request, *args, **kwargs)

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        """Log in, or ask for the code first where this person has a second step."""
        person: Any = form.get_user()
        if has_second_step(person):
            return ask_for_code(self.request, person, self.get_success_url())
        return super().form_valid(form)

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        too_often = form.has_error(NON_FIELD_ERRORS, "too_often")
        return self.render_to_response(self.get_context_data(form=form), status=TOO_MANY if too_often else REFUSED)


log_in = open_door(LogIn.as_view())


class LogOut(LogoutView):
    """Out; the door is told, so that what this browser kept unsaved is thrown away there (`left.js`)."""

    def get_success_url(self) -> str:
        return f"{super().get_success_url()}?left"


log_out = open_door(LogOut.as_view())


class OwnPasswordForm(PasswordChangeForm):
    """The own password; what the owner made up is replaced by another, not by itself."""

    labels = {"old_password": "Password until now", "new_password1": "New password",
              "new_password2": "New password again"}

    def __init__(self, *given: Any, asked: HttpRequest | None = None, **more: Any) -> None:
        super().__init__(*given, **more)
        self.asked = asked
        for name, label in self.labels.items():
            self.fields[name].label = label
            self.fields[name].widget.attrs["data-may-show"] = ""
        self.fields["new_password1"].help_text = HELP
        self.fields["new_password2"].help_text = ""

    def clean_old_password(self) -> str:
        """Wrong tries count as they do at the door. Raises ValidationError."""
        typed = str(self.cleaned_data["old_password"])
        if self.asked is not None:
            check_own_password(self.asked, self.user, typed)
        return typed

    def clean_new_password1(self) -> str:
        typed = str(self.cleaned_data["new_password1"])
        if typed == self.cleaned_data.get("old_password"):
            raise forms.ValidationError("That is the password until now: choose another.")
        return typed


class ChangePassword(PasswordChangeView):
    """One's own password: it asks for the old one, and logs this person out everywhere else."""

    template_name = "house/password.html"
    form_class = OwnPasswordForm
    success_url = reverse_lazy("studio:today")

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "asked": self.request}

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        try:
            form.user = replace_own_password(form.user, form.cleaned_data["new_password1"])
        except DaybookError as refusal:  # let go, or given another password, while this was typed
            form.add_error(None, str(refusal))
            return self.form_invalid(form)
        update_session_auth_hash(self.request, form.user)
        answer = HttpResponseRedirect(self.get_success_url())
        note_own_password(form.user, here=self.request.session.session_key)
        messages.success(self.request, "Your password is changed; everywhere else you are logged out.")
        return answer

    def form_invalid(self, form: PasswordChangeForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=REFUSED)


change_password = at_the_desk(ChangePassword.as_view())
_OPEN_WITH_ONE_TIME = frozenset({"studio:password", "studio:log_out", "studio:health"})


class OneTimePassword:
    """Lead whoever logged in with a one-time password to the page that replaces it, and nowhere else."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        match, person = request.resolver_match, request.user
        if not getattr(person, "must_change_password", False) or match is None:
            return None
        if match.view_name in _OPEN_WITH_ONE_TIME:
            return None
        messages.warning(request, ONE_TIME)
        return redirect("studio:password")
