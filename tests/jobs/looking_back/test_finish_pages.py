"""What the jobs know of a finish: where it is used, its silver, going bigger, and the swatch book for customers."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from io import BytesIO
from itertools import pairwise

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from jobs.draft import draft_of
from jobs.looking_back.going_bigger import between
from jobs.models import SwatchBook
from jobs.quotes.pricing import price_order
from jobs.quotes.quoting import save_quote
from jobs.work.finishing import finish_run
from recipes.models import Finish, FinishPicture
from recipes.starting_point import STARTING_POINT
from recipes.trials.conducting import close_trial
from studio.house.clock import today
from studio.house.kept_files import keep
from studio.house.models import HouseRates
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


@pytest.fixture
def run(shop, owner):
    return finish_run(run=builders.worked(shop.run(shop.line("400 x 500 mm", 3)), owner), by=owner)


def test_where_a_version_is_used(at_owner, at_helper, shop, run, owner):
    trial = builders.trial(shop.recipe, owner)
    shown = at_owner.get("/finishes/plain-silver/1/used/").content.decode()
    for words in ("Quote ", "Job ", "Ada Fenwick", "4 of 4 panes good", f"Trial {trial.number}"):
        assert words in shown
    helpers = at_helper.get("/finishes/plain-silver/1/used/").content.decode()
    assert "4 of 4 panes good" in helpers
    assert "Ada Fenwick" not in helpers
    # the order moved on to another recipe: the frozen quote still names this one
    line = run.ticket.job.order.lines.get()
    line.recipe_version = builders.put_version_in_use(builders.recipe("Other", shop.steps()), owner)
    line.save()
    assert "Quote " in at_owner.get("/finishes/plain-silver/1/used/").content.decode().split("<h2>Jobs</h2>")[0].split("<h2>Quotes</h2>")[1]


def test_the_silver_of_a_version(at_helper, shop):
    """One m²: 900 mL, half of it silver part of 12 g/L: 5.4 g of the salt, 3.429 g of silver; 70 nm hold 0.734 g of it."""
    shown = at_helper.get("/finishes/plain-silver/1/silver/?panes=1&size=1000+x+1000+mm&glass=clear-4-mm").content.decode()
    assert "3.429 g" in shown
    assert "0.734 g" in shown
    assert "2.695 g" in shown
    assert "21.4 %" in shown
    assert "EN 1036-1" in shown
    assert "169.8731" not in shown  # the builder's material has no formula
    shop.silver.formula = "AgNO3"
    shop.silver.save()
    assert "169.8731" in at_helper.get("/finishes/plain-silver/1/silver/").content.decode()
    refused = at_helper.get("/finishes/plain-silver/1/silver/?size=huge")
    assert refused.status_code == 422
    assert "was not understood as a size" in refused.content.decode()


def test_the_silver_of_a_job_as_planned_and_as_it_went(at_owner, run):
    job = run.ticket.job
    shown = at_owner.get(f"/jobs/{job.number}/silver/").content.decode()
    took = -sum(Fraction(movement.quantity) * Fraction(movement.lot.material.silver_g_per_unit)
                for movement in run.posting.movements.select_related("lot__material"))
    assert f"{float(took):.3f}".rstrip("0") in shown
    assert "As it went" in shown
    assert "As planned" in shown


def test_going_bigger_says_what_was_never_tried(at_helper, shop, run):
    address = "/finishes/plain-silver/1/bigger/?panes=5&size=1000+x+1600+mm&glass=clear-4-mm"
    shown = at_helper.get(address).content.decode()
    assert "the largest made well is 400 × 500 mm, 0.2 m²; this is 8 times that" in shown
    assert "5 panes in one job: at most 4 came out well" in shown
    assert "A pane of 16 kg: the heaviest so far was 2 kg" in shown  # 1.6 m² × 4 mm × 2.5 kg (EN 572-1)
    assert "Try in between first" in shown
    assert "do not scale by arithmetic" in shown
    small = at_helper.get("/finishes/plain-silver/1/bigger/?panes=2&size=300+x+300+mm&glass=clear-4-mm").content.decode()
    assert "Nothing here goes beyond what was made before" in small


@pytest.mark.parametrize(("limit", "two"), [("12", True), ("16", False), ("25", False), ("0", False)])
def test_one_person_lifts_what_the_owner_says(at_helper, shop, rates, limit, two):
    """A pane of 16 kg against the owner's own limit; 0 is none."""
    rates.two_person_kg = Decimal(limit)
    rates.save()
    address = "/finishes/plain-silver/1/bigger/?panes=1&size=1000+x+1600+mm&glass=clear-4-mm"
    shown = at_helper.get(address).content.decode()
    assert (f"two carry it; one person here lifts up to {limit} kg" in shown) is two


