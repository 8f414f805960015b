"""First expired, first out: which lots an amount is taken from. Pure: no Django."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal


@dataclass(frozen=True, kw_only=True)
class LotOnShelf:
    """A lot as the picker sees it, seen_at a moment. on_hand in the material's stock unit.

    discard_at: the minute from which a lot made here is not used, in the studio's time.
    """

    lot_id: int
    lot_number: str
    on_hand: Decimal
    expires_on: date | None
    opened_on: date | None
    received_on: date
    held: bool = False
    hold_reason: str = ""
    discard_at: datetime | None = None
    seen_at: datetime | None = None

    @property
    def is_past_its_minute(self) -> bool:
        return self.discard_at is not None and self.seen_at is not None and self.discard_at <= self.seen_at

    def usable_on(self, day: date) -> bool:
        """Say whether the lot may be used on a day: not held, and neither its expiry day nor its minute past."""
        in_time = not self.is_past_its_minute and (self.expires_on is None or self.expires_on >= day)
        return not self.held and in_time and self.on_hand > 0

    def why_not(self, day: date) -> str:
        if self.held:
            return f"held: {self.hold_reason}"
        if self.is_past_its_minute and self.discard_at is not None:
            return f"to be discarded by {self.discard_at:%d %b %Y, %H:%M}"
        if self.expires_on is not None and self.expires_on < day:
            return f"expired on {self.expires_on:%d %b %Y}"
        return "used up" if self.on_hand <= 0 else ""


@dataclass(frozen=True, kw_only=True)
class Pick:
    """An amount taken from one lot, in the material's stock unit."""

    lot_id: int
    lot_number: str
    amount: Decimal


def picking_order(lots: Iterable[LotOnShelf]) -> list[LotOnShelf]:
    """Order lots: first expired (none last), opened before unopened, oldest received, first entered."""
    return sorted(lots, key=lambda lot: (
        lot.expires_on or date.max, float("inf") if lot.discard_at is None else lot.discard_at.timestamp(),
        lot.opened_on is None, lot.received_on, lot.lot_id,
    ))


def pick(
    amount: Decimal, lots: Sequence[LotOnShelf], day: date, *, kept_back_too: bool = False
) -> tuple[list[Pick], Decimal]:
    """Return the picks for an amount, and what of it no lot can give. Amounts in the material's stock unit.

    kept_back_too: after the usable lots, take from held and expired ones, for which the owner gave a reason.
    """
    order = picking_order(lots)
    allowed = [lot for lot in order if lot.usable_on(day)]
    if kept_back_too:
        allowed += [lot for lot in order if not lot.usable_on(day) and lot.on_hand > 0]
    picks, left = [], amount
    for lot in allowed:
        if left <= 0:
            break
        taken = min(left, lot.on_hand)
        picks.append(Pick(lot_id=lot.lot_id, lot_number=lot.lot_number, amount=taken))
        left -= taken
    return picks, left


class Shelf:
    """Lots that empty as they are picked from: for planning several picks in a row."""

    def __init__(self, lots: Sequence[LotOnShelf], day: date) -> None:
        self._lots, self._day = list(lots), day

    def take(self, amount: Decimal) -> tuple[list[Pick], Decimal]:
        """Pick an amount and take it off the lots; return the picks and what is short."""
        picks, short = pick(amount, self._lots, self._day)
        taken = {picked.lot_id: picked.amount for picked in picks}
        self._lots = [
            replace(lot, on_hand=lot.on_hand - taken.get(lot.lot_id, Decimal(0))) for lot in self._lots
        ]
        return picks, short
