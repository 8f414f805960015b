"""The record of changes: who changed settings, rates, prices, recipes and people, and who came to the door."""

from __future__ import annotations

import logging
import re
import stat
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from recipes.finishes.putting_in_use import withdraw_recipe
from recipes.models import VersionEvent
from studio.house.changes import FAILURES, UNKNOWN, note_change
from studio.house.clock import now, pretend
from studio.house.log_file import LogFile, WithoutContacts, left_out
from studio.house.models import ChangeRecord, House, HouseRates, Person
from studio.house.people import change_person
from studio.house.saving import save_house
from studio.kit.locks import ChangedMeanwhile
from studio.stockroom.deliveries.price_list import apply_price_list, read_price_list
from tests import builders
from tests.house.test_rates import as_shown

pytestmark = pytest.mark.django_db


def kept(kind: str) -> list[tuple[str, str]]:
    return [(change.subject, change.what) for change in ChangeRecord.objects.filter(kind=kind).order_by("id")]


def latest(kind: str) -> ChangeRecord:
    return ChangeRecord.objects.filter(kind=kind).latest("id")


def test_a_setting_is_kept_as_it_was_and_as_it_is_with_who_and_from_where(at_owner, owner, rates):
    page = at_owner.get("/studio/papers/")
    sent = {field.html_name: field.value() or "" for field in page.context["form"] if field.html_name != "mark"}
    sent |= dict(re.findall(r'name="(saves|opened_as)" value="([^"]*)"', page.content.decode()))
    assert at_owner.post("/studio/papers/", sent | {"paper": "Letter"}).status_code == 302
    change = latest("settings")
    assert (change.subject, change.what) == ("Studio settings", "paper: “A4” → “US Letter”")
    assert (change.by, change.asked_from) == (owner, "127.0.0.1")


def test_what_was_refused_is_not_kept(house):
    before = ChangeRecord.objects.count()
    with pytest.raises(ChangedMeanwhile):
        save_house(house.saves + 1, {"name": "Another"})
    with transaction.atomic():
        save_house(None, {"name": "Another"})
        transaction.set_rollback(True)
    assert ChangeRecord.objects.count() == before


def test_rates_are_told_by_what_differs_from_those_before(at_owner, owner, rates):
    at_owner.post("/studio/rates/", {**as_shown(at_owner), "effective_from": "today", "margin_share": "32.5 %"})
    assert latest("rates").what == "Margin: 35 % → 32.5 %"
    at_owner.post("/studio/rates/", {**as_shown(at_owner), "helper_per_hour": "€26.50", "edge-2-name": "bevelled",
                                     "edge-2-minutes_per_m": "11"})
    two = [change.what for change in ChangeRecord.objects.filter(kind="rates", by=owner)[:2]]
    assert two[0].startswith("Edges: seamed")
    assert two[0].endswith("bevelled 11 min a metre")
    assert two[1] == "Helper, an hour: €24.00 → €26.50"


def test_rates_that_are_removed_before_they_count_are_kept(at_owner, rates):
    at_owner.post("/studio/rates/", {**as_shown(at_owner), "effective_from": "in 3 weeks", "margin_share": "40"})
    ahead = HouseRates.objects.first()
    assert at_owner.post(f"/studio/rates/{ahead.pk}/remove/").status_code == 302
    assert latest("rates").what == "removed"


def test_a_price_is_kept_whichever_door_it_comes_by(owner, rates):
    silver = builders.material("Silver nitrate", list_price="2")
    silver.list_price = "2.5"
    silver.save()
    lines, wrong = read_price_list("material,list price\nSilver nitrate,3")
    assert not wrong
    apply_price_list(lines)
    assert kept("prices") == [
        ("Silver nitrate", "new: list price 2"), ("Silver nitrate", "list price: 2 → 2.5"),
        ("Silver nitrate", "list price: 2.5 → 3"),
    ]
    silver.refresh_from_db()
    silver.name = "Silver nitrate, pure"
    silver.save()
    assert len(kept("prices")) == 3, "no price was changed"


def test_a_recipe_is_kept_as_it_is_put_in_use_and_withdrawn(morning_workshop, owner):
    version = VersionEvent.objects.get().recipe_version
    withdraw_recipe(version=version, by=owner, note="peels")
    name = str(version)
    assert [row for row in kept("recipes") if row[0] == name] == [(name, "put in use"), (name, "withdrawn")]
    assert latest("recipes").by == owner


def test_people_are_kept_by_page_and_by_program(at_owner, owner, helper):
    at_owner.post(f"/studio/people/{helper.pk}/password/")
    assert (latest("people").subject, latest("people").what) == (helper.name, "was given a one-time password")
    assert latest("people").by == owner
    change_person(helper.pk, by=owner, first_name="Teo", last_name="Sand", role="helper")
    helper.refresh_from_db()
    helper.set_password("grit-and-felt-wheels")
    helper.save()
    change = latest("people")
    assert (change.what, change.by) == ("password changed", None)
    assert "grit" not in "".join(change.what for change in ChangeRecord.objects.all())


def test_the_door_keeps_who_came_in_and_who_could_not(helper):
    helper.set_password("slate-and-fern-green")
    helper.save()
    door, away = Client(), {"username": "Teo", "password": "slate-and-moss"}
    door.post("/log-in/", away)
    door.post("/log-in/", {"username": "slate-and-fern-green", "password": ""} | {"password": "x"})
    door.post("/log-in/", away | {"password": "slate-and-fern-green"})
    door.post("/log-out/")
    assert kept("door") == [("teo", "log-in failed"), (UNKNOWN, "log-in failed"), ("teo", "logged in"),
                            ("teo", "logged out")]
    assert latest("door").by == helper


