"""What is asked of a password: its length, and that it is not a common one; said alike wherever one is chosen."""

from __future__ import annotations

import re

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from studio.house.passwords import HELP
from studio.house.people import one_time_password

pytestmark = pytest.mark.django_db

COMMON = "password1234"


def changed(client: Client, old: str, new: str):
    return client.post("/password/", {"old_password": old, "new_password1": new, "new_password2": new})


@pytest.mark.parametrize(("typed", "said"), [
    ("short-words", "At least 12 characters: there are 11."), ("x" * 201, "At most 200 characters: there are 201."),
    (COMMON, "too common"), ("QwertyQwerty", "too common"),
])
def test_what_is_refused_says_why(at_helper, rates, typed, said):
    refused = changed(at_helper, "teo-password", typed)
    assert refused.status_code == 422
    assert said in refused.content.decode()


@pytest.mark.parametrize("typed", [
    "a" * 11 + "b", "teo-teo-teo-teo", "six words are quite enough here", "  spaces at both ends  ", "ñandú 雨 зима лето",
    "long " * 26, "0123456789" * 20,
])
def test_length_is_all_that_is_asked_and_every_letter_counts(at_helper, rates, typed):
    assert changed(at_helper, "teo-password", typed).status_code == 302
    tried = {password: Client().post("/log-in/", {"username": "teo", "password": password}).status_code
             for password in (typed, typed[:-1])}
    assert tried == {typed: 302, typed[:-1]: 422}


def test_every_door_says_the_same(client, at_owner, helper, rates, capsys, monkeypatch):
    told = at_owner.post(f"/studio/people/{helper.pk}/password/", follow=True).content.decode()
    assert HELP in told
    assert HELP in at_owner.get("/password/").content.decode()
    assert len(one_time_password()) >= 12, "what the program makes up is as long as it asks for"


def test_the_first_owner_is_asked_for_the_same(client, db, capsys, monkeypatch):
    assert HELP in client.get("/first-owner/").content.decode()
    monkeypatch.setattr("builtins.input", lambda _: "maud")
    monkeypatch.setattr("studio.whole.management.commands.first_owner.getpass", lambda _: COMMON[:11])
    with pytest.raises(CommandError, match="At least 12 characters"):
        call_command("first_owner")
    assert HELP in capsys.readouterr().out


def test_the_help_is_of_the_limits():
    assert re.findall(r"\d+", HELP) == ["12", "200"]
