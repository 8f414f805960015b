"""How far cutting plans are from the best known, per kind, beside a packing library's rules: a table to read.

    python -m tests.cutting.table [ORDERS OF EACH KIND] [FIRST]

Best known: the least of the bound by area (where a plan reaches it, it is proved), the planted plan, what the planner
finds with six times the effort and another seed (`best_known.json`, made by `--look`), and today's answer.
"""

from __future__ import annotations

import argparse
import json
from fractions import Fraction
from pathlib import Path
from typing import Any
from unittest import mock

import rectpack

from jobs.estimating.cutting import search as searching
from jobs.estimating.cutting.search import Effort
from tests.cutting.checker import exact, faults
from tests.cutting.instances import KINDS, instance
from tests.cutting_plans import answered

BEST = Path(__file__).parent / "best_known.json"
_RULES = [
    getattr(rectpack, f"Guillotine{choice}{split}")
    for choice in ("Baf", "Blsf", "Bssf") for split in ("Las", "Llas", "Maxas", "Minas", "Sas", "Slas")
]
_SORTS = (rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE, rectpack.SORT_PERI)


def library_cost(case: dict[str, Any]) -> float | None:
    """Return the least cost that the packing library's guillotine rules come to, on each size alone and on all."""
    gap, trim = exact(case["clearance_mm"]), exact(case["trim_mm"])
    stocks = [
        (exact(sheet["width_mm"]) - 2 * trim + gap, exact(sheet["height_mm"]) - 2 * trim + gap, sheet)
        for sheet in case["sheets"]
    ]
    panes = [(exact(pane["width_mm"]) + gap, exact(pane["height_mm"]) + gap)
             for pane in case["panes"] for _ in range(pane["quantity"])]
    best: Fraction | None = None
    sets = [[stock] for stock in stocks]
    if len(stocks) > 1:
        ranked = sorted(stocks, key=lambda stock: (exact(stock[2]["cost"]) / (stock[0] * stock[1]), stock[0]))
        sets += [ranked, ranked[::-1]]
    for some in sets:
        for rule in _RULES:
            for sort in _SORTS:
                packer = rectpack.newPacker(pack_algo=rule, sort_algo=sort, rotation=case["rotate"])
                for number, (width, height) in enumerate(panes):
                    packer.add_rect(width, height, rid=number)
                for at, (width, height, sheet) in enumerate(some):
                    most = sheet["available"]
                    packer.add_bin(width, height, count=len(panes) if most is None else most, bid=at)
                packer.pack()
                if len(packer.rect_list()) == len(panes):
                    cost = sum((exact(some[sheet.bid][2]["cost"]) for sheet in packer), Fraction(0))
                    best = cost if best is None else min(best, cost)
    return None if best is None else float(best)


def harder(case: dict[str, Any]) -> dict[str, Any]:
    """Answer with six times the effort and another seed."""
    usual = searching._seed
    with mock.patch.multiple(
        searching, MORE=Effort(work=3_300_000, plans=384, joins=8_000_000, most_panes=500),
        FEW=Effort(work=900_000, plans=256, joins=2_000_000, most_panes=12), _seed=lambda *asked: usual(*asked) ^ 12345,
    ):
        return answered(case)


def table(each: int, first: int = 0) -> None:
    """Print per kind: mean and worst share of the best known, how many are at it, seconds of the processor."""
    known = json.loads(BEST.read_text(encoding="utf-8")) if BEST.exists() else {}
    print(f"{'cutting orders':<15} {'mean':>7} {'worst':>6} {'at best':>8} {'proved':>7} {'library':>8} {'worst':>6}"
          f" {'to 12 panes, s':>15} {'more, s':>8}")
    everything: list[tuple[float, float | None]] = []
    for kind in KINDS:
        rows, proved, few, more = [], 0, [0.0], [0.0]
        for seed in range(first, first + each):
            case = instance(kind, seed)
            answer = answered(case)
            assert not faults(case, answer), (case["name"], faults(case, answer))
            if "refused" in answer:
                print(f"{case['name']}: {answer['refused']}")
                continue
            library = library_cost(case)
            best = min(value for value in (answer["cost"], case["planted"], known.get(case["name"]), library) if value)
            proved += answer["cost"] <= least(case) + 1e-6
            rows.append((answer["cost"] / best, None if library is None else library / best))
            (few if sum(pane["quantity"] for pane in case["panes"]) <= 12 else more).append(answer["seconds"])
        everything += rows
        _print(kind, rows, proved, max(few), max(more))
    _print("all", everything, None, None, None)


def _print(name: str, rows: list[tuple[float, float | None]], proved: int | None, few: float | None,
           more: float | None) -> None:
    ours, theirs = [row[0] for row in rows], [row[1] for row in rows if row[1] is not None]
    print(f"{name:<15} {sum(ours) / len(ours):7.4f} {max(ours):6.3f} {sum(one < 1.0001 for one in ours):4}/{len(ours):<3}"
          f" {'' if proved is None else proved:>7} {sum(theirs) / max(len(theirs), 1):8.4f} {max(theirs, default=0):6.3f}"
          f" {'' if few is None else format(few, '.2f'):>15} {'' if more is None else format(more, '.2f'):>8}")


def least(case: dict[str, Any]) -> float:
    """Return the cost that the area of the panes alone asks for: sheets of the least cost by area, none in part."""
    gap, trim = exact(case["clearance_mm"]), exact(case["trim_mm"])
    needed = sum(((exact(p["width_mm"]) + gap) * (exact(p["height_mm"]) + gap) * p["quantity"] for p in case["panes"]),
                 Fraction(0))
    sizes = [((exact(s["width_mm"]) - 2 * trim + gap) * (exact(s["height_mm"]) - 2 * trim + gap), exact(s["cost"]),
              s["available"]) for s in case["sheets"]]

    def cheapest(at: int, rest: Fraction) -> Fraction:
        if rest <= 0:
            return Fraction(0)
        if at == len(sizes):
            return Fraction(10**9)
        area, cost, most = sizes[at]
        many = -(-rest // area) if most is None else min(most, -(-rest // area))
        return min(cost * times + cheapest(at + 1, rest - times * area) for times in range(int(many) + 1))

    return float(cheapest(0, needed))


def look(each: int, first: int) -> None:
    """Look for better plans with more effort, and keep what they cost."""
    for seed in range(first, first + each):
        for kind in KINDS:
            case = instance(kind, seed)
            answer = harder(case)
            if "refused" in answer:
                continue
            known = json.loads(BEST.read_text(encoding="utf-8")) if BEST.exists() else {}
            known[case["name"]] = min(known.get(case["name"], answer["cost"]), answer["cost"])
            BEST.write_text(json.dumps(known, indent=1, sort_keys=True) + "\n", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("each", type=int, nargs="?", default=6)
    parser.add_argument("first", type=int, nargs="?", default=0)
    parser.add_argument("--look", action="store_true", help="look for better plans first, with more effort")
    given = parser.parse_args()
    if given.look:
        look(given.each, given.first)
    table(given.each, given.first)


if __name__ == "__main__":
    main()
