"""What is done to a job and undone: who, when and why stay in its story, and stock is promised as it stands."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from jobs.acts import NotUndone
from jobs.models import Job, JobAct, Run
from jobs.orders.saving import change_order
from jobs.quotes.quoting import QuoteError, decide, mark_sent, save_quote, take_back, undo_answer
from jobs.work import states
from jobs.work.bench import BenchError, bench_state, note
from jobs.work.booking import BookingError, book_job, deliver, undo_booking, undo_delivery
from jobs.work.cancelling import cancel, undo_cancelling
from jobs.work.coming_in import take_in, undo_taking_in
from jobs.work.correcting import correct_deduction, deducted
from jobs.work.finishing import finish_run
from jobs.work.kept import keep_offcuts_of, offcuts_of
from jobs.work.revising import revise
from jobs.work.ticketing import make_ticket, print_anew
from studio.house.clock import today
from studio.kit.rounding import plain
from studio.stockroom.models import LotLevel
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def fresh(job: Job) -> Job:
    return Job.objects.select_related("quote", "reservation").get(pk=job.pk)


def promised(job: Job) -> bool:
    row = fresh(job)
    return row.reservation is not None and row.reservation.released_at is None


def test_a_sent_quote_is_taken_back_and_says_why_in_the_story(shop, owner, at_owner):
    quote = save_quote(order=shop.order(), by=owner, form_key=builders.key())
    mark_sent(quote, owner)
    job = quote.order.job
    act = JobAct.objects.get(kind="sent")
    address = f"/jobs/{job.number}/undo/{act.pk}/"
    assert address in at_owner.get(f"/jobs/{job.number}/").content.decode()
    asked = at_owner.get(address).content.decode()
    assert "Quote 1 is a draft again" in asked
    key = str(builders.key())
    refused = at_owner.post(address, {"why": " ", "key": key})
    assert refused.status_code == 422
    assert "Say why it is undone" in refused.content.decode()
    assert f'value="{key}"' in refused.content.decode()
    for _ in range(2):  # pressed twice: done once, and said so twice
        pressed = at_owner.post(address, {"why": "sent to the wrong Fenwick", "key": key}, follow=True)
        assert "marked as undone, with your name" in pressed.content.decode()
    late = at_owner.post(address, {"why": "in another window", "key": str(builders.key())}, follow=True)
    assert "undone already" in late.content.decode()
    assert JobAct.objects.filter(kind="undone").count() == 1
    quote.refresh_from_db()
    assert (quote.state, quote.sent_at, fresh(job).state) == ("draft", None, "enquiry")
    page = at_owner.get(f"/jobs/{job.number}/").content.decode()
    assert "Undone: Quote 1 sent." in page
    assert "Why: sent to the wrong Fenwick" in page
    assert address not in page
    assert audit() == []


def test_a_second_press_that_meets_the_first_undoes_nothing_more(shop, owner):
    """Given every undoing, when its key comes twice at once, then the second finds the first and writes nothing."""
    order = shop.order()
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    mark_sent(quote, owner)
    job = order.job
    for undo in (partial(take_back, quote=quote), partial(undo_answer, quote=quote), partial(undo_booking, job=job)):
        if undo.func is not take_back:
            decide(quote=quote, accepted=True, by=owner)
        if undo.func is undo_booking:
            book_job(job=job, by=owner, sample_approved=True, deposit_noted=True, waived_because="", due_on=today())
        key = builders.key()
        undo(by=owner, why="a slip", key=key)
        before = JobAct.objects.count()
        undo(by=owner, why="a slip", key=key)
        assert JobAct.objects.count() == before
    assert fresh(job).due_on is None


def test_what_lapsed_is_taken_back_but_not_a_draft_that_lapsed(shop, owner, monkeypatch):
    quote = save_quote(order=shop.order(), by=owner, form_key=builders.key())
    sent = save_quote(order=shop.order(), by=owner, form_key=builders.key())
    mark_sent(sent, owner)
    later = sent.valid_until + timedelta(days=1)
    for where in ("jobs.models.quotes.today", "jobs.quotes.quoting.today"):
        monkeypatch.setattr(where, lambda: later)
    assert (quote.is_lapsed, quote.can_take_back) == (True, False)
    sent.refresh_from_db()
    assert (sent.is_lapsed, sent.can_take_back) == (True, True)
    take_back(quote=sent, by=owner, why="sent to the wrong address")
    sent.refresh_from_db()
    assert (sent.state, sent.sent_at) == ("draft", None)
    with pytest.raises(QuoteError, match="its quotes stay as they are"):
        take_back(quote=quote, by=owner, why="it was never sent")


def test_an_undone_acceptance_brings_back_what_it_replaced(shop, owner):
    order = shop.order()
    first, second = (builders.quoted(order, owner, title) for title in ("Hall mirror", "Hall mirror again"))
    decide(quote=first, accepted=True, by=owner)
    mark_sent(second, owner)
    decide(quote=second, accepted=True, by=owner)
    first.refresh_from_db()
    assert first.state == "replaced"
    second.refresh_from_db()
    undo_answer(quote=second, by=owner, why="she meant the first")
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.state, second.state, fresh(order.job).state) == ("accepted", "sent", "quoted")
    assert audit() == []


def test_an_older_revision_is_not_accepted_while_a_newer_is_with_the_customer(shop, owner):
    order = shop.order()
    first, second = (builders.quoted(order, owner, title) for title in ("Hall mirror", "Hall mirror again"))
    mark_sent(first, owner)
    mark_sent(second, owner)
    with pytest.raises(QuoteError, match="Quote 1, revision 2 is newer and is sent"):
        decide(quote=first, accepted=True, by=owner)
    take_back(quote=second, by=owner, why="too soon")
    assert decide(quote=first, accepted=True, by=owner).is_accepted


def test_a_booking_is_undone_before_its_ticket_and_not_after(shop, owner):
    job = shop.booked()
    assert promised(job)
    undo_booking(job=job, by=owner, why="wrong job")
    row = fresh(job)
    assert (row.state, row.quote, row.booked_at, promised(job)) == ("quoted", None, None, False)
    assert audit() == []
    run = shop.run()
    with pytest.raises(BookingError, match="ticket of this job is printed"):
        undo_booking(job=run.ticket.job, by=owner, why="wrong job")


def test_a_cancelling_is_undone_with_its_stock_promised_anew_but_not_off_the_bench(shop, owner):
    job = shop.booked()
    before = sorted(fresh(job).reservation.amounts.values_list("material__code", "quantity"))
    cancel(job=job, by=owner, because="tiles")
    assert not promised(job)
    undo_cancelling(job=job, by=owner, why="no tiles after all")
    row = fresh(job)
    assert (row.state, row.cancelled_because) == ("booked", "")
    assert promised(job)
    assert sorted(row.reservation.amounts.values_list("material__code", "quantity")) == before
    assert audit() == []
    run = shop.run()
    note(run=run, by=owner, client_key=builders.key(), kind="note", content={"text": "begun"})
    cancel(job=run.ticket.job, by=owner, because="tiles", nothing_else=True)
    with pytest.raises(BookingError, match="was on the bench when it was cancelled"):
        undo_cancelling(job=run.ticket.job, by=owner, why="no tiles after all")


def test_a_delivery_is_undone_to_where_the_runs_left_the_job(shop, owner):
    run = builders.worked(shop.run(), owner)
    builders.judge(run, owner, good=1)
    job = finish_run(run=run, by=owner).ticket.job
    deliver(job=job, by=owner)
    undo_delivery(job=job, by=owner, why="the lorry came back")
    assert fresh(job).state == "part done"
    assert [act.kind for act in job.acts.order_by("pk")][-2:] == ["delivered", "undone"]
    deliver(job=job, by=owner)
    with pytest.raises(NotUndone, match="Say why"):
        undo_delivery(job=job, by=owner, why="")


def test_money_that_came_in_late_is_counted_and_can_be_undone(shop, owner, at_owner):
    job = shop.booked()
    total, asked = job.quote.total, job.quote.deposit
    act = take_in(job=job, by=owner, key=builders.key(), amount=Decimal("20.50"), note="in cash")
    page = at_owner.get(f"/jobs/{job.number}/")
    assert page.context["paid"].in_hand == asked + Decimal("20.50")
    assert page.context["paid"].still_due == total - asked - Decimal("20.50")
    undo_taking_in(act=act, by=owner, why="of another job")
    assert at_owner.get(f"/jobs/{job.number}/").context["paid"].still_due == total - asked
    key = str(builders.key())
    for _ in range(2):
        sent = at_owner.post(f"/jobs/{job.number}/came-in/money/", {"key": key, "amount": "5"})
        assert sent.status_code == 302
    assert at_owner.get(f"/jobs/{job.number}/").context["paid"].in_hand == asked + 5
    nothing = at_owner.post(f"/jobs/{job.number}/came-in/money/", {"key": str(builders.key()), "amount": "0"})
    assert nothing.status_code == 422
    assert audit() == []


def test_what_a_run_deducted_is_corrected_by_opposites_and_the_run_stays_finished(shop, owner):
    run = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    silver = next(row for row in deducted(run) if row.lot.pk == shop.silver_lot.pk)
    left = LotLevel.objects.get(lot=shop.silver_lot).on_hand
    safe_at = Run.objects.get(pk=run.pk).made_safe_at
    key = builders.key()
    for _ in range(2):
        correct_deduction(run=run, by=owner, key=key, amounts={silver.lot.pk: silver.amount + 3}, why="read 3 g low")
    assert LotLevel.objects.get(lot=shop.silver_lot).on_hand == left - 3
    row = Run.objects.get(pk=run.pk)
    assert row.finished_at is not None
    assert row.made_safe_at == safe_at
    assert next(one.amount for one in deducted(row) if one.lot.pk == silver.lot.pk) == silver.amount + 3
    assert "read 3 g low" in JobAct.objects.get(kind="corrected").note
    correct_deduction(run=row, by=owner, key=builders.key(), amounts={silver.lot.pk: silver.amount}, why="w" * 250)
    assert JobAct.objects.filter(kind="corrected").order_by("pk").last().note == "w" * 199 + "…"
    with pytest.raises(BenchError, match=r"held .* for this run"):
        correct_deduction(run=row, by=owner, key=builders.key(), amounts={silver.lot.pk: Decimal(9999)}, why="all")
    with pytest.raises(BenchError, match="nothing is corrected"):
        correct_deduction(run=row, by=owner, key=builders.key(), amounts={}, why="nothing")
    assert audit() == []


def test_a_lot_corrected_to_nothing_is_corrected_back(shop, owner, at_owner):
    """Given a run that took silver, when that is said to be none, and it was some after all, then it is on the page."""
    run = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    first = {row.lot.pk: row.amount for row in deducted(run)}
    silver = shop.silver_lot.pk

    def correct(amounts, why):
        correct_deduction(run=run, by=owner, key=builders.key(), amounts=amounts, why=why)
        return {row.lot.pk: row.amount for row in deducted(Run.objects.get(pk=run.pk))}

    assert correct({silver: Decimal(0)}, "by mistake") == {**first, silver: Decimal(0)}
    other = next(pk for pk in first if pk != silver)
    assert correct({other: first[other] + 1}, "read low")[silver] == 0
    assert f'name="lot-{silver}" value="0"' in at_owner.get(f"/bench/{run.pk}/correct/").content.decode()
    assert correct(first, "it was used after all") == first
    with pytest.raises(BenchError, match="used something"):
        correct(dict.fromkeys(first, Decimal(0)), "none of it")
    assert audit() == []


def test_a_sheet_corrected_to_none_was_not_cut_and_ten_times_the_amount_is_asked_about_once(shop, owner, at_owner):
    """Given a run that took a sheet, when none was used after all, then the run's page says so and offers no offcut."""
    run = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    glass = next(row for row in deducted(run) if row.lot.material == shop.glass)
    page, correcting = f"/bench/{run.pk}/", f"/bench/{run.pk}/correct/"
    before = at_owner.get(page).context
    assert before["sheets_used"] == {glass.lot.material.code: plain(glass.amount)}
    assert before["offcuts"]
    sent = {f"lot-{row.lot.pk}": plain(row.amount) for row in deducted(run)}
    silver = next(row for row in deducted(run) if row.lot.pk == shop.silver_lot.pk)
    sent |= {f"lot-{glass.lot.pk}": "0", f"lot-{silver.lot.pk}": f"{plain(silver.amount * 10)} g", "why": "read again",
             "opened": Run.objects.get(pk=run.pk).posting_id, "key": str(builders.key())}
    asked = at_owner.post(correcting, sent)
    assert (asked.status_code, "ten times too much or more: deducted was" in asked.content.decode()) == (422, True)
    (question,) = [question for *_, question in asked.context["rows"] if question]
    assert at_owner.post(correcting, {**sent, question.name: question.value}).status_code == 302
    after = at_owner.get(page).context
    assert (after["sheets_used"], after["offcuts"]) == ({glass.lot.material.code: "0"}, [])
    assert audit() == []


