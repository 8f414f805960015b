"""A solution as a form: its own values, and its ingredients in the order they are added."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory

from recipes.chemistry.dosing import Dose, Substance, read_dose
from recipes.chemistry.plausible import dose_question
from recipes.facts import IngredientFacts, Shelf, SolutionFacts
from recipes.models import Ingredient, Solution, SolutionVersion
from recipes.reading import ANY_DAY, material_facts, shelf_for
from recipes.solutions.authoring import IngredientDraft
from recipes.solutions.hazards import own_classification
from studio.exact import RATIO_DECIMALS, exactly
from studio.kit.errors import DaybookError
from studio.kit.formulas import FormulaUnknown, molar_mass
from studio.kit.keeping_times import keeping_question
from studio.kit.meant_so import AsksOnce
from studio.kit.rounding import as_decimal, plain
from studio.kit.typed_fields import TypedField, set_preference, typed_texts
from studio.kit.typed_numbers import whole_number
from studio.kit.working_hours import MOST_LIMIT_MINUTES
from studio.stockroom.costing import unit_costs
from studio.stockroom.hazards.trade import dissolves_g_per_l
from studio.stockroom.models import Material

MOST_INGREDIENTS = 20
_HOLDS = (Material.Kind.CHEMICAL, Material.Kind.WATER, Material.Kind.SEALER, Material.Kind.BACKING)


def substance_of(material: Material) -> Substance:
    """Return what a material's doses are read by; a formula that is not understood gives no molar mass."""
    try:
        mass = molar_mass(material.formula, material.hydrate) if material.formula else None
    except FormulaUnknown:
        mass = None
    return Substance(
        name=material.name, liquid=material.liquid, density=exactly(material.density_g_per_ml), molar_mass=mass,
        assay=exactly(material.assay_share),
        dissolves=dissolves_g_per_l(cas=material.cas_number, formula=material.formula, hydrate=material.hydrate),
    )


def ingredient_question(ingredient: Ingredient) -> str:
    """Return what to ask of an ingredient's amount, or "". Raises CannotBe for more than a litre holds."""
    amount, unit = Fraction(ingredient.amount_per_litre), ingredient.unit
    dose = Dose(per_litre=amount, unit="g" if unit == "g" else "mL", understood="")
    return dose_question(dose, substance_of(ingredient.material) if ingredient.material is not None
                         else Substance(name=ingredient.name, liquid=True))


def _is_said(field: forms.BoundField) -> bool:
    return bool(field.errors) or str(field.value() or "") not in ("", "0")


