"""The strengths page as a form: the strength of the stock, the strength wanted, and how much to make."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django import forms

from recipes.chemistry.concentration import (
    WAYS,
    Dilution,
    Known,
    Ratio,
    UnknownWay,
    Way,
    dilute,
    grams_per_litre,
    in_every_way,
    parse_ratio,
    way_of,
)
from studio.kit.errors import DaybookError
from studio.kit.formulas import molar_mass
from studio.kit.units import amount_in, plain_number
from studio.stockroom.models import Material


@dataclass(frozen=True, kw_only=True)
class Answer:
    """The strength of the stock stated in every way, and the dilution where one was asked for."""

    known: Known
    grams_per_litre: Fraction | None
    ways: dict[str, Fraction | str]
    made: Fraction
    dilution: Dilution | None = None
    ratio: Ratio | None = None
    ratio_dilution: Dilution | None = None
    other_dilution: Dilution | None = None
    wanted_grams: Fraction | None = None
    #: the unit that a dilution is measured in: by mass where a mass is made, else by volume
    unit: str = "mL"

    @property
    def by_mass(self) -> bool:
        return self.unit == "g"


def _optional(label: str, **more: Any) -> forms.CharField:
    return forms.CharField(max_length=30, required=False, label=label, **more)


def _way(values: dict[str, Any], field: str) -> Way:
    """Return how a strength is stated. Raises UnknownWay, beside its field, where that is missing."""
    try:
        way_of(values[field])
    except UnknownWay as missing:
        raise UnknownWay(str(missing), field) from missing
    return str(values[field])


class StrengthForm(forms.Form):
    """What is known of a stock, and what is wanted. Refusals name these fields, and are shown beside them."""

    material = forms.ModelChoiceField(
        Material.objects.filter(kind=Material.Kind.CHEMICAL), required=False, to_field_name="code",
        empty_label="something else", help_text="Its formula and density are used unless others are typed.",
    )
    amount = _optional("Strength of the stock", help_text="For instance 28.")
    way = forms.ChoiceField(choices=list(WAYS.items()), required=False, label="Stated as")
    formula = _optional("Formula", help_text="For instance AgNO3 or SnCl2·2H2O.")
    molar_mass = _optional("Molar mass, g/mol")
    solution_density = _optional("Density of the stock, g/mL")
    pure_density = _optional("Density of the pure liquid, g/mL")
    wanted = _optional("Strength wanted", help_text="Or parts: 1:32, 1 in 32.")
    wanted_way = forms.ChoiceField(choices=list(WAYS.items()), required=False, label="Stated as")
    volume = _optional("Amount to make", help_text="For instance 750 mL.")

    @classmethod
    def asked(cls, data: Any) -> StrengthForm:
        return cls(data) if data else cls(initial={"way": "% w/w", "wanted_way": "g/L", "volume": "1 L"})

    @property
    def more_is_used(self) -> bool:
        """Say whether the folded fields hold something typed or refused."""
        folded = [self[name] for name in ("formula", "molar_mass", "solution_density", "pure_density")]
        return any(field.value() or field.errors for field in folded)

    def _number(self, name: str) -> Fraction | None:
        text = str(self.cleaned_data.get(name) or "").strip()
        if not text:
            return None
        try:
            number = plain_number(text)
            if number <= 0:
                raise DaybookError("It must be above zero.")
        except DaybookError as refusal:
            self.add_error(name, str(refusal))
            return None
        return number

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        for name in ("amount", "molar_mass", "solution_density", "pure_density"):
            values[f"{name}_number"] = self._number(name)
        values["volume_ml"] = Fraction(1000)
        values["mass_g"] = None
        if values.get("volume"):
            self._how_much(values)
        try:
            values["ratio"] = parse_ratio(values.get("wanted") or "")
        except DaybookError as refusal:
            values["ratio"] = None
            self.add_error("wanted", str(refusal))
        wanted = "" if values["ratio"] else str(values.get("wanted") or "")
        values["wanted_number"] = self._number("wanted") if wanted else None
        if not values["amount_number"] and not values["ratio"] and "amount" not in self.errors:
            self.add_error("amount", "Give the strength of the stock, or write parts as the strength wanted.")
        return values

    def _how_much(self, values: dict[str, Any]) -> None:
        """Read what is to be made: a volume, or a mass where strengths are by mass."""
        try:
            values["volume_ml"] = amount_in(values["volume"], "volume", "ml")
        except DaybookError as refusal:
            try:
                values["mass_g"] = amount_in(values["volume"], "mass")
            except DaybookError:
                self.add_error("volume", str(refusal))

    def _known(self) -> Known:
        values, material = self.cleaned_data, self.cleaned_data.get("material")
        mass = values["molar_mass_number"]
        try:
            if mass is None and values.get("formula"):
                mass = molar_mass(values["formula"])
            elif mass is None and material is not None and material.formula:
                mass = molar_mass(material.formula, material.hydrate)
        except DaybookError as refusal:
            self.add_error("formula", str(refusal))
        own_density = Fraction(material.density_g_per_ml) if material and material.density_g_per_ml else None
        return Known(
            name=material.name if material else values.get("formula") or "the substance", molar_mass=mass,
            solution_density=values["solution_density_number"] or own_density,
            pure_density=values["pure_density_number"],
        )

    def answer(self) -> Answer | None:
        """Work it out; a refusal is shown beside its field and there is no answer."""
        values, known = self.cleaned_data, self._known()
        volume, ratio = values["volume_ml"], values["ratio"]
        try:
            grams = None
            ways: dict[str, Fraction | str] = {}
            by_mass = values["mass_g"] is not None and values["way"] == values["wanted_way"] == "% w/w"
            if values["amount_number"] and not by_mass:  # weighed out, nothing needs a density
                grams = grams_per_litre(values["amount_number"], _way(values, "way"), known)
                ways = {WAYS[way]: figure for way, figure in in_every_way(grams, known).items()}
            dilution, wanted_grams = None, None
            if values["wanted_number"] and values["amount_number"] and values["mass_g"] is not None:
                if not by_mass:
                    raise DaybookError("To make an amount in grams, state both strengths as percent by mass.", "volume")
                dilution = dilute(values["amount_number"], values["wanted_number"], values["mass_g"])
            elif values["wanted_number"] and grams:
                diluted = Known(name=known.name, molar_mass=known.molar_mass, pure_density=known.pure_density)
                wanted_grams = grams_per_litre(values["wanted_number"], _way(values, "wanted_way"), diluted)
                dilution = dilute(grams, wanted_grams, volume)
        except DaybookError as refusal:
            field = getattr(refusal, "field", "")
            self.add_error(field if field in self.fields else "amount", str(refusal))
            return None
        return Answer(
            known=known, grams_per_litre=grams, ways=ways,
            made=volume if values["mass_g"] is None else values["mass_g"], dilution=dilution, ratio=ratio,
            ratio_dilution=dilute(Fraction(1), ratio.share, volume) if ratio else None,
            other_dilution=dilute(Fraction(1), min(ratio.other_share, Fraction(1)), volume) if ratio else None,
            wanted_grams=wanted_grams, unit="mL" if values["mass_g"] is None else "g",
        )


