"""Forms of the studio itself: its identity, its rates, its people."""

from __future__ import annotations

from contextlib import suppress
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from django import forms

from studio.house.mark import MOST_BYTES, NoMark, keep_mark, mark_from
from studio.house.models import House, HouseRates, Person
from studio.kit.meant_so import AsksOfRates
from studio.kit.working_hours import DAYS, NoHours, hours_question, parse_hours

if TYPE_CHECKING:  # Django's forms are generic for the type checker alone
    PersonModelForm = forms.ModelForm[Person]
    HouseModelForm = forms.ModelForm[House]
    RatesModelForm = forms.ModelForm[HouseRates]
else:
    PersonModelForm = HouseModelForm = RatesModelForm = forms.ModelForm


class PersonForm(PersonModelForm):
    """Somebody new: the program makes the first password."""

    class Meta:
        model = Person
        fields = ["username", "first_name", "last_name", "role"]
        labels = {"username": "Log-in name", "first_name": "First name", "last_name": "Last name"}
        help_texts = {"username": "Letters, figures and @ . + - _, without spaces.",
                      "role": "What each sees and does stands on the page People."}

    def clean_username(self) -> str:
        name = str(self.cleaned_data["username"])
        if Person.objects.filter(username__iexact=name).exists():
            raise forms.ValidationError("Somebody has that log-in name, or had it: choose another.")
        return name


class ChangePersonForm(PersonModelForm):
    class Meta:
        model = Person
        fields = ["first_name", "last_name", "role"]
        labels, help_texts = PersonForm.Meta.labels, PersonForm.Meta.help_texts


#: a making-safe procedure of fewer letters is hardly one
_SHORTEST_PROCEDURE = 40


class HouseForm(HouseModelForm, AsksOfRates):
    """The studio's settings; a group of them is this form with some of its fields."""

    class Meta:
        model = House
        exclude = ["id", "saves", "mark"]
        labels = {
            "name": "Name of the studio", "tax_number": "Tax number", "paper": "Paper", "units": "Sizes are read in",
            "terms": "Terms", "payment_details": "How to pay", "mail_sender": "Sent from",
            "mail_text": "Letter with a quote", "care_note": "Care note", "ammoniacal_limit_minutes":
            "Ammoniacal silver stands at most, minutes", "waste_days_open": "A waste container stays open for, days",
            "making_safe_procedure": "Making safe what held ammoniacal silver", "spill_procedure": "Spills",
            "waste_procedure": "Waste", "discharge_permit": "Discharge permit",
            "papers_kept_years": "Papers of a forgotten customer stay for, years",
            "request_prefix": "Numbers begin with", "request_first_number": "The first number",
            "request_days": "Due after, days",
        } | {f"hours_{day}": day.capitalize() for day in DAYS}
        help_texts = {
            "name": "As it stands on every page and paper.", "address": "As it stands on quotes.",
            "email": "On quotes, for answers.", "phone": "On quotes.", "tax_number": "On quotes; empty where none.",
            "time_zone": "For instance Europe/Lisbon or America/Chicago. It also says how dates in figures are read.",
            "paper": "For every paper that is printed.", "units": "Where a size is typed without a unit.",
            "terms": "On every quote.",
            "payment_details": "Bank, account, what to write with it: on every quote and request for money.",
            "mail_sender": "The e-mail address that quotes come from; empty: the studio's own.",
            "mail_text": "Before it is sent it can be changed each time. [customer], [title], [quote], [total], "
                         "[until] and [link] become what they say. Empty: the letter that the program begins with.",
            "care_note": "How to clean and hang: on quotes.",
            "making_safe_procedure": "What is added to what, and when, where it stands: whoever does it has this.",
            "spill_procedure": "What is at hand and who is called.",
            "waste_procedure": "Where rinses, rags and residues go.",
            "waste_days_open": "By the studio's own limit; empty for none.",
            "discharge_permit": "The local permit's limits, in its own words.",
            "request_prefix": "Before the number, for instance R- or 26/; empty for none. Requests of before keep "
                              "theirs.",
            "request_first_number": "Of the first request ever made here; every later one is one more, without a gap.",
            "request_days": "From the day that the money is asked for; 0: at once.",
        }
        widgets = {
            name: forms.Textarea(attrs={"rows": 4}) for name in (
                "address", "terms", "payment_details", "mail_text", "care_note", "making_safe_procedure",
                "spill_procedure", "waste_procedure", "discharge_permit",
            )
        }

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        if "ammoniacal_limit_minutes" in self.fields:
            self.fields["ammoniacal_limit_minutes"].required = False
        self._limit = self.instance.ammoniacal_limit_minutes

    def clean(self) -> dict[str, Any]:
        values: dict[str, Any] = super().clean() or self.cleaned_data
        typed = str(values.get("making_safe_procedure", "")).strip()
        if "making_safe_procedure" in self.changed_data and 0 < len(typed) < _SHORTEST_PROCEDURE:
            self.ask("making_safe_procedure", "That is shorter than a sentence, and whoever makes ammoniacal silver "
                                              "safe has only this: say what is added to what, and where it stands.")
        for name in self.changed_data:
            if name.startswith("hours_") and name in values:
                with suppress(NoHours):  # the field's own validator says so
                    if question := hours_question(parse_hours(values[name])):
                        self.ask(name, question)
        self.ask_of_rates({name: value for name, value in values.items() if name in self.changed_data})
        return values

    def clean_ammoniacal_limit_minutes(self) -> int:
        """Leave the limit as it is where nothing is typed: there is always one."""
        typed = self.cleaned_data["ammoniacal_limit_minutes"]
        return self._limit if typed is None else int(typed)

    def settings(self) -> dict[str, Any]:
        """Return the settings to save; only for a valid form."""
        return dict(self.cleaned_data)


