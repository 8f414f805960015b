"""How much of a solution to mix, and how strong, as a form."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from django import forms

from recipes.chemistry.plausible import strength_question
from studio.kit.errors import DaybookError
from studio.kit.meant_so import AsksOnce
from studio.kit.units import amount_in, plain_number


class MeasureForm(AsksOnce):
    """How much of a solution to mix, and how strong: “750 mL”, “26 US fl oz”; “2”, “1/2”."""

    volume = forms.CharField(max_length=30, initial="1 L", label="Mix", help_text="With its unit: 750 mL, 26 US fl oz.")
    strength = forms.CharField(max_length=12, initial="1", help_text="1 as written, 2 for double, 1/2 for half.")

    def clean_volume(self) -> Fraction:
        try:
            volume = amount_in(self.cleaned_data["volume"], "volume", "ml")
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if not 0 < volume <= 1_000_000:
            raise forms.ValidationError("Mix more than nothing, and at most 1000 L.")
        return volume

    def clean_strength(self) -> Fraction:
        typed = str(self.cleaned_data["strength"]).strip().replace(",", ".")
        try:
            strength = plain_number(typed)
        except DaybookError as wrong:
            raise forms.ValidationError("Write the strength as a number: 2, 0.5 or 1/2.") from wrong
        if not 0 < strength <= 1000:
            raise forms.ValidationError("The strength must be above zero.")
        return strength

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        question = strength_question(values["strength"]) if "strength" in values else ""
        if question:
            self.ask("strength", question)
        return values

    def put(self, refusal: DaybookError) -> None:
        """Show a refusal of the mix beside the field that it names, else beside the volume."""
        self.add_error(refusal.field if refusal.field in self.fields else "volume", str(refusal))

    @classmethod
    def asked(cls, data: Any) -> MeasureForm:
        """Return the form of a request's query; without one, as if one litre as written was asked for."""
        wanted = {"volume": data.get("volume") or "1 L", "strength": data.get("strength") or "1"}
        ticks = {name: data[name] for name in data if name.endswith("_meant_so")}
        return cls(wanted | ticks)
