"""What each role may do: a row a role. A page, service or template asks for what somebody may, never for a role. Pure.

A further role is a row of `ROLES` and its name in a migration of `Person.role`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class May(StrEnum):
    """Something that not everybody who works here may do."""

    #: work at the bench, make trials, take from the shelf and count it; read tickets, recipes and stock, without prices
    WORK = "work"
    #: orders, customers and their contacts, quotes and prices, jobs, buying, deliveries, materials, counts, waste
    ORDERS = "orders"
    #: what the work costs the studio, and what a price leaves of it
    MARGINS = "margins"
    #: write finishes and solutions, put versions in use and withdraw them
    RECIPES = "recipes"
    #: go on, with a reason, in spite of what holds others back: a held lot, a stop, a shortage
    OVERRULE = "overrule"
    #: studio settings, rates, setting up, the record of changes
    STUDIO = "studio"
    #: add people, change and let them go
    PEOPLE = "people"


@dataclass(frozen=True, kw_only=True)
class Role:
    """A role by the name that is kept of it, what it may, and that in words."""

    name: str
    may: frozenset[May]
    in_words: str


ROLES = (
    Role(name="owner", may=frozenset(May), in_words="sees and changes everything"),
    Role(name="desk", may=frozenset({May.WORK, May.ORDERS}),
         in_words="works at the bench and runs the desk: orders, customers, quotes, buying and stock, with prices; "
                  "writes no recipes, and never sees margins, settings or people"),
    Role(name="helper", may=frozenset({May.WORK}),
         in_words="sees tickets, the bench, stock quantities and recipes; never prices, costs or customers' contact "
                  "details"),
)
OWNER = ROLES[0].name
_BY_NAME = {role.name: role for role in ROLES}
NAMES = tuple(_BY_NAME)


def may(role: str, what: May) -> bool:
    """Return whether a role may do something; a role that nobody knows may nothing."""
    return role in _BY_NAME and what in _BY_NAME[role].may


def who_may(what: May) -> str:
    """Return the roles that may do something, in words: “owner, desk”."""
    return ", ".join(role.name for role in ROLES if what in role.may)
