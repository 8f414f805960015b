"""Forms of waste containers."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from studio.house.clock import today
from studio.house.form_keys import KeyField
from studio.house.typed_fields import DayField
from studio.kit.typed_fields import TypedField
from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.material_forms import NONE_APPLY
from studio.stockroom.models import WasteContainer
from studio.stockroom.waste.sources import find_source, recent_sources


class ContainerForm(forms.Form):
    """A container, new or changed."""

    name = forms.CharField(max_length=40, help_text="As written on the container, for instance S-4.")
    meant_for = forms.CharField(max_length=120, help_text="For instance silver-bearing rinse, made safe.")
    place = forms.CharField(max_length=60, required=False)
    holds_most = TypedField("volume", above_zero=True, label="Holds at most",
                            help_text="By the studio's permit, for instance 20 L. Empty: no limit.")
    takes = forms.MultipleChoiceField(
        choices=list(REACTS_AS.items()), required=False, label="May take", widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: anything that does not endanger with what is in it.")

    def __init__(self, data: Any = None, *, row: WasteContainer | None = None) -> None:
        super().__init__(data)
        self.row = row
        if row is not None:
            self.initial = {"name": row.name, "meant_for": row.meant_for, "place": row.place, "takes": row.takes}
            field = self.fields["holds_most"]
            assert isinstance(field, TypedField)
            self.initial["holds_most"] = field.shown(row.holds_most_ml)

    def as_typed(self) -> WasteContainer:
        """Return the container as the form says, not saved."""
        typed, row = self.cleaned_data, self.row or WasteContainer(opened_on=today())
        row.name, row.meant_for, row.place = typed["name"], typed["meant_for"], typed["place"]
        row.takes, row.holds_most_ml = typed["takes"], typed["holds_most"].value
        return row

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"]).strip()
        others = WasteContainer.objects.exclude(pk=self.row.pk) if self.row else WasteContainer.objects.all()
        if others.filter(name=name).exists():
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
                               help_text="What it reacts as, and whether it was made safe, is then told by its record; "
                                         "tick what comes besides. Of nothing in the records say below what it is.")
    ph = TypedField("number", label="pH, if measured")
    none_apply = forms.BooleanField(required=False, label=NONE_APPLY)
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

    handed_on = DayField(towards="back", label="Handed over on")
    handed_to = forms.CharField(max_length=80, label="To", help_text="The licensed contractor, or the refiner.")
    note = forms.CharField(max_length=200, required=False)


class ReturnedForm(forms.Form):
    """The silver that the refiner returned."""

    returned_on = DayField(towards="back", label="Came back on")
    grams = forms.DecimalField(min_value=0, max_digits=12, decimal_places=3, label="Silver, g")
