"""What was mixed before anybody knew: entered late, its clock runs from the mixing, and only making safe stops it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import IntegrityError, transaction

from jobs.models import RunEntry
from jobs.work.bench import BenchError, bench_state, note
from jobs.work.clock import clocks_of
from jobs.work.finishing import finish_run
from jobs.work.making_safe import make_run_safe
from jobs.work.ticket_paper import ticket_context, ticket_paper
from recipes.models import MakingSafe, SilverClock
from recipes.solutions.mixing_ahead import mix_ahead
from recipes.trials.conducting import Taken, TrialRefused, close_trial, make_trial_safe, take_stock
from studio.house.clock import pretend, today
from studio.stockroom.hazards.standing import PAST_ITS_LIMIT
from studio.stockroom.ledger import LedgerError
from studio.stockroom.lots.keeping import discard, release_lot
from studio.stockroom.materials import save_material
from studio.stockroom.models import Posting, StockMovement
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db
Kind = RunEntry.Kind
TEN = datetime(2026, 3, 4, 10, 0, tzinfo=UTC)
HALF_PAST = TEN + timedelta(minutes=30)


class Drops:
    """A studio whose “clearing drops”, said to be harmless, stand in a bath with silver; nobody knows they are ammonia."""

    def __init__(self, owner):
        self.owner, self.shop = owner, builders.Workshop(owner)
        shop = self.shop
        self.drops = builders.material("Clearing drops", "mL", none_apply=True)
        builders.lot(self.drops, "1000", owner, "CD1")
        self.bath = builders.solution("Drops bath", {"material": shop.silver, "amount": 12, "unit": "g"},
                                      {"material": self.drops, "amount": 14}, {"material": shop.water})
        steps = shop.steps()
        steps[2]["parts"][0] = {"solution_version": self.bath, "mixed_for": "load"}
        shop.recipe = builders.put_version_in_use(builders.recipe("Drop mirror", steps), owner)

    def mixed_run(self, at):
        """A run all of whose mixes were recorded at a time, and the plain tick that they were made safe."""
        run = self.shop.run()
        with pretend(at):
            for row in bench_state(run).mixes:
                amounts = {str(part.number): str(part.amount) for part in row.mix.ingredients}
                note(run=run, by=self.owner, client_key=builders.key(), kind=Kind.MIXED, subject=row.mix.key,
                     content={"made": True, "amounts": amounts})
            note(run=run, by=self.owner, client_key=builders.key(), kind=Kind.MADE_SAFE, content={"by_procedure": True})
        return run

    def ahead(self, at):
        with pretend(at):
            return mix_ahead(key=builders.key(), by=self.owner, version=self.bath, volume_ml=Fraction(500), day=today())

    def enter(self, *classes):
        """Enter what the drops react as."""
        self.drops.refresh_from_db()
        self.drops.reacts_as, self.drops.none_apply = list(classes), not classes
        return save_material(self.drops, by=self.owner, why_taken_away="another sheet")


@pytest.fixture
def studio(owner, rates):
    with pretend(TEN - timedelta(hours=1)):
        yield Drops(owner)


def test_a_mix_of_an_open_run_stands_since_it_was_mixed_on_every_page_until_a_making_safe_names_it(
        studio, owner, at_owner, at_helper):
    run = studio.mixed_run(TEN)
    with pretend(HALF_PAST):
        studio.enter("ammonia")
        studio.enter("ammonia")  # saved again, it starts nothing twice
    clock = clocks_of(run).get()
    assert (clock.started_at, clock.noted_at, clock.what) == (TEN, HALF_PAST, "Drops bath, load 1")
    with pretend(TEN + timedelta(minutes=59)):
        for client, page in ((at_helper, "/"), (at_helper, "/bench/"), (at_helper, f"/bench/{run.pk}/"),
                             (at_owner, f"/jobs/{run.ticket.job.number}/")):
            assert "59 min" in client.get(page).content.decode()
    with pretend(TEN + timedelta(hours=5)):
        builders.worked(run, owner, safe=False)
        shown = at_helper.get("/stockroom/").content.decode()
        assert "Drops bath, load 1" in shown
        assert PAST_ITS_LIMIT in shown
        assert PAST_ITS_LIMIT in at_helper.get("/").content.decode()
        with pytest.raises(BenchError, match="Drops bath, load 1"):
            finish_run(run=run, by=owner)
        builders.made_safe(run, owner)
        finish_run(run=run, by=owner)
    assert not [sentence for sentence in audit() if "clock" in sentence or "made safe" in sentence or "held" in sentence]


def test_what_is_mixed_after_the_truth_starts_its_clock_though_the_ticket_was_printed_before(studio, owner):
    run = studio.shop.run()
    studio.enter("ammonia")
    assert [row.mix.solution for row in bench_state(run).mixes if row.is_ammoniacal] == ["Drops bath"]
    with pretend(TEN):
        builders.worked(run, owner, safe=False)
    assert clocks_of(run).get().started_at == TEN


def test_stocks_that_were_sprayed_stand_and_those_that_were_not_are_asked_about(studio, owner):
    """Given silver and drops in stocks of their own, a load whose panes are judged was sprayed; another may yet be."""
    shop = studio.shop
    silver = builders.solution("Silver stock", {"material": shop.silver, "amount": 12, "unit": "g"}, {"material": shop.water})
    drops = builders.solution("Drops stock", {"material": studio.drops, "amount": 14}, {"material": shop.water})
    steps = shop.steps()
    steps[2]["parts"] = [{"solution_version": silver}, {"solution_version": drops}]
    shop.recipe = builders.put_version_in_use(builders.recipe("Two drops", steps), owner)
    sprayed, waiting = studio.mixed_run(TEN), studio.mixed_run(TEN)
    with pretend(HALF_PAST):
        builders.judge(sprayed, owner, good=1)
        studio.enter("ammonia")
        clock = clocks_of(sprayed).get()
        assert (clock.began, clock.started_at) == ("sprayed", TEN)
        assert not clocks_of(waiting).exists()
        assert any("first sprayed" in sentence for sentence, _ in bench_state(waiting).missing)


def test_a_lot_mixed_ahead_stands_and_nobody_takes_of_it_or_pours_it_away(studio, owner, helper, at_owner, at_helper):
    lot = studio.ahead(TEN)
    trial = builders.trial(builders.recipe("Anything", [{"kind": "clean"}, {"kind": "dry"}]), owner)
    with pretend(HALF_PAST):
        studio.enter("ammonia")
        lot.refresh_from_db()
        clock = SilverClock.objects.get()
        assert (clock.lot, clock.started_at, lot.is_held) == (lot, TEN, True)
        page = f"/finishes/lots/{lot.pk}/made-safe/"
        for shown in (at_helper.get("/"), at_helper.get("/bench/")):
            assert page in shown.content.decode()
        for who in (owner, helper):
            with pytest.raises(LedgerError, match="nobody takes of it"):
                take_stock(key=builders.key(), trial=trial, by=who, day=today(), because="for a quick look",
                           taken=[Taken(lot=lot, amount=Decimal(50))])
            with pytest.raises(LedgerError, match="make it safe by the written procedure first"):
                discard(key=builders.key(), lot=lot, by=who, amount=Decimal(200), why="tipped down the sink")
        with pytest.raises(LedgerError, match="stays held"):
            release_lot(key=builders.key(), lot=lot, by=owner, why="it looks fine")
        for kind, movement in (("discard", "discard"), ("trial", "use"), ("make-up", "make-up out")):
            posting = Posting.objects.create(key=builders.key(), kind=kind, at=HALF_PAST, by=owner)
            with pytest.raises(IntegrityError, match="still stands"), transaction.atomic():
                StockMovement.objects.create(posting=posting, line=1, lot=lot, kind=movement, quantity=-1, unit_cost=0)
        sent = {"key": builders.key(), "procedure": "Written procedure 1", "treated": ["trays"]}
        refused = at_helper.post(page, sent)
        assert refused.status_code == 422
        assert "there was none: leftovers" in refused.content.decode()
        said = at_helper.post(page, {**sent, "treated": ["leftovers"]}, follow=True).content.decode()
        assert "was made safe, and what was left of it is discarded" in said
        again = at_owner.post(page, {**sent, "key": builders.key(), "treated": ["leftovers"]})
        assert "made safe by teo at 10:30 already" in again.content.decode()
        lot.refresh_from_db()
        assert lot.level.on_hand == 0
        assert 'role="alert"' not in at_owner.get("/jobs/").content.decode()
    assert not [sentence for sentence in audit() if "clock" in sentence or "made safe" in sentence or "held" in sentence]


def test_a_class_entered_by_mistake_is_taken_back_by_the_owner_with_the_reason(studio, owner, helper):
    lot = studio.ahead(TEN)
    with pretend(HALF_PAST):
        studio.enter("ammonia")
        studio.enter("alcohol")
        with pytest.raises(Exception, match="only the owner releases it"):
            release_lot(key=builders.key(), lot=lot, by=helper, why="another product's sheet")
        release_lot(key=builders.key(), lot=lot, by=owner, why="another product's sheet")
        safe = MakingSafe.objects.get()
        assert (safe.procedure, safe.treated) == (
            "no ammoniacal silver after all: another product's sheet", ["leftovers: none"])
        studio.enter("ammonia")
        lot.refresh_from_db()
        assert lot.is_held
        assert lot.silver_clocks.get(made_safe=None).started_at == TEN


def test_an_open_trial_that_took_silver_stands_since_then_and_can_be_given_up(studio, owner):
    trial, idle = builders.trial(studio.shop.recipe, owner), builders.trial(studio.shop.recipe, owner)
    with pretend(TEN):
        take_stock(key=builders.key(), trial=trial, by=owner, day=today(), at=TEN,
                   taken=[Taken(lot=studio.shop.silver_lot, amount=Decimal(1))])
    with pretend(HALF_PAST):
        studio.enter("ammonia")
        clock = SilverClock.objects.get()
        assert (clock.trial, clock.started_at) == (trial, TEN)
        with pytest.raises(TrialRefused, match="still stands"):
            close_trial(trial, None, verdict="left", score=None)
        make_trial_safe(key=builders.key(), trial=trial, by=owner, clocks=[clock.pk], procedure="1",
                        treated=builders.SPRAYED_SAFE)
        builders.nothing_mixed(idle, owner)
        for row in (trial, idle):
            close_trial(row, None, verdict="left", score=None)


def test_nothing_is_recorded_as_made_safe_before_anything_was_mixed(studio, helper, at_helper):
    run = studio.shop.run()
    early = at_helper.post(f"/bench/{run.pk}/made-safe/", {"key": builders.key(), "by_procedure": "on"})
    assert early.status_code == 422
    assert "Nothing is mixed yet" in early.content.decode()
    assert not run.entries.exists()


def test_a_making_safe_of_what_was_sprayed_says_what_became_of_the_guns(studio, owner):
    run = studio.mixed_run(TEN)
    with pretend(HALF_PAST):
        studio.enter("ammonia")
        clock = clocks_of(run).get()
        for treated, told in ((["rags"], "leftovers, first rinse, guns"), (["leftovers", "first rinse"], "guns, hoses, nozzles"),
                              ([*builders.SPRAYED_SAFE, "leftovers: none"], "none: leftovers")):
            with pytest.raises(Exception, match=told):
                make_run_safe(run=run, key=builders.key(), by=owner, clocks=[clock.pk], procedure="1", treated=treated)
        make_run_safe(run=run, key=builders.key(), by=owner, clocks=[clock.pk], procedure="1",
                      treated=["leftovers", "first rinse: none", "guns", "hoses: none", "nozzles"])
    assert MakingSafe.objects.get().treated == ["leftovers", "first rinse: none", "guns", "hoses: none", "nozzles"]


def test_a_ticket_in_doubt_prints_in_doubt_and_its_first_paper_stays(studio, owner, at_owner, at_helper):
    run = studio.mixed_run(TEN)
    first, booked = ticket_paper(run.ticket), studio.shop.booked()
    paper = f"/tickets/{run.ticket.pk}/paper.pdf"
    assert at_helper.get(paper).content == first
    studio.drops.refresh_from_db()
    sent = {"name": "Clearing drops", "kind": "chemical", "stock_unit": "mL", "liquid": "on", "saves": studio.drops.saves,
            "reacts_as": ["ammonia"]}
    with pretend(HALF_PAST):
        said = at_owner.post("/stockroom/clearing-drops/edit/", sent, follow=True).content.decode()
        assert f"Job {booked.number} is booked and in doubt" in said
        assert "is open and in doubt" in said
        assert "no ticket of it is printed until its recipe is sound" in " ".join(at_helper.get("/").content.decode().split())
        assert "No ticket of it is printed until it is sound" in at_owner.get(f"/jobs/{booked.number}/").content.decode()
        printed = ticket_context(run.ticket)
        assert printed["doubt"].startswith("IN DOUBT. Drop mirror, version 1, is in doubt: step 3")
        assert "Mix nothing more of it. Make safe what was mixed, and its first rinse" in printed["doubt"]
        assert [mix.solution for mix in printed["plan"].mixes if mix.ammoniacal] == ["Drops bath"]
        assert at_helper.get(paper).content != first
        assert at_helper.get(f"{paper}?first-printed=1").content == first
        assert ticket_paper(run.ticket) == first
