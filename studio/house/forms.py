"""Forms of the studio itself: the first owner, the studio's identity, its rates, its people."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth.forms import BaseUserCreationForm

from studio.house.models import House, HouseRates, Person
from studio.kit.meant_so import AsksOnce
from studio.kit.rounding import plain

if TYPE_CHECKING:  # Django's forms are generic for the type checker alone
    PersonCreationForm = BaseUserCreationForm[Person]
    HouseModelForm = forms.ModelForm[House]
    RatesModelForm = forms.ModelForm[HouseRates]
else:
    PersonCreationForm, HouseModelForm, RatesModelForm = BaseUserCreationForm, forms.ModelForm, forms.ModelForm


class FirstOwnerForm(PersonCreationForm):
    """The studio's first person, who is its owner, and its name and time zone."""

    house_name = forms.CharField(max_length=120, label="Name of the studio")
    time_zone = forms.CharField(initial="Europe/London", help_text="For instance Europe/Lisbon or America/Chicago.")
    currency = forms.CharField(
        initial="GBP", max_length=3, help_text="Three letters, for instance EUR or USD (ISO 4217).",
        validators=HouseRates._meta.get_field("currency").validators,
    )

    field_order = ["house_name", "time_zone", "currency", "username", "password1", "password2"]

    class Meta:
        model = Person
        fields = ["username"]

    def clean_time_zone(self) -> str:
        zone = str(self.cleaned_data["time_zone"])
        House._meta.get_field("time_zone").run_validators(zone)
        return zone


class PersonForm(PersonCreationForm):
    class Meta:
        model = Person
        fields = ["username", "first_name", "last_name", "role"]


#: a making-safe procedure of fewer letters is hardly one
_SHORTEST_PROCEDURE = 40


class HouseForm(HouseModelForm, AsksOnce):
    class Meta:
        model = House
        exclude = ["id", "saves"]
        widgets = {
            name: forms.Textarea(attrs={"rows": 3}) for name in (
                "address", "terms", "care_note", "making_safe_procedure", "spill_procedure", "waste_procedure",
                "discharge_permit",
            )
        }

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        self.fields["ammoniacal_limit_minutes"].required = False
        self._limit = self.instance.ammoniacal_limit_minutes

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        typed = str(values.get("making_safe_procedure", "")).strip()
        if "making_safe_procedure" in self.changed_data and 0 < len(typed) < _SHORTEST_PROCEDURE:
            self.ask("making_safe_procedure", "That is shorter than a sentence, and whoever makes ammoniacal silver "
                                              "safe has only this: say what is added to what, and where it stands.")
        return values

    def clean_ammoniacal_limit_minutes(self) -> int:
        """Leave the limit as it is where nothing is typed: there is always one."""
        typed = self.cleaned_data["ammoniacal_limit_minutes"]
        return self._limit if typed is None else int(typed)


class PercentField(forms.DecimalField):
    """A share typed and shown in percent, “35” or “35 %”; its value is between 0 and 1."""

    def __init__(self, **more: Any) -> None:
        super().__init__(**{"min_value": 0, "max_value": 1, "widget": forms.TextInput(), **more})

    def to_python(self, value: Any) -> Any:
        typed = super().to_python(value.strip().removesuffix("%").strip() if isinstance(value, str) else value)
        return None if typed is None else typed / 100


#: the shares among the rates, by what they are called in the form
SHARES = {
    "tax_share": "Tax, %", "margin_share": "Margin, %", "cover_share": "Chance of enough good panes, %",
    "glass_loss_share": "Glass lost when a spoilt pane is done again, %",
    "bench_usable_share": "Of the bench that panes can cover, %",
    "offcut_credit_share": "Of its cost that a kept offcut is credited, %", "deposit_share": "Deposit, %",
}


class RatesForm(RatesModelForm):
    """A new dated row of rates; edges as lines of “name, minutes per metre, mm ground off”."""

    edges = forms.CharField(
        widget=forms.Textarea(attrs={"rows": 4}), label="Edges",
        help_text="One a line: name, minutes per metre, mm it grinds off each edge. For instance: seamed, 2, 0",
    )

    class Meta:
        model = HouseRates
        fields = "__all__"
        field_classes = dict.fromkeys(SHARES, PercentField)
        labels = SHARES | {
            "effective_from": "From", "tax_name": "Name of the tax",
            "price_step": "Prices are rounded up to", "plan": "Spoilt panes are planned for by",
            "bench_width_mm": "Bench width, mm", "bench_height_mm": "Bench depth, mm",
            "increment_ml": "Round mixes up to, mL", "largest_vessel_ml": "Largest vessel, mL",
            "balance_readability_g": "The balance reads to, g", "trim_mm": "Trimmed off each edge of a sheet, mm",
            "clearance_mm": "Clearance of a cut, mm", "smallest_offcut_mm": "Smallest offcut kept, mm",
            "smallest_strip_mm": "Narrowest strip, mm", "quote_valid_days": "A quote is valid for, days",
            "setup_minutes": "Setting up a job, minutes", "mixing_minutes_per_batch": "Mixing, minutes a batch",
            "cutting_minutes_per_pane": "Cutting, minutes a pane",
            "packing_minutes_per_pane": "Packing, minutes a pane", "bench_day_minutes": "Bench day, minutes",
            "cure_hours": "Curing, hours",
        }

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        for name in SHARES:
            self.initial[name] = plain(Decimal(self.initial[name]) * 100)

    @property
    def figures(self) -> list[forms.BoundField]:
        return [field for field in self if field.name != "edges"]

    def clean_edges(self) -> list[dict[str, Any]]:
        edges = []
        for line in self.cleaned_data["edges"].splitlines():
            if not line.strip():
                continue
            name, minutes, grinds = self._edge(line)
            edges.append({"name": name, "minutes_per_m": minutes, "grinds_off_mm": grinds})
        if not edges:
            raise forms.ValidationError("Give at least one edge, for instance: seamed, 2, 0")
        return edges

    @staticmethod
    def _edge(line: str) -> tuple[str, Any, Any]:
        parts = [part.strip() for part in line.split(",")]
        number = forms.DecimalField(min_value=0, decimal_places=6)
        if len(parts) != 3 or not parts[0]:
            raise forms.ValidationError(f"“{line}” was not understood: write name, minutes per metre, mm ground off.")
        return parts[0], number.clean(parts[1]), number.clean(parts[2])
