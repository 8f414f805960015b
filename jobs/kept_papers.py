"""Render a paper once; ever after the kept bytes are what is shown."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from jobs.models import MoneyRequest, Quote, WorkTicket
from studio.house.kept_files import keep, read

Papered = TypeVar("Papered", MoneyRequest, Quote, WorkTicket)


def kept_paper(row: Papered, render: Callable[[], bytes], *, name: str, owner_only: bool) -> bytes:
    """Return a row's paper; made now and kept when it has none. Rendered outside any transaction."""
    if row.paper is not None:
        return read(row.paper)
    stored = keep(render(), name=name, media_type="application/pdf", owner_only=owner_only)
    type(row)._default_manager.filter(pk=row.pk, paper=None).update(paper=stored)
    row.refresh_from_db(fields=["paper"])
    assert row.paper is not None  # if two rendered at once, the first one stands
    return read(row.paper)
