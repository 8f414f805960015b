"""What a finish of the starter set says of itself to the studio, and never to a customer."""

from __future__ import annotations

STARTING_POINT = "A starting point to be tried on samples of your own, never a recommendation."


def for_customers(description: str) -> str:
    """Return a finish's description without what it tells the studio: a paper speaks of an approved sample."""
    return description.replace(STARTING_POINT, "").strip()