def test_a_sheet_is_not_corrected_away_under_an_offcut_that_was_kept_of_it(shop, owner):
    run = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    glass = next(row for row in deducted(run) if row.lot.material == shop.glass)
    keep_offcuts_of(run=run, names=[offcuts_of(run, bench_state(run))[0][0]], place="rack", by=owner)
    with pytest.raises(BenchError, match="was kept of sheet"):
        correct_deduction(run=run, by=owner, key=builders.key(), amounts={glass.lot.pk: Decimal(0)}, why="none")
    assert not JobAct.objects.filter(kind="corrected").exists()


def test_the_second_of_two_corrections_is_shown_the_first(shop, owner, at_owner):
    """Given two windows on one deduction, when both correct another lot, then the second does not put the first back."""
    run = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    rows = deducted(run)
    other = next(row for row in rows if row.lot.pk != shop.silver_lot.pk)
    sent = {f"lot-{row.lot.pk}": plain(row.amount) for row in rows}
    opened = {"why": "read low", "opened": run.posting_id}
    silver = next(row for row in rows if row.lot.pk == shop.silver_lot.pk)
    address = f"/bench/{run.pk}/correct/"
    first = at_owner.post(address, {**sent, **opened, f"lot-{silver.lot.pk}": plain(silver.amount + 3),
                                    "key": str(builders.key())})
    assert first.status_code == 302
    second = at_owner.post(address, {**sent, **opened, f"lot-{other.lot.pk}": plain(other.amount + 1),
                                     "key": str(builders.key())})
    page = second.content.decode()
    assert second.status_code == 422
    assert "It was corrected meanwhile" in page
    assert f"{plain(silver.amount + 3)} g of {silver.lot}" in page
    assert f'name="opened" value="{Run.objects.get(pk=run.pk).posting_id}"' in page
    empty = at_owner.post(address, {**sent, **opened, f"lot-{other.lot.pk}": "", "key": str(builders.key())})
    assert "0 if nothing was" in empty.content.decode()


