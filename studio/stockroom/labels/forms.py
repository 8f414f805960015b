"""Forms of labels."""

from __future__ import annotations

from django import forms

from studio.stockroom.labels.sizes import SIZES


class LabelForm(forms.Form):
    """Which labels, and where on the sheet to start."""

    size = forms.ChoiceField(choices=[(key, size.name) for key, size in SIZES.items()])
    start = forms.IntegerField(min_value=1, max_value=40, initial=1, required=False, label="Start at label",
                               help_text="For a sheet that is used in part.")
    suppliers_label = forms.BooleanField(
        required=False, label="The supplier's own label stays on",
        help_text="The label then shows the signal word and pictograms and points to it. What was made here has none.",
    )
