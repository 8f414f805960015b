"""Bought-in things and outside work of an order form: cost, own mark-up, what waits for it and until when."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.forms import formset_factory

from jobs.draft import DraftBoughtIn
from jobs.models import BoughtIn
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal, plain
from studio.kit.units import share_of


class BoughtInForm(forms.Form):
    name = forms.CharField(max_length=80, label="Bought-in thing")
    cost = forms.DecimalField(min_value=0, max_digits=12, decimal_places=4)
    line_number = forms.IntegerField(min_value=1, required=False, label="For line", help_text="Empty: for the order.")
    kind = forms.ChoiceField(choices=BoughtIn.Kind.choices, required=False, initial=BoughtIn.Kind.THING,
                             label="What it is")
    markup = forms.CharField(max_length=12, required=False, label="Mark-up on its cost",
                             help_text="For instance 15 %. Empty: the house's margin.")
    before = forms.ChoiceField(choices=BoughtIn.Before.choices, required=False, initial=BoughtIn.Before.PACKING,
                               label="Waits for it")
    days = forms.IntegerField(min_value=0, max_value=365, required=False, label="Takes, days")
    due_on = forms.DateField(required=False, label="or is due on",
                             widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    @property
    def more_is_used(self) -> bool:
        """Say whether a field of the folded part holds something of its own, or is refused."""
        return any(self[name].value() or self[name].errors for name in ("markup", "days", "due_on")) or (
            self["kind"].value() not in ("", None, BoughtIn.Kind.THING)
        )

    def has_changed(self) -> bool:
        """Say whether something was entered: what kind it is and what waits for it are chosen from the start."""
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
        """Return the thing as understood; only for a valid form."""
        values = self.cleaned_data
        return DraftBoughtIn(
            name=values["name"], cost=values["cost"], line_number=values["line_number"], kind=values["kind"],
            markup_share=values["markup"], days=values["days"] or 0, due_on=values["due_on"], before=values["before"],
        )


BoughtInFormSet = formset_factory(BoughtInForm, extra=1, can_delete=True, max_num=30)


def thing_initial(thing: DraftBoughtIn) -> dict[str, Any]:
    """Return a saved thing as its form shows it."""
    return {
        "name": thing.name, "cost": plain(thing.cost) if thing.cost else "",
        "line_number": thing.line_number, "kind": thing.kind,
        "markup": "" if thing.markup_share is None else f"{plain(thing.markup_share * 100)} %",
        "before": thing.before, "days": thing.days or None, "due_on": thing.due_on,
    }
