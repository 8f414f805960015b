"""Forms of waste containers."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.house.form_keys import KeyField
from studio.kit.typed_fields import TypedField
from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.material_forms import date_input
from studio.stockroom.models import Posting, WasteContainer


class ContainerForm(forms.Form):
    """A new container."""

    name = forms.CharField(max_length=40, help_text="As written on the container, for instance S-4.")
    meant_for = forms.CharField(max_length=120, help_text="For instance silver-bearing rinse, made safe.")
    place = forms.CharField(max_length=60, required=False)

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
    posting = forms.ModelChoiceField(Posting.objects.none(), required=False, empty_label="nothing in the stock records",
                                     label="From")
    made_safe = forms.BooleanField(required=False, label="It was made safe by the studio's written procedure")
    key = KeyField()

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        sources = Posting.objects.filter(kind__in=(Posting.Kind.RUN, Posting.Kind.TRIAL, Posting.Kind.DISCARD))
        recent = list(sources.order_by("-at").values_list("pk", flat=True)[:40])
        field: Any = self.fields["posting"]
        field.queryset = Posting.objects.filter(pk__in=recent).order_by("-at")
        field.label_from_instance = lambda row: f"{row.at:%d %b}, {row.kind_in_words}: {row.why}"


class HandOverForm(forms.Form):
    """Who took a container, and when."""

    handed_on = forms.DateField(widget=date_input(), label="Handed over on")
    handed_to = forms.CharField(max_length=80, label="To", help_text="The licensed contractor, or the refiner.")
    note = forms.CharField(max_length=200, required=False)


class ReturnedForm(forms.Form):
    """The silver that the refiner returned."""

    returned_on = forms.DateField(widget=date_input(), label="Came back on")
    grams = forms.DecimalField(min_value=0, max_digits=12, decimal_places=3, label="Silver, g")
