"""What the studio's tools do not read well is said, and helped, wherever an amount to measure is shown."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from jobs.draft import draft_of
from jobs.estimating.price_contents import price_contents
from jobs.quotes.price_sentences import price_sentences
from jobs.quotes.pricing import price_order
from jobs.work.ticket_paper import ticket_context
from jobs.work.ticketing import plan_of
from recipes.chemistry.mixing import hard_to_measure
from studio.house.clock import today
from studio.house.models import HouseRates
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


def words_of(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def test_the_same_is_said_of_an_amount_wherever_it_is_shown(workshop, owner, at_helper):
    """On a balance of 1 g, 9.12 g of silver (12 g/L in 760 mL) is below ten times, and 0.24 g is nothing at all."""
    HouseRates.objects.update(balance_readability_g=Decimal(1))
    run = workshop.run()
    mix = next(mix for mix in plan_of(run.ticket).mixes if mix.ingredients[0].name == "Silver nitrate")
    silver = mix.ingredients[0]
    assert (silver.amount, silver.to_measure, mix.volume_ml) == (Decimal("9.12"), Decimal(9), 760)
    assert silver.hard == hard_to_measure(Fraction("9.12"), "g", Fraction(760), Fraction(1))
    said = "Too little to weigh well, 9.12 g: mix 833 mL, or measure 91.2 mL of a stock solution of 100 g/L"
    sentences = price_sentences(price_order(draft_of(run.ticket.job.order), today()))
    shown = {
        "ticket": render_to_string("jobs/work/documents/ticket.html", ticket_context(run.ticket)),
        "bench": at_helper.get(reverse("jobs:run", args=[run.pk])).content.decode(),
        "price": render_to_string("jobs/quotes/price_contents.html", {
            "estimate": sentences.estimate, "contents": sentences.contents, "sentences": sentences}),
        "card": at_helper.get(f"/finishes/solutions/{mix.solution_key}/?volume=760+mL").content.decode(),
    }
    assert [place for place, html in shown.items() if said not in words_of(html)] == []
    trial = builders.trial(workshop.recipe, owner)
    tried = words_of(at_helper.get(f"/finishes/trials/{trial.number}/").content.decode())
    assert "Too little to weigh well, 0.24 g: mix 833 mL" in tried  # of 20 mL


@pytest.mark.parametrize(("size", "silver_g", "said"), [
    ("400 x 600 mm", "1.32", None),  # to 1.3 g, by 1.5 %
    ("400 x 660 mm", "1.44", {"larger_mix_ml": "125", "stock_solution_g_per_l": "20", "stock_solution_ml": "72"}),
])
def test_rounding_by_over_two_per_cent_is_said_above_ten_times_the_readability(workshop, size, silver_g, said):
    """On a balance of 0.1 g, 1.44 g becomes 1.4 g, 2.8 % less. What is poured is named apart."""
    estimate = price_order(draft_of(workshop.order(workshop.line(size, quantity=1))), today())
    silver = next(row for mix in estimate.mixes for row in mix.batches[0].ingredients if row.name == "Silver nitrate")
    assert silver.amount == Fraction(silver_g)
    output = price_contents(estimate).as_output()
    expected = {"solution": "Silver part", "ingredient": "Silver nitrate", "amount_g": silver_g, **(said or {})}
    assert (expected in output["too_little_to_weigh"]) == (said is not None)
    assert [row["ingredient"] for row in output["too_little_to_weigh"] if row["ingredient"] == "Silver nitrate"] == (
        ["Silver nitrate"] if said else [])
    poured = [(row["ingredient"], row["amount_ml"]) for row in output["too_little_to_pour"]]
    assert poured == ([] if said else [("Ammonia 28 %", "1.54")])  # 1.68 mL is poured as 1.7, 1.54 mL as 1.5


def test_a_ticket_of_before_shows_what_it_was_printed_with(workshop):
    ticket = workshop.run().ticket
    for mix in ticket.plan["mixes"]:
        for row in mix["ingredients"]:
            del row["to_read"], row["hard"]
    silver = plan_of(ticket).mixes[0].ingredients[0]
    assert (silver.to_measure, silver.hard) == (silver.amount, None)
