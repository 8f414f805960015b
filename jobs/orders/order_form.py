"""The order as one form: its own values, its lines and bought-in items, and beside which field each refusal stands."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.forms import BaseFormSet
from django.http import QueryDict

from jobs.draft import DraftBoughtIn, DraftLine, OrderDraft, draft_of
from jobs.models import Customer, Order
from jobs.orders.bought_in_form import BoughtInForm, BoughtInFormSet, item_initial
from jobs.orders.line_form import LineForm, LineForms, LineFormSet, Offer, line_initial
from jobs.orders.rows import choices_of
from studio.house.form_keys import KeyField
from studio.house.typed_fields import DayField, MoneyField
from studio.kit.errors import DaybookError
from studio.kit.rounding import plain


class OrderForm(forms.Form):
    """The order's own values."""

    customer = forms.ModelChoiceField(Customer.objects.filter(forgotten_on=None), required=False,
                                      empty_label="a new customer")
    new_customer = forms.CharField(max_length=120, required=False, label="New customer's name")
    email = forms.EmailField(required=False)
    phone = forms.CharField(max_length=40, required=False)
    address = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False)
    title = forms.CharField(max_length=120, label="What for", help_text="For instance: overmantel and two wings.")
    due_on = DayField(required=False, label="Due")
    discount = forms.CharField(max_length=20, required=False, help_text="An amount, or a percentage such as 5 %.")
    discount_reason = forms.CharField(max_length=120, required=False)
    note = forms.CharField(widget=forms.Textarea(attrs={"rows": 2}), required=False)
    preset = forms.ChoiceField(required=False, label="New lines start")
    key = KeyField()

    def clean_discount(self) -> tuple[Decimal, Decimal]:
        """Return share and amount: one of them is zero."""
        typed = str(self.cleaned_data["discount"]).strip()
        if not typed:
            return Decimal(0), Decimal(0)
        if "%" not in typed:
            return Decimal(0), MoneyField().clean(typed)
        number = forms.DecimalField(min_value=0, max_digits=14).clean(typed.rstrip("% ").replace(",", "."))
        if number > 100:
            raise forms.ValidationError("A discount is at most 100 %.")
        return number / 100, Decimal(0)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if not values.get("customer") and not values.get("new_customer"):
            self.add_error("new_customer", "Choose a customer, or give the new one's name.")
        if any(values.get("discount", ())) and not values.get("discount_reason"):
            self.add_error("discount_reason", "Say why there is a discount.")
        return values

    def customer_row(self) -> Customer:
        """Return the chosen customer, or the new one, saved."""
        chosen = self.cleaned_data["customer"]
        if chosen:
            return cast(Customer, chosen)
        row, _ = Customer.objects.get_or_create(
            name=self.cleaned_data["new_customer"],
            defaults={name: self.cleaned_data[name] for name in ("email", "phone", "address")},
        )
        return row


def _plain(value: Decimal) -> str:
    return plain(value) if value else ""


