"""Forms of counting."""

from __future__ import annotations

from datetime import datetime, time
from typing import Any

from django import forms
from django.utils import timezone

from studio.house.clock import today
from studio.house.form_keys import KeyField
from studio.house.typed_fields import MomentField


class CountForm(forms.Form):
    """A new count sheet: its storage place, and whether it hides the expected amounts."""

    place = forms.ChoiceField(required=False, label="Storage place", error_messages={
        "invalid_choice": "Nothing stands at “%(value)s”: choose a place of the list."})
    hide_expected = forms.BooleanField(required=False, initial=True, label="Hide expected amounts")
    key = KeyField()

    def __init__(self, data: Any = None, *, places: list[str], **more: Any) -> None:
        super().__init__(data, **more)
        self.fields["place"].choices = [  # type: ignore[attr-defined]
            ("", "everything"), *((place, place) for place in places)
        ]


class WrittenForm(forms.Form):
    """When the figures of a sheet were written, where that was earlier than now: for all of them, or line by line.

    lines: ids of the sheet's lines. A line's own time is one of the day given for all; of today without one.
    """

    written_at = MomentField(
        required=False, label="Written at, if earlier than now",
        help_text="For a sheet filled in on paper, for instance yesterday 16:40. A line counted at another time has "
                  "its own.",
    )

    def __init__(self, data: Any = None, *, lines: list[int], **more: Any) -> None:
        super().__init__(data, **more)
        for line in lines:
            self.fields[self.name_of(line)] = forms.TimeField(
                required=False, label="Written at", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
                error_messages={"invalid": "Write the time, for instance 10:15."},
            )

    @staticmethod
    def name_of(line: int) -> str:
        return f"at-{line}"

    def of_line(self, line: int) -> datetime | None:
        """Return when a line's figure was written, as typed; None: nothing is said. Only of a form that is checked."""
        whole: datetime | None = self.cleaned_data.get("written_at")
        own: time | None = self.cleaned_data.get(self.name_of(line))
        if own is None:
            return whole
        day = timezone.localtime(whole).date() if whole else today()
        return timezone.make_aware(datetime.combine(day, own))

    def said_of(self, line: int) -> str:
        """Return what is wrong with a line's time, or with that of all lines."""
        return " ".join(str(said) for name in (self.name_of(line), "written_at") for said in self.errors.get(name, ()))
