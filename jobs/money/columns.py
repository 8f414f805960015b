"""The tables of a closed month and of what is owed: their columns, in their order, and what each means. Pure.

The names are the first line of the CSV: whoever reads those files by a program rests on them, so that a column is
added at the end of a table, and never renamed, moved or given another meaning. Days are written 2026-11-30, moments
with their zone, money with the decimals of its currency and a point, costs exact. Amounts that go the other way are
below nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class As(StrEnum):
    """What a column holds, for how it is written in a file and on a page."""

    TEXT = "text"
    JOB = "job"
    DAY = "day"
    MOMENT = "moment"
    MONEY = "money"
    COST = "cost"
    UNIT_COST = "unit cost"
    SHARE = "share"
    QUANTITY = "quantity"
    COUNT = "count"

    @property
    def is_number(self) -> bool:
        return self in (As.MONEY, As.COST, As.UNIT_COST, As.SHARE, As.QUANTITY, As.COUNT)


@dataclass(frozen=True)
class Column:
    """name: in the CSV; shown: as the head of the page; means: in a line; on_page: it stands there, too."""

    name: str
    shown: str
    kind: As
    means: str
    on_page: bool = True


@dataclass(frozen=True, kw_only=True)
class Part:
    """One table: its name in addresses and files, its title, what it holds, and its columns. by_day: of a last day, not
    of the days between two."""

    name: str
    title: str
    lead: str
    columns: tuple[Column, ...]
    by_day: bool = False

    @property
    def head(self) -> tuple[str, ...]:
        return tuple(column.name for column in self.columns)


_CURRENCY = Column("currency", "Currency", As.TEXT, "ISO 4217 code of every amount in the row", on_page=False)
_JOB = Column("job", "Job", As.JOB, "number of the job")
_TITLE = Column("title", "Title", As.TEXT, "what the job is called")
_CUSTOMER = Column("customer", "Customer", As.TEXT, "who ordered it")
_MATERIAL = Column("material", "Material", As.TEXT, "its name in the stockroom")
_UNIT = Column("stock_unit", "Unit", As.TEXT, "g, mL, sheet or each: what the quantity counts")
_NUMBER = Column("number", "Number", As.TEXT, "of the request, with its prefix")

REQUESTED = Part(
    name="requested", title="Asked for", lead="Every request for money made in these days; credits below nothing.",
    columns=(
        _NUMBER, Column("kind", "Kind", As.TEXT, "deposit, balance, sample (the fee of samples) or credit"),
        Column("asked_on", "Day", As.DAY, "the day it was made"), Column("due_on", "Due", As.DAY, "the day it is due"),
        _CUSTOMER, _JOB, Column("quote", "Quote", As.TEXT, "the quote it rests on"),
        Column("takes_back", "Takes back", As.TEXT, "of a credit, the number of the request that it takes back"),
        Column("net", "Net", As.MONEY, "without tax"), Column("tax", "Tax", As.MONEY, "at all rates"),
        Column("total", "Total", As.MONEY, "net and tax"), _CURRENCY,
    ),
)
TAX = Part(
    name="tax", title="Tax by rate", lead="What was asked for in these days, a row for each request and rate of tax.",
    columns=(
        Column("tax_name", "Tax", As.TEXT, "what the tax is called"),
        Column("tax_share", "Rate", As.SHARE, "of the net: 0.2 for 20 %"), _NUMBER,
        Column("asked_on", "Day", As.DAY, "the day the request was made"), _CUSTOMER,
        Column("net", "Net", As.MONEY, "at this rate, without tax"), Column("tax", "Tax", As.MONEY, "at this rate"),
        Column("total", "Total", As.MONEY, "net and tax"), _CURRENCY,
    ),
)
PAYMENTS = Part(
    name="payments", title="Payments",
    lead="What came in and went back, on its day. What was undone counts the other way on the day it was undone.",
    columns=(
        Column("day", "Day", As.DAY, "the day it was paid, or undone"), _JOB, _CUSTOMER,
        Column("what", "What", As.TEXT, "in, given back, in (undone) or given back (undone)"),
        Column("how", "How", As.TEXT, "transfer, cash, card, cheque, other; empty where nobody said"),
        Column("amount", "Amount", As.MONEY, "above nothing came in, below nothing went back"), _CURRENCY,
        Column("note", "Note", As.TEXT, "as it was written"),
        Column("recorded_at", "Recorded", As.MOMENT, "when it was written down", on_page=False),
    ),
)
DEPOSITS = Part(
    name="deposits", title="Deposits held", by_day=True,
    lead="What was in on the last day of jobs that were not delivered by then, cancelled ones among them.",
    columns=(
        _JOB, _TITLE, _CUSTOMER, Column("state", "State", As.TEXT, "open or cancelled, on that day"),
        Column("held", "Held", As.MONEY, "what was paid and not given back by that day"), _CURRENCY,
    ),
)
MATERIALS = Part(
    name="materials", title="Materials used",
    lead="What left the shelf for jobs and trials in these days, at the cost of the lots it came from.",
    columns=(
        _MATERIAL, _UNIT, Column("used_for", "For", As.TEXT, "job, trial or other"),
        Column("job", "Job", As.JOB, "number of the job; empty of a trial"),
        Column("quantity", "Quantity", As.QUANTITY, "used, less what a correction put back"),
        Column("cost", "Cost", As.COST, "quantity at the unit costs of its lots, with carriage"), _CURRENCY,
    ),
)
STOCK = Part(
    name="stock", title="Stock", by_day=True,
    lead="What stood on the shelf at the end of the last day, reckoned back from the movements of every lot.",
    columns=(
        _MATERIAL, Column("lot", "Lot", As.TEXT, "its lot number"), _UNIT,
        Column("quantity", "On hand", As.QUANTITY, "at the end of that day"),
        Column("unit_cost", "Unit cost", As.UNIT_COST, "with carriage, for one stock unit"),
        Column("value", "Value", As.COST, "quantity at its unit cost"), _CURRENCY,
    ),
)
WORK = Part(
    name="work", title="Work in progress", by_day=True,
    lead="Materials used by the end of the last day for jobs that were neither delivered nor cancelled by then. "
         "What an open run uses counts once it is finished.",
    columns=(
        _JOB, _TITLE, _CUSTOMER, _MATERIAL, _UNIT,
        Column("quantity", "Quantity", As.QUANTITY, "used, less what a correction put back"),
        Column("cost", "Cost", As.COST, "quantity at the unit costs of its lots, with carriage"), _CURRENCY,
    ),
)
#: of a closed month, as they stand on its page
PARTS = (REQUESTED, TAX, PAYMENTS, DEPOSITS, MATERIALS, STOCK, WORK)
OWED = Part(
    name="owed", title="Owed", by_day=True, lead="Every request that is not paid in full.",
    columns=(
        _CUSTOMER, _JOB, _TITLE, _NUMBER, Column("kind", "Kind", As.TEXT, "deposit, balance or sample"),
        Column("asked_on", "Asked", As.DAY, "the day it was made"),
        Column("due_on", "Due", As.DAY, "the day it is due"),
        Column("days_late", "Days late", As.COUNT, "since it was due; 0 before"),
        Column("asked", "Asked for", As.MONEY, "as it was made"),
        Column("taken_back", "Taken back", As.MONEY, "by credits"),
        Column("paid", "Paid", As.MONEY, "of it; the oldest request of a job is paid first"),
        Column("open", "Open", As.MONEY, "what is owed of it"), _CURRENCY,
    ),
)