class SolutionForm(AsksOnce):
    name = forms.CharField(max_length=80, label="Name", help_text="As it stands on the bottle.")
    keeps_minutes = TypedField("time", above_zero=True, label="Keeps",
                               help_text="Empty: used at once, within the shift. For instance 5 days.")
    works_at_once = forms.BooleanField(required=False, label="Works as soon as it is combined: mixed for one pane only",
                                       help_text="For instance silver with its reducer in it.")
    ready_after_minutes = TypedField("time", default=0, label="Ready after",
                                     help_text="From the end of mixing; empty: at once.")
    minimum_batch_ml = TypedField("volume", default=0, label="Smallest batch",
                                  help_text="Less than this is not mixed; a bare number is mL.")
    mixing_minutes = TypedField("time", label="Mixing one batch takes",
                                help_text="Empty: as long as the studio's rates say for any batch.")
    working_minutes = TypedField("time", above_zero=True, label="Works for",
                                 help_text="From the beginning of mixing. Loads share one mix within it, where a step "
                                           "says so or it is in another mix. Empty: never shared.")
    reject_if = forms.CharField(max_length=120, required=False, label="Reject if", help_text="For instance: cloudy.")
    longer_keeping_reason = forms.CharField(max_length=200, required=False,
                                            label="Why it keeps longer than what is in it",
                                            help_text="Asked for only where it does.")
    own_hazard_statements = forms.CharField(
        max_length=200, required=False, label="Hazard statements of the mix itself",
        help_text="Empty: those of all that is in it. Else its own, as H314, H335, or “none”; then say why.")
    hazard_change_reason = forms.CharField(max_length=200, required=False, label="Why its hazards are others",
                                           help_text="For instance: below 1 % by its data sheet, section 3.")
    cautions = forms.CharField(required=False, widget=forms.Textarea(attrs={"rows": 2}),
                               help_text="What can hurt or spoil, beside what the daybook says itself.")
    why = forms.CharField(max_length=300, required=False, label="Why this version",
                          help_text="What is other than in the version before.")

    #: what is rarely said of a solution, folded away under its words
    FOLDED = (
        ("Times and batches", ("ready_after_minutes", "minimum_batch_ml", "mixing_minutes", "working_minutes")),
        ("Hazards, cautions, when to reject it", (
            "reject_if", "longer_keeping_reason", "own_hazard_statements", "hazard_change_reason", "cautions")),
    )

    @property
    def folded(self) -> list[tuple[str, list[forms.BoundField], bool]]:
        """Return the folded groups: their words, their fields, and whether one holds or refuses something."""
        groups = [(words, [self[name] for name in names]) for words, names in self.FOLDED]
        return [(words, fields, any(_is_said(field) for field in fields)) for words, fields in groups]

    def __init__(self, data: Any = None, *, version: SolutionVersion | None = None, preference: str = "metric") -> None:
        super().__init__(data, prefix="solution")
        self.version = version
        set_preference(self, preference)
        if version is None:
            return
        self.fields["name"].disabled = version.solution.versions.count() > 1
        self.initial = {"name": version.solution.name, **{
            name: getattr(version, name) for name in self.fields if name != "name"
        }}
        for name, field in self.fields.items():
            if isinstance(field, TypedField):
                self.initial[name] = field.shown(getattr(version, name), version.typed.get(name, ""))

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"]).strip()
        others = Solution.objects.filter(name__iexact=name)
        if self.version is not None:
            others = others.exclude(pk=self.version.solution_id)
        if others.exists():
            raise forms.ValidationError("There is a solution with that name: start a new version of it instead.")
        return name

    def clean_own_hazard_statements(self) -> str:
        text = str(self.cleaned_data["own_hazard_statements"]).strip()
        try:
            own_classification(text)
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        return text

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        own, why = values.get("own_hazard_statements"), values.get("hazard_change_reason")
        if own and not why:
            self.add_error("hazard_change_reason", "Say why its hazards are not those of what is in it.")
        if why and own == "":
            self.add_error("own_hazard_statements", "Give the statements that stand instead, or “none”.")
        keeps = values.get("keeps_minutes")
        if keeps is not None and keeps.value and values.get("works_at_once"):
            self.add_error("keeps_minutes", "A solution that works at once cannot keep.")
        elif keeps is not None and keeps.value and "keeps_minutes" in self.changed_data:
            self._check_keeping(Fraction(keeps.value))
        self._check_working(values)
        return values

    def _check_working(self, values: dict[str, Any]) -> None:
        works, keeps = (getattr(values.get(name), "value", None) for name in ("working_minutes", "keeps_minutes"))
        if not works:
            return
        if values.get("works_at_once"):
            self.add_error("working_minutes", "A solution that works at once is never shared: leave this empty.")
        elif works > MOST_LIMIT_MINUTES and (keeps is None or works > keeps):
            self.add_error("working_minutes", "At most 4 h, unless the solution keeps so long.")

    def _check_keeping(self, minutes: Fraction) -> None:
        try:
            question = keeping_question(minutes)
        except DaybookError as refusal:
            self.add_error("keeps_minutes", str(refusal))
            return
        if question:
            self.ask("keeps_minutes", question)

    def values(self) -> dict[str, Any]:
        """Return the version's attributes; only for a valid form."""
        own = {name: value for name, value in self.cleaned_data.items() if name != "name"}
        typed = typed_texts(own)
        return {**{name: getattr(value, "value", value) for name, value in own.items()}, "typed": typed}


