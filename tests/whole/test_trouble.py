"""Whatever breaks under the program, every page says what and what to do, the health page too; nothing else stops."""

from __future__ import annotations

import errno
import json
import os
import sqlite3
import time
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection, transaction
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from studio.house import kept_files, kept_in_folder, paper
from studio.house.checks import rules_are_in_place
from studio.house.models import House
from studio.house.wall_clock import SEEN
from studio.kit import trouble
from studio.whole import trouble as looking
from tests import builders
from tests.kept import path_of
from tests.serving import DATA, own_database, served

PAGES = ("/", "/jobs/", "/bench/", "/log-in/", "/guides/", "/nothing-here/", "/health/")


def asked(address: str, **headers: str) -> tuple[int, str]:
    try:
        with urlopen(Request(address, headers=headers), timeout=20) as answer:
            return answer.status, answer.read().decode()
    except HTTPError as refused:
        with refused:
            return refused.code, refused.read().decode()


def test_with_its_database_gone_every_page_says_so_and_comes_back_with_it(tmp_path):
    with own_database(tmp_path, "daybook_gone", "demo") as environment, served(environment) as address:
        assert asked(f"{address}/log-in/")[0] == 200
        take_away, bring_back = of_the_database(tmp_path, environment)
        take_away()
        for page in PAGES:
            status, said = asked(address + page)
            assert (status, "The database does not answer" in said) == (503, True), page
            assert environment.get("DATABASE_URL") or "restore the last good backup" in said, page
        status, said = asked(f"{address}/", **{"HX-Request": "true", "Cookie": "sessionid=abc"})
        assert (status, said[:28]) == (503, "The database does not answer")
        assert json.loads(asked(f"{address}/health/")[1])["well"] is False
        bring_back()
        assert asked(f"{address}/health/")[0] == 200
        assert asked(f"{address}/log-in/")[0] == 200


def of_the_database(folder: Path, environment: dict[str, str]):
    """Return how a database is taken away, and how it is brought back, while a server uses it."""
    if connection.vendor == "sqlite":
        file, aside = folder / DATA / "daybook.sqlite3", folder / "aside"
        return (lambda: file.rename(aside)), (lambda: aside.rename(file))
    name = environment["DATABASE_URL"].rsplit("/", 1)[1]

    def ask(*orders: str) -> None:
        with psycopg.connect(os.environ["DATABASE_URL"], autocommit=True) as server:
            for order in orders:
                server.execute(order)

    return (lambda: ask(f"ALTER DATABASE {name} WITH ALLOW_CONNECTIONS false",
                        f"SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = '{name}'")), \
        (lambda: ask(f"ALTER DATABASE {name} WITH ALLOW_CONNECTIONS true"))


