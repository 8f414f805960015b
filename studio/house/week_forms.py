"""The settings of the week as forms: hours of each person by weekday, benches, holidays, own figures, days apart."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms

from studio.house.form_keys import KeyField
from studio.house.typed_fields import DayField, PercentField
from studio.house.week_models import HANDS, DayApart, StudioWeek
from studio.kit.public_holidays import countries
from studio.kit.working_hours import DAYS

if TYPE_CHECKING:  # Django's forms are generic for the type checker alone
    WeekModelForm = forms.ModelForm[StudioWeek]
    DayModelForm = forms.ModelForm[DayApart]
else:
    WeekModelForm = DayModelForm = forms.ModelForm

HOURS = tuple(f"{who}_{day}" for who in HANDS for day in DAYS)


class RegionField(forms.CharField):
    """The code of a region, in capitals however it is typed."""

    def to_python(self, value: Any) -> str:
        return (super().to_python(value) or "").upper()


class WeekForm(WeekModelForm):
    """Who works when, where, and what a promise rests on."""

    class Meta:
        model = StudioWeek
        exclude = ["id", "saves"]
        field_classes = {"comes_share": PercentField, "holds_share": PercentField, "region": RegionField}
        labels = {
            "benches": "Benches", "country": "Public holidays of", "region": "Region",
            "comes_share": "Of the quotes sent, how many come", "holds_share": "A promised day holds in",
            "spare_days": "Spare working days before a promised day", "look_ahead_days": "The plan looks ahead, days",
            "helper_records_away": "The helper may record hours away",
        } | {f"{who}_{day}": f"{who.capitalize()}, {day.capitalize()}" for who in HANDS for day in DAYS}
        help_texts = {
            "benches": "One a line. Where a load can lie while it is wet; what dries stands in a rack.",
            "country": "Nobody works on them, unless an extra day says so. Empty: none.",
            "region": "The code of a region with holidays of its own, for instance SCT or BY. Empty: the country's.",
            "comes_share": "Counts while fewer than ten quotes were answered in the last year; then those count.",
            "holds_share": "Of all the ways in which open quotes may come or not. A promise is a day later than hope.",
            "spare_days": "Between the day in the plan and the day that a quote names: for what goes wrong.",
            "look_ahead_days": "From today on, 7 to 120. What does not fit in is named.",
            "helper_records_away": "A day or hours away count in the plan at once.",
        } | dict.fromkeys(HOURS, "For instance 8-12:30, 13-17. Empty: not at work.")
        widgets = {"benches": forms.Textarea(attrs={"rows": 3})} | {
            name: forms.TextInput(attrs={"placeholder": "not at work", "autocomplete": "off"}) for name in HOURS
        }

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        self.fields["country"] = forms.ChoiceField(
            choices=[("", "no country"), *countries()], required=False, label="Public holidays of",
            help_text=self.fields["country"].help_text)

    @property
    def rows(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Return each weekday with the hours of the owner and the helper."""
        return [(day.capitalize(), [self[f"{who}_{day}"] for who in HANDS]) for day in DAYS]

    @property
    def places(self) -> list[forms.BoundField]:
        return [self[name] for name in ("benches", "country", "region", "helper_records_away")]

    @property
    def promises(self) -> list[forms.BoundField]:
        return [self[name] for name in ("comes_share", "holds_share", "spare_days", "look_ahead_days")]

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if not self.errors and not any(values[f"owner_{day}"] for day in DAYS):
            self.add_error("owner_monday", "The owner works on no day: give at least one day its hours.")
        return values


class DayApartForm(DayModelForm):
    """A day, or days in a row, on which hours are other than in other weeks."""

    key = KeyField()
    first_on = DayField(label="From", help_text="For instance 24 Dec, tomorrow or in 3 weeks.")
    last_on = DayField(label="To", required=False, help_text="Empty: that day alone.")

    class Meta:
        model = DayApart
        fields = ["who", "first_on", "last_on", "spells", "because"]
        labels = {"who": "Who", "spells": "Works", "because": "Why"}
        help_texts = {
            "who": "The whole studio, or one of you.",
            "spells": "Empty: a day off. 8-12 makes a half day; hours on a free day make an extra one.",
            "because": "As the week says it: fair, dentist, stocktaking.",
        }

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        first, last = values.get("first_on"), values.get("last_on")
        if first and not last:
            values["last_on"] = first
        elif first and last and last < first:
            self.add_error("last_on", "The last day comes before the first.")
        elif first and last and (last - first).days > 366:
            self.add_error("last_on", "That is more than a year: change the weekday hours instead.")
        return values


class AwayForm(DayApartForm):
    """What the helper records of their own: a day, or hours, away."""

    class Meta(DayApartForm.Meta):
        fields = ["first_on", "last_on", "spells", "because"]
        labels = {"spells": "I still work", "because": "Why"}
        help_texts = {"spells": "Empty: away all day. 8-12: away after that.",
                      "because": "Seen by everybody here; may stay empty."}

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        self.instance.who = DayApart.Who.HELPER
