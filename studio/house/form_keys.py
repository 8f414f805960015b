"""A form's key: what a form sends counts once, however often it is sent.

Made when the form is shown (`KeyField` in a form class, `{% form_key %}` in a template), checked when it comes back
(`KeyField`, or `sent_key`). A lost or malformed key is refused with a sentence: a new one in its place would make what
was sent before count twice.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.http import HttpRequest, HttpResponse

from studio.house.http import REFUSED, render_page_or_part

NAME = "key"
LOST = "This form has lost its key, so nothing was saved: open the page again and send it from there."
NOT_TYPED = frozenset({"csrfmiddlewaretoken", "saves", NAME})


class LostKey(Exception):
    """A form that came without the key it was shown with.

    No DaybookError: a view that shows refusals its own way could forget what was typed; `LostKeys` answers it.
    """


def fresh_key() -> UUID:
    return uuid4()


def sent_key(request: HttpRequest) -> UUID:
    """Return the key that a form carries. Raises LostKey."""
    try:
        return UUID(request.POST.get(NAME, ""))
    except ValueError as malformed:
        raise LostKey(LOST) from malformed


class KeyField(forms.UUIDField):
    """The hidden key of a form class; a form that is shown for the first time makes its own."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**{
            "widget": forms.HiddenInput(), "initial": fresh_key, "label": "Key",
            "error_messages": {"required": LOST, "invalid": LOST}, **more,
        })


class LostKeys:
    """Answer LostKey, wherever it was raised, with the sentence and everything that was typed, to be taken over."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, LostKey):
            return None
        typed = [
            (name.replace("_", " "), value) for name, values in request.POST.lists() for value in values
            if value and name not in NOT_TYPED and "password" not in name
        ]
        context = {"refusal": str(exception), "typed": typed}
        return render_page_or_part(request, "house/lost_key.html", "lost", context, status=REFUSED)
