"""A bench timetable as a drawing: a row for each load, work in full, dwell outlined, drying as a line. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from jobs.estimating.timetable import LoadTime, StepTime, Timetable
from studio.kit.rounding import decimal_string, half_up

WIDE, LEFT, ROW, BAR = 900, 10, 44, 16
LOADS_IN_A_TABLE = 6


@dataclass(frozen=True, kw_only=True)
class Span:
    """A stretch of time in a load's row. kind: work, dwell (must not run over) or drying (may)."""

    kind: str
    x: str
    y: str
    width: str
    height: str

    @property
    def fill(self) -> str:
        return {"work": "#2F4A63", "dwell": "#FFFFFF"}.get(self.kind, "#737D84")

    @property
    def outlined(self) -> bool:
        return self.kind == "dwell"


@dataclass(frozen=True, kw_only=True)
class Row:
    name: str
    name_y: str
    spans: list[Span]
    starts: str


@dataclass(frozen=True, kw_only=True)
class StartTable:
    """When each step of a recipe starts, load by load. steps: name, what it takes, a time for each load."""

    finish: str
    loads: list[int]
    steps: list[tuple[str, str, list[str]]]


@dataclass(frozen=True, kw_only=True)
class Tick:
    x: str
    name: str


@dataclass(frozen=True, kw_only=True)
class Timeline:
    rows: list[Row]
    tables: list[StartTable]
    ticks: list[Tick]
    width: int
    height: int
    foot: str

    @property
    def in_words(self) -> str:
        """Return the drawing in words, for those who do not see it."""
        return "Timetable: " + "; ".join(f"{row.name} from {row.starts}" for row in self.rows)


def clock(minutes: Fraction) -> str:
    """Return minutes from the start as hours and minutes, to the nearest minute: “1:05”."""
    whole = int(half_up(minutes, Fraction(1)))
    return f"{whole // 60}:{whole % 60:02d}"


def draw_timeline(table: Timetable, names: dict[str, str]) -> Timeline:
    """Return the drawing. names: each recipe's name, by its key."""
    scale = Fraction(WIDE - 2 * LEFT) / (table.finish_minutes or 1)

    def place(minutes: Fraction) -> str:
        return decimal_string(LEFT + minutes * scale, 1)

    rows = []
    if table.job_mixing_minutes:
        rows.append(Row(name="Mixing for the whole job", name_y=str(26 + 11), starts=clock(Fraction(0)), spans=[Span(
            kind="work", x=place(Fraction(0)), y=str(26 + 16), height=str(BAR),
            width=decimal_string(max(table.job_mixing_minutes * scale, Fraction(1)), 1),
        )]))
    for at, load in enumerate(table.loads, start=len(rows)):
        top = 26 + at * ROW
        spans = []
        for kind, start, minutes in _joined(load):
            height = 4 if kind == "drying" else BAR
            spans.append(Span(
                kind=kind, x=place(start), y=str(top + 16 + (BAR - height) // 2),
                width=decimal_string(max(minutes * scale, Fraction(1)), 1), height=str(height),
            ))
        rows.append(Row(
            name=f"{names.get(load.recipe, load.recipe)}, load {load.load}", name_y=str(top + 11), spans=spans,
            starts=clock(load.starts),
        ))
    every = next((step for step in (5, 10, 15, 30, 60, 120, 240, 480) if table.finish_minutes / step <= 12), 1440)
    ticks = [Tick(x=place(Fraction(minute)), name=clock(Fraction(minute)))
             for minute in range(0, int(table.finish_minutes) + 1, every)]
    return Timeline(rows=rows, tables=_tables(table, names), ticks=ticks, width=WIDE, height=26 + len(rows) * ROW + 6,
                    foot=str(26 + len(rows) * ROW))


def _tables(table: Timetable, names: dict[str, str]) -> list[StartTable]:
    found = []
    for recipe in dict.fromkeys(load.recipe for load in table.loads):
        mine = [load for load in table.loads if load.recipe == recipe]
        for first in range(0, len(mine), LOADS_IN_A_TABLE):
            loads = mine[first:first + LOADS_IN_A_TABLE]
            found.append(StartTable(
                finish=names.get(recipe, recipe), loads=[load.load for load in loads],
                steps=[
                    (f"{step.step}. {step.name}", _takes(_first_at_work(loads, at)),
                     [_begins(load.steps[at], loads, at) for load in loads])
                    for at, step in enumerate(loads[0].steps)
                ],
            ))
    return found


def _first_at_work(loads: list[LoadTime], at: int) -> StepTime:
    """Return a step in the first load that has work in it: of loads that share a mix, one alone mixes it."""
    return next((load.steps[at] for load in loads if load.steps[at].work_minutes), loads[0].steps[at])


def _begins(step: StepTime, loads: list[LoadTime], at: int) -> str:
    """Return when a step begins; of mixing, nothing where a load takes of an earlier load's mix."""
    shared = step.only_mixing and not step.work_minutes and any(load.steps[at].work_minutes for load in loads)
    return "–" if shared else clock(step.starts)


def _joined(load: LoadTime) -> list[tuple[str, Fraction, Fraction]]:
    """Return a load's spells as kind, start, minutes; work that goes on from step to step is one."""
    found: list[tuple[str, Fraction, Fraction]] = []
    for kind, start, minutes in (spell for step in load.steps for spell in _spells(step) if spell[2]):
        if found and kind == "work" and found[-1][0] == "work" and found[-1][1] + found[-1][2] == start:
            found[-1] = (kind, found[-1][1], found[-1][2] + minutes)
        else:
            found.append((kind, start, minutes))
    return found


def _spells(step: StepTime) -> list[tuple[str, Fraction, Fraction]]:
    still = "drying" if step.may_wait else "dwell"
    return [("work", step.starts, step.work_minutes), (still, step.starts + step.work_minutes, step.dwell_minutes)]


def _takes(step: StepTime) -> str:
    if not step.work_minutes and not step.dwell_minutes:
        return "not timed, stay with it" if step.attended else "not timed"
    words = f"{_minutes(step.work_minutes)} of work" if step.work_minutes else "no work"
    if step.mixing_minutes and not step.only_mixing:
        words += f", {_minutes(step.mixing_minutes)} of it mixing"
    if step.attended:
        words += ", stay with it"
    each = ", each pane " + _minutes(step.dwell_each_minutes) if step.dwell_each_minutes else ""
    if step.dwell_minutes and step.may_wait:
        words += f", then {_minutes(step.dwell_minutes)} or longer{each}"
    elif step.dwell_minutes:
        words += f", then {_minutes(step.dwell_minutes)} and not longer{each}"
    return words


def _minutes(minutes: Fraction) -> str:
    return f"{decimal_string(minutes * 60, 0)} s" if minutes < 2 else f"{decimal_string(minutes, 0)} min"
