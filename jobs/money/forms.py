"""Forms of money: asking for a deposit, the balance or a sample fee, taking a request back, the days of a month."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from studio.house.clock import today
from studio.house.form_keys import KeyField
from studio.house.typed_fields import DayField, MoneyField
from studio.kit.currencies import show_money
from studio.kit.meant_so import AsksOnce

DEPOSIT, BALANCE, SAMPLE = "deposit", "balance", "sample"
#: no month is longer ago, or further apart
_EARLIEST = date(1990, 1, 1)


class AskForm(AsksOnce):
    """A request for a deposit; or for the balance or the samples: these have no amount of their own."""

    key = KeyField()
    amount = MoneyField(label="Amount, with tax", error_messages={"required": "Say how much is asked for."},
                        help_text="As the quote asks, unless you type another. A ticket waits for all of that.")
    due_on = DayField(required=False, label="Due")
    note = forms.CharField(max_length=200, required=False, label="Note", help_text="Stands on the paper.")

    def __init__(self, data: Any = None, *, kind: str, deposit: Decimal, currency: str, days: int) -> None:
        super().__init__(data, auto_id=f"ask-{kind}-%s")
        self.kind, self.deposit, self.currency = kind, deposit, currency
        self.fields["due_on"].help_text = (
            f"Empty: in {days} day{'' if days == 1 else 's'}." if days else "Empty: at once.")
        amount: Any = self.fields["amount"]
        amount.currency = currency
        if kind in (BALANCE, SAMPLE):
            del self.fields["amount"]
        elif deposit > 0:
            amount.initial = deposit

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        amount = values.get("amount")
        if amount is not None and amount > self.deposit:
            asks = show_money(Fraction(self.deposit), self.currency) if self.deposit else "nothing more"
            self.ask("amount", f"The quote asks for {asks} as deposit, and this is more: is it meant?")
        return values


class TakeBackForm(forms.Form):
    """A credit that takes a request back."""

    key = KeyField()
    amount = MoneyField(required=False, label="Amount, with tax", help_text="Empty: all of it that still stands.")
    why = forms.CharField(max_length=200, label="Why", help_text="Stands on the paper, which the customer reads.",
                          error_messages={"required": "Say why it is taken back: the customer reads it."})

    def __init__(self, data: Any = None, *, currency: str) -> None:
        super().__init__(data, auto_id="credit-%s")
        amount: Any = self.fields["amount"]
        amount.currency = currency


class DaysForm(forms.Form):
    """The first and the last day of what is closed; the month before this one where none are given."""

    first = DayField(towards="back", label="From")
    last = DayField(towards="back", label="To")

    def __init__(self, data: Any = None) -> None:
        first, last = month_before(today())
        given = data if data and ("first" in data or "last" in data) else {
            "first": f"{first:%-d %b %Y}", "last": f"{last:%-d %b %Y}"}
        super().__init__(given)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        first, last = values.get("first"), values.get("last")
        if first and first < _EARLIEST:
            self.add_error("first", "That is before any studio that keeps this book.")
        if first and last and last < first:
            self.add_error("last", "The last day is before the first.")
        return values


def month_before(day: date) -> tuple[date, date]:
    """Return the first and the last day of the month before a day's own."""
    last = day.replace(day=1) - timedelta(days=1)
    return last.replace(day=1), last
