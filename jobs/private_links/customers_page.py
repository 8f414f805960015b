"""The customer's page, without a log-in: a look that changes nothing, and an answer that is sent once.

Whoever has the token has the page, so nothing of an answer is kept by browser or proxy, found by a search engine or
told to another site. A form needs no cookie: it carries a mark that only the page can make (`seen_mark`).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from jobs.models import QuoteLink
from jobs.private_links.answering import AnsweredBefore, answer_quote, seen_mark, stands_for_customer
from jobs.private_links.letter import one_line
from jobs.private_links.links import link_of
from jobs.private_links.samples import SampleShown, approve_at_link, pack_shown, samples_shown
from jobs.quotes.fingerprint import fingerprint
from jobs.quotes.paper import COPIES, paper_or_copy, quote_context
from studio.house.answers import NOT_KEPT
from studio.house.clock import house_zone, today
from studio.house.form_keys import KeyField
from studio.house.http import REFUSED, pdf_response
from studio.house.kept_files import served
from studio.house.log_in_throttle import address_of
from studio.house.models import House, StoredFile
from studio.house.tries import QUARTER, Tries
from studio.kit.access import open_door
from studio.kit.errors import DaybookError

NOTHING, GONE, CONFLICT, TOO_OFTEN = 404, 410, 409, 429
#: from one address in a quarter of an hour: tokens that are none, answers, looks, copies set in other units
WRONG, ANSWERS, LOOKS, SET = (Tries(f"links {what}", most, QUARTER) for what, most in (
    ("wrong", 30), ("answered", 20), ("looked at", 600), ("set", 12)))
ACCEPT, DECLINE = "accept", "decline"
View = Callable[..., HttpResponse]


class _ByName(forms.Form):
    """What a customer says, by name, of what the page showed."""

    key = KeyField()
    seen = forms.CharField(max_length=64, widget=forms.HiddenInput(), error_messages={
        "required": "This form is not whole: open your link again and answer from there."})
    name = forms.CharField(
        max_length=80, label="Your name", help_text="Typed by you, it stands for your signature here.",
        error_messages={"required": "Write your name: an answer is given by name."},
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )

    def clean_name(self) -> str:
        name = one_line(self.cleaned_data["name"])
        if not name:
            raise forms.ValidationError(self.fields["name"].error_messages["required"])
        return name


class AnswerForm(_ByName):
    """Yes or no, by name."""

    choice = forms.CharField(max_length=40, required=False)
    said = forms.CharField(
        max_length=500, required=False, label="Anything to say with it", help_text="What you would change, or a wish.",
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    answer = forms.ChoiceField(choices=[(ACCEPT, "accept"), (DECLINE, "decline")], error_messages={
        "required": "Press accept or decline.", "invalid_choice": "Press accept or decline."})


class SampleWordForm(_ByName):
    """Yes to a sample, by name."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.fields["name"].error_messages["required"] = "Write your name: a sample is approved by name."


def _told_to_nobody(answer: HttpResponse) -> HttpResponse:
    answer["Cache-Control"] = NOT_KEPT
    answer["X-Robots-Tag"] = "noindex, nofollow, noarchive"
    answer["Referrer-Policy"] = "no-referrer"
    return answer


def _by_link(view: View) -> View:
    """Give a view the link that a token opens: refused, closed and unknown ones are answered here."""
    @wraps(view)
    def answered(request: HttpRequest, token: str, *args: Any, **kwargs: Any) -> HttpResponse:
        where = address_of(request)
        if WRONG.are_over(where) or LOOKS.are_over(where):
            return _told_to_nobody(_said(request, TOO_OFTEN, "Too many looks from where you are", (
                "Nothing is lost: wait a quarter of an hour, then open your link again."),
                again=request.method == "POST"))
        LOOKS.count(where)
        link = link_of(token)
        if link is None:
            WRONG.count(where)
            return _told_to_nobody(_said(request, NOTHING, "This address opens nothing", (
                "Perhaps a part of it was lost on the way: open it from the letter itself, or copy all of it. If it "
                "still opens nothing, ask the studio for a new one.")))
        with timezone.override(house_zone()):
            if not link.is_open_on(today()):
                return _told_to_nobody(_closed(request, link))
            return _told_to_nobody(view(request, link, token, *args, **kwargs))

    return open_door(answered)


#: what somebody typed, and how long each may be; the others are what the form carries, to be sent once more
_TYPED, _CARRIED = {"name": 80, "said": 500}, {"key": 64, "seen": 64, "choice": 40, "answer": 10}


def _said(
    request: HttpRequest, status: int, title: str, sentence: str, *, again: bool = False, **more: Any,
) -> HttpResponse:
    """Say why nothing is shown or taken; what was typed is not lost. again: it may be sent once more from here."""
    studio = House.objects.first() or House(name="The studio")
    typed = {name: request.POST.get(name, "")[:most] for name, most in _TYPED.items()}
    return render(request, "jobs/private_links/closed.html", {
        "studio": studio, "title": title, "sentence": sentence, "typed": typed if any(typed.values()) else None,
        "carried": {name: request.POST[name][:most] for name, most in _CARRIED.items() if name in request.POST},
        "again": again, **more,
    }, status=status)


def _closed(request: HttpRequest, link: QuoteLink) -> HttpResponse:
    why = ("The studio has withdrawn it." if link.is_withdrawn
           else f"It was open until {link.valid_until:%-d %B %Y}.")
    return _said(request, GONE, "This link is closed", f"{why} Ask the studio for a new one.")


