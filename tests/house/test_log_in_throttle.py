"""Guessing at the door: five tries of a name from an address, then a pause that the owner can end."""

from __future__ import annotations

import logging
from datetime import timedelta

import pytest
from axes.models import AccessAttempt
from django.core.management import call_command
from django.test import Client, RequestFactory
from django.utils import timezone

from studio.house.log_in_throttle import address_of
from studio.house.models import PersonAct
from tests import builders

pytestmark = pytest.mark.django_db


def tries(name: str, password: str, address: str = "192.0.2.1"):
    return Client(REMOTE_ADDR=address).post("/log-in/", {"username": name, "password": password})


def guessed(name: str, times: int, address: str = "192.0.2.1") -> list[int]:
    return [tries(name, f"guess-{at}", address).status_code for at in range(times)]


def test_after_five_wrong_tries_not_even_the_right_password_is_looked_at(owner, helper, rates):
    assert guessed("teo", 5) == [422, 422, 422, 422, 429]
    refused = tries("TEO", "teo-password")
    assert refused.status_code == 429, "however the name is written"
    assert "Wait 15 minutes, or ask the owner" in refused.content.decode()
    assert 'value="TEO"' in refused.content.decode()
    assert tries("nobody", "guess").status_code == 422
    assert tries("teo", "teo-password", "192.0.2.2").status_code == 302, "elsewhere teo is let in"
    assert tries("maud", "maud-password").status_code == 302, "and others here"
    AccessAttempt.objects.update(attempt_time=timezone.now() - timedelta(minutes=6))
    assert "Wait 9 minutes" in tries("teo", "teo-password").content.decode(), "a try while waiting adds nothing"
    AccessAttempt.objects.update(attempt_time=timezone.now() - timedelta(minutes=16))
    assert tries("teo", "teo-password").status_code == 302


def test_whoever_was_let_go_is_not_guessed_at_either(helper, rates):
    helper.is_active = False
    helper.save()
    guessed("teo", 5)
    assert "let you back in" not in tries("teo", "teo-password").content.decode()


def test_the_owner_lets_somebody_try_again(at_owner, at_helper, helper, rates):
    page = f"/studio/people/{helper.pk}/"
    assert "try again" not in at_owner.get(page).content.decode()
    guessed("teo", 5)
    assert "no password is looked at until" in at_owner.get(page).content.decode()
    assert at_helper.post(f"{page}try-again/").status_code == 403
    assert at_owner.post(f"{page}try-again/")["Location"] == page
    assert tries("teo", "teo-password").status_code == 302
    assert PersonAct.objects.get().what == "may try to log in again"


def test_an_address_that_tries_many_names_waits_until_the_owner_or_time_opens_it(at_owner, helper, rates):
    for at in range(8):
        guessed(f"name{at}", 4)
    assert tries("teo", "teo-password").status_code == 429
    assert tries("teo", "teo-password", "192.0.2.9").status_code == 302
    at_owner.post(f"/studio/people/{helper.pk}/try-again/")
    assert tries("teo", "teo-password").status_code == 302


def test_a_name_tried_from_many_addresses_waits(helper, rates):
    for at in range(13):
        guessed("teo", 4, f"198.51.100.{at}")
    assert tries("teo", "teo-password").status_code == 429


def test_the_own_password_clears_nobody_elses_count(owner, helper, rates):
    guessed("maud", 4)
    assert tries("teo", "teo-password").status_code == 302
    assert guessed("maud", 1) == [429]
    guessed("teo", 4)
    assert tries("teo", "teo-password").status_code == 302
    assert guessed("teo", 4) == [422] * 4, "teo's own count begins anew"


def test_the_proxys_header_counts_only_behind_the_proxy(settings):
    asked = RequestFactory(REMOTE_ADDR="127.0.0.1", HTTP_X_FORWARDED_FOR="203.0.113.5, 192.0.2.7").get("/log-in/")
    assert address_of(asked) == "127.0.0.1"
    settings.BEHIND_TLS = True
    assert address_of(asked) == "192.0.2.7", "the last is the proxy's; what stands before it anybody can write"
    assert address_of(RequestFactory(REMOTE_ADDR="127.0.0.1").get("/")) == "127.0.0.1"
    assert address_of(RequestFactory(REMOTE_ADDR="2001:db8::1").get("/")) == "2001:db8::"
    assert address_of(RequestFactory(REMOTE_ADDR="").get("/")) is None


def test_what_was_typed_stands_in_no_log_and_in_no_count(caplog, helper, rates):
    with caplog.at_level(logging.DEBUG):
        tries("my-secret-in-the-wrong-field", "pass-word-typed")
        guessed("teo", 5)
        tries("teo", "teo-password")
        inside = Client()
        inside.force_login(helper)
        inside.post("/account/pin/?next=guess-in-the-address", {"pin": "4711", "own_password": "guess-inside"})
    assert AccessAttempt.objects.count() == 3
    kept = caplog.text + str(list(AccessAttempt.objects.values()))
    for typed in ("my-secret-in-the-wrong-field", "pass-word-typed", "guess-", "teo-password", '"teo"', "4711"):
        assert typed not in kept
    assert "Locking out" in caplog.text


def test_the_checks_of_a_real_server_are_quiet(settings, capsys):
    call_command("check", "--tag", "security", "--tag", "compatibility")
    assert "axes" not in capsys.readouterr().err


def test_a_thousand_wrong_names_keep_a_row_each_for_an_address_at_most(rates):
    builders.person("maud", "owner")
    for at in range(40):
        tries(f"name{at}", "guess")
    assert AccessAttempt.objects.count() == 30