class OrderSheet:
    """The whole form: order, lines and bought-in items together."""

    def __init__(self, offer: Offer, data: QueryDict | None = None, order: Order | None = None) -> None:
        self.offer, self.bound = offer, data is not None
        if order is not None:
            offer.saved_sizes = frozenset(order.lines.values_list("size_text", flat=True))
        lines, bought_in, own = self._initial(order)
        self.order = OrderForm(data, initial=own)
        self.order.fields["preset"].choices = offer.preset_options  # type: ignore[attr-defined]
        self.lines: LineForms = LineFormSet(  # type: ignore[assignment]  # which the factory made of it
            data, prefix="lines", initial=None if self.bound else lines, form_kwargs={"offer": offer}
        )
        self.bought_in: BaseFormSet[BoughtInForm] = BoughtInFormSet(
            data, prefix="bought", initial=None if self.bound else bought_in
        )
        self.refusal = ""
        self._refused: tuple[forms.Form, str] | None = None

    @staticmethod
    def _initial(order: Order | None) -> tuple[list[dict[str, Any]], list[dict[str, Any]], dict[str, Any]]:
        if order is None:
            return [{}], [], {}
        draft = draft_of(order)
        share, amount = order.discount_share, order.discount_amount
        own = {
            "customer": order.customer_id, "title": order.title, "due_on": order.due_on,
            "discount": f"{_plain(share * 100)} %" if share else _plain(amount),
            "discount_reason": order.discount_reason, "note": order.note, "key": order.form_key,
        }
        rows = list(order.lines.all())
        lines = [line_initial(row, line) for row, line in zip(rows, draft.lines, strict=True)]
        next_one: dict[str, Any] = choices_of(lines[-1:])  # an empty row that begins as the last
        return (
            [*lines, next_one],
            [item_initial(item) for item in draft.bought_in],
            own,
        )

    @property
    def filled_lines(self) -> list[LineForm]:
        """Return the lines that hold something and are not removed."""
        return [form for form in self.lines.forms if not form.removed and not form.left_empty]

    @property
    def new_customer_is_used(self) -> bool:
        """Say whether a new customer is entered or asked for."""
        return bool(self.order["new_customer"].value() or self.order["new_customer"].errors)

    @property
    def discount_is_used(self) -> bool:
        """Say whether a discount is entered or refused."""
        fields = [self.order[name] for name in ("discount", "discount_reason")]
        return any(field.value() or field.errors for field in fields)

    @property
    def bought_is_used(self) -> bool:
        """Say whether a bought-in item is entered or refused."""
        return any(form.has_changed() or form.errors for form in self.bought_in.forms)

    def is_valid(self) -> bool:
        checks = [self.order.is_valid(), self.lines.is_valid(), self.bought_in.is_valid()]
        if not self.filled_lines:
            self.refusal = "The order has no lines yet: enter a size, a quantity and a finish."
            return False
        return all(checks)

    def own_values(self) -> dict[str, Any]:
        """Return what was typed of the order itself, by its fields' names; the customer is saved where it is new."""
        values = self.order.cleaned_data
        share, amount = values["discount"]
        return {
            "customer": self.order.customer_row(), "discount_share": share, "discount_amount": amount,
            **{name: values[name] for name in ("title", "due_on", "discount_reason", "note")},
        }

    def typed_lines(self) -> list[tuple[str, DraftLine]]:
        return [
            (form.cleaned_data["size_text"], form.draft(number))
            for number, form in enumerate(self.filled_lines, start=1)
        ]

    def bought_in_items(self) -> tuple[DraftBoughtIn, ...]:
        return tuple(
            form.draft() for form in self.bought_in.forms
            if form.is_valid() and form.has_changed() and not form.cleaned_data.get("DELETE")
        )

    def draft(self) -> tuple[OrderDraft, list[int]]:
        """Return what can be priced so far, and the positions of lines that are left out until corrected."""
        lines, left_out = [], []
        for number, form in enumerate(self.filled_lines, start=1):
            if form.is_valid():
                lines.append(form.draft(number))
            else:
                left_out.append(number)
        self.order.is_valid()
        share, amount = self.order.cleaned_data.get("discount", (Decimal(0), Decimal(0)))
        return OrderDraft(
            lines=tuple(lines), bought_in=self.bought_in_items(), discount_share=share, discount_amount=amount,
            discount_reason=self.order.cleaned_data.get("discount_reason", ""),
        ), left_out

    @property
    def due_on(self) -> date | None:
        """Return the day that the customer wishes for, as typed or as saved; None where none can be read."""
        if not self.bound:
            return self.order.initial.get("due_on")
        self.order.is_valid()
        return self.order.cleaned_data.get("due_on")

    def put(self, refusal: DaybookError) -> None:
        """Show a refusal beside the field that it names, or at the top; an order only looked at says it at the top."""
        self.refusal = str(refusal)
        if not self.bound:
            return
        lines = self.filled_lines
        form: forms.Form = lines[refusal.line - 1] if 0 < refusal.line <= len(lines) else self.order
        if refusal.field in form.fields:
            form.add_error(refusal.field, str(refusal))
            self._refused = form, refusal.field

    def problems(self) -> list[tuple[str, str]]:
        """Return every refusal as an anchor and a sentence, for the list at the top."""
        found = [("", self.refusal)] if self.refusal else []
        groups: list[tuple[str, forms.Form]] = [("", self.order)]
        groups += [(f"Line {form.number}: ", form) for form in self.lines.forms if form.number]
        groups += [("Bought-in item: ", form) for form in self.bought_in.forms]
        for name, form in groups:
            for field, errors in form.errors.items() if form.is_bound else ():
                seen = field in form.fields and not form[field].is_hidden  # of a hidden field only the sentence is said
                label = f"{form[field].label}: " if seen else ""
                anchor = form[field].auto_id if seen else ""
                sentences = list(errors)
                if self._refused == (form, field):
                    sentences.remove(self.refusal)  # it heads the list
                found += [(anchor, f"{name}{label}{error}") for error in sentences]
        return found
