"""Forms of waste containers."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from studio.house.form_keys import KeyField
from studio.kit.typed_fields import TypedField
from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.material_forms import date_input
from studio.stockroom.models import WasteContainer
from studio.stockroom.waste.sources import find_source, recent_sources


class ContainerForm(forms.Form):
    """A new container."""

    name = forms.CharField(max_length=40, help_text="As written on the container, for instance S-4.")
    meant_for = forms.CharField(max_length=120, help_text="For instance silver-bearing rinse, made safe.")
    place = forms.CharField(max_length=60, required=False)
    holds_most = TypedField("volume", above_zero=True, label="Holds at most",
                            help_text="By the studio's permit, for instance 20 L. Empty: no limit.")
    takes = forms.MultipleChoiceField(
        choices=list(REACTS_AS.items()), required=False, label="May take", widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: anything that does not endanger with what is in it.")

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"]).strip()
        if WasteContainer.objects.filter(name=name).exists():
            raise forms.ValidationError("A container had that name before: give this one another.")
        return name


class WasteForm(forms.Form):
    """What goes into a container."""

    what = forms.CharField(max_length=120, label="What goes in")
    volume = TypedField("volume", default=0, label="Amount")
    silver = forms.DecimalField(min_value=0, max_digits=12, decimal_places=3, required=False,
                                label="Estimated silver in it, g")
    agents = forms.MultipleChoiceField(choices=list(REACTS_AS.items()), required=False, label="Reacts as",
                                       widget=forms.CheckboxSelectMultiple)
    source = forms.ChoiceField(required=False, label="From",
                               help_text="What it reacts as is then told by it; tick what comes besides.")
    ph = TypedField("number", label="pH, if measured")
    made_safe = forms.BooleanField(required=False, label="It was made safe by the studio's written procedure")
    key = KeyField()

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        offered = recent_sources()
        asked = str(self.data.get("source", "") or self.initial.get("source", ""))
        if asked and asked not in dict(offered):
            found = find_source(asked)
            offered += [(asked, found.words)] if found is not None else []
        self.fields["source"].choices = [("", "nothing in the records"), *offered]  # type: ignore[attr-defined]

    def clean_ph(self) -> Decimal | None:
        value: Decimal | None = self.cleaned_data["ph"].value
        if value is not None and value > 14:
            raise forms.ValidationError("pH runs from 0 to 14.")
        return value


class HandOverForm(forms.Form):
    """Who took a container, and when."""

    handed_on = forms.DateField(widget=date_input(), label="Handed over on")
    handed_to = forms.CharField(max_length=80, label="To", help_text="The licensed contractor, or the refiner.")
    note = forms.CharField(max_length=200, required=False)


class ReturnedForm(forms.Form):
    """The silver that the refiner returned."""

    returned_on = forms.DateField(widget=date_input(), label="Came back on")
    grams = forms.DecimalField(min_value=0, max_digits=12, decimal_places=3, label="Silver, g")
