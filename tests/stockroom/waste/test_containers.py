"""Waste containers: what may go in, made safe first, handed over, and the silver that comes back."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from studio.house.clock import now, today
from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.hazards.meeting import Thing, meet
from studio.stockroom.hazards.pairs import DANGEROUS_PAIRS
from studio.stockroom.models import WasteContainer, WasteEntry
from studio.stockroom.waste.containers import WasteRefused, contents, hand_over, pairs_of, put_in, silver_returned
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def drum(db):
    return WasteContainer.objects.create(name="S-1", meant_for="silver-bearing rinse", opened_on=today() - timedelta(days=40))


@pytest.mark.parametrize("pair", [pair for pair in DANGEROUS_PAIRS if "waste" in pair.stops], ids=lambda pair: pair.name)
def test_dangerous_pairs_never_meet_in_a_container(owner, drum, pair):
    first, second, third = sorted(pair.first)[0], sorted(pair.second)[0], sorted(pair.third)[:1]
    put_in(key=builders.key(), container=drum, by=owner, what="rinse", agents=[first],
           volume_ml=Decimal(100))
    with pytest.raises(WasteRefused) as refusal:
        put_in(key=builders.key(), container=drum, by=owner, what="more", agents=[second, *third],
               volume_ml=Decimal(100))
    assert pair.reason in str(refusal.value)
    assert pair.source not in str(refusal.value)  # that stands on the Sources page
    assert drum.entries.count() == 1


def test_nothing_ammoniacal_goes_in_before_it_is_made_safe(at_helper, owner, drum, house):
    both = ["silver_salt", "ammonia"]
    with pytest.raises(WasteRefused, match="before it is made safe"):
        put_in(key=builders.key(), container=drum, by=owner, what="rinse", agents=both, volume_ml=Decimal(100))
    sent = {"what": "First rinse of job 4", "volume": "1.5 L", "silver": "2.4", "agents": both, "made_safe": "on"}
    refused = at_helper.post(f"/stockroom/waste/{drum.pk}/put-in/", sent | {"key": builders.key()})
    assert refused.status_code == 422, "no tick makes it safe: only a record does"
    assert "no record says that this was" in refused.content.decode()
    sent = sent | {"agents": ["silver_chloride", "ammonium"], "key": builders.key()}
    for _ in range(2):
        assert at_helper.post(f"/stockroom/waste/{drum.pk}/put-in/", sent).status_code == 302
    assert "It holds: ammonium salt, silver chloride." in at_helper.get(f"/stockroom/waste/{drum.pk}/").content.decode()
    held = contents(drum.entries.all())
    assert (held.volume_ml, held.silver_g) == (1500, Decimal("2.4"))
    with pytest.raises(WasteRefused, match="silver chloride and ammonia must not meet"):
        put_in(key=builders.key(), container=drum, by=owner, what="window cleaner", agents=["ammonia"], volume_ml=Decimal(10))


def test_of_what_is_in_no_records_somebody_says_what_it_is(at_helper, drum, house):
    """Given old bleach of no lot, when nothing is ticked, then it is unknown and goes nowhere."""
    page = f"/stockroom/waste/{drum.pk}/put-in/"
    sent = {"what": "old bleach", "volume": "1 L"}
    refused = at_helper.post(page, {**sent, "key": builders.key()})
    assert refused.status_code == 422
    assert "Unknown is not safe" in refused.content.decode()
    assert 'value="old bleach"' in refused.content.decode()
    both = at_helper.post(page, {**sent, "agents": ["iron"], "none_apply": "on", "key": builders.key()})
    assert "say one" in both.content.decode()
    assert at_helper.post(page, {**sent, "what": "tap water", "agents": ["water"], "key": builders.key()}).status_code == 302
    assert at_helper.post(page, {**sent, "what": "glue", "none_apply": "on", "key": builders.key()}).status_code == 302
    assert [(row.reacts_as, row.none_apply) for row in drum.entries.all()] == [(["water"], False), ([], True)]
    assert "data sheet read, none apply" in at_helper.get(f"/stockroom/waste/{drum.pk}/").content.decode()
    with pytest.raises(IntegrityError), transaction.atomic():
        WasteEntry.objects.create(key=builders.key(), container=drum, by=drum.entries.first().by, what="x", at=now(),
                                  reacts_as=["iron"], none_apply=True)


def test_a_container_is_handed_over_and_silver_comes_back(at_owner, at_helper, owner, drum, house):
    house.waste_days_open = 30
    house.save()
    assert "the studio's limit is 30" in at_owner.get("/stockroom/waste/").content.decode()
    put_in(key=builders.key(), container=drum, by=owner, what="rinse", agents=["silver_salt"], volume_ml=Decimal(100), silver_g=Decimal(3))
    with pytest.raises(WasteRefused, match="only after the container was handed over"):
        silver_returned(drum, on=today(), grams=Decimal(1))
    assert at_helper.post(f"/stockroom/waste/{drum.pk}/hand-over/", {"handed_on": today().isoformat(), "handed_to": "Me"}).status_code == 403
    at_owner.post(f"/stockroom/waste/{drum.pk}/hand-over/", {"handed_on": today().isoformat(), "handed_to": "Ebb Refiners", "saves": 2})
    drum.refresh_from_db()
    with pytest.raises(WasteRefused, match="was handed over"):
        put_in(key=builders.key(), container=drum, by=owner, what="late", agents=[], volume_ml=Decimal(1))
    with pytest.raises(WasteRefused, match="already"):
        hand_over(drum, on=today(), to="Again")
    silver_returned(drum, on=today(), grams=Decimal("2.2"))
    shown = at_owner.get("/stockroom/silver-account/").content.decode()
    assert "2.2 g came back" in shown


def test_caustic_frees_ammonia_from_what_lies_there(owner, drum):
    """Ammonium salt and peroxide lie there harmlessly; caustic brings ammonia to the peroxide."""
    put_in(key=builders.key(), container=drum, by=owner, what="ammonium rinse", agents=["ammonium", "aldehyde"], volume_ml=Decimal(10))
    with pytest.raises(WasteRefused, match="ammonium salt and caustic"):
        put_in(key=builders.key(), container=drum, by=owner, what="lye", agents=["caustic"], volume_ml=Decimal(10))
    WasteEntry.objects.create(key=builders.key(), container=drum, by=owner, what="lye", reacts_as=["caustic", "silver_chloride"], at=now())
    assert ("silver chloride and ammonia", True) in [(pair.name, stops) for pair, stops in pairs_of(drum.entries.all())]


def test_silverings_own_leniency_ends_at_the_bench(owner, drum):
    """Silver nitrate with sugar cautions in a solution; by hand in one closed container an oxidiser and a reducer stop."""
    with pytest.raises(WasteRefused, match="oxidiser and reducer"):
        put_in(key=builders.key(), container=drum, by=owner, what="rinse", agents=["silver_salt", "oxidiser", "sugar"], volume_ml=Decimal(10))


@pytest.mark.parametrize("code", REACTS_AS)
def test_no_class_meets_itself(code):
    """Two bottles of one thing poured together are one thing: each meets the other in a container as it does alone."""
    thing = Thing(name="it", classes=frozenset({code}))
    assert meet([thing], "waste", onto=[replace(thing)]) == []
