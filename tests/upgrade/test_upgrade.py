"""A database written by commit 84c4296, with the demo in it: migrated, it ties and says the same figures."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from tests.attack.killed_migration import copied
from tests.serving import HOME, Environment, bare_database, manage, own_database
from tests.upgrade.earlier import lay_out

HERE = Path(__file__).parent
FIGURES = HERE / "figures_of_84c4296.json"

#: How a state was called then, and what it is called now.
STATES: dict[str, str] = {"handed over": "delivered", "called off": "cancelled"}
#: Jobs that were an enquiry with a quote sent: today they are quoted.
QUOTED = {"7"}
#: Lots that shared a number with an earlier one: today a number names one lot.
RENAMED = {"antiquing-gel-diluted M261029-1": "antiquing-gel-diluted M261029-1-2",
           "dextrose-reducer M261029-1": "dextrose-reducer M261029-1-3"}


def left_behind(folder: Path) -> Environment:
    """A data folder as the earlier program left it. The file is SQLite's, whatever the suite runs on."""
    lay_out(folder)
    environment = {key: value for key, value in os.environ.items() if key not in ("DATABASE_URL", "SECRET_KEY")}
    return {**environment, "DAYBOOK_DATA": str(folder), "DJANGO_SETTINGS_MODULE": "studio.settings"}


@pytest.fixture
def earlier(tmp_path) -> Environment:
    return left_behind(tmp_path / "daybook")


@pytest.fixture(scope="module")
def upgraded(tmp_path_factory) -> Environment:
    """The same, migrated: for tests that change nothing in it."""
    environment = left_behind(tmp_path_factory.mktemp("upgraded") / "daybook")
    manage(environment, "migrate", "--verbosity", "0")
    return environment


def said_now(environment: Environment, what: str = "figures", *how: str) -> Any:
    printed = subprocess.run(
        [sys.executable, "-m", f"tests.upgrade.{what}", *how], cwd=HOME, env=environment, capture_output=True, text=True,
        check=True,
    ).stdout
    return json.loads(printed)


@pytest.mark.whichever_database
def test_an_earlier_database_upgrades_ties_and_says_the_same(upgraded):
    assert "Everything ties." in manage(upgraded, "audit")
    then = json.loads(FIGURES.read_text(encoding="utf-8"))
    for number, job in then["jobs"].items():
        job["state"] = "quoted" if number in QUOTED else STATES.get(job["state"], job["state"])
    now = said_now(upgraded)
    assert len(now["quotes"]) == 9
    assert now["quotes"] == then["quotes"]
    assert now["lots"] == {RENAMED.get(lot, lot): held for lot, held in then["lots"].items()}
    assert now["jobs"] == then["jobs"]
    answers = said_now(upgraded, "pages")
    assert {address: status for address, status in answers.items() if status >= 500} == {}
    for_the_helper = {status for address, status in answers.items() if address.startswith("helper /bench/")}
    assert for_the_helper == {200}
    papers = {status for address, status in answers.items() if address.startswith("owner ") and address.endswith(".pdf")}
    assert papers == {200}


@pytest.mark.whichever_database
def test_a_leftover_of_a_solution_that_was_renamed_since_is_found_by_the_code_that_its_quote_froze(earlier):
    """100 mL left of job 1's antiquing gel, which had another name when its ticket was printed. It is linked under the
    names that recipes have until then, whichever room is asked for first."""
    path = Path(earlier["DAYBOOK_DATA"]) / "daybook.sqlite3"
    with closing(sqlite3.connect(path)) as database, database:
        ((ahead, posting, movement, made),) = database.execute(
            "SELECT lot.id, movement.posting_id, movement.id, made.id FROM recipes_madelot made "
            "JOIN inventory_lot lot ON lot.id = made.lot_id JOIN inventory_stockmovement movement ON movement.lot_id = lot.id "
            "JOIN recipes_solutionissue issue ON issue.id = made.solution_issue_id "
            "JOIN recipes_solution solution ON solution.id = issue.solution_id "
            "WHERE movement.kind = 'make-up in' AND solution.code = 'antiquing-gel-diluted'")
        left = copied(database, "inventory_lot", ahead, lot_number="M-left", quantity_received=100_000, landed_cost=0)
        kept = copied(database, "inventory_posting", posting, key=uuid4().hex, why="Left over from Job 1")
        copied(database, "inventory_stockmovement", movement, posting_id=kept, lot_id=left, quantity=100_000, unit_cost=0)
        copied(database, "recipes_madelot", made, lot_id=left)
        database.execute("UPDATE recipes_solution SET name = 'Gel for antiquing' WHERE code = 'antiquing-gel-diluted'")
    manage(earlier, "migrate", "recipes", "--verbosity", "0")
    manage(earlier, "migrate", "--verbosity", "0")
    assert "Everything ties." in manage(earlier, "audit")
    with closing(sqlite3.connect(path)) as database:
        linked = database.execute("SELECT lot_id, mix, volume_ml, mixed_ml FROM jobs_keptleftover").fetchall()
    assert linked == [(left, "m3b1", 100_000, 480_000)]


def test_tables_made_at_once_are_those_that_every_migration_makes_one_by_one(tmp_path):
    """A new studio's database differs in nothing from one that has lived through all of them."""
    for kind in ("at-once", "one-by-one"):
        (tmp_path / kind).mkdir()
    with own_database(tmp_path / "at-once", "daybook_at_once") as environment:
        at_once, rows = said_now(environment, "tables")
    with bare_database(tmp_path / "one-by-one", "daybook_one_by_one") as environment:
        one_by_one, rows_of_old = said_now(environment, "tables", "one-by-one")
    assert len(at_once) > 100
    assert [made for made in at_once if made not in one_by_one] == []
    assert [made for made in one_by_one if made not in at_once] == []
    assert rows == rows_of_old


@pytest.mark.whichever_database
def test_an_upgraded_studio_has_its_places_and_its_materials_their_classes(upgraded):
    """Each place that materials name is there once, general until the owner says more; the database knows what is what."""
    with closing(sqlite3.connect(Path(upgraded["DAYBOOK_DATA"]) / "daybook.sqlite3")) as kept:
        named = {name for (name,) in kept.execute("SELECT storage_place FROM inventory_material WHERE storage_place <> ''")}
        places = kept.execute("SELECT name, type FROM inventory_storageplace").fetchall()
        (silver,) = kept.execute("SELECT classes FROM inventory_material WHERE name = 'Silver nitrate'").fetchone()
    assert {name.casefold() for name, _ in places} == {name.casefold() for name in named} != set()
    assert len(places) == len({name.casefold() for name in named})
    assert {kind for _, kind in places} == {"general"}
    assert json.loads(silver) == ["nitrate", "oxidiser", "silver_salt"]
