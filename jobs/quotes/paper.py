"""The quote as the customer reads it, on paper and on its page: what was ordered and its prices, nothing about cost."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from jobs.drawings.quote_panes import DrawnOrder, PaneOfLine, draw_order
from jobs.kept_papers import kept_paper
from jobs.models import Quote
from jobs.quotes.wording import Wording, in_todays_words
from studio.house.paper import render_pdf
from studio.kit.currencies import decimals
from studio.kit.rounding import half_up, places
from studio.kit.units import plain_text, show_size

#: an order of so many lines is on one page with its prices, and what follows begins another
SHORT = 8
#: what a copy in other units is called, by units
COPIES = {"metric": "millimetres", "us": "inches"}


def line_prices(figures: Wording) -> dict[int, Fraction]:
    """Return the price of each line by its number: all panes of it, discount taken off, without tax."""
    return {line["line"]: Fraction(line["line_price"]) for line in figures["lines"]}


def customers_units(typed: str, house_units: str) -> str:
    """Return the units that a customer wrote a size in: metric or us; the studio's own where it says nothing."""
    text = plain_text(typed)
    if re.search(r"\d\s*(?:mm|cm|m|metres?|meters?|millimet(?:re|er)s?|centimet(?:re|er)s?)\b", text):
        return "metric"
    if re.search(r"[\"'/]|\d\s*(?:in|ins|inch|inches|ft|foot|feet)\b", text):
        return "us"
    return house_units


def quote_context(quote: Quote, units: str = "") -> dict[str, Any]:
    """Return what the paper shows: wording and prices as frozen, cost figures left behind.

    units: of a copy, for every size; without them each line is in those that the customer wrote.
    """
    figures = quote.figures
    wording = in_todays_words(quote.wording, figures, quote.basis)
    price, choices = figures["price"], _choices(quote, units)
    if choices:  # what any of them is of: finishes and lines of all, each once
        wording = {**wording, **_of_all(choices), "ready": _ready_of_any(wording, choices)}
    lines = _of_any(choices) or _lines(wording, figures, places(decimals(quote.currency)), units)
    return {
        "quote": quote, "wording": wording, "currency": quote.currency, "lines": lines,
        "panes": sum(line["quantity"] for line in lines),
        "long": len(lines) > SHORT,
        "several": any(line["quantity"] > 1 for line in lines),
        "drawing": None if choices else _drawing(wording), "glass": _glass(lines),
        "customers_own": any(line["route"] == "own" for line in lines),
        "sample_fees": [(fee["finish"], Decimal(fee["fee"])) for fee in wording.get("sample_fees", ())],
        "samples": [finish["name"] for finish in wording["finishes"] if finish["subject_to_sample"]],
        "discount": Decimal(price["discount"]) or None, "price_before_discount": price["price"],
        "tax_share": price["tax_share"], "deposit_share": price["deposit_share"], "rest": quote.total - quote.deposit,
        "units": wording["house"]["units"], "copy_in": COPIES.get(units, ""),
        "choices": choices,
    }


def _choices(quote: Quote, units: str) -> list[dict[str, Any]]:
    """Return what a customer may choose between, each with its lines, prices and sum as frozen."""
    smallest, shown = places(decimals(quote.currency)), []
    for choice in quote.choices:
        wording = in_todays_words(choice["wording"], choice["figures"], choice["basis"])
        shown.append({
            **{name: choice[name] for name in ("key", "label", "option", "optional")}, "wording": wording,
            **{name: Decimal(choice[name]) for name in ("net", "tax", "total", "deposit")},
            "lines": _lines(wording, choice["figures"], smallest, units),
            "discount": Decimal(choice["figures"]["price"]["discount"]) or None,
            "tax_share": choice["figures"]["price"]["tax_share"],
        })
    return shown


def _of_any(choices: Sequence[Wording]) -> list[Wording]:
    """Return the lines that stand in any choice, each once, in order."""
    found: dict[int, Wording] = {}
    for choice in choices:
        for line in choice["lines"]:
            found.setdefault(line["number"], line)
    return [found[number] for number in sorted(found)]


