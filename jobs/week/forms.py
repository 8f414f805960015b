"""What is typed of the week: where a stretch stays, on which day a load begins, how much a job weighs."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import time
from typing import Any

from django import forms

from jobs.models.week import MOST_WEIGHT
from jobs.week.keeping_free import Free
from jobs.week.placing import OfJob, Pinning
from studio.house.form_keys import KeyField
from studio.house.typed_fields import DayField
from studio.kit.working_hours import NoHours, parse_hours

_LOAD = re.compile(r"r\d{1,3}l\d{1,3}")


class ClockField(forms.CharField):
    """A time of the day as people type it: 9:30, 9.30, 9h30, 2pm."""

    def to_python(self, value: Any) -> Any:
        text = (super().to_python(value) or "").strip()
        if not text:
            return None
        try:
            hours = parse_hours(f"{text}-23:59")
        except NoHours as wrong:
            raise forms.ValidationError(f"“{text}” was not understood as a time: write for instance 9:30 or 2pm.",
                                        code="invalid") from wrong
        return hours[0] if hours else None

    def prepare_value(self, value: Any) -> Any:
        return f"{value:%H:%M}" if isinstance(value, time) else value


class PinForm(forms.Form):
    """Where a stretch stays and whose hands do it, or the day on which a load begins."""

    key = KeyField()
    load = forms.CharField(max_length=12, widget=forms.HiddenInput, label="Load")
    stretch = forms.IntegerField(min_value=0, max_value=99, widget=forms.HiddenInput, label="Stretch")
    on = DayField(label="Day", help_text="For instance Thu, 3 Dec or in 2 days.")
    at = ClockField(label="From", required=False, help_text="For instance 9:30 or 2pm.")
    bench = forms.ChoiceField(
        label="Bench", required=False, help_text="Where it lies while it is wet.",
        error_messages={"invalid_choice": "There is no bench called “%(value)s”: choose another."})

    who = forms.ChoiceField(
        label="Hands", required=False,
        choices=[("", "anybody's"), ("owner", "the owner's"), ("helper", "the helper's")],
        help_text="With no time given, only the hands are pinned.")

    def __init__(self, *given: Any, benches: Sequence[str], **more: Any) -> None:
        super().__init__(*given, **more)
        self.fields["bench"].choices = [(name, name) for name in benches]  # type: ignore[attr-defined]

    def clean_load(self) -> str:
        load = str(self.cleaned_data["load"])
        if not _LOAD.fullmatch(load):
            raise forms.ValidationError("This form has lost its load: open the page again.")
        return load

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if values.get("stretch") and not self.errors:
            if values.get("at") is None and not values.get("who"):
                self.add_error("at", "Say from when: a pinned stretch has its time.")
            if values.get("at") is not None and not values.get("bench"):
                self.add_error("bench", "Say on which bench.")
        return values

    @property
    def pinning(self) -> Pinning:
        values = self.cleaned_data
        whole, at = not values["stretch"], values["at"]
        return Pinning(load=values["load"], stretch=values["stretch"], on=values["on"], at=None if whole else at,
                       bench="" if whole or at is None else values["bench"], who="" if whole else values["who"])


class FreeForm(forms.Form):
    """Hours of a day that one of the two keeps free of bench work."""

    key = KeyField()
    who = forms.ChoiceField(label="Whose", choices=[("owner", "the owner's"), ("helper", "the helper's")])
    on = DayField(label="Day", help_text="For instance Thu, 3 Dec or in 2 days.")
    begins = ClockField(label="From", help_text="For instance 9:30 or 2pm.",
                        error_messages={"required": "Say from when."})
    ends = ClockField(label="To", help_text="For instance 17:00.", error_messages={"required": "Say until when."})
    because = forms.CharField(max_length=80, required=False, label="Why",
                              help_text="As the week says it: showroom, dentist. May stay empty.")

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        if values.get("begins") and values.get("ends") and values["ends"] <= values["begins"]:
            self.add_error("ends", "That is not after the hour it begins at.")
        return values

    @property
    def free(self) -> Free:
        values = self.cleaned_data
        return Free(who=values["who"], on=values["on"], begins=values["begins"], ends=values["ends"],
                    because=values["because"].strip())


class OfJobForm(forms.Form):
    """What the owner says of a job as a whole."""

    weight = forms.IntegerField(min_value=1, max_value=MOST_WEIGHT, initial=1, label="Weight",
                                help_text=f"How much a day late counts, 1 to {MOST_WEIGHT}; 1 is usual.")
    not_before = DayField(label="Not before", required=False, help_text="Nothing of it begins sooner. Empty: at once.")
    because = forms.CharField(max_length=80, required=False, label="Why",
                              help_text="Stands in its sentence, which the helper reads too: the sample dries.")

    @property
    def said(self) -> OfJob:
        values = self.cleaned_data
        return OfJob(weight=values["weight"], not_before=values["not_before"], because=values["because"].strip())
