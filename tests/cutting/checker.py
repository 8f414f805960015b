"""An independent check of answers in the neutral form; it shares no line with the planner."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from typing import Any

Box = tuple[Fraction, Fraction, Fraction, Fraction]


def exact(value: object) -> Fraction:
    return Fraction(str(value))


def faults(case: dict[str, Any], answer: dict[str, Any]) -> list[str]:
    """Return what is wrong with an answer; nothing where it is a plan that can be cut."""
    wrong: list[str] = []
    if "refused" in answer:
        return wrong
    trim, gap = exact(case["trim_mm"]), exact(case["clearance_mm"])
    panes = {pane["id"]: pane for pane in case["panes"]}
    cut: Counter[str] = Counter()
    used: Counter[int] = Counter()
    for number, sheet in enumerate(answer["sheets"]):
        stock = case["sheets"][sheet["sheet_index"]]
        used[sheet["sheet_index"]] += 1
        boxes = []
        for placed in sheet["placements"]:
            pane = panes[placed["pane_id"]]
            cut[placed["pane_id"]] += 1
            size = (exact(placed["width_mm"]), exact(placed["height_mm"]))
            ordered = (exact(pane["width_mm"]), exact(pane["height_mm"]))
            if size != (ordered[::-1] if placed["rotated"] else ordered):
                wrong.append(f"sheet {number}: {placed['pane_id']} has another size")
            if placed["rotated"] and not case["rotate"]:
                wrong.append(f"sheet {number}: {placed['pane_id']} is turned")
            x, y = exact(placed["x_mm"]), exact(placed["y_mm"])
            boxes.append((x, y, x + size[0], y + size[1]))
        inner = (trim, trim, exact(stock["width_mm"]) - trim, exact(stock["height_mm"]) - trim)
        if not boxes:
            wrong.append(f"sheet {number} is empty")
        if any(b[0] < inner[0] or b[1] < inner[1] or b[2] > inner[2] or b[3] > inner[3] for b in boxes):
            wrong.append(f"sheet {number}: outside the trim")
        elif not parts(boxes, gap):
            wrong.append(f"sheet {number}: cannot be cut edge to edge")
    for index, times in used.items():
        most = case["sheets"][index]["available"]
        if most is not None and times > most:
            wrong.append(f"{times} sheets of size {index}, {most} there are")
    wrong += [f"{name}: {cut[name]} for {pane['quantity']}" for name, pane in panes.items()
              if cut[name] != pane["quantity"]]
    cost = sum(exact(case["sheets"][index]["cost"]) * times for index, times in used.items())
    if cost != exact(answer["cost"]):
        wrong.append(f"costs {cost}, said {answer['cost']}")
    return wrong


def parts(boxes: list[Box], gap: Fraction) -> bool:
    """Say whether cuts through the piece in hand part them all: any cut that can be made may be made first."""
    if len(boxes) < 2:
        return True
    for low, high in ((0, 2), (1, 3)):
        ordered = sorted(boxes, key=lambda box: box[low])
        reach = ordered[0][high]
        for at in range(1, len(ordered)):
            if ordered[at][low] >= reach + gap:
                return parts(ordered[:at], gap) and parts(ordered[at:], gap)
            reach = max(reach, ordered[at][high])
    return False
