"""Forms of a job's page."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from jobs.models import JobAct
from jobs.money.of_job import Money
from studio.house.form_keys import KeyField
from studio.house.typed_fields import DayField, MoneyField
from studio.kit.currencies import show_money
from studio.kit.meant_so import AsksOnce

#: what comes in, and what goes back: the last part of the address that takes it
MONEY, SAMPLE, BACK = "money", "sample", "back"
NOTES = {MONEY: "Note", SAMPLE: "By whom, and where its halves are", BACK: "Note"}
HOW = {MONEY: "How it was paid", BACK: "How it was given back"}


class CameInForm(AsksOnce):
    """What came in for a job, a sample's approval or money, or money that was given back.

    More than is still to come is asked about: a slip of the keys is taken for money otherwise.
    """

    key = KeyField()
    amount = MoneyField(label="Amount", error_messages={"required": "Say how much it was."})
    on = DayField(towards="back", required=False, label="On", help_text="Empty: today.")
    how = forms.ChoiceField(required=False, choices=[("", "not said"), *JobAct.How.choices])
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, data: Any = None, *, what: str, paid: Money) -> None:
        super().__init__(data, auto_id=f"in-{what}-%s")
        self.what, self.paid = what, paid
        self.fields["note"].label = NOTES[what]
        amount: Any = self.fields["amount"]
        if what == SAMPLE:
            del self.fields["amount"], self.fields["how"]
        else:
            self.fields["how"].label = HOW[what]
            amount.currency = paid.currency
            amount.initial = paid.deposit_missing if what == MONEY else paid.to_give_back

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        amount = values.get("amount")
        if self.what == MONEY and amount is not None:
            question = self._question(amount)
            if question:
                self.ask("amount", question)
        return values

    def _question(self, amount: Decimal) -> str:
        def said(money: Decimal) -> str:
            return show_money(Fraction(money), self.paid.currency)

        quote, due = self.paid.quote, self.paid.still_due or Decimal(0)
        if quote is None:
            return f"{said(amount)} came in before anything is quoted: is it meant?"
        if not self.paid.agreed:
            due = max(self.paid.due_in_all - self.paid.in_hand, Decimal(0))
        return f"{said(amount)} is more than the {said(due)} still to come: is it meant?" if amount > due else ""
