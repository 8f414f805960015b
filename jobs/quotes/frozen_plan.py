"""A quote's plan, frozen: what the estimate worked out, read back without working anything out again. Pure.

Panes, order lines and solutions stand in the quote's basis already: the plan names them (“2.1” is
pane 1 of line 2; a line by its number; a solution by its key; an ingredient by its number there).
`format` says how the rest is written: a plan is read by the reader of its format, for ever. What a format gained since
has a default, which is left out: a plan of before is read, and written again, as it was (mixing minutes; there were
none).
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextvars import ContextVar
from dataclasses import dataclass, fields
from decimal import Decimal
from fractions import Fraction
from typing import Any

from cattrs.errors import BaseValidationError
from cattrs.gen import make_dict_structure_fn, make_dict_unstructure_fn, override

from jobs.estimating.basis import Basis, GlassFacts, LineFacts
from jobs.estimating.carrying import Carrying
from jobs.estimating.estimate import ARITHMETIC, Estimate
from jobs.estimating.glass import CUT_HERE, GlassCost
from jobs.estimating.labour import LineLabour
from jobs.estimating.loads import Load, Pane
from jobs.estimating.mixes import Mix, amounts_by_material
from jobs.estimating.price import LineCost, Price
from jobs.estimating.promise import Promise
from jobs.estimating.refusals import EstimateWarning
from jobs.estimating.silver import SilverBalance
from jobs.estimating.spoilage import PanesPlanned
from jobs.estimating.take_off import TakeOff
from jobs.estimating.timetable import StepTime, Timetable
from jobs.estimating.volumes import Applied, Need
from jobs.frozen import converter
from recipes.facts import IngredientFacts, SolutionFacts
from studio.kit.errors import DaybookError
from studio.kit.rounding import as_decimal
from studio.kit.typed_numbers import whole_number

FORMAT = 1
#: Stock is promised to a thousandth of its unit, as the stockroom keeps it.
STOCK_DECIMALS = 3

Json = dict[str, Any]


class PlanUnreadable(DaybookError):
    """The frozen plan is of a format that this program does not know."""


@dataclass(frozen=True, kw_only=True)
class FrozenEstimate(Estimate):
    """An estimate as it was frozen: its timetable and its promise are what they were."""

    timetable_then: Timetable
    promise_then: Promise

    @property
    def timetable(self) -> Timetable:
        return self.timetable_then

    @property
    def promise(self) -> Promise:
        return self.promise_then


@dataclass(frozen=True, kw_only=True)
class Planned:
    """One material as it was planned: its amount in its stock unit, and what that costs."""

    amount: Fraction
    cost: Fraction


@dataclass(frozen=True, kw_only=True)
class FrozenPlan:
    """What later stages read of a quote.

    arithmetic: the version of the arithmetic that worked it out. stock: what is taken from stock by material
    code, sheets of glass among it. offcuts: numbers of the kept offcuts it is cut from. planned: chemistry and
    glass by material code, exact.
    """

    arithmetic: int
    stock: dict[str, Decimal]
    offcuts: tuple[int, ...]
    planned: dict[str, Planned]
    minutes: Fraction
    estimate: FrozenEstimate

    @property
    def todays_arithmetic(self) -> bool:
        return self.arithmetic == ARITHMETIC


def stock_needed(estimate: Estimate) -> dict[str, Decimal]:
    """Return what a job takes from stock by material code: chemistry, and whole sheets of glass."""
    needed = {code: as_decimal(amount, STOCK_DECIMALS) for code, amount in estimate.amounts.items() if amount > 0}
    for use in estimate.glass.sheets:
        if use.sheets:
            needed[use.glass] = needed.get(use.glass, Decimal(0)) + use.sheets
    return needed


def offcuts_needed(estimate: Estimate) -> list[int]:
    """Return the numbers of the kept offcuts that a job is cut from."""
    return sorted(number for use in estimate.glass.sheets for number in use.kept_offcuts)


def freeze_plan(estimate: Estimate) -> Json:
    """Return what an estimate worked out as JSON values, its basis left out: the quote holds that beside."""
    plan = {
        "format": FORMAT, "arithmetic": ARITHMETIC, "stock": stock_needed(estimate),
        "offcuts": offcuts_needed(estimate), "planned": _planned(estimate), "minutes": estimate.minutes,
        "timetable": estimate.timetable, "promise": estimate.promise,
        **{name: getattr(estimate, name) for name in _WORKED_OUT},
    }
    written: Json = json.loads(json.dumps(_writer.unstructure(plan)))  # as a database gives it back: keys are text
    return written


def thaw_plan(content: Json, basis: Basis) -> FrozenPlan:
    """Return the plan that was frozen beside this basis.

    Raises PlanUnreadable for a format that is not known, and for a plan that does not fit its basis.
    """
    reader = _reader_of(content)
    try:
        return reader(content, basis)
    except (BaseValidationError, LookupError, ValueError, TypeError, StopIteration) as unreadable:
        raise PlanUnreadable("This quote's plan is damaged: it does not fit what the quote was worked out from.") \
            from unreadable


def _reader_of(content: Json) -> Callable[[Json, Basis], FrozenPlan]:
    reader = READERS.get(content.get("format", 0))
    if reader is None:
        raise PlanUnreadable("This quote's plan was frozen by another version of the program, which must read it.")
    return reader


def stock_of(content: Json) -> dict[str, Decimal]:
    """Return what a frozen plan takes from stock by material code; nothing else of it is read, nor its basis.

    Every format that was ever written holds it so. Raises PlanUnreadable for a format that is not known.
    """
    _reader_of(content)
    try:
        return {code: Decimal(amount) for code, amount in content["stock"].items()}
    except (LookupError, ArithmeticError, AttributeError, TypeError) as unreadable:
        raise PlanUnreadable("This quote's plan is damaged: it does not say what it takes from stock.") from unreadable


def faults_within(plan: FrozenPlan) -> Iterator[str]:
    """Yield what does not tie among the frozen figures themselves, in words that follow a quote's name."""
    estimate, price = plan.estimate, plan.estimate.price
    if sum(price.line_prices, Fraction(0)) != price.net:
        yield "has line prices that do not sum to its net"
    if price.price - price.discount != price.net or price.net + price.tax != price.total:
        yield "has a price whose discount, net, tax and total do not tie"
    if sum((cost.total for cost in estimate.costs), Fraction(0)) != price.cost:
        yield "has lines whose costs do not sum to its cost"
    if dict(estimate.amounts) != amounts_by_material(estimate.mixes):
        yield "has amounts that are not those of its mixes"
    if plan.stock != stock_needed(estimate):
        yield "needs stock that is not the sum of its mixes and sheets"
    if list(plan.offcuts) != offcuts_needed(estimate):
        yield "needs kept offcuts that are not those of its cutting plan"
    if plan.todays_arithmetic and (plan.planned != _planned(estimate) or plan.minutes != estimate.minutes):
        yield "has planned amounts, costs or minutes that are not those of its lines"
    if (ahead := _panes_not_planned_once(estimate)):
        yield f"does not work and cut every pane once: {', '.join(ahead)}"


