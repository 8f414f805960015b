"""Further first answers: a rectangle packer's guillotine rules, from a well-kept library (rectpack)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import rectpack

from jobs.estimating.cutting.sheets import Layout, Placed, Rules, Stock, Want

_RULES = (rectpack.GuillotineBssfSas, rectpack.GuillotineBafSlas, rectpack.GuillotineBlsfLas)
_SORTS = (rectpack.SORT_AREA, rectpack.SORT_LSIDE)
#: Beyond so many panes the packer is slow, and strips with patterns do well.
MOST_PANES = 120


def packed_layouts(wants: Sequence[Want], stock: Stock, at: int, rules: Rules) -> Iterator[list[Layout]]:
    """Yield plans on one stock size; of a kept offcut, only what fits those there are.

    Whether a plan can be cut edge to edge, and whether its strips break off, is checked by the caller.
    """
    if sum(want.number for want in wants) > MOST_PANES:
        return
    gap = rules.clearance
    for rule in _RULES:
        for sort in _SORTS:
            for turning in {all(want.turns for want in wants), False}:
                packer = rectpack.newPacker(pack_algo=rule, sort_algo=sort, rotation=turning)
                for number, want in enumerate(wants):
                    for _ in range(want.number):
                        packer.add_rect(want.width + gap, want.height + gap, rid=number)
                packer.add_bin(stock.width + gap, stock.height + gap, count=stock.at_most or float("inf"))
                packer.pack()
                plan = [
                    Layout(at, tuple(_placed(rect, wants[rect.rid], gap) for rect in sheet)) for sheet in packer
                ]
                if plan:
                    yield plan


def _placed(rect: rectpack.geometry.Rectangle, want: Want, gap: int) -> Placed:
    width, height = rect.width - gap, rect.height - gap
    return Placed(rect.rid, rect.x, rect.y, width, height, (width, height) != (want.width, want.height))
