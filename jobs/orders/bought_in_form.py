"""Bought-in items and outside work of an order form: cost, own mark-up, needed before, due."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.forms import formset_factory

from jobs.draft import DraftBoughtIn
from jobs.estimating.basis import stage_in_words
from jobs.models import BoughtIn
from studio.house.typed_fields import DayField, MoneyField
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal, plain
from studio.kit.units import share_of

#: “handing over” and “thing” are how the tables spell them
KINDS = [(kind.value, "item" if kind == BoughtIn.Kind.THING else kind.label) for kind in BoughtIn.Kind]
STAGES = [(stage.value, stage_in_words(stage.value)) for stage in BoughtIn.Before]


class BoughtInForm(forms.Form):
    name = forms.CharField(max_length=80, label="Bought-in item")
    cost = MoneyField(max_digits=12)
    line_number = forms.IntegerField(min_value=1, required=False, label="For line", help_text="Empty: for the order.")
    kind = forms.ChoiceField(choices=KINDS, required=False, initial=BoughtIn.Kind.THING,
                             label="Kind")
    markup = forms.CharField(max_length=12, required=False, label="Mark-up on its cost",
                             help_text="For instance 15 %. Empty: the studio's margin.")
    before = forms.ChoiceField(choices=STAGES, required=False, initial=BoughtIn.Before.PACKING,
                               label="Needed before")
    days = forms.IntegerField(min_value=0, max_value=365, required=False, label="Lead time, days")
    due_on = DayField(required=False, label="or due on")

    @property
    def more_is_used(self) -> bool:
        """Say whether a field of the folded part holds something of its own, or is refused."""
        return any(self[name].value() or self[name].errors for name in ("markup", "days", "due_on")) or (
            self["kind"].value() not in ("", None, BoughtIn.Kind.THING)
        )

    def has_changed(self) -> bool:
        """Say whether something was entered: kind and “needed before” are chosen from the start."""
        return any(str(self[name].value() or "").strip() for name in ("name", "cost", "line_number", "markup", "days"))

    def clean_markup(self) -> Decimal | None:
        typed = self.cleaned_data["markup"].strip()
        if not typed:
            return None
        try:
            share = share_of(typed)
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if not 0 <= share <= 10:
            raise forms.ValidationError("A mark-up lies between 0 and 1000 %.")
        return as_decimal(share, 6)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        values["kind"] = values.get("kind") or BoughtIn.Kind.THING
        values["before"] = values.get("before") or (
            BoughtIn.Before.SILVERING if values["kind"] == BoughtIn.Kind.TOUGHENING else BoughtIn.Before.PACKING
        )
        if values["kind"] == BoughtIn.Kind.TOUGHENING and values["before"] != BoughtIn.Before.SILVERING:
            self.add_error("before", "Glass is toughened before it is silvered: the oven would destroy the silver.")
        return values

    def draft(self) -> DraftBoughtIn:
        """Return the item as understood; only for a valid form."""
        values = self.cleaned_data
        return DraftBoughtIn(
            name=values["name"], cost=values["cost"], line_number=values["line_number"], kind=values["kind"],
            markup_share=values["markup"], days=values["days"] or 0, due_on=values["due_on"], before=values["before"],
        )


BoughtInFormSet = formset_factory(BoughtInForm, extra=1, can_delete=True, max_num=30)


def item_initial(item: DraftBoughtIn) -> dict[str, Any]:
    """Return a saved item as its form shows it."""
    return {
        "name": item.name, "cost": plain(item.cost) if item.cost else "",
        "line_number": item.line_number, "kind": item.kind,
        "markup": "" if item.markup_share is None else f"{plain(item.markup_share * 100)} %",
        "before": item.before, "days": item.days or None, "due_on": item.due_on,
    }