def _panes_not_planned_once(estimate: Estimate) -> list[str]:
    """Return the labels of panes that stand in no load, or in two; and of those to cut that are cut never or twice."""
    wanted = [Pane(size=size, copy=copy).label for size in estimate.sizes
              for copy in range(1, estimate.panes[size.line.number].panes_to_start + 1)]
    cut_here = {line.number for line in estimate.basis.lines
                if line.route in CUT_HERE and estimate.basis.glasses[line.glass].given_sheets is None}
    worked = Counter(pane.label for loads in estimate.loads.values() for load in loads for pane in load.panes)
    cut = Counter(piece.pane.label for use in estimate.glass.sheets for sheet in use.plan for piece in sheet.pieces)
    to_cut = Counter(label for label in wanted if whole_number(label.partition(".")[0]) in cut_here)
    return sorted({*((Counter(wanted) - worked) + (worked - Counter(wanted))), *((to_cut - cut) + (cut - to_cut))})


def _planned(estimate: Estimate) -> dict[str, Planned]:
    """Return chemistry and glass by material code: the amount planned, and its cost."""
    planned = {
        key: Planned(amount=amount, cost=amount * (estimate.basis.shelf.materials[key].unit_cost or 0))
        for key, amount in estimate.amounts.items()
    }
    for use in estimate.glass.sheets:
        known = planned.get(use.glass, Planned(amount=Fraction(0), cost=Fraction(0)))
        planned[use.glass] = Planned(amount=known.amount + use.sheets, cost=known.cost + use.cost)
    return planned


