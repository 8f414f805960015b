"""Refuse what was sent with letters that nobody types and no database keeps (NUL), at every door, in words.

An address with one is none; of a form, what was typed comes back with the sentence.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from studio.house.form_keys import NOT_TYPED
from studio.house.http import REFUSED, render_page_or_part

NOT_KEPT = "There is a letter in it that cannot be kept, so nothing was saved: write it again."
_NUL = "\0"


class UnseenLetters:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]) -> HttpResponse | None:
        asked = [text for name, values in request.GET.lists() for text in (name, *values)]
        if any(_NUL in text for text in (*asked, *map(str, kwargs.values()))):
            return render(request, "whole/error.html", {
                "title": "That could not be read", "code": 400,
                "sentence": "There is a letter in the address that cannot be read: go back, and write it again.",
            }, status=400)
        sent = [(name, value) for name, values in request.POST.lists() for value in values]
        if not any(_NUL in text for pair in sent for text in pair):
            return None
        typed = [(name.replace("_", " ").replace(_NUL, ""), value.replace(_NUL, "")) for name, value in sent
                 if value and name not in NOT_TYPED and "password" not in name]
        context = {"refusal": NOT_KEPT, "typed": typed}
        return render_page_or_part(request, "house/lost_key.html", "lost", context, status=REFUSED)
