"""A measure that is one amount here and another there is asked back wherever a unit is typed, and nothing is saved."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from jobs.models import RunEntry
from jobs.work.bench import bench_state
from recipes.models import SolutionVersion, Trial
from studio.house.clock import today
from studio.stockroom.counts.counting import start_count
from studio.stockroom.models import CountLine, Lot, WasteContainer
from tests import builders
from tests.asking import error_beside
from tests.recipes.finishes.test_authoring import fields_of
from tests.recipes.solutions.test_solution_authoring import m, typed

pytestmark = pytest.mark.django_db
#: what is typed, and how the answer begins that names the choices
MEASURES = [("2 oz", "An ounce is"), ("2 gal", "A gallon is"), ("2 dram", "A dram is"), ("2 cup", "A cup is"),
            ("2 pint", "A pint is"), ("2 quart", "A quart is"), ("2 fl oz", "A fluid ounce is")]


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def delivery(shop, client, text):
    page = client.post("/stockroom/receive/", {
        "supplier": "Quay", "received_on": today().isoformat(), "share_by": "value", "key": builders.key(),
        "table": f"Ammonia 28 %,A9,{text},70"}).content.decode()
    return page, Lot.objects.filter(lot_number="A9")


def lot(shop, client, text):
    page = client.post(f"/stockroom/{shop.ammonia.code}/receive/", {
        "lot_number": "A9", "amount": text, "cost_with_carriage": "7", "received_on": today().isoformat(),
        "key": builders.key()}).content.decode()
    return error_beside(page, "amount"), Lot.objects.filter(lot_number="A9")


def count(shop, client, text):
    sheet = start_count(key=builders.key(), by=shop.owner, place="", hide_expected=True)
    line = sheet.lines.get(lot=shop.lots[1])
    page = client.post(f"/stockroom/counts/{sheet.pk}/", {f"line-{line.pk}": text}).content.decode()
    return error_beside(page, f"line-{line.pk}"), CountLine.objects.exclude(counted=None)


def bench_amount(shop, client, text):
    run = shop.run()
    mix = next(state.mix for state in bench_state(run).mixes if state.mix.ingredients[0].unit == "g")
    sent = {f"{mix.key}-amount_{row.number}": str(row.amount) for row in mix.ingredients}
    field = f"{mix.key}-amount_{mix.ingredients[1].number}"
    page = client.post(reverse("jobs:record_mix", args=[run.pk, mix.key]),
                       {**sent, field: text, "key": builders.key()}).content.decode()
    return error_beside(page, field), RunEntry.objects.all()


def ingredient(shop, client, text):
    page = client.post("/finishes/solutions/new/", typed(
        shop, (m(shop.ammonia), text), (m(shop.water), "", "make_up"))).content.decode()
    return error_beside(page, "in-0-amount"), SolutionVersion.objects.filter(solution__name="Tin wash")


def coverage(shop, client, text):
    address = f"/finishes/{shop.recipe.finish.code}/{shop.recipe.number}/try/"
    sent = fields_of(client.get(address).content.decode(), "try") | {"s3-coverage_ml_per_m2": f"{text}/ft2"}
    page = client.post(address, sent).content.decode()
    return error_beside(page, "s3-coverage_ml_per_m2"), Trial.objects.all()


def trial_amount(shop, client, text):
    trial = builders.trial(shop.recipe, shop.owner)
    sent = {f"take-{shop.ammonia.pk}-lot": shop.lots[1].pk, f"take-{shop.ammonia.pk}-amount": text}
    page = client.post(f"/finishes/trials/{trial.number}/stock/", {**sent, "key": builders.key()}).content.decode()
    return error_beside(page, f"take-{shop.ammonia.pk}-amount"), trial.uses.all()


def mixing_volume(shop, client, text):
    page = client.get("/finishes/solutions/reducer/1/", {"volume": text, "strength": "1"}).content.decode()
    return error_beside(page, "volume"), Lot.objects.none()


def conversion(shop, client, text):
    page = client.get("/finishes/strengths/", {"wanted": "1:32", "volume": text}).content.decode()
    return error_beside(page, "volume"), Lot.objects.none()


def container(shop, client, text):
    page = client.post("/stockroom/waste/", {"name": "S-9", "meant_for": "rinse", "holds_most": text}).content.decode()
    return error_beside(page, "holds_most"), WasteContainer.objects.all()


DOORS = [delivery, lot, count, bench_amount, ingredient, coverage, trial_amount, mixing_volume, conversion, container]


@pytest.mark.parametrize("door", DOORS, ids=lambda door: door.__name__)
def test_it_is_asked_back_with_the_choices_and_nothing_is_saved(door, shop, at_owner):
    told = []
    for measure, sentence in MEASURES:
        shown, saved = door(shop, at_owner, measure)
        told.append((measure, sentence in shown, "imp" in shown, saved.exists()))
    assert told == [(measure, True, True, False) for measure, _ in MEASURES]


def test_what_says_which_is_read(shop, at_owner):
    at_owner.post(f"/stockroom/{shop.ammonia.code}/receive/", {
        "lot_number": "A9", "amount": "2 US pt", "cost_with_carriage": "7", "received_on": today().isoformat(),
        "key": builders.key()})
    assert Lot.objects.get(lot_number="A9").quantity_received == Decimal("946.353")  # 473.176473 mL, NIST SP 811