def test_a_ticket_of_the_old_order_takes_no_record(shop, owner):
    """Its quote is made again later than the ticket, as a change of the order leaves it."""
    run = shop.run(shop.line(quantity=2, own_panes_to_start=2))
    job, order = run.ticket.job, run.ticket.job.order

    def change():
        return change_order(order=order, saves=order.saves, typed_lines=[shop.line(quantity=3, own_panes_to_start=3)],
                            by=owner, act=states.REVISE)

    revised = revise(job=job, by=owner, change=change, key=builders.key(), why="one more", agreed_by="Ada, by telephone")
    glass = next((row for row in revised.stock if row.material == shop.silver), None)
    assert glass is not None
    assert glass.after > glass.before
    assert revised.dearer > 0
    assert revised.loads == ["Load 1 was 2 × 610 × 915 mm (line 1), is now 3 × 610 × 915 mm (line 1)."]
    assert (revised.before.label, revised.quote.label) == ("1", "1, revision 2")
    revised.before.refresh_from_db()
    assert (revised.before.state, fresh(job).quote, promised(job)) == ("replaced", revised.quote, True)
    with pytest.raises(BenchError, match="have it printed anew first"):
        note(run=run, by=owner, client_key=builders.key(), kind="note", content={"text": "begun"})
    assert make_ticket(job=job, by=owner) == run.ticket
    fresh_ticket = print_anew(job=job, by=owner)
    assert len(fresh_ticket.plan["panes"]) == 3
    run.refresh_from_db()
    note(run=run, by=owner, client_key=builders.key(), kind="note", content={"text": "begun"})
    with pytest.raises(BookingError, match="nothing is recorded on the bench"):
        revise(job=job, by=owner, change=change, key=builders.key(), why="two more", agreed_by="")
    assert audit() == []


