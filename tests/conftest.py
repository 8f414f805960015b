"""What all tests share: one owner, one helper, a house, and a data folder that is thrown away."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import hypothesis
import pytest
from django.test import Client
from playwright.sync_api import Browser

from studio.house.clock import pretend
from studio.house.models import House, HouseRates, Person
from tests import builders
from tests.chromium import chromium
from tests.serving import Environment, own_database, patterns, served

# A timing is a benchmark, never an assertion.
hypothesis.settings.register_profile("daybook", deadline=None)
hypothesis.settings.load_profile("daybook")


def pytest_configure() -> None:
    """Name the folder of patterns before the workers start, so that they share it."""
    patterns()


@pytest.fixture(autouse=True)
def own_files(settings: object, tmp_path: Path) -> None:
    """Keep files in a folder of this test's own, and hash passwords quickly."""
    settings.FILES = tmp_path / "files"
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


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
