"""A step and its parts as forms, values typed with their units; recipes and trials use the same ones."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory

from recipes.chemistry.plausible import strength_question
from recipes.facts import PartFacts, StepFacts
from recipes.finishes.authoring import PartDraft
from recipes.models import Part, SolutionVersion, Step
from recipes.reading import ANY_DAY, calibrations, coverage_of
from recipes.step_kinds import kind_of
from studio.house.models import GunCalibration
from studio.house.row_select import RowOptions, RowSelect
from studio.kit.meant_so import AsksOnce
from studio.kit.typed_fields import TypedField, set_preference, typed_texts
from studio.kit.typed_values import Typed

Choices = list[tuple[Any, Any]]
MOST_PARTS = 4


def solution_choices(empty: str = "no solution") -> Choices:
    """Return every solution's newest version first, then earlier versions, grouped."""
    newest: Choices = []
    earlier: Choices = []
    seen: set[int] = set()
    rows = SolutionVersion.objects.select_related("solution").only("number", "solution__name")
    for version in rows.order_by("solution__name", "-number"):
        (earlier if version.solution_id in seen else newest).append((version.pk, str(version)))
        seen.add(version.solution_id)
    groups = [("Newest versions", newest), ("Earlier versions", earlier)]
    return [("", empty), *((name, choices) for name, choices in groups if choices)]


@dataclass(frozen=True)
class SolutionOptions:
    """The solutions that every row of a page offers, their options written once."""

    choices: Choices
    written: RowOptions


def solution_options() -> SolutionOptions:
    choices = solution_choices()
    return SolutionOptions(choices=choices, written=RowOptions(choices))


def gun_choices() -> Choices:
    guns = GunCalibration.objects.order_by("gun").values_list("gun", flat=True).distinct()
    return [("", "as typed"), *((gun, f"{gun}, newest calibration") for gun in guns)]


ALWAYS_OPEN = ("instructions", "looks_good", "cautions")
TIMES = ("minutes_per_load", "minutes_per_pane", "minutes_per_m2", "hands")


