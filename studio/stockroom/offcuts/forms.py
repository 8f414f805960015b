"""Forms of kept offcuts."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.house.form_keys import KeyField
from studio.kit.errors import DaybookError
from studio.kit.units import Size, parse_size
from studio.stockroom.models import Material


class OffcutForm(forms.Form):
    """An offcut to keep: its glass, its size as typed, and its storage place."""

    material = forms.ModelChoiceField(Material.objects.filter(kind=Material.Kind.GLASS), label="Glass")
    size = forms.CharField(max_length=60, widget=forms.TextInput(attrs={"placeholder": "600 x 450 mm"}))
    place = forms.CharField(max_length=60, required=False, label="Storage place")
    key = KeyField()

    def __init__(self, data: Any = None, *, default_unit: str = "mm", **more: Any) -> None:
        super().__init__(data, **more)
        self.default_unit = default_unit

    def clean_size(self) -> Size:
        try:
            size = parse_size(self.cleaned_data["size"], self.default_unit)
        except DaybookError as refusal:
            raise forms.ValidationError(str(refusal)) from refusal
        if size.single:
            raise forms.ValidationError("Write width × height, for instance “600 x 450 mm”.")
        return size