def test_a_flood_at_the_door_does_not_fill_the_record(helper):
    door = Client()
    for _ in range(FAILURES + 4):
        door.post("/log-in/", {"username": "nobody", "password": "x"})
    assert kept("door") == [(UNKNOWN, "log-in failed")] * FAILURES
    with pretend(now() + timedelta(hours=1)):
        door.post("/log-in/", {"username": "nobody", "password": "x"})
    assert len(kept("door")) == FAILURES + 1


def test_the_owner_reads_and_filters_it_and_nobody_else(at_owner, at_helper, owner, rates):
    with pretend(now() - timedelta(days=40)):
        note_change("prices", "Dextrose", "list price: 1 → 2", by=owner)
    note_change("recipes", "Old gold, version 2", "put in use", by=owner)
    assert at_helper.get("/studio/changes/").status_code == 403

    def asked(query: str) -> list[str]:
        return [change.subject for change in at_owner.get(f"/studio/changes/?{query}").context["listing"].rows]

    assert asked("kind=prices") == ["Dextrose"]
    assert asked("q=old+version") == ["Old gold, version 2"]
    assert asked(f"by={owner.pk}&until=3 weeks ago") == ["Dextrose"]
    assert "Dextrose" not in asked(f"by={owner.pk}&since=3 weeks ago")
    assert asked("by=program&q=dextrose") == []
    refused = at_owner.get("/studio/changes/?since=soonish")
    assert refused.status_code == 422
    assert "soonish" in refused.content.decode()


def test_a_long_record_is_paged_by_as_many_questions_as_a_short_one(at_owner, owner, house):
    at_owner.get("/studio/changes/")
    with CaptureQueriesContext(connection) as short:
        at_owner.get("/studio/changes/")
    for number in range(120):
        note_change("settings", f"Thing {number}", "changed", by=owner)
    with CaptureQueriesContext(connection) as long:
        page = at_owner.get("/studio/changes/?page=2")
    assert len(page.context["listing"].rows) == 50
    assert len(long) == len(short)


def test_the_house_begins_with_its_first_owner_in_the_record(db):
    Person.objects.create_user("ada", password="grey-slate-roof", role="owner")
    House.objects.create(id=1, name="Ada's mirrors")
    assert ("ada", "new: username “ada”, role “owner”, is active yes") in kept("people")
    assert kept("settings")[0][1].startswith("new: name “Ada's mirrors”")


def test_the_log_file_names_no_contact_and_no_secret(tmp_path: Path):
    said = left_out("Refused ida@example.org, tel. +44 20 7946 0018\npassword=hunter2\nDETAIL:  Key (email)=(x) exists.")
    assert said == "Refused (e-mail), tel. (number)\npassword=(left out)\nDETAIL: (left out)"
    plain = "2026-11-27 10:00:05,123 WARNING daybook.security: Log-in failed: teo, from 192.168.1.20"
    assert left_out(plain) == plain


def test_a_sentence_of_the_log_is_one_line_whatever_was_typed():
    typed = logging.LogRecord("daybook", logging.WARNING, "", 0, "Refused: %s", ("x\n2026-01-01 ERROR daybook: forged",), None)
    kept = WithoutContacts("{asctime} {levelname} {name}: {message}", style="{").format(typed)
    assert kept.endswith("daybook: Refused: x\\n2026-01-01 ERROR daybook: forged")
    assert re.match(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d{4} ", kept), "the time says how far from UTC it is"


def test_who_asks_for_what_is_not_theirs_stands_in_the_log(at_helper, caplog):
    security = logging.getLogger("daybook.security")
    security.addHandler(caplog.handler)
    try:
        assert at_helper.get("/studio/rates/").status_code == 403
    finally:
        security.removeHandler(caplog.handler)
    told = [record.getMessage() for record in caplog.records if record.name == "daybook.security"]
    assert told == ["Refused: teo asked for /studio/rates/"]


def test_the_log_file_is_its_owners_alone_and_begins_anew_when_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("studio.house.log_file.LARGEST_BYTES", 200)
    log = LogFile(str(tmp_path / "log"))
    for number in range(9):
        log.emit(logging.LogRecord("daybook", logging.WARNING, "", 0, f"line {number} of the log, long enough", (), None))
    log.close()
    files = sorted((tmp_path / "log").iterdir())
    assert len(files) > 1
    assert {stat.S_IMODE(file.stat().st_mode) for file in files} == {0o600}
    assert stat.S_IMODE((tmp_path / "log").stat().st_mode) == 0o700
    assert "line 8" in files[0].read_text()


def test_of_several_processes_that_fill_the_log_one_begins_it_anew_and_the_others_follow(tmp_path: Path, monkeypatch):
    monkeypatch.setattr("studio.house.log_file.LARGEST_BYTES", 600)
    logs = [LogFile(str(tmp_path / "log")) for _ in range(3)]
    for number in range(36):  # at some twenty bytes a line, so that no file that is kept falls out
        logs[number % 3].emit(logging.LogRecord("daybook", logging.WARNING, "", 0, f"line {number:03} of the log, long enough", (), None))
    for log in logs:
        log.close()
    said = [line for file in sorted((tmp_path / "log").iterdir(), reverse=True) for line in file.read_text().splitlines()]
    assert said == [f"line {number:03} of the log, long enough" for number in range(36)]
