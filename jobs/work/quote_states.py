"""The states of a quote: what is done to it from where to where, and how it stands on a day. Pure.

A quote lapses by the date alone: whoever asks whether it is open asks here, with the day.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Protocol, TypeVar

DRAFT, SENT, ACCEPTED, DECLINED, LAPSED = "draft", "sent", "accepted", "declined", "lapsed"
SEND, ACCEPT, DECLINE = "send", "accept", "decline"

#: from, act, to. Sending and accepting need a quote that has not lapsed; a lapsed one can still be declined.
MOVES = (
    (DRAFT, SEND, SENT),
    (DRAFT, ACCEPT, ACCEPTED),
    (SENT, ACCEPT, ACCEPTED),
    (DRAFT, DECLINE, DECLINED),
    (SENT, DECLINE, DECLINED),
    (LAPSED, DECLINE, DECLINED),
)
DECIDED = frozenset({ACCEPTED, DECLINED})
#: not decided: these lapse
UNDECIDED = frozenset({DRAFT, SENT})
#: what comes next for a job of which no quote is out, by how its newest quote stands
NEXT = {
    DRAFT: "look it over and send it.",
    LAPSED: "save a new revision at today's price, or cancel the job.",
    DECLINED: "save a new revision, or cancel the job.",
}
TONES = {ACCEPTED: "good", DECLINED: "danger", LAPSED: "attention"}


class AnyQuote(Protocol):
    """What a quote says of itself, newest revision having the highest number."""

    state: str
    valid_until: date
    revision: int


Quoted = TypeVar("Quoted", bound=AnyQuote)


def standing(state: str, valid_until: date, day: date) -> str:
    """Return how a quote stands on a day: as it was left, or lapsed once its last day is over."""
    return LAPSED if state in UNDECIDED and valid_until < day else state


def is_out(state: str, valid_until: date, day: date) -> bool:
    """Say whether a quote is with the customer and may still be accepted, or was accepted."""
    return standing(state, valid_until, day) in (SENT, ACCEPTED)


def allows(stands: str, act: str) -> bool:
    return any(at == stands and move == act for at, move, _ in MOVES)


def counted(quotes: Iterable[Quoted], day: date) -> Quoted | None:
    """Return the one quote of an order whose stock is to be had ready: the accepted one, else the newest if it is open
    on the day, else the newest that is out. A draft that lapsed or that a later revision replaced orders nothing.
    """
    newest_first = sorted(quotes, key=lambda quote: -quote.revision)
    accepted = [quote for quote in newest_first if quote.state == ACCEPTED]
    newest = [quote for quote in newest_first[:1] if standing(quote.state, quote.valid_until, day) in UNDECIDED]
    out = [quote for quote in newest_first if is_out(quote.state, quote.valid_until, day)]
    return next(iter([*accepted, *newest, *out]), None)


def steps() -> list[tuple[str, str]]:
    """Return every pair of states that some act leads through, for the database to keep."""
    return sorted({(at, to) for at, _, to in MOVES})
