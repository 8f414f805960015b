"""The stockroom under attack: any order of receiving, picking, making up, counting, discarding, holding and reversing.

After each step, and after all of them by the audit, it is held against a model of this test's own, which knows nothing of the product's code: a list of
lots with what they hold, taken from by sorting dates.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import transaction
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import today
from studio.kit.errors import DaybookError
from studio.stockroom.counts.counting import post_count, record_counts, start_count
from studio.stockroom.ledger import Used, receive, reverse, use_up
from studio.stockroom.lots.keeping import discard, hold_lot, open_lot, release_lot
from studio.stockroom.models import Lot, LotLevel, Posting
from studio.whole.audit import audit
from tests import builders

AMOUNTS = st.integers(1, 900).map(Decimal)


@dataclass
class Held:
    """What the model knows of a lot."""

    pk: int
    material: str
    amount: Decimal
    expires: date | None
    received: date
    opened: bool = False
    held: bool = False
    history: list[Decimal] = field(default_factory=list)

    def usable(self) -> bool:
        return not self.held and self.amount > 0 and (self.expires is None or self.expires >= today())


class Stockroom(RuleBasedStateMachine):
    @initialize()
    def furnish(self):
        self.whole = transaction.atomic()
        self.whole.__enter__()
        self.owner = builders.person("maud", "owner")
        builders.house()
        builders.rates()
        self.salt, self.water = builders.material("Salt", none_apply=True), builders.material("Water", "mL", kind="water")
        self.brine = builders.solution("Brine", {"material": self.salt, "amount": 100, "unit": "g"}, {"material": self.water})
        self.lots: dict[int, Held] = {}
        self.postings: list[tuple[int, dict[int, Decimal]]] = []
        self.numbers = 0
        self.sheet = None

    def teardown(self):
        """Audit what the whole history left (no posting is ever edited, so a fault stays), and throw it away."""
        if not hasattr(self, "whole"):
            return
        try:
            sentences = [sentence for sentence in audit() if "belongs to no run" not in sentence]  # the bench here is the model's
            assert sentences == []
        finally:
            transaction.set_rollback(True)
            self.whole.__exit__(None, None, None)

    def _take(self, material: str, amount: Decimal) -> dict[int, Decimal] | None:
        """What first expired, first out takes, by the model alone; None where the shelf cannot give it."""
        order = sorted((lot for lot in self.lots.values() if lot.material == material and lot.usable()),
                       key=lambda known: (known.expires or date.max, not known.opened, known.received, known.pk))
        taken, left = {}, amount
        for released in order:
            part = min(left, released.amount)
            if part > 0:
                taken[released.pk] = part
                left -= part
        return taken if left == 0 else None

    def _gone(self, posting: Posting, taken: dict[int, Decimal]) -> None:
        for pk, amount in taken.items():
            self.lots[pk].amount -= amount
        self.postings.append((posting.pk, taken))

    @rule(which=st.sampled_from(["salt", "water"]), amount=AMOUNTS, days=st.none() | st.integers(-5, 40), ago=st.integers(0, 9))
    def receive_a_lot(self, which, amount, days, ago):
        self.numbers += 1
        material = {"salt": self.salt, "water": self.water}[which]
        expires = None if days is None else today() + timedelta(days=days)
        received = today() - timedelta(days=ago)
        lot = receive(key=builders.key(), by=self.owner, material=material, lot_number=f"L{self.numbers}", quantity=amount,
                      cost_with_carriage=Decimal(self.numbers), received_on=received, expires_on_given=expires)
        self.lots[lot.pk] = Held(lot.pk, which, amount, expires, received)

    @rule(which=st.sampled_from(["salt", "water"]), amount=AMOUNTS, twice=st.booleans())
    def use_some(self, which, amount, twice):
        material, taken, key = {"salt": self.salt, "water": self.water}[which], self._take(which, amount), builders.key()
        for _ in range(2 if twice else 1):
            try:
                posting = use_up(key=key, by=self.owner, used=[Used(material=material, amount=amount)], day=today(), why="bench")
            except DaybookError:
                assert taken is None
                return
        assert taken is not None
        self._gone(posting, taken)

    @rule(litres=st.integers(1, 4))
    def make_some_up(self, litres):
        salt, water = self._take("salt", Decimal(100 * litres)), self._take("water", Decimal(1000 * litres))
        try:
            lot = mix_ahead(key=builders.key(), by=self.owner, version=self.brine, volume_ml=Fraction(1000 * litres), day=today())
        except DaybookError:
            assert salt is None or water is None
            return
        assert salt is not None
        assert water is not None
        posting = lot.movements.get().posting
        self._gone(posting, salt | water)
        self.lots[lot.pk] = Held(lot.pk, "brine", Decimal(1000 * litres), lot.expires_on, today())
        self.postings.pop()  # a make-up is not given back here: its lot may have been used

    @precondition(lambda self: self.lots)
    @rule(data=st.data(), amount=AMOUNTS)
    def discard_some(self, data, amount):
        known = self.lots[data.draw(st.sampled_from(sorted(self.lots)))]
        lot = Lot.objects.select_related("material").get(pk=known.pk)
        try:
            posting = discard(key=builders.key(), lot=lot, by=self.owner, amount=amount, why="spilt")
        except DaybookError:
            assert amount > known.amount
            return
        self._gone(posting, {known.pk: amount})

    @precondition(lambda self: self.lots)
    @rule(data=st.data())
    def hold_or_release(self, data):
        known = self.lots[data.draw(st.sampled_from(sorted(self.lots)))]
        lot = Lot.objects.select_related("material").get(pk=known.pk)
        (release_lot if known.held else hold_lot)(key=builders.key(), lot=lot, by=self.owner, why="looked at")
        known.held = not known.held

    @precondition(lambda self: any(not lot.opened for lot in self.lots.values()))
    @rule(data=st.data())
    def open_one(self, data):
        known = self.lots[data.draw(st.sampled_from(sorted(pk for pk, lot in self.lots.items() if not lot.opened)))]
        open_lot(key=builders.key(), lot=Lot.objects.select_related("material").get(pk=known.pk), by=self.owner, on=today())
        known.opened = True

    @precondition(lambda self: self.postings)
    @rule()
    def give_back_the_last(self):
        pk, taken = self.postings.pop()
        reverse(key=builders.key(), by=self.owner, posting=Posting.objects.get(pk=pk), why="a mistake")
        for lot, amount in taken.items():
            self.lots[lot].amount += amount

    @precondition(lambda self: self.sheet is None and any(lot.amount > 0 for lot in self.lots.values()))
    @rule()
    def begin_a_count(self):
        self.sheet = start_count(key=builders.key(), by=self.owner, place="", hide_expected=True)
        self.expected = {pk: lot.amount for pk, lot in self.lots.items() if lot.amount > 0}
        assert {line.lot_id: line.expected for line in self.sheet.lines.all()} == self.expected

    @precondition(lambda self: self.sheet is not None)
    @rule(data=st.data())
    def post_the_count(self, data):
        """Each lot is counted a little off, or right, at the sheet's moment; what moved since does not matter."""
        off = {pk: data.draw(st.sampled_from([0, 0, -3, 2])) for pk in sorted(self.expected)}
        counted = {pk: max(self.expected[pk] + off[pk], Decimal(0)) for pk in self.expected}
        lines = list(self.sheet.lines.all())
        record_counts(self.sheet, {line.pk: counted[line.lot_id] for line in lines},
                      {line.pk: self.sheet.as_of for line in lines})
        changes = {pk: counted[pk] - self.expected[pk] for pk in counted}
        impossible = any(self.lots[pk].amount + change < 0 for pk, change in changes.items())
        try:
            post_count(self.sheet, self.owner)
        except DaybookError:
            assert impossible
        else:
            assert not impossible
            for pk, change in changes.items():
                self.lots[pk].amount += change
        self.sheet = None

    @invariant()
    def the_ledger_is_the_model(self):
        if not hasattr(self, "lots"):
            return
        assert dict(LotLevel.objects.values_list("lot_id", "on_hand")) == {pk: lot.amount for pk, lot in self.lots.items()}
        assert all(lot.amount >= 0 for lot in self.lots.values())


@pytest.mark.django_db
def test_the_stockroom_under_attack():
    run_state_machine_as_test(Stockroom, settings=settings(max_examples=20, stateful_step_count=25, deadline=None))
