"""Loads: which panes lie on the bench together.

Formula: first fit decreasing by W·H within bench width · height · usable share (Johnson, Near-optimal bin packing
algorithms, 1973). Area alone does not prove that they can lie side by side: the layout is tried with a rectangle
packer, and a warning says when none is found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

import rectpack

from jobs.estimating.basis import House
from jobs.estimating.refusals import EstimateError, EstimateWarning, warn
from jobs.estimating.take_off import TakeOff, treated_area_m2
from recipes.facts import StepFacts
from studio.kit.rounding import decimal_string


@dataclass(frozen=True, kw_only=True)
class Pane:
    """One pane to start: the copy-th of its line."""

    size: TakeOff
    copy: int

    @property
    def line_number(self) -> int:
        return self.size.line.number

    @property
    def label(self) -> str:
        return f"{self.line_number}.{self.copy}"


@dataclass(frozen=True, kw_only=True)
class Load:
    """Panes that are worked together, in the order in which they were placed."""

    recipe: str
    number: int
    panes: tuple[Pane, ...]
    oversize_method: str = ""
    no_layout_found: bool = False

    @property
    def area_m2(self) -> Fraction:
        return sum((pane.size.area_m2 for pane in self.panes), Fraction(0))

    def treated_m2(self, step: StepFacts) -> Fraction:
        """Return the area that a step treats: its zone of every pane."""
        return sum((treated_area_m2(pane.size, step) for pane in self.panes), Fraction(0))

    @property
    def labels(self) -> list[str]:
        return [pane.label for pane in self.panes]


@dataclass(frozen=True, kw_only=True)
class LoadPlan:
    loads: tuple[Load, ...]
    warnings: tuple[EstimateWarning, ...]


class PaneTooLarge(EstimateError):
    def __init__(self, size: TakeOff, house: House) -> None:
        line = size.line
        super().__init__(
            "pane larger than the bench", line.name, line.number,
            size=f"{decimal_string(line.width_mm, 1)} × {decimal_string(line.height_mm, 1)}",
            bench=f"{decimal_string(house.bench_width_mm, 1)} × {decimal_string(house.bench_height_mm, 1)}",
            usable=decimal_string(house.usable_area_m2, 3),
        )


def fits_bench(size: TakeOff, house: House) -> bool:
    """Say whether a pane fits the bench in either orientation and its usable area."""
    short, long = sorted((size.line.width_mm, size.line.height_mm))
    bench_short, bench_long = sorted((house.bench_width_mm, house.bench_height_mm))
    return short <= bench_short and long <= bench_long and size.bounding_m2 <= house.usable_area_m2


def plan_loads(
    recipe: str, sizes: Sequence[tuple[TakeOff, int]], house: House, finish: str = ""
) -> LoadPlan:
    """Place all started panes of one recipe version.

    sizes: each line's take-off with the number of panes to start, in line order. finish: whose warnings these are.
    Raises PaneTooLarge, naming the line, unless it is marked oversize.
    """
    for size, _ in sizes:
        if not size.line.oversize_method and not fits_bench(size, house):
            raise PaneTooLarge(size, house)
    pieces, apart = _pieces(sizes, house)
    of = (recipe, finish)
    warnings = [warn("group does not fit one load", name, field="match_group", recipe=of) for name in apart]
    loads: list[list[Pane]] = []
    room: list[Fraction] = []
    for piece in pieces:
        area = _bounding(piece)
        at = next((index for index, free in enumerate(room) if area <= free), len(loads))
        if at == len(loads):
            loads.append([])
            room.append(house.usable_area_m2)
        loads[at].extend(piece)
        room[at] -= area
    placed = [
        Load(recipe=recipe, number=number, panes=tuple(panes), no_layout_found=not lies_flat(panes, house))
        for number, panes in enumerate(loads, start=1)
    ]
    for size, count in sizes:
        for copy in range(1, count + 1) if size.line.oversize_method else ():
            placed.append(Load(
                recipe=recipe, number=len(placed) + 1, panes=(Pane(size=size, copy=copy),),
                oversize_method=size.line.oversize_method,
            ))
    warnings += [
        warn("no layout found", str(load.number), recipe=of)
        for load in placed if load.no_layout_found
    ]
    return LoadPlan(loads=tuple(placed), warnings=tuple(warnings))


def _bounding(panes: Sequence[Pane]) -> Fraction:
    return sum((pane.size.bounding_m2 for pane in panes), Fraction(0))


def _pieces(sizes: Sequence[tuple[TakeOff, int]], house: House) -> tuple[list[list[Pane]], list[str]]:
    """Return what is placed as one, largest first: single panes and match groups; and groups that fit no one load."""
    pieces: list[list[Pane]] = []
    apart: list[str] = []
    grouped = sorted((s for s in sizes if s[0].line.match_group), key=lambda s: s[0].line.match_group)
    together: set[str] = set()
    for name, members in groupby(grouped, key=lambda s: s[0].line.match_group):
        group = list(members)
        panes = [pane for size, count in group for pane in _panes(size, count)]
        oversize = any(size.line.oversize_method for size, _ in group)
        if not oversize and _bounding(panes) <= house.usable_area_m2:
            together.add(name)
            pieces.append(sorted(panes, key=lambda pane: (-pane.size.bounding_m2, pane.line_number)))
        else:
            apart.append(name)
    for size, count in sizes:
        if size.line.match_group not in together and not size.line.oversize_method:
            pieces += [[pane] for pane in _panes(size, count)]
    pieces.sort(key=lambda piece: (-_bounding(piece), min(pane.line_number for pane in piece)))
    return pieces, apart


def _panes(size: TakeOff, count: int) -> list[Pane]:
    return [Pane(size=size, copy=copy) for copy in range(1, count + 1)]


def lies_flat(panes: Sequence[Pane], house: House) -> bool:
    """Say whether a rectangle packer finds a layout for these panes on the bench, turning allowed."""
    packer = rectpack.newPacker(rotation=True)
    to_tenths = [(_tenths(p.size.line.width_mm), _tenths(p.size.line.height_mm)) for p in panes]
    for width, height in to_tenths:
        packer.add_rect(width, height)
    packer.add_bin(int(house.bench_width_mm * 10), int(house.bench_height_mm * 10))
    packer.pack()
    return len(packer.rect_list()) == len(to_tenths)


def _tenths(length_mm: Fraction) -> int:
    """Return a length in tenths of a millimetre, rounded up so that a found layout is a real one."""
    return int((length_mm * 10).__ceil__())
