"""What an order cannot be priced or quoted for is said whole, beside the page that puts it right."""

from __future__ import annotations

import html
from decimal import Decimal

import pytest
from django.urls import reverse

from jobs.models import Quote
from recipes.models import RecipeVersion
from studio.house.clock import now
from studio.house.models import HouseRates
from studio.stockroom.models import Material, Offcut
from tests import builders
from tests.jobs.orders.test_order_page import LIVE, typed, workshop  # noqa: F401  # the fixture

pytestmark = pytest.mark.django_db


def price(at_owner, workshop, *lines) -> str:  # noqa: F811
    answer = at_owner.post("/jobs/price-now/", typed(workshop, *(lines or ({},))), headers=LIVE)
    return html.unescape(" ".join(answer.content.decode().split()))


def draft(workshop) -> RecipeVersion:  # noqa: F811
    """Return a recipe version that nobody put in use, of a solution of two salts and water."""
    salts = [builders.material(name, list_price=None) for name in ("Rochelle salt", "Tin, in drops")]
    made = builders.solution("Other reducer", *({"material": salt, "amount": 9, "unit": "g"} for salt in salts),
                             {"material": workshop.water})
    steps = workshop.steps()
    steps[2]["parts"][1]["solution_version"] = made
    return builders.recipe("Other silver", steps)


def test_every_material_without_a_price_is_named_at_once_and_written_on_one_page(at_owner, workshop):  # noqa: F811
    row = {"recipe_version": draft(workshop).pk}
    page = price(at_owner, workshop, row)
    assert "Rochelle salt and Tin, in drops have never been received and have no list price: give each of them" in page
    address = page.split('role="alert"')[1].split('href="')[1].split('"')[0]
    table = at_owner.get(address).context["table"]
    assert table.splitlines() == ["material,list price,is of", "Rochelle salt,,a g", '"Tin, in drops",,a g']
    saved = at_owner.post("/jobs/new/", typed(workshop, row))
    assert saved.status_code == 302, "an enquiry is kept before its price is known"
    page = at_owner.get(saved["Location"])
    assert (page.context["next"].address, page.context["next"].label) == (address, "Write the prices that are missing")
    filled = table.replace("salt,,", "salt,0.02,").replace('drops",,', 'drops",24.00 for 60 g,')
    assert at_owner.post(reverse("stockroom:prices"), {"table": filled}).status_code == 302
    assert 'class="figure"' in price(at_owner, workshop, row)
    assert Material.objects.get(name="Tin, in drops").list_price == Decimal("0.4"), "by the pack"
    assert at_owner.get("/jobs/price-now/")["Location"] == "/jobs/new/", "its address, opened again, is the order's page"


def test_glass_without_a_price_is_named_beside_the_materials(at_owner, workshop):  # noqa: F811
    grey, blue = (builders.glass(name, list_price=None) for name in ("Grey 6 mm", "Blue 6 mm"))
    rows = [{"glass": grey.pk, "recipe_version": draft(workshop).pk}, {"glass": blue.pk, "route": "offcut"},
            {"glass": grey.pk}]
    assert "Rochelle salt, Tin, in drops, Grey 6 mm and Blue 6 mm have never" in price(at_owner, workshop, *rows)
    page = price(at_owner, workshop, {"glass": grey.pk})
    assert "Grey 6 mm has never been received and has no list price: give it one." in page
    assert f"?of={grey.code}" in page.split('role="alert"')[1].split("</p>")[0]


def test_a_draft_is_estimated_and_its_quote_leads_to_it(at_owner, workshop):  # noqa: F811
    version = draft(workshop)
    Material.objects.update(list_price=Decimal("0.5"))
    row = {"recipe_version": version.pk}
    assert "Other silver 1 is not in use: put it in use before the order is quoted." in price(at_owner, workshop, row)
    saved = at_owner.post("/jobs/new/", typed(workshop, row))
    step = at_owner.get(saved["Location"]).context["next"]
    assert (step.label, "Not in use: Other silver 1" in step.what) == ("Look at Other silver 1", True)
    refused = at_owner.post(f"{saved['Location']}quote/", {"key": builders.key()}).content.decode()
    assert "Not in use: Other silver 1." in refused
    assert f'href="{reverse("recipes:recipe", args=[version.finish.code, 1])}">Look at Other silver 1' in refused
    assert not Quote.objects.exists()


def test_a_price_raised_to_the_minimum_says_so(at_owner, workshop):  # noqa: F811
    assert "Raised to the minimum charge" not in price(at_owner, workshop)
    HouseRates.objects.update(minimum_charge=Decimal(9000))
    assert "Raised to the minimum charge of €9,000.00: worked out, it came to €" in price(at_owner, workshop)
    own = price(at_owner, workshop, {"own_price_each": "6000"})
    assert "€12,000.00" in own
    assert "Raised to the minimum charge" not in own, "a price of its own is not raised"


def test_days_are_said_with_what_is_short(at_owner, workshop):  # noqa: F811
    stocked = price(at_owner, workshop)
    assert "Ready " in stocked
    assert "no delivery is counted in it" not in stocked
    assert "no delivery is counted in it" in price(at_owner, workshop, {"quantity": 60})


def test_glass_from_a_kept_offcut_is_said_with_what_it_costs(at_owner, workshop):  # noqa: F811
    row = {"size_text": "300 x 400 mm", "quantity": 1}
    assert "kept offcut" not in price(at_owner, workshop, row)
    Offcut.objects.create(number=7, material=workshop.glass, width_mm=Decimal(900), height_mm=Decimal(700),
                           kept_at=now(), kept_by=workshop.owner, form_key=builders.key())
    assert "Cut from kept offcut 7, in the price at €" in price(at_owner, workshop, row | {"route": "offcut"})