@csrf_exempt  # the form carries the page's own mark: no cookie is needed, and none helps
@_by_link
@require_http_methods(["GET", "HEAD", "POST"])
def customers_page(request: HttpRequest, link: QuoteLink, token: str) -> HttpResponse:
    """The frozen quote as its customer reads it; a POST answers it."""
    if request.method != "POST":
        return _page(request, link, token, AnswerForm(initial={"seen": seen_mark(link)}))
    where = address_of(request)
    if ANSWERS.are_over(where):
        return _said(request, TOO_OFTEN, "Too many answers from where you are",
                     "Nothing is lost: wait a quarter of an hour, then send it once more.", again=True)
    ANSWERS.count(where)
    form = AnswerForm(request.POST)
    if not form.is_valid():
        return _page(request, link, token, form, status=REFUSED)
    sent = form.cleaned_data
    try:
        answer_quote(link=link, accepted=sent["answer"] == ACCEPT, name=sent["name"], said=sent["said"],
                     seen=sent["seen"], choice=sent["choice"])
    except AnsweredBefore as before:
        fresh = link_of(token) or link
        return _page(request, fresh, token, AnswerForm(), status=CONFLICT, refusal=str(before))
    except DaybookError as refusal:
        again = request.POST.copy()
        again["seen"] = seen_mark(link)
        form = AnswerForm(again)
        beside = form.is_valid() and refusal.field in form.fields
        if beside:
            form.add_error(refusal.field, str(refusal))
        return _page(request, link_of(token) or link, token, form, REFUSED, "" if beside else str(refusal))
    return redirect("jobs:customers_page", token)


def _page(request: HttpRequest, link: QuoteLink, token: str, form: AnswerForm, status: int = 200,
          refusal: str = "", sent: tuple[int, SampleWordForm] | None = None) -> HttpResponse:
    """Return the page. sent: the form of a sample that was refused, with the place of the sample."""
    quote = link.quote
    stands, pack = stands_for_customer(link), pack_shown(link)
    told = quote_context(quote)
    return render(request, "jobs/private_links/page.html", {
        **told, "chosen": [choice for choice in told["choices"] if choice["key"] == stands.chosen],
        "link": link, "token": token, "stands": stands, "form": form, "refusal": refusal,
        "fingerprint": fingerprint(quote), "studio": quote.wording["house"],
        "pack": pack, "samples": [(one, _sample_form(one, sent)) for one in samples_shown(link, pack)],
        "copies": COPIES, "answer": getattr(link, "answer", None),
    }, status=status)


def _sample_form(one: SampleShown, sent: tuple[int, SampleWordForm] | None) -> SampleWordForm | None:
    if not one.seen:
        return None
    if sent is not None and sent[0] == one.at:
        return sent[1]
    return SampleWordForm(initial={"seen": one.seen}, auto_id=f"sample-{one.at}-%s")


@csrf_exempt  # as above: the form carries the page's own mark
@_by_link
@require_http_methods(["GET", "HEAD", "POST"])
def customers_sample(request: HttpRequest, link: QuoteLink, token: str, at: int) -> HttpResponse:
    """The customer's word on a sample; the rest of the page stays as it is. Looked at, it leads to the page.

    A telephone opens its tabs again by a look, after a refusal too.
    """
    if request.method != "POST":
        return redirect("jobs:customers_page", token)
    where = address_of(request)
    if ANSWERS.are_over(where):
        return _said(request, TOO_OFTEN, "Too many answers from where you are",
                     "Nothing is lost: wait a quarter of an hour, then send it once more.", again=True)
    ANSWERS.count(where)
    form, unanswered = SampleWordForm(request.POST, auto_id=f"sample-{at}-%s"), AnswerForm(
        initial={"seen": seen_mark(link)})
    if not form.is_valid():
        return _page(request, link, token, unanswered, REFUSED, sent=(at, form))
    try:
        approve_at_link(link=link, at=at, **form.cleaned_data)
    except DaybookError as refusal:
        status = CONFLICT if isinstance(refusal, AnsweredBefore) else REFUSED
        return _page(request, link_of(token) or link, token, unanswered, status, str(refusal))
    return redirect("jobs:customers_page", token)


@_by_link
@require_safe
def customers_sample_picture(request: HttpRequest, link: QuoteLink, token: str, at: int, side: str) -> HttpResponse:
    """A photograph of a sample that the page shows. No other file is to be had."""
    shown = {one.at: dict(one.sample.pictures) for one in samples_shown(link, pack_shown(link))}
    stored = shown.get(at, {}).get(side)
    if stored is None:
        raise Http404
    return served(stored)


@_by_link
@require_safe
def customers_paper(request: HttpRequest, link: QuoteLink, token: str) -> HttpResponse:
    """The paper as it was kept when the link was made; with units a copy in them, which takes a while to set."""
    quote, units = link.quote, request.GET.get("units", "")
    if quote.paper is None:
        raise Http404
    if units in COPIES:
        where = address_of(request)
        if SET.are_over(where):
            return _said(request, TOO_OFTEN, "Too many copies from where you are",
                         "Wait a quarter of an hour, then ask for it again.")
        SET.count(where)
    return pdf_response(*paper_or_copy(quote, units))


@_by_link
@require_safe
def customers_picture(request: HttpRequest, link: QuoteLink, token: str, at: int) -> HttpResponse:
    """A picture of the quote: 0 is the studio's mark, then the finishes' in order. No other file is to be had."""
    wording = quote_context(link.quote)["wording"]  # of a quote with options, the finishes of all, as the page has them
    sums = [wording["house"].get("mark", ""), *(finish.get("picture", "") for finish in wording["finishes"])]
    stored = StoredFile.objects.filter(sha256=sums[at]).first() if at < len(sums) and sums[at] else None
    if stored is None:
        raise Http404
    return served(stored)