def booking(job, owner, **more):
    return book_job(**{"job": job, "by": owner, "sample_approved": True, "deposit_noted": True, "waived_because": "",
                       "due_on": None, **more})


def test_an_order_changed_after_its_quote_was_accepted_is_not_booked_with_it(shop, owner, at_owner):
    order = shop.order()
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    decide(quote=quote, accepted=True, by=owner)
    order.refresh_from_db()
    order.note = "ring the bell twice"  # says nothing of what is made
    change_order(order=order, saves=order.saves, typed_lines=[shop.line(quantity=2)], by=owner)
    page = f"/jobs/{order.job.number}/"
    assert at_owner.get(page).context["next"].label == "Book the job"
    change_order(order=order, saves=order.saves, typed_lines=[shop.line(quantity=9)], by=owner)
    for _ in range(2):
        with pytest.raises(BookingError, match="order was changed since Quote 1 was made"):
            booking(order.job, owner)
        undo_answer(quote=quote, by=owner, why="a slip")  # come to by an undoing, it is refused as well
        decide(quote=quote, accepted=True, by=owner)
    now = at_owner.get(page)
    assert now.context["next"].what == (
        "The order was changed since Quote 1 was accepted: save it as a new revision and have it accepted.")
    for left_out in ("Costs have changed since", 'id="book"'):
        assert left_out not in now.content.decode()
    refused = at_owner.post(f"{page}book/", {"sample_approved": "on", "deposit_noted": "on"})
    assert "order was changed since Quote 1 was made" in refused.content.decode()
    second = save_quote(order=order, by=owner, form_key=builders.key())
    assert at_owner.get(page).context["next"].label == "Mark as sent"
    decide(quote=second, accepted=True, by=owner)
    assert booking(order.job, owner).quote == second


