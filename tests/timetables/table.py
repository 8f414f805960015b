"""Three hundred random orders at the bench: `python -m tests.timetables.table [ORDERS]`.

Each is one to three recipes of one to twelve loads: cleaning, silvering, rinsing, backing, as spells of hands on a bench
with dwells nobody need watch, and waits while the bench is free. Printed by size: how far the product's timetable ends
past the bound (no timetable is over sooner: the longest chain, or all work shared out among the hands, or the benches),
and how far plain first-come does, load after load as they stand in the order.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from statistics import mean

from jobs.estimating.scheduling import BENCH, HANDS, Stretch, Task, first_come, schedule

SEED, ORDERS = 17, 300
SIZES = ((1, 12), (13, 40), (41, 200))


@dataclass(frozen=True)
class Order:
    stretches: tuple[Stretch, ...]
    hands: int
    benches: int


def orders(count: int) -> Iterator[Order]:
    """Yield random orders; the same ones for the same count."""
    dice = random.Random(SEED)
    for _ in range(count):
        stretches: list[Stretch] = []
        chain = 0
        for _ in range(dice.randint(1, 3)):
            recipe = [_stretch(dice) for _ in range(dice.randint(2, 5))]
            for _ in range(dice.randint(1, 12)):
                stretches += [Stretch(chain, length, wait, tasks) for length, wait, tasks in recipe]
                chain += 1
        yield Order(tuple(stretches), dice.randint(1, 3), dice.randint(1, 3))


def _stretch(dice: random.Random) -> tuple[int, int, tuple[Task, ...]]:
    tasks, at = [], 0
    for _ in range(dice.randint(1, 3)):
        length = dice.randint(2, 20)
        tasks.append(Task(HANDS, at, length))
        at += length + dice.choice((0, 0, dice.randint(3, 15)))
    tasks.append(Task(BENCH, 0, at))
    return at, dice.choice((0, 0, 10, 45, 120)), tuple(tasks)


@dataclass(frozen=True)
class Row:
    """One order: how many stretches, when each timetable is over, by minutes, and what the product's took."""

    stretches: int
    over: int
    bound: int
    plain: int
    proved: bool
    seconds: float


def measured(order: Order) -> Row:
    capacity = {HANDS: order.hands, BENCH: order.benches}
    began = time.process_time()
    found = schedule(order.stretches, capacity)
    seconds = time.process_time() - began
    plain = first_come(order.stretches, capacity)
    return Row(stretches=len(order.stretches), over=found.over, bound=found.bound, plain=plain.over, proved=found.proved,
               seconds=seconds)


def table(rows: list[Row]) -> str:
    """Return the table: mean and worst of what each timetable is longer than the bound, by the number of stretches."""
    def past(of: Callable[[Row], int], mine: list[Row]) -> str:
        ratios = [of(row) / row.bound for row in mine]
        return f"{mean(ratios):>8.3f}{max(ratios):>8.3f}"

    lines = [f"{'stretches':<12}{'orders':>8}{'proved':>8}{'mean':>8}{'worst':>8}{'first-come':>12}{'worst':>8}{'slowest s':>11}"]
    for low, high in (*SIZES, (1, 10_000)):
        mine = [row for row in rows if low <= row.stretches <= high]
        if mine:
            plain = past(lambda row: row.plain, mine)
            name = "all" if high == 10_000 else f"{low} to {high}"
            lines.append(f"{name:<12}{len(mine):>8}{sum(row.proved for row in mine):>8}{past(lambda row: row.over, mine)}"
                         f"{plain[:8]:>12}{plain[8:]}{max(row.seconds for row in mine):>11.2f}")
    return "\n".join(lines)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else ORDERS
    print(table([measured(order) for order in orders(count)]))


if __name__ == "__main__":
    main()
