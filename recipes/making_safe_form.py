"""What is typed when ammoniacal silver is mixed or made safe: when it was done, what was treated."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms

from recipes.clocks import ClockRefused, Standing, moment_done
from recipes.models import SilverClock
from studio.house.clock import house_zone
from studio.house.models import House
from studio.house.typed_fields import MomentField
from studio.kit.errors import DaybookError
from studio.stockroom.hazards.standing import OF_A_BOTTLE, OWED_AFTER_SPRAYING, TREATED, none_of


def done_at_field(label: str) -> MomentField:
    return MomentField(required=False, label=label, help_text="Empty: now. Else for instance 10:15 or yesterday 16:40.")


class DoneAtForm(forms.Form):
    """When something was done, where it is entered later."""

    done_at = done_at_field("Done at, if earlier than now")

    def clean_done_at(self) -> datetime | None:
        typed: datetime | None = self.cleaned_data["done_at"]
        try:
            return typed and moment_done(typed)
        except ClockRefused as refusal:
            raise forms.ValidationError(str(refusal)) from refusal

    @property
    def refusal(self) -> str:
        return " ".join(str(sentence) for sentences in self.errors.values() for sentence in sentences)


class TreatedForm(DoneAtForm):
    """How something was made safe: by which procedure, what was treated, and what there was nothing of."""

    treated = forms.MultipleChoiceField(
        choices=[(part, part) for part in TREATED], required=False, widget=forms.CheckboxSelectMultiple,
        label="What was treated",
    )
    none_left = forms.MultipleChoiceField(
        choices=[(none_of(part), part) for part in OWED_AFTER_SPRAYING], required=False,
        widget=forms.CheckboxSelectMultiple, label="What there was none of",
        help_text="Leftovers and first rinse, and after spraying guns, hoses and nozzles: each was treated, or there "
                  "was none.",
    )
    procedure = forms.CharField(
        max_length=200, label="By which written procedure",
        error_messages={"required": "Say by which written procedure it was made safe."},
    )

    field_order = ["treated", "none_left", "procedure", "done_at"]

    def __init__(self, data: Any = None, *, house: House, initial: dict[str, Any] | None = None, **more: Any) -> None:
        written = house.making_safe_procedure.strip().splitlines()
        super().__init__(data, initial={"procedure": written[0][:200] if written else "", **(initial or {})}, **more)

    def values(self) -> dict[str, Any]:
        """Return what the services of making safe take."""
        values = self.cleaned_data
        return {"treated": [*values["treated"], *values["none_left"]], "procedure": values["procedure"],
                "done_at": values["done_at"]}

    def refuse(self, refusal: DaybookError) -> None:
        """Show beside its field what a service refused, with all that was typed."""
        self.add_error(refusal.field if refusal.field in self.fields else None, str(refusal))


class LotSafeForm(TreatedForm):
    """A lot made safe: what was left in it, and what it stood in."""

    def __init__(self, data: Any = None, **more: Any) -> None:
        super().__init__(data, **more)
        field: Any = self.fields["none_left"]
        field.choices = [(none_of(part), part) for part in OF_A_BOTTLE]
        field.help_text = "What was left was treated, or there was none."


class MakingSafeForm(TreatedForm):
    """Which clocks a making safe stops, by which procedure, and what was treated."""

    clocks = forms.TypedMultipleChoiceField(
        coerce=int, widget=forms.CheckboxSelectMultiple, label="What was made safe",
        error_messages={"required": "Tick each mix that was made safe.",
                        "invalid_choice": "That is made safe already, or no mix of this: tick what still stands."},
    )

    field_order = ["clocks", "treated", "none_left", "procedure", "done_at"]

    def __init__(self, data: Any = None, *, rows: Sequence[SilverClock], standing: Sequence[Standing], house: House,
                 **more: Any) -> None:
        """rows: what may be named; what was stopped meanwhile too, so that a second person is told so in words."""
        open_now = [silver.row for silver in standing]
        super().__init__(data, house=house, initial={
            "clocks": [row.pk for row in open_now] if len(open_now) == 1 else [],
        }, **more)
        known = rows if self.is_bound else open_now
        field: Any = self.fields["clocks"]
        field.choices = [
            (row.pk, f"{row.what}, {row.get_began_display()} {row.started_at.astimezone(house_zone()):%H:%M}")
            for row in known
        ]

    def values(self) -> dict[str, Any]:
        """Return what the services of making safe take."""
        return {"clocks": self.cleaned_data["clocks"], **super().values()}