def _of_all(choices: Sequence[Wording]) -> Wording:
    """Return what the wordings of all choices say together: finishes, lines, and what is in the price and not."""
    said = [choice["wording"] for choice in choices]
    together: Wording = {
        name: list(dict.fromkeys(words for wording in said for words in wording[name]))
        for name in ("in_price", "not_in_price", "unpriced", "matching")
    }
    finishes = {finish["name"]: finish for wording in reversed(said) for finish in wording["finishes"]}
    fees = {fee["finish"]: fee for wording in said for fee in wording.get("sample_fees", ())}
    lines = {line["number"]: line for wording in reversed(said) for line in wording["lines"]}
    return {**together, "finishes": [finishes[name] for name in sorted(finishes)], "sample_fees": list(fees.values()),
            "lines": [lines[number] for number in sorted(lines)]}


def _ready_of_any(wording: Wording, choices: Sequence[Wording]) -> Wording:
    """Return when whatever is chosen is ready: the day that was named for all of them, or the most working days."""
    named: Wording = wording["ready"]
    return named if named.get("on") else max((choice["wording"]["ready"] for choice in choices),
                                             key=lambda ready: ready["days"])


def _lines(wording: Wording, figures: Wording, smallest: Fraction, copy_in: str) -> list[Wording]:
    prices = line_prices(figures)
    weights = {line["line"]: line["pane_kg"] for line in figures["lines"]}
    lines = []
    for line in wording["lines"]:
        each = prices[line["number"]] / line["quantity"]
        units = copy_in or customers_units(line["typed"], wording["house"]["units"])
        sizes = [_size(line, way) for way in dict.fromkeys((units, "metric", "us"))]
        lines.append({
            **line, "price": prices[line["number"]], "each": each, "each_is_exact": half_up(each, smallest) == each,
            "pane_kg": weights[line["number"]], "units": units, "size": sizes[0], "other_size": sizes[1],
        })
    return lines


def _size(line: Wording, units: str) -> str:
    return show_size(Fraction(line["width_mm"]), Fraction(line["height_mm"]), units, round_=line["shape"] == "circle")


def _drawing(wording: Wording) -> DrawnOrder | None:
    pictures = {finish["name"]: finish["picture"] for finish in wording["finishes"]}
    return draw_order([
        PaneOfLine(
            number=line["number"], width_mm=Fraction(line["width_mm"]), height_mm=Fraction(line["height_mm"]),
            quantity=line["quantity"], is_round=line["shape"] in ("circle", "ellipse"),
            picture=pictures[line["finish"]],
        ) for line in wording["lines"]
    ])


def _glass(lines: Sequence[Wording]) -> list[tuple[list[int], Wording, list[str]]]:
    """Return the lines by glass, edge and backing: their numbers, one of them, and what their panes weigh, in order."""
    alike: dict[tuple[str, ...], list[Wording]] = {}
    for line in lines:
        key = (line.get("glass_name", ""), line["glass"], line["thickness_mm"], line["edge"], line["backing"],
               line["route"])
        alike.setdefault(key, []).append(line)
    return [
        ([line["number"] for line in group] if len(alike) > 1 else [], group[0],
         list(dict.fromkeys(line["pane_kg"] for line in group)))
        for group in alike.values()
    ]


def render_quote(quote: Quote, units: str = "") -> bytes:
    """Return the quote as PDF, from what was frozen; nothing is kept. units: of a copy."""
    return render_pdf("jobs/quotes/documents/quote.html", quote_context(quote, units))


def paper_or_copy(quote: Quote, units: str) -> tuple[bytes, str]:
    """Return the kept paper, or a copy with its sizes in the units asked for, and the file's name."""
    name = f"quote-{quote.number}-{quote.revision}"
    if units in COPIES:
        return render_quote(quote, units), f"{name}-{COPIES[units]}.pdf"
    return quote_paper(quote), f"{name}.pdf"


def quote_paper(quote: Quote) -> bytes:
    """Return the quote as PDF, as first rendered."""
    return kept_paper(
        quote, lambda: render_quote(quote), name=f"quote-{quote.number}-{quote.revision}.pdf", owner_only=True,
    )
