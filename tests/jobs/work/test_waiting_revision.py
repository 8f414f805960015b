"""A booked order that is changed before the customer agreed: what is agreed stands until there is a word on it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import DatabaseError, transaction

from jobs.kept_orders import as_it_stands
from jobs.models import Job, JobAct, Order, Quote
from jobs.orders.saving import change_order
from jobs.quotes.quoting import QuoteError, save_quote
from jobs.work import states
from jobs.work.agreed import NotAgreed
from jobs.work.bench import note
from jobs.work.booking import BookingError, book_job, undo_booking
from jobs.work.cancelling import cancel, undo_cancelling
from jobs.work.coming_in import undo_taking_in
from jobs.work.revising import revise, undo_revision_answer
from jobs.work.ticketing import make_ticket, print_anew
from studio.house.clock import today
from studio.whole.audit import audit
from studio.whole.today import gather
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def changed(shop, job: Job, quantity: int, agreed_by: str = "", **more: object) -> Quote:
    order = Order.objects.get(pk=job.order_id)
    return revise(job=job, by=shop.owner, key=builders.key(), why="for the stairs", agreed_by=agreed_by,
                  change=lambda: change_order(order=order, saves=order.saves, by=shop.owner, act=states.REVISE,
                                              typed_lines=[shop.line(quantity=quantity, **more)])).quote


def stands(job: Job) -> tuple[object, ...]:
    row = Job.objects.select_related("quote", "reservation").get(pk=job.pk)
    promised = sorted(row.reservation.amounts.values_list("material__code", "quantity")) if row.reservation else []
    return row.state, row.quote, row.quote and row.quote.state, promised, as_it_stands(row.order)


def shown(at_owner, job: Job):
    return at_owner.get(f"/jobs/{job.number}/")


def test_given_a_change_nobody_agreed_to_then_the_money_is_the_agreed_one_and_an_answer_is_next(shop, at_owner):
    job = shop.booked(shop.line(quantity=2))
    agreed, waiting = job.quote, changed(shop, job, 4)
    page = shown(at_owner, job)
    assert (page.context["paid"].quote, page.context["paid"].agreed, page.context["paid"].waiting) == (
        agreed, True, waiting)
    assert page.context["paid"].still_due == agreed.total - agreed.deposit
    step = page.context["next"]
    assert (step.label, step.other[0]) == ("Mark as accepted", "Mark as declined")
    assert f"{waiting} waits for the customer&#x27;s word" in page.content.decode()
    desk = at_owner.get("/today/" if at_owner.get("/today/").status_code == 200 else "/").content.decode()
    assert f"answers {waiting}".lower() in desk.lower()
    assert "Make the work ticket" not in desk
    quotes = page.content.decode().split('<section id="quotes">')[1].split("</section>")[0]
    assert "stands until the answer" in quotes
    assert "replaced" not in quotes
    with pytest.raises(NotAgreed, match="waits for the customer's word"):
        make_ticket(job=job, by=shop.owner)


def test_given_a_waiting_change_when_it_is_declined_then_all_is_as_it_was_agreed(shop, at_owner):
    job = shop.booked(shop.line(quantity=2, note="top right corner clipped", own_price_each=Decimal("250.00")))
    before = stands(job)
    changed(shop, job, 4)
    waiting = changed(shop, job, 5)
    assert at_owner.post(f"/quotes/{waiting.pk}/declined/", {"who": "Ada, by letter"}).status_code == 302
    assert stands(job) == before
    waiting.refresh_from_db()
    assert waiting.state == "declined"
    assert JobAct.objects.filter(kind="declined", quote=waiting, note="Ada, by letter").count() == 1
    told = [entry.sentence for entry in shown(at_owner, job).context["story"]]
    assert f"{waiting} declined: the order is as it was agreed again." in told
    assert shown(at_owner, job).context["next"].label == "Make the work ticket"
    assert audit() == []


@pytest.mark.parametrize("answer", ["accepted", "declined"])
def test_given_an_answered_change_when_the_answer_is_undone_then_it_waits_as_before(shop, at_owner, answer):
    job = shop.booked(shop.line(quantity=2, note="top right corner clipped"))
    agreed, waiting = job.quote, changed(shop, job, 4, note="five from the left")
    waits = stands(job)
    at_owner.post(f"/quotes/{waiting.pk}/{answer}/", {"who": "Ada"})
    assert stands(job) != waits
    act = JobAct.objects.get(kind=answer, quote=waiting)
    address = f"/jobs/{job.number}/undo/{act.pk}/"
    assert address in shown(at_owner, job).content.decode()
    assert "waits for the customer again" in at_owner.get(address).content.decode()
    key = builders.key()
    for _ in range(2):  # pressed twice
        assert at_owner.post(address, {"why": "the other job", "key": key}).status_code == 302
    assert stands(job) == waits
    page = at_owner.get(f"/quotes/{agreed.pk}/").content.decode()
    assert "stands until the answer" in page
    assert "replaced" not in page
    other = "declined" if answer == "accepted" else "accepted"
    assert at_owner.post(f"/quotes/{waiting.pk}/{other}/").status_code == 302
    assert audit() == []


def test_given_a_ticket_printed_since_when_the_answer_is_undone_then_it_says_what_stands_in_the_way(shop, at_owner, owner):
    job = shop.booked(shop.line(quantity=2))
    waiting = changed(shop, job, 4)
    at_owner.post(f"/quotes/{waiting.pk}/declined/")
    make_ticket(job=job, by=owner)
    before = stands(job)
    with pytest.raises(BookingError, match="A ticket was printed since"):
        undo_revision_answer(quote=waiting, by=owner, why="a slip")
    assert stands(job) == before
    address = f"/jobs/{job.number}/undo/{JobAct.objects.get(kind='declined').pk}/"
    assert address not in shown(at_owner, job).content.decode()
    assert "A ticket was printed since" in at_owner.get(address, follow=True).content.decode(), "from an open page"


@pytest.mark.parametrize("answer", ["accepted", "declined"])
def test_given_a_job_booked_again_when_the_answer_before_that_is_undone_then_the_booking_keeps_it(
    shop, at_owner, owner, answer
):
    job = shop.booked(shop.line(quantity=2))
    waiting = changed(shop, job, 4)
    at_owner.post(f"/quotes/{waiting.pk}/{answer}/")
    undo_booking(job=job, by=owner, why="too soon")
    book_job(job=job, by=owner, sample_approved=True, deposit_noted=True, waived_because="", due_on=None)
    before = stands(job)
    with pytest.raises(BookingError, match="was booked since"):
        undo_revision_answer(quote=waiting, by=owner, why="a slip")
    assert stands(job) == before


def test_given_a_cancelled_job_when_it_stands_again_then_the_answer_can_still_be_undone(shop, at_owner, owner):
    job = shop.booked(shop.line(quantity=2))
    waiting = changed(shop, job, 4)
    at_owner.post(f"/quotes/{waiting.pk}/accepted/")
    cancel(job=job, by=owner)
    undo_cancelling(job=job, by=owner, why="they rang")
    assert undo_revision_answer(quote=waiting, by=owner, why="a slip").is_unanswered


def test_given_a_revision_on_the_bench_then_the_database_keeps_its_answer(shop, at_owner, owner):
    job = shop.run(shop.line(quantity=2)).ticket.job
    waiting = changed(shop, job, 4)
    at_owner.post(f"/quotes/{waiting.pk}/accepted/")
    note(run=print_anew(job=job, by=owner).run, by=owner, client_key=builders.key(), kind="note", content={"text": "dusty"})
    assert Job.objects.get(pk=job.pk).state == states.ON_THE_BENCH
    with pytest.raises(DatabaseError, match="A job is booked with this quote"), transaction.atomic():
        Quote.objects.filter(pk=waiting.pk).update(state="sent", decided_at=None)


def test_given_a_ticket_of_the_agreed_order_when_the_change_is_declined_then_the_ticket_holds_again(shop, at_owner):
    run = shop.run(shop.line(quantity=2))
    job = run.ticket.job
    waiting = changed(shop, job, 4)
    with pytest.raises(NotAgreed, match="print its ticket anew"):
        print_anew(job=job, by=shop.owner)
    at_owner.post(f"/quotes/{waiting.pk}/declined/")
    assert shown(at_owner, job).context["next"].label == "Begin at the bench"


def test_given_a_waiting_change_when_the_booking_is_undone_then_the_agreed_quote_is_accepted_again(shop, at_owner):
    job = shop.booked(shop.line(quantity=2))
    agreed, order = job.quote, as_it_stands(job.order)
    waiting = changed(shop, job, 4)
    act = JobAct.objects.get(kind="booked")
    assert "is set aside" in at_owner.get(f"/jobs/{job.number}/undo/{act.pk}/").content.decode()
    undo_booking(job=job, by=shop.owner, why="too soon")
    agreed.refresh_from_db()
    waiting.refresh_from_db()
    row = Job.objects.get(pk=job.pk)
    assert (row.state, row.quote, agreed.state, waiting.state) == ("quoted", None, "accepted", "replaced")
    assert as_it_stands(row.order) == order
    assert shown(at_owner, job).context["next"].label == "Book the job"
    assert audit() == []


def test_given_nothing_is_changed_when_it_is_saved_again_then_there_is_no_second_revision(shop, owner):
    job = shop.booked(shop.line(quantity=2))
    with pytest.raises(BookingError, match="Nothing is changed"):
        changed(shop, job, 2, agreed_by="Ada")
    order = shop.order()
    save_quote(order=order, by=owner, form_key=builders.key())
    with pytest.raises(QuoteError, match="Quote 2 says just this"):
        save_quote(order=order, by=owner, form_key=builders.key())
    assert order.quotes.count() == 1


def test_given_a_newer_revision_then_an_older_draft_has_no_buttons(shop, owner, at_owner):
    order = shop.order()
    old, new = (builders.quoted(order, owner, title) for title in ("Hall mirror", "Hall mirror again"))
    page = shown(at_owner, order.job).content.decode()
    for act in ("sent", "accepted", "declined"):
        assert f"/quotes/{old.pk}/{act}/" not in page
        assert f"/quotes/{new.pk}/{act}/" in page


def test_given_a_waiting_change_then_today_asks_for_the_deposit_that_is_agreed(shop, at_owner):
    job = shop.booked(shop.line(quantity=2))
    undo_taking_in(act=JobAct.objects.get(kind="paid"), by=shop.owner, why="another job's")
    agreed, waiting = job.quote, changed(shop, job, 1)
    assert agreed.deposit != waiting.deposit
    asked = [row.amount for row in gather(shop.owner, today()).customers if row.what == f"deposit of {job.order.title}"]
    assert asked == [f"€{agreed.deposit:,.2f}"]
