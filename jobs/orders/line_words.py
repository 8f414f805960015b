"""What is set in a line's drawer, in the few words that stand under its row; read from the form as it was typed."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from jobs.models import OrderLine
from studio.house.models import HouseRates

#: a field's value as it was typed, by the form's name for it
Typed = Callable[[str], str]

_ROUTES = dict(OrderLine.Route.choices)
_BACKINGS = dict(OrderLine.Backing.choices)
_OFFERED = dict(OrderLine.Offered.choices)
_PLANS = dict(HouseRates.Plan.choices)
#: more of a note or of holes than this is read in the drawer
LONGEST = 60


def drawer_in_words(typed: Typed) -> list[str]:
    """Return what was set beside size, finish, glass and edge; an empty list where all is as usual."""
    return [words for words in _said(typed) if words]


def _said(typed: Typed) -> Iterator[str]:
    if typed("opening"):
        yield f"opening less {typed('joint_text')} joint" if typed("joint_text") else "opening, no joint"
    yield _short(typed("holes_text"))
    yield typed("area_text")
    if typed("route") not in ("", OrderLine.Route.SHEET):
        yield str(_ROUTES.get(typed("route"), ""))
    if typed("backing"):
        yield str(_BACKINGS.get(typed("backing"), ""))
    if typed("plan"):
        yield str(_PLANS.get(typed("plan"), ""))
    if typed("own_panes_to_start"):
        yield f"{typed('own_panes_to_start')} to start"
    if typed("oversize_method"):
        yield f"oversize: {_short(typed('oversize_method'))}"
    if typed("match_group"):
        yield f"matches {typed('match_group')}" + (f", place {typed('place')}" if typed("place") else "")
    elif typed("place"):
        yield f"place {typed('place')}"
    if typed("offered"):
        yield str(_OFFERED.get(typed("offered"), ""))
    yield _short(typed("note"))


def _short(words: str) -> str:
    line = " ".join(words.split())
    return line if len(line) <= LONGEST else f"{line[:LONGEST].rstrip()}…"