class IngredientForm(AsksOnce):
    """One ingredient. A row without a material or solution does not count."""

    place = forms.IntegerField(min_value=1, max_value=999, required=False, label="Place",
                               help_text="In the order they are added.")
    what = forms.ChoiceField(required=False, label="Ingredient", help_text="A material, or another solution.")
    amount = forms.CharField(max_length=60, required=False, label="Per litre mixed",
                             help_text="With its unit: 1.2 g/L, 20 mL/L, 5 %, 1:50.",
                             widget=forms.TextInput(attrs={"placeholder": "1.2 g/L", "autocomplete": "off"}))
    make_up = forms.BooleanField(required=False, label="Make up to volume with it",
                                 help_text="Then it has no amount of its own.")
    scales_with_strength = forms.BooleanField(required=False, label="Scales with strength", initial=True,
                                              help_text="Unticked, its amount is the same at every strength.")
    instruction = forms.CharField(max_length=200, required=False, help_text="For instance: slowly, with stirring.")
    end_point = forms.CharField(max_length=120, required=False, label="End point",
                                help_text="For instance: until just clear. The amount is then a guide.")

    @property
    def words_are_said(self) -> bool:
        return any(_is_said(self[name]) for name in ("instruction", "end_point"))

    def __init__(self, *args: Any, offer: IngredientOffer, **more: Any) -> None:
        super().__init__(*args, **more)
        self.offer = offer
        self.dose: Dose | None = None
        self.fields["what"].choices = offer.choices  # type: ignore[attr-defined]
        self.fields["place"].widget.attrs["data-place"] = "1"

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        what, amount, make_up = values.get("what"), values.get("amount", "").strip(), values.get("make_up")
        if not what:
            if amount:
                self.add_error("what", "Choose what this amount is of.")
            return values
        if make_up:
            if amount:
                self.add_error("amount", "What makes it up to volume has no amount: empty this.")
            return values
        if not amount:
            self.add_error("amount", "Give an amount per litre, or make up to volume with it.")
            return values
        try:
            self.dose = read_dose(amount, self.offer.substance(what))
            if what.startswith("s") and self.dose.unit != "mL":
                self.add_error("amount", "A solution is measured in mL: write for instance 20 mL/L or 1:50.")
                return values
            question = dose_question(self.dose, self.offer.substance(what))
            if question and {"what", "amount"} & set(self.changed_data):  # as it was saved, it was meant so
                self.ask("amount", question)
        except DaybookError as refusal:
            self.add_error("amount", str(refusal))
        return values

    @property
    def understood(self) -> str:
        return self.dose.understood if self.dose is not None else ""

    def draft(self) -> IngredientDraft | None:
        """Return the ingredient, or None for an empty row; only for a valid form."""
        values = self.cleaned_data
        what = values.get("what")
        if not what:
            return None
        make_up = values["make_up"]
        of, pk = what[0], whole_number(what[1:])
        return IngredientDraft(
            material_id=pk if of == "m" else None,
            nested_id=pk if of == "s" else None,
            amount_per_litre=as_decimal(
                self.dose.per_litre if self.dose and not make_up else Fraction(0), RATIO_DECIMALS
            ),
            unit=self.dose.unit if self.dose and not make_up else "mL",
            typed="" if make_up else values["amount"].strip(),
            scales_with_strength=values["scales_with_strength"] and not make_up,
            make_up=make_up,
            instruction=values["instruction"],
            end_point=values["end_point"],
        )


class IngredientOffer:
    """What an ingredient may be: materials by “m” and id, solution versions by “s” and id. Read once a page."""

    def __init__(self, version: SolutionVersion | None = None) -> None:
        self.materials = {material.pk: material for material in Material.objects.filter(kind__in=_HOLDS)}
        rows = SolutionVersion.objects.select_related("solution").order_by("solution__name", "-number")
        self.solutions = {row.pk: row for row in rows if version is None or row.solution_id != version.solution_id}

    @property
    def choices(self) -> list[tuple[Any, Any]]:
        return [
            ("", "choose"), ("Materials", [(f"m{pk}", material.name) for pk, material in self.materials.items()]),
            ("Solutions", [(f"s{pk}", str(version)) for pk, version in self.solutions.items()]),
        ]

    def substance(self, what: str) -> Substance:
        pk = whole_number(what[1:])
        if what.startswith("m"):
            return substance_of(self.materials[pk])
        return Substance(name=str(self.solutions[pk]), liquid=True)


