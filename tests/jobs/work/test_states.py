"""The table of states is the one place that says what a job may do; pages and services ask it."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import transaction
from django.urls import resolve, reverse

from jobs.models import Job
from jobs.orders.saving import OrderError, change_order
from jobs.quotes.quoting import QuoteError, decide, mark_sent, save_quote
from jobs.work import quote_states, states
from jobs.work.booking import BookingError, deliver
from jobs.work.cancelling import cancel
from jobs.work.finishing import finish_run
from studio.house.clock import now, pretend, today
from studio.kit.access import access_of
from studio.whole.audit import audit
from tests import builders

DAY = date(2026, 5, 4)


def test_every_state_is_reached_and_only_closed_ones_lead_nowhere():
    assert {move.to for move in states.MOVES} | {states.ENQUIRY} == set(states.STATES)
    onward = {move.at for move in states.MOVES if move.to != move.at and not move.act.undoes}
    assert onward == set(states.STATES) - states.CLOSED
    assert {move.at for move in states.MOVES if move.act.undoes} >= states.CLOSED
    assert set(states.NEXT) == set(states.STATES)
    assert {move.act for move in states.MOVES} == set(states.ACTS)


@pytest.mark.parametrize(("act", "name", "args"), [
    (states.QUOTE, "quote", [1]), (states.SEND, "sent", [1]), (states.ACCEPT, "accepted", [1]),
    (states.DECLINE, "declined", [1]), (states.BOOK, "book", [1]), (states.TICKET, "ticket", [1]),
    (states.CHANGE, "order", [1]), (states.DELIVER, "deliver", [1]), (states.CANCEL, "cancel", [1]),
    (states.RECORD, "record_note", [1]), (states.FINISH, "finish", [1]), (states.KEEP, "leftover", [1]),
    (states.KEEP, "keep_offcuts", [1]),
])
def test_the_door_of_an_act_lets_in_whom_the_table_names(act, name, args):
    door = access_of(resolve(reverse(f"jobs:{name}", args=args)).func)
    assert door == act.needs


@pytest.mark.parametrize(("good", "after"), [
    ({1: 2, 2: 1}, "finished"), ({1: 3, 2: 1}, "finished"), ({1: 3}, "part done"), ({1: 1, 2: 1}, "part done"),
    ({}, "part done"),
])
def test_a_run_finishes_a_job_when_every_line_has_its_panes(good, after):
    assert states.after_run([(1, 2), (2, 1)], good) == after


@pytest.mark.parametrize(("state", "days", "stands", "out"), [
    ("draft", 0, "draft", False), ("draft", -1, "lapsed", False), ("sent", 0, "sent", True),
    ("sent", -1, "lapsed", False), ("accepted", -1, "accepted", True), ("declined", -1, "declined", False),
])
def test_a_quote_is_open_to_the_end_of_its_last_day(state, days, stands, out):
    until = DAY + timedelta(days=days)
    assert quote_states.standing(state, until, DAY) == stands
    assert quote_states.is_out(state, until, DAY) == out


pytest_db = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def state_of(job: Job) -> str:
    return Job.objects.get(pk=job.pk).state


@pytest_db
def test_a_sent_quote_makes_the_job_quoted_and_the_last_declined_one_an_enquiry_again(shop, owner, at_owner):
    order = shop.order()
    quotes = [builders.quoted(order, owner, title) for title in ("Hall mirror", "Hall mirror again")]
    assert state_of(order.job) == "enquiry"
    at_owner.post(f"/quotes/{quotes[0].pk}/sent/")
    mark_sent(quotes[1])
    assert state_of(order.job) == "quoted"
    decide(quote=quotes[0], accepted=False)
    assert state_of(order.job) == "quoted"
    decide(quote=quotes[1], accepted=False)
    assert state_of(order.job) == "enquiry"
    assert audit() == []


@pytest_db
@pytest.mark.parametrize(("so_far", "days", "offered"), [
    ([], 0, ["sent", "accepted", "declined"]), (["sent"], 0, ["accepted", "declined"]), (["sent", "accepted"], 0, []),
    (["sent", "declined"], 0, []), ([], 31, ["declined"]), (["sent"], 31, ["declined"]),
])
def test_given_a_quote_when_its_job_is_read_then_the_buttons_offered_work_and_no_other_answer_is_taken(
        shop, owner, at_owner, so_far, days, offered):
    quote = save_quote(order=shop.order(), by=owner, form_key=builders.key())
    for answer in so_far:
        assert at_owner.post(f"/quotes/{quote.pk}/{answer}/").status_code == 302
    left_as = (so_far or ["draft"])[-1]
    with pretend(now() + timedelta(days=days)):
        page = at_owner.get(f"/jobs/{quote.order.job.number}/").content.decode()
        for answer in ("sent", "accepted", "declined"):
            assert (f"Mark as {answer}" in page) == (answer in offered)
            with transaction.atomic():
                pressed = at_owner.post(f"/quotes/{quote.pk}/{answer}/").status_code
                quote.refresh_from_db()
                assert quote.state == (answer if answer in offered else left_as)
                assert pressed == (302 if answer in offered or answer == left_as else 422)
                assert audit() == []
                transaction.set_rollback(True)


@pytest_db
def test_a_lapse_shows_on_every_page_by_the_date_alone(shop, owner, at_owner):
    order = shop.order()
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    mark_sent(quote)
    listed = f"{order.job.number}: Hall mirror"
    assert listed in at_owner.get("/jobs/?state=quoted").content.decode()
    with pretend(now() + timedelta(days=31)):
        assert listed not in at_owner.get("/jobs/?state=quoted").content.decode()
        page = at_owner.get("/jobs/?state=enquiry").content.decode()
        assert listed in page
        assert "1, lapsed" in page
        assert "Quote 1" not in at_owner.get("/").content.decode()  # what nobody answered is left to the list of jobs
        job = at_owner.get(f"/jobs/{order.job.number}/").content.decode()
        assert "Quote 1 is lapsed: save a new revision" in job
        assert "Mark as accepted" not in job
        assert "Mark as declined" in job
        other = save_quote(order=order, by=owner, form_key=builders.key())
    with pretend(now() + timedelta(days=90)), pytest.raises(QuoteError, match="lapsed on"):
        mark_sent(other)


@pytest_db
def test_what_the_table_refuses_is_refused_with_its_sentence(shop, owner):
    job = shop.booked()
    second = job.order
    with pytest.raises(QuoteError, match="is booked: its quote stands"):
        save_quote(order=second, by=owner, form_key=builders.key())
    with pytest.raises(OrderError, match="is booked: its order stands"):
        change_order(order=second, saves=second.saves, typed_lines=[shop.line()])
    with pytest.raises(BookingError, match="only what is finished or part done is delivered"):
        deliver(job=job)
    cancel(job=job, by=owner, because="The customer withdrew.", nothing_else=True)
    with pytest.raises(BookingError, match="is cancelled: it can no longer be cancelled"):
        cancel(job=job, by=owner, because="The customer withdrew.", nothing_else=True)


@pytest_db
def test_a_run_with_too_few_good_panes_leaves_the_job_part_done_and_what_is_good_is_delivered(shop, owner, at_owner):
    run = builders.worked(shop.run(shop.line(quantity=2)), owner)
    builders.judge(run, owner, good=1)
    job = finish_run(run=run, by=owner).ticket.job
    assert state_of(job) == "part done"
    page = at_owner.get(f"/jobs/{job.number}/").content.decode()
    assert "Part done: fewer good panes than ordered" in page
    assert "Cancel the job" in page
    assert "part done" in at_owner.get("/jobs/?state=part+done").content.decode()
    question = at_owner.post(f"/jobs/{job.number}/deliver/").context["question"]  # its balance is not in
    assert at_owner.post(f"/jobs/{job.number}/deliver/", {question.name: question.value}).status_code == 302
    assert state_of(job) == "delivered"
    assert audit() == []


@pytest_db
def test_nothing_good_is_not_delivered_but_can_be_cancelled(shop, owner):
    run = builders.worked(shop.run(shop.line(quantity=2)), owner)
    builders.judge(run, owner, good=0)
    job = finish_run(run=run, by=owner).ticket.job
    with pytest.raises(BookingError, match="nothing to deliver"):
        deliver(job=job)
    cancel(job=job, by=owner, because="The customer withdrew.", nothing_else=True)
    assert state_of(job) == "cancelled"
    assert audit() == []


@pytest_db
def test_an_old_draft_and_a_lapsed_quote_order_nothing(shop, owner):
    from jobs.looking_back.buying import buying_list

    def quoted(day: date) -> bool:
        return any(row.quoted for row in buying_list(day))

    shop.glass.reorder_point = Decimal(90)
    shop.glass.save()
    order = shop.order()
    draft = save_quote(order=order, by=owner, form_key=builders.key())
    assert quoted(today())
    assert quoted(draft.valid_until)
    assert not quoted(draft.valid_until + timedelta(days=1))
    newer = builders.quoted(order, owner, "Hall mirror again")
    mark_sent(newer)
    assert not quoted(newer.valid_until + timedelta(days=1))
    decide(quote=newer, accepted=False)
    assert not quoted(today())
