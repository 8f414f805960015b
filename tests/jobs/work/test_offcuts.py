"""Kept offcuts on the shelf: kept once, promised to one job, used once; several stock sizes of one glass."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.draft import draft_of
from jobs.models import Job
from jobs.quotes.pricing import price_order
from jobs.quotes.quoting import decide, save_quote
from jobs.work.booking import book_job
from jobs.work.cancelling import cancel
from jobs.work.finishing import finish_run
from jobs.work.ticketing import make_ticket, plan_of
from studio.house.clock import today
from studio.stockroom.models import Offcut
from studio.stockroom.offcuts.kept import OffcutError, discard_offcut, free_offcuts, keep_offcut
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


def kept(workshop, width=700, height=1000, **more) -> Offcut:
    return keep_offcut(key=builders.key(), by=workshop.owner, material=workshop.glass, width_mm=Decimal(width),
                       height_mm=Decimal(height), **more)


def test_an_order_is_cut_from_what_was_kept(workshop):
    offcut = kept(workshop)
    order = workshop.order(workshop.line(quantity=1, route="offcut", own_panes_to_start=1))
    estimate = price_order(draft_of(order), today())
    assert estimate.glass.sheets[0].kept_offcuts == (offcut.number,)
    assert estimate.glass.sheets[0].sheets == 0
    assert estimate.costs[0].glass == 0


def test_promised_at_booking_and_used_with_the_run(workshop):
    offcut = kept(workshop)
    job = workshop.booked(workshop.line(quantity=1, route="offcut", own_panes_to_start=1))
    offcut.refresh_from_db()
    assert offcut.reservation == job.reservation
    Offcut.objects.update(reservation=None)
    assert audit() == [f"{job} does not promise the kept offcuts that its quote is cut from."]
    Offcut.objects.update(reservation=job.reservation)
    with pytest.raises(Exception, match="does not fit on the kept offcuts"):
        workshop.order(workshop.line(quantity=1, route="offcut", own_panes_to_start=1))
    with pytest.raises(OffcutError, match=f"promised to job {job.number}"):
        discard_offcut(offcut=offcut, by=workshop.owner, why="scratched")
    ticket = make_ticket(job=job, by=workshop.owner)
    assert plan_of(ticket).glass[0].plan[0].kept_offcut == offcut.number
    finish_run(run=builders.worked(ticket.run, workshop.owner), by=workshop.owner)
    offcut.refresh_from_db()
    assert offcut.gone_because == f"used for {job}"
    assert audit() == []


def test_what_was_promised_and_not_cut_goes_back_to_the_rack_with_the_run(workshop):
    """Only what the ticket was planned to be cut from is used up; everything else promised to the job is free again."""
    planned, other = kept(workshop), kept(workshop, 900, 1200)
    job = workshop.booked(workshop.line(quantity=1, route="offcut", own_panes_to_start=1))
    assert list(job.reservation.offcuts.all()) == [planned]
    Offcut.objects.filter(pk=other.pk).update(reservation=job.reservation)
    run = builders.worked(make_ticket(job=job, by=workshop.owner).run, workshop.owner)
    assert free_offcuts([workshop.glass.pk]) == []
    finish_run(run=run, by=workshop.owner)
    assert free_offcuts([workshop.glass.pk]) == [other]
    planned.refresh_from_db()
    assert (planned.gone_by, planned.gone_because) == (workshop.owner, f"used for {job}")
    assert Offcut.objects.get(pk=other.pk).gone_at is None


def test_two_quotes_want_one_offcut(workshop):
    kept(workshop)
    jobs = []
    for _ in range(2):
        order = workshop.order(workshop.line(quantity=1, route="offcut", own_panes_to_start=1))
        decide(quote=save_quote(order=order, by=workshop.owner, form_key=builders.key()), accepted=True)
        jobs.append(order.job)

    def book(job: Job) -> Job:
        return book_job(job=job, by=workshop.owner, sample_approved=True, deposit_noted=True, waived_because="",
                        due_on=None)

    first = book(jobs[0])
    with pytest.raises(OffcutError, match="no longer free"):
        book(jobs[1])
    jobs[1].refresh_from_db()
    assert jobs[1].state == Job.State.QUOTED
    assert jobs[1].reservation is None
    cancel(job=first, by=workshop.owner, because="The customer withdrew.", nothing_else=True)
    assert book(jobs[1]).state == Job.State.BOOKED


def test_what_a_ticket_leaves_is_kept_once(at_owner, workshop):
    run = workshop.run(workshop.line(quantity=1, own_panes_to_start=1))
    at_owner.post(f"/bench/{run.pk}/glass/{workshop.glass.code}/", {"sheets": "1", "key": builders.key()})
    page = at_owner.get(f"/bench/{run.pk}/").content.decode()
    name = f"{workshop.glass.code}/1/1"
    assert f'value="{name}"' in page
    for _ in range(2):
        at_owner.post(f"/bench/{run.pk}/offcuts/", {"offcut": [name], "place": "rack 2"})
    row = Offcut.objects.get()
    assert (row.place, row.came_from) == ("rack 2", f"job {run.ticket.job.number}")
    assert "rack 2" in at_owner.get("/stockroom/offcuts/").content.decode()


def test_the_page_of_offcuts(at_owner, workshop):
    def send(size, **more):
        return at_owner.post("/stockroom/offcuts/", {"material": workshop.glass.pk, "size": size, "place": "rack 1",
                                                     "key": str(builders.key()), **more})

    assert send("24 x 36 in").status_code == 302
    assert send("600").status_code == 422
    row = Offcut.objects.get()
    assert (row.width_mm, row.height_mm) == (Decimal("609.6"), Decimal("914.4"))
    assert at_owner.post(f"/stockroom/offcuts/{row.number}/discard/", {"why": " "}).status_code == 422
    assert at_owner.post(f"/stockroom/offcuts/{row.number}/discard/", {"why": "scratched"}).status_code == 302
    row.refresh_from_db()
    assert row.gone_because == "scratched"


def test_stock_sizes_that_share_a_word_are_cut_from_together(workshop):
    workshop.glass.same_glass = "clear 4"
    workshop.glass.save()
    small = builders.glass("Clear 4 mm, small", same_glass="clear 4", sheet_width_mm=Decimal(1125),
                           sheet_height_mm=Decimal(802), list_price=Decimal(9))
    estimate = price_order(draft_of(workshop.order(workshop.line(quantity=1, own_panes_to_start=1))), today())
    assert [(use.glass, use.sheets) for use in estimate.glass.sheets] == [(small.code, 1)]


def test_as_many_queries_for_many_offcuts(at_owner, workshop):
    counted = []
    for more in (1, 10):
        for _ in range(more):
            kept(workshop)
        with CaptureQueriesContext(connection) as asked:
            at_owner.get("/stockroom/offcuts/")
        counted.append(len(asked))
    assert counted[0] == counted[1]