def test_a_mix_that_dies_before_it_is_used_up_is_told(at_helper, shop, run, owner):
    shop.reducer.solution.versions.create(number=2, keeps_minutes=Decimal(3))
    quick = shop.reducer.solution.versions.get(number=2)
    builders.Ingredient.objects.create(solution_version=quick, number=1, material=shop.water, make_up=True, unit="mL")
    steps = shop.steps()
    steps[2]["parts"][1]["solution_version"] = quick
    builders.put_version_in_use(builders.recipe("Plain silver", steps, number=2), owner)
    shown = at_helper.get("/finishes/plain-silver/2/bigger/?panes=2&size=300+x+300+mm&glass=clear-4-mm").content.decode()
    assert "Reducer is good for 3 min, and using it takes 10 min" in shown


def test_an_order_beyond_what_was_made_leads_there(at_owner, shop, run):
    order = shop.order(*(shop.line(size, 1, number=at) for at, size in enumerate(
        ("1000 x 1600 mm", "300 x 300 mm", "1000 x 1600 mm", "900 mm"), start=1)))
    shown = at_owner.get(f"/jobs/{order.job.number}/").content.decode()
    assert shown.count("arger or more than it was ever made") == 1
    assert "/finishes/plain-silver/1/bigger/?panes=2&amp;size=1000%20x%201600%20mm&amp;glass=clear-4-mm" in shown
    told = " ".join(shown.split())
    assert "Lines 1, 3: Plain silver at 1000 × 1600 mm, 2 panes." in told
    assert "Line 4: Plain silver at Ø 900 mm, 1 pane." in told
    assert "bigger/?panes=1&amp;size=300" not in shown


@pytest.mark.parametrize(("asked", "largest", "steps"), [
    ((1000, 1600), "0.2", 2), ((500, 500), "0.2", 0), ((500, 1000), "0.2", 1), ((2000, 3000), "0.05", 6), ((500, 500), "0", 0),
])
def test_sizes_in_between(asked, largest, steps):
    sizes = between(Fraction(asked[0]), Fraction(asked[1]), Fraction(largest))
    assert len(sizes) == steps
    areas = [Fraction(largest), *(w * h / 1_000_000 for w, h in sizes), Fraction(asked[0] * asked[1], 1_000_000)]
    for smaller, larger in pairwise(areas):
        assert smaller < larger
        if steps:
            assert larger <= smaller * Fraction("2.1")  # twice, but for rounding to 10 mm


# The swatch book -----------------------------------------------------------------------------------------------------

@pytest.fixture
def book(shop):
    finish = shop.recipe.finish
    Finish.objects.filter(pk=finish.pk).update(in_swatch_book=True, description="Bright and soft.", lead_time_days=21)
    picture = keep(builders.photograph(), name="p.jpg", media_type="image/jpeg", owner_only=False)
    FinishPicture.objects.create(finish=finish, side="front", file=picture)
    return SwatchBook.objects.create(glass=shop.glass, edge="seamed", small_size_text="600 x 900 mm",
                                     large_size_text="1000 x 1500 mm", foreword="Made by hand.")


def test_guide_prices_are_those_of_an_estimate(at_owner, shop, book):
    shown = at_owner.get("/swatch-book/").content.decode()
    for size, area in (("600 x 900 mm", Fraction("0.54")), ("1000 x 1500 mm", Fraction("1.5"))):
        net = price_order(draft_of(shop.order(shop.line(size, 1))), today()).price.net
        assert f"€{float(net):,.2f}" in shown
        assert f"€{float(net / area):,.2f} per m²" in shown