def test_nothing_is_booked_beside_a_newer_quote_that_waits_for_an_answer(shop, owner, at_owner):
    order = shop.order()
    first, second = (builders.quoted(order, owner, title) for title in ("Hall mirror", "Hall mirror again"))
    decide(quote=first, accepted=True, by=owner)
    mark_sent(second, owner)
    with pytest.raises(BookingError, match="revision 2 is newer than Quote 1, which is accepted, and is sent"):
        booking(order.job, owner)
    assert "revision 2 is sent while Quote 1 is accepted" in at_owner.get(f"/jobs/{order.job.number}/").context["next"].what
    decide(quote=second, accepted=False, by=owner)
    assert booking(order.job, owner).quote == first


@pytest.fixture
def accepted(shop, owner):
    quote = save_quote(order=shop.order(), by=owner, form_key=builders.key())
    assert quote.deposit > 1
    return decide(quote=quote, accepted=True, by=owner)


def test_what_came_in_before_booking_stands_when_it_is_booked(accepted, owner, at_owner):
    """Given an approved sample and a deposit in two parts, when it is booked without a tick, then both are in."""
    job, page = accepted.order.job, f"/jobs/{accepted.order.job.number}/"
    take_in(job=job, by=owner, key=builders.key(), note="Ada, in the shop")
    take_in(job=job, by=owner, key=builders.key(), amount=Decimal(1))
    shown = at_owner.get(page).context["booking"]
    assert (shown["sample_approved"].value(), shown["deposit_noted"].value()) == (True, False)
    with pytest.raises(BookingError, match="both in, or say why not"):
        booking(job, owner, sample_approved=False, deposit_noted=False)
    take_in(job=job, by=owner, key=builders.key(), amount=accepted.deposit - 1)
    assert at_owner.get(page).context["booking"]["deposit_noted"].value() is True
    row = booking(job, owner, sample_approved=False, deposit_noted=False)
    assert (row.sample_approved, row.deposit_noted) == (True, True)
    assert at_owner.get(page).context["paid"].in_hand == accepted.deposit


