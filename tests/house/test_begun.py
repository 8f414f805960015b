"""A studio begins once, by whoever reads the secret that its start prints, and never in place of one that was lost."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from threading import Barrier, Thread
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, build_opener

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from studio.house import begun, first_owner
from studio.house.models import Person
from studio.kit import data_folder
from tests import builders
from tests.serving import DATA, HOME, manage, own_database, served

TYPED = {"house_name": "Loft", "time_zone": "Europe/Lisbon", "currency": "EUR", "username": "ada",
         "password1": "a-long-enough-word", "password2": "a-long-enough-word"}


def printed(capsys: pytest.CaptureFixture[str]) -> str:
    call_command("first_owner", "--if-empty")
    return capsys.readouterr().out.split()[-1]


def test_the_first_owner_reads_the_secret_that_the_start_printed_last(client, db, capsys, settings):
    before, secret = printed(capsys), printed(capsys)
    assert secret not in (Path(settings.DATA) / begun.SECRET).read_text()
    for wrong in ("", "open sesame", before):
        answer = client.post("/first-owner/", {**TYPED, "secret": wrong})
        assert answer.status_code == 422
        assert 'value="Loft"' in answer.content.decode()
    assert "That is not the secret that was printed last" in answer.content.decode()
    assert not Person.objects.exists()
    assert client.post("/first-owner/", {**TYPED, "secret": f" {secret.upper()} "}).status_code == 302
    assert Person.objects.get().is_owner


def test_without_a_start_nobody_becomes_the_owner(client, db):
    assert client.post("/first-owner/", {**TYPED, "secret": "k7mq-x3vp-9tda"}).status_code == 422
    assert not Person.objects.exists()


def in_a_browser(address: str, secret: str, name: str, zone: str, at_once: Barrier, ended: list[str]) -> None:
    browser = build_opener(HTTPCookieProcessor())
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', browser.open(f"{address}/first-owner/").read().decode())
    assert token is not None
    sent = {**TYPED, "username": name, "time_zone": zone, "secret": secret, "csrfmiddlewaretoken": token[1]}
    at_once.wait(30)
    ended.append(browser.open(f"{address}/first-owner/", urlencode(sent).encode()).url.removeprefix(address))


def test_first_owners_from_several_browsers_and_zones_at_one_moment_are_one(tmp_path):
    zones = ("Pacific/Auckland", "Pacific/Honolulu", "Europe/Lisbon", "Asia/Tokyo", "America/Lima", "Asia/Kathmandu")
    with own_database(tmp_path, "daybook_first_owners") as environment, served(environment) as address:
        secret, at_once = manage(environment, "first_owner", "--if-empty").split()[-1], Barrier(len(zones))
        ended: list[str] = []
        browsers = [Thread(target=in_a_browser, args=(address, secret, f"nell{at}", zone, at_once, ended))
                    for at, zone in enumerate(zones)]
        for each in browsers:
            each.start()
        for each in browsers:
            each.join()
        count = ("from studio.house.models import *; "
                 "print(Person.objects.count(), House.objects.count(), HouseRates.objects.count())")
        assert manage(environment, "shell", "--no-imports", "-c", count).split() == ["1", "1", "1"]
        assert sorted(page.split("/")[1] for page in ended) == ["log-in"] * 5 + ["start"]


def test_a_second_first_owner_who_was_let_in_meanwhile_is_sent_to_the_door(client, db, monkeypatch, capsys):
    """Both have the page open with the secret typed; the other's studio was saved after this one was asked for."""
    secret = printed(capsys)
    monkeypatch.setattr(first_owner, "is_secret", lambda typed: bool(builders.person("maud", "owner")))
    answer = client.post("/first-owner/", {**TYPED, "time_zone": "Pacific/Auckland", "secret": secret})
    assert answer["Location"].startswith("/log-in/")
    assert Person.objects.get().username == "maud"


def test_a_folder_that_had_a_studio_refuses_another_until_it_is_told(client, db, settings, capsys):
    data_folder.mark(Path(settings.DATA))
    for page in ("/first-owner/", "/log-in/"):
        answer = client.get(page)
        assert answer.status_code == 503
        assert "No other studio begins in its place" in answer.content.decode()
    with pytest.raises(CommandError, match="restores the last backup"):
        call_command("first_owner", "--if-empty")
    call_command("first_owner", "--begin-another")
    assert client.get("/first-owner/").status_code == 200
    with pytest.raises(CommandError, match="No studio was lost"):
        call_command("first_owner", "--begin-another")


def test_what_is_typed_at_a_prompt_marks_the_folder_too(db, owner, settings):
    call_command("first_owner", "--if-empty")
    assert data_folder.is_marked(Path(settings.DATA))


def test_a_missing_database_never_becomes_an_empty_studio(tmp_path):
    """On SQLite the file is taken away; on PostgreSQL the address leads to an empty database."""
    with own_database(tmp_path, "daybook_lost", "demo") as environment:
        manage(environment, "first_owner", "--if-empty")
        file = tmp_path / DATA / "daybook.sqlite3"
        if connection.vendor == "sqlite":
            file.unlink()
        else:
            with psycopg.connect(environment["DATABASE_URL"], autocommit=True) as emptied:
                emptied.execute("DROP SCHEMA public CASCADE")
                emptied.execute("CREATE SCHEMA public")
        for command in (["migrate", "--verbosity", "0"], ["first_owner", "--if-empty"]):
            said = subprocess.run([sys.executable, "manage.py", *command], cwd=HOME, env=environment, capture_output=True,
                                  text=True, check=False)
            assert said.returncode != 0
            assert "This data folder had a studio" in said.stderr
        assert not file.exists()
        manage(environment, "first_owner", "--begin-another")
        manage(environment, "migrate", "--verbosity", "0")
        assert "It asks for this secret" in manage(environment, "first_owner", "--if-empty")
        assert os.stat(tmp_path / DATA).st_mode & 0o077 == 0
