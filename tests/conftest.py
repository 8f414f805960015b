"""What all tests share: one owner, one helper, a house, and a data folder that is thrown away."""

from __future__ import annotations

import gc
import os
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import hypothesis
import pytest
from django.test import Client
from playwright.sync_api import Browser

from jobs.private_links.customers_page import ANSWERS, LOOKS, SET, WRONG
from jobs.week.feed_views import FEED_ASKED, FEED_WRONG
from recipes.finishes.in_doubt import forget_what_was_found
from studio.house.clock import pretend
from studio.house.models import House, HouseRates, Person
from studio.house.paper import papers
from tests import builders
from tests.chromium import chromium
from tests.serving import Environment, own_database, patterns, served

# A timing is a benchmark, never an assertion. The suite tries the same cases every time, so that red means a change;
# HYPOTHESIS_PROFILE=exploring tries other ones, and more of them (`make explore`).
hypothesis.settings.register_profile("daybook", deadline=None, derandomize=True)
hypothesis.settings.register_profile("exploring", deadline=None, max_examples=3000)
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "daybook"))


def pytest_configure() -> None:
    """Name the folder of patterns before the workers start, so that they share it.

    What was imported is never garbage: looking through it again and again is a twelfth of the suite's time. Nor is the
    program compiled anew by each of the hundreds of processes that tests start, whatever the machine is set to.
    """
    patterns()
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    gc.freeze()
    gc.set_threshold(200_000, 20, 20)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--opening-a-database", action="store_true",
                     help="leave out what opens no database: it is the same whichever there is")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--opening-a-database"):
        opening: dict[bool, list[pytest.Item]] = {True: [], False: []}
        for item in items:
            opening[_may_open_a_database(item)].append(item)
        config.hook.pytest_deselected(items=opening[False])
        items[:] = opening[True]
    items.sort(key=lambda item: not _starts_processes(item))  # they take longest: none is left for the end, alone


def _may_open_a_database(item: pytest.Item) -> bool:
    if item.get_closest_marker("whichever_database"):
        return False
    fixtures = set(getattr(item, "fixturenames", ()))
    return bool(fixtures & {"db", "transactional_db"} or item.get_closest_marker("django_db")) or _starts_processes(item)


def _starts_processes(item: pytest.Item) -> bool:
    """Say whether a test asks for a served demo, or its module for anything that starts a process of its own."""
    if "demo" in getattr(item, "fixturenames", ()):
        return True
    known = vars(item.module).values() if isinstance(item, pytest.Function) else ()
    homes = {getattr(value, "__module__", None) or getattr(value, "__name__", "") for value in known}
    return any(str(home).startswith(("subprocess", "tests.serving", "tests.attack", "tests.upgrade")) for home in homes)


@pytest.fixture(autouse=True)
def own_files(settings: object, tmp_path: Path) -> None:
    """Keep files in a folder of this test's own, and hash passwords quickly."""
    settings.DATA = tmp_path / "data"
    settings.DATA.mkdir(mode=0o700)
    settings.FILES = tmp_path / "files"
    settings.STATIC_ROOT = None  # nothing is collected here: plain names
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    forget_what_was_found()  # of the database of another test
    papers.forget()
    for tries in (WRONG, ANSWERS, LOOKS, SET, FEED_WRONG, FEED_ASKED):
        tries.forget()


@pytest.fixture
def owner(db: None) -> Person:
    return builders.person("maud", "owner")


@pytest.fixture
def helper(db: None) -> Person:
    return builders.person("teo", "helper")


@pytest.fixture
def house(db: None) -> House:
    return builders.house()


@pytest.fixture
def rates(house: House) -> HouseRates:
    return builders.rates()


@pytest.fixture
def morning_workshop(owner: Person, rates: HouseRates) -> Iterator[builders.Workshop]:
    """A workshop an hour before ten: the test's own clock stands there."""
    with pretend(builders.TEN - timedelta(hours=1)):
        yield builders.Workshop(owner)


@pytest.fixture
def at_owner(client: Client, owner: Person) -> Client:
    client.force_login(owner)
    return client


@pytest.fixture
def at_helper(helper: Person) -> Client:
    helpers_client = Client()
    helpers_client.force_login(helper)
    return helpers_client


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[tuple[str, Environment]]:
    """A demo studio of its own, served: its address and environment."""
    with own_database(tmp_path, "daybook_journey", "demo") as environment, served(environment) as address:
        yield address, environment
