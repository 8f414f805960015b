"""Orders to cut, made from a seed, in the neutral form that `tests.cutting_plans` reads.

Kinds: few panes; many panes; stock sizes mixed; kept offcuts of which there are few; whole sheets of which there are
few; cut from whole sheets without waste, or nearly so; long thin parts; many equal panes. `planted` is what the plan costs from
which an order was made, where it was made from one.
"""

from __future__ import annotations

import random
from collections import Counter
from typing import Any

Instance = dict[str, Any]

SHEETS = [(1219, 914, 20.0), (1605, 1125, 18.5), (1829, 1219, 18.0), (2250, 1605, 17.0), (2440, 1830, 16.0),
          (3210, 2250, 15.0)]
KINDS = ("few", "many", "mixed", "kept", "limited", "planted", "planted large", "nearly", "thin", "equal")


def instance(kind: str, seed: int) -> Instance:
    """Return one order; the same kind and seed always give the same."""
    chance = random.Random(f"{kind} {seed}")
    made = _MAKERS[kind](chance)
    made.setdefault("planted", None)
    return {"name": f"{kind} {seed}", "kind": kind, **made}


def all_instances(each: int, first: int = 0) -> list[Instance]:
    return [instance(kind, seed) for kind in KINDS for seed in range(first, first + each)]


def _sheet(size: tuple[int, int, float], available: int | None = None, factor: float = 1.0) -> dict[str, Any]:
    width, height, per_m2 = size
    return {"width_mm": width, "height_mm": height, "cost": round(width * height / 1e6 * per_m2 * factor, 2),
            "available": available}


def _cutting(chance: random.Random) -> dict[str, Any]:
    return {"trim_mm": chance.choice([0, 0, 5, 8, 10]), "clearance_mm": chance.choice([0, 0, 0.5, 1, 1.5, 3]),
            "rotate": chance.random() < 0.8}


def _length(chance: random.Random, low: int, high: int, style: str) -> float:
    value = chance.uniform(low, high)
    if style == "round":
        return max(50, round(value / 50) * 50)
    if style == "inch":
        return round(max(1, round(value / 25.4 * 8)) / 8 * 25.4, 1)
    if style == "tenths":
        return round(value, 1)
    return round(value)


def _panes(chance: random.Random, count: int, lines: int, sheet: tuple[int, int, float], spread: tuple[float, float],
           style: str | None = None) -> list[dict[str, Any]]:
    """Return `count` panes in at most so many lines; sides a share of the sheet's shorter side."""
    style = style or chance.choice(["round", "whole", "inch", "tenths"])
    short = min(sheet[0], sheet[1])
    panes = []
    shares = [1 + chance.random() * 3 for _ in range(lines)]
    for at, share in enumerate(shares):
        number = max(1, round(count * share / sum(shares)))
        panes.append({
            "id": f"P{at + 1:02}", "width_mm": _length(chance, int(spread[0] * short), int(spread[1] * short), style),
            "height_mm": _length(chance, int(spread[0] * short), int(spread[1] * short), style), "quantity": number,
        })
    while sum(pane["quantity"] for pane in panes) > count:
        most = max(panes, key=lambda pane: pane["quantity"])
        most["quantity"] -= 1
    return [pane for pane in panes if pane["quantity"] > 0]


def _few(chance: random.Random) -> Instance:
    sheet = chance.choice(SHEETS[:5])
    count = chance.randint(3, 12)
    panes = _panes(chance, count, chance.randint(2, min(count, 6)), sheet, (0.15, 0.8))
    return {"sheets": [_sheet(sheet)], **_cutting(chance), "panes": panes}


def _many(chance: random.Random) -> Instance:
    sheet = chance.choice(SHEETS[2:])
    count = chance.randint(13, 60)
    panes = _panes(chance, count, chance.randint(5, 20), sheet, chance.choice([(0.1, 0.6), (0.2, 0.7), (0.08, 0.4)]))
    return {"sheets": [_sheet(sheet)], **_cutting(chance), "panes": panes}


def _mixed(chance: random.Random) -> Instance:
    sizes = chance.sample(SHEETS, chance.choice([2, 3]))
    largest = max(sizes, key=lambda size: size[0] * size[1])
    count = chance.randint(6, 50)
    panes = _panes(chance, count, chance.randint(4, min(count, 14)), largest, chance.choice([(0.1, 0.5), (0.15, 0.7)]))
    return {"sheets": [_sheet(size, factor=chance.uniform(0.9, 1.1)) for size in sizes], **_cutting(chance),
            "panes": panes}


