"""The studio's kept files, and how what is typed is read back."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_safe

from studio.house.http import DeskRequest
from studio.house.kept_files import served
from studio.house.models import StoredFile
from studio.house.typed_fields import EXAMPLES, read_back_of_day, read_back_of_moment, reading
from studio.kit.access import at_the_desk
from studio.kit.roles import May


@at_the_desk
@require_safe
def stored_file(request: DeskRequest, sha256: str) -> HttpResponse:
    """A kept file, as it was: the owner's alone unless it was kept for everybody at the desk."""
    stored = get_object_or_404(StoredFile, sha256=sha256)
    if stored.owner_only and not request.user.may(May.ORDERS):
        raise Http404
    response = served(stored)
    if not stored.owner_only:  # photographs of trials: the same bytes under the same name for ever
        response["Cache-Control"] = "private, max-age=86400, immutable"
    return response


@at_the_desk
@require_safe
def read_back(request: DeskRequest) -> HttpResponse:
    """How a date or moment being typed is read, in words, to stand beside its field."""
    asked = request.GET
    towards = next((way for way in EXAMPLES if way == asked.get("towards")), None)
    if towards is None:
        raise Http404
    back = read_back_of_moment if asked.get("kind") == "moment" else read_back_of_day
    return HttpResponse(reading(back(asked.get(asked.get("of", ""), ""), towards)))