class StepForm(forms.Form):
    """The values of one step; amounts are `Typed`, both exact and as they were written."""

    name = forms.CharField(max_length=80, required=False, label="Name", help_text="Empty: its kind is its name.")
    how = forms.ChoiceField(choices=[("", "not applied"), *Step.How.choices], required=False, label="How applied",
                            help_text="By what the solution reaches the glass.")
    coats = forms.IntegerField(min_value=1, max_value=50, initial=1, help_text="How many times it is applied.")
    coverage_ml_per_m2 = TypedField("coverage", default=0, label="Coverage per coat",
                                    help_text="How much one coat takes; a bare number is mL/m².")
    gun = forms.ChoiceField(required=False, label="Coverage from", help_text="Typed, or as a gun was last measured.")
    overspray_mm = TypedField("length", default=0, label="Overspray beyond the edge",
                              help_text="How far a spray goes past the pane.")
    zone = forms.TypedChoiceField(choices=Step.Zone.choices, initial=Step.Zone.WHOLE, required=False,
                                  empty_value="whole", label="Zone",
                                  help_text="Which part of the face is treated.")
    rim_width_mm = TypedField("length", default=0, label="Rim width",
                              help_text="Of another shape, the rim of its bounding rectangle counts.")
    zone_share = TypedField("share", default=0, label="Corners or mask, share of the face",
                            help_text="For instance 25 %.")
    extra_per_pane_ml = TypedField("volume", default=0, label="Extra per pane",
                                   help_text="Beside what the face takes: drips, the cloth.")
    overspill_share = TypedField("share", default=0, label="Overspill",
                                 help_text="What is lost of each pour, for instance 10 %.")
    loss_per_load_ml = TypedField("volume", default=0, label="Lost per load",
                                  help_text="What stays in hose, gun or jug.")
    dwell_minutes = TypedField("time", default=0, label="Dwell time", help_text="How long it stays on: 40 s, 5 min.")
    dwell_attended = forms.BooleanField(required=False, label="Someone stays with it during the dwell",
                                        help_text="Then it is hands-on time too.")
    dwell_counted = forms.TypedChoiceField(choices=Step.DwellCounted.choices, initial=Step.DwellCounted.LOAD,
                                           required=False, empty_value="load", label="Dwell is counted",
                                           help_text="Once a load, or pane after pane.")
    motion = forms.ChoiceField(choices=Step.Motion.choices, label="Motion", help_text="Still, or rocked by hand.")
    pane_lies = forms.ChoiceField(choices=Step.Lies.choices, label="Pane lies", help_text="Flat, or leaning upright.")
    drying = forms.ChoiceField(choices=[("", "does not dry"), *Step.Drying.choices], required=False, label="Dries in",
                               help_text="What dries it at the end of the step.")
    rinse_full = forms.BooleanField(required=False, label="A full rinse",
                                    help_text="All of the pane, until the water runs clear.")
    rinse_collected = forms.BooleanField(required=False, label="The first water is collected",
                                         help_text="Into the silver waste, not the drain.")
    rinse_water = forms.ChoiceField(
        choices=[("", "any"), ("tap", "tap"), ("distilled", "distilled")], required=False, label="Rinse water",
        help_text="What the rinse is done with.",
    )
    surface_before = forms.ChoiceField(choices=Step.Surface.choices, label="Surface before",
                                       help_text="What the step before must leave.")
    harshness = forms.IntegerField(min_value=0, max_value=5, required=False, label="Harshness",
                                   help_text="For antiquing: 1 gentle to 5 harsh.")
    temperature_low_c = TypedField("temperature", label="Not below", help_text="Colder than this it is not done.")
    temperature_high_c = TypedField("temperature", label="Not above", help_text="Warmer than this it is not done.")
    minutes_per_load = TypedField("time", default=0, label="Hands-on time per load",
                                  help_text="Setting out and clearing up, once.")
    minutes_per_pane = TypedField("time", default=0, label="Hands-on time per pane",
                                  help_text="By hand, for each pane.")
    minutes_per_m2 = TypedField("time", default=0, label="Hands-on time per m²",
                                help_text="By hand, for each square metre.")
    hands = forms.ChoiceField(choices=Step.Hands.choices, label="Done by", help_text="Whose hourly rate it costs.")
    instructions = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False,
                                   help_text="What the hand does, as the ticket shall say it.")
    looks_good = forms.CharField(widget=forms.Textarea(attrs={"rows": 2}), required=False, label="Looks good when",
                                 help_text="What tells the eye that it is done.")
    cautions = forms.CharField(widget=forms.Textarea(attrs={"rows": 2}), required=False,
                               help_text="What can hurt or spoil, beside what the daybook says itself.")

    def __init__(self, data: Any = None, *, kind: str, preference: str = "metric", guns: Choices | None = None,
                 **more: Any) -> None:
        super().__init__(data, **more)
        self.kind = kind
        self.fields["gun"].choices = guns if guns is not None else [("", "as typed")]  # type: ignore[attr-defined]
        set_preference(self, preference)

    @classmethod
    def of(cls, step: Step, data: Any = None, **more: Any) -> StepForm:
        """Return the form of a saved step: what was typed is shown as it was typed."""
        initial = {name: getattr(step, name) for name in cls.base_fields}
        form = cls(data, kind=step.kind, initial=initial, **more)
        for name, field in form.fields.items():
            if isinstance(field, TypedField):
                form.initial[name] = field.shown(getattr(step, name), step.typed.get(name, ""))
        return form

    @classmethod
    def of_facts(cls, step: StepFacts, typed: dict[str, str], data: Any = None, **more: Any) -> StepForm:
        """Return the form of a step as it stands in a recipe with a trial's changes; without its gun."""
        form = cls(data, kind=step.kind, **more)
        del form.fields["gun"]
        for name, field in form.fields.items():
            value = getattr(step, name)
            if isinstance(field, TypedField):
                exact = None if value is None else Decimal(value.numerator) / Decimal(value.denominator)
                form.initial[name] = field.shown(exact, typed.get(name, ""))
            else:
                form.initial[name] = int(value) if isinstance(value, Fraction) else value
        return form

    def _clean_fields(self) -> None:
        super()._clean_fields()  # type: ignore[misc]
        for name, value in self.cleaned_data.items():
            if isinstance(value, str):  # a browser sends line ends its own way
                self.cleaned_data[name] = value.replace("\r\n", "\n")

    def clean_harshness(self) -> int:
        return self.cleaned_data["harshness"] or 0

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        overspray, low, high = (values.get(n) for n in ("overspray_mm", "temperature_low_c", "temperature_high_c"))
        sprayed = values.get("how") in (Step.How.SPRAY, Step.How.MIST)
        if isinstance(overspray, Typed) and overspray.value and not sprayed:
            self.add_error("overspray_mm", "Only a sprayed or misted step goes beyond the edge.")
        self._check_zone(values)
        if isinstance(low, Typed) and isinstance(high, Typed) and low.value is not None and high.value is not None \
                and low.value > high.value:
            self.add_error("temperature_high_c", "The upper temperature is below the lower one.")
        return values

    def _check_zone(self, values: dict[str, Any]) -> None:
        """Ask for the size of a zone, and for none where it has none."""
        for name, zone, missing, too_much in (
            ("rim_width_mm", Step.Zone.RIM, "Say how wide the rim is.", "Only a rim has a width."),
            ("zone_share", Step.Zone.PART, "Say what share of the face is treated.",
             "Only corners or a mask are a share of the face."),
        ):
            size = values.get(name)
            if isinstance(size, Typed) and bool(size.value) != (values.get("zone") == zone):
                self.add_error(name, too_much if size.value else missing)

    def values(self) -> dict[str, Any]:
        """Return the step's attributes, with the text as typed; only for a valid form."""
        bare = {name: value.value if isinstance(value, Typed) else value for name, value in self.cleaned_data.items()}
        return {**bare, "typed": typed_texts(self.cleaned_data)}

    def facts(self, step: StepFacts, *, changed_alone: bool = False) -> StepFacts:
        """Return the step with this form's values; only for a valid form.

        changed_alone: leave every value that was not typed over just as it is, also one that no field shows in full.
        """
        values: dict[str, Any] = {}
        for name, value in self.cleaned_data.items():
            if name == "gun" or (changed_alone and name not in self.changed_data):
                continue
            bare: Any = value.value if isinstance(value, Typed) else value
            values[name] = Fraction(bare) if isinstance(bare, Decimal) or name == "coats" else bare
        if values.get("name") == "":
            values["name"] = step.kind
        return replace(step, **values)

    def _bound(self, names: Iterable[str]) -> list[forms.BoundField]:
        return [self[name] for name in names if name in self.fields]

    @property
    def open_fields(self) -> list[forms.BoundField]:
        """The fields that decide a step of this kind."""
        return self._bound(kind_of(self.kind).open_fields)

    @property
    def word_fields(self) -> list[forms.BoundField]:
        return self._bound(ALWAYS_OPEN)

    @property
    def time_fields(self) -> list[forms.BoundField]:
        return self._bound(TIMES)

    @property
    def more_fields(self) -> list[forms.BoundField]:
        shown = {*kind_of(self.kind).open_fields, *ALWAYS_OPEN, *TIMES, "name"}
        return self._bound(name for name in self.fields if name not in shown)

    @property
    def more_is_used(self) -> bool:
        quiet = ("", None, False, 0, "still", "flat", "either", "load", "whole", 1, "0", "1")
        return any(field.errors or field.value() not in quiet for field in self.more_fields)

    @property
    def times_are_refused(self) -> bool:
        return any(field.errors for field in self.time_fields)


