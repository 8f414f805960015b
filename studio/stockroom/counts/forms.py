"""Forms of counting."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.house.form_keys import KeyField


class CountForm(forms.Form):
    """A new count sheet: its storage place, and whether it hides the expected amounts."""

    place = forms.ChoiceField(required=False, label="Storage place")
    hide_expected = forms.BooleanField(required=False, initial=True, label="Hide expected amounts")
    key = KeyField()

    def __init__(self, data: Any = None, *, places: list[str], **more: Any) -> None:
        super().__init__(data, **more)
        self.fields["place"].choices = [  # type: ignore[attr-defined]
            ("", "everything"), *((place, place) for place in places)
        ]
