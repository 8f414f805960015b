"""Forms of booking and of the bench."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms

from jobs.models import JobAct
from jobs.work.bench import OUTCOMES, SPOILT, MixState
from jobs.work.ticket_plan import TicketGlass, TicketStep
from recipes.recorded import amount_question, temperature_question
from recipes.trouble import TROUBLES
from studio.house.typed_fields import DayField
from studio.kit.errors import DaybookError
from studio.kit.meant_so import AsksOnce
from studio.kit.rounding import as_decimal, plain
from studio.kit.units import UNITS_OF_STOCK, amount_in


def as_content(values: dict[str, Any]) -> dict[str, Any]:
    """Return cleaned values as JSON holds them: decimals as text, what was left empty left out."""
    return {
        name: f"{value:f}" if isinstance(value, Decimal) else value
        for name, value in values.items() if value is not None
    }


class BookingForm(forms.Form):
    sample_approved = forms.BooleanField(required=False, label="The customer has approved a sample")
    deposit_noted = forms.BooleanField(required=False, label="The deposit is in")
    how = forms.ChoiceField(required=False, choices=[("", "not said"), *JobAct.How.choices],
                            label="How the deposit was paid", help_text="Of what the tick above records.")
    waived_because = forms.CharField(max_length=200, required=False, label="Why it goes ahead without both")
    due_on = DayField(required=False)

    def __init__(self, data: Any = None, *, deposit_missing: str = "", no_deposit: bool = False, **more: Any) -> None:
        """deposit_missing: what the tick of the deposit records as come in, in words; no_deposit: none is asked for."""
        super().__init__(data, **more)
        if no_deposit:
            self.fields["deposit_noted"].label = "No deposit is asked for"
            self.fields["deposit_noted"].disabled = True
            self.initial["deposit_noted"] = True
        if deposit_missing:
            self.fields["deposit_noted"].label = f"The deposit is in: record that {deposit_missing}"
        else:  # nothing is recorded by the tick
            del self.fields["how"]


class CancelForm(forms.Form):
    """Why a job is cancelled; the rest is asked once its ticket is printed."""

    because = forms.CharField(max_length=200, required=False, label="Why it is cancelled")
    nothing_else = forms.BooleanField(required=False, label="What is not recorded was not mixed, sprayed or cut")
    kept_back_because = forms.CharField(max_length=200, required=False,
                                        label="If a held or expired lot was used: why that was right")


class ConditionsForm(AsksOnce):
    """What the room was like. Temperatures in °C, humidity in %, conductivity in µS/cm.

    steps: those of the ticket; glass, or solutions, out of the range of one are asked about.
    """

    air_c = forms.DecimalField(min_value=-10, max_value=60, label="Air, °C")
    glass_c = forms.DecimalField(min_value=-10, max_value=60, required=False, label="Glass, °C")
    solution_c = forms.DecimalField(min_value=-10, max_value=60, required=False, label="Solutions, °C")
    humidity_percent = forms.DecimalField(min_value=0, max_value=100, label="Relative humidity, %")
    water = forms.CharField(max_length=80, required=False, label="Water")
    conductivity_us_cm = forms.DecimalField(min_value=0, required=False, label="Conductivity, µS/cm")

    def __init__(self, data: Any = None, *, steps: Iterable[TicketStep] = (), **more: Any) -> None:
        super().__init__(data, **more)
        self.steps = list(steps)

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        meant = []
        for name, what in (("glass_c", "The glass is"), ("solution_c", "The solutions are")):
            measured = values.get(name)
            question = temperature_question(measured, self.steps, what) if measured is not None else ""
            if question and self.ask(name, question):
                meant.append(question)
        if meant:
            values["meant_so"] = " ".join(meant)
        return values


class MixForm(AsksOnce):
    """What was measured for one batch, an amount per ingredient, with or without its unit; and the lot it came from.

    lots: those of each material on hand, by code, each with what is said of it, in the order in which they are taken.
    """

    def __init__(
        self, data: Any = None, *, state: MixState, lots: Mapping[str, Sequence[tuple[str, str]]] | None = None,
    ) -> None:
        super().__init__(data, prefix=state.key)
        self.state = state
        for ingredient in state.mix.ingredients:
            self.fields[self.name_of(ingredient.number)] = forms.CharField(
                label=f"{ingredient.name}, {ingredient.unit}", max_length=20,
                initial=plain(state.amount_of(ingredient.number)),
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            )
            offered = dict((lots or {}).get(ingredient.code, ()))
            if ingredient.code and offered:
                written = [lot for lot, _ in state.lots.get(ingredient.number, ())]
                written = written or [pick.lot_number for pick in ingredient.picks
                                      if offered.get(pick.lot_number) == pick.lot_number]
                self.fields[self.lot_of(ingredient.number)] = forms.ChoiceField(
                    label=f"{ingredient.name}: from lot", required=False,
                    choices=[("", "not recorded"), *offered.items()],
                    initial=next((number for number in written if number in offered), next(iter(offered))),
                )

    @staticmethod
    def name_of(number: int) -> str:
        return f"amount_{number}"

    @staticmethod
    def lot_of(number: int) -> str:
        return f"lot_{number}"

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        amounts: dict[str, str] = {}
        lots: dict[str, list[list[str]]] = {}
        for ingredient in self.state.mix.ingredients:
            name = self.name_of(ingredient.number)
            if name not in values:
                continue
            try:
                used = self._read(values[name], ingredient.unit)
            except DaybookError as refusal:
                self.add_error(name, str(refusal))
                continue
            amounts[str(ingredient.number)] = f"{used:f}"
            if lot := values.get(self.lot_of(ingredient.number)):
                lots[str(ingredient.number)] = [[lot, f"{used:f}"]]
            question = amount_question(ingredient.name, ingredient.unit, ingredient.amount, used)
            if question:
                self.ask(name, question)
        values["amounts"], values["lots"] = amounts, lots
        return values

    def content(self) -> dict[str, Any]:
        """Return what is kept of a batch: its amounts, and what was asked of them and meant so. Only if valid."""
        meant = {name.removeprefix("amount_"): sentence for name, sentence in self.meant_so.items()}
        content = {"made": True, "amounts": self.cleaned_data["amounts"], "lots": self.cleaned_data["lots"]}
        return {**content, "meant_so": meant} if meant else content

    @staticmethod
    def _read(text: str, unit: str) -> Decimal:
        kind, default = UNITS_OF_STOCK[unit]
        return as_decimal(amount_in(text, kind, default), 3)

    def rows(self) -> list[tuple[Any, list[forms.BoundField]]]:
        """Return each ingredient with its fields: the amount, and the lot where there is one to take from."""
        return [
            (ingredient, [self[name] for name in (self.name_of(ingredient.number), self.lot_of(ingredient.number))
                          if name in self.fields])
            for ingredient in self.state.mix.ingredients
        ]


class PaneForm(forms.Form):
    outcome = forms.ChoiceField(choices=[(outcome, outcome) for outcome in OUTCOMES])
    attempts = forms.IntegerField(min_value=1, max_value=20, initial=1, required=False,
                                  label="Times started, stripped ones included")
    because = forms.CharField(max_length=200, required=False, label="What spoilt it")

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if values.get("outcome") == SPOILT and not values.get("because"):
            self.add_error("because", "Say what spoilt it: the next one learns from it.")
        values["attempts"] = values.get("attempts") or 1
        return values


class GlassForm(AsksOnce):
    """The sheets used of a glass, beside those of the ticket."""

    sheets = forms.IntegerField(min_value=0, max_value=200, label="Whole sheets used")

    def __init__(self, data: Any = None, *, glass: TicketGlass, **more: Any) -> None:
        super().__init__(data, **more)
        self.glass = glass

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        sheets = values.get("sheets")
        question = "" if sheets is None else amount_question(
            self.glass.name, "sheets", Decimal(self.glass.sheets), Decimal(sheets))
        if question:
            self.ask("sheets", question)
        return values


class TimeForm(AsksOnce):
    """Minutes at the bench. None at all is asked about: mixing and silvering took somebody's time."""

    helper = forms.DecimalField(min_value=0, max_value=6000, label="Helper's minutes")
    owner = forms.DecimalField(min_value=0, max_value=6000, label="Owner's minutes")

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if values.get("helper") == 0 and values.get("owner") == 0:
            self.ask("helper", "No minutes at all, with solutions mixed and panes worked: did nobody spend any time?",
                     of="none")
        return values


class NoteForm(forms.Form):
    text = forms.CharField(max_length=1000, widget=forms.Textarea(attrs={"rows": 2}), label="Note")


class TroubleForm(forms.Form):
    """What went wrong, the dangerous first; it is recorded as a note."""

    what = forms.ChoiceField(label="What happened", choices=[(trouble.name, trouble.name) for trouble in TROUBLES])
    text = forms.CharField(max_length=900, required=False, label="Where, how much, what was done")

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        said = [values.get("what", ""), values.get("text", "").strip()]
        return {"text": ": ".join(filter(None, said)), "trouble": values.get("what", "")}


class MadeSafeForm(forms.Form):
    by_procedure = forms.BooleanField(
        label="Leftovers and first rinse were made safe by the written procedure",
        error_messages={"required": "Tick it once it is done: a run cannot finish before."},
    )
