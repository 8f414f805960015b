"""Forms of trials: what changes, on which pane, under which conditions, from which lots, and how it came out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms

from recipes.facts import RecipeFacts, StepFacts
from recipes.finishes.step_forms import PartForm, SolutionOptions, StepForm, part_initial, solution_options
from recipes.models import RecipeVersion, SolutionVersion, Trial
from recipes.photographs import Crop
from recipes.recorded import amount_question, temperature_question
from recipes.trials.changing import Change, NoSuchChange, apply, changes_between
from recipes.value_words import strength_words
from studio.exact import LENGTH_DECIMALS, STOCK_DECIMALS, exactly
from studio.house.form_keys import KeyField
from studio.kit.errors import DaybookError
from studio.kit.meant_so import AsksOfSizes, AsksOnce
from studio.kit.rounding import as_decimal, plain
from studio.kit.typed_fields import TypedField, set_preference
from studio.kit.typed_numbers import whole_number
from studio.kit.typed_values import show_time
from studio.kit.units import size_unit, stock_amount
from studio.stockroom.models import Lot, Material


class PaneForm(AsksOfSizes):
    """The sample pane, and what the trial is to answer."""

    question = forms.CharField(max_length=200, required=False, label="What is the question?",
                               widget=forms.TextInput(attrs={"placeholder": "What does doubling the sensitiser do?"}))
    size_text = forms.CharField(max_length=60, label="Pane")
    glass = forms.ModelChoiceField(Material.objects.filter(kind=Material.Kind.GLASS), required=False,
                                   empty_label="not noted")
    key = KeyField()

    def __init__(self, data: Any = None, *, preference: str = "metric", **more: Any) -> None:
        super().__init__(data, **more)
        self.preference = preference

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        size = self.read_size("size_text", size_unit(self.preference))
        if size is not None:
            self.width_mm = as_decimal(size.width_mm, LENGTH_DECIMALS)
            self.height_mm = as_decimal(size.height_mm, LENGTH_DECIMALS)
        return values

    def values(self) -> dict[str, Any]:
        values = self.cleaned_data
        return {"question": values["question"], "size_text": values["size_text"], "glass": values["glass"],
                "width_mm": self.width_mm, "height_mm": self.height_mm}


class StepChanges:
    """One step of the recipe as it may be changed: its form, its parts' forms, and whether it is left out."""

    def __init__(self, base: StepFacts, shown: StepFacts, left_out: bool, typed: dict[str, str], data: Any,
                 solutions: SolutionOptions, ids: dict[str, int], preference: str) -> None:
        self.base, self.shown, prefix = base, shown, f"s{base.number}"
        self.form = StepForm.of_facts(shown, typed, data, prefix=prefix, preference=preference)
        self.left_out_name = f"{prefix}-left_out"
        self.left_out = bool(data.get(self.left_out_name)) if data is not None else left_out
        self.parts = [
            PartForm(data, prefix=f"{prefix}p{number}", solutions=solutions, initial=part_initial(
                ids[part.solution], _decimal(part.strength), _decimal(part.parts), part.mixed_for, {}
            ))
            for number, part in enumerate(shown.parts, start=1)
        ]

    def is_valid(self) -> bool:
        valid = self.form.is_valid()
        for part in self.parts:
            valid &= part.is_valid()
            if part.is_valid() and part.draft() is None:
                part.add_error(
                    "solution_version", "A trial changes a step's solutions: to leave one out, start a draft."
                )
                valid = False
        return bool(valid)

    def facts(self, keys: dict[int, str]) -> StepFacts:
        step = self.form.facts(self.shown, changed_alone=True)
        parts = [form.facts(keys, was) for form, was in zip(self.parts, self.shown.parts, strict=True)]
        if "coverage_ml_per_m2" in self.form.changed_data:
            step = replace(step, coverage_source="")
        return replace(step, parts=tuple(part for part in parts if part is not None))

    @property
    def summary(self) -> str:
        """Return what decides the step as it is shown folded."""
        step = self.shown
        said = [strength_words(part.strength) for part in step.parts if part.strength != 1]
        if step.dwell_minutes:
            said.append(f"dwell {show_time(step.dwell_minutes)}")
        if step.parts and step.motion != "still":
            said.append(step.motion)
        return ", ".join([*said, *([f"dries in {step.drying}"] if step.drying else [])])

    @property
    def is_touched(self) -> bool:
        """Say whether the step is to be shown open: it differs from the version, or something in it is refused."""
        refused = bool(self.form.errors) or any(part.errors for part in self.parts)
        return self.left_out or refused or self.shown != self.base