class PartForm(AsksOnce):
    """A solution that the step applies. Without a solution the row does not count."""

    solution_version = forms.TypedChoiceField(coerce=int, required=False, empty_value=None, label="Solution",
                                              widget=RowSelect,
                                              help_text="One row for each solution that the step applies.")
    strength = TypedField("strength", default=1, above_zero=True, help_text="1 is as written; 2, half, 150 %.")
    parts = TypedField("number", default=1, above_zero=True, label="Parts", help_text="Its share among the solutions.")
    mixed_for = forms.ChoiceField(choices=Part.MixedFor.choices, initial=Part.MixedFor.LOAD, label="Mixed for",
                                  help_text="One mix for a pane, a load, or as many loads as it keeps for.")

    def __init__(self, *args: Any, solutions: SolutionOptions, **more: Any) -> None:
        super().__init__(*args, **more)
        self.fields["solution_version"].choices = solutions.choices  # type: ignore[attr-defined]
        self.fields["solution_version"].widget.row_options = solutions.written
        self.fields["strength"].widget.attrs["list"] = "strengths"

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        strength = values.get("strength")
        if values.get("solution_version") and isinstance(strength, Typed) and strength.value is not None \
                and "strength" in self.changed_data:  # as it was saved, it was meant so
            question = strength_question(Fraction(strength.value)) or self._changes_nothing(Fraction(strength.value))
            if question:
                self.ask("strength", question)
        return values

    def _changes_nothing(self, strength: Fraction) -> str:
        """Return what to ask of another strength of a solution of which no ingredient scales; else ""."""
        if strength == 1:
            return ""
        flat = SolutionVersion.objects.select_related("solution").exclude(ingredients__scales_with_strength=True)
        version = flat.filter(pk=self.cleaned_data["solution_version"]).first()
        return "" if version is None else f"The strength changes nothing: no ingredient of {version} scales with it."

    def draft(self) -> PartDraft | None:
        """Return the part, or None for a row without a solution; only for a valid form."""
        values = self.cleaned_data
        if not values.get("solution_version"):
            return None
        return PartDraft(
            solution_version_id=values["solution_version"],
            strength=values["strength"].value,
            parts=values["parts"].value,
            mixed_for=values["mixed_for"],
            typed=typed_texts(values),
        )

    def facts(self, keys: dict[int, str], unchanged: PartFacts | None = None) -> PartFacts | None:
        """Return the part as typed; the one it was, where nothing was typed over."""
        if unchanged is not None and not self.has_changed():
            return unchanged
        draft = self.draft()
        if draft is None:
            return None
        return PartFacts(
            solution=keys[draft.solution_version_id], strength=Fraction(draft.strength), parts=Fraction(draft.parts),
            mixed_for=draft.mixed_for,  # type: ignore[arg-type]
        )