class PapersForm(HouseForm):
    """Papers, with the studio's mark for their head."""

    picture = forms.FileField(required=False, label="Mark, for the head of papers",
                              help_text="A PNG or JPEG of your sign, up to 5 MB. Papers of before stay as they were. "
                                        "Labels carry none: their room is for hazards.",
                              widget=forms.FileInput(attrs={"accept": "image/png,image/jpeg"}))
    no_mark = forms.BooleanField(required=False, label="Remove the mark from papers to come")

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        if self.instance.mark_id is None:
            del self.fields["no_mark"]

    def clean_picture(self) -> bytes | None:
        sent = self.cleaned_data["picture"]
        if not sent:
            return None
        try:
            return mark_from(sent.read(MOST_BYTES + 1))
        except NoMark as refusal:
            raise forms.ValidationError(str(refusal)) from refusal

    def settings(self) -> dict[str, Any]:
        values = super().settings()
        picture, removed = values.pop("picture"), values.pop("no_mark", False)
        values["mark"] = keep_mark(picture) if picture else None if removed else self.instance.mark
        return values


class HoursForm(HouseForm):
    """Time and working hours: a row a weekday, each may be the same as the day above."""

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        for day in DAYS[1:]:
            self.fields[f"as_above_{day}"] = forms.BooleanField(required=False, label="Same as the day above")
        for day in DAYS:
            self.fields[f"hours_{day}"].widget.attrs.update({"placeholder": "nobody works", "autocomplete": "off"})

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        for above, day in pairwise(DAYS):
            if not values.pop(f"as_above_{day}", False) or f"hours_{above}" not in values:
                continue
            if f"hours_{day}" in self.changed_data and values.get(f"hours_{day}"):
                self.add_error(f"hours_{day}", "Type hours, or tick that they are the same as the day above.")
            else:
                values[f"hours_{day}"] = values[f"hours_{above}"]
        return values

    @property
    def rows(self) -> list[tuple[forms.BoundField, forms.BoundField | None]]:
        return [(self[f"hours_{day}"], self[f"as_above_{day}"] if day != DAYS[0] else None) for day in DAYS]