@pytest.fixture
def out_of_order_database(at_owner, rates):
    """Let writes be refused by the database itself: as on a disk that takes none."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only = ON" if connection.vendor == "sqlite" else "SET TRANSACTION READ ONLY")
        yield
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA query_only = OFF")
        transaction.set_rollback(True)


def save_settings(browser: Client, terms: str = "Ten days.", **headers: str):
    sent = {"paper": "A4", "units": "metric", "terms": terms, "saves": House.objects.get().saves}
    return browser.post("/studio/papers/", sent, headers=headers)


def test_a_database_that_takes_no_writing_is_read_and_says_so(at_owner, rates, out_of_order_database):
    assert at_owner.get("/stockroom/").status_code == 200
    answer = save_settings(at_owner)
    assert answer.status_code == 503
    assert "The disk takes no writing" in answer.content.decode()
    part = save_settings(at_owner, **{"HX-Request": "true"})
    assert (part.status_code, part["Content-Type"]) == (503, "text/plain; charset=utf-8")
    health = at_owner.get("/health/")
    assert health.status_code == 503
    assert "takes no writing" in str(health.json())


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL's disk is not this program's: 53100 is told below")
def test_a_full_database_says_so(at_owner, rates):
    with connection.cursor() as cursor:
        (pages,) = cursor.execute("PRAGMA page_count").fetchone()
        cursor.execute(f"PRAGMA max_page_count = {pages}")
        try:
            answer = save_settings(at_owner, "x" * 400_000)
        finally:
            cursor.execute("PRAGMA max_page_count = 1073741823")
    assert answer.status_code == 503
    assert "The disk is full" in answer.content.decode()


def test_a_disk_without_room_for_a_picture_says_so(at_owner, rates, monkeypatch, tmp_path):
    """/dev/full refuses as a full disk does; the name is of a file that may be removed after."""
    piece = tmp_path / "piece"
    piece.touch()
    monkeypatch.setattr(kept_in_folder.tempfile, "mkstemp", lambda **_: (os.open("/dev/full", os.O_WRONLY), str(piece)))
    with pytest.raises(OSError, match="No space left") as full, transaction.atomic():
        kept_files.keep(b"x", name="a.png", media_type="image/png", owner_only=False)
    assert trouble.trouble_of(full.value) is trouble.FULL
    assert not piece.exists()


@pytest.mark.parametrize(("free", "title"), [(0, "The disk is full"), (10**9, "The database does not answer")])
def test_a_disk_too_full_to_open_the_database_says_so(free, title, rf, monkeypatch, tmp_path):
    """What SQLite says on a full disk as it opens its file: no room for what it makes beside it."""
    def opens(*_: object) -> None:
        cause = sqlite3.OperationalError("disk I/O error")
        cause.sqlite_errorcode = sqlite3.SQLITE_IOERR_SHMSIZE
        raise OperationalError("disk I/O error") from cause

    file = tmp_path / "daybook.sqlite3"
    file.touch()
    monkeypatch.setattr(looking.data_folder, "database_file", lambda _: file)
    monkeypatch.setattr(looking.shutil, "disk_usage", lambda _: SimpleNamespace(free=free))
    monkeypatch.setattr(looking.TroubleMiddleware, "_look", opens)
    answer = looking.TroubleMiddleware(lambda _: HttpResponse())(rf.get("/"))
    assert (answer.status_code, title in answer.content.decode()) == (503, True)


@pytest.mark.parametrize(("state", "told"), [
    ("53100", trouble.FULL), ("25006", trouble.READ_ONLY), ("57P01", trouble.GONE), ("08006", trouble.GONE),
    ("40P01", trouble.BUSY), ("42P01", trouble.OTHER_VERSION), ("23505", None),
])
def test_what_postgresql_says_is_told_in_words(state, told):
    said = OperationalError("refused")
    said.__cause__ = psycopg.errors.lookup(state)("refused")
    assert trouble.trouble_of(said) is told


@pytest.mark.parametrize(("number", "told"), [
    (errno.ENOSPC, trouble.FULL), (errno.EROFS, trouble.READ_ONLY), (errno.EPIPE, None),
])
def test_what_the_disk_says_is_told_in_words(number, told):
    assert trouble.trouble_of(OSError(number, os.strerror(number))) is told


@pytest.mark.parametrize("harm", ["missing", "damaged"])
def test_a_kept_file_is_named_and_stops_nothing_else(at_owner, rates, harm):
    kept = kept_files.keep(b"%PDF-1", name="procedure.pdf", media_type="application/pdf", owner_only=False)
    path = path_of(kept.sha256)
    path.unlink() if harm == "missing" else path.write_bytes(b"other")
    answer = at_owner.get(f"/files/{kept.sha256}/")
    assert answer.status_code == 404
    assert "procedure.pdf is" in answer.content.decode()
    assert at_owner.get("/").status_code == 200


def test_a_paper_that_cannot_be_made_says_so_and_the_rest_goes_on(at_owner, owner, rates, monkeypatch):
    builders.Workshop(owner)

    def fails(*_: object, **__: object) -> None:
        raise ValueError("no such font")

    monkeypatch.setattr(paper.HTML, "write_pdf", fails)
    answer = at_owner.get("/swatch-book/paper.pdf")
    assert answer.status_code == 503
    assert "The paper could not be made" in answer.content.decode()
    assert at_owner.get("/swatch-book/").status_code == 200


@pytest.fixture
def new_connection(monkeypatch):
    """Let the next request look at the database as a thread does that has just connected."""
    monkeypatch.setattr(connection, "close", lambda: None)
    return Client


def test_a_database_that_a_newer_program_changed_is_left_alone(new_connection, rates):
    with connection.cursor() as cursor:
        cursor.execute("INSERT INTO django_migrations (app, name, applied) VALUES ('jobs', '9999_of_next_year', '2026-01-01')")
    for page in PAGES:
        answer = new_connection().get(page)
        assert answer.status_code == 503, page
        assert "newer than this program" in answer.content.decode()
    assert rules_are_in_place(databases=["default"])[0].id == "studio.E002"
    with pytest.raises(CommandError, match="it has had jobs 9999_of_next_year"):
        call_command("migrate", verbosity=0)


def test_a_database_whose_upgrade_was_cut_off_takes_no_orders(new_connection, rates):
    from studio.kit import database_rules

    with transaction.atomic():
        database_rules.lift(connection)
        answer = new_connection().get("/log-in/")
        database_rules.install(connection)
    assert answer.status_code == 503
    assert "Its last upgrade was cut off" in answer.content.decode()


def test_a_clock_that_went_back_is_told_on_every_page(at_owner, rates, settings):
    assert "clock of the server" not in at_owner.get("/").content.decode()
    ahead = time.time() + timedelta(days=400).total_seconds()
    os.utime(settings.DATA / SEEN, (ahead, ahead))
    for page in ("/", "/stockroom/", "/guides/"):
        told = at_owner.get(page)
        assert told.status_code == 200
        assert f"it says {timezone.now():%d %b %Y}" in told.content.decode()
    assert at_owner.get("/health/").status_code == 503
    (settings.DATA / SEEN).unlink()
    assert "clock of the server" not in at_owner.get("/").content.decode()
    assert at_owner.get("/health/").status_code == 200
