"""The bench tablet locks when nobody touches it; the bench itself stays in sight, and what was sent is not lost."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from html import unescape
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models import RunEntry
from studio.house.clock import now, pretend
from studio.house.models import ChangeRecord, Person, PersonAct, PersonSession

pytestmark = pytest.mark.django_db

PIN = "4711"


@pytest.fixture
def tablet(at_helper, helper, rates) -> Client:
    set_own_pin(at_helper, PIN)
    at_helper.post("/account/tablet/", {"minutes": "10"})
    return at_helper


def set_own_pin(client: Client, pin: str, password: str = "teo-password"):
    return client.post("/account/pin/", {"pin": pin, "own_password": password})


def later(minutes: float):
    return pretend(now() + timedelta(minutes=minutes))


def test_a_pin_is_hashed_is_ones_own_and_is_not_guessed_first(at_helper, helper, rates):
    for pin, said in (("123", "4 to 8 figures"), ("12a4", "4 to 8 figures"), ("1111", "guessed first"),
                      ("1234", "guessed first"), ("8765", "guessed first"), ("٤٧١١", "4 to 8 figures")):
        refused = set_own_pin(at_helper, pin)
        assert refused.status_code == 422
        assert said in refused.content.decode()
    assert "That is not your password" in set_own_pin(at_helper, PIN, "guess").content.decode()
    assert set_own_pin(at_helper, PIN).status_code == 302
    helper.refresh_from_db()
    assert PIN not in helper.pin
    assert PersonAct.objects.get().what == "set a PIN"
    at_helper.post("/account/pin/", {"remove": "1"})
    helper.refresh_from_db()
    assert helper.pin == ""


def test_the_record_of_changes_says_when_a_browser_becomes_the_tablet_and_when_it_ends(tablet):
    tablet.post("/account/tablet/", {"end": "1"})
    assert list(ChangeRecord.objects.filter(subject="teo", what__contains="tablet").order_by("pk").values_list("what", "by__username")) == [
        ("a browser is the bench tablet: it locks untouched for 10 minutes", "teo"), ("a bench tablet is an ordinary browser again", "teo")]


def test_idle_minutes_lock_every_page_but_the_bench(tablet):
    with later(9):
        assert tablet.get("/stockroom/").status_code == 200
    with later(18):
        assert tablet.get("/stockroom/").status_code == 200, "nine minutes after the last touch"
    with later(29):
        asked = tablet.get("/stockroom/?open=1")
        assert asked["Location"] == "/lock/?next=%2Fstockroom%2F%3Fopen%3D1"
        page = tablet.get(asked["Location"])
        assert page.status_code == 423
        assert "PIN of teo" in page.content.decode()
        assert tablet.get("/bench/").status_code == 200
        assert tablet.get("/account/").status_code == 302
        assert tablet.post("/log-out/").status_code == 302, "whoever comes may log out, and log in as somebody else"


def test_the_pin_opens_and_leads_back_and_another_does_not(tablet):
    with later(11):
        tablet.get("/")
        wrong = tablet.post("/lock/", {"pin": "9999", "next": "/stockroom/"})
        assert wrong.status_code == 423
        assert "That is not your PIN." in wrong.content.decode()
        assert tablet.get("/").status_code == 302
        assert tablet.post("/lock/", {"pin": PIN, "next": "/stockroom/"})["Location"] == "/stockroom/"
        assert tablet.get("/").status_code == 200
    with later(30):
        for elsewhere in ("https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"):
            tablet.get("/")
            assert tablet.post("/lock/", {"pin": PIN, "next": elsewhere})["Location"] == "/"
            PersonSession.objects.update(locked_at=now())


def test_after_five_wrong_pins_only_the_password_opens(tablet):
    with later(11):
        told = [tablet.post("/lock/", {"pin": f"999{at}"}).content.decode() for at in range(5)]
        assert "Now only your password opens" in told[4]
        assert tablet.post("/lock/", {"pin": PIN}).status_code == 423
        assert "PIN of" not in tablet.get("/lock/").content.decode()
        assert "That is not your password" in tablet.post("/lock/", {"password": "guess"}).content.decode()
        assert tablet.post("/lock/", {"password": "teo-password"}).status_code == 302
        assert tablet.get("/").status_code == 200
        PersonSession.objects.update(locked_at=now())
        assert tablet.post("/lock/", {"pin": PIN}).status_code == 302, "the password lets the PIN be tried again"


def test_guessing_the_password_at_the_lock_counts_like_at_the_door(tablet):
    with later(11):
        told = [tablet.post("/lock/", {"password": f"guess-{at}"}).content.decode() for at in range(5)]
        assert "Too many wrong tries" in told[4]
        assert tablet.post("/lock/", {"password": "teo-password"}).status_code == 423


def test_no_other_browser_locks_and_a_new_password_keeps_the_tablet_one(tablet, helper):
    desk = Client()
    desk.force_login(helper)
    with later(60):
        assert desk.get("/stockroom/").status_code == 200
    desk.post("/password/", {})
    new = "moss-on-old-glass"
    assert tablet.post("/password/", {"old_password": "teo-password", "new_password1": new,
                                      "new_password2": new}).status_code == 302
    with later(11):
        assert tablet.get("/stockroom/")["Location"].startswith("/lock/")
        tablet.post("/lock/", {"password": new})
        tablet.post("/account/tablet/", {"end": "1"})
    with later(60):
        assert tablet.get("/stockroom/").status_code == 200


def test_whoever_gets_a_one_time_password_has_no_pin_any_more(tablet, at_owner, helper):
    at_owner.post(f"/studio/people/{helper.pk}/password/")
    assert Person.objects.get(pk=helper.pk).pin == ""


def test_what_a_form_sent_while_locked_comes_back_through_wrong_pins(tablet):
    typed = {"old_password": "my-secret", "waste-name": "Rinses & rags", "csrfmiddlewaretoken": "old"}
    with later(11):
        asked = tablet.post("/stockroom/waste/", typed)
        page = asked.content.decode()
        assert asked.status_code == 423
        assert "my-secret" not in page, "no password is kept in a page"
        kept, again = (unescape(re.search(rf'name="{name}" value="([^"]*)"', page)[1]) for name in ("kept", "again"))
        assert again == "/stockroom/waste/"
        wrong = tablet.post("/lock/", {"pin": "9999", "kept": kept, "again": again})
        assert "Rinses &amp; rags" in wrong.content.decode(), "a wrong PIN loses nothing"
        right = tablet.post("/lock/", {"pin": PIN, "kept": kept, "again": again}).content.decode()
        assert 'action="/stockroom/waste/"' in right
        assert 'name="waste-name" value="Rinses &amp; rags"' in right
        rubbish = tablet.post("/lock/", {"pin": PIN, "kept": "[[[", "again": "https://elsewhere.example"})
        assert rubbish["Location"] == "/"


def test_htmx_and_scripts_are_told_locked_and_asking_touches_nothing(tablet):
    with later(8):
        assert 100 < tablet.get("/lock/state/").json()["left"] <= 120
    with later(9):
        assert tablet.get("/lock/touched/").status_code == 200
    with later(18):
        assert tablet.get("/lock/state/").status_code == 200
    with later(20):
        assert tablet.get("/lock/state/").status_code == 423
        assert tablet.post("/jobs/price-now/", headers={"HX-Request": "true"}).status_code in (403, 423)
        by_script = {"Accept": "application/json"}
        refused = tablet.post("/lock/", {"pin": "9999"}, headers=by_script)
        assert (refused.status_code, refused.json()["field"]) == (422, "pin")
        assert tablet.post("/lock/", {"pin": PIN}, headers=by_script).status_code == 204


def test_the_tablet_is_the_browser_whoever_logs_in_there_next(tablet, owner):
    tablet.post("/log-out/")
    assert tablet.post("/log-in/", {"username": "maud", "password": "maud-password"}).status_code == 302
    assert "bench tablet, whoever logs in here" in tablet.get("/account/").content.decode()
    with later(9):
        assert tablet.get("/studio/rates/").status_code == 200
    with later(20):
        assert tablet.get("/studio/rates/")["Location"].startswith("/lock/")
        tablet.post("/lock/", {"password": "maud-password"})
        tablet.post("/account/tablet/", {"end": "1"})
    tablet.post("/log-out/")
    tablet.post("/log-in/", {"username": "maud", "password": "maud-password"})
    with later(60):
        assert tablet.get("/studio/rates/").status_code == 200, "it was made an ordinary browser again"
    tablet.cookies["bench-tablet"] = "10"
    tablet.post("/log-out/")
    tablet.post("/log-in/", {"username": "maud", "password": "maud-password"})
    assert not PersonSession.objects.get(person=owner).tablet_minutes, "nobody else's word is taken for it"


def test_a_locked_page_says_why_it_asks_for_what_and_the_way_out(tablet):
    with later(11):
        tablet.get("/")
        page = tablet.get("/lock/").content.decode()
        assert "Somebody else?" in page
        assert "Too many wrong PINs" not in page
        for at in range(5):
            tablet.post("/lock/", {"pin": f"999{at}"})
        assert "Too many wrong PINs were tried: only the password opens it now." in tablet.get("/lock/").content.decode()
        assert tablet.get("/lock/state/").json()["person"] == "teo", "a page left open by somebody else is not uncovered"


class TestAtTheBench:
    @pytest.fixture
    def run(self, tablet, morning_workshop):
        return morning_workshop.run()

    @pytest.fixture
    def locked(self, tablet, run):
        PersonSession.objects.filter(tablet_minutes=10).update(locked_at=now())
        return tablet

    def sent(self, kind: str, **fields: list[str]):
        moment = now().isoformat()
        return json.dumps({"now": moment, "records": [{
            "key": str(uuid4()), "kind": kind, "subject": "", "screen": "all", "after": "", "at": moment, "by": "teo",
            "fields": fields, "live": True}]})

    def test_clock_and_trouble_stay_in_sight_and_the_lock_covers_nothing(self, locked, run):
        for name in ("jobs:steps", "jobs:run"):
            page = locked.get(reverse(name, args=[run.pk]))
            assert page.status_code == 200
            assert re.search(r'<dialog[^>]+data-bench[^>]+open data-locked', page.content.decode())
            assert "Trouble" in page.content.decode()
        assert locked.get(reverse("jobs:steps_state", args=[run.pk])).json()["clock"]
        assert locked.get("/guides/cautions/").status_code == 200

    def test_a_tick_waits_for_the_pin_and_then_counts(self, locked, run):
        address, tick = reverse("jobs:records", args=[run.pk]), self.sent("note", text=["the pane has a chip"])
        assert locked.post(address, tick, content_type="application/json").status_code == 423
        assert not RunEntry.objects.exists()
        locked.post("/lock/", {"pin": PIN})
        assert locked.post(address, tick, content_type="application/json").json()["answers"][0]["is"] == "taken"
        assert RunEntry.objects.get().by.username == "teo"

    def test_trouble_is_recorded_though_locked_with_a_script_and_without(self, locked, run):
        trouble = self.sent("note", what=["Spill"], text=["by the sink"])
        address = reverse("jobs:records", args=[run.pk])
        assert locked.post(address, trouble, content_type="application/json").status_code == 200
        form = {"kind": "note", "subject": "", "what": "Spill", "text": "by the door", "key": str(uuid4()), "next": "all"}
        assert locked.post(reverse("jobs:record", args=[run.pk]), form).status_code == 302
        assert RunEntry.objects.count() == 2
        del form["what"]
        assert locked.post(reverse("jobs:record", args=[run.pk]), form | {"key": str(uuid4())}).status_code == 423
        mixed = json.loads(trouble)
        mixed["records"] += json.loads(self.sent("note", text=["x"]))["records"]
        assert locked.post(address, json.dumps(mixed), content_type="application/json").status_code == 423
        assert locked.post(address, "[", content_type="application/json").status_code == 423
        assert RunEntry.objects.count() == 2

    def test_what_was_sent_while_locked_is_sent_once_it_is_unlocked_and_counts_once(self, locked, run):
        form = {"kind": "note", "subject": "", "text": "a chip, 2 × 3 mm", "key": str(uuid4()), "next": "all"}
        page = locked.post(reverse("jobs:record", args=[run.pk]), form).content.decode()
        kept, again = (unescape(re.search(rf'name="{name}" value="([^"]*)"', page)[1]) for name in ("kept", "again"))
        page = locked.post("/lock/", {"pin": PIN, "kept": kept, "again": again}).content.decode()
        body = page[page.index(f'action="{again}"'):]
        pairs = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', body)
        back = {name: unescape(value) for name, value in pairs}
        assert {name: back[name] for name in form} == form
        for _ in range(2):
            assert locked.post(again, back).status_code == 302
        assert RunEntry.objects.count() == 1

    def test_the_page_that_asks_every_few_seconds_keeps_no_tablet_open(self, tablet, run):
        state = reverse("jobs:steps_state", args=[run.pk])
        begun = PersonSession.objects.get(tablet_minutes=10).acted_at
        for minutes in (4, 8, 9.5):
            with pretend(begun + timedelta(minutes=minutes)):
                assert tablet.get(state).status_code == 200
        with pretend(begun + timedelta(minutes=10.5)):
            assert tablet.get("/stockroom/").status_code == 302
