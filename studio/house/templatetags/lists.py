"""Heads that sort a list, and the links to its pages."""

from __future__ import annotations

from typing import Any

from django import template

from studio.house.lists import Listing

register = template.Library()


@register.inclusion_tag("house/sort_head.html")
def sort_head(listing: Listing[Any], name: str, words: str, css: str = "") -> dict[str, object]:
    """Show a table's head that sorts its list. words: what it says; css: its class, “number”."""
    return {"words": words, "css": css, "address": listing.sorted_by(name), "direction": listing.direction(name)}


@register.inclusion_tag("house/pages.html")
def pages(listing: Listing[Any], noun: str) -> dict[str, object]:
    """Show the pages of a list, where it has more than one. noun: what its rows are, in the plural."""
    page = listing.page
    links = [
        (number, listing.on_page(number) if isinstance(number, int) else "")
        for number in page.paginator.get_elided_page_range(page.number, on_each_side=2, on_ends=1)
    ]
    return {"page": page, "links": links, "noun": noun,
            "before": listing.on_page(page.number - 1) if page.has_previous() else "",
            "after": listing.on_page(page.number + 1) if page.has_next() else ""}