IngredientFormSet = formset_factory(IngredientForm, extra=2, max_num=MOST_INGREDIENTS)
NewIngredientFormSet = formset_factory(IngredientForm, extra=4, max_num=MOST_INGREDIENTS)


class SolutionSheet:
    """A solution with its ingredients, as one form."""

    def __init__(self, data: Any = None, *, version: SolutionVersion | None = None, preference: str = "metric") -> None:
        self.version, offer = version, IngredientOffer(version)
        self.offer = offer
        self.form = SolutionForm(data, version=version, preference=preference)
        rows = IngredientFormSet if version else NewIngredientFormSet
        self.ingredients: BaseFormSet[IngredientForm] = rows(
            data, prefix="in", form_kwargs={"offer": offer}, initial=_initial(version) if version else None,
        )

    def is_valid(self) -> bool:
        valid = bool(self.form.is_valid() & self.ingredients.is_valid())
        if valid and sum(draft.make_up for draft in self.drafts()) > 1:
            self.form.add_error(None, "Only one ingredient can make the solution up to volume.")
            return False
        return valid

    def drafts(self) -> list[IngredientDraft]:
        """Return the ingredients in the order of their places."""
        rows = [
            (form.cleaned_data.get("place") or 1000 + at, at, draft)
            for at, form in enumerate(self.ingredients.forms) if (draft := form.draft()) is not None
        ]
        return [draft for _, _, draft in sorted(rows, key=lambda row: row[:2])]

    def facts(self) -> tuple[SolutionFacts, Shelf]:
        """Return the solution as typed, before it is saved, and the shelf of all it names; only for a valid sheet."""
        drafts, values = self.drafts(), self.form.values()
        shelf = shelf_for([draft.nested_id for draft in drafts if draft.nested_id], ANY_DAY)
        materials = [self.offer.materials[draft.material_id] for draft in drafts if draft.material_id]
        costs = unit_costs(materials, ANY_DAY)
        facts = SolutionFacts(
            key=self.version.key if self.version else "as typed", name=self.form.cleaned_data["name"],
            version_number=self.version.number if self.version else 1, keeps_minutes=exactly(values["keeps_minutes"]),
            works_at_once=values["works_at_once"], minimum_batch_ml=Fraction(values["minimum_batch_ml"]),
            mixing_minutes=exactly(values["mixing_minutes"]), working_minutes=exactly(values["working_minutes"]),
            ready_after_minutes=Fraction(values["ready_after_minutes"]), reject_if=values["reject_if"],
            cautions=values["cautions"], longer_keeping_reason=values["longer_keeping_reason"],
            ingredients=tuple(self._ingredient(number, draft) for number, draft in enumerate(drafts, start=1)),
        )
        return facts, Shelf(
            materials=shelf.materials | {
                material.code: material_facts(material, costs.get(material.pk)) for material in materials
            },
            solutions=shelf.solutions | {facts.key: facts},
        )

    def _ingredient(self, number: int, draft: IngredientDraft) -> IngredientFacts:
        return IngredientFacts(
            number=number,
            material=self.offer.materials[draft.material_id].code if draft.material_id else None,
            solution=self.offer.solutions[draft.nested_id].key if draft.nested_id else None,
            amount_per_litre=Fraction(draft.amount_per_litre),
            unit="g" if draft.unit == "g" else "mL",
            scales_with_strength=draft.scales_with_strength,
            make_up=draft.make_up,
            instruction=draft.instruction,
            end_point=draft.end_point,
        )


def _amount_as_typed(ingredient: Ingredient) -> str:
    if ingredient.make_up:
        return ""
    return ingredient.typed or f"{plain(ingredient.amount_per_litre)} {ingredient.unit}/L"


def _initial(version: SolutionVersion) -> list[dict[str, Any]]:
    return [
        {
            "place": ingredient.number,
            "what": f"m{ingredient.material_id}" if ingredient.material_id else f"s{ingredient.nested_id}",
            "amount": _amount_as_typed(ingredient),
            "make_up": ingredient.make_up,
            "scales_with_strength": ingredient.scales_with_strength,
            "instruction": ingredient.instruction,
            "end_point": ingredient.end_point,
        }
        for ingredient in version.ingredients.all()
    ]
