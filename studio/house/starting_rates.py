"""What a new studio's rates start as: each value with why it is there. Common practice, no source; changed any time."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Kind = Literal["percent", "money", "mm", "mL", "g", "minutes", "hours", "days"]


@dataclass(frozen=True, kw_only=True)
class StartingRate:
    """A rate that a studio starts with: its field, its value, how it is shown, and what it is for."""

    field: str
    value: Decimal | int
    kind: Kind
    label: str
    why: str


STARTING_RATES: tuple[StartingRate, ...] = (
    StartingRate(field="deposit_share", value=Decimal("0.5"), kind="percent", label="Deposit",
                 why="Asked for when a quote is accepted, before glass is cut."),
    StartingRate(field="quote_valid_days", value=30, kind="days", label="A quote is valid for",
                 why="After that it has lapsed, and costs are worked out anew."),
    StartingRate(field="price_step", value=Decimal(1), kind="money", label="Prices are rounded up to",
                 why="The step that a price goes up to, never down."),
    StartingRate(field="cover_share", value=Decimal("0.95"), kind="percent", label="Chance of enough good panes",
                 why="Spare panes are started until this chance is reached: a spoilt pane then stops no order."),
    StartingRate(field="setup_minutes", value=Decimal(20), kind="minutes", label="Setting up a job",
                 why="Bench, guns and trays made ready, once a job."),
    StartingRate(field="mixing_minutes_per_batch", value=Decimal(10), kind="minutes", label="Mixing, a batch",
                 why="Of any solution that says no minutes of its own."),
    StartingRate(field="cutting_minutes_per_pane", value=Decimal(5), kind="minutes", label="Cutting, a pane",
                 why="Marking, scoring and breaking out of a stock sheet."),
    StartingRate(field="packing_minutes_per_pane", value=Decimal(8), kind="minutes", label="Packing, a pane",
                 why="Wrapping and labelling what is delivered."),
    StartingRate(field="cure_hours", value=Decimal(24), kind="hours", label="Curing",
                 why="From the end of the bench until a pane may be packed."),
    StartingRate(field="trim_mm", value=Decimal(10), kind="mm", label="Trimmed off each edge of a sheet",
                 why="A delivered sheet's own edge is rarely square or whole."),
    StartingRate(field="clearance_mm", value=Decimal(2), kind="mm", label="Clearance of a cut",
                 why="Between two panes on a sheet."),
    StartingRate(field="smallest_offcut_mm", value=Decimal(300), kind="mm", label="Smallest offcut kept",
                 why="What is narrower goes to cullet; no offcut is credited until you say so."),
    StartingRate(field="increment_ml", value=Decimal(10), kind="mL", label="Mixes are rounded up to",
                 why="As finely as a measuring cylinder is read."),
    StartingRate(field="largest_vessel_ml", value=Decimal(5000), kind="mL", label="Largest vessel",
                 why="A larger mix is made in equal batches."),
    StartingRate(field="balance_readability_g", value=Decimal("0.1"), kind="g", label="The balance reads to",
                 why="What is too little to weigh on it is said, with a way round."),
    StartingRate(field="bench_usable_share", value=Decimal("0.7"), kind="percent", label="Bench that panes cover",
                 why="Of its area; the rest is gaps, hands and edges."),
)


def starting_values() -> dict[str, Decimal | int]:
    """Return the fields and values of a new studio's first rates."""
    return {rate.field: rate.value for rate in STARTING_RATES}
