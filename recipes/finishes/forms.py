"""Forms for writing finishes: a finish, a version as a whole, and the load that a step's mixes are shown for."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from django import forms

from recipes.finishes.volumes import SampleLoad
from recipes.models import Finish
from studio.kit.errors import DaybookError
from studio.kit.typed_fields import TypedField, set_preference
from studio.kit.units import parse_size, size_unit

if TYPE_CHECKING:  # Django's forms are generic for the type checker alone
    FinishModelForm = forms.ModelForm[Finish]
else:
    FinishModelForm = forms.ModelForm

#: first words of this room's own addresses: no finish can have that name
OWN_ADDRESSES = frozenset({"new", "solutions", "trials", "compare", "strengths", "swatch-book", "uses"})


class FinishForm(FinishModelForm):
    """A finish as customers choose it, with its two photographs."""

    front = forms.FileField(required=False, label="Photograph of the front",
                            widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}))
    back = forms.FileField(required=False, label="Photograph of the back",
                           widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}))

    class Meta:
        model = Finish
        fields = [
            "name",
            "family",
            "description",
            "suits_glass",
            "has_direction",
            "typical_variation",
            "lead_time_days",
            "in_swatch_book",
            "swatch_place",
        ]
        labels = {
            "suits_glass": "Suitable glass", "has_direction": "It has a direction: panes do not turn on the sheet",
            "typical_variation": "What varies", "lead_time_days": "Usually ready, working days after go-ahead",
            "in_swatch_book": "In the customers' swatch book", "swatch_place": "Place in the swatch book",
        }
        widgets = {
            "description": forms.Textarea(attrs={"rows": 4}),
            "typical_variation": forms.Textarea(attrs={"rows": 2}),
        }

    def clean_name(self) -> str:
        from django.utils.text import slugify

        name = str(self.cleaned_data["name"]).strip()
        code = slugify(name)
        if not code or code in OWN_ADDRESSES:
            raise forms.ValidationError("The daybook uses that word for a page of its own: choose another name.")
        if self.instance.pk is None and Finish.objects.filter(code=code[:90]).exists():
            raise forms.ValidationError("Another finish has nearly the same name: choose one that tells them apart.")
        return name


class VersionForm(forms.Form):
    """What a draft says as a whole: why, film, yield."""

    why = forms.CharField(max_length=300, required=False, label="Why this version",
                          widget=forms.Textarea(attrs={"rows": 2}))
    film_nm = forms.DecimalField(min_value=0, max_value=10_000, max_digits=12, decimal_places=6, initial=70,
                                 label="Silver film, nm", help_text="70 unless you measured it.")
    own_yield_share = TypedField("share", label="Yield, if set by hand",
                                 help_text="Empty: from the finish's own runs. For instance 85 %.")

    def clean_own_yield_share(self) -> Decimal | None:
        value: Decimal | None = self.cleaned_data["own_yield_share"].value
        if value is not None and not 0 < value <= 1:
            raise forms.ValidationError("A yield is above 0 % and at most 100 %.")
        return value


class LoadForm(forms.Form):
    """The load that a step's mixes are shown for: so many panes of one size."""

    load_panes = forms.IntegerField(min_value=1, max_value=200, label="Mixed for", required=False)
    load_size = forms.CharField(max_length=40, required=False, label="panes of")

    def __init__(self, data: Any = None, *, preference: str = "metric") -> None:
        super().__init__(data)
        self.preference = preference
        self.initial = {"load_panes": 4, "load_size": "305 x 305 mm" if preference == "metric" else "12 x 12 in"}

    def load(self) -> SampleLoad:
        """Return the load as typed, or four sample panes while it is not understood."""
        standard = parse_size(self.initial["load_size"])
        panes, size = 4, standard
        if self.is_bound and self.is_valid():
            panes = self.cleaned_data["load_panes"] or 4
            try:
                size = parse_size(self.cleaned_data["load_size"] or self.initial["load_size"],
                                  size_unit(self.preference))
            except DaybookError as refusal:
                self.add_error("load_size", str(refusal))
        return SampleLoad(panes=panes, width_mm=Fraction(size.width_mm), height_mm=Fraction(size.height_mm))


class StartDraftForm(forms.Form):
    came_from = forms.IntegerField(required=False, widget=forms.HiddenInput())
    why = forms.CharField(max_length=300, required=False, label="Why a new version")


def version_form(data: Any, preference: str, initial: dict[str, Any]) -> VersionForm:
    form = VersionForm(data, initial=initial)
    set_preference(form, preference)
    return form
