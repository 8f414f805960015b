"""The blanks of a printed ticket, as they are typed in: what is blank was not done, and nothing is taken as planned."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone

from jobs.work.bench import OUTCOMES, MixState
from jobs.work.forms import GlassForm, PaneForm
from jobs.work.lots_to_take import as_printed
from jobs.work.ticket_plan import TicketGlass, TicketIngredient
from recipes.clocks import ClockRefused, moment_done
from recipes.making_safe_form import TreatedForm
from recipes.recorded import amount_question
from studio.house.typed_fields import DayField
from studio.kit.errors import DaybookError
from studio.kit.meant_so import AsksOnce
from studio.kit.rounding import as_decimal, plain
from studio.kit.units import UNITS_OF_STOCK, amount_in


def time_field(label: str) -> forms.TimeField:
    return forms.TimeField(
        required=False, label=label, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages={"invalid": "Write the time, for instance 10:15."},
    )


def moment_of(day: date | None, at: time | None) -> datetime | None:
    """Return a time on paper as a moment in the studio's zone; None where none is written.

    Raises ValidationError for one still to come.
    """
    if day is None or at is None:
        return None
    try:
        return moment_done(timezone.make_aware(datetime.combine(day, at)))
    except ClockRefused as refusal:
        raise forms.ValidationError(str(refusal)) from refusal


class DayForm(forms.Form):
    """The day of the times on the paper, and whether what is blank was not done."""

    day = DayField(
        label="Day of these times", towards="back",
        error_messages={"required": "Say which day the times on the paper are of."},
    )
    that_is_all = forms.BooleanField(
        required=False,
        label="That is all the paper says: what is blank was not mixed, not sprayed, not cut, not started",
    )


class AtForm(forms.Form):
    """When something on the paper was done. day: of its times."""

    at = time_field("At")

    def __init__(self, data: Any = None, *, day: date | None = None, **more: Any) -> None:
        super().__init__(data, **more)
        self.day = day

    def clean_at(self) -> datetime | None:
        return moment_of(self.day, self.cleaned_data["at"])


class PaperMixForm(AsksOnce):
    """One batch on the paper: when it was mixed, and as printed or with the amounts and lots written in its blanks.

    lots: the numbers of every lot there is, by material code.
    """

    at = time_field("Mixed at")
    as_printed = forms.BooleanField(required=False, label="As printed, amounts and lots")

    def __init__(
        self, data: Any = None, *, state: MixState, lots: Mapping[str, Collection[str]], day: date | None = None,
    ) -> None:
        super().__init__(data, prefix=f"mix-{state.mix.key}")
        self.state, self.lots, self.day = state, lots, day
        for row in state.mix.ingredients:
            self.fields[f"amount_{row.number}"] = forms.CharField(
                label=f"{row.number}. {row.name}, {row.unit} (printed {plain(row.to_measure)})", max_length=20,
                required=False,
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
            if row.code:
                self.fields[f"lot_{row.number}"] = forms.CharField(
                    label=f"Lot of {row.number} (printed {', '.join(pick.lot_number for pick in row.picks) or 'none'})",
                    max_length=60, required=False,
                    widget=forms.TextInput(attrs={"autocomplete": "off"}))

    def clean_at(self) -> datetime | None:
        return moment_of(self.day, self.cleaned_data["at"])

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if self.state.is_ammoniacal and values.get("at") is None and "at" not in self.errors:
            self.add_error("at", "Write when it was mixed: its clock starts then.")
        typed = [name for name in values if name.startswith(("amount_", "lot_")) and values[name]]
        if values.get("as_printed"):
            if typed:
                self.add_error("as_printed", "Either as printed, or the amounts and lots that were written: not both.")
            return values
        values["amounts"], values["lots"] = {}, {}
        for row in self.state.mix.ingredients:
            self._take(row, values)
        return values

    def _take(self, row: TicketIngredient, values: dict[str, Any]) -> None:
        """Read what was written of one ingredient."""
        name, text = f"amount_{row.number}", values.get(f"amount_{row.number}", "")
        if not text:
            self.add_error(name, "Blank: write what was used, 0 for nothing, or tick “As printed”.")
            return
        kind, unit = UNITS_OF_STOCK[row.unit]
        try:
            used = Decimal(0) if text in ("0", "none") else as_decimal(amount_in(text, kind, unit), 3)
        except DaybookError as refusal:
            self.add_error(name, str(refusal))
            return
        values["amounts"][str(row.number)] = f"{used:f}"
        question = amount_question(row.name, row.unit, row.amount, used)
        if question:
            self.ask(name, question)
        lot = values.get(f"lot_{row.number}", "")
        number = next((known for known in self.lots.get(row.code, ()) if known.casefold() == lot.casefold()), "")
        if lot and not number:
            self.add_error(f"lot_{row.number}", f"There is no lot {lot} of {row.name}.")
        elif number and used > 0:
            values["lots"][str(row.number)] = [[number, f"{used:f}"]]

    def content(self) -> dict[str, Any]:
        """Return what is recorded of the batch. Only of a form that is valid."""
        if self.cleaned_data["as_printed"]:
            return as_printed(self.state)
        content = {"made": True, "amounts": self.cleaned_data["amounts"], "lots": self.cleaned_data["lots"]}
        meant = {name.removeprefix("amount_"): sentence for name, sentence in self.meant_so.items()}
        return {**content, "meant_so": meant} if meant else content

    def rows(self) -> list[tuple[TicketIngredient, list[forms.BoundField]]]:
        """Return each ingredient with the fields of its blanks."""
        return [(row, [self[name] for name in (f"amount_{row.number}", f"lot_{row.number}") if name in self.fields])
                for row in self.state.mix.ingredients]


class PaperPaneForm(PaneForm):
    """How a pane came out, by the paper; blank: nothing is written."""

    outcome = forms.ChoiceField(choices=[("", "–"), *((outcome, outcome) for outcome in OUTCOMES)])

    def has_changed(self) -> bool:
        """Say whether something is written of it; how often it was started is 1 unless it is."""
        return bool({"outcome", "because"} & set(self.changed_data))


class PaperGlassForm(GlassForm):
    """The sheets cut, by the paper. Nothing stands there before it is typed."""

    def __init__(self, data: Any = None, *, glass: TicketGlass, **more: Any) -> None:
        super().__init__(data, glass=glass, **more)
        self.fields["sheets"].label = f"{glass.name}: whole sheets used"


class PaperSafeForm(TreatedForm):
    """How all that was recorded as mixed was made safe, by the paper. day: of its time."""

    at = time_field("Made safe at")
    field_order = ["at", "treated", "none_left", "procedure"]

    def __init__(self, data: Any = None, *, day: date | None = None, **more: Any) -> None:
        super().__init__(data, **more)
        self.day = day
        del self.fields["done_at"]

    def has_changed(self) -> bool:
        """Say whether something is written; the procedure stands there already."""
        return bool({"at", "treated", "none_left"} & set(self.changed_data))

    def clean_at(self) -> datetime:
        at = moment_of(self.day, self.cleaned_data["at"])
        if at is None:
            raise forms.ValidationError("Write when it was made safe.")
        return at

    def values(self) -> dict[str, Any]:
        self.cleaned_data["done_at"] = self.cleaned_data["at"]
        return super().values()

    def refuse(self, refusal: DaybookError) -> None:
        field = {"done_at": "at"}.get(refusal.field, refusal.field)
        self.add_error(field if field in self.fields else None, str(refusal))