def test_a_deposit_ticked_at_booking_records_what_was_still_missing_of_it(accepted, owner, at_owner):
    job = accepted.order.job
    page = f"/jobs/{job.number}/"
    assert f"The deposit is in: record that €{accepted.deposit:,.2f} came in" in at_owner.get(page).content.decode()
    take_in(job=job, by=owner, key=builders.key(), amount=Decimal(1))
    for shown in (at_owner.get(page), at_owner.post(f"{page}book/", {"due_on": "never"})):
        assert f"The deposit is in: record that €{accepted.deposit - 1:,.2f} more came in" in shown.content.decode()
        assert [words for _, words in shown.context["paid"].paid_in_words] == ["In"]
    booking(job, owner)
    assert [words for _, words in at_owner.get(page).context["paid"].paid_in_words] == ["In", "Deposit in"]
    assert [act.amount for act in JobAct.objects.filter(kind="paid").order_by("pk")] == [1, accepted.deposit - 1]


def test_money_undone_leaves_no_reason_that_nobody_gave(accepted, owner, at_owner):
    job = booking(accepted.order.job, owner, due_on=today())
    undo_taking_in(act=JobAct.objects.get(kind="paid"), by=owner, why="typed twice")
    undo_taking_in(act=JobAct.objects.get(kind="sample"), by=owner, why="another sample")
    row = fresh(job)
    assert (row.sample_approved, row.deposit_noted, row.waived_because) == (False, False, "")
    assert "by your word" not in at_owner.get("/").content.decode()
    take_in(job=job, by=owner, key=builders.key(), amount=accepted.deposit - 1)
    assert not fresh(job).deposit_noted
    take_in(job=job, by=owner, key=builders.key(), amount=Decimal(1))
    assert fresh(job).deposit_noted
    assert audit() == []


def test_money_of_a_cancelled_job_is_said_given_back_and_undone(accepted, owner, at_owner):
    job = booking(accepted.order.job, owner)
    page, asked = f"/jobs/{job.number}/", accepted.deposit
    said = at_owner.post(f"{page}cancel/", {"saves": fresh(job).saves, "because": "tiles"}, follow=True)
    assert "of it is still here: record it once it is given back" in said.content.decode()
    assert said.context["paid"].to_give_back == asked
    here = f"Cancelled: €{asked:,.2f} that came in is still here, give it back."
    assert (said.context["next"].what, said.context["next"].address) == (here, "#in-back-amount")
    assert 'id="in-back-amount"' in said.content.decode()
    assert here in at_owner.get("/jobs/").content.decode()
    assert "of a cancelled job is still here" in at_owner.get("/").content.decode()

    def back(amount):
        return at_owner.post(f"{page}came-in/back/", {"key": str(builders.key()), "amount": f"{amount}", "note": "in cash"},
                             follow=True)

    assert "no more than that is given back" in back(asked + 1).content.decode()
    given = back(asked).content.decode()
    assert "Given back: €" in given
    assert "Cancelled: nothing more is to be done." in given
    assert "of a cancelled job is still here" not in at_owner.get("/").content.decode()
    paid, gone = JobAct.objects.get(kind="paid"), JobAct.objects.get(kind="given back")
    with pytest.raises(NotUndone, match="More money was given back"):
        undo_taking_in(act=paid, by=owner, why="never came")
    for act in (gone, paid, JobAct.objects.get(kind="sample")):
        address = f"{page}undo/{act.pk}/"
        assert address in at_owner.get(page).content.decode()
        assert at_owner.post(address, {"why": "a slip", "key": str(builders.key())}).status_code == 302
    assert (fresh(job).sample_approved, fresh(job).deposit_noted, fresh(job).state) == (False, False, "cancelled")
    assert audit() == []


