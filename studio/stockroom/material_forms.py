"""Forms of materials: a material as it is entered, and one lot received by hand."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any, ClassVar

from django import forms
from django.utils.text import slugify

from studio.exact import RATIO_DECIMALS, STOCK_DECIMALS
from studio.house.form_keys import KeyField
from studio.house.typed_fields import DayField, MoneyField
from studio.kit.errors import DaybookError
from studio.kit.keeping_times import DAY_MINUTES, keeping_question
from studio.kit.meant_so import AsksOnce
from studio.kit.rounding import as_decimal, plain
from studio.kit.typed_fields import TypedField, set_preference
from studio.kit.typed_values import Typed
from studio.kit.units import stock_amount
from studio.stockroom.forms import unusual_amounts, unusual_prices
from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.hazards.identity import Identity, silver_content
from studio.stockroom.hazards.statements import (
    PICTOGRAMS,
    follows_from,
    graver_word,
    precaution_in_words,
    statement_in_words,
)
from studio.stockroom.hazards.typed_statements import as_typed, read_hazard_statements, read_precautions
from studio.stockroom.ledger import why_not_received
from studio.stockroom.models import Material, StoragePlace

if TYPE_CHECKING:  # Django's forms are generic for the type checker alone
    MaterialModelForm = forms.ModelForm[Material]
    PlaceModelForm = forms.ModelForm[StoragePlace]
else:
    MaterialModelForm = PlaceModelForm = forms.ModelForm


#: first words of the stockroom's own addresses: no material can have such a name
OWN_ADDRESSES = frozenset({
    "new", "receive", "storage", "counts", "waste", "labels", "lots", "prices", "tables", "buying", "silver-account",
    "offcuts", "unclassed", "starting-shelf",
})


NONE_APPLY = "I have read its data sheet: none of these apply"
NO_STATEMENTS = "I have read its data sheet: it gives no hazard statement"


def _codes(known: dict[str, str], label: str) -> forms.MultipleChoiceField:
    """Return a field of codes to tick, each with its words."""
    return forms.MultipleChoiceField(
        choices=[(code, words if code == code.lower() else f"{code} {words}") for code, words in known.items()],
        required=False, label=label, widget=forms.CheckboxSelectMultiple,
    )


def _raised(word: str, follows: str) -> str:
    """Return a signal word where it is graver than the one that follows from statements, else none."""
    return word if graver_word([word, follows]) != follows else ""


class MaterialForm(MaterialModelForm, AsksOnce):
    """A material: what it is, how it is measured, its hazards, its storage place and what it costs."""

    hazard_statements = forms.CharField(
        required=False, label="Hazard statements", widget=forms.Textarea(attrs={"rows": 3}),
        help_text="H and EUH codes between commas or spaces, or the lines of the supplier's data sheet. H272 and the "
                  "like with their category: H272 (3); what the sheet names in brackets too: H373 (kidneys).",
    )
    precautions = forms.CharField(
        required=False, label="Precautionary statements", widget=forms.Textarea(attrs={"rows": 3}),
        help_text="P codes, the same way: P280, P301+P330+P331. A label shows six, or what the hazard needs.",
    )
    pictograms = _codes(PICTOGRAMS, "More pictograms than follow from the statements")
    reacts_as = _codes(REACTS_AS, "Reacts as, beside what its number and formula tell (decides what it must not meet)")
    why_taken_away = forms.CharField(
        required=False, max_length=200, label="Why it no longer reacts as what is unticked",
        help_text="Asked for what is in use, and kept in its history. What its number, formula, silver or statements "
                  "told stays ticked when they are emptied.",
    )
    sheet_width_mm = TypedField("length", label="Sheet width", help_text="As it is bought: 2250 mm, 88 in.")
    sheet_height_mm = TypedField("length", label="Sheet height", help_text="As it is bought: 1605 mm, 63 in.")
    thickness_mm = TypedField("thickness", label="Thickness", help_text="For instance 4 mm.")
    assay_share = TypedField("share", label="Assay", help_text="For instance 37 %.")

    class Meta:
        model = Material
        fields = [
            "name", "kind", "stock_unit", "liquid", "density_g_per_ml", "formula", "hydrate", "assay_share",
            "cas_number", "hazard_statements", "precautions",
            "pictograms", "signal_word", "no_statements", "reacts_as", "none_apply", "must_be_diluted",
            "silver_g_per_unit", "storage_place", "shelf_life_days", "opened_life_days", "reorder_point", "pack_size",
            "list_price", "sheet_width_mm", "sheet_height_mm", "thickness_mm", "tint", "treatment", "same_glass",
        ]
        labels = {
            "stock_unit": "Stock unit", "liquid": "It is a liquid", "density_g_per_ml": "Density, g/mL",
            "cas_number": "CAS number", "none_apply": NONE_APPLY,
            "no_statements": NO_STATEMENTS, "must_be_diluted": "Never used neat",
            "silver_g_per_unit": "Silver in one stock unit, g (empty: by formula or number, and assay)",
            "shelf_life_days": "Keeps unopened, days",
            "opened_life_days": "Keeps once opened, days", "reorder_point": "Reorder at, in stock units",
            "pack_size": "Pack holds, in stock units",
            "signal_word": "Raise the signal word to",
            "same_glass": "One word for all stock sizes of this glass", "list_price": "List price per stock unit",
        }

        field_classes: ClassVar[dict[str, type[forms.Field]]] = {"list_price": MoneyField}
        help_texts: ClassVar[dict[str, str]] = {
            "name": "As it stands on the label.", "kind": "Decides where it is used and counted.",
            "stock_unit": "What it is counted in; fixed once a lot came.",
            "liquid": "Then mL and g are both understood.", "formula": "For instance AgNO3.",
            "hydrate": "Its water of crystallisation, for instance dihydrate.",
            "density_g_per_ml": "From its data sheet; needed where it is dosed by mass and by volume.",
            "silver_g_per_unit": "For instance 0.635 a gram of silver nitrate.",
            "cas_number": "From its label: it tells its hazards and how it reacts.",
            "must_be_diluted": "A recipe that uses it neat is refused.", "storage_place": "The cabinet or shelf.",
            "shelf_life_days": "From the day it came, where its label gives no date.",
            "opened_life_days": "From the day it is opened.",
            "reorder_point": "Below this it stands on the buying list.",
            "pack_size": "What one pack holds, to buy whole packs.",
            "list_price": "Counts until a lot came in with its own price.",
            "tint": "Clear, low-iron or tinted.", "treatment": "Toughened glass is never cut.",
            "same_glass": "For instance clear-4: then offcuts and sheets of all sizes serve one line.",
            "signal_word": "Only where the data sheet has a graver one than follows.",
            "no_statements": "Only after reading its section 2.", "none_apply": "Only after reading its data sheet.",
        }

    #: fields as the page groups them: what everybody gives, then what is folded away until it holds something
    GROUPS = (
        ("What it is", ("name", "kind", "stock_unit", "liquid", "cas_number")),
        ("On the shelf", ("storage_place", "list_price")),
    )
    FOLDED = (
        ("Formula, assay, density, silver", ("formula", "hydrate", "assay_share", "density_g_per_ml",
                                             "silver_g_per_unit", "must_be_diluted")),
        ("How long it keeps, when to reorder", ("shelf_life_days", "opened_life_days", "reorder_point", "pack_size")),
        ("Glass only: sheet, thickness, tint", ("sheet_width_mm", "sheet_height_mm", "thickness_mm", "tint",
                                                "treatment", "same_glass")),
    )

    def __init__(self, data: Any = None, *, instance: Material | None = None, preference: str = "metric") -> None:
        super().__init__(data, instance=instance)
        set_preference(self, preference)
        self.fields["silver_g_per_unit"].required = False
        self.initial["hazard_statements"] = as_typed(self.instance.hazard_statements,
                                                     self.instance.statement_categories)
        self.initial["precautions"] = as_typed(self.instance.precautions)
        follows = self.instance.follows
        self.initial["pictograms"] = [sign for sign in self.instance.pictograms if sign not in follows.pictograms]
        self.initial["signal_word"] = _raised(self.instance.signal_word, follows.signal_word)
        for name, field in self.fields.items():
            if isinstance(field, TypedField) and instance is not None:
                self.initial[name] = field.shown(getattr(instance, name))
            elif isinstance(self.initial.get(name), Decimal) and not isinstance(field, MoneyField):
                self.initial[name] = plain(self.initial[name])
        if instance is not None and instance.lots.exists():
            self.fields["stock_unit"].disabled = True

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        for name, value in list(values.items()):
            if isinstance(value, Typed):
                values[name] = value.value
        if values.get("stock_unit") == Material.StockUnit.MILLILITRE:
            values["liquid"] = True
        if not values.get("silver_g_per_unit"):
            values["silver_g_per_unit"] = self._silver_by_formula(values)
        follows = follows_from(values.get("hazard_statements", []), self.instance.statement_categories)
        values["pictograms"] = [sign for sign in values.get("pictograms", []) if sign not in follows.pictograms]
        values["signal_word"] = _raised(values.get("signal_word", ""), follows.signal_word)
        self._ask_of_figures(values)
        return values

    def _ask_of_figures(self, values: dict[str, Any]) -> None:
        """Ask about a price a hundred times any before, and about what keeps for more than ten years."""
        price = values.get("list_price")
        if price and self.instance.pk and "list_price" in self.changed_data:
            question = unusual_prices([(self.instance, Fraction(price))])
            if question:
                self.ask("list_price", question)
        for name in ("shelf_life_days", "opened_life_days"):
            if not values.get(name) or name not in self.changed_data:
                continue
            try:
                question = keeping_question(Fraction(values[name]) * DAY_MINUTES)
            except DaybookError as refusal:
                self.add_error(name, str(refusal))
                continue
            if question:
                self.ask(name, question)

    @staticmethod
    def _silver_by_formula(values: dict[str, Any]) -> Decimal:
        """Return the silver in a stock unit by formula and assay: left empty, it is worked out."""
        assay, density = values.get("assay_share"), values.get("density_g_per_ml")
        content = silver_content(
            Identity(cas=values.get("cas_number", ""), formula=values.get("formula", ""),
                     hydrate=values.get("hydrate", ""), assay_share=None if assay is None else Fraction(assay)),
            stock_unit=values.get("stock_unit", ""), density=None if density is None else Fraction(density),
        )
        return as_decimal(content or Fraction(0), RATIO_DECIMALS)

    def clean_hazard_statements(self) -> list[str]:
        """Read the statements; their categories are kept beside them."""
        try:
            typed = read_hazard_statements(self.cleaned_data["hazard_statements"])
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        self.instance.statement_categories = dict(typed.categories)
        return list(typed.codes)

    def clean_precautions(self) -> list[str]:
        try:
            return list(read_precautions(self.cleaned_data["precautions"]).codes)
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal

    def clean_name(self) -> str:
        name = str(self.cleaned_data["name"]).strip()
        if slugify(name) in OWN_ADDRESSES:
            raise forms.ValidationError("A page of the daybook has that address: choose another name.")
        return name

    def clean_assay_share(self) -> Typed:
        typed: Typed = self.cleaned_data["assay_share"]
        if typed.value is not None and typed.value > 1:
            raise forms.ValidationError("An assay is at most 100 %: write for instance 37 %.")
        return typed

    @property
    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [(name, [self[field] for field in fields]) for name, fields in self.GROUPS]

    @property
    def folded(self) -> list[tuple[str, list[forms.BoundField], bool]]:
        """Return the folded groups: their words, their fields, and whether one holds or refuses something."""
        blank = Material()
        return [
            (words, [self[name] for name in names], any(self._is_said(name, blank) for name in names))
            for words, names in self.FOLDED
        ]

    def _is_said(self, name: str, blank: Material) -> bool:
        field = self[name]
        unsaid = ("", "0", "None", "False", str(getattr(blank, name, "")))
        return bool(field.errors) or str(field.value() or "") not in unsaid

    @property
    def hazard_fields(self) -> list[forms.BoundField]:
        """Return the fields of hazards that are ticked."""
        return [self[name] for name in ("reacts_as", "pictograms")]

    @property
    def typed_hazard_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("hazard_statements", "precautions")]

    @property
    def follows(self) -> tuple[list[str], str, str]:
        """Return what follows from the statements: pictograms in words, signal word, what lacks its category."""
        follows = self.instance.follows
        return [PICTOGRAMS[sign] for sign in follows.pictograms], follows.signal_word, " and ".join(follows.undecided)

    @property
    def statements_in_words(self) -> list[tuple[str, str]]:
        """Return the statements as they were read, each with its words."""
        material = self.instance
        return [
            *((as_typed([code], material.statement_categories),
               statement_in_words(code, material.statement_categories.get(code, "")))
              for code in material.hazard_statements),
            *((code, precaution_in_words(code)) for code in material.precautions),
        ]


class PlaceForm(PlaceModelForm):
    """What a storage place is for. Its name is the one that materials give."""

    class Meta:
        model = StoragePlace
        fields = ["type", "is_cold", "is_dark"]
        labels = {"type": "It is", "is_cold": "It is cold", "is_dark": "It is dark"}


class ReceiveForm(AsksOnce):
    """One lot as received. The amount as on the label: “500 g”, “1 US gal”, “6 sheets”."""

    lot_number = forms.CharField(max_length=40)
    supplier = forms.CharField(max_length=80, required=False)
    amount = forms.CharField(max_length=30, help_text="As on the label, with its unit.")
    cost_with_carriage = MoneyField(max_digits=12,
                                    help_text="Price plus carriage, without tax that you reclaim.")
    received_on = DayField(towards="back")
    expires_on = DayField(required=False,
                          help_text="Leave empty to use the material's shelf life.")
    key = KeyField()

    def __init__(self, data: Any = None, *, material: Material, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, initial=initial)
        self.material = material

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        if refused := why_not_received(self.material):
            self.add_error(None, refused)
        amount, cost = values.get("amount"), values.get("cost_with_carriage")
        question = unusual_amounts([(self.material, amount)]) if amount else ""
        if question:
            self.ask("amount", question)
        question = unusual_prices([(self.material, Fraction(cost) / Fraction(amount))]) if amount and cost else ""
        if question:
            self.ask("cost_with_carriage", question)
        return values

    def clean_amount(self) -> Decimal:
        density = self.material.density_g_per_ml
        try:
            amount = stock_amount(
                self.cleaned_data["amount"], self.material.stock_unit, None if density is None else Fraction(density)
            )
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if amount <= 0:
            raise forms.ValidationError("Give an amount above nothing.")
        return as_decimal(amount, STOCK_DECIMALS)
