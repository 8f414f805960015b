"""One choice of a quote with options becomes the order; undone, the order has all that was offered again."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid5

from jobs.kept_orders import as_it_stands, write_back
from jobs.models import Order, Quote
from jobs.quotes.freezing import QuoteError

#: where the wording of a chosen revision keeps of which quote it is, by which key, and the order with all its options
CHOSEN = "chosen"


def choice_of(quote: Quote, key: str) -> dict[str, Any]:
    """Return what was frozen of a choice. Raises QuoteError."""
    choice: dict[str, Any] | None = next((row for row in quote.choices if row["key"] == key), None)
    if choice is None:
        raise QuoteError(f"{quote} has options: say which of them is accepted.", "choice")
    return choice


def wording_of_chosen(quote: Quote, choice: dict[str, Any]) -> dict[str, Any]:
    """Return the wording of the revision that a choice becomes: its own, the day that the quote named, its way back."""
    ready = quote.wording.get("ready") or {}
    return {
        **choice["wording"], **({"ready": ready} if ready.get("on") else {}),
        CHOSEN: {"revision": quote.revision, "key": choice["key"], "lines": choice["lines"],
                 "order": as_it_stands(quote.order)},
    }


def key_of_chosen(quote: Quote, key: str, revision: int) -> UUID:
    """Return the key of the revision that a choice becomes: chosen again after an undoing, it is another one."""
    return uuid5(quote.form_key, f"{key}/{revision}")


def chosen_before(quote: Quote, key: str) -> Quote | None:
    """Return the accepted revision that this very choice became, where it was made before."""
    rows = Quote.objects.filter(order=quote.order_id, state=Quote.State.ACCEPTED)
    return next((row for row in rows if is_chosen_of(row, quote) and row.wording[CHOSEN]["key"] == key), None)


def is_chosen_of(chosen: Quote, quote: Quote) -> bool:
    """Say whether a revision is what was chosen of a quote with options."""
    return bool(chosen.wording.get(CHOSEN, {}).get("revision") == quote.revision)


def offered_by(chosen: Quote) -> Quote | None:
    """Return the quote with options that a revision was chosen from; None for any other."""
    revision = chosen.wording.get(CHOSEN, {}).get("revision")
    return None if revision is None else Quote.objects.filter(order=chosen.order_id, revision=revision).first()


def keep_chosen(order_id: int, lines: list[int]) -> None:
    """Let an order be what was chosen of it."""
    order = Order.objects.select_for_update().get(pk=order_id)
    order.bought_in.filter(line_number__isnull=False).exclude(line_number__in=lines).delete()
    order.lines.exclude(number__in=lines).delete()
    order.lines.update(offered="")
    order.saves += 1
    order.save(update_fields=["saves"])


def offer_again(chosen: Quote) -> None:
    """Let an order have all of its options again, unless it was changed since one of them was chosen."""
    kept = chosen.wording[CHOSEN]
    if as_it_stands(chosen.order) == _chosen_of(kept["order"], kept["lines"]):
        write_back(chosen.order, kept["order"])


def _chosen_of(kept: dict[str, Any], lines: list[int]) -> dict[str, Any]:
    return {
        **kept, "lines": [{**line, "offered": ""} for line in kept["lines"] if line["number"] in lines],
        "bought_in": [item for item in kept["bought_in"] if item["line_number"] in (None, *lines)],
    }
