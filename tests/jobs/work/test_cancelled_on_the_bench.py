"""A job that is cancelled on the bench: it owes its making safe, says why, and deducts what was recorded as used."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from jobs.models import Job, Run, RunEntry
from jobs.work.bench import BenchError, bench_state, note
from jobs.work.cancelling import cancel
from studio.house.clock import pretend, today
from studio.kit import database_rules
from studio.stockroom.models import StockMovement
from studio.whole.audit import audit
from studio.whole.book.load import load_file
from studio.whole.book.save import book, canonical, save_book
from tests import builders
from tests.jobs.work.test_clock import TEN, made_safe_by, mixed

pytestmark = pytest.mark.django_db
Kind = RunEntry.Kind


@pytest.fixture
def run(owner, rates):
    with pretend(TEN - timedelta(hours=1)):
        workshop = builders.Workshop(owner)
        return workshop.run(workshop.line(quantity=2))


def test_a_job_on_the_bench_is_cancelled_once_its_silver_is_made_safe(run, owner, helper, at_owner, at_helper):
    """Given silver that stands, when its owner cancels, then it is made safe first, and what was used is deducted."""
    job, page = run.ticket.job, f"/jobs/{run.ticket.job.number}/"
    silver = next(row.mix for row in bench_state(run).mixes if row.is_ammoniacal)
    mixed(run, helper)

    def cancelled(**sent):
        return at_owner.post(f"{page}cancel/", {"saves": Job.objects.get(pk=job.pk).saves, **sent})

    with pretend(TEN + timedelta(minutes=30)):
        standing = cancelled(because="The hall is sold.", nothing_else="on")
        assert standing.status_code == 422
        assert "was made safe, then cancel the job: Silver part, load 1" in standing.content.decode()
        with pytest.raises(IntegrityError, match="still stands"), transaction.atomic():
            Job.objects.filter(pk=job.pk).update(state="cancelled", cancelled_because="The hall is sold.")
        assert made_safe_by(at_helper, run).status_code == 302
        for sent, told in (({}, "Say why"), ({"because": "The hall is sold."}, "Record what was done of Ticket 1-1")):
            refused = cancelled(**sent)
            assert refused.status_code == 422
            assert told in refused.content.decode()
        assert not StockMovement.objects.filter(kind="use").exists()
        assert bench_state(run).missing
        assert cancelled(because="The hall is sold.", nothing_else="on").status_code == 302
        said = at_owner.get(page).content.decode()
        assert "Why it was cancelled: The hall is sold." in said
        shown = " ".join(at_helper.get(f"/bench/{run.pk}/").content.decode().split())
        assert "Stopped by maud, as the job was cancelled: The hall is sold." in shown
        assert "Not recorded as used." in shown
        assert "Used: " not in shown
        assert f"{run.ticket}" in at_helper.get("/bench/").content.decode()
    run.refresh_from_db()
    took = {row.lot.material.name: -row.quantity for row in run.posting.movements.select_related("lot__material")}
    assert took == {ingredient.name: ingredient.amount for ingredient in silver.ingredients}
    assert (run.stopped, run.made_safe_by) == (True, helper)
    assert {row.made for row in bench_state(run).mixes if row.mix.key != silver.key} == {False}
    assert Job.objects.get(pk=job.pk).reservation.released_at is not None
    assert audit() == []


def test_a_cancelled_run_deducts_the_glass_that_was_cut_and_nothing_that_was_only_planned(run, owner, helper):
    """Given cut glass and one mix for another pane, nothing to make safe stands; leftovers of it are ticked all the same."""
    glass = bench_state(run).plan.glass[0]
    with pretend(TEN):
        note(run=run, by=helper, client_key=builders.key(), kind=Kind.GLASS, subject=glass.code, content={"sheets": 1})
        other = next(row.mix for row in bench_state(run).mixes if not row.is_ammoniacal)
        note(run=run, by=helper, client_key=builders.key(), kind=Kind.MIXED, subject=other.key, content={
            "made": True, "amounts": {}})
        with pytest.raises(BenchError, match="leftovers and first rinse were made safe"):
            cancel(job=run.ticket.job, by=owner, because="withdrawn", nothing_else=True)
        builders.made_safe(run, helper)
        cancel(job=run.ticket.job, by=owner, because="withdrawn", nothing_else=True)
    run.refresh_from_db()
    took = {row.lot.material.code: -row.quantity for row in run.posting.movements.select_related("lot__material")}
    assert took == {glass.code: 1} | {ingredient.code: ingredient.amount for ingredient in other.ingredients}
    assert audit() == []


def test_a_cancelled_run_stands_in_a_book_as_it_was(db, tmp_path):
    sid = transaction.savepoint()
    with pretend(TEN):
        builders.house()
        builders.rates()
        maud = builders.person("maud", "owner")
        run = builders.Workshop(maud).run()
        mixed(run, maud)
        builders.made_safe(run, maud)
        cancel(job=run.ticket.job, by=maud, because="withdrawn", nothing_else=True)
        save_book(tmp_path / "book.json")
        before = book()
        transaction.savepoint_rollback(sid)
        load_file(tmp_path / "book.json", today())
        assert canonical(book()) == canonical(before)
    assert (Run.objects.get().stopped, Job.objects.get().cancelled_because) == (True, "withdrawn")
    assert audit() == []


def test_the_audit_finds_a_cancelled_job_whose_silver_still_stands(run, helper):
    mixed(run, helper)
    database_rules.lift(connection)
    Job.objects.update(state="cancelled")
    said = audit()
    database_rules.install(connection)
    assert any("is cancelled, but Silver part, load 1 was never made safe" in sentence for sentence in said)