def _decimal(value: Fraction) -> Decimal:
    return Decimal(value.numerator) / Decimal(value.denominator)


class ChangesSheet:
    """Every step of a recipe, prefilled; what is typed over becomes the trial's changes."""

    def __init__(self, version: RecipeVersion, base: RecipeFacts, already: tuple[Change, ...], data: Any = None,
                 preference: str = "metric") -> None:
        self.base = base
        shown = {step.number: step for step in apply(base, already).steps}
        typed = {step.number: step.typed for step in version.steps.all()}
        rows = SolutionVersion.objects.select_related("solution").only("number", "solution__code")
        self.keys = {row.pk: row.key for row in rows}
        ids = {key: pk for pk, key in self.keys.items()}
        solutions = solution_options()
        whole = [change for change in already if change.step == 0]
        self.already_whole = tuple(whole)
        self.steps = [
            StepChanges(step, shown.get(step.number, step), step.number not in shown, typed.get(step.number, {}), data,
                        solutions, ids, preference)
            for step in base.steps
        ]
        self.refusal = ""

    def is_valid(self) -> bool:
        valid = True
        for step in self.steps:
            valid &= step.is_valid()
        return valid

    def changes(self) -> tuple[Change, ...]:
        """Return what differs from the version; only for a valid sheet. Raises NoSuchChange."""
        steps = tuple(step.facts(self.keys) for step in self.steps if not step.left_out)
        if not steps:
            raise NoSuchChange("Every step is left out: keep at least one.")
        return (*self.already_whole, *changes_between(self.base, replace(self.base, steps=steps)))


class ConditionsForm(AsksOnce):
    """What the air, the glass and the solutions were like.

    steps: those of the trial; glass, or solutions, out of the range of one are asked about.
    """

    air_c = TypedField("temperature", label="Air")
    glass_c = TypedField("temperature", label="Glass")
    solution_c = TypedField("temperature", label="Solution")
    humidity_share = TypedField("share", label="Relative humidity", help_text="For instance 55 %.")
    water = forms.CharField(max_length=60, required=False, help_text="For instance: distilled, new drum.")
    conductivity_us_cm = TypedField("number", label="Conductivity of the water, µS/cm")

    def __init__(self, data: Any = None, *, trial: Trial, steps: Iterable[StepFacts] = (),
                 preference: str = "metric") -> None:
        super().__init__(data)
        self.steps = list(steps)
        set_preference(self, preference)
        for name, field in self.fields.items():
            value = getattr(trial, name)
            self.initial[name] = field.shown(value) if isinstance(field, TypedField) else value

    def clean_humidity_share(self) -> Any:
        typed = self.cleaned_data["humidity_share"]
        if typed.value is not None and typed.value > 1:
            raise forms.ValidationError("Humidity is at most 100 %: write for instance 55 %.")
        return typed

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        for name, what in (("glass_c", "The glass is"), ("solution_c", "The solutions are")):
            measured = values[name].value if name in values else None
            question = temperature_question(measured, self.steps, what) if measured is not None else ""
            if question and name in self.changed_data:
                self.ask(name, question)
        return values

    def values(self) -> dict[str, Any]:
        return {name: getattr(value, "value", value) for name, value in self.cleaned_data.items()}


class CloseForm(forms.Form):
    score = forms.TypedChoiceField(
        coerce=int, required=False, empty_value=None, label="Score, 0 to 10",
        choices=[("", "none"), *((n, str(n)) for n in range(11))],
    )
    verdict = forms.ChoiceField(choices=[("", "choose"), *Trial.Verdict.choices])
    kept_where = forms.CharField(max_length=80, required=False, label="Where the sample is kept")


_LOT_ADDRESS = re.compile(r"/stockroom/lots/(\d+)/")


