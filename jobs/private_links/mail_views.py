"""Sending a quote by e-mail from its page: the letter is looked over, then goes with the PDF and a private link."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from jobs.private_links.letter import standard_subject, standard_text
from jobs.private_links.link_views import quote_of
from jobs.private_links.sending import can_send_mail, send_quote
from studio.house.form_keys import KeyField
from studio.house.http import REFUSED, DeskRequest
from studio.house.models import House
from studio.kit.access import allowed
from studio.kit.errors import DaybookError
from studio.kit.roles import May


class LetterForm(forms.Form):
    """A letter as it goes out; [link] becomes the private address."""

    key = KeyField()
    addresses = forms.CharField(max_length=500, label="To", help_text="One address, or several with commas between.",
                                error_messages={"required": "Write whom it goes to."})
    subject = forms.CharField(max_length=150, label="Subject", help_text="One line.",
                              error_messages={"required": "Write a subject."})
    text = forms.CharField(
        max_length=10_000, label="Letter", widget=forms.Textarea(attrs={"rows": 14}),
        help_text="[link] becomes the private address, made for this letter. The PDF goes with it.",
        error_messages={"required": "Write a letter, with [link] in it."},
    )


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def send(request: DeskRequest, pk: int) -> HttpResponse:
    """The letter of a quote, to be changed and sent."""
    quote, studio = quote_of(pk), House.objects.first() or House(name="The studio")
    form = LetterForm(request.POST or None, initial={
        "addresses": quote.order.customer.email, "subject": standard_subject(quote),
        "text": standard_text(quote, studio),
    })
    if form.is_valid():
        sent = form.cleaned_data
        try:
            mail = send_quote(quote=quote, by=request.user, key=sent["key"], addresses=sent["addresses"],
                              subject=sent["subject"], text=sent["text"])
        except DaybookError as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal))
        else:
            if mail.refused:
                messages.warning(request, f"{quote} is sent, but not to {mail.refused}: the mail server refused "
                                          "that. Look at the address, and send it there once more.")
            else:
                messages.success(request, f"{quote} is sent to {mail.addresses}.")
            return redirect("jobs:quote_page", pk)
    return render(request, "jobs/private_links/send.html", {
        "quote": quote, "job": quote.order.job, "form": form, "sends": can_send_mail(),
        "sender": studio.mail_sender or studio.email,
    }, status=REFUSED if form.is_bound else 200)
