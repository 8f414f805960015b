"""The second step: set up with a device, asked for after the password, replaced by recovery codes, removed."""

from __future__ import annotations

import re
from datetime import timedelta
from urllib.parse import unquote

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.utils import timezone
from django_otp.oath import totp
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from studio.house import second_step
from studio.house.clock import now, pretend
from studio.house.models import Person, PersonAct

pytestmark = pytest.mark.django_db

CODE = re.compile(r"[a-z2-9]{4}-[a-z2-9]{4}-[a-z2-9]{4}")


def code_now(person: Person, drift: int = 0) -> str:
    """Return the code that the device shows; used ones are forgotten, as half a minute later."""
    TOTPDevice.objects.filter(user=person).update(last_t=-1, throttling_failure_count=0)
    StaticDevice.objects.filter(user=person).update(throttling_failure_count=0)
    return f"{totp(TOTPDevice.objects.get(user=person).bin_key, drift=drift):06}"


def password_given(name: str = "teo", onward: str = "") -> Client:
    client = Client()
    answer = client.post("/log-in/", {"username": name, "password": f"{name}-password", "next": onward})
    assert answer["Location"] == "/log-in/code/"
    return client


@pytest.fixture
def recovery(at_helper, helper, rates) -> list[str]:
    """The second step of teo, set up by its pages; its recovery codes."""
    at_helper.post("/account/second-step/begin/")
    sent = {"code": code_now(helper), "own_password": "teo-password"}
    shown = at_helper.post("/account/second-step/confirm/", sent, follow=True)
    assert shown["Cache-Control"] == "no-store"
    return CODE.findall(shown.content.decode())


def test_a_device_counts_once_it_showed_a_code_and_the_password_was_given(at_helper, helper, rates):
    elsewhere = Client()
    elsewhere.post("/log-in/", {"username": "teo", "password": "teo-password"})
    assert at_helper.get("/account/second-step/picture.svg").status_code == 404
    at_helper.post("/account/second-step/begin/")
    page = at_helper.get("/account/second-step/")
    picture = at_helper.get("/account/second-step/picture.svg")
    assert picture["Content-Type"] == "image/svg+xml"
    assert picture["Cache-Control"] == page["Cache-Control"] == "no-store"
    assert second_step.written_key(TOTPDevice.objects.get()) in page.content.decode()
    for sent in ({"code": "000000", "own_password": "teo-password"}, {"code": code_now(helper), "own_password": "x"}):
        assert at_helper.post("/account/second-step/confirm/", sent).status_code == 422
    assert Client().post("/log-in/", {"username": "teo", "password": "teo-password"})["Location"] == "/"
    right = {"code": code_now(helper), "own_password": "teo-password"}
    shown = at_helper.post("/account/second-step/confirm/", right, follow=True)
    assert len(CODE.findall(shown.content.decode())) == 10
    assert "shown once" in at_helper.get("/account/second-step/codes/", follow=True).content.decode()
    assert at_helper.get("/account/second-step/picture.svg").status_code == 404, "the secret is shown no more"
    assert elsewhere.get("/").status_code == 302, "what one step opened is ended"
    password_given()


def test_what_the_device_reads_names_the_studio_and_the_person(monkeypatch, helper, rates):
    second_step.begin(helper)
    drawn, make = [], second_step.segno.make
    monkeypatch.setattr(second_step.segno, "make", lambda said, **more: drawn.append(said) or make(said, **more))
    assert b"<svg" in second_step.picture(TOTPDevice.objects.get())
    assert unquote(drawn[0]).startswith("otpauth://totp/The Testing Loft:teo?secret=")


def test_nobody_is_in_before_the_code_and_each_code_opens_once(recovery, helper):
    asked = password_given(onward="/stockroom/")
    assert asked.get("/")["Location"].startswith("/log-in/")
    wrong = asked.post("/log-in/code/", {"code": "000000"})
    assert wrong.status_code == 422
    assert "That code is not right" in wrong.content.decode()
    code = code_now(helper)
    assert asked.post("/log-in/code/", {"code": f"{code[:3]} {code[3:]}"})["Location"] == "/stockroom/"
    assert asked.get("/").status_code == 200
    assert password_given().post("/log-in/code/", {"code": code}).status_code == 422, "the same once more"


