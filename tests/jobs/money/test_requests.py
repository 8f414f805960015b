"""Requests for money: numbered without a gap, frozen, exact, taken back by a credit, shown on paper and page."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.db import IntegrityError, connection, transaction
from pypdf import PdfReader

from jobs.acts import deposit_is_in
from jobs.models import Job, JobAct, MoneyRequest
from jobs.money.of_job import requests_of
from jobs.money.owed import owed
from jobs.money.paper import render_request
from jobs.money.requests import RequestError, ask_balance, ask_deposit, ask_samples, rows_of, take_back, whole_of
from jobs.money.sums import summed
from jobs.money.views import money_of_now
from jobs.quotes.paper import render_quote
from jobs.quotes.quoting import decide, save_quote
from jobs.work.cancelling import cancel
from jobs.work.coming_in import give_back, take_in, undo_taking_in
from jobs.work.samples import keep_sample, lacking
from studio.house.clock import today
from studio.house.models import House
from studio.house.templatetags.figures import money
from studio.whole.audit import audit
from studio.whole.today import gather
from tests import builders
from tests.serving import at_one_moment, furnished, manage, own_database

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(shop, owner):
    """An accepted quote; nothing is paid."""
    order = shop.order()
    decide(quote=save_quote(order=order, by=owner, form_key=builders.key()), accepted=True)
    return order.job


def deposit(job: Job, owner, amount: str = "", **more):
    return ask_deposit(job=job, by=owner, key=builders.key(), amount=Decimal(amount) if amount else job.order.quotes.get().deposit, **more)


def text_of(content: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages).split())


def test_given_less_asked_than_the_quote_then_the_paper_says_what_the_work_waits_for(job, owner):
    quote, waits = job.order.quotes.get(), "all of the"
    part = deposit(job, owner, f"{quote.deposit - 1:.2f}")
    assert f"{waits} {money(quote.deposit, quote.currency)} that it asks to begin is in" in text_of(render_request(part))
    take_back(request=part, by=owner, key=builders.key(), why="A slip of the keys")
    assert waits not in text_of(render_request(deposit(job, owner)))


def test_deposit_and_balance_are_the_agreed_total_and_its_tax(job, owner):
    quote = job.order.quotes.get()
    first = deposit(job, owner)
    rest = ask_balance(job=job, by=owner, key=builders.key())
    assert (str(first), str(rest)) == ("Deposit request R-41", "Balance request R-42")
    assert (first.asked_on, first.due_on) == (today(), today() + timedelta(days=14))
    assert first.total == quote.deposit
    assert first.total + rest.total == quote.total
    assert first.tax + rest.tax == quote.tax
    assert summed([rows_of(first), rows_of(rest)]) == whole_of(quote)
    with pytest.raises(RequestError, match=r"All of the .* agreed was asked for already"):
        ask_balance(job=job, by=owner, key=builders.key())
    assert audit() == []


@pytest.mark.parametrize("parts", [("0.03",), ("33.33", "33.34"), ("0.03", "0.03", "17.77")])
def test_deposits_that_ask_for_all_have_the_tax_of_the_whole_to_the_coin(job, owner, parts):
    quote = job.order.quotes.get()
    for amount in (*parts, f"{quote.total - sum(map(Decimal, parts))}"):
        deposit(job, owner, amount)
    rows = list(MoneyRequest.objects.all())
    assert sum(row.total for row in rows) == quote.total
    assert (sum(row.net for row in rows), sum(row.tax for row in rows)) == (quote.net, quote.tax)


def test_a_wrong_request_is_taken_back_by_a_credit_that_names_it_and_asked_anew(job, owner):
    quote = job.order.quotes.get()
    wrong = deposit(job, owner, f"{quote.deposit - 1}")
    with pytest.raises(RequestError, match="Say why"):
        take_back(request=wrong, by=owner, key=builders.key(), why=" ")
    credit = take_back(request=wrong, by=owner, key=builders.key(), why="A slip of the keys")
    assert (credit.credits, credit.total, credit.tax) == (wrong, -wrong.total, -wrong.tax)
    with pytest.raises(RequestError, match="taken back already"):
        take_back(request=wrong, by=owner, key=builders.key(), why="again")
    read_for_sums = [row.credits for row in requests_of(job) if row.credits]
    assert ["content" in row.get_deferred_fields() for row in read_for_sums] == [True], "no sum reads a paper's words"
    with pytest.raises(RequestError, match="credit is not taken back"):
        take_back(request=credit, by=owner, key=builders.key(), why="again")
    deposit(job, owner)
    ask_balance(job=job, by=owner, key=builders.key())
    rows = list(MoneyRequest.objects.all())
    assert [row.number for row in rows] == [41, 42, 43, 44]
    assert (sum(row.total for row in rows), sum(row.tax for row in rows)) == (quote.total, quote.tax)


def test_a_part_is_taken_back_and_the_balance_asks_for_it(job, owner):
    quote, first = job.order.quotes.get(), deposit(job, owner)
    with pytest.raises(RequestError, match="no more than that"):
        take_back(request=first, by=owner, key=builders.key(), amount=first.total + 1, why="too much")
    take_back(request=first, by=owner, key=builders.key(), amount=Decimal("10.01"), why="Agreed on the phone")
    last = ask_balance(job=job, by=owner, key=builders.key())
    assert last.total == quote.total - first.total + Decimal("10.01")
    assert sum(row.tax for row in MoneyRequest.objects.all()) == quote.tax
    take_back(request=first, by=owner, key=builders.key(), why="The rest, too")
    assert sum(row.total for row in first.credited_by.all()) == -first.total


@pytest.mark.parametrize(("amount", "says"), [("0", "above nothing"), ("-5", "above nothing"), ("10.005", "finer than the smallest coin"),
                                              ("999999", "left to ask for")])
def test_no_amount_is_asked_for_that_cannot_be(job, owner, amount, says):
    with pytest.raises(RequestError, match=says):
        deposit(job, owner, amount)
    assert not MoneyRequest.objects.exists()


def test_nothing_is_asked_for_before_it_is_agreed_or_once_it_is_cancelled(shop, owner, job):
    order = shop.order(shop.line("300 x 400 mm"))
    save_quote(order=order, by=owner, form_key=builders.key())
    with pytest.raises(RequestError, match="Nothing is agreed yet"):
        ask_balance(job=order.job, by=owner, key=builders.key())
    first = deposit(job, owner)
    cancel(job=job, by=owner)
    with pytest.raises(RequestError, match="cancelled"):
        ask_balance(job=job, by=owner, key=builders.key())
    assert take_back(request=first, by=owner, key=builders.key(), why="It is cancelled").total == -first.total


def test_a_press_twice_is_one_request(job, owner, at_owner):
    page = f"/jobs/{job.number}/requests/"
    sent = {"key": str(builders.key()), "amount": f"{job.order.quotes.get().deposit}", "due_on": "", "note": ""}
    for _ in range(2):
        assert at_owner.post(f"{page}deposit/", sent).status_code == 302
    assert MoneyRequest.objects.count() == 1
    assert "Deposit request R-41" in at_owner.get(page).content.decode()


def test_what_is_asked_is_frozen_with_the_names_of_its_day(job, owner, at_owner):
    first = deposit(job, owner, note="With thanks")
    before = text_of(at_owner.get(f"/jobs/money/requests/{first.pk}/paper.pdf").content)
    House.objects.update(name="Another name", request_prefix="X", request_days=3)
    job.order.customer.name = "Somebody else"
    job.order.customer.save()
    assert text_of(render_request(MoneyRequest.objects.get())) == before
    for words in ("The Testing Loft", "Ada Fenwick", "R-41", "With thanks", "Bank of Quays", "VAT", "Hall mirror"):
        assert words in before
    assert MoneyRequest.objects.get().paper is not None
    assert ask_balance(job=job, by=owner, key=builders.key()).label == "X42"


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_paper_is_one_tagged_page_and_says_what_is_to_pay(job, owner, paper):
    House.objects.update(paper=paper)
    first = deposit(job, owner)
    take_in(job=job, by=owner, key=builders.key(), amount=first.total - 5, how="transfer")
    last = ask_balance(job=job, by=owner, key=builders.key())
    content = render_request(last)
    pdf = PdfReader(BytesIO(content))
    assert len(pdf.pages) == 1
    assert pdf.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert "Open of what was asked before €5.00" in text_of(content)
    assert f"to pay €{last.total + 5:,.2f}" in text_of(content)
    credit = take_back(request=last, by=owner, key=builders.key(), why="Wrong day")
    words = text_of(render_request(credit))
    assert "balance request R-42" in words
    assert f"taken back €{last.total:,.2f}" in words
    assert "Bank of Quays" not in words


def test_a_deposit_paid_without_a_request_is_taken_off_the_balance(shop, owner):
    job = shop.booked()
    quote = job.order.quotes.get()
    last = ask_balance(job=job, by=owner, key=builders.key())
    assert last.total == quote.total
    words = text_of(render_request(last))
    assert f"Paid already −€{quote.deposit:,.2f}" in words
    assert f"to pay €{quote.total - quote.deposit:,.2f}" in words


class TestTheDatabase:
    """What it refuses, whoever writes."""

    @pytest.mark.parametrize("change", ["number = 90", "total = 1", "due_on = '2040-01-01'", "note = 'x'", "kind = 'balance'", "content = '{}'", "prefix = 'Z'"])
    def test_a_request_is_never_edited(self, job, owner, change):
        deposit(job, owner)
        self._refused(f"UPDATE jobs_moneyrequest SET {change}", "take it back by a credit")

    def test_a_request_is_never_deleted(self, job, owner):
        deposit(job, owner)
        self._refused("DELETE FROM jobs_moneyrequest", "never deleted")

    @pytest.mark.parametrize(("values", "says"), [
        ({"number": 43}, "without a gap"), ({"number": 41}, "without a gap"), ({"net": Decimal(1)}, "are its total"),
        ({"currency": "USD"}, "rests on a quote of its job"),
        ({"kind": "credit", "net": Decimal(-2000), "tax": Decimal(0), "total": Decimal(-2000), "note": "x", "credits": True}, "No more of a request"),
        ({"kind": "credit"}, "credit_names_what_it_takes_back"), ({"total": Decimal(-5), "net": Decimal(-5), "tax": Decimal(0)}, "credit_names_what"),
    ])
    def test_no_row_is_written_that_does_not_tie(self, job, owner, values, says):
        first = deposit(job, owner)
        row = MoneyRequest.objects.get()
        row.pk, row.key, row.number, row.paper = None, builders.key(), 42, None
        for name, value in values.items():
            setattr(row, name, first if value is True else value)
        with pytest.raises(IntegrityError, match=says), transaction.atomic():
            row.save(force_insert=True)

    def test_a_credit_takes_back_a_request_of_its_own_job(self, shop, job, owner):
        first = deposit(job, owner)
        other = shop.booked(shop.line("300 x 400 mm"))
        row = take_back(request=first, by=owner, key=builders.key(), amount=Decimal(1), why="x")
        row.pk, row.key, row.number, row.job, row.quote = None, builders.key(), 43, other, other.quote
        with pytest.raises(IntegrityError, match="of the same job"), transaction.atomic():
            row.save(force_insert=True)

    def _refused(self, statement: str, says: str) -> None:
        with pytest.raises(IntegrityError, match=says), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)


def test_several_savers_at_once_leave_no_gap_and_take_no_number_twice(tmp_path):
    """Given four jobs; when four processes ask at the same moment; then the numbers are one series without a gap."""
    scene = "tests.jobs.money.next_number"
    with own_database(tmp_path, "daybook_next_number") as environment:
        said = at_one_moment(environment, scene, "ask", furnished(environment, scene))
        assert said == [f"Balance request R-{number}" for number in range(41, 45)]
        assert "Everything ties." in manage(environment, "audit")


class TestPayments:
    def test_how_and_when_it_was_paid_stand_in_the_story(self, job, owner, at_owner):
        first = deposit(job, owner)
        page = f"/jobs/{job.number}/"
        sent = {"key": str(builders.key()), "amount": f"{first.total}", "on": "yesterday", "how": "cheque", "note": "no. 12"}
        assert at_owner.post(f"{page}came-in/money/", sent).status_code == 302
        act = JobAct.objects.get(kind="paid")
        assert (act.how, act.on, act.note) == ("cheque", today() - timedelta(days=1), "no. 12")
        words = " ".join(re.sub(r"<[^>]+>", " ", at_owner.get(page).content.decode()).split())
        assert f"In by cheque: €{first.total:,.2f}." in words
        assert "Deposit request R-41 , due" in words
        assert ": paid" in words

    def test_no_payment_is_finer_than_the_smallest_coin(self, job, owner, at_owner):
        sent = {"key": str(builders.key()), "amount": "10.5555", "on": "", "how": "", "note": ""}
        answer = at_owner.post(f"/jobs/{job.number}/came-in/money/", sent)
        assert answer.status_code == 422
        assert "finer than the smallest coin" in answer.content.decode()

    def test_what_is_undone_or_given_back_is_owed_again(self, job, owner):
        first = deposit(job, owner)
        act = take_in(job=job, by=owner, key=builders.key(), amount=first.total, how="cash")
        assert owed(today(), "EUR").open == 0
        give_back(job=job, by=owner, key=builders.key(), amount=Decimal(3), how="cash")
        assert owed(today(), "EUR").open == 3
        undo_taking_in(act=JobAct.objects.get(kind="given back"), by=owner, why="It was not")
        undo_taking_in(act=act, by=owner, why="It was another's")
        assert owed(today(), "EUR").open == first.total


def test_the_fee_of_a_sample_is_asked_for_beside_the_price_and_paid_first(shop, owner, at_owner):
    order = shop.order()
    job = order.job
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    assert "Sample of" not in text_of(render_quote(quote))
    keep_sample(job=job, recipe_version=shop.recipe, values={"fee": Decimal("20.00")})
    anew = save_quote(order=order, by=owner, form_key=builders.key())
    assert anew.pk != quote.pk
    assert re.search(r"Sample of Plain silver: \S*20\.00, with", text_of(render_quote(anew)))
    asked = ask_samples(job=job, by=owner, key=builders.key())
    assert (asked.kind, asked.total, asked.kind_in_words) == ("sample", Decimal("20.00"), "Sample fee request")
    assert asked.tax / asked.net == pytest.approx(anew.tax / anew.net, abs=Decimal("0.001"))
    paper = text_of(render_request(asked))
    assert "Sample of Plain silver" in paper
    assert anew.label in paper
    with pytest.raises(RequestError, match="No sample of this job has a fee that was not asked for"):
        ask_samples(job=job, by=owner, key=builders.key())
    decide(quote=anew, accepted=True)
    first = deposit(Job.objects.get(), owner, f"{anew.deposit}")
    rest = ask_balance(job=job, by=owner, key=builders.key())
    assert first.total + rest.total == anew.total
    take_in(job=job, by=owner, amount=anew.deposit, key=builders.key())
    assert not deposit_is_in(job, anew)
    assert money_of_now(Job.objects.get()).deposit_missing == Decimal("20.00")
    take_in(job=job, by=owner, amount=Decimal("20.00"), key=builders.key())
    assert deposit_is_in(job, anew)
    paid = money_of_now(Job.objects.get())
    assert (paid.deposit_missing, paid.still_due) == (None, anew.total - anew.deposit)
    take_back(request=asked, by=owner, key=builders.key(), why="You ordered: the sample is ours")
    assert money_of_now(Job.objects.get()).still_due == anew.total - anew.deposit - Decimal("20.00")
    assert "Ask for the fee of samples" in at_owner.get(f"/jobs/{job.number}/requests/").content.decode()
    assert audit() == []


def test_whether_the_deposit_is_in_follows_what_is_asked_for_samples(shop, owner):
    """Given a deposit; when a fee is asked, taken back, asked anew and paid; then page, ticket, owed and Today agree."""
    order = shop.order()
    keep_sample(job=order.job, recipe_version=shop.recipe, values={"fee": Decimal(20)})
    quote = decide(quote=save_quote(order=order, by=owner, form_key=builders.key()), accepted=True)

    def missing() -> Decimal:
        job = Job.objects.get()
        paid = money_of_now(job)
        said = paid.deposit_missing or Decimal(0)
        assert (job.deposit_noted, lacking(job).deposit) == (not said, bool(said))
        assert owed(today(), quote.currency).open == paid.open_of_requests
        asked = [row.amount for row in gather(owner, today()).customers if "fee" in row.what]
        assert asked == [one.open_in_words for one in paid.open_requests]
        return said

    assert missing() == quote.deposit
    take_in(job=order.job, by=owner, key=builders.key(), amount=quote.deposit)
    assert missing() == 0
    asked = ask_samples(job=order.job, by=owner, key=builders.key())
    assert missing() == 20
    take_back(request=asked, by=owner, key=builders.key(), amount=Decimal(5), why="Dearer than we said")
    assert missing() == 15
    take_back(request=asked, by=owner, key=builders.key(), why="You ordered: the sample is ours")
    assert missing() == 0
    ask_samples(job=order.job, by=owner, key=builders.key())
    assert missing() == 20
    take_in(job=order.job, by=owner, key=builders.key(), amount=Decimal(20))
    assert missing() == 0
