"""A dated row of rates as a form: in groups, money and percent as people type them, edges as rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django import forms
from django.forms import BaseFormSet, formset_factory

from studio.house.clock import today
from studio.house.models import EdgeType, HouseRates
from studio.house.typed_fields import DayField, MoneyField, PercentField
from studio.kit.currencies import is_currency
from studio.kit.meant_so import AsksOfRates
from studio.kit.rounding import plain
from studio.kit.typed_dates import show_day

if TYPE_CHECKING:  # Django's forms are generic for the type checker alone
    RatesModelForm = forms.ModelForm[HouseRates]
    EdgeFormRows = BaseFormSet["EdgeForm"]
else:
    RatesModelForm, EdgeFormRows = forms.ModelForm, BaseFormSet

PRICED = "Prices stand in {code}: the currency no longer changes."
NOT_PRICED = "Three letters, for instance GBP or EUR (ISO 4217). Once a first quote is saved it no longer changes."

#: shares and money among the rates, by what they are called in the form
SHARES = {
    "tax_share": "Tax", "margin_share": "Margin", "cover_share": "Chance of enough good panes",
    "glass_loss_share": "Glass lost when a spoilt pane is done again", "bench_usable_share": "Bench that panes cover",
    "offcut_credit_share": "Credit for a kept offcut", "deposit_share": "Deposit",
}
MONEY = {
    "helper_per_hour": "Helper, an hour", "owner_per_hour": "Owner, an hour",
    "overhead_per_bench_hour": "Overhead, a bench hour", "minimum_charge": "Smallest price of an order",
    "price_step": "Prices are rounded up to",
}
LABELS = SHARES | MONEY | {
    "effective_from": "From", "currency": "Currency", "tax_name": "Name of the tax",
    "plan": "Spoilt panes are planned for by",
    "bench_width_mm": "Bench width, mm", "bench_height_mm": "Bench depth, mm",
    "increment_ml": "Round mixes up to, mL", "largest_vessel_ml": "Largest vessel, mL",
    "balance_readability_g": "The balance reads to, g", "trim_mm": "Trimmed off each edge of a sheet, mm",
    "clearance_mm": "Clearance of a cut, mm", "smallest_offcut_mm": "Smallest offcut kept, mm",
    "smallest_strip_mm": "Narrowest strip, mm", "offcut_trim_mm": "Trimmed off each edge of a kept offcut, mm",
    "quote_valid_days": "A quote is valid for, days",
    "setup_minutes": "Setting up a job, minutes", "mixing_minutes_per_batch": "Mixing, minutes a batch",
    "cutting_minutes_per_pane": "Cutting, minutes a pane", "packing_minutes_per_pane": "Packing, minutes a pane",
    "hands": "Pairs of hands", "benches": "Benches", "bench_day_minutes": "Bench day, minutes",
    "cure_hours": "Curing, hours", "usual_working_days": "Usually ready, working days after go-ahead",
    "two_person_kg": "One person lifts up to, kg", "crate_most_kg": "A packed crate weighs at most, kg",
    "crate_kg": "An empty crate weighs, kg",
}
HELP = {
    "tax_share": "For instance 20 %. 0 where none is charged.", "tax_name": "As quotes call it: VAT, GST.",
    "helper_per_hour": "What an hour of a helper's hands costs.", "owner_per_hour": "What an hour of your hands costs.",
    "overhead_per_bench_hour": "Rent, power, insurance, shared out over bench hours.",
    "margin_share": "Of the price before tax: at 35 %, costs of 65 sell for 100.",
    "minimum_charge": "Before tax; 0 for none.", "price_step": "For instance 5: £561.20 becomes £565.",
    "deposit_share": "Asked for before work begins.", "quote_valid_days": "From the day it is saved.",
    "plan": "Spares: more panes from the start. Rework: a spoilt one is done again.",
    "cover_share": "How sure it must be that the started panes are enough.",
    "glass_loss_share": "Of the panes that are done again, how many need new glass.",
    "bench_width_mm": "Where panes lie side by side.", "bench_height_mm": "From front to back.",
    "bench_usable_share": "The rest is for hands and tools.", "benches": "Where a load can lie while it is wet.",
    "hands": "On the bench at once: one or two.", "bench_day_minutes": "How long a working day is on the bench.",
    "increment_ml": "What the measuring cylinder reads to.", "largest_vessel_ml": "What is mixed at once at most.",
    "balance_readability_g": "Amounts to weigh are rounded to it.", "trim_mm": "Of a new sheet, before it is cut.",
    "clearance_mm": "Between two panes on a sheet.", "smallest_offcut_mm": "Smaller ones are waste.",
    "smallest_strip_mm": "The narrowest that still breaks off cleanly.",
    "offcut_trim_mm": "Where its edges were cut here, nothing.",
    "offcut_credit_share": "Of its cost, taken off the job that leaves it.",
    "setup_minutes": "Once a job.", "mixing_minutes_per_batch": "Of a solution whose version says nothing else.",
    "cutting_minutes_per_pane": "Measuring, scoring, breaking.", "packing_minutes_per_pane": "Wrapping and crating.",
    "cure_hours": "From the end of the bench until a pane may be packed.",
    "usual_working_days": "Quotes say this, or what is worked out where that is longer. Empty: as worked out.",
    "two_person_kg": "The studio's own limit; 0 for none.", "crate_most_kg": "0: one crate for all.",
    "crate_kg": "Without glass in it.",
}


@dataclass(frozen=True, kw_only=True)
class Group:
    """Fields that belong together: those asked first, and those that are rarely used."""

    name: str
    fields: tuple[str, ...]
    rare: tuple[str, ...] = ()


GROUPS = (
    Group(name="Money", fields=("helper_per_hour", "owner_per_hour", "overhead_per_bench_hour", "margin_share",
                                "price_step", "tax_name", "tax_share", "deposit_share"),
          rare=("minimum_charge", "quote_valid_days", "currency")),
    Group(name="Bench", fields=("bench_width_mm", "bench_height_mm", "benches", "hands", "largest_vessel_ml"),
          rare=("bench_usable_share", "increment_ml", "balance_readability_g", "plan", "cover_share",
                "glass_loss_share")),
    Group(name="Glass", fields=("trim_mm", "smallest_offcut_mm"),
          rare=("clearance_mm", "smallest_strip_mm", "offcut_trim_mm", "offcut_credit_share")),
    Group(name="Hours", fields=("setup_minutes", "mixing_minutes_per_batch", "cutting_minutes_per_pane",
                                "bench_day_minutes"), rare=("cure_hours", "usual_working_days")),
    Group(name="Packing", fields=("packing_minutes_per_pane",), rare=("two_person_kg", "crate_most_kg", "crate_kg")),
)


class CurrencyField(forms.CharField):
    """Three letters, capital however they are typed."""

    def to_python(self, value: Any) -> str:
        return (super().to_python(value) or "").upper()


class RatesForm(RatesModelForm, AsksOfRates):
    """The rates from a day on. fixed: a price exists, so the currency stays."""

    effective_from = DayField(towards="near", label="These count from",
                              help_text="Today changes today's rates; a later day begins new ones. For instance 1 Jan.")

    class Meta:
        model = HouseRates
        exclude = ["saves"]
        field_classes = dict.fromkeys(SHARES, PercentField) | dict.fromkeys(MONEY, MoneyField) | {
            "currency": CurrencyField,
        }
        labels = LABELS
        help_texts = HELP

    def __init__(self, data: Any = None, *, instance: HouseRates | None = None, initial: dict[str, Any] | None = None,
                 fixed: bool = False) -> None:
        super().__init__(data, instance=instance, initial=initial)
        currency = self.initial.get("currency") or ""
        typed = str(self.data.get("currency", "")).strip().upper()
        for name in (*SHARES, *MONEY):
            shown = self.get_initial_for_field(self.fields[name], name)
            if isinstance(shown, str | int):  # the default of a studio without rates, “0.95”: not yet in percent
                self.initial[name] = Decimal(shown)
        for name, field in self.fields.items():
            if isinstance(field, MoneyField):
                field.currency, field.also = currency, typed if is_currency(typed) else ""
            elif isinstance(self.initial.get(name), Decimal) and name not in SHARES:
                self.initial[name] = plain(self.initial[name])
        self.fields["currency"].disabled = fixed
        self.fields["currency"].help_text = PRICED.format(code=currency) if fixed else NOT_PRICED

    def clean_effective_from(self) -> Any:
        day = self.cleaned_data["effective_from"]
        earliest = HouseRates.objects.order_by("effective_from").values_list("effective_from", flat=True).first()
        if day < today() and earliest is not None and earliest <= today():
            raise forms.ValidationError(f"{show_day(day)} is past: what was priced then keeps its rates. "
                                        "Let these count from today or later.")
        return day

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        self.ask_of_rates(dict(values), str(values.get("currency") or self.initial.get("currency") or ""))
        return values

    @property
    def groups(self) -> list[tuple[str, list[forms.BoundField], list[forms.BoundField], bool]]:
        """Return each group: its name, its fields, its rarely used ones, and whether those are open."""
        rows = []
        for group in GROUPS:
            rare = [self[name] for name in group.rare]
            rows.append((group.name, [self[name] for name in group.fields], rare, any(field.errors for field in rare)))
        return rows


class EdgeForm(AsksOfRates):
    """How an edge is worked. A row without a name does not count."""

    name = forms.CharField(max_length=40, required=False, label="Edge")
    minutes_per_m = forms.DecimalField(min_value=0, max_digits=12, decimal_places=6, required=False,
                                       label="Minutes a metre")
    grinds_off_mm = forms.DecimalField(min_value=0, max_digits=12, decimal_places=6, required=False,
                                       label="Ground off each edge, mm")

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        for field in self.fields.values():
            field.widget = forms.TextInput(attrs={"autocomplete": "off"})

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if not values.get("name") and (values.get("minutes_per_m") or values.get("grinds_off_mm")):
            self.add_error("name", "Name this edge, or empty its row.")
        self.ask_of_rates(dict(values))
        return values


class EdgeRows(EdgeFormRows):
    """The edges; at least one, each name once."""

    def clean(self) -> None:
        names = [edge["name"] for edge in self.edges]
        if not names and not any(form.errors for form in self.forms):
            raise forms.ValidationError("Name at least one edge, for instance “as cut”.")
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise forms.ValidationError(f"The edge “{twice}” stands there twice.")

    @property
    def edges(self) -> list[dict[str, Any]]:
        rows = [getattr(form, "cleaned_data", {}) for form in self.forms]
        return [{"name": row["name"], "minutes_per_m": row.get("minutes_per_m") or Decimal(0),
                 "grinds_off_mm": row.get("grinds_off_mm") or Decimal(0)} for row in rows if row.get("name")]


EdgeFormSet = formset_factory(EdgeForm, formset=EdgeRows, extra=1, max_num=40)


def edge_rows(data: Any, edges: Sequence[EdgeType]) -> EdgeRows:
    """Return the edges as rows, with an empty one last."""
    rows: Any = EdgeFormSet(data, prefix="edge", initial=[
        {"name": edge.name, "minutes_per_m": plain(edge.minutes_per_m), "grinds_off_mm": plain(edge.grinds_off_mm)}
        for edge in edges
    ])
    return rows
