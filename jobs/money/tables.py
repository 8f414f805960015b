"""Rows of a table as they are written in a file, and as they are read on a page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.urls import reverse

from jobs.money.columns import As, Part
from studio.house.templatetags.figures import as_read, percent
from studio.kit.currencies import decimals, show_money
from studio.kit.rounding import plain
from studio.stockroom.tables import csv_lines

Row = tuple[Any, ...]


@dataclass(frozen=True, kw_only=True)
class Cell:
    """What stands in a column of a row: words, where they lead, and whether it is a number."""

    head: str
    words: str
    is_number: bool = False
    link: str = ""


def lines_of(part: Part, rows: Iterable[Row]) -> Iterator[str]:
    """Yield a part's CSV line by line: its head, then its rows."""
    kinds = [column.kind for column in part.columns]
    at = part.head.index("currency")
    return csv_lines(part.head, ([_written(kind, value, row[at]) for kind, value in zip(kinds, row, strict=True)]
                                 for row in rows))


def _written(kind: As, value: Any, currency: str) -> str:
    if isinstance(value, Decimal):
        return f"{value:.{decimals(currency)}f}" if kind == As.MONEY and currency else plain(value)
    if isinstance(value, date):  # a moment is one, too
        return value.isoformat(timespec="seconds") if isinstance(value, datetime) else value.isoformat()
    return str(value)


def cells_of(part: Part, row: Row) -> list[Cell]:
    """Return a row as its page shows it."""
    told = dict(zip(part.head, row, strict=True))
    return [
        Cell(head=column.shown, words=_read(column.kind, told[column.name], told), is_number=column.kind.is_number,
             link=reverse("jobs:job", args=[told["job"]]) if column.kind == As.JOB and told["job"] else "")
        for column in part.columns if column.on_page
    ]


def _read(kind: As, value: Any, told: dict[str, Any]) -> str:
    currency = told["currency"]
    if kind in (As.MONEY, As.COST):
        return show_money(Fraction(value), currency)
    if kind == As.UNIT_COST:
        return show_money(Fraction(value), currency, 4)
    if kind == As.SHARE:
        return percent(value, 2)
    if kind == As.QUANTITY:
        return as_read(value, told["stock_unit"])
    if kind == As.DAY and value:
        return f"{value:%-d %b %Y}"
    return str(value)
