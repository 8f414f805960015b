"""No loophole is open by any door: each is tried, or the table says why it cannot be."""

from __future__ import annotations

import copy

import pytest
from django.db import transaction
from django.test import override_settings

from tests import builders
from tests.whole.loopholes import by_hand, by_page  # noqa: F401  (they enter their attempts in the table)
from tests.whole.loopholes.by_book import EDITS
from tests.whole.loopholes.table import ATTEMPTS, AUDITED, DOORS, LOOPHOLES, UNREACHABLE, unreachable
from tests.whole.loopholes.test_audited import CONDITIONS
from tests.whole.loopholes.world import World

pytestmark = pytest.mark.django_db
BY_BOOK = {(loophole, door) for loophole in EDITS for door in ("book", "command")}


@pytest.fixture(scope="module")
def scene(django_db_setup, django_db_blocker, tmp_path_factory):
    """One studio for all, in a transaction of its own: each attempt is made inside it, and rolled back."""
    with django_db_blocker.unblock(), override_settings(FILES=tmp_path_factory.mktemp("files")), transaction.atomic():
        builders.house()
        builders.rates()
        yield World(builders.person("maud", "owner"))
        transaction.set_rollback(True)


@pytest.fixture
def world(scene, db):
    return copy.deepcopy(scene)


@pytest.mark.parametrize("pair", ATTEMPTS, ids=lambda pair: f"{pair[0]} by {pair[1]}")
def test_a_loophole_is_closed(world, pair):
    ATTEMPTS[pair](world)


def test_every_pair_is_tried_or_cannot_be_and_says_why():
    tried, cannot = {*ATTEMPTS, *BY_BOOK}, unreachable()
    assert all(cannot.values())
    assert tried.isdisjoint(cannot)
    assert tried | cannot.keys() == {(loophole, door) for loophole in LOOPHOLES for door in DOORS}


def test_what_is_left_to_the_audit_is_found_by_it():
    assert set(UNREACHABLE["database"][AUDITED]) <= {loophole for loophole, _, _ in CONDITIONS}
