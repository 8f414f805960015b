"""Roles are rows: what each may is asked of the table, wherever it is asked."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from studio.house.clock import today
from studio.house.models import Person
from studio.kit import roles
from studio.kit.roles import ROLES, May, Role, may, who_may
from studio.stockroom.ledger import LedgerError, use_up
from tests import builders


def test_the_owner_may_everything_a_helper_works_and_the_desk_stands_between():
    assert all(may("owner", what) for what in May)
    assert [what for what in May if may("helper", what)] == [May.WORK]
    assert {what for what in May if may("desk", what)} == {May.WORK, May.ORDERS}
    assert who_may(May.ORDERS) == "owner, desk"
    assert who_may(May.PEOPLE) == "owner"


def test_a_role_that_nobody_knows_may_nothing():
    assert not any(may("apprentice", what) for what in May)


def test_a_further_role_is_one_row(monkeypatch: pytest.MonkeyPatch):
    partner = Role(name="partner", may=frozenset({May.WORK, May.ORDERS, May.MARGINS}), in_words="sees margins too")
    monkeypatch.setattr(roles, "ROLES", (*ROLES, partner))
    monkeypatch.setattr(roles, "_BY_NAME", {role.name: role for role in (*ROLES, partner)})
    assert Person(role="partner").may(May.MARGINS)
    assert not Person(role="partner").may(May.STUDIO)
    assert who_may(May.MARGINS) == "owner, partner"


@pytest.mark.django_db
def test_nobody_has_a_role_that_stands_in_no_row(owner):
    with pytest.raises(IntegrityError, match="known_role"), transaction.atomic():
        Person.objects.create(username="ivo", role="apprentice")


@pytest.mark.django_db
def test_the_desk_does_not_go_on_in_spite_of_a_held_lot(owner):
    with pytest.raises(LedgerError, match="Only the owner"):
        use_up(key=builders.key(), by=builders.person("ilse", "desk"), used=[], day=today(), why="a trial",
               kept_back_because="it looks well")
