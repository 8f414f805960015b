"""The page on which somebody makes, or withdraws, their private link to the week; and the feed itself."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from jobs.week.feed import NoFeed, feed_of, feed_text, make_link, whose_link, withdraw_link
from jobs.week.kept import standing_plan
from studio.house.form_keys import fresh_key, sent_key
from studio.house.http import REFUSED, DeskRequest, posted_from
from studio.house.log_in_throttle import address_of
from studio.house.tries import QUARTER, Tries
from studio.kit.access import at_the_desk, open_door

#: from one address in a quarter of an hour: links that nobody has, and calendars, of which a studio's people take few
FEED_WRONG, FEED_ASKED = Tries("feed wrong", 30, QUARTER), Tries("feed asked", 120, QUARTER)


def _shown(request: DeskRequest, status: int = 200, **more: Any) -> HttpResponse:
    return render(request, "jobs/week/feed.html", {"feed": feed_of(request.user), "key": fresh_key(), **more},
                  status=status)


@at_the_desk
@require_safe
def feed_page(request: DeskRequest) -> HttpResponse:
    """Whether there is a link, since when; the link itself is told once, as it is made."""
    return _shown(request)


@at_the_desk
@posted_from("jobs:week_feed")
def make_feed(request: DeskRequest) -> HttpResponse:
    """Make a link and tell it, this once."""
    try:
        token = make_link(request.user, sent_key(request))
    except NoFeed as refusal:
        return _shown(request, REFUSED, refusal=str(refusal))
    return _shown(request, link=settings.PUBLIC_URL.rstrip("/") + reverse("jobs:week_ics", args=[token]))


@at_the_desk
@require_POST
def withdraw_feed(request: DeskRequest) -> HttpResponse:
    """Withdraw the link: whoever has it sees nothing more."""
    if withdraw_link(request.user):
        messages.success(request, "The link is withdrawn: whoever had it sees nothing more.")
    return redirect("jobs:week_feed")


@open_door
@require_safe
def week_ics(request: HttpRequest, token: str) -> HttpResponse:
    """The week as a calendar, for whoever has the link: without customers where its owner sees none."""
    where = address_of(request)
    if FEED_WRONG.are_over(where) or FEED_ASKED.are_over(where):
        return HttpResponse(
            "Asked too often from where you are: wait a quarter of an hour.", status=429,
            content_type="text/plain; charset=utf-8",
            headers={"Retry-After": str(int(QUARTER.total_seconds())), "Cache-Control": "no-store"},
        )
    person = whose_link(token)
    if person is None:
        FEED_WRONG.count(where)
        raise Http404("Nobody has this link.")
    FEED_ASKED.count(where)
    standing_plan()
    response = HttpResponse(feed_text(person), content_type="text/calendar; charset=utf-8")
    response["Cache-Control"] = "no-store"
    response["Content-Disposition"] = 'inline; filename="week.ics"'
    response["Referrer-Policy"] = "no-referrer"
    return response
