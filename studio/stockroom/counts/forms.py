"""Forms of counting."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.house.form_keys import KeyField


class CountForm(forms.Form):
    place = forms.ChoiceField(required=False, label="Storage place")
    hide_expected = forms.BooleanField(required=False, initial=True, label="Blind: expected amounts are not shown")
    key = KeyField()

    def __init__(self, data: Any = None, *, places: list[str], **more: Any) -> None:
        super().__init__(data, **more)
        self.fields["place"].choices = [  # type: ignore[attr-defined]
            ("", "everything"), *((place, place) for place in places)
        ]
