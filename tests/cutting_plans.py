"""Plan cutting orders in the neutral form with the product's own planner and print the answers.

    python -m tests.cutting_plans FILE [--out ANSWERS]

prints {"plans": [{"name", "cost", "seconds", "sheets": [{"sheet_index", "placements": [{"pane_id", "x_mm", "y_mm",
"width_mm", "height_mm", "rotated"}]}]}]}, or {"name", "seconds", "refused"}; seconds are of the processor.
"""

from __future__ import annotations

import argparse
import json
import time
from fractions import Fraction
from math import ceil, floor
from pathlib import Path
from typing import Any

from jobs.estimating.basis import EdgeFacts, GlassFacts, House, LineFacts
from jobs.estimating.cutting.plans import CuttingPlan, Piece, plan_cutting
from jobs.estimating.loads import Pane
from jobs.estimating.refusals import EstimateError
from jobs.estimating.take_off import take_off


def answered(case: dict[str, Any]) -> dict[str, Any]:
    """Return the answer to one case, with the seconds of the processor that it took."""
    start = time.process_time()
    try:
        answer = _written(case, _planned(case))
    except EstimateError as refusal:
        answer = {"refused": str(refusal)}
    return {"name": case["name"], "seconds": round(time.process_time() - start, 3), **answer}


def _planned(case: dict[str, Any]) -> CuttingPlan:
    sizes = [
        GlassFacts(
            key=str(at), name="glass", sheet_width_mm=_down(sheet["width_mm"]),
            sheet_height_mm=_down(sheet["height_mm"]), sheet_cost=_exact(sheet["cost"]),
            sheets_at_most=sheet.get("available"),
        )
        for at, sheet in enumerate(case["sheets"])
    ]
    house = House(trim_mm=_up(case["trim_mm"]), clearance_mm=_up(case["clearance_mm"]))
    panes = [
        Pane(size=take_off(
            LineFacts(number=at, shape="rectangle", width_mm=_up(pane["width_mm"]),
                      height_mm=_up(pane["height_mm"]), quantity=pane["quantity"], recipe="r", glass="0", edge="e"),
            EdgeFacts(name="e"), sizes[0],
        ), copy=copy)
        for at, pane in enumerate(case["panes"], start=1) for copy in range(1, pane["quantity"] + 1)
    ]
    directed = frozenset() if case["rotate"] else frozenset(range(1, len(case["panes"]) + 1))
    return plan_cutting(panes, sizes[0], house, directed, others=sizes[1:])


def _written(case: dict[str, Any], plan: CuttingPlan) -> dict[str, Any]:
    return {
        "cost": _number(plan.cost),
        "sheets": [
            {"sheet_index": int(sheet.glass), "placements": [_placement(case, piece) for piece in sheet.pieces]}
            for sheet in plan.sheets
        ],
    }


def _placement(case: dict[str, Any], piece: Piece) -> dict[str, Any]:
    pane = case["panes"][piece.pane.line_number - 1]
    width, height = pane["width_mm"], pane["height_mm"]
    return {
        "pane_id": pane["id"], "x_mm": _number(piece.left_mm), "y_mm": _number(piece.bottom_mm),
        "width_mm": height if piece.turned else width, "height_mm": width if piece.turned else height,
        "rotated": piece.turned,
    }


def _exact(value: object) -> Fraction:
    return Fraction(str(value))


def _up(value: object) -> Fraction:
    """Return a length in the product's own steps, nanometres, rounded up."""
    return Fraction(ceil(_exact(value) * 10**6), 10**6)


def _down(value: object) -> Fraction:
    return Fraction(floor(_exact(value) * 10**6), 10**6)


def _number(value: Fraction) -> int | float:
    return int(value) if value.denominator == 1 else float(value)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("file", type=Path)
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    cases = json.loads(given.file.read_text(encoding="utf-8"))["instances"]
    answer = json.dumps({"plans": [answered(case) for case in cases]})
    if given.out:
        given.out.write_text(answer, encoding="utf-8")
    else:
        print(answer)


if __name__ == "__main__":
    main()
