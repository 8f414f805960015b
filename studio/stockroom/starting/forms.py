"""The forms of materials that nobody has classed yet: a number or formula, classes, or “none apply”."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError

from studio.stockroom.hazards.classes import REACTS_AS
from studio.stockroom.material_forms import NONE_APPLY
from studio.stockroom.models import Material

if TYPE_CHECKING:  # Django's forms are generic for the type checker alone
    MaterialModelForm = forms.ModelForm[Material]
else:
    MaterialModelForm = forms.ModelForm


class ClassingForm(MaterialModelForm):
    """What one unclassed material is; its code stands before each field's name, so that many share a page."""

    reacts_as = forms.MultipleChoiceField(
        choices=list(REACTS_AS.items()), required=False, label="Reacts as", widget=forms.CheckboxSelectMultiple,
    )
    saves = forms.IntegerField(widget=forms.HiddenInput)

    class Meta:
        model = Material
        fields = ["cas_number", "formula", "hydrate", "reacts_as", "none_apply"]
        labels = {"cas_number": "CAS number", "none_apply": NONE_APPLY}

    def __init__(self, data: Any = None, *, instance: Material) -> None:
        super().__init__(data, instance=instance, prefix=instance.code, initial={"saves": instance.saves})
        self.fields["none_apply"].help_text = ""

    def add_error(self, field: str | None, error: Any) -> None:
        """Let a refusal of a field that is not here stand over the form."""
        if isinstance(error, ValidationError) and hasattr(error, "error_dict"):
            placed: dict[str, list[Any]] = {}
            for name, found in error.error_dict.items():
                placed.setdefault(name if name in self.fields else NON_FIELD_ERRORS, []).extend(found)
            error = ValidationError(placed)
        super().add_error(field, error)

    @property
    def short_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("cas_number", "formula", "hydrate", "none_apply")]
