"""Bench rules: a recipe walked as the pane's surface changes. Pure: no Django.

Bare → clean → sensitised → silvered → antiqued → sealed or backed; wet or dry;
rinsed or not; with ammoniacal silver open, or made safe. Each rule is a small
function that looks at the pane before a step and at the step, and returns a
sentence when something is wrong. To add one: write it in `stops` or `cautions`,
with the reason; nothing else changes.
"""

from recipes.finishes.bench_rules.pane import Surface
from recipes.finishes.bench_rules.rules import BenchRule, Finding
from recipes.finishes.bench_rules.silver import ClockStart, clock_starts, holds_ammoniacal_silver, in_bench_order
from recipes.finishes.bench_rules.stops import STANDS_TOO_LONG
from recipes.finishes.bench_rules.walking import (
    RULES,
    UNCLASSED_RULE,
    BenchRulesStop,
    first_stop,
    refuse_stops,
    walk,
)

__all__ = [
    "RULES", "STANDS_TOO_LONG", "UNCLASSED_RULE", "BenchRule", "BenchRulesStop", "ClockStart", "Finding", "Surface",
    "clock_starts", "first_stop", "holds_ammoniacal_silver", "in_bench_order", "refuse_stops", "walk",
]
