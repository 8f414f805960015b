"""Every kind of thing that can be found, in the order it is shown, and the question put to all of them or to one."""

from __future__ import annotations

from dataclasses import dataclass

from recipes.finding import remember_what_has_none
from studio.whole.find import jobs_side, recipes_side, sent_side, stock_side
from studio.whole.find.asking import Found, Group, Kind, group_of
from studio.whole.find.exact import exact
from studio.whole.find.wanted import Wanted

KINDS = (
    Kind(key="jobs", title="Jobs", find=jobs_side.jobs, of_desk=True),
    Kind(key="customers", title="Customers", find=jobs_side.customers, of_desk=True, all="jobs:customers"),
    Kind(key="contacts", title="Contacts of customers", find=jobs_side.contacts, of_desk=True),
    Kind(key="quotes", title="Quotes", find=jobs_side.quotes, of_desk=True),
    Kind(key="requests", title="Requests for money", find=jobs_side.requests, of_desk=True, all="jobs:requests"),
    Kind(key="letters", title="Letters with quotes", find=sent_side.letters, of_desk=True),
    Kind(key="links", title="Private links", find=sent_side.links, of_desk=True),
    Kind(key="tickets", title="Tickets and runs", find=jobs_side.runs),
    Kind(key="panes", title="Panes ordered", find=jobs_side.panes),
    Kind(key="spoilt", title="Panes that spoilt", find=jobs_side.spoilage),
    Kind(key="notes", title="Notes of the bench", find=jobs_side.notes),
    Kind(key="materials", title="Materials", find=stock_side.materials),
    Kind(key="lots", title="Lots", find=stock_side.lots),
    Kind(key="offcuts", title="Offcuts", find=stock_side.offcuts),
    Kind(key="finishes", title="Finishes", find=recipes_side.finishes),
    Kind(key="versions", title="Recipe versions", find=recipes_side.versions),
    Kind(key="solutions", title="Solutions", find=recipes_side.solutions),
    Kind(key="trials", title="Trials", find=recipes_side.trials),
    Kind(key="ordered", title="Ordered from suppliers", find=stock_side.purchases, of_desk=True),
    Kind(key="waste", title="Waste containers", find=stock_side.waste),
)
_BY_KEY = {kind.key: kind for kind in KINDS}


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What was found: the things that a number names, and groups with something in them. only: the one group asked."""

    exact: tuple[Found, ...]
    groups: tuple[Group, ...]
    only: str = ""

    @property
    def is_empty(self) -> bool:
        return not self.exact and not self.groups


def everything(wanted: Wanted, *, runs_desk: bool, only: str = "", page: int = 1) -> Answer:
    """Return what a person may see of what is wanted. The number of queries is fixed.

    only: the key of the one kind to page through; one that nobody knows asks for all.
    """
    if not wanted.words:
        return Answer(exact=(), groups=())
    remember_what_has_none()
    kinds = [_BY_KEY[only]] if only in _BY_KEY else list(KINDS)
    groups = [group_of(kind, wanted, page if only in _BY_KEY else 1, runs_desk=runs_desk) for kind in kinds]
    return Answer(
        exact=() if only in _BY_KEY else tuple(exact(wanted, runs_desk)),
        groups=tuple(group for group in groups if group.rows or group.page > 1),
        only=only if only in _BY_KEY else "",
    )
