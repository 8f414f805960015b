"""Whole jobs driven in any order against a model of this test's own: states, promises, what is kept, the ledger.

The model knows nothing of the product's tables: it is a handful of words and numbers a job, as a person at the bench
would say them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from jobs.looking_back.buying import buying_list
from jobs.models import Job, Order, Quote, Run
from jobs.orders.saving import change_order
from jobs.quotes.quoting import decide, mark_sent, take_back, undo_answer
from jobs.work import states
from jobs.work.bench import bench_state, note
from jobs.work.booking import book_job, deliver, undo_booking, undo_delivery
from jobs.work.cancelling import cancel, undo_cancelling
from jobs.work.finishing import finish_run
from jobs.work.kept import keep_leftover_of, keep_offcuts_of
from jobs.work.revising import Revised, decline_revision, revise, undo_revision_answer
from jobs.work.ticketing import make_ticket, print_anew
from studio.house.clock import now, pretend, today
from studio.kit.errors import DaybookError
from studio.stockroom.models import Lot, LotLevel, Offcut
from studio.whole.audit import audit
from tests import builders

ORDERED = 2


@dataclass
class Known:
    """What the model knows of a job. quotes: pk to [state, last day]; notes: what stands on the bench so far."""

    order: Order
    quotes: dict[int, list] = field(default_factory=dict)
    booked: bool = False
    #: the quote that it is booked with; agreed: the quotes that the customer once said yes to
    rests_on: int | None = None
    #: what was agreed before the revision that it rests on and that waits; old_ticket: printed for that
    before: int | None = None
    old_ticket: bool = False
    #: the last revision that was answered while it waited, and what was agreed before it
    answered: tuple[int, int] | None = None
    #: that one, once it is booked again after it
    booked_over: tuple[int, int] | None = None
    agreed: set[int] = field(default_factory=set)
    run: Run | None = None
    noted: bool = False
    all_noted: bool = False
    cut: bool = False
    good: int | None = None
    delivered: bool = False
    cancelled: bool = False
    left_ml: Decimal = Decimal(0)
    kept_ml: Decimal = Decimal(0)
    offcut: bool = False

    def stored(self) -> str:
        if self.cancelled:
            return "cancelled"
        if self.delivered:
            return "delivered"
        if self.good is not None:
            return "finished" if self.good >= ORDERED else "part done"
        if self.booked:
            return "on the bench" if self.noted else "booked"
        return "quoted" if any(state in ("sent", "accepted") for state, _ in self.quotes.values()) else "enquiry"

    def waits(self) -> bool:
        return not self.booked and not self.cancelled

    def accepted(self) -> bool:
        return any(state == "accepted" for state, _ in self.quotes.values())

    def shown(self, day) -> str:
        out = any(state == "accepted" or (state == "sent" and day <= last) for state, last in self.quotes.values())
        return "enquiry" if self.stored() == "quoted" and not out else self.stored()

    def wants_glass(self, day) -> bool:
        """Whether an unbooked job's quote orders stock: the accepted, the newest, or an older one still out."""
        if not self.waits() or not self.quotes:
            return False
        rows = list(self.quotes.values())
        newest, last = rows[-1]
        return (self.accepted() or (newest in ("draft", "sent") and day <= last)
                or any(state == "sent" and day <= until for state, until in rows))