def _kept(chance: random.Random) -> Instance:
    sheet = chance.choice(SHEETS[2:])
    sheets = [_sheet(sheet)]
    for _ in range(chance.choice([1, 2])):
        part = (int(sheet[0] * chance.uniform(0.3, 0.7)), int(sheet[1] * chance.uniform(0.4, 1)), sheet[2])
        sheets.append(_sheet(part, chance.randint(1, 3), chance.uniform(0.3, 1)))
    count = chance.randint(5, 40)
    panes = _panes(chance, count, chance.randint(3, min(count, 12)), sheet, chance.choice([(0.1, 0.5), (0.2, 0.7)]))
    return {"sheets": sheets, **_cutting(chance), "panes": panes}


def _limited(chance: random.Random) -> Instance:
    small, large = sorted(chance.sample(SHEETS, 2), key=lambda size: size[0] * size[1])
    count = chance.randint(8, 40)
    panes = _panes(chance, count, chance.randint(4, min(count, 10)), small, (0.15, 0.8))
    area = sum(p["width_mm"] * p["height_mm"] * p["quantity"] for p in panes)
    some = max(1, int(area / (large[0] * large[1]) * chance.uniform(0.4, 0.8)))
    return {"sheets": [_sheet(large, some), _sheet(small, int(1.7 * area / (small[0] * small[1])) + 2)],
            **_cutting(chance), "panes": panes}


def _planted(chance: random.Random, most_sheets: int = 2, most_panes: int = 9) -> Instance:
    sheet = chance.choice(SHEETS[2:])
    cutting = _cutting(chance)
    gap, trim = cutting["clearance_mm"], cutting["trim_mm"]
    number = chance.randint(1, most_sheets)
    step = chance.choice([0.1, 0.5, 1, 5])
    sizes: Counter[tuple[float, float]] = Counter()
    for _ in range(number):
        pieces = [(sheet[0] - 2 * trim, sheet[1] - 2 * trim)]
        wanted = chance.randint(3, most_panes)
        for _ in range(200):
            if len(pieces) >= wanted:
                break
            at = max(range(len(pieces)), key=lambda n: pieces[n][0] * pieces[n][1] * chance.uniform(0.3, 1))
            width, height = pieces[at]
            upright = chance.random() < width / (width + height)
            whole = width if upright else height
            first = round(round(whole * chance.uniform(0.25, 0.75) / step) * step, 1)
            rest = round(whole - gap - first, 1)
            if min(first, rest) < 100:
                continue
            pieces[at:at + 1] = [(first, height), (rest, height)] if upright else [(width, first), (width, rest)]
        for width, height in pieces:
            turned = cutting["rotate"] and chance.random() < 0.5
            sizes[(height, width) if turned else (width, height)] += 1
    listed = list(sizes.items())
    chance.shuffle(listed)
    panes = [{"id": f"P{at + 1:02}", "width_mm": w, "height_mm": h, "quantity": n}
             for at, ((w, h), n) in enumerate(listed)]
    stock = _sheet(sheet)
    return {"sheets": [stock], **cutting, "panes": panes, "planted": round(number * stock["cost"], 2)}


def _planted_large(chance: random.Random) -> Instance:
    return _planted(chance, 4, 15)


def _nearly(chance: random.Random) -> Instance:
    """Cut from whole sheets, then every pane made a little smaller: the planted plan stands, no two sides agree."""
    made = _planted(chance, *chance.choice([(1, 9), (2, 7), (3, 12)]))
    most = chance.choice([0.01, 0.02, 0.04])
    for pane in made["panes"]:
        for side in ("width_mm", "height_mm"):
            pane[side] = round(pane[side] * (1 - chance.uniform(0, most)), 1)
    return made


def _thin(chance: random.Random) -> Instance:
    sheet = chance.choice(SHEETS[1:])
    panes = []
    for at in range(chance.randint(3, 10)):
        long, thin = chance.uniform(0.3, 0.95) * sheet[0], chance.uniform(50, 180)
        size = [round(long), round(thin)]
        if chance.random() < 0.3:
            size = [round(chance.uniform(0.15, 0.4) * sheet[1]), round(chance.uniform(0.15, 0.4) * sheet[1])]
        panes.append({"id": f"P{at + 1:02}", "width_mm": size[0], "height_mm": size[1],
                      "quantity": chance.randint(1, 6)})
    return {"sheets": [_sheet(sheet)], **_cutting(chance), "panes": panes}


def _equal(chance: random.Random) -> Instance:
    sheet = chance.choice(SHEETS[1:])
    panes = _panes(chance, chance.randint(15, 60), chance.randint(1, 3), sheet, (0.12, 0.55))
    return {"sheets": [_sheet(sheet)], **_cutting(chance), "panes": panes}


_MAKERS = {"few": _few, "many": _many, "mixed": _mixed, "kept": _kept, "limited": _limited, "planted": _planted,
           "planted large": _planted_large, "nearly": _nearly, "thin": _thin, "equal": _equal}
