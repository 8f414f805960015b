"""The first answer: panes in strips right across the sheet, first fit, tallest first.

A sheet is cut into strips, a strip into pieces, and a piece lower than its strip is cut to height
last: every cut runs edge to edge of the piece in hand.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from jobs.estimating.cutting.sheets import Layout, Placed, Rules, Stock, Want


@dataclass
class _Strip:
    """A strip: where it starts across the sheet, how deep it is, and how far it is filled along its length."""

    start: int
    depth: int
    filled: int
    placed: list[tuple[int, int, int, int, bool]]  # want, along at, along, across, turned


def strip_layouts(wants: Sequence[Want], stocks: Sequence[Stock], at: int, rules: Rules) -> Iterator[list[Layout]]:
    """Yield plans for all panes on whole sheets of one stock size: strips either way, panes lying or standing."""
    for lying, along_width in product((True, False, None), (True, False)):
        plan = _first_fit(wants, stocks[at], at, rules, lying, along_width)
        if plan is not None:
            yield plan


def _first_fit(
    wants: Sequence[Want], stock: Stock, at: int, rules: Rules, lying: bool | None, along_width: bool
) -> list[Layout] | None:
    length, depth = (stock.width, stock.height) if along_width else (stock.height, stock.width)
    panes = sorted(_panes(wants, lying, along_width, length), key=lambda pane: (-pane[2], -pane[1], pane[0]))
    sheets: list[list[_Strip]] = []
    for want, along, across, turned in panes:
        if along > length or across > depth:
            return None
        strip = _room(sheets, along, across, length, depth, rules)
        if strip is None:
            return None
        left = strip.filled + (rules.clearance if strip.placed else 0)
        strip.placed.append((want, left, along, across, turned))
        strip.filled = left + along
    return [Layout(at, tuple(_placed(strips, along_width))) for strips in sheets]


def _panes(
    wants: Sequence[Want], lying: bool | None, along_width: bool, length: int
) -> Iterator[tuple[int, int, int, bool]]:
    """Yield each pane: want, size along the strip, size across it, and whether it was turned."""
    for number, want in enumerate(wants):
        along, across = (want.width, want.height) if along_width else (want.height, want.width)
        turned = False
        if want.turns and lying is not None and (along > across) != lying:
            along, across, turned = across, along, True
        if want.turns and along > length:
            along, across, turned = across, along, not turned
        for _ in range(want.number):
            yield number, along, across, turned


def _room(
    sheets: list[list[_Strip]], along: int, across: int, length: int, depth: int, rules: Rules
) -> _Strip | None:
    """Return the first strip with room, a new one on the first sheet with room, or one on a new sheet."""
    gap = rules.clearance
    for strips in sheets:
        for strip in strips:
            rest = length - strip.filled - gap - along
            if across <= strip.depth and rules.may_end(rest) and rules.may_end(strip.depth - across):
                return strip
        start = strips[-1].start + strips[-1].depth + gap
        if rules.may_end(depth - start - across) and rules.may_end(length - along):
            strips.append(_Strip(start, across, 0, []))
            return strips[-1]
    if not (rules.may_end(length - along) and rules.may_end(depth - across)):
        return None
    sheets.append([_Strip(0, across, 0, [])])
    return sheets[-1][-1]


def _placed(strips: Sequence[_Strip], along_width: bool) -> Iterator[Placed]:
    for strip in strips:
        for want, left, along, across, turned in strip.placed:
            if along_width:
                yield Placed(want, left, strip.start, along, across, turned)
            else:
                yield Placed(want, strip.start, left, across, along, turned)