def test_book_and_quote_say_the_same_days(at_owner, shop, book, owner):
    """Given a finish that usually takes 21 working days, then both say so; once curing takes longer, both say that."""
    def said() -> tuple[str, bool]:
        quote = save_quote(order=shop.order(shop.line("1000 x 1500 mm", 1)), by=owner, form_key=builders.key())
        words = quote.wording["ready"]["words"]
        return words, f"Ready {words}." in at_owner.get("/swatch-book/").content.decode()

    assert said() == ("21 working days after go-ahead: sample approved and deposit in", True)
    HouseRates.objects.update(cure_hours=24 * 40)
    words, in_book = said()
    assert in_book
    assert int(words.split()[0]) > 21
    assert "a starting point, not yet tried here" in at_owner.get("/swatch-book/").content.decode()
    liked = builders.nothing_mixed(builders.trial(shop.recipe, owner), owner)
    close_trial(liked, liked.saves, verdict="liked", score=9)
    assert "not yet tried here" not in at_owner.get("/swatch-book/").content.decode()


def test_the_paper_shows_customers_no_internal_value(at_owner, at_helper, shop, book, owner):
    Finish.objects.update(description=f"Bright and soft. {STARTING_POINT}")
    pdf = PdfReader(BytesIO(at_owner.get("/swatch-book/paper.pdf").content))
    text = " ".join(" ".join(page.extract_text() for page in pdf.pages).split())
    for words in ("Plain silver", "Bright and soft.", "Made by hand.", "600 × 900 mm", "VAT not included",
                  "Ready 21 working days after go-ahead: sample approved and deposit in."):
        assert words in text
    for internal in ("version 1", "Silver part", "yield", "margin", "mL", "24.00", "coverage", "samples of your own",
                     "recommendation"):
        assert internal not in text
    assert at_helper.get("/swatch-book/").status_code == 403
    assert at_helper.get("/swatch-book/paper.pdf").status_code == 403


def test_the_owner_chooses_what_appears(at_owner, shop, book):
    sent = {"foreword": "Anew.", "small_size_text": "12 x 12 in", "large_size_text": "1 x 2 m", "glass": shop.glass.pk, "edge": "polished", "saves": 1}
    assert at_owner.post("/swatch-book/", sent | {"small_size_text": "tiny"}).status_code == 422
    assert at_owner.post("/swatch-book/", sent).status_code == 302
    shown = at_owner.get("/swatch-book/").content.decode()
    assert "None is chosen yet" in shown
    assert not Finish.objects.get().in_swatch_book
    at_owner.post("/swatch-book/", sent | {"finishes": [shop.recipe.finish.pk], "saves": 2})
    shown = at_owner.get("/swatch-book/").content.decode()
    assert "Bright and soft." in shown
    assert "€" not in shown  # prices are not ticked


def test_a_finish_without_a_version_in_use_is_left_out_and_queries_do_not_grow(at_owner, shop, book, owner):
    def count() -> int:
        at_owner.get("/swatch-book/paper.pdf")
        with CaptureQueriesContext(connection) as seen:
            assert at_owner.get("/swatch-book/").status_code == 200
        return len(seen)

    few = count()
    Finish.objects.create(name="Only a draft", in_swatch_book=True)
    for number in range(3):
        version = builders.put_version_in_use(builders.recipe(f"More {number}", shop.steps()), owner)
        Finish.objects.filter(pk=version.finish_id).update(in_swatch_book=True)
    assert count() == few
    assert "Only a draft</h2>" not in at_owner.get("/swatch-book/").content.decode()


def test_a_liked_trial_counts_as_a_size_that_was_made(at_helper, shop, owner, run):
    trial = builders.trial(shop.recipe, owner, width_mm=Decimal(900), height_mm=Decimal(900))
    builders.nothing_mixed(trial, owner)
    close_trial(trial, trial.saves, verdict="liked", score=9)
    shown = at_helper.get("/finishes/plain-silver/1/bigger/?panes=1&size=1000+x+1000+mm&glass=clear-4-mm").content.decode()
    assert "0.81 m²" in shown
    assert "Try in between first" not in shown