PartFormSet = formset_factory(PartForm, extra=1, max_num=MOST_PARTS)
#: a fresh silver step mostly has its silver part and its reducer part
SilverPartFormSet = formset_factory(PartForm, extra=2, max_num=MOST_PARTS)


def part_initial(solution_version_id: int, strength: Decimal, parts: Decimal, mixed_for: str,
                 typed: dict[str, str]) -> dict[str, Any]:
    fields = {name: field for name, field in PartForm.base_fields.items() if isinstance(field, TypedField)}
    return {
        "solution_version": solution_version_id, "mixed_for": mixed_for,
        "strength": fields["strength"].shown(strength, typed.get("strength", "")),
        "parts": fields["parts"].shown(parts, typed.get("parts", "")),
    }


class StepSheet:
    """A step with its parts, as one form."""

    def __init__(self, step: Step, data: Any = None, *, preference: str = "metric") -> None:
        self.step = step
        self.form = StepForm.of(step, data, preference=preference, guns=gun_choices(), prefix="step")
        fresh_silver = kind_of(step.kind).first_parts and not step.parts.all()
        rows = SilverPartFormSet if fresh_silver else PartFormSet
        self.parts: BaseFormSet[PartForm] = rows(
            data, prefix="parts", form_kwargs={"solutions": solution_options()}, initial=[
                part_initial(part.solution_version_id, part.strength, part.parts, part.mixed_for, part.typed)
                for part in step.parts.all()
            ],
        )
        self.refusal = ""

    def is_valid(self) -> bool:
        return bool(self.form.is_valid() & self.parts.is_valid())

    def part_drafts(self) -> list[PartDraft]:
        drafts = (form.draft() for form in self.parts.forms)
        return [draft for draft in drafts if draft is not None]

    def facts(self) -> StepFacts:
        """Return the step as typed, before it is saved; only for a valid sheet."""
        ids = [draft.solution_version_id for draft in self.part_drafts()]
        versions = SolutionVersion.objects.filter(pk__in=ids).select_related("solution")
        keys = {version.pk: version.key for version in versions}
        parts = tuple(part for form in self.parts.forms if (part := form.facts(keys)) is not None)
        step = replace(self.form.facts(StepFacts(number=self.step.number, kind=self.step.kind)), parts=parts)
        gun = self.form.cleaned_data["gun"]
        if not gun:
            return step
        coverage, source = coverage_of(Step(gun=gun), calibrations(ANY_DAY))
        return replace(step, coverage_ml_per_m2=coverage, coverage_source=source)
