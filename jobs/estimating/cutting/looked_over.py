"""A cutting plan of before, looked over by the rules of cutting and not looked for again. Pure.

Another version of a library may find another plan, as good: what was frozen is asked only whether it is one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction
from typing import Protocol

from jobs.estimating.basis import GlassFacts, House
from jobs.estimating.cutting.guillotine import part
from jobs.estimating.cutting.plans import CuttingPlan, Method, Piece, Question, SheetPlan, as_plan, question
from jobs.estimating.cutting.search import Found
from jobs.estimating.cutting.sheets import Layout, Placed
from jobs.estimating.loads import Pane
from studio.kit.errors import DaybookError


class CutOtherwise(DaybookError):
    """A plan by which this glass cannot be cut, or that says other than what comes of its panes' places."""


class Cutting(Protocol):
    """What gives a cutting plan, as `plan_cutting` does."""

    def __call__(
        self, panes: Sequence[Pane], glass: GlassFacts, house: House, directed: frozenset[int] = frozenset(), *,
        others: Sequence[GlassFacts] = (), method: Method = "patterns", kept_only: bool = False,
    ) -> CuttingPlan: ...


def cut_as(plans: Sequence[CuttingPlan]) -> Cutting:
    """Return what gives these plans, one after the other, each looked over. It raises CutOtherwise."""
    waiting = list(reversed(plans))

    def cutting(
        panes: Sequence[Pane], glass: GlassFacts, house: House, directed: frozenset[int] = frozenset(), *,
        others: Sequence[GlassFacts] = (), method: Method = "patterns", kept_only: bool = False,
    ) -> CuttingPlan:
        if not waiting:
            raise CutOtherwise(f"there is none for {glass.name}")
        asked = question(panes, glass, house, directed, others=others, method=method, kept_only=kept_only)
        return looked_over(waiting.pop(), asked)

    return cutting


def looked_over(plan: CuttingPlan, asked: Question) -> CuttingPlan:
    """Return a plan as it comes of the places of its panes, its cost and cuts worked out afresh.

    Every pane once at its size, on a stock size or kept offcut that there was, parted by cuts from edge to edge.
    Raises CutOtherwise where it breaks a rule, or where what comes of it is not what it says.
    """
    wants = {pane.label: at for at, panes in enumerate(asked.panes) for pane in panes}
    layouts = []
    for sheet in plan.sheets:
        at = _stock(sheet, asked)
        placed = tuple(_placed(piece, sheet, wants, asked) for piece in sheet.pieces)
        parted = part(placed, asked.stocks[at].width, asked.stocks[at].height, asked.rules)
        if parted is None or not placed:
            raise CutOtherwise(f"sheet {sheet.number} cannot be cut from edge to edge")
        layouts.append((Layout(at, placed), parted))
    cut = Counter(piece.pane.label for sheet in plan.sheets for piece in sheet.pieces)
    if cut != Counter(dict.fromkeys(wants, 1)):
        raise CutOtherwise("not every pane is cut once")
    for at, used in Counter(layout.stock for layout, _ in layouts).items():
        at_most = asked.stocks[at].at_most
        if at_most is not None and used > at_most:
            raise CutOtherwise(f"of one stock size {used} are cut, and there were {at_most}")
    bound_area = _whole(plan.fewest_m2 * 1_000_000 * asked.unit, asked.unit)
    again = as_plan(Found(tuple(layouts), bound_area, plan.first_sheets, plan.first_cost), asked)
    if again != plan or plan.cost > plan.first_cost:
        raise CutOtherwise("its cuts, offcuts or cost are not those of where its panes lie")
    return again


def _stock(sheet: SheetPlan, asked: Question) -> int:
    for at, source in enumerate(asked.sources):
        there = sheet.kept_offcut in source.kept if source.kept else sheet.kept_offcut is None
        if there and (sheet.glass, sheet.width_mm, sheet.height_mm, sheet.trim_mm) == (
            source.glass, source.width_mm, source.height_mm, source.trim_mm
        ):
            return at
    raise CutOtherwise(f"sheet {sheet.number} is of no size that there was")


def _placed(piece: Piece, sheet: SheetPlan, wants: dict[str, int], asked: Question) -> Placed:
    want = wants.get(piece.pane.label)
    if want is None:
        raise CutOtherwise(f"pane {piece.pane.label} is not cut from this glass")
    left, bottom, width, height = (_whole(length, asked.unit) for length in (
        piece.left_mm - sheet.trim_mm, piece.bottom_mm - sheet.trim_mm, piece.width_mm, piece.height_mm))
    of = asked.wants[want]
    alike = of.turns and of.width == of.height == width == height  # a square is said to be turned, or not
    if (width, height, piece.turned) not in of.ways and not alike:
        raise CutOtherwise(f"pane {piece.pane.label} is cut to another size, or turned")
    return Placed(want, left, bottom, width, height, piece.turned)


def _whole(length: Fraction, unit: int) -> int:
    if (length * unit).denominator != 1:
        raise CutOtherwise("it has lengths that no size of it leads to")
    return int(length * unit)
