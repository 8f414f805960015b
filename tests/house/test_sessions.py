"""Where somebody is logged in: listed, and ended by whoever it is or by the owner."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from studio.house.clock import now, pretend
from studio.house.models import PersonAct, PersonSession
from studio.house.sessions import browser_words
from tests import builders

pytestmark = pytest.mark.django_db

TABLET = ("Mozilla/5.0 (Linux; Android 14; SM-X210) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/126.0.0.0 "
          "Safari/537.36")
DESK = "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:127.0) Gecko/20100101 Firefox/127.0"
IPAD = ("Mozilla/5.0 (iPad; CPU OS 17_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/17.5 "
        "Mobile/15E148 Safari/604.1")


def at(name: str, browser: str = DESK) -> Client:
    client = Client(HTTP_USER_AGENT=browser)
    assert client.post("/log-in/", {"username": name, "password": f"{name}-password"}).status_code == 302
    return client


def ends(page: str) -> list[str]:
    return re.findall(r'action="([^"]+/end/)"', page)


def test_a_person_sees_where_they_are_logged_in_and_ends_one(helper, rates):
    with pretend(now() - timedelta(hours=2)):
        tablet = at("teo", TABLET)
    desk = at("teo")
    page = desk.get("/account/").content.decode()
    assert page.count("this one") == 1
    assert page.index("Firefox on Windows") < page.index("this one") < page.index("Chrome on Android")
    for key in PersonSession.objects.values_list("pk", flat=True):
        assert key not in page, "a session's key opens it: no page shows it"
    one, _all = ends(page)
    assert desk.post(one)["Location"] == "/account/"
    assert tablet.get("/")["Location"].startswith("/log-in/")
    assert desk.get("/account/").status_code == 200
    assert PersonAct.objects.get().what == "was logged out of Chrome on Android"


def test_a_person_ends_all_others_and_stays(helper, rates):
    desk, *others = at("teo"), at("teo", TABLET), at("teo", IPAD)
    desk.post("/account/sessions/end/")
    assert desk.get("/").status_code == 200
    assert [other.get("/").status_code for other in others] == [302, 302]


def test_nobody_ends_somebody_elses_session_but_the_owner(at_owner, helper, rates):
    tablet, nell = at("teo", TABLET), Client()
    nell.force_login(builders.person("nell", "helper"))
    page = f"/studio/people/{helper.pk}/"
    one, every = ends(at_owner.get(page).content.decode())
    public = one.split("/")[-3]
    assert nell.post(f"/account/sessions/{public}/end/").status_code == 302
    assert nell.post(one).status_code == nell.post(every).status_code == 403
    assert tablet.get("/").status_code == 200
    assert at_owner.post(one)["Location"] == page
    assert tablet.get("/").status_code == 302
    again = at("teo", IPAD)
    at_owner.post(every)
    assert again.get("/").status_code == 302
    assert at_owner.get("/").status_code == 200
    assert {(act.what, act.by.username) for act in PersonAct.objects.all()} == {
        ("was logged out of Chrome on Android", "maud"), ("was logged out of Safari on iPad", "maud")}


def test_last_seen_is_written_once_a_minute_and_undoes_nothing(helper, rates):
    client = at("teo")
    begun = PersonSession.objects.get().seen_at
    client.get("/account/")
    assert PersonSession.objects.get().seen_at == begun
    with pretend(now() + timedelta(seconds=90)):
        client.get("/account/")
        seen = PersonSession.objects.get()
        assert seen.seen_at - begun > timedelta(seconds=80)
        assert abs(seen.made_at - begun) < timedelta(seconds=20)


@pytest.mark.parametrize("way", ["own", "one-time", "let-go"])
def test_a_new_password_and_letting_go_end_sessions_in_the_list_too(at_owner, helper, rates, way):
    tablet, desk = at("teo", TABLET), at("teo")
    if way == "own":
        desk.post("/password/", {"old_password": "teo-password", "new_password1": "moss-on-old-glass",
                                 "new_password2": "moss-on-old-glass"})
        assert desk.get("/").status_code == 200
    else:
        at_owner.post(f"/studio/people/{helper.pk}/{'password' if way == 'one-time' else way}/")
        assert desk.get("/").status_code == 302
    assert tablet.get("/").status_code == 302
    assert PersonSession.objects.filter(person=helper).count() == (1 if way == "own" else 0)


def test_no_more_questions_with_more_sessions(helper, rates):
    desk = at("teo")
    desk.get("/account/")
    with CaptureQueriesContext(connection) as few:
        desk.get("/account/")
    for _ in range(8):
        at("teo", TABLET)
    with CaptureQueriesContext(connection) as many:
        desk.get("/account/")
    assert len(many) == len(few)


@pytest.mark.parametrize(("said", "words"), [
    (TABLET, "Chrome on Android"), (DESK, "Firefox on Windows"), (IPAD, "Safari on iPad"),
    (DESK.replace("Windows NT 10.0; Win64", "X11; Linux"), "Firefox on Linux"), ("curl/8", ""), ("", ""),
    ("Mozilla/5.0 (Windows NT 10.0) AppleWebKit/537.36 Chrome/126.0 Safari/537.36 Edg/126.0", "Edge on Windows"),
    ("<script>alert(1)</script>" * 50, ""),
])
def test_a_browser_is_named_in_words(said, words):
    assert browser_words(said) == words
