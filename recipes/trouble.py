"""What can go wrong at the bench, the dangerous first, and what to do first about it. Pure."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Trouble:
    """name: what it is recorded as. first: what to do before anything else."""

    slug: str
    name: str
    first: str
    is_dangerous: bool = False

    @property
    def anchor(self) -> str:
        """Return the name of its screen at the bench."""
        return f"trouble-{self.slug}"


TROUBLES = (
    Trouble("dried", "Silver has dried",
            "Do not touch, move or scrape it: it may explode. Clear the area, call the owner and competent help.",
            is_dangerous=True),
    Trouble("unwell", "Unwell",
            "Eyes or skin: water now, for minutes, then the first aid of the data sheet. Breathing: out into fresh "
            "air, sit down, call the owner; call the emergency number where it is hard to breathe. Ammoniacal silver "
            "left standing is told to whoever comes.", is_dangerous=True),
    Trouble("spill", "Spill",
            "People out of it first, extraction on; keep it from the drain, soak it up wet, never let it dry. Into the "
            "container for that waste. Tell the owner.", is_dangerous=True),
    Trouble("spoilt", "Pane spoilt",
            "Tick it and say why. The other panes of the load first; the rinse is still collected."),
    Trouble("amount", "Wrong amount",
            "Write what went in. Nothing is added to put it right unless the owner says so."),
    Trouble("ran-out", "Ran out, or a lot looks wrong",
            "Take no other bottle on your own: ask, and write the lot that was taken beside the amount."),
)
