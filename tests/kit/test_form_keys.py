"""A form's key at every door that counts what it is sent: lost or malformed, it is refused, and what was typed stays."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from re import sub
from typing import Any

import pytest

from jobs.models import JobPhotograph, Order, Quote, RunEntry
from jobs.work.finishing import finish_run
from recipes.models import Trial, TrialNote, TrialPhotograph, TrialTiming, TrialUse
from recipes.solutions.mixing_ahead import mix_ahead
from recipes.trials.conducting import Taken, take_stock
from studio.house.clock import today
from studio.stockroom.models import (
    CountSheet,
    Delivery,
    Lot,
    LotEvent,
    Offcut,
    Posting,
    Purchase,
    WasteContainer,
    WasteEntry,
)
from tests import builders
from tests.jobs.orders.test_order_page import typed as typed_order

pytestmark = pytest.mark.django_db
COUNTED = (
    JobPhotograph, Order, Quote, RunEntry, Trial, TrialNote, TrialPhotograph, TrialTiming, CountSheet, Delivery, Lot,
    LotEvent, Offcut, Posting, Purchase, WasteEntry,
)


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


class Doors:
    """Everything that stands behind the doors, and what each is sent: an address, and values without a key."""

    def __init__(self, shop: builders.Workshop) -> None:
        self.shop, self.owner = shop, shop.owner

    def lot(self) -> str:
        return f"/stockroom/lots/{self.shop.lots[2].pk}"

    def open_run(self) -> str:
        return f"/bench/{self.shop.run().pk}"

    def mix(self, how: str) -> str:
        run = self.shop.run()
        return f"/bench/{run.pk}/mixes/{run.ticket.plan['mixes'][0]['key']}/{how}"

    def leftover(self) -> tuple[str, dict[str, Any]]:
        run = finish_run(run=builders.worked(self.shop.run(), self.owner), by=self.owner)
        mix = next(recorded for recorded in run.ticket.plan["mixes"] if recorded["keeps"])
        return f"/bench/{run.pk}/leftover/", {"mix": mix["key"], "volume": "77 mL"}

    def trial(self) -> str:
        return f"/finishes/trials/{builders.trial(self.shop.recipe, self.owner).number}"

    def taken(self) -> tuple[str, dict[str, Any]]:
        row = builders.trial(self.shop.recipe, self.owner)
        take_stock(key=builders.key(), trial=row, by=self.owner, day=today(), because="",
                         taken=[Taken(lot=self.shop.lots[2], amount=builders.Decimal(1))])
        return f"/finishes/trials/{row.number}/stock/{TrialUse.objects.get().pk}/back/", {"why": "77 too many"}

    def drum(self) -> str:
        row = WasteContainer.objects.create(name="S-77", meant_for="rinse", opened_on=today())
        return f"/stockroom/waste/{row.pk}"


Door = Callable[[Doors], tuple[str, dict[str, Any]]]
DOORS: dict[str, Door] = {
    "order": lambda d: ("/jobs/new/", {k: v for k, v in typed_order(d.shop, {}, title="77 mirrors").items() if k != "key"}),
    "quote": lambda d: (f"/jobs/{d.shop.order().job.number}/quote/", {"note": "77"}),
    "photograph of a job": lambda d: (f"/jobs/{d.shop.order().job.number}/photographs/", {"caption": "77 panes"}),
    "ordered": lambda d: ("/stockroom/buying/ordered/", {"material": d.shop.sugar.pk, "amount": "77 g"}),
    "leftover": Doors.leftover,
    "conditions": lambda d: (f"{d.open_run()}/conditions/", {"air_c": "17.7", "humidity_percent": "77"}),
    "mixed as written": lambda d: (d.mix("as-written/"), {"note": "77"}),
    "mix not made": lambda d: (d.mix("not-made/"), {"note": "77"}),
    "mix from a lot": lambda d: (d.mix("from-lot/"), {"lot": mix_ahead(
        key=builders.key(), by=d.owner, version=d.shop.reducer, volume_ml=Fraction(3000), day=today()).pk, "note": "77"}),
    "time": lambda d: (f"{d.open_run()}/time/", {"helper": "77", "owner": "5"}),
    "note at the bench": lambda d: (f"{d.open_run()}/note/", {"text": "77 drips"}),
    "made safe": lambda d: (f"{d.open_run()}/made-safe/", {"by_procedure": "on", "note": "77"}),
    "trial": lambda d: (f"/finishes/{d.shop.recipe.key}/try/", {"size_text": "77 x 77 mm", "question": "77?"}),
    "trial's note": lambda d: (f"{d.trial()}/note/", {"text": "77 drips"}),
    "trial's timing": lambda d: (f"{d.trial()}/timing/", {"step": "1", "took": "77 s"}),
    "trial's stock": lambda d: (f"{d.trial()}/stock/", {"other_lot": str(d.shop.lots[2].pk), "other_amount": "77 g"}),
    "trial's stock given back": Doors.taken,
    "made up": lambda d: (f"/finishes/solutions/{d.shop.reducer.key}/mix-ahead/", {"volume": "77 mL"}),
    "lot received": lambda d: (f"/stockroom/{d.shop.sugar.code}/receive/", {
        "lot_number": "L-77", "amount": "1 kg", "cost_with_carriage": "9", "received_on": today().isoformat()}),
    "delivery": lambda d: ("/stockroom/receive/", {"supplier": "Pellworth 77", "received_on": today().isoformat(),
                                                   "share_by": "value", "table": f"{d.shop.sugar}, L-77, 1 kg, 9"}),
    "lot opened": lambda d: (f"{d.lot()}/open/", {"note": "77"}),
    "lot held": lambda d: (f"{d.lot()}/hold/", {"why": "77 specks", "saves": 1}),
    "lot released": lambda d: (f"{d.lot()}/release/", {"why": "77 specks", "saves": 1}),
    "lot discarded": lambda d: (f"{d.lot()}/discard/", {"why": "77 specks", "amount": "1 g"}),
    "lot returned": lambda d: (f"{d.lot()}/return/", {"why": "77 specks", "amount": "1 g"}),
    "count": lambda d: ("/stockroom/counts/", {"place": "77"}),
    "waste": lambda d: (f"{d.drum()}/put-in/", {"what": "77 rinses", "volume": "1 L"}),
    "offcut": lambda d: ("/stockroom/offcuts/", {"material": d.shop.glass.pk, "size": "770 x 600 mm"}),
}


@pytest.mark.parametrize("door", DOORS)
def test_a_lost_key_is_refused_and_what_was_typed_stays(at_owner, shop, door):
    address, values = DOORS[door](Doors(shop))
    counted = [model.objects.count() for model in COUNTED]
    for lost in ({}, {"key": ""}, {"key": "no key"}):
        answer = at_owner.post(address, values | lost)
        assert answer.status_code == 422
        shown = answer.content.decode()
        assert "This form has lost its key" in shown
        assert "77" in shown
        assert "Key" not in sub("<[^>]*>", " ", shown)  # a hidden field has no name on the page
    assert [model.objects.count() for model in COUNTED] == counted


def test_on_the_bench_only_the_part_is_swapped(at_helper, shop):
    answer = at_helper.post(f"/bench/{shop.run().pk}/note/", {"text": "77 drips"}, headers={"HX-Request": "true"})
    assert answer.status_code == 422
    shown = answer.content.decode()
    assert "<html" not in shown
    assert "data-part" in shown
    assert "77 drips" in shown


def test_a_form_that_is_shown_carries_a_key_of_its_own(at_owner, shop):
    first, second = (at_owner.get("/stockroom/offcuts/").content.decode() for _ in range(2))
    assert 'name="key" value="' in first
    assert first.split('name="key" value="')[1][:36] != second.split('name="key" value="')[1][:36]
