"""Words that mean something beside a size and nothing of the order where they stand: “over the desk”. Pure."""

from __future__ import annotations

from jobs.orders.reading.measures import at, is_number
from jobs.orders.reading.tokens import Token
from jobs.orders.reading.vocabulary import FRAMES, LOOKS, PIECES, SAME_THINGS, THINGS

_WISHING = {"would", "should", "i'd", "we'd", "also", "you", "we", "i", "really", "she'd", "he'd", "they'd", "d", "id",
            "wed", "she"}
_WHEREABOUTS = {"between", "over", "under", "within", "up"}


def is_manner(tokens: list[Token], place: int) -> bool:
    """Say whether a word says a wish, a place or a look, and nothing of whether the size is ordered."""
    word, before, behind = at(tokens, place), at(tokens, place - 1), at(tokens, place + 1)
    if word == "either":
        return behind in ("side", "sides", "end")
    if word == "like":
        return before in _WISHING
    if word in _WHEREABOUTS:
        return behind not in ("", "to", "and") and not is_number(tokens, place + 1)
    if word == "already":
        return behind in ("taken", "deducted", "allowed", "measured", "subtracted")
    if word == "most":
        return before in ("your", "our", "the") and behind.endswith("ed")
    if word == "same":
        return behind in SAME_THINGS
    if word in ("old", "existing", "original"):
        return behind in (FRAMES | THINGS | LOOKS) - PIECES
    return word in ("sample", "samples") and place > 0 and bool(tokens[place - 1].unit)
