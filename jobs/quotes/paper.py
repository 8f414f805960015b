"""The quote as the customer reads it: what was ordered and its prices, nothing about cost."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from jobs.kept_papers import kept_paper
from jobs.models import Quote
from studio.house.paper import render_pdf


def _in_todays_words(wording: dict[str, Any]) -> dict[str, Any]:
    """Return a quote's frozen wording under today's names: the first format said issue and story."""
    if "format" in wording:
        return wording
    return {
        **wording,
        "lines": [{**line, "version": line["issue"]} for line in wording["lines"]],
        "finishes": [{**finish, "description": finish["story"]} for finish in wording["finishes"]],
    }


def quote_context(quote: Quote) -> dict[str, Any]:
    """Return what the paper shows: wording and prices as frozen, cost figures left behind."""
    wording, figures = _in_todays_words(quote.wording), quote.figures
    prices = {line["line"]: line["line_price"] for line in figures["lines"]}
    sizes = {line["line"]: (line["area_m2"], line["pane_kg"]) for line in figures["lines"]}
    price = figures["price"]
    return {
        "quote": quote, "wording": wording, "currency": quote.currency,
        "lines": [
            {**line, "price": prices[line["number"]], "area_m2": sizes[line["number"]][0],
             "pane_kg": sizes[line["number"]][1]}
            for line in wording["lines"]
        ],
        "customers_own": any(line["route"] == "own" for line in wording["lines"]),
        "discount": Decimal(price["discount"]) or None, "price_before_discount": price["price"],
        "tax_share": price["tax_share"], "deposit_share": price["deposit_share"],
        "units": wording["house"]["units"],
        "hand_over_on": date.fromisoformat(figures["promise"]["hand_over_on"]) if "promise" in figures else None,
    }


def render_quote(quote: Quote) -> bytes:
    """Return the quote as PDF, from what was frozen; nothing is kept."""
    return render_pdf("jobs/quotes/documents/quote.html", quote_context(quote))


def quote_paper(quote: Quote) -> bytes:
    """Return the quote as PDF, as first rendered."""
    return kept_paper(
        quote, lambda: render_quote(quote), name=f"quote-{quote.number}-{quote.revision}.pdf", owner_only=True,
    )
