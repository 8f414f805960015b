"""Forms of a customer: how to reach them, whom, where; merging and forgetting."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django import forms

from jobs.models import Customer, CustomerAddress, CustomerContact
from studio.house.form_keys import KeyField

if TYPE_CHECKING:  # Django's forms are generic for the type checker alone
    CustomerModelForm = forms.ModelForm[Customer]
    ContactModelForm = forms.ModelForm[CustomerContact]
    AddressModelForm = forms.ModelForm[CustomerAddress]
else:
    CustomerModelForm = ContactModelForm = AddressModelForm = forms.ModelForm


class CustomerForm(CustomerModelForm):
    class Meta:
        model = Customer
        fields = ["name", "email", "phone", "address", "note"]
        labels = {"email": "E-mail", "phone": "Telephone"}
        help_texts = {
            "name": "As it stands on quotes.", "email": "Where quotes go.", "phone": "Where they are reached first.",
            "address": "As it stands on quotes.", "note": "For the studio alone.",
        }
        widgets = {"address": forms.Textarea(attrs={"rows": 3}), "note": forms.Textarea(attrs={"rows": 3})}


class ContactForm(ContactModelForm):
    key = KeyField()

    class Meta:
        model = CustomerContact
        fields = ["name", "role", "email", "phone", "note"]


class AddressForm(AddressModelForm):
    key = KeyField()

    class Meta:
        model = CustomerAddress
        fields = ["kind", "address", "note"]
        widgets = {"address": forms.Textarea(attrs={"rows": 4})}


class MergeForm(forms.Form):
    """The customer who stays."""

    into = forms.ModelChoiceField(Customer.objects.none(), label="Merge into", empty_label="choose who stays",
                                  help_text="Everything goes to them; this one is gone then.")

    def __init__(self, data: Any = None, *, leaves: Customer) -> None:
        super().__init__(data)
        others: Any = self.fields["into"]
        others.queryset = Customer.objects.filter(forgotten_on=None).exclude(pk=leaves.pk)


class ForgetForm(forms.Form):
    key = KeyField()
    meant = forms.BooleanField(label="Wipe this now: nothing brings it back",
                               help_text="What stays, and why, stands above.",
                               error_messages={"required": "Tick that it is meant: nothing brings it back."})
