"""The first honest day: never before the plan's own, later with what may come, frozen into the quote, told again at booking."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest

from jobs.models import BoughtIn, Job, Quote
from jobs.quotes.quoting import decide, mark_sent, save_quote
from jobs.week.honest import honest_day_of, later_than_quoted
from jobs.week.kept import standing_plan
from studio.house.clock import pretend, today
from studio.house.week import the_week
from studio.house.week_models import DayApart
from tests import builders
from tests.jobs.orders.test_order_page import typed
from tests.jobs.week.bench import MONDAY_EIGHT, text, workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner):
    return workshop(owner, hands=1, benches=1)


@pytest.fixture(autouse=True)
def on_a_monday():
    with pretend(MONDAY_EIGHT):
        yield


def days_off_until(day: date) -> None:
    DayApart.objects.create(who="studio", first_on=today(), last_on=day)


def test_it_is_after_the_go_ahead_its_work_its_cure_and_the_spare_days(shop):
    found = honest_day_of(shop.order())
    assert found.by == today() + timedelta(days=7)
    assert found.in_plan >= found.by + timedelta(days=1)  # a day of cure
    assert found.on > found.in_plan
    assert found.spare_days == the_week().spare_days == 3
    assert found.at_once < found.on
    assert "the go-ahead Mon 7 Dec" in found.because
    assert found.in_words == f"{found.on:%a} {found.on.day} {found.on:%b}, if the sample is approved and the deposit in by Mon 7 Dec"


def test_a_full_bench_and_bought_in_glass_make_it_later(shop):
    free = honest_day_of(shop.order())
    days_off_until(today() + timedelta(days=13))
    full = honest_day_of(shop.order())
    assert full.on > free.on
    order = shop.order()
    BoughtIn.objects.create(order=order, name="Bevels", cost=Decimal(40), kind="bevelling", days=9, before="silvering")
    away = honest_day_of(order)
    assert away.on > full.on
    assert "Bevels here by" in " ".join(away.depends)


def test_open_quotes_take_the_bench_first_by_their_share(shop, owner):
    order = shop.order(shop.line(quantity=2))
    alone = honest_day_of(order)
    for _ in range(2):
        other = shop.order(shop.line(quantity=12))
        mark_sent(save_quote(order=other, by=owner, form_key=builders.key()), owner)
    found = honest_day_of(order)
    assert (alone.open_quotes, found.open_quotes) == (0, 2)
    assert found.share == "40 %, the owner's figure, 0 decided in the last year"
    assert found.if_none <= found.on <= found.if_all
    assert found.on >= alone.on


def test_no_job_with_a_day_told_gets_later(shop):
    booked = shop.booked(shop.line(quantity=8))
    before = standing_plan()
    ready = before.day(before.plan.jobs[f"J{booked.number}"].finish_minute - 1)
    Job.objects.filter(pk=booked.pk).update(due_on=ready)
    found = honest_day_of(shop.order())
    assert found.on
    after = standing_plan()
    assert after.day(after.plan.jobs[f"J{booked.number}"].finish_minute - 1) <= ready


class TestInTheQuote:
    def test_a_day_stands_in_it_only_once_the_week_is_saved(self, shop, at_owner):
        order = shop.order()
        at_owner.post(f"/jobs/{order.job.number}/quote/", {"key": str(uuid4())})
        assert "working day" in Quote.objects.get().wording["ready"]["words"]
        the_week().save()
        other = shop.order(shop.line(quantity=3))
        at_owner.post(f"/jobs/{other.job.number}/quote/", {"key": str(uuid4())})
        quote = Quote.objects.get(order=other)
        assert quote.wording["ready"]["on"] == honest_day_of(other).on.isoformat()
        page = text(at_owner.get(f"/quotes/{quote.pk}/"))
        assert "if the sample is approved and the deposit in by Mon 7 Dec" in page
        assert at_owner.get(f"/quotes/{quote.pk}/paper.pdf").status_code == 200

    def test_a_later_day_is_shown_before_it_is_booked(self, shop, at_owner):
        the_week().save()
        order = shop.order()
        at_owner.post(f"/jobs/{order.job.number}/quote/", {"key": str(uuid4())})
        quote = Quote.objects.get()
        decide(quote=quote, accepted=True)
        assert later_than_quoted(order, quote) is None
        assert "Later than quoted." not in text(at_owner.get(f"/jobs/{order.job.number}/"))
        days_off_until(today() + timedelta(days=25))
        page = text(at_owner.get(f"/jobs/{order.job.number}/"))
        assert "Later than quoted." in page
        assert "Book the job and promise its stock" in page


def test_the_page_says_what_it_rests_on_and_a_helper_has_none(shop, at_owner, at_helper):
    order = shop.order()
    address = f"/week/jobs/{order.job.number}/ready/"
    page = text(at_owner.get(address))
    for words in ("A quote may say", "It depends on sample approved and deposit in by Mon 7 Dec", "3 spare working days",
                  "With go-ahead today", "accepted: 40 %, the owner", "Quotes say working days until"):
        assert words.lower() in page.lower(), words
    part = at_owner.get(address, headers={"HX-Request": "true"})
    assert "<html" not in part.content.decode()
    assert at_helper.get(address).status_code == 403


def test_it_is_told_beside_the_price_of_what_is_typed(shop, at_owner, at_helper):
    data = typed(shop, {"recipe_version": shop.recipe.pk})
    priced = text(at_owner.post("/jobs/price-now/", data, headers={"HX-Request": "true"}))
    assert "When could it be ready?" in priced
    part = text(at_owner.post("/week/ready/", data, headers={"HX-Request": "true"}))
    found = honest_day_of(shop.order())
    assert f"A quote may say {found.on:%a} {found.on.day} {found.on:%b %Y} , which depends on: {found.depends[0]}" in part
    whole = text(at_owner.post("/week/ready/", data))  # without a script: the form with all that was typed
    assert f"A quote may say {found.on:%a}" in whole
    assert "Save the order" in whole
    assert "Correct the lines first" in text(at_owner.post("/week/ready/", {**data, "lines-0-size_text": "x"}, headers={"HX-Request": "true"}))
    assert at_helper.post("/week/ready/", data).status_code == 403
    assert Job.objects.count() == 1


def test_of_an_order_with_options_the_page_tells_the_day_that_its_quote_would_name(shop, at_owner):
    the_week().save()
    order = shop.order(shop.line(offered="A"), shop.line("900 x 1100 mm", 9, 2, offered="B"))
    only_first = honest_day_of(shop.order(shop.line()))
    named = honest_day_of(order)
    assert named.on > only_first.on
    assert f"{named.on:%a} {named.on.day} {named.on:%b %Y}" in text(at_owner.get(f"/week/jobs/{order.job.number}/ready/"))
    at_owner.post(f"/jobs/{order.job.number}/quote/", {"key": str(uuid4())})
    assert Quote.objects.get(order=order).wording["ready"]["on"] == named.on.isoformat()