def test_wrong_codes_are_held_back(recovery, helper):
    asked = password_given()
    right = code_now(helper)
    for at in range(4):
        TOTPDevice.objects.update(throttling_failure_timestamp=timezone.now() - timedelta(hours=1))
        asked.post("/log-in/code/", {"code": f"00000{at}"})
    held = asked.post("/log-in/code/", {"code": right})
    assert held.status_code == 422
    assert re.search(r"wait \d+ seconds", held.content.decode())


def test_a_recovery_code_opens_once_and_is_kept_nowhere(recovery, helper):
    assert len(recovery) == 10
    kept = str(list(StaticToken.objects.values()))
    assert not [code for code in recovery if code in kept or code.replace("-", "") in kept]
    assert password_given().post("/log-in/code/", {"code": recovery[0].upper()})["Location"] == "/"
    again = password_given().post("/log-in/code/", {"code": recovery[0]})
    assert again.status_code == 422
    assert PersonAct.objects.first().what == "logged in with a recovery code: 9 left"


@pytest.mark.parametrize("typed", ["", " ", "12345", "1234567", "١٢٣٤٥٦", "a\0b", "x" * 500, "-1", "1e5000", "½"])
def test_what_is_no_code_is_refused_beside_the_field(recovery, typed):
    assert password_given().post("/log-in/code/", {"code": typed}).status_code == 422


def test_the_password_waits_five_minutes_for_its_code(recovery, helper):
    late, changed, none = password_given(), password_given(), Client()
    with pretend(now() + timedelta(minutes=6)):
        assert late.post("/log-in/code/", {"code": code_now(helper)})["Location"] == "/log-in/"
    helper.set_password("moss-on-old-glass")
    helper.save()
    for client in (changed, none):
        assert client.post("/log-in/code/", {"code": code_now(helper)})["Location"] == "/log-in/"
        assert client.get("/").status_code == 302


def test_the_owner_removes_it_from_whoever_lost_the_device(recovery, at_owner, at_helper, helper, owner):
    page = f"/studio/people/{helper.pk}/"
    assert "Remove the second step" in at_owner.get(page).content.decode()
    assert at_helper.post(f"/studio/people/{owner.pk}/second-step/remove/").status_code == 403
    assert at_owner.post(f"{page}second-step/remove/")["Location"] == page
    assert Client().post("/log-in/", {"username": "teo", "password": "teo-password"})["Location"] == "/"
    assert PersonAct.objects.first().what == "had the second step removed"
    assert not StaticToken.objects.exists()


def test_ones_own_is_changed_with_the_password_only(recovery, at_helper, helper):
    change = "/account/second-step/change/"
    assert at_helper.post(change, {"remove": "1", "own_password": "guess"}).status_code == 422
    shown = at_helper.post(change, {"own_password": "teo-password"}, follow=True).content.decode()
    new = CODE.findall(shown)
    assert len(new) == 10
    assert password_given().post("/log-in/code/", {"code": recovery[1]}).status_code == 422, "the old ones are over"
    at_helper.post("/account/second-step/begin/")
    assert TOTPDevice.objects.get().confirmed, "what counts is not replaced unasked"
    assert at_helper.post(change, {"remove": "1", "own_password": "teo-password"})["Location"] == "/account/"
    assert not TOTPDevice.objects.exists()


def test_an_owner_who_lost_everything_is_helped_at_the_server(recovery, capsys):
    call_command("remove_second_step", "TEO")
    assert Client().post("/log-in/", {"username": "teo", "password": "teo-password"})["Location"] == "/"
    with pytest.raises(CommandError, match="Nobody logs in as nell"):
        call_command("remove_second_step", "nell")
