"""Words of an order's lines for templates: what a line is, on the job's page and on the quote's paper."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from fractions import Fraction
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
    return "; ".join(filter(None, [
        f"{line.edge}{backing}", f"matched: {line.match_group}{place}" if line.match_group else "",
        holes_in_words([hole["kind"] for hole in line.holes]), line.note,
    ]))


def holes_in_words(kinds: Iterable[str]) -> str:
    """Return how many holes and sockets there are: “1 hole”, “2 holes, 1 socket”."""
    return ", ".join(f"{count} {kind}{'' if count == 1 else 's'}" for kind, count in Counter(kinds).items())


@register.filter
def outside_work_in_words(item: BoughtIn) -> str:
    """Return what a bought-in item is, for which line, and when it is due."""
    kind = "item" if item.kind == BoughtIn.Kind.THING else item.get_kind_display()
    words = kind + (f", line {item.line_number}" if item.line_number else "")
    if item.due_on:
        return f"{words}; due {date(item.due_on, 'j M Y')}"
    return words + (f"; {item.days} day{'' if item.days == 1 else 's'}" if item.days else "")


@register.filter
def one_line(address: str) -> str:
    """Return the lines of an address as one."""
    return ", ".join(filter(None, (line.strip(" ,") for line in address.splitlines())))


@register.filter
def shape_in_words(line: Wording) -> str:
    """Return what is to be words of a shape that its size does not tell."""
    return {"ellipse": ", ellipse", "other": ", shaped, within that rectangle"}.get(line["shape"], "")


@register.simple_tag
def glass_in_words(numbers: list[int], line: Wording, weights: list[str]) -> str:
    """Return glass, edge, backing and weights of lines that are alike in them: “Lines 1, 3: 4 mm clear glass; …”.

    numbers: of those lines; empty where all lines are alike. weights: kg a pane, each said once.
    """
    own = ", your own glass" if line["route"] == "own" else ""
    which = f"Line{'' if len(numbers) == 1 else 's'} {runs_in_words(numbers)}: " if numbers else ""
    shown = [amount(weight, 1) for weight in weights]
    heavy = " and ".join(dict.fromkeys(shown))
    if len(shown) > 2:
        heavy = f"{amount(min(map(Fraction, weights)), 1)} to {amount(max(map(Fraction, weights)), 1)}"
    name = f"{line['glass_name']}, " if line.get("glass_name") and line["route"] != "own" else ""
    said = "; ".join(filter(None, [f"{name}{line['thickness_mm']} mm {line['glass']}{own}", edge_in_words(line["edge"]),
                                   line["backing"]]))
    return f"{which}{said}. About {heavy} kg each."


@register.filter
def edge_in_words(name: str) -> str:
    """Return an edge as it is read in a sentence: “polished edge”, “edges as cut”."""
    return f"edges {name}" if name.startswith("as ") else f"{name} edge"


@register.filter("numbers_in_words")
def runs_in_words(numbers: list[int]) -> str:
    """Return numbers in order with runs of them joined: “1–3, 5”."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and runs[-1][-1] == number - 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{run[0]}–{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs)


@register.simple_tag
def extras_in_words(line: Wording, units: str) -> str:
    """Return what else was ordered of one line: matching, holes, the opening it is for, its note."""
    return "; ".join(filter(None, [_neighbours(line), _holes(line), _opening(line, units), line["note"]]))


def _neighbours(line: Wording) -> str:
    if not line.get("match_group"):
        return ""
    return "made to match its neighbours" + (f", place {line['place']}" if line.get("place") else "")


def _holes(line: Wording) -> str:
    holes = line.get("holes")
    return f"with {holes} hole{'' if holes == 1 else 's'} or socket{'' if holes == 1 else 's'}" if holes else ""


def _opening(line: Wording, units: str) -> str:
    if not line.get("opening"):
        return ""
    return f"for an opening, {as_length(line['joint_mm'], units)} free at every edge"
