"""Every rule the database keeps, broken once: it refuses, whoever writes, on the vendor the suite runs on."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import override_settings

from jobs.models import (
    AnswerRead,
    CustomerAnswer,
    Job,
    JobAct,
    KeptLeftover,
    KeptOffcut,
    MoneyRequest,
    PaneResult,
    Quote,
    QuoteLink,
    QuoteMail,
    RecallSettled,
    Run,
    RunClock,
    RunEntry,
    SampleApproval,
    SharedMix,
    WaitingRecord,
    WentAhead,
    WorkTicket,
)
from jobs.money.requests import ask_deposit, take_back
from jobs.quotes.paper import quote_paper
from jobs.quotes.quoting import save_quote
from jobs.work.bench import bench_state, note
from jobs.work.booking import undo_booking
from jobs.work.cancelling import cancel
from jobs.work.finishing import finish_run
from jobs.work.kept import keep_leftover_of, keep_offcuts_of, leftovers_of, offcuts_of
from jobs.work.records import settle
from jobs.work.ticketing import print_anew
from recipes.models import (
    Finish,
    Ingredient,
    MadeLot,
    MakingSafe,
    NotMixed,
    Part,
    RecipeVersion,
    SilverClock,
    Solution,
    SolutionVersion,
    Step,
    Trial,
    TrialChange,
    TrialNote,
    TrialPhotograph,
    TrialRecord,
    TrialTiming,
    TrialUse,
    TriedAgainst,
    VersionEvent,
)
from recipes.solutions.mixing_ahead import mix_ahead
from recipes.trials.changing import Change
from recipes.trials.conducting import Taken, add_note, add_photograph, add_timing, close_trial, take_stock
from studio.house.clock import now, today
from studio.house.kept_files import keep
from studio.house.long_work.asking import ask
from studio.house.models import ChangeRecord, CleanPass, House, HouseRates, LongWork, Person, PersonAct, StoredFile
from studio.kit import database_rules
from studio.stockroom.counts.counting import post_count, record_counts, start_count
from studio.stockroom.lots.keeping import hold_lot
from studio.stockroom.models import (
    ClassesTakenAway,
    CountSheet,
    Lot,
    LotEvent,
    LotLevel,
    Material,
    Offcut,
    Posting,
    StockMovement,
    WasteContainer,
    WasteEntry,
)
from studio.stockroom.offcuts.kept import keep_offcut
from studio.stockroom.waste.containers import hand_over, put_in
from tests import builders

pytestmark = pytest.mark.django_db


class World:
    """A studio with one finished run, one open one, a draft recipe and a reversed posting to come."""

    def __init__(self, owner: Any) -> None:
        self.owner = owner
        self.shop = builders.Workshop(owner)
        self.finished = builders.worked(self.shop.run(), owner)
        finish_run(run=self.finished, by=owner)
        self.finished.refresh_from_db()
        self.open = self.shop.run()
        WentAhead.objects.create(job=self.open.ticket.job, because="an old friend", at=now(), by=owner)
        self.quote = self.open.ticket.job.quote
        self.cancelled = self.shop.run()
        note(run=self.cancelled, by=owner, client_key=builders.key(), kind="note", content={"text": "begun"})
        cancel(job=self.cancelled.ticket.job, by=owner, because="The customer withdrew.", nothing_else=True)
        self.fresh_quote = save_quote(order=self.shop.order(), by=owner, form_key=builders.key())
        state = bench_state(self.finished)
        mix, volume = leftovers_of(self.finished, state)[0]
        keep_leftover_of(run=self.finished, mix_key=mix.key, volume_ml=volume / 4, key=builders.key(), by=owner)
        self.left = KeptLeftover.objects.get()
        keep_offcuts_of(run=self.finished, names=[offcuts_of(self.finished, state)[0][0]], place="", by=owner)
        note(run=self.open, by=owner, client_key=builders.key(), kind="note", content={"text": "begun"})
        keep(b"paper", name="paper.pdf", media_type="application/pdf", owner_only=True)
        self.fresh = builders.solution("Fresh", {"material": self.shop.water})
        self.draft = builders.recipe("Draft", [{"kind": "clean", "parts": [{"solution_version": self.fresh}]}])
        self.movement = StockMovement.objects.filter(kind="use").first()
        self.tried = builders.recipe("Tried", [{"kind": "clean"}, {"kind": "dry"}])
        self.against = builders.trial(builders.recipe("Uncleaned", [{"kind": "silver"}]), owner, against_because="a look")
        self.trial = builders.trial(self.tried, owner, Change(step=2, what="drying", value="air"))
        add_note(key=builders.key(), trial=self.trial, by=owner, text="even")
        add_timing(key=builders.key(), trial=self.trial, by=owner, step=1, seconds=30)
        add_photograph(key=builders.key(), trial=self.trial, by=owner, side="front", content=builders.photograph())
        take_stock(key=builders.key(), trial=self.trial, by=owner, day=today(),
                   taken=[Taken(lot=self.shop.silver_lot, amount=Decimal(1))])
        hold_lot(key=builders.key(), lot=self.shop.lots[2], by=owner, why="label torn")
        RecallSettled.objects.create(key=builders.key(), lot=self.shop.lots[2], run=self.finished, part="r1l1",
                                     decided="sound", at=now(), by=owner)
        self.rinse = mix_ahead(key=builders.key(), by=owner, version=builders.solution(
            "Rinse", {"material": self.shop.water}), volume_ml=Fraction(100), day=today())
        self.unmixed, self.unreceived = (builders.material(name, reacts_as=["iodide"]) for name in ("Unmixed", "Unreceived"))
        builders.lot(self.unmixed, "5", owner)
        builders.solution("Unmade", {"material": self.unreceived, "amount": 1, "unit": "g"}, {"material": self.shop.water})
        ClassesTakenAway.objects.create(material=self.unmixed, at_save=9, classes=["iodine"], why="clear", at=now(), by=owner)
        self.drum = WasteContainer.objects.create(name="S-1", meant_for="rinse", opened_on=today())
        put_in(key=builders.key(), container=self.drum, by=owner, what="rinse", agents=["water"], volume_ml=Decimal(1))
        self.gone = hand_over(WasteContainer.objects.create(name="S-0", meant_for="rinse", opened_on=today()),
                              on=today(), to="Ebb Refiners")
        self.count = start_count(key=builders.key(), by=owner, place="", hide_expected=True)
        record_counts(self.count, {line.pk: line.expected for line in self.count.lines.all()})
        self.count = post_count(self.count, owner)
        CleanPass.objects.create(at=now(), program="this one")
        PersonAct.objects.create(person=owner, by=owner, at=now(), what="changed the own password")
        self.link = QuoteLink.objects.create(quote=self.fresh_quote, key=builders.key(), token_hash="a" * 64, made_at=now(),
                                             made_by=owner, valid_until=today())
        self.answer = CustomerAnswer.objects.create(link=self.link, accepted=False, name="Rose", at=now(), quote_sha256="b" * 64)
        self.mail = QuoteMail.objects.create(
            quote=self.fresh_quote, link=self.link, key=builders.key(), addresses="rose@askew.example", subject="A quote",
            text="[link]", written_at=now(), by=owner, state="sent", sent_at=now())
        self.not_mixed(self.trial)
        self.trial.refresh_from_db()
        self.trial = close_trial(self.trial, self.trial.saves, verdict="liked", score=7)
        self.request = ask_deposit(job=self.open.ticket.job, by=owner, key=builders.key(), amount=Decimal(100))
        self.credit = take_back(request=self.request, by=owner, key=builders.key(), amount=Decimal(40), why="agreed")

    def again(self, model: type, row: Any) -> None:
        """Insert a row over one that exists: what INSERT OR REPLACE does on SQLite; a plain insert elsewhere."""
        if connection.vendor == "sqlite":
            table = model._meta.db_table
            with connection.cursor() as cursor:
                cursor.execute(f"INSERT OR REPLACE INTO {table} SELECT * FROM {table} WHERE id = %s", [row.pk])
        else:
            row.save(force_insert=True)

    def ask(self, row: Any, **values: Any) -> None:
        """Write another row of money like one that is there, under the next number."""
        row = copy.copy(row)
        row.pk, row.key, row.number = None, builders.key(), self.credit.number + 1
        for name, value in values.items():
            setattr(row, name, value)
        row.save(force_insert=True)

    def withdrawn_link(self) -> Any:
        QuoteLink.objects.filter(pk=self.link.pk).update(withdrawn_at=now(), withdrawn_by=self.owner)
        return QuoteLink.objects.filter(pk=self.link.pk)

    def papered_quote(self) -> Any:
        quote_paper(self.quote)
        return Quote.objects.filter(pk=self.quote.pk)

    def sent_late(self) -> Any:
        """Keep a record that could not be taken, settled already."""
        row = WaitingRecord.objects.create(run=self.finished, client_key=builders.key(), kind="pane", fields={}, why="late",
                                           done_at=now(), at=now(), by=self.owner)
        settle(waiting=row, by=self.owner, because="of another job")
        return WaitingRecord.objects.filter(pk=row.pk)

    def older_quote(self) -> Any:
        """A draft of which a newer revision is sent."""
        newer = save_quote(order=self.fresh_quote.order, by=self.owner, form_key=builders.key())
        Quote.objects.filter(pk=newer.pk).update(state="sent", sent_at=now())
        return Quote.objects.filter(pk=self.fresh_quote.pk)

    def ticketed(self) -> Any:
        """A booked job with its ticket printed and nothing recorded."""
        return Job.objects.filter(pk=self.shop.run().ticket.job_id)

    def noted_on_another_order(self) -> None:
        """Record on a ticket that was printed before the quote that its job rests on."""
        run = self.shop.run()
        earlier = WorkTicket.objects.create(
            job=run.ticket.job, number=9, plan={}, made_by=self.owner, made_at=now() - timedelta(days=1))
        early = Run.objects.create(ticket=earlier, opened_at=now())
        RunEntry.objects.create(run=early, client_key=builders.key(), kind="note", content={}, at=now(), by=self.owner)

    def back_from_the_drain(self) -> None:
        """Undo a movement of a lot for which a clock ran, past every service."""
        first = self.rinse.movements.first()
        self.clock(lot=self.rinse)
        posting = Posting.objects.create(key=builders.key(), kind="reversal", at=now(), by=self.owner)
        StockMovement.objects.create(posting=posting, line=1, lot=self.rinse, kind=first.kind, quantity=-first.quantity,
                                     unit_cost=first.unit_cost, reverses=first)

    def offcut(self) -> Offcut:
        return keep_offcut(key=builders.key(), by=self.owner, material=self.shop.glass, width_mm=Decimal(500),
                           height_mm=Decimal(400))

    def ticket_without_sample(self) -> None:
        """Print a ticket of a job whose sample was taken back, past every service."""
        job = self.open.ticket.job
        SampleApproval.objects.filter(job=job).update(withdrawn_at=now())
        WorkTicket.objects.create(job=job, number=9, plan={}, made_at=now(), made_by=self.owner)

    def booked_without_sample(self) -> None:
        job = self.shop.booked()
        undo_booking(job=job, by=self.owner, why="a slip")
        Job.objects.filter(pk=job.pk).update(state="booked", quote=job.quote, reservation=job.reservation,
                                             booked_at=now(), sample_approved=False)

    def part_done_and_cancelled(self) -> Run:
        Lot.objects.update(state="usable", hold_reason="")
        run = builders.worked(self.shop.run(), self.owner)
        builders.judge(run, self.owner, good=0)
        cancel(job=finish_run(run=run, by=self.owner).ticket.job, by=self.owner)
        return run

    def ticket_in_place_of(self, run: Run) -> Any:
        return run.ticket.job.tickets.create(number=7, replaces=run.ticket.number, plan={}, made_at=now(),
                                             made_by=self.owner)

    def replaced(self) -> Any:
        """The old ticket of an open run that was printed anew."""
        old = self.open.ticket
        print_anew(job=old.job, by=self.owner)
        return old

    def clock(self, **more: Any) -> SilverClock:
        """A clock that runs since a minute ago: of nothing, or of a trial."""
        since = now() - timedelta(minutes=1)
        return SilverClock.objects.create(**{
            "key": builders.key(), "subject": "s1", "what": "bath", "started_at": since, "noted_at": since,
            "noted_by": self.owner, **more})

    def early(self) -> MakingSafe:
        """A making safe of an hour ago."""
        return MakingSafe.objects.create(key=builders.key(), at=now(), by=self.owner, procedure="1", treated=["rags"],
                                         done_at=now() - timedelta(hours=1))

    def stopped(self) -> Any:
        clock = SilverClock.objects.filter(of_run__run=self.finished)
        assert clock.get().made_safe is not None
        return clock

    def bottle(self, **state: str) -> Lot:
        """Put a lot of ammoniacal silver, ready mixed, on the shelf, past every service."""
        bath = Material.objects.create(name="Bath", kind="chemical", stock_unit="mL", liquid=True,
                                       reacts_as=["ammonia", "silver_salt"])
        return Lot.objects.create(material=bath, lot_number="B1", received_on=today(), quantity_received=1, **state)

    def down_the_drain(self) -> None:
        """Discard a lot of which a clock runs, past every service."""
        self.clock(lot=self.rinse)
        posting = Posting.objects.create(key=builders.key(), kind="discard", at=now(), by=self.owner)
        StockMovement.objects.create(posting=posting, line=1, lot=self.rinse, kind="discard", quantity=-1, unit_cost=0)

    def standing_run(self) -> Any:
        RunClock.objects.create(run=self.open, clock=self.clock())
        return Run.objects.filter(pk=self.open.pk)

    def standing_trial(self) -> Any:
        trial = builders.trial(self.tried, self.owner)
        self.clock(trial=trial)
        return Trial.objects.filter(pk=trial.pk)

    def not_mixed(self, trial: Trial) -> NotMixed:
        return NotMixed.objects.create(key=builders.key(), trial=trial, subject="s1", what="bath", at=now(), by=self.owner)

    def recorded(self, trial: Trial, **more: Any) -> TrialRecord:
        return TrialRecord.objects.create(
            key=builders.key(), trial=trial, kind="step", subject="s1", done_at=now(), at=now(), by=self.owner, **more)

    def waiting_trial(self) -> Any:
        trial = builders.trial(self.tried, self.owner)
        self.recorded(trial, why="no such lot")
        return Trial.objects.filter(pk=trial.pk)

    def newer_mix(self) -> MadeLot:
        """A mix with some of the rinse in it, kept an hour longer than the rinse."""
        assert self.rinse.made_at is not None
        assert self.rinse.discard_at is not None
        newer = Lot.objects.create(
            material=self.rinse.material, lot_number="newer", received_on=today(), quantity_received=1, made_here=True,
            made_at=self.rinse.made_at, discard_at=self.rinse.discard_at + timedelta(hours=1))
        posting = Posting.objects.create(key=builders.key(), kind="make-up", at=now(), by=self.owner)
        for line, (lot, kind, quantity) in enumerate(((self.rinse, "make-up out", -1), (newer, "make-up in", 1)), 1):
            StockMovement.objects.create(posting=posting, line=line, lot=lot, kind=kind, quantity=quantity, unit_cost=0)
        return MadeLot.objects.create(lot=newer, solution_version=self.rinse.made.solution_version)

    def shared(self, **more: Any) -> SharedMix:
        """A mix that two jobs share; its row is there once."""
        one, other = self.open.ticket.job, self.finished.ticket.job
        return SharedMix.objects.create(**{
            "job": one, "quote": one.quote, "mix": 1, "load": 1, "share_ml": 40, "other_job": other,
            "other_quote": other.quote, "other_mix": 1, "other_load": 1, "other_share_ml": 60, "called": "silver",
            "volume_ml": 100, "agreed_at": now(), **more})

    def withdrawn_share(self) -> Any:
        return SharedMix.objects.filter(pk=self.shared(withdrawn_at=now(), withdrawn_because="moved").pk)

    def long_work(self) -> Any:
        """Long work that waits."""
        return LongWork.objects.filter(pk=ask(kind="audit", inputs={}, by=self.owner).pk)

    def ended_work(self) -> Any:
        work = self.long_work()
        work.update(state="at work", attempt=1, worker="ada", begun_at=now(), beat_at=now())
        work.update(state="done", said="Done.", ended_at=now())
        return work

    def read(self) -> Any:
        """That an answer was read."""
        return AnswerRead.objects.filter(pk=AnswerRead.objects.create(
            answer=CustomerAnswer.objects.get(), at=now(), by=self.owner).pk)

    def step(self) -> Step:
        return self.shop.recipe.steps.get(kind="silver")


Break = Callable[[World], object]


def _append_only(table: str, model: type, change: dict[str, Any]) -> dict[str, Break]:
    return {
        f"{table}_never_edited": lambda w: model.objects.update(**change),
        f"{table}_never_deleted": lambda w: model.objects.all()._raw_delete("default"),
        f"{table}_never_replaced": lambda w: w.again(model, model.objects.order_by("-pk").first()),
    }


BREAKS: dict[str, Break] = {
    **_append_only("inventory_stockmovement", StockMovement, {"note": "edited"}),
    **_append_only("inventory_posting", Posting, {"why": "edited"}),
    **_append_only("recipes_versionevent", VersionEvent, {"note": "edited"}),
    **_append_only("recipes_madelot", MadeLot, {"ready_at": now()}),
    **_append_only("inventory_lotevent", LotEvent, {"why": "edited"}),
    **_append_only("inventory_wasteentry", WasteEntry, {"silver_g": 9}),
    "ammoniacal_waste_is_made_safe_first": lambda w: WasteEntry.objects.create(
        container=w.drum, key=builders.key(), at=now(), by=w.owner, what="bath", reacts_as=["ammonia", "silver_salt"]),
    "container_holds_no_more_than_it_may": lambda w: WasteEntry.objects.create(
        container=WasteContainer.objects.create(name="S-9", meant_for="rinse", opened_on=today(), holds_most_ml=5),
        key=builders.key(), at=now(), by=w.owner, what="rinse", volume_ml=6),
    "nothing_into_a_container_that_is_gone": lambda w: WasteEntry.objects.create(
        container=w.gone, key=builders.key(), at=now(), by=w.owner, what="late"),
    "count_is_posted_once": lambda w: CountSheet.objects.filter(pk=w.count.pk).update(posting=None),
    "posted_count_lines_stay": lambda w: w.count.lines.update(counted=1),
    **_append_only("recipes_trialnote", TrialNote, {"text": "edited"}),
    **_append_only("recipes_trialtiming", TrialTiming, {"seconds": 1}),
    **_append_only("recipes_trialuse", TrialUse, {"trial": None}),
    **_append_only("recipes_triedagainst", TriedAgainst, {"because": "another"}),
    "ammoniacal_lot_is_taken_by_nobody": lambda w: w.down_the_drain(),
    "tried_recipe_keeps_its_film": lambda w: RecipeVersion.objects.filter(pk=w.tried.pk).update(film_nm=90),
    "trial_rests_on_frozen_solutions": lambda w: Trial.objects.create(
        number=99, recipe_version=w.draft, started_at=now(), made_by=w.owner, width_mm=1, height_mm=1,
        form_key=builders.key()),
    "closed_trial_stays": lambda w: Trial.objects.filter(pk=w.trial.pk).update(score=9),
    **_append_only("recipes_makingsafe", MakingSafe, {"procedure": "another"}),
    **_append_only("jobs_runclock", RunClock, {"run": None}),
    "jobs_runclock_never_replaced": lambda w: w.again(
        RunClock, RunClock.objects.create(run=w.standing_run().get(), clock=w.clock())),
    **_append_only("jobs_recallsettled", RecallSettled, {"decided": "edited"}),
    "ticket_replaces_an_open_one": lambda w: w.ticket_in_place_of(w.finished),
    "run_goes_on_with_the_new_ticket": lambda w: Run.objects.filter(pk=w.open.pk).update(
        ticket=w.shop.booked().tickets.create(number=1, plan={}, made_at=now(), made_by=w.owner)),
    "replaced_ticket_has_no_run": lambda w: Run.objects.create(ticket=w.replaced(), opened_at=now()),
    "clock_only_stops": lambda w: w.stopped().update(made_safe=None),
    "clock_never_deleted": lambda w: SilverClock.objects.all()._raw_delete("default"),
    "clock_never_replaced": lambda w: w.again(SilverClock, SilverClock.objects.first()),
    "clock_stops_after_it_starts": lambda w: SilverClock.objects.filter(pk=w.clock().pk).update(made_safe=w.early()),
    "stopped_clock_started_before": lambda w: w.clock(made_safe=w.early()),
    "no_clock_starts_in_a_closed_trial": lambda w: w.clock(trial=w.trial),
    "removed_step_stays": lambda w: w.draft.removed_steps.filter(pk=w.draft.removed_steps.create(
        number=1, name="rinse", content={}, by=w.owner, at=now()).pk).update(name="clean"),
    "recipes_trialrecord_never_edited": lambda w: TrialRecord.objects.filter(
        pk=w.recorded(builders.trial(w.tried, w.owner)).pk).update(subject="s2"),
    "recipes_trialrecord_never_deleted": lambda w: TrialRecord.objects.filter(
        pk=w.recorded(builders.trial(w.tried, w.owner)).pk)._raw_delete("default"),
    "recipes_trialrecord_never_replaced": lambda w: w.again(
        TrialRecord, w.recorded(builders.trial(w.tried, w.owner))),
    "nothing_is_recorded_of_a_closed_trial": lambda w: w.recorded(w.trial),
    "trial_closes_settled": lambda w: w.waiting_trial().update(closed_at=now(), verdict="left"),
    **_append_only("recipes_notmixed", NotMixed, {"what": "x"}),
    "recipes_notmixed_never_replaced": lambda w: w.again(NotMixed, w.not_mixed(builders.trial(w.tried, w.owner))),
    "nothing_is_said_of_a_closed_trials_mixes": lambda w: w.not_mixed(w.trial),
    "what_was_mixed_is_not_said_not_to_be": lambda w: w.not_mixed(w.standing_trial().get()),
    "trial_closes_made_safe": lambda w: w.standing_trial().update(closed_at=now(), verdict="liked"),
    "run_finishes_made_safe": lambda w: w.standing_run().update(
        finished_at=now(), finished_by=w.owner, made_safe_at=now(), made_safe_by=w.owner, posting=w.count.posting),
    **_append_only("studio_personact", PersonAct, {"what": "edited"}),
    **_append_only("studio_changerecord", ChangeRecord, {"what": "edited"}),
    **_append_only("studio_cleanpass", CleanPass, {"program": "another"}),
    "long_work_stays_as_asked": lambda w: w.long_work().update(inputs={"first": "another"}),
    "long_work_ends_once": lambda w: w.ended_work().update(said="Done twice."),
    "long_work_is_begun_before_it_ends": lambda w: w.long_work().update(state="done", said="Done.", ended_at=now()),
    "long_work_counts_its_attempts": lambda w: w.long_work().update(
        state="at work", worker="ada", begun_at=now(), beat_at=now(), attempt=2),
    "last_owner_stays": lambda w: Person.objects.filter(pk=w.owner.pk).update(role="helper"),
    "last_owner_is_never_deleted": lambda w: Person.objects.filter(pk=w.owner.pk)._raw_delete("default"),
    "working_hours_begin_readable": lambda w: House.objects.create(id=2, name="Annexe", hours_monday="from 8"),
    "working_hours_stay_readable": lambda w: House.objects.update(hours_friday="17:00-08:00"),
    "booked_with_sample_and_deposit": lambda w: w.booked_without_sample(),
    "job_on_the_bench_is_cancelled_for_a_reason": lambda w: Job.objects.filter(pk=w.open.ticket.job_id).update(
        state="cancelled"),
    "job_on_the_bench_is_cancelled_made_safe": lambda w: Job.objects.filter(
        pk=w.standing_run().get().ticket.job_id).update(state="cancelled", cancelled_because="withdrawn"),
    "why_a_job_was_cancelled_stays": lambda w: Job.objects.filter(pk=w.cancelled.ticket.job_id).update(
        cancelled_because="never mind"),
    "no_clock_starts_after_the_end": lambda w: RunClock.objects.create(run=w.finished, clock=w.clock()),
    "trial_keeps_its_origin": lambda w: Trial.objects.filter(pk=builders.trial(w.tried, w.owner).pk).update(number=99),
    "trial_never_deleted": lambda w: Trial.objects.all()._raw_delete("default"),
    "recipes_trialchange_frozen_insert": lambda w: TrialChange.objects.create(
        trial=w.trial, step=1, what="motion", value="rocked"),
    "recipes_trialchange_frozen_update": lambda w: TrialChange.objects.filter(trial=w.trial).update(value="hot air"),
    "recipes_trialchange_frozen_delete": lambda w: TrialChange.objects.filter(trial=w.trial)._raw_delete("default"),
    "photograph_of_closed_trial_stays": lambda w: TrialPhotograph.objects.all()._raw_delete("default"),
    "photograph_keeps_its_original": lambda w: TrialPhotograph.objects.update(side="back"),
    **_append_only("jobs_runentry", RunEntry, {"subject": "edited"}),
    **_append_only("jobs_paneresult", PaneResult, {"good": False}),
    **_append_only("studio_storedfile", StoredFile, {"name": "edited"}),
    "inventory_material_keeps_its_code": lambda w: Material.objects.filter(pk=w.shop.silver.pk).update(code="new"),
    "recipes_solution_keeps_its_code": lambda w: Solution.objects.filter(name="Fresh").update(code="new"),
    "recipes_finish_keeps_its_code": lambda w: Finish.objects.filter(name="Draft").update(code="new"),
    "ammoniacal_silver_is_never_received": lambda w: w.bottle(state="usable"),
    "ammoniacal_silver_stays_held": lambda w: Lot.objects.filter(
        pk=w.bottle(state="held", hold_reason="ammoniacal").pk).update(state="usable", hold_reason=""),
    "material_with_lots_loses_no_class": lambda w: Material.objects.filter(pk=w.unmixed.pk).update(classes=[]),
    "material_in_a_solution_loses_no_class": lambda w: Material.objects.filter(pk=w.unreceived.pk).update(classes=[]),
    **_append_only("inventory_classestakenaway", ClassesTakenAway, {"why": "edited"}),
    "made_here_is_never_received": lambda w: Lot.objects.create(
        material=w.rinse.material, lot_number="X1", received_on=today(), quantity_received=1),
    "made_here_has_no_receipt": lambda w: StockMovement.objects.create(
        posting=w.movement.posting, line=99, lot=w.rinse, kind="receipt", quantity=1, unit_cost=1),
    "made_here_stays_made_here": lambda w: Material.objects.filter(pk=w.rinse.material_id).update(kind="chemical"),
    "older_mix_bounds_the_newer": lambda w: w.newer_mix(),
    "offcut_stays_what_it_is": lambda w: Offcut.objects.filter(pk=keep_offcut(
        key=builders.key(), by=w.owner, material=w.shop.glass, width_mm=Decimal(500), height_mm=Decimal(400),
    ).pk).update(width_mm=Decimal(900)),
    "level_is_the_sum": lambda w: LotLevel.objects.filter(lot=w.shop.silver_lot).update(on_hand=1),
    "level_starts_empty": lambda w: LotLevel.objects.create(lot=w.shop.silver_lot, on_hand=5),
    "level_is_never_deleted": lambda w: LotLevel.objects.all()._raw_delete("default"),
    "lot_received_is_never_edited": lambda w: Lot.objects.update(cost_with_carriage=1),
    "reversal_is_the_opposite": lambda w: StockMovement.objects.create(
        posting=w.movement.posting, line=99, lot=w.movement.lot, kind="use", quantity=1, unit_cost=1,
        reverses=w.movement),
    "material_keeps_its_unit": lambda w: Material.objects.filter(pk=w.shop.silver.pk).update(stock_unit="each"),
    "recipes_recipeversion_frozen_update": lambda w: RecipeVersion.objects.filter(pk=w.shop.recipe.pk).update(why="x"),
    "recipes_recipeversion_frozen_delete": lambda w: RecipeVersion.objects.filter(pk=w.shop.recipe.pk)._raw_delete("default"),
    "recipes_step_frozen_insert": lambda w: Step.objects.create(recipe_version=w.shop.recipe, number=99, kind="dry"),
    "recipes_step_frozen_update": lambda w: Step.objects.filter(pk=w.step().pk).update(coats=9),
    "recipes_step_frozen_delete": lambda w: Step.objects.filter(pk=w.step().pk)._raw_delete("default"),
    "recipes_part_frozen_insert": lambda w: Part.objects.create(step=w.step(), number=9, solution_version=w.shop.reducer),
    "recipes_part_frozen_update": lambda w: Part.objects.filter(step=w.step()).update(strength=2),
    "recipes_part_frozen_delete": lambda w: Part.objects.filter(step=w.step())._raw_delete("default"),
    "recipes_solutionversion_frozen_update": lambda w: SolutionVersion.objects.filter(pk=w.shop.reducer.pk).update(
        reject_if="x"),
    "recipes_solutionversion_frozen_delete": lambda w: SolutionVersion.objects.filter(
        pk=w.shop.reducer.pk)._raw_delete("default"),
    "recipes_ingredient_frozen_insert": lambda w: Ingredient.objects.create(
        solution_version=w.shop.reducer, number=9, material=w.shop.silver, amount_per_litre=1, unit="g"),
    "recipes_ingredient_frozen_update": lambda w: Ingredient.objects.filter(solution_version=w.shop.reducer).update(
        instruction="x"),
    "recipes_ingredient_frozen_delete": lambda w: Ingredient.objects.filter(
        solution_version=w.shop.reducer)._raw_delete("default"),
    "frozen_solution_holds_frozen_ones": lambda w: SolutionVersion.objects.filter(pk=builders.solution(
        "Outer", {"nested": w.fresh, "amount": 100}, {"material": w.shop.water}).pk).update(frozen_at=now()),
    "used_recipe_pins_frozen_solutions": lambda w: VersionEvent.objects.create(
        recipe_version=w.draft, kind="in use", at=now(), by=w.owner),
    "withdrawn_after_in_use": lambda w: VersionEvent.objects.create(
        recipe_version=builders.recipe("Empty", []), kind="withdrawn", at=now(), by=w.owner),
    "used_at_once_owns_no_shelf": lambda w: SolutionVersion.objects.create(
        solution=Solution.objects.create(name="Placed", material=builders.material("Placed", "mL")), number=1),
    "shelf_place_only_for_what_keeps": lambda w: Solution.objects.filter(pk=w.shop.silver_part.solution_id).update(
        material=builders.material("Placed", "mL")),
    "quote_is_frozen": lambda w: Quote.objects.filter(pk=w.quote.pk).update(wording={"house": "another"}),
    "quote_has_a_plan": lambda w: Quote.objects.create(**{
        field.name: getattr(w.quote, field.name) for field in Quote._meta.fields if field.name != "id"
    } | {"revision": 9, "plan": {}, "form_key": builders.key()}),
    **_append_only("jobs_jobact", JobAct, {"note": "edited"}),
    "money_request_is_frozen": lambda w: MoneyRequest.objects.filter(pk=w.request.pk).update(note="edited"),
    "money_request_is_never_deleted": lambda w: MoneyRequest.objects.filter(pk=w.credit.pk)._raw_delete("default"),
    "money_request_is_never_replaced": lambda w: w.again(MoneyRequest, w.request),
    "money_requests_have_no_gap": lambda w: w.ask(w.request, number=w.credit.number + 2),
    "money_request_adds_up": lambda w: w.ask(w.request, net=w.request.net + 1),
    "credit_takes_back_of_its_job": lambda w: w.ask(w.credit, job=w.finished.ticket.job, quote=w.finished.ticket.job.quote),
    "credit_takes_back_no_more_than_was_asked": lambda w: w.ask(w.credit, net=Decimal(-61), tax=Decimal(0), total=Decimal(-61)),
    "money_request_rests_on_a_quote_of_its_job": lambda w: w.ask(w.request, quote=w.fresh_quote),
    **_append_only("jobs_customeranswer", CustomerAnswer, {"name": "edited"}),
    "jobs_answerread_never_edited": lambda w: w.read().update(at=now() + timedelta(days=1)),
    "jobs_answerread_never_deleted": lambda w: w.read()._raw_delete("default"),
    "jobs_answerread_never_replaced": lambda w: w.again(AnswerRead, w.read().get()),
    "jobs_sharedmix_never_deleted": lambda w: w.withdrawn_share()._raw_delete("default"),
    "jobs_sharedmix_never_replaced": lambda w: w.again(SharedMix, w.shared()),
    "shared_mix_is_only_withdrawn": lambda w: w.withdrawn_share().update(withdrawn_at=None, withdrawn_because=""),
    "shares_are_the_whole_mix": lambda w: w.shared(share_ml=41),
    "link_is_only_withdrawn": lambda w: w.withdrawn_link().update(withdrawn_at=None, withdrawn_by=None),
    "link_is_never_deleted": lambda w: QuoteLink.objects.all()._raw_delete("default"),
    "nobody_answers_at_a_withdrawn_link": lambda w: CustomerAnswer.objects.create(
        link=w.withdrawn_link().get(), accepted=True, name="Rose", at=now(), quote_sha256="b" * 64),
    "mail_stays_as_it_was_sent": lambda w: QuoteMail.objects.filter(pk=w.mail.pk).update(subject="Another"),
    "mail_is_never_deleted": lambda w: QuoteMail.objects.all()._raw_delete("default"),
    "act_undoes_one_of_its_job": lambda w: JobAct.objects.create(
        key=builders.key(), job=w.finished.ticket.job, kind="undone", note="why", at=now(), by=w.owner,
        undoes=w.open.ticket.job.acts.first()),
    **_append_only("jobs_wentahead", WentAhead, {"because": "edited"}),
    "approved_sample_stays": lambda w: SampleApproval.objects.update(variation="as you like"),
    "approved_sample_is_never_deleted": lambda w: SampleApproval.objects.all()._raw_delete("default"),
    "ticket_waits_for_its_samples": lambda w: w.ticket_without_sample(),
    "quote_decided_once": lambda w: Quote.objects.filter(pk=w.quote.pk).update(decided_at=now() - timedelta(days=1)),
    "booked_quote_stays_accepted": lambda w: Quote.objects.filter(pk=w.quote.pk).update(state="sent", decided_at=None),
    "older_quote_is_not_accepted": lambda w: w.older_quote().update(state="accepted", decided_at=now()),
    "cancelled_on_the_bench_stays_cancelled": lambda w: Job.objects.filter(pk=w.cancelled.ticket.job_id).update(
        state="booked"),
    "booking_is_undone_before_a_ticket": lambda w: w.ticketed().update(state="quoted"),
    "nothing_is_noted_on_a_ticket_of_another_order": lambda w: w.noted_on_another_order(),
    "deduction_is_replaced_once_it_is_reversed": lambda w: Run.objects.filter(pk=w.finished.pk).update(
        posting=Posting.objects.create(key=builders.key(), kind="run", at=now(), by=w.owner)),
    "what_a_clock_ran_for_is_not_undone": lambda w: w.back_from_the_drain(),
    "quote_moves_by_the_table": lambda w: Quote.objects.filter(pk=w.fresh_quote.pk).update(state="lapsed"),
    "job_moves_by_the_table": lambda w: Job.objects.filter(pk=w.finished.ticket.job_id).update(state="booked"),
    "quoted_job_has_a_quote_out": lambda w: Job.objects.filter(order=w.fresh_quote.order).update(state="quoted"),
    "no_ticket_for_a_cancelled_job": lambda w: WorkTicket.objects.create(
        job=w.cancelled.ticket.job, number=9, plan={}, made_at=now(), made_by=w.owner),
    "nothing_is_noted_for_a_cancelled_job": lambda w: RunEntry.objects.create(
        run=w.cancelled, client_key=builders.key(), kind="note", content={}, at=now(), by=w.owner),
    "cancelled_job_finishes_no_run": lambda w: Run.objects.filter(pk=w.cancelled.pk).update(
        finished_at=now(), finished_by=w.owner, made_safe_at=now(), made_safe_by=w.owner, posting=w.movement.posting),
    "waiting_record_is_settled_once": lambda w: w.sent_late().update(settled_because="after all"),
    "waiting_record_is_never_deleted": lambda w: w.sent_late()._raw_delete("default"),
    **_append_only("jobs_keptleftover", KeptLeftover, {"mix": "edited"}),
    "leftover_comes_from_a_finished_run": lambda w: KeptLeftover.objects.create(
        run=w.open, lot=w.shop.silver_lot, mix="m1b1", volume_ml=1, mixed_ml=1),
    "no_more_is_left_over_than_was_mixed": lambda w: KeptLeftover.objects.create(
        run=w.finished, lot=w.shop.silver_lot, mix=w.left.mix, volume_ml=w.left.mixed_ml, mixed_ml=w.left.mixed_ml),
    "cancelled_job_leaves_nothing": lambda w: KeptLeftover.objects.create(
        run=w.part_done_and_cancelled(), lot=w.shop.silver_lot, mix="m1b1", volume_ml=1, mixed_ml=1),
    **_append_only("jobs_keptoffcut", KeptOffcut, {"sheet": 9}),
    "offcut_comes_from_cut_glass": lambda w: KeptOffcut.objects.create(
        run=w.open, offcut=w.offcut(), glass=w.shop.glass.code, sheet=1, piece=1),
    "cancelled_job_leaves_no_offcut": lambda w: KeptOffcut.objects.create(
        run=w.part_done_and_cancelled(), offcut=w.offcut(), glass=w.shop.glass.code, sheet=1, piece=1),
    "quote_paper_is_kept": lambda w: w.papered_quote().update(paper=None),
    "quote_is_never_deleted": lambda w: Quote.objects.filter(pk=w.quote.pk)._raw_delete("default"),
    "currency_is_fixed_for_new_rates": lambda w: builders.rates(effective_from=today(), currency="USD"),
    "currency_is_fixed": lambda w: HouseRates.objects.update(currency="USD"),
    "ticket_is_frozen": lambda w: WorkTicket.objects.filter(pk=w.open.ticket_id).update(plan={}),
    "run_finishes_once": lambda w: Run.objects.filter(pk=w.finished.pk).update(finished_at=now()),
    "nothing_is_noted_after_the_end": lambda w: RunEntry.objects.create(
        run=w.finished, client_key=builders.key(), kind="note", content={}, at=now(), by=w.owner),
}


@pytest.fixture(scope="module")
def scene(django_db_setup, django_db_blocker, tmp_path_factory):
    """One world for all rules, in a transaction of its own: each test breaks its rule inside, and is rolled back."""
    with django_db_blocker.unblock(), override_settings(FILES=tmp_path_factory.mktemp("files")), transaction.atomic():
        builders.house()
        builders.rates()
        yield World(builders.person("maud", "owner"))
        transaction.set_rollback(True)


@pytest.fixture
def world(scene, db):
    return copy.deepcopy(scene)


def test_every_rule_that_refuses_is_broken_here():
    refusing = {rule.name for rule in database_rules.all_rules() if isinstance(rule, database_rules.Refuse)}
    assert BREAKS.keys() == refusing


@pytest.mark.parametrize("name", BREAKS)
def test_the_database_refuses(world, name):
    rule = next(rule for rule in database_rules.all_rules() if rule.name == name)
    with pytest.raises(IntegrityError, match=re.escape(rule.sentence)), transaction.atomic():
        BREAKS[name](world)


def test_rules_that_act_after_a_row(world):
    """A new lot opens its level; a movement moves it."""
    lot = builders.lot(world.shop.sugar, "7", world.owner, "D9")
    assert LotLevel.objects.get(lot=lot).on_hand == 7
