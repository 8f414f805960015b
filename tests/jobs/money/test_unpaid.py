"""Delivering what is not paid asks once and stays in the story; what waits on Today; a customer's sum; a book's round trip."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from jobs.customers.owed import jobs_of
from jobs.models import Job, JobAct
from jobs.money.owed import owed
from jobs.money.requests import ask_balance, ask_deposit, ask_samples, take_back
from jobs.quotes.quoting import decide, save_quote
from jobs.work.booking import book_job, deliver
from jobs.work.cancelling import cancel
from jobs.work.coming_in import give_back, take_in
from jobs.work.finishing import finish_run
from jobs.work.samples import keep_sample
from jobs.work.ticketing import make_ticket
from studio.house.clock import now, pretend, today
from studio.whole.book.save import book, canonical
from studio.whole.today import gather
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def finished(shop, owner):
    run = builders.worked(shop.run(), owner)
    finish_run(run=run, by=owner)
    job = run.ticket.job
    job.refresh_from_db()
    return job


def test_delivering_unpaid_asks_with_the_amount_and_goes_on_with_why(finished, at_owner):
    quote, page = finished.quote, f"/jobs/{finished.number}/deliver/"
    due = f"€{quote.total - quote.deposit:,.2f} of the balance is not in"
    asked = at_owner.post(page)
    assert asked.status_code == 422
    assert due in asked.content.decode()
    question = asked.context["question"]
    assert at_owner.post(page, {question.name: "another", "note": "x"}).status_code == 422
    assert at_owner.post(page, {question.name: question.value, "note": "Pays on Friday"}).status_code == 302
    act = JobAct.objects.get(kind="delivered")
    assert act.note == f"{due}, delivered all the same: Pays on Friday"
    assert due in at_owner.get(f"/jobs/{finished.number}/").content.decode()


def test_an_answer_counts_for_the_amount_it_was_asked_of(finished, owner, at_owner):
    page = f"/jobs/{finished.number}/deliver/"
    question = at_owner.post(page).context["question"]
    take_in(job=finished, by=owner, key=builders.key(), amount=Decimal(5))
    assert at_owner.post(page, {question.name: question.value}).status_code == 422


def test_a_job_whose_deposit_is_not_in_says_both_and_a_paid_one_is_not_asked(finished, owner, at_owner):
    page, quote = f"/jobs/{finished.number}/deliver/", finished.quote
    give_back(job=finished, by=owner, key=builders.key(), amount=quote.deposit)
    words = at_owner.post(page).content.decode()
    assert f"€{quote.deposit:,.2f} of the deposit and €{quote.total - quote.deposit:,.2f} of the balance are not in" in words
    take_in(job=finished, by=owner, key=builders.key(), amount=quote.total)
    assert at_owner.post(page).status_code == 302


def waits(owner) -> list[tuple[str, str, str, str]]:
    return [(row.what, row.amount, row.soft, row.state) for row in gather(owner, today()).customers if "request" not in row.what]


def test_today_waits_by_the_day_that_a_request_is_due(finished, owner):
    quote = finished.quote
    rest = quote.total - quote.deposit
    with pretend(now() - timedelta(days=20)):
        ask_balance(job=finished, by=owner, key=builders.key())
    (what, amount, soft, state), = waits(owner)
    assert (what, amount, state) == ("balance R-41 of Hall mirror", f"€{rest:,.2f}", "6 days late")
    assert soft.startswith("due ")
    deliver(job=finished, by=owner)
    assert [row[0] for row in waits(owner)] == ["balance R-41 of Hall mirror"], "said once"
    take_in(job=finished, by=owner, key=builders.key(), amount=rest)
    assert waits(owner) == []


def test_what_is_owed_is_said_by_customer_since_when_and_too_much_as_well(shop, finished, owner, at_owner):
    quote = finished.quote
    with pretend(now() - timedelta(days=30)):
        ask_balance(job=finished, by=owner, key=builders.key())
    other = shop.booked(shop.line("300 x 400 mm", 1))
    first = ask_deposit(job=other, by=owner, key=builders.key(), amount=other.quote.total)
    take_in(job=other, by=owner, key=builders.key(), amount=other.quote.total)
    unasked = shop.booked(shop.line("400 x 400 mm", 1))
    cancel(job=unasked, by=owner)
    found = owed(today(), "EUR")
    (customer,) = found.customers
    assert (customer.name, customer.since, customer.days_late) == ("Ada Fenwick", today() - timedelta(days=16), 16)
    assert found.open == quote.total - quote.deposit
    assert {(row.job.number, row.amount) for row in found.too_much} == {
        (other.number, other.quote.deposit), (unasked.number, unasked.quote.deposit)}
    page = at_owner.get(f"/jobs/money/owed/?customer={customer.pk}").content.decode()
    assert "16 days late" in page
    assert "more than agreed" in page
    rows = b"".join(at_owner.get("/jobs/money/owed.csv").streaming_content).decode().splitlines()
    assert rows[1].endswith(f",16,{quote.total:.2f},0.00,{quote.deposit:.2f},{quote.total - quote.deposit:.2f},EUR")
    take_back(request=first, by=owner, key=builders.key(), why="paid twice")
    assert {row.amount for row in owed(today(), "EUR").too_much if row.job.number == other.number} == {other.quote.deposit}


def test_what_was_delivered_and_not_asked_for_is_said(finished, owner):
    deliver(job=finished, by=owner)
    (row,) = owed(today(), "EUR").not_asked
    assert row.amount == finished.quote.total - finished.quote.deposit
    assert [what for what, *_ in waits(owner)] == ["rest of Hall mirror"]


def with_a_fee_paid(shop, owner, fee: str) -> Job:
    """An accepted quote, whose deposit and fee of a sample were asked for and are in."""
    order = shop.order()
    keep_sample(job=order.job, recipe_version=shop.recipe, values={"fee": Decimal(fee)})
    quote = decide(quote=save_quote(order=order, by=owner, form_key=builders.key()), accepted=True)
    ask_samples(job=order.job, by=owner, key=builders.key())
    ask_deposit(job=order.job, by=owner, key=builders.key(), amount=quote.deposit)
    take_in(job=order.job, by=owner, key=builders.key(), amount=quote.deposit + Decimal(fee))
    return order.job


def test_given_a_paid_fee_of_a_sample_then_the_rest_of_the_price_is_missed_nowhere(shop, owner, at_owner):
    job = with_a_fee_paid(shop, owner, "100")
    job = book_job(job=job, by=owner, sample_approved=True, deposit_noted=True, waived_because="", due_on=None)
    finish_run(run=builders.worked(make_ticket(job=job, by=owner).run, owner), by=owner)
    deliver(job=job, by=owner)
    rest = job.quote.total - job.quote.deposit
    assert rest < 100, "as much came in as was asked for, and more than the quote comes to"
    assert [row[:2] for row in waits(owner)] == [("rest of Hall mirror", f"€{rest:,.2f}")]
    assert [row.amount for row in owed(today(), "EUR").not_asked] == [rest]
    assert f"Delivered: €{rest:,.2f} is still to come." in at_owner.get("/jobs/").content.decode()


def test_given_a_cancelled_job_then_the_fee_of_its_sample_stays_and_the_rest_goes_back(shop, owner, at_owner):
    job = with_a_fee_paid(shop, owner, "20")
    deposit = job.order.quotes.get().deposit
    cancel(job=job, by=owner, because="they moved")
    take_back(request=job.money_requests.get(kind="deposit"), by=owner, key=builders.key(), why="They moved")

    def said() -> list[bool]:
        amount = f"€{deposit:,.2f}"
        waiting = [row.what for row in gather(owner, today()).studio if "cancelled" in row.what]
        return [
            waiting == [f"{amount} of a cancelled job is still here"],
            f"Cancelled: {amount} that came in is still here, give it back." in at_owner.get("/jobs/").content.decode(),
            jobs_of(job.order.customer)[0].owed_in_words == f"{amount} to give back",
            [row.amount for row in owed(today(), "EUR").too_much] == [deposit],
        ]

    assert said() == [True] * 4
    give_back(job=job, by=owner, key=builders.key(), amount=deposit)
    assert said() == [False] * 4
    assert [row.what for row in gather(owner, today()).studio] == []
    assert "still here" not in at_owner.get("/jobs/").content.decode()
    assert jobs_of(job.order.customer)[0].owed_in_words == ""


def test_the_series_and_how_it_was_paid_stand_in_a_book(finished, owner, at_owner):
    """Given a request, a credit and a payment; then the book holds all that a studio would start again from."""
    first = ask_balance(job=finished, by=owner, key=builders.key())
    at_owner.get(f"/jobs/money/requests/{first.pk}/paper.pdf")
    take_back(request=first, by=owner, key=builders.key(), amount=Decimal("1.01"), why="a slip")
    take_in(job=finished, by=owner, key=builders.key(), amount=Decimal(9), how="transfer")
    said = book()
    assert [(row["number"], row["kind"], row.get("credits")) for row in said["money_requests"]] == [(41, "balance", None), (42, "credit", 41)]
    assert said["money_requests"][0]["paper"]
    assert said["house"]["request_prefix"] == "R-"
    assert "transfer" in canonical(said)
