"""Forms of kept offcuts."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.house.form_keys import KeyField
from studio.kit.meant_so import AsksOfSizes
from studio.stockroom.models import Material


class OffcutForm(AsksOfSizes):
    """An offcut to keep: its glass, its size as typed, and its storage place."""

    material = forms.ModelChoiceField(Material.objects.filter(kind=Material.Kind.GLASS), label="Glass")
    size = forms.CharField(max_length=60, widget=forms.TextInput(attrs={"placeholder": "600 x 450 mm"}))
    place = forms.CharField(max_length=60, required=False, label="Storage place")
    key = KeyField()

    def __init__(self, data: Any = None, *, default_unit: str = "mm", **more: Any) -> None:
        super().__init__(data, **more)
        self.default_unit = default_unit

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        size = self.read_size("size", self.default_unit)
        if size is not None and size.single:
            self.add_error("size", "Write width × height, for instance “600 x 450 mm”.")
        elif size is not None:
            values["size"] = size
        return values