#: What an estimate worked out, and the type in which it is read back.
_WORKED_OUT: Mapping[str, Any] = {
    "sizes": tuple[TakeOff, ...], "panes": dict[int, PanesPlanned], "loads": dict[str, tuple[Load, ...]],
    "applied": tuple[Applied, ...], "needs": tuple[Need, ...], "mixes": tuple[Mix, ...],
    "amounts": dict[str, Fraction], "glass": GlassCost, "labour": dict[int, LineLabour],
    "costs": tuple[LineCost, ...], "price": Price, "silver": SilverBalance, "warnings": tuple[EstimateWarning, ...],
    "carrying": Carrying,
}

_writer = converter()
_writer.register_unstructure_hook(Pane, lambda pane: pane.label)
_writer.register_unstructure_hook(LineFacts, lambda line: line.number)
_writer.register_unstructure_hook(SolutionFacts, lambda solution: solution.key)
_writer.register_unstructure_hook(IngredientFacts, lambda ingredient: ingredient.number)
#: What the format gained: left out where it is as by default.
_GAINED: Mapping[Any, tuple[str, ...]] = {
    StepTime: ("mixing_minutes", "only_mixing", "dwell_each_minutes"),
    Timetable: ("job_mixing_minutes", "bound_minutes"),
    LineLabour: ("mixing",), GlassFacts: ("sheets_at_most",), Mix: ("shared",),
    Price: ("own_prices_change", "worked_out_lines"),
}
for _kind, _names in _GAINED.items():
    _writer.register_unstructure_hook(_kind, make_dict_unstructure_fn(
        _kind, _writer, **{name: override(omit_if_default=True) for name in _names},  # type: ignore[arg-type]
    ))


class _Format1:
    """Reads a plan of the first format beside its basis."""

    def __init__(self, content: Json, basis: Basis) -> None:
        self.content, self.basis = content, basis
        self.lines = {line.number: line for line in basis.lines}
        self.sizes: dict[int, TakeOff] = {}
        self.solution = SolutionFacts(key="", name="")

    def pane(self, label: str) -> Pane:
        line, _, copy = label.partition(".")
        return Pane(size=self.sizes[whole_number(line)], copy=whole_number(copy))

    def ingredient(self, number: int) -> IngredientFacts:
        return next(ingredient for ingredient in self.solution.ingredients if ingredient.number == number)

    def mix(self, value: Json, kind: type[Mix]) -> Mix:
        self.solution = self.basis.shelf.solutions[value["solution"]]
        read: Mix = _plain_mix(value, kind)
        return read

    def _read(self, name: str, kind: Any) -> Any:
        return _reader.structure(self.content[name], kind)

    def read(self) -> FrozenPlan:
        before = _read_now.set(self)
        try:
            self.sizes = {size.line.number: size for size in self._read("sizes", _WORKED_OUT["sizes"])}
            worked_out = {name: self._read(name, kind) for name, kind in _WORKED_OUT.items()}
            return FrozenPlan(
                arithmetic=self.content["arithmetic"], stock=self._read("stock", dict[str, Decimal]),
                offcuts=self._read("offcuts", tuple[int, ...]), planned=self._read("planned", dict[str, Planned]),
                minutes=self._read("minutes", Fraction),
                estimate=FrozenEstimate(
                    basis=self.basis, timetable_then=self._read("timetable", Timetable),
                    promise_then=self._read("promise", Promise), **worked_out,
                ),
            )
        finally:
            _read_now.reset(before)


#: The plan that is read now: one reader serves all, since making one takes longer than reading a plan with it.
_read_now: ContextVar[_Format1] = ContextVar("_read_now")
_reader = converter()
_reader.register_structure_hook(LineFacts, lambda number, _: _read_now.get().lines[number])
_reader.register_structure_hook(Pane, lambda label, _: _read_now.get().pane(label))
_reader.register_structure_hook(SolutionFacts, lambda key, _: _read_now.get().basis.shelf.solutions[key])
_reader.register_structure_hook(IngredientFacts, lambda number, _: _read_now.get().ingredient(number))
_plain_mix = make_dict_structure_fn(Mix, _reader)  # after the hooks that it calls
_reader.register_structure_hook(Mix, lambda value, kind: _read_now.get().mix(value, kind))

#: A reader for each format that was ever written. A reader is never changed, only followed by another.
READERS: Mapping[int, Callable[[Json, Basis], FrozenPlan]] = {
    1: lambda content, basis: _Format1(content, basis).read(),
}

assert {field.name for field in fields(Estimate)} == {"basis", *_WORKED_OUT}  # what an estimate gains, a plan gains
