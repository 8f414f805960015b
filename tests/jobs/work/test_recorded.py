"""What is recorded at the bench beside the ticket: far off is asked once, meant so is kept, nothing is half saved."""

from __future__ import annotations

from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.urls import reverse

from jobs.models import RunEntry, WorkTicket
from jobs.work.bench import bench_state
from jobs.work.ticketing import plan_of
from recipes.recorded import amount_question, temperature_question
from tests import builders
from tests.asking import error_beside, tick_beside

LIVE = {"HX-Request": "true"}


@pytest.mark.parametrize(("used", "asked"), [
    ("2.4", ""), ("23.9", ""), ("0.25", ""), ("24", "24 g of Silver nitrate is ten times too much or more"),
    ("240", "ten times too much"), ("0.24", "ten times too little"), ("0", "No Silver nitrate at all"),
])
def test_ten_times_too_much_or_too_little_is_asked(used, asked):
    question = amount_question("Silver nitrate", "g", Decimal("2.4"), Decimal(used))
    assert asked in question if asked else question == ""
    assert not question or "the ticket says 2.4 g" in question


@pytest.mark.parametrize(("glass", "low", "high", "asked"), [
    ("12", 18, 24, "The glass is at 12 °C, and step 3, Silver, is for 18 to 24 °C."), ("30", 18, 24, "at 30 °C"),
    ("18", 18, 24, ""), ("24", 18, 24, ""), ("12", 18, None, "is for 18 °C or more"), ("12", None, 24, ""),
    ("25", None, 24, "is for 24 °C or less"), ("-5", None, None, ""),
])
def test_glass_out_of_a_steps_range_is_asked(glass, low, high, asked):
    step = SimpleNamespace(number=3, name="Silver", temperature_low_c=low, temperature_high_c=high)
    question = temperature_question(Decimal(glass), [step])
    assert asked in question if asked else question == ""


@pytest.fixture
def workshop(owner, rates, db):
    return builders.Workshop(owner)


def test_a_slip_of_the_decimal_point_is_asked_before_it_is_saved(workshop, at_helper):
    run = workshop.run()
    page = reverse("jobs:run", args=[run.pk])
    mix = next(state.mix for state in bench_state(run).mixes if state.mix.ingredients[0].unit == "g")
    written = {f"{mix.key}-amount_{row.number}": str(row.amount) for row in mix.ingredients}
    first = mix.ingredients[0]
    field = f"{mix.key}-amount_{first.number}"
    slip = {**written, field: str(first.amount * 10)}
    for headers in ({}, LIVE):
        asked = at_helper.post(f"{page}mixes/{mix.key}/", {**slip, "key": builders.key()}, headers=headers)
        assert asked.status_code == 422
        assert "ten times too much" in error_beside(asked.content.decode(), field)
        assert f'value="{slip[field]}"' in asked.content.decode()
    assert not RunEntry.objects.exists()
    tick = tick_beside(asked.content.decode(), field)
    less = {**slip, field: str(first.amount / 10)}
    again = at_helper.post(f"{page}mixes/{mix.key}/", {**less, **tick, "key": builders.key()})
    assert again.status_code == 422  # another amount is another question
    assert "ten times too little" in error_beside(again.content.decode(), field)
    assert not RunEntry.objects.exists()
    assert at_helper.post(f"{page}mixes/{mix.key}/", {**slip, **tick, "key": builders.key()}).status_code == 302
    kept = RunEntry.objects.get(kind="mixed").content
    assert Decimal(kept["amounts"][str(first.number)]) == first.amount * 10
    assert "ten times too much" in kept["meant_so"][str(first.number)]
    assert "It is meant so." in at_helper.get(page).content.decode()


def test_amounts_near_the_ticket_are_saved_without_a_question(workshop, at_helper):
    run = workshop.run()
    mix = bench_state(run).mixes[0].mix
    sent = {f"{mix.key}-amount_{row.number}": str(row.amount * 2) for row in mix.ingredients}
    answer = at_helper.post(reverse("jobs:record_mix", args=[run.pk, mix.key]), {**sent, "key": builders.key()})
    assert answer.status_code == 302
    assert "meant_so" not in RunEntry.objects.get().content


def test_cold_glass_is_asked_and_meant_so_stands_in_the_record(workshop, owner, at_helper):
    steps = workshop.steps()
    steps[2] |= {"temperature_low_c": Decimal(18), "temperature_high_c": Decimal(24)}
    recipe = builders.put_version_in_use(builders.recipe("Warm silver", steps), owner)
    run = workshop.run(workshop.line(recipe_version_id=recipe.pk))
    address = reverse("jobs:record_conditions", args=[run.pk])
    cold = {"air_c": "21", "glass_c": "12", "humidity_percent": "50"}
    asked = at_helper.post(address, {**cold, "key": builders.key()})
    page = asked.content.decode()
    assert asked.status_code == 422
    assert "18 to 24 °C" in error_beside(page, "glass_c")
    assert 'value="12"' in page
    assert not RunEntry.objects.exists()
    assert at_helper.post(address, {**cold, **tick_beside(page, "glass_c"), "key": builders.key()}).status_code == 302
    assert "18 to 24 °C" in RunEntry.objects.get().content["meant_so"]
    warm = at_helper.post(address, {**cold, "glass_c": "20", "key": builders.key()})
    assert warm.status_code == 302
    assert "meant_so" not in RunEntry.objects.last().content


def test_a_printed_plan_is_read_once_and_another_by_itself(workshop):
    run = workshop.run()
    plan = plan_of(run.ticket)
    assert plan_of(WorkTicket.objects.get(pk=run.ticket.pk)) is plan
    other = WorkTicket(job=run.ticket.job, number=2, plan={**run.ticket.plan, "mixes": []})
    assert plan_of(other).mixes == []
    assert plan_of(run.ticket).mixes
