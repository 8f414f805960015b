"""The customers' swatch book: its page, the owner's choices for it, and its paper."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from jobs.models import SwatchBook
from jobs.swatch_book.choices import save_swatch_book
from jobs.swatch_book.guide_prices import finishes_in_it, swatch_book, swatches_of
from recipes.models import Finish
from studio.house.clock import today
from studio.house.http import REFUSED, DeskRequest, carry_new_saves, pdf_response, sent_saves
from studio.house.lists import paged
from studio.house.models import House, HouseRates
from studio.house.paper import render_pdf
from studio.kit.access import allowed
from studio.kit.locks import ChangedMeanwhile
from studio.kit.meant_so import AsksOfSizes
from studio.kit.roles import May
from studio.kit.units import size_unit
from studio.stockroom.models import Material


class SwatchBookForm(AsksOfSizes):
    foreword = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False)
    small_size_text = forms.CharField(max_length=60, label="A typical small pane")
    large_size_text = forms.CharField(max_length=60, label="A typical large pane")
    glass = forms.ModelChoiceField(Material.objects.filter(kind=Material.Kind.GLASS), required=False,
                                   empty_label="choose a glass")
    edge = forms.ChoiceField(required=False)
    shows_prices = forms.BooleanField(required=False, label="Guide prices are shown")
    finishes = forms.ModelMultipleChoiceField(
        Finish.objects.all(), required=False, widget=forms.CheckboxSelectMultiple, label="Finishes in it"
    )

    def __init__(self, data: Any = None, *, row: SwatchBook, preference: str, edges: list[str]) -> None:
        super().__init__(data, initial={
            **{name: getattr(row, name) for name in
               ("foreword", "small_size_text", "large_size_text", "edge", "shows_prices")},
            "glass": row.glass_id, "finishes": Finish.objects.filter(in_swatch_book=True),
        })
        self.preference = preference
        self.fields["edge"].choices = [(name, name) for name in edges]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or self.cleaned_data
        for name in ("small_size_text", "large_size_text"):
            self.read_size(name, size_unit(self.preference))
        return values


def _swatch_context(book: SwatchBook) -> dict[str, Any]:
    rates, house = HouseRates.known_on(today()), House.objects.first()
    return {"book": book, "rates": rates, "house": house, "made_on": today(),
            "currency": rates.currency if rates else "", "paper_size": house.paper if house else "A4",
            "area_unit": "m²" if not house or house.units == House.Units.METRIC else "ft²"}


@allowed(May.ORDERS)
@require_http_methods(["GET", "HEAD", "POST"])
def swatch_book_page(request: DeskRequest) -> HttpResponse:
    """The customers' swatch book as it reads, and the owner's choices for it."""
    row, _ = SwatchBook.objects.get_or_create(id=1)
    rates = HouseRates.known_on(today())
    edges = [edge.name for edge in rates.edge_types.all()] if rates else []
    form = SwatchBookForm(request.POST or None, row=row, preference=House.unit_preference(), edges=edges)
    if form.is_valid():
        try:
            save_swatch_book(saves=sent_saves(request), **form.cleaned_data)
            return redirect("jobs:swatch_book")
        except ChangedMeanwhile as refusal:
            carry_new_saves(request, refusal)
            form.add_error(None, str(refusal))
    book = SwatchBook.objects.select_related("glass").get(id=1)  # as it is kept, whatever a refused form says
    listing = paged(request, finishes_in_it())
    listing.page.object_list = swatches_of(book, listing.rows)  # what no page shows is not priced
    return render(request, "jobs/swatch_book/swatch_book.html", {
        "form": form, "row": row, **_swatch_context(book), "listing": listing,
    }, status=REFUSED if form.is_bound else 200)


@allowed(May.ORDERS)
@require_safe
def swatch_book_pdf(request: DeskRequest) -> HttpResponse:
    book, swatches = swatch_book()
    pdf = render_pdf("jobs/swatch_book/documents/swatch_book.html", {**_swatch_context(book), "swatches": swatches})
    return pdf_response(pdf, "swatch-book.pdf")
