"""A bench timetable as a drawing: a row for each load, work in full, dwell outlined, drying as a line. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.timetable import StepTime, Timetable
from studio.rounding import decimal_string, half_up

WIDE, LEFT, ROW, BAR = 900, 10, 44, 16


@dataclass(frozen=True, kw_only=True)
class Span:
    """A stretch of time in a load's row. kind: work, dwell (must not run over) or drying (may)."""

    kind: str
    x: str
    y: str
    width: str
    height: str
    name: str


@dataclass(frozen=True, kw_only=True)
class Row:
    name: str
    name_y: str
    spans: list[Span]
    steps: list[tuple[str, str, str]]


@dataclass(frozen=True, kw_only=True)
class Tick:
    x: str
    name: str


@dataclass(frozen=True, kw_only=True)
class Timeline:
    rows: list[Row]
    ticks: list[Tick]
    width: int
    height: int
    foot: str


def clock(minutes: Fraction) -> str:
    """Return minutes from the start as hours and minutes, to the nearest minute: “1:05”."""
    whole = int(half_up(minutes, Fraction(1)))
    return f"{whole // 60}:{whole % 60:02d}"


def draw_timeline(table: Timetable, names: dict[str, str]) -> Timeline:
    """Return the drawing. names: what each recipe is called, by its key."""
    scale = Fraction(WIDE - 2 * LEFT) / (table.finish_minutes or 1)

    def place(minutes: Fraction) -> str:
        return decimal_string(LEFT + minutes * scale, 1)

    rows = []
    for at, load in enumerate(table.loads):
        top = 26 + at * ROW
        spans = []
        for step in load.steps:
            for kind, start, minutes in _spells(step):
                if minutes:
                    height = 4 if kind == "drying" else BAR
                    spans.append(Span(
                        kind=kind, x=place(start), y=str(top + 16 + (BAR - height) // 2),
                        width=decimal_string(max(minutes * scale, Fraction(1)), 1), height=str(height), name=step.name,
                    ))
        rows.append(Row(
            name=f"{names.get(load.recipe, load.recipe)}, load {load.load}", name_y=str(top + 11), spans=spans,
            steps=[(clock(step.starts), step.name, _told(step)) for step in load.steps],
        ))
    every = next((one for one in (5, 10, 15, 30, 60, 120, 240, 480) if table.finish_minutes / one <= 12), 1440)
    ticks = [Tick(x=place(Fraction(minute)), name=clock(Fraction(minute)))
             for minute in range(0, int(table.finish_minutes) + 1, every)]
    return Timeline(rows=rows, ticks=ticks, width=WIDE, height=26 + len(rows) * ROW + 6,
                    foot=str(26 + len(rows) * ROW))


def _spells(step: StepTime) -> list[tuple[str, Fraction, Fraction]]:
    still = "drying" if step.may_wait else "dwell"
    return [("work", step.starts, step.work_minutes), (still, step.starts + step.work_minutes, step.dwell_minutes)]


def _told(step: StepTime) -> str:
    told = f"{decimal_string(step.work_minutes, 0)} min of work" if step.work_minutes else "no work"
    if step.attended:
        told += ", stay with it"
    if step.dwell_minutes and step.may_wait:
        told += f", then {decimal_string(step.dwell_minutes, 0)} min or longer"
    elif step.dwell_minutes:
        told += f", then {decimal_string(step.dwell_minutes, 0)} min and not longer"
    return told
