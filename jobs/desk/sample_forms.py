"""Forms of a finish's sample: what is known of it, the customer's word on it, and going ahead without."""

from __future__ import annotations

from typing import Any

from django import forms

from jobs.models import Job, SampleApproval
from recipes.models import RecipeVersion, Trial, TrialPhotograph
from studio.house.form_keys import KeyField
from studio.house.models import StoredFile
from studio.house.typed_fields import DayField, MoneyField


class SampleForm(forms.Form):
    """What is known of the sample of one finish. A trial's first photographs are taken where none is chosen."""

    trial = forms.ModelChoiceField(Trial.objects.none(), required=False, label="Sample pane", empty_label="not said",
                                   help_text="The trial of this finish that the sample is from.")
    front = forms.ChoiceField(required=False, label="Photograph of its front",
                              help_text="Empty: the first one of the trial.")
    back = forms.ChoiceField(required=False, label="Photograph of its back",
                             help_text="Empty: the first one of the trial.")
    fee = MoneyField(required=False, label="Fee, with tax", help_text="What is asked for the sample; empty for none.")
    sent_on = DayField(required=False, label="Sent on", help_text="Or handed over; empty while it is here.")
    half_with = forms.CharField(max_length=120, required=False, label="Their half is with",
                                help_text="Who of the customer's side has it.")
    kept_where = forms.CharField(max_length=80, required=False, label="Our half is kept",
                                 help_text="Where in the studio, to hold against the panes.")
    variation = forms.CharField(required=False, max_length=1000, label="Variation agreed, in words",
                                widget=forms.Textarea(attrs={"rows": 3}),
                                help_text="Empty: as the finish says.")

    def __init__(self, data: Any = None, *, job: Job, version: RecipeVersion, row: SampleApproval | None,
                 currency: str) -> None:
        names = ("trial", "front", "back", "fee", "sent_on", "half_with", "kept_where", "variation")
        initial = {name: getattr(row, f"{name}_id" if name in ("trial", "front", "back") else name)
                   for name in names} if row is not None else {}
        super().__init__(data, initial={**initial, "fee": initial.get("fee") or None})
        fields: dict[str, Any] = self.fields
        trials = Trial.objects.filter(recipe_version__finish=version.finish_id).order_by("-number")
        fields["trial"].queryset, fields["fee"].currency = trials, currency
        taken = list(TrialPhotograph.objects.filter(trial__in=trials).select_related("trial").order_by(
            "-trial__number", "pk"))
        for side in ("front", "back"):
            fields[side].choices = [("", "the first one"), *(
                (str(photograph.print_copy_id), f"{photograph.trial}, {side}, {photograph.at:%d %b %Y %H:%M}")
                for photograph in taken if photograph.side == side)]
        self.firsts = {(photograph.trial_id, photograph.side): photograph.print_copy_id
                       for photograph in reversed(taken)}

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        values["fee"] = values.get("fee") or 0
        trial = values.get("trial")
        for side in ("front", "back"):
            chosen = values.get(side) or (self.firsts.get((trial.pk, side)) if trial else None)
            values[side] = StoredFile.objects.get(pk=chosen) if chosen else None
        return values


class ApprovedForm(forms.Form):
    """The customer's word on a sample."""

    key = KeyField()
    name = forms.CharField(max_length=120, label="Approved by", help_text="Who of the customer's side.")
    how = forms.ChoiceField(label="How", help_text="Which way the word came.", choices=[
        choice for choice in SampleApproval.How.choices if choice[0] != SampleApproval.How.TICKED])
    on = DayField(towards="back", required=False, label="On", help_text="Empty: today.")


class GoAheadForm(forms.Form):
    """Why a ticket is printed without what it waits for."""

    key = KeyField()
    because = forms.CharField(max_length=200, label="Why it goes ahead",
                              help_text="That stays with the job, with your name, on Today too.")

    def __init__(self, data: Any = None) -> None:
        super().__init__(data, auto_id="go-ahead-%s")  # beside the form of cancelling