class Jobs(RuleBasedStateMachine):
    @initialize()
    def furnish(self):
        self.whole = transaction.atomic()
        self.whole.__enter__()
        self.start = now()
        self.days = 0
        self.clock = pretend(self.start)
        self.clock.__enter__()
        self.owner = builders.person("maud", "owner")
        builders.house()
        builders.rates()
        self.shop = builders.Workshop(self.owner, silver="5000")
        builders.lot(self.shop.glass, "90", self.owner, "G2", "4000")
        self.jobs: list[Known] = []
        self.sheets_used = 0
        self.moved = False

    def teardown(self):
        if hasattr(self, "whole"):
            try:
                self.ends_tied()
            finally:
                self.clock.__exit__(None, None, None)
                transaction.set_rollback(True)
                self.whole.__exit__(None, None, None)

    def ends_tied(self):
        if hasattr(self, "jobs"):
            assert audit() == []

    def pick(self, data) -> Known:
        return data.draw(st.sampled_from(self.jobs))

    def does(self, act: Callable[[], object], may: bool) -> bool:
        """Do something, which is refused exactly where the model says so; a refusal leaves nothing half done."""
        refused = ""
        try:
            with transaction.atomic():
                act()
        except DaybookError as refusal:
            refused = str(refusal)
        assert may == (not refused), refused
        return may

    @precondition(lambda self: len(self.jobs) < 3)
    @rule()
    def enter_an_order(self):
        line = self.shop.line(quantity=ORDERED, own_panes_to_start=ORDERED)
        self.jobs.append(Known(self.shop.order(line)))

    @rule(days=st.sampled_from([1, 10, 31]))
    def days_pass(self, days):
        self.clock.__exit__(None, None, None)
        self.days = min(self.days + days, 200)
        self.clock = pretend(self.start + timedelta(days=self.days))
        self.clock.__enter__()

    @precondition(lambda self: self.jobs)
    @rule(data=st.data())
    def save_a_quote(self, data):
        one = self.pick(data)
        made: list[Quote] = []
        title = f"Hall mirror, said {len(one.quotes) + 1} times"
        if self.does(lambda: made.append(builders.quoted(one.order, self.owner, title)), one.waits()):
            one.quotes[made[0].pk] = ["draft", today() + timedelta(days=30)]

    @precondition(lambda self: any(job.quotes for job in self.jobs))
    @rule(data=st.data(), act=st.sampled_from(["send", "accept", "accept", "decline"]))
    def answer_a_quote(self, data, act):
        one = data.draw(st.sampled_from([job for job in self.jobs if job.quotes]))
        pk = data.draw(st.sampled_from(sorted(one.quotes)))
        quote, (state, last) = Quote.objects.get(pk=pk), one.quotes[pk]
        lapsed = state in ("draft", "sent") and today() > last
        if act == "send":
            may = state == "sent" or (state == "draft" and one.waits() and not lapsed)
            if self.does(lambda: mark_sent(quote), may):
                one.quotes[pk][0] = "sent"
            return
        becomes = {"accept": "accepted", "decline": "declined"}[act]
        open_to = one.waits() and state in ("draft", "sent")
        newer_out = any(other > pk and stands in ("sent", "accepted") for other, (stands, _) in one.quotes.items())
        waits_for_a_word = (one.booked and not one.cancelled and act == "accept" and pk == one.rests_on and state == "sent")
        may = state == becomes or waits_for_a_word or (open_to and (act == "decline" or not (lapsed or newer_out)))
        if self.does(lambda: decide(quote=quote, accepted=act == "accept", by=self.owner), may):
            if becomes == "accepted" and state != becomes:
                one.agreed.add(pk)
                if waits_for_a_word:
                    self.answered(one)
                for other in one.quotes.values():
                    other[0] = "replaced" if other[0] == "accepted" else other[0]
            one.quotes[pk][0] = becomes

    @precondition(lambda self: any(job.quotes for job in self.jobs))
    @rule(data=st.data(), act=st.sampled_from(["take back", "undo the answer"]))
    def undo_of_a_quote(self, data, act):
        one = data.draw(st.sampled_from([job for job in self.jobs if job.quotes]))
        pk = data.draw(st.sampled_from(sorted(one.quotes)))
        quote, (state, last) = Quote.objects.get(pk=pk), one.quotes[pk]
        if act == "take back":
            may = one.waits() and state == "sent" and today() <= last
            if self.does(lambda: take_back(quote=quote, by=self.owner, why="a slip"), may):
                one.quotes[pk][0] = "draft"
            return
        may = one.waits() and state in ("accepted", "declined")
        if self.does(lambda: undo_answer(quote=quote, by=self.owner, why="a slip"), may):
            one.quotes[pk][0] = "sent" if quote.sent_at else "draft"
            one.agreed.discard(pk)
            replaced = [other for other in sorted(one.quotes) if one.quotes[other][0] == "replaced" and other in one.agreed]
            if state == "accepted" and replaced:
                one.quotes[replaced[-1]][0] = "accepted"

    @precondition(lambda self: any(job.booked or job.cancelled or job.delivered for job in self.jobs))
    @rule(data=st.data(), act=st.sampled_from(["booking", "delivery", "cancelling"]))
    def undo_of_a_job(self, data, act):
        one = self.pick(data)
        job = one.order.job
        if act == "booking":
            may = one.stored() == "booked" and one.run is None
            if self.does(lambda: undo_booking(job=job, by=self.owner, why="a slip"), may):
                if one.before is not None:
                    one.quotes[one.rests_on][0], one.quotes[one.before][0] = "replaced", "accepted"
                one.booked, one.rests_on, one.before, self.moved = False, None, None, True
        elif act == "delivery":
            if self.does(lambda: undo_delivery(job=job, by=self.owner, why="a slip"), one.stored() == "delivered"):
                one.delivered, self.moved = False, True
        else:
            on_the_bench = one.run is not None and one.good is None
            if self.does(lambda: undo_cancelling(job=job, by=self.owner, why="a slip"),
                         one.cancelled and not on_the_bench):
                one.cancelled, self.moved = False, True

    def answered(self, one: Known) -> None:
        """A yes: its ticket, where one was printed for the order before, is printed anew."""
        if one.before is not None:
            one.answered = one.rests_on, one.before
        one.before = None
        if one.old_ticket:
            print_anew(job=one.order.job, by=self.owner)
            one.run.refresh_from_db()
            one.old_ticket = False

    @precondition(lambda self: any(job.booked for job in self.jobs))
    @rule(data=st.data())
    def decline_a_revision(self, data):
        one = data.draw(st.sampled_from([job for job in self.jobs if job.booked]))
        quote = Quote.objects.get(pk=one.rests_on)
        may = one.before is not None and one.stored() == "booked"
        if self.does(lambda: decline_revision(quote=quote, by=self.owner), may):
            one.quotes[one.rests_on][0], one.quotes[one.before][0] = "declined", "accepted"
            one.answered = (one.rests_on, one.before)
            one.rests_on, one.before, one.old_ticket, self.moved = one.before, None, False, True

    @precondition(lambda self: any(job.answered for job in self.jobs))
    @rule(data=st.data())
    def undo_the_answer_to_a_revision(self, data):
        """It waits again, unless the order was changed once more, booked or ticketed since, or the job went on."""
        one = data.draw(st.sampled_from([job for job in self.jobs if job.answered]))
        pk, agreed = one.answered
        quote, state = Quote.objects.get(pk=pk), one.quotes[pk][0]
        newest, printed = max(one.quotes) == pk, one.order.job.tickets.filter(made_at__gt=quote.made_at).exists()
        since = printed or one.booked_over == one.answered
        may = one.stored() == "booked" and newest and not since and state in ("accepted", "declined") and (
            (one.rests_on, one.quotes[agreed][0]) == (
                (pk, "replaced") if state == "accepted" else (agreed, "accepted")))
        if self.does(lambda: undo_revision_answer(quote=quote, by=self.owner, why="a slip"), may):
            one.quotes[pk][0], one.quotes[agreed][0] = "sent", "replaced"
            one.agreed.discard(pk)
            one.rests_on, one.before, self.moved = pk, agreed, True
            one.old_ticket = one.run is not None

    @precondition(lambda self: any(job.booked for job in self.jobs))
    @rule(data=st.data(), agreed=st.booleans())
    def change_a_booked_order(self, data, agreed):
        """Another note on the line: what is promised is promised anew, and a printed ticket takes no record."""
        one = data.draw(st.sampled_from([job for job in self.jobs if job.booked]))
        order = Order.objects.get(pk=one.order.pk)
        line = self.shop.line(quantity=ORDERED, own_panes_to_start=ORDERED, note=f"changed {builders.key()}")
        revised: list[Revised] = []
        if self.does(lambda: revised.append(revise(
                job=order.job, by=self.owner, key=builders.key(), why="asked", agreed_by="Ada" if agreed else "",
                change=lambda: change_order(order=order, saves=order.saves, typed_lines=[line], by=self.owner,
                                            act=states.REVISE))), one.stored() == "booked"):
            quote = revised[0].quote
            one.quotes[one.rests_on][0] = "replaced"
            one.before = None if agreed else one.before or one.rests_on
            one.quotes[quote.pk] = ["accepted" if agreed else "sent", today() + timedelta(days=30)]
            one.rests_on = quote.pk
            one.agreed |= {quote.pk} if agreed else set()
            self.moved = True
            one.old_ticket = one.run is not None
            if agreed:
                self.answered(one)

    @precondition(lambda self: self.jobs)
    @rule(data=st.data())
    def book(self, data):
        one = self.pick(data)
        may = (one.booked and not one.cancelled) or (one.waits() and one.accepted())
        if self.does(lambda: book_job(job=one.order.job, by=self.owner, sample_approved=True, deposit_noted=True,
                                      waived_because="", due_on=None), may):
            if not one.booked:
                one.booked_over = one.answered
            one.booked = self.moved = True
            one.rests_on = one.rests_on or next(pk for pk, (state, _) in one.quotes.items() if state == "accepted")

    @precondition(lambda self: any(job.booked for job in self.jobs))
    @rule(data=st.data())
    def print_a_ticket(self, data):
        one = data.draw(st.sampled_from([job for job in self.jobs if job.booked]))
        made: list[Run] = []
        may = one.stored() in ("booked", "on the bench") and (one.run is not None or one.before is None)
        if self.does(lambda: made.append(make_ticket(job=one.order.job, by=self.owner).run), may):
            assert one.run in (None, made[0])
            one.run = made[0]

    @precondition(lambda self: any(job.run for job in self.jobs))
    @rule(data=st.data(), how=st.sampled_from(["a word", "the glass", "everything"]), good=st.integers(0, ORDERED))
    def note_something(self, data, how, good):
        one = data.draw(st.sampled_from([job for job in self.jobs if job.run]))
        may = one.good is None and not one.cancelled and not one.old_ticket

        def act():
            if how == "a word":
                note(run=one.run, by=self.owner, client_key=builders.key(), kind="note", content={"text": "dusty"})
            elif how == "the glass":
                note(run=one.run, by=self.owner, client_key=builders.key(), kind="glass", subject=self.shop.glass.code,
                     content={"sheets": 1})
            else:
                builders.worked(one.run, self.owner)
                builders.judge(one.run, self.owner, good)

        if self.does(act, may):
            one.noted, one.cut = True, one.cut or how == "the glass"
            if how == "everything":
                one.all_noted, one.panes_good = True, good

    @precondition(lambda self: any(job.run for job in self.jobs))
    @rule(data=st.data())
    def finish(self, data):
        one = data.draw(st.sampled_from([job for job in self.jobs if job.run]))
        may = one.good is not None or (one.all_noted and not one.cancelled)
        if self.does(lambda: finish_run(run=one.run, by=self.owner), may) and one.good is None:
            one.good, one.cut = one.panes_good, True
            self.sheets_used += 1
            self.moved = True
            one.left_ml = Decimal(str(float(self.reducer(one).volume_ml)))

    def reducer(self, one: Known):
        return next(state.mix for state in bench_state(one.run).mixes if state.mix.solution == "Reducer")

    @precondition(lambda self: self.jobs)
    @rule(data=st.data(), act=st.sampled_from(["deliver", "deliver", "cancel"]))
    def close(self, data, act):
        one = self.pick(data)
        state = one.stored()
        if act == "cancel":
            if self.does(lambda: cancel(job=one.order.job, by=self.owner, because="withdrawn", nothing_else=True),
                         state in ("enquiry", "quoted", "booked", "on the bench", "part done")):
                one.cancelled = self.moved = True
                self.sheets_used += state == "on the bench" and one.cut
        elif self.does(lambda: deliver(job=one.order.job), state in ("finished", "delivered")
                       or (state == "part done" and bool(one.good))):
            one.delivered = self.moved = True

    @precondition(lambda self: any(job.run for job in self.jobs))
    @rule(data=st.data(), share=st.sampled_from([Fraction(1), Fraction(1, 2), Fraction(2, 3)]))
    def keep_a_leftover(self, data, share):
        one = data.draw(st.sampled_from([job for job in self.jobs if job.run]))
        mix = self.reducer(one)
        volume = mix.volume_ml * share
        asked = round(Decimal(volume.numerator) / volume.denominator, 3)
        may = one.good is not None and not one.cancelled and one.kept_ml + asked <= one.left_ml
        if self.does(lambda: keep_leftover_of(run=one.run, mix_key=mix.key, volume_ml=Fraction(asked), key=builders.key(),
                                              by=self.owner), may):
            one.kept_ml += asked
            self.moved = True

    @precondition(lambda self: any(job.run for job in self.jobs))
    @rule(data=st.data())
    def keep_an_offcut(self, data):
        one = data.draw(st.sampled_from([job for job in self.jobs if job.run]))
        name = f"{self.shop.glass.code}/1/1"
        if self.does(lambda: keep_offcuts_of(run=one.run, names=[name], place="", by=self.owner),
                     one.cut and not one.cancelled):
            one.offcut = self.moved = True

    @invariant()
    def the_book_is_the_model(self):
        if not hasattr(self, "jobs"):
            return
        day = today()
        for known in self.jobs:
            job = Job.objects.select_related("reservation").get(pk=known.order.job.pk)
            assert job.state == known.stored()
            assert job.standing == known.shown(day)
            promised = job.reservation is not None and job.reservation.released_at is None
            assert promised == (known.stored() in ("booked", "on the bench"))
            assert sum(Lot.objects.filter(left_by__run__ticket__job=job).values_list("quantity_received", flat=True)) == known.kept_ml
            assert Offcut.objects.filter(left_by__run__ticket__job=job).count() == known.offcut
        glass = LotLevel.objects.filter(lot__material=self.shop.glass).values_list("on_hand", flat=True)
        assert sum(glass) == 100 - self.sheets_used
        open_runs = [known.run for known in self.jobs if known.run and known.good is None and not known.cancelled]
        assert sorted(run.pk for run in open_runs) == sorted(Run.objects.open().values_list("pk", flat=True))
        if self.moved:  # the audit estimates every quote again: asked where something moved, and at the end
            assert audit() == []
            self.moved = False

    @precondition(lambda self: self.jobs)
    @rule()
    def the_buying_list_counts_open_quotes(self):
        self.shop.glass.reorder_point = Decimal(1000)
        self.shop.glass.save()
        row = next(row for row in buying_list(today()) if row.material == self.shop.glass)
        assert row.quoted == sum(job.wants_glass(today()) for job in self.jobs)


@pytest.mark.django_db
def test_whole_jobs_in_any_order():
    run_state_machine_as_test(Jobs, settings=settings(
        max_examples=6, stateful_step_count=30, deadline=None, suppress_health_check=list(HealthCheck)))
