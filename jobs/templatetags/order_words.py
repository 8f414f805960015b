"""Words of an order's lines for templates: what a line is, on the job's page and on the quote's paper."""

from __future__ import annotations

from typing import Any

from django import template
from django.template.defaultfilters import date

from jobs.models import BoughtIn, OrderLine
from studio.house.templatetags.figures import amount, as_length

register = template.Library()

#: a line of a quote's frozen wording: its fields by name
Wording = dict[str, Any]


@register.filter
def work_in_words(line: OrderLine) -> str:
    """Return what a line's panes get besides the finish: edge, backing, matching, holes, note."""
    backing = f", {line.get_backing_display()}" if line.backing else ""
    place = f", place {line.place}" if line.place else ""
    holes = len(line.holes)
    return "; ".join(filter(None, [
        f"{line.edge}{backing}", f"matched: {line.match_group}{place}" if line.match_group else "",
        f"{holes} hole{'' if holes == 1 else 's'} or sockets" if holes else "", line.note,
    ]))


@register.filter
def outside_work_in_words(item: BoughtIn) -> str:
    """Return what a bought-in item is, for which line, and when it is due."""
    kind = "item" if item.kind == BoughtIn.Kind.THING else item.get_kind_display()
    words = kind + (f", line {item.line_number}" if item.line_number else "")
    if item.due_on:
        return f"{words}; due {date(item.due_on, 'j M Y')}"
    return words + (f"; {item.days} day{'' if item.days == 1 else 's'}" if item.days else "")


@register.filter
def shape_in_words(line: Wording) -> str:
    """Return what is to be words of a shape that its size does not tell."""
    return {"ellipse": ", ellipse", "other": ", shaped, within that rectangle"}.get(line["shape"], "")


@register.simple_tag
def mirror_in_words(line: Wording, units: str) -> str:
    """Return glass, edge, backing, weight and what else was ordered of one line, in the order of the paper."""
    own = ", your own glass" if line["route"] == "own" else ""
    return "; ".join(filter(None, [
        f"{line['thickness_mm']} mm {line['glass']}{own}", f"{line['edge']} edge", line["backing"],
        f"about {amount(line['pane_kg'], 1)} kg each", _neighbours(line), _holes(line), _opening(line, units),
        line["note"],
    ]))


def _neighbours(line: Wording) -> str:
    if not line.get("match_group"):
        return ""
    return "made to match its neighbours" + (f", place {line['place']}" if line.get("place") else "")


def _holes(line: Wording) -> str:
    holes = line.get("holes")
    return f"with {holes} hole{'' if holes == 1 else 's'} or sockets" if holes else ""


def _opening(line: Wording, units: str) -> str:
    if not line.get("opening"):
        return ""
    return f"for an opening, {as_length(line['joint_mm'], units)} free at every edge"
