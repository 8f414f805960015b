"""The states of a quote: what is done to it from where to where, and how it stands on a day. Pure.

An accepted quote is replaced when a newer revision is accepted, and is accepted again when that acceptance is undone. A
revision that a booked job rests on and that waits for the customer is replaced when the order is changed once more.
A quote with options is replaced by the one that is chosen, and open again when that choice is undone.

A quote lapses by the date alone: whoever asks whether it is open asks here, with the day.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Protocol, TypeVar

DRAFT, SENT, ACCEPTED, DECLINED, LAPSED = "draft", "sent", "accepted", "declined", "lapsed"
REPLACED = "replaced"
SEND, ACCEPT, DECLINE = "send", "accept", "decline"
TAKE_BACK, UNDO_ANSWER, REPLACE, RESTORE = "take back", "undo the answer", "replace", "restore"
OPEN_AGAIN = "open again"

#: from, act, to. Sending and accepting need a quote that has not lapsed; a lapsed one can still be declined. What is
#: taken back or undone may have lapsed meanwhile.
MOVES = (
    (DRAFT, SEND, SENT),
    (DRAFT, ACCEPT, ACCEPTED),
    (SENT, ACCEPT, ACCEPTED),
    (DRAFT, DECLINE, DECLINED),
    (SENT, DECLINE, DECLINED),
    (LAPSED, DECLINE, DECLINED),
    (SENT, TAKE_BACK, DRAFT),
    (LAPSED, TAKE_BACK, LAPSED),
    *((answered, UNDO_ANSWER, before) for answered in (ACCEPTED, DECLINED) for before in (DRAFT, SENT, LAPSED)),
    (ACCEPTED, REPLACE, REPLACED),
    (SENT, REPLACE, REPLACED),
    (LAPSED, REPLACE, REPLACED),
    (REPLACED, RESTORE, ACCEPTED),
    (REPLACED, OPEN_AGAIN, SENT),
    (REPLACED, OPEN_AGAIN, LAPSED),
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


def not_replaced(quotes: Iterable[Quoted]) -> list[Quoted]:
    """Return the quotes of an order that another did not take the place of, in the order given."""
    return [quote for quote in quotes if quote.state != REPLACED]


def allows(stands: str, act: str) -> bool:
    return any(at == stands and move == act for at, move, _ in MOVES)


def counted(quotes: Iterable[Quoted], day: date) -> Quoted | None:
    """Return the one quote of an order whose stock is to be had ready: the accepted one, else the newest if it is open
    on the day, else the newest that is out. A draft that lapsed or that a later revision replaced orders nothing.
    """
    newest_first = sorted(quotes, key=lambda quote: -quote.revision)
    accepted = [quote for quote in newest_first if quote.state == ACCEPTED]
    newest = [quote for quote in not_replaced(newest_first)[:1]
              if standing(quote.state, quote.valid_until, day) in UNDECIDED]
    out = [quote for quote in newest_first if is_out(quote.state, quote.valid_until, day)]
    return next(iter([*accepted, *newest, *out]), None)


def steps() -> list[tuple[str, str]]:
    """Return every pair of states that some act leads through, for the database to keep."""
    return sorted({(at, to) for at, _, to in MOVES})