class TakeForm(AsksOnce):
    """An amount of a lot of a material, chosen from the list. needed: what the trial needs, if it needs any.

    by_number: lots are named as their labels are, for a scanner.
    """

    lot = forms.ChoiceField(required=False)
    amount = forms.CharField(max_length=30, required=False, widget=forms.TextInput(attrs={"autocomplete": "off"}))

    def __init__(self, *args: Any, material: Material, lots: list[Lot], day: Any, needed: Decimal = Decimal(0),
                 by_number: bool = False, **more: Any) -> None:
        super().__init__(*args, **more)
        self.material, self.needed = material, needed
        self.lots = {lot.lot_number if by_number else str(lot.pk): lot for lot in lots}
        self.fields["lot"].choices = [  # type: ignore[attr-defined]
            (name, lot_words(lot, day)) for name, lot in self.lots.items()
        ] or [("", "no lot on the shelf")]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        text, lot = str(values.get("amount", "")).strip(), self.lots.get(values.get("lot", ""))
        values["taken"] = None
        if not text or text == "0":
            return values
        if lot is None:
            self.add_error("lot", f"No lot of {self.material.name} is on the shelf: receive one first.")
            return values
        values["taken"] = _taken(self, "amount", lot, self.needed)
        return values


class OtherLotForm(AsksOnce):
    """An amount of another lot: its number typed, or scanned from its label. needed: by material code."""

    other_lot = forms.CharField(max_length=200, required=False, label="Lot number, or scan its label",
                                widget=forms.TextInput(attrs={"autocomplete": "off"}))
    other_amount = forms.CharField(max_length=30, required=False, label="Amount",
                                   widget=forms.TextInput(attrs={"autocomplete": "off"}))

    def __init__(self, data: Any = None, *, needed: Mapping[str, Decimal], **more: Any) -> None:
        super().__init__(data, **more)
        self.needed = needed

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        scanned = values.get("other_lot", "").strip()
        values["taken"] = None
        if scanned:
            lot = lot_named(scanned)
            if lot is None:
                self.add_error("other_lot", f"“{scanned}” is not one lot on the shelf: scan its label.")
            elif not values.get("other_amount"):
                self.add_error("other_amount", f"Give the amount of {lot}, with its unit.")
            else:
                values["taken"] = _taken(self, "other_amount", lot, self.needed.get(lot.material.code, Decimal(0)))
        return values


def _taken(form: AsksOnce, field: str, lot: Lot, needed: Decimal) -> tuple[Lot, Decimal] | None:
    """Return what a form takes of a lot; None, with the refusal or question beside the field, while it takes none."""
    material = lot.material
    try:
        amount = stock_amount(form.cleaned_data[field], material.stock_unit, exactly(material.density_g_per_ml))
    except DaybookError as refusal:
        form.add_error(field, str(refusal))
        return None
    kept = as_decimal(amount, STOCK_DECIMALS)
    if kept <= 0:
        form.add_error(field, "Give more than nothing, or leave it empty.")
        return None
    question = amount_question(material.name, material.stock_unit, needed, kept, "the trial needs")
    return (lot, kept) if not question or form.ask(field, question) else None


def lot_words(lot: Lot, day: Any) -> str:
    """Return a lot as one chooses it: its number, what it holds, and why it should not be used."""
    why = "held" if lot.state == Lot.State.HELD else "expired" if lot.has_expired(day) else ""
    opened = ", opened" if lot.opened_on else ""
    return f"lot {lot.lot_number}: {plain(lot.level.on_hand)} {lot.material.stock_unit}{opened}" + (
        f" ({why})" if why else ""
    )


def lot_named(text: str) -> Lot | None:
    """Return the lot that a typed number or a scanned address names; None where it is none, or not just one."""
    found = _LOT_ADDRESS.search(text)
    rows = Lot.objects.select_related("material", "level")
    if found:
        return rows.filter(pk=whole_number(found[1])).first()
    named = list(rows.filter(lot_number__iexact=text.strip(), level__on_hand__gt=0)[:2])
    return named[0] if len(named) == 1 else None


class CropForm(forms.Form):
    """The square of a photograph that comparisons show, in percent of its width, height and shorter side."""

    left = forms.DecimalField(min_value=0, max_value=100, label="From the left, % of the width")
    top = forms.DecimalField(min_value=0, max_value=100, label="From the top, % of the height")
    side = forms.DecimalField(min_value=5, max_value=100, label="Its side, % of the shorter side")

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        for field in self.fields.values():
            least = field.min_value  # type: ignore[attr-defined]
            field.widget = forms.NumberInput({"type": "range", "min": least, "max": 100, "step": "0.5"})

    @property
    def crop(self) -> Crop:
        """Return the square that was chosen; only for a valid form."""
        return Crop(**{name: Fraction(value) / 100 for name, value in self.cleaned_data.items()})