def test_money_is_read_as_it_is_typed_and_more_than_is_due_is_asked_about_once(accepted, owner, at_owner):
    page, total = f"/jobs/{accepted.order.job.number}/", accepted.total
    for typed, read in (("€1", 1), ("1,001.5", "1001.5"), ("1.001,50", "1001.5")):
        sent = {"key": str(builders.key()), "amount": typed}
        asked = at_owner.post(f"{page}came-in/money/", sent)
        if Decimal(read) > total:
            sent["amount_meant_so"] = asked.context["came_in"]["money"].fields["amount"].question.value
            assert at_owner.post(f"{page}came-in/money/", sent).status_code == 302
        assert JobAct.objects.filter(kind="paid").latest("pk").amount == Decimal(read)
        undo_taking_in(act=JobAct.objects.filter(kind="paid").latest("pk"), by=owner, why="a look")
    slip = {"key": str(builders.key()), "amount": "99,999,999", "note": "by bank"}
    asked = at_owner.post(f"{page}came-in/money/", slip)
    assert asked.status_code == 422
    assert "€99,999,999.00 is more than the" in asked.content.decode()
    assert 'value="by bank"' in asked.content.decode()
    assert not JobAct.objects.filter(amount=99999999).exists()
    for _ in range(2):
        meant = {**slip, "amount_meant_so": asked.context["came_in"]["money"].fields["amount"].question.value}
        assert at_owner.post(f"{page}came-in/money/", meant).status_code == 302
    assert JobAct.objects.filter(amount=99999999).count() == 1


def test_a_job_with_a_ticket_that_nobody_began_is_cancelled_without_a_trace_and_called_back(shop, owner, at_owner):
    run = shop.run()
    job, page = run.ticket.job, f"/jobs/{run.ticket.job.number}/"
    with pytest.raises(BenchError, match="tick that the rest was not"):
        cancel(job=job, by=owner, because="tiles")
    cancel(job=job, by=owner, because="tiles", nothing_else=True)
    assert not run.entries.exists()
    assert "began" not in at_owner.get(page).content.decode()
    act = JobAct.objects.get(kind="cancelled")
    asked = at_owner.get(f"{page}undo/{act.pk}/").content.decode()
    assert "Ticket 1-1 stands: nothing was recorded on it." in asked
    undo_cancelling(job=job, by=owner, why="no tiles after all")
    assert (fresh(job).state, promised(job)) == ("booked", True)
    assert audit() == []
    note(run=run, by=owner, client_key=builders.key(), kind="note", content={"text": "begun"})
    cancel(job=job, by=owner, because="tiles", nothing_else=True)
    with pytest.raises(IntegrityError, match="stays cancelled"), transaction.atomic():
        Job.objects.filter(pk=job.pk).update(state="booked")


def test_everything_locks_a_job_before_its_order_and_its_quote(shop, owner):
    """Two sessions that lock in one order wait for each other at most once, and never both for ever."""
    order = shop.order()
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    order.refresh_from_db()
    for act in (
        partial(mark_sent, quote, owner), partial(take_back, quote=quote, by=owner, why="a slip"),
        partial(decide, quote=quote, accepted=True, by=owner), partial(undo_answer, quote=quote, by=owner, why="a slip"),
        partial(change_order, order=order, saves=order.saves, typed_lines=[shop.line(quantity=3)], by=owner),
        partial(save_quote, order=order, by=owner, form_key=builders.key()),
    ):
        with CaptureQueriesContext(connection) as asked:
            act()
        # a quote is worked out before: what is only looked at then locks nothing
        begun = next(at for at, row in enumerate(asked.captured_queries) if row["sql"].startswith("SAVEPOINT"))
        read = [found[1] for row in asked.captured_queries[begun:] if (found := re.search(r'FROM "(jobs_\w+)"', row["sql"]))]
        assert read[0] == "jobs_job", act
