"""A ticket that was overtaken says so everywhere; a new print takes today's lots, and says which it replaces."""

from __future__ import annotations

from datetime import timedelta
from io import BytesIO

import pytest
from django.db import transaction
from pypdf import PdfReader

from jobs.looking_back.recall import recall_of, settle
from jobs.models import Job, Run, WorkTicket
from jobs.work.bench import bench_state
from jobs.work.booking import BookingError
from jobs.work.finishing import finish_run
from jobs.work.ticket_paper import ticket_paper
from jobs.work.ticketing import make_ticket, plan_of, print_anew
from recipes.finishes.putting_in_use import withdraw_recipe
from studio.house.clock import now, pretend
from studio.stockroom.lots.keeping import hold_lot
from studio.stockroom.models import Lot
from studio.stockroom.waste.sources import find_source, recent_sources
from studio.whole.audit import audit
from studio.whole.book.load import load_file
from studio.whole.book.save import book, canonical, save_book
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


@pytest.fixture
def run(workshop, owner):
    builders.lot(workshop.silver, "300", owner, "S2", "450")
    return workshop.run(workshop.line(quantity=2))


def held():
    Lot.objects.filter(lot_number="S1").update(state="held", hold_reason="looks grey")


def silver(ticket):
    return next(mix for mix in plan_of(ticket).mixes if mix.solution == "Silver part")


def words(content):
    return " ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages).replace("\n", " ")


def paper(client, ticket):
    return words(client.get(f"/tickets/{ticket.pk}/paper.pdf").content)


def test_a_held_lot_marks_the_ticket_on_its_paper_its_job_today_and_the_bench(run, at_owner, at_helper):
    assert "OVERTAKEN" not in paper(at_helper, run.ticket)
    kept = ticket_paper(run.ticket)
    held()
    why = "Lot S1 of Silver nitrate is not taken: held: looks grey. Take lot S2."
    assert f"OVERTAKEN. {why}" in paper(at_helper, run.ticket)
    assert ticket_paper(WorkTicket.objects.get(pk=run.ticket_id)) == kept
    for client, address in ((at_owner, f"/jobs/{run.ticket.job.number}/"), (at_helper, "/"), (at_helper, "/bench/")):
        assert why in client.get(address).content.decode(), address


def test_a_version_withdrawn_since_marks_it_too(run, workshop, owner, at_helper):
    with pretend(now() + timedelta(minutes=5)):
        withdraw_recipe(version=workshop.recipe, by=owner, note="It peels.")
        why = "Plain silver, version 1 was withdrawn on"
        assert why in paper(at_helper, run.ticket)
        for address in ("/", "/bench/"):
            page = at_helper.get(address).content.decode()
            assert why in page, address
            assert "It peels. Ask the owner before you mix for it." in page, address


def test_a_new_print_takes_todays_lots_and_says_which_it_replaces(run, at_owner, at_helper, owner):
    old, kept = run.ticket, ticket_paper(run.ticket)
    held()
    job = old.job.number
    for _ in range(2):  # pressed twice, printed once
        at_owner.post(f"/jobs/{job}/ticket/anew/", {"ticket": old.number})
    run.refresh_from_db()
    assert (str(run.ticket), run.ticket.replaced, Run.objects.count()) == ("Ticket 1-2", "ticket 1-1", 1)
    assert [pick.lot_number for pick in silver(run.ticket).ingredients[0].picks] == ["S2"]
    assert "Replaces ticket 1-1" in paper(at_helper, run.ticket)
    assert "OVERTAKEN" not in paper(at_helper, run.ticket)
    old = WorkTicket.objects.get(pk=old.pk)
    assert "OVERTAKEN. Ticket 1-2 was printed in its place" in paper(at_helper, old)
    assert ticket_paper(old) == kept
    page = at_owner.get(f"/jobs/{job}/").content.decode()
    assert "overtaken: Ticket 1-2 was printed in its" in page
    for address in ("/", "/bench/"):
        assert "eplaces ticket 1-1" in at_helper.get(address).content.decode(), address
    assert at_helper.post(f"/jobs/{job}/ticket/anew/").status_code == 403
    assert make_ticket(job=Job.objects.get(number=job), by=owner) == run.ticket
    finish_run(run=builders.worked(run, owner), by=owner)
    assert audit() == []
    with pytest.raises(BookingError, match="A ticket is printed for a booked job"):
        print_anew(job=Job.objects.get(number=job), by=owner)


def test_what_is_recorded_already_stays_as_it_was_printed(run, owner):
    """The silver was poured from S1 before it was held; the other mixes get the lots of today, and all is deducted once."""
    mix = silver(run.ticket)
    amounts = {str(row.number): f"{row.amount:f}" for row in mix.ingredients}
    builders.mixed(run, owner, mix.key, amounts=amounts, lots={"1": [["S1", amounts["1"]]]})
    Lot.objects.filter(lot_number="D1").update(state="held", hold_reason="damp")
    builders.lot(Lot.objects.get(lot_number="D1").material, "500", owner, "D2")
    ticket = print_anew(job=run.ticket.job, by=owner)
    run = Run.objects.get(pk=run.pk)
    assert run.ticket == ticket
    assert silver(ticket) == mix
    sugar = [row for made in plan_of(ticket).mixes for row in made.ingredients if row.code == "dextrose"]
    assert {pick.lot_number for row in sugar for pick in row.picks} == {"D2"}
    assert next(state for state in bench_state(run).mixes if state.mix.key == mix.key).made
    finish_run(run=builders.worked(run, owner, but=(mix.key,)), by=owner)
    assert audit() == []


def test_the_waste_of_a_run_stays_of_one_source(run, owner):
    """Half of its first rinse went into the drum before the new print: the rest is of the same source."""
    builders.mixed(run, owner, silver(run.ticket).key, amounts={"1": "4"}, lots={"1": [["S1", "4"]]})
    print_anew(job=run.ticket.job, by=owner)
    assert {find_source(name).name for name in ("run 1/1", "run 1/2")} == {"run 1/1"}
    assert "run 1/1" in dict(recent_sources())


def test_a_job_without_an_open_ticket_has_none_to_print_anew(workshop, owner):
    with pytest.raises(BookingError, match="No ticket of this job is open"):
        print_anew(job=workshop.booked(), by=owner)


def test_a_book_carries_what_replaced_what_and_what_was_settled(db, tmp_path):
    with transaction.atomic():
        builders.house()
        builders.rates()
        owner = builders.person("maud", "owner")
        run = builders.Workshop(owner).run()
        builders.mixed(run, owner, silver(run.ticket).key, amounts={"1": "4"}, lots={"1": [["S1", "4"]]})
        jar = Lot.objects.get(lot_number="S1")
        hold_lot(key=builders.key(), lot=jar, by=owner, why="grey specks")
        print_anew(job=run.ticket.job, by=owner)
        settle(key=builders.key(), lot=jar, names=[recall_of([jar])[0].name], decided="poured away", by=owner)
        document = book()
        save_book(tmp_path / "book.json")
        transaction.set_rollback(True)
    (job,) = document["jobs"]
    assert [(ticket["number"], ticket.get("replaces"), "run" in ticket) for ticket in job["tickets"]] == [
        (1, None, False), (2, 1, True)]
    assert [row["decided"] for row in document["recalls_settled"]] == ["poured away"]
    load_file(tmp_path / "book.json")
    assert audit() == []
    assert canonical(book() | {"written_on": document["written_on"]}) == canonical(document)
