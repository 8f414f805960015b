"""Whoever must wait for somebody else's save is told so after three tries; working a quote out lets nobody wait."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import OperationalError, connection

from jobs.models import Job, Order, Quote
from jobs.quotes import pricing, quoting
from jobs.quotes.quoting import decide, mark_sent, save_quote
from jobs.work.booking import book_job, deliver
from jobs.work.revising import decline_revision
from studio.house.models import HouseRates
from studio.house.week import the_week
from studio.kit.locks import TRIES, TooBusy
from tests import builders
from tests.jobs.work.test_desk_pages import sent_order


@pytest.mark.parametrize("service", [
    lambda quote, job, by: decide(quote=quote, accepted=True),
    lambda quote, job, by: mark_sent(quote),
    lambda quote, job, by: decline_revision(quote=quote, by=by),
    lambda quote, job, by: book_job(job=job, by=by, sample_approved=True, deposit_noted=True, waived_because="", due_on=None),
    lambda quote, job, by: deliver(job=job),
    lambda quote, job, by: save_quote(order=job.order, by=by, form_key=builders.key()),
], ids=["decide", "mark_sent", "decline_revision", "book_job", "deliver", "save_quote"])
def test_a_lock_that_cannot_be_had_is_tried_for_three_times(owner, rates, service):
    tries = 0

    def locked(*_: Any) -> None:
        nonlocal tries
        tries += 1
        raise OperationalError("database is locked")

    with pytest.raises(TooBusy, match="it counts once"), connection.execute_wrapper(locked):
        service(Quote(pk=1, order_id=1), Job(pk=1, order=Order(pk=1)), owner)
    assert tries == TRIES


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def test_a_quote_is_worked_out_while_nobody_waits_for_it(shop, monkeypatch):
    order, locked, outside = shop.order(), [], len(connection.savepoint_ids)

    def watched(*given: Any) -> Any:
        locked.append(len(connection.savepoint_ids) > outside)
        return work_out(*given)

    work_out = quoting.price_order
    monkeypatch.setattr(quoting, "price_order", watched)
    quote = save_quote(order=order, by=shop.owner, form_key=builders.key())
    assert locked == [False]
    assert quote.net > 0


def test_every_choice_of_a_quote_is_worked_out_once_while_nobody_waits_for_it(shop, estimates):
    # given an order of two options, one of them with an optional line
    order = shop.order(*(shop.line(number=at, offered=offered) for at, offered in enumerate(("A", "B", "+"), 1)))
    estimates.clear()
    # when its quote is saved; then each of its four choices is worked out, and nobody waits for that
    quote = save_quote(order=order, by=shop.owner, form_key=builders.key())
    assert [choice["key"] for choice in quote.choices] == ["A", "A+3", "B", "B+3"]
    assert estimates == [False] * 4


def test_what_changes_while_a_quote_is_worked_out_is_in_it(shop, monkeypatch):
    order, work_out = shop.order(), quoting.price_order
    days = []

    def meanwhile(*given: Any) -> Any:
        estimate = work_out(*given)
        if not days:
            days.append(given[1])
            Order.objects.get(pk=order.pk).lines.update(quantity=7)
        return estimate

    monkeypatch.setattr(quoting, "price_order", meanwhile)
    quote = save_quote(order=order, by=shop.owner, form_key=builders.key())
    assert isinstance(days[0], date)
    assert quote.basis["lines"][0]["quantity"] == 7


@pytest.fixture
def estimates(monkeypatch):
    """Say of each estimate that is worked out whether a transaction was open that others wait for."""
    locked, outside = [], len(connection.savepoint_ids)

    def watched(*given: Any) -> Any:
        locked.append(len(connection.savepoint_ids) > outside)
        return work_out(*given)

    work_out = pricing.estimate_basis
    monkeypatch.setattr(pricing, "estimate_basis", watched)
    return locked


def test_a_change_of_a_booked_job_is_worked_out_while_nobody_waits_for_it(shop, at_owner, estimates):
    # given a booked job whose order is to be changed
    job = shop.booked(shop.line(quantity=2))
    address = f"/jobs/{job.number}/order/"
    # when somebody looks at what it would change
    estimates.clear()
    looked = at_owner.post(address, sent_order(shop, job.order, 4))
    # then it is worked out once, and nobody waits for that
    assert (looked.status_code, estimates) == (200, [False])
    # and just so when it is saved
    estimates.clear()
    sure = {"change-sure": "yes", "change-key": str(builders.key()), "change-why": "two more"}
    saved = at_owner.post(address, sent_order(shop, job.order, 4, **sure))
    assert (saved.status_code, estimates) == (302, [False])
    assert Job.objects.get(pk=job.pk).quote.basis["lines"][0]["quantity"] == 4


def test_what_changes_while_a_change_is_worked_out_is_in_it(shop, at_owner, monkeypatch):
    # given a price that somebody saves while the change of a booked job is worked out
    job, work_out = shop.booked(shop.line(quantity=2)), pricing.estimate_basis

    def meanwhile(*given: Any) -> Any:
        estimate = work_out(*given)
        HouseRates.objects.update(overhead_per_bench_hour=77)
        return estimate

    monkeypatch.setattr(pricing, "estimate_basis", meanwhile)
    sure = {"change-sure": "yes", "change-key": str(builders.key()), "change-why": "two more"}
    at_owner.post(f"/jobs/{job.number}/order/", sent_order(shop, job.order, 4, **sure))
    # then the quote has the new price
    basis = Job.objects.get(pk=job.pk).quote.basis
    assert Decimal(basis["house"]["overhead_per_bench_hour"]) == 77


def test_an_order_is_worked_out_before_it_is_saved_while_nobody_waits_for_it(shop, at_owner, estimates):
    order = shop.order(shop.line(quantity=2))
    estimates.clear()
    saved = at_owner.post(f"/jobs/{order.job.number}/order/", sent_order(shop, order, 4))
    assert (saved.status_code, estimates) == (302, [False])


def test_an_order_copied_again_is_worked_out_while_nobody_waits_for_it(shop, at_owner, estimates):
    order = shop.order(shop.line(quantity=2))
    estimates.clear()
    copied = at_owner.post(f"/jobs/{order.job.number}/again/", {"key": str(builders.key())})
    assert (copied.status_code, estimates) == (302, [False])


def test_a_quote_that_names_its_day_is_worked_out_once(shop, at_owner, estimates):
    # given a studio that said who works when, so that quotes name days, and an order of two options
    the_week().save()
    order = shop.order(shop.line(offered="A"), shop.line("610 x 915 mm", 2, number=2, offered="B"))
    estimates.clear()
    # when its quote is saved at the desk; then each choice is worked out, for the day and the quote together
    saved = at_owner.post(f"/jobs/{order.job.number}/quote/", {"key": str(builders.key())})
    assert (saved.status_code, estimates) == (302, [False] * 2)
    assert Quote.objects.get().wording["ready"]["on"]
