"""The panes of a ticket as its front has them: what all have alike is said once, the rest beside each. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from jobs.work.ticket_plan import TicketPane, TicketPlan

_ROUTES = {"own": "customer's own", "cut": "bought cut"}


@dataclass(frozen=True, kw_only=True)
class PaneList:
    """said_once: a sentence on all panes; rows: each pane, the load it is in, and what is its own."""

    said_once: str
    rows: list[tuple[TicketPane, str, str]]

    @property
    def of_its_own(self) -> bool:
        return any(own for _, _, own in self.rows)


def pane_list(plan: TicketPlan) -> PaneList:
    loads = {
        label: (f"{load.number}" if len(plan.recipes) == 1 else f"{recipe.finish} {load.number}")
        for recipe in plan.recipes for load in recipe.loads for label in load.panes
    }
    said = {pane.label: _said(pane) for pane in plan.panes}
    alike = [word for word in next(iter(said.values()), []) if all(word in words for words in said.values())]
    return PaneList(
        said_once=f"All: {'; '.join(alike)}." if alike else "",
        rows=[
            (pane, loads.get(pane.label, ""), "; ".join(word for word in said[pane.label] if word not in alike))
            for pane in plan.panes
        ],
    )


def _said(pane: TicketPane) -> list[str]:
    """Return what is said of a pane besides its size: glass, edge, finish, backing, match group, holes, note."""
    holes = len(pane.holes)
    return [word for word in (
        f"{pane.glass}, {_ROUTES.get(pane.route, 'cut here')}", pane.edge, pane.finish,
        "backing board added" if pane.backing == "board" else "",
        f"matches {pane.match_group}" if pane.match_group else "", f"place {pane.place}" if pane.place else "",
        f"{holes} hole{'' if holes == 1 else 's'}, drawn below" if holes else "", pane.note,
    ) if word]
