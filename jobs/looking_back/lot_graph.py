"""What each lot made here holds of other lots, and what each run took of which: read for many lots at once.

The queries grow with the depth of nesting, never with rows.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from jobs.looking_back.portions import NOTHING, Contents, Portion, contents_of, planned_lots, volume_ml
from jobs.models import KeptLeftover, Run
from jobs.models.quotes import frozen_of
from jobs.work.bench import MixState
from jobs.work.recorded import RunRecord, records_of
from recipes.models import TrialUse
from studio.kit.asking import among
from studio.stockroom.models import Lot, StockMovement
from studio.stockroom.models.materials import LONG

Kind = StockMovement.Kind
TAKING = (Kind.USE, Kind.MAKE_UP_OUT)


@dataclass(kw_only=True)
class LotGraph:
    """made_of: what a unit of a lot holds of others. contents: by run, making of a mix, and lot. planned: of mixes to
    come. glass: the lots of glass that a run took. lots: every lot met on the way.
    """

    made_of: dict[int, Contents] = field(default_factory=dict)
    records: dict[int, RunRecord] = field(default_factory=dict)
    contents: dict[int, dict[str, Contents]] = field(default_factory=dict)
    planned: dict[int, dict[str, Contents]] = field(default_factory=dict)
    glass: dict[int, dict[int, Decimal]] = field(default_factory=dict)
    trials: list[tuple[TrialUse, int, Decimal]] = field(default_factory=list)
    lots: dict[int, Lot] = field(default_factory=dict)
    _held: dict[tuple[int, int], Portion] = field(default_factory=dict)

    def holds(self, lot: int, source: int) -> Portion:
        """Return how much of a source a unit of a lot holds, whatever it came through."""
        if lot == source:
            return Portion(recorded=Fraction(1))
        if (lot, source) not in self._held:
            self._held[lot, source] = NOTHING  # a lot is made of earlier ones: nothing comes round
            within = self.made_of.get(lot, {}).items()
            self._held[lot, source] = sum((portion.of(self.holds(inner, source)) for inner, portion in within), NOTHING)
        return self._held[lot, source]

    def of_source(self, contents: Contents, source: int) -> Portion:
        return sum((portion.of(self.holds(lot, source)) for lot, portion in contents.items()), NOTHING)

    def via(self, contents: Iterable[int], source: int) -> tuple[str, ...]:
        """Return the lots made here through which a source came into contents."""
        return tuple(str(self.lots[lot]) for lot in dict.fromkeys(contents)
                     if lot != source and lot in self.lots and self.holds(lot, source) != NOTHING)

    def runs_reached(self, sources: Iterable[int]) -> dict[int, list[int]]:
        """Return by source the runs that have it, or a lot that holds it, in a mix, to come, or as glass."""
        into: dict[int, list[int]] = defaultdict(list)
        for lot, within in self.made_of.items():
            for inner in within:
                into[inner].append(lot)
        of_lot: dict[int, dict[int, None]] = defaultdict(dict)
        for pk in self.records:
            mixed = [*self.contents[pk].values(), *self.planned[pk].values()]
            for lots in (*(set(contents) for contents in mixed), set(self.glass[pk])):
                for lot in lots:
                    of_lot[lot][pk] = None
        found = {}
        for source in sources:
            met, level = {source}, [source]
            while level:
                level = [lot for inner in level for lot in into.get(inner, ()) if lot not in met]
                met |= set(level)
            mine = {pk for lot in met for pk in of_lot.get(lot, ())}
            found[source] = [pk for pk in self.records if pk in mine]
        return found

    def add_runs(self, runs: Sequence[Run]) -> None:
        """Read what runs took of which lot at which mix."""
        new = [run for run in runs if run.pk not in self.records]
        records = records_of(new)
        moved: dict[int, dict[int, tuple[Lot, Decimal]]] = defaultdict(dict)
        rows = StockMovement.objects.filter(kind=Kind.USE, reverses=None, reversed_by=None).order_by("pk")
        postings = {run.posting_id: run.pk for run in new if run.posting_id is not None}
        for row in self.with_their_lots(among(rows, "posting_id", postings)):
            before = moved[postings[row.posting_id]].get(row.lot_id, (row.lot, Decimal(0)))
            moved[postings[row.posting_id]][row.lot_id] = (row.lot, before[1] - row.quantity)
        known = {lot.lot_number for lot in self.lots.values()}
        self._keep(among(_LOTS, "lot_number", {
            number for record in records.values() for number in _numbers(record) if number not in known}))
        self._keep(among(_LOTS, "pk", {
            state.lot for record in records.values() for state in record.mixes if state.lot is not None
            and state.lot not in self.lots}))
        numbered = {lot.lot_number: lot.pk for lot in self.lots.values()}
        self.records |= records
        for run in new:
            record = records[run.pk]
            taken = _beyond_recorded(record, moved[run.pk]) if run.posting_id is not None else None
            self.contents[run.pk] = contents_of(record.mixes, numbered, taken)
            self.planned[run.pk] = {
                state.key: planned_lots(state, numbered) for state in record.mixes
                if run.is_open and state.made is None and state.lot is None
            }
            codes = {glass.code for glass in record.plan.glass}
            self.glass[run.pk] = {pk: amount for pk, (lot, amount) in moved[run.pk].items()
                                  if lot.material.code in codes}

    def _keep(self, rows: Iterable[Lot]) -> None:
        self.lots |= {lot.pk: lot for lot in rows}

    def with_their_lots(self, movements: Iterable[StockMovement]) -> list[StockMovement]:
        """Return movements with their lots: each lot is read once, however often it was taken from."""
        found = list(movements)
        self._keep(among(_LOTS, "pk", {row.lot_id for row in found} - self.lots.keys()))
        for row in found:
            row.lot = self.lots[row.lot_id]
        return found

    def add_leftovers(self, kept: Iterable[KeptLeftover]) -> list[int]:
        """Note what leftovers hold: as their mix did. The runs are read already. Return those that are new."""
        new = []
        for row in kept:
            states = {state.key: state for state in self.records[row.run_id].mixes}
            state = states.get(row.mix)
            whole = volume_ml(state) if state is not None else Fraction(0)
            if row.lot_id in self.made_of or not whole:
                continue
            self.lots[row.lot_id] = row.lot
            self.made_of[row.lot_id] = {lot: portion.times(1 / whole)
                                        for lot, portion in self.contents[row.run_id][row.mix].items()}
            new.append(row.lot_id)
        return new


def _numbers(record: RunRecord) -> Iterable[str]:
    for state in record.mixes:
        for taken in state.lots.values():
            yield from (number for number, _ in taken)
        for row in state.mix.ingredients:
            yield from (pick.lot_number for pick in row.picks)


def _recorded(mixes: Iterable[MixState]) -> dict[str, Decimal]:
    """Return how much was recorded of each lot at a mix, by its number."""
    found: dict[str, Decimal] = defaultdict(Decimal)
    for state in mixes:
        for taken in state.lots.values() if state.made else ():
            for number, amount in taken:
                found[number] += amount
    return found


def _beyond_recorded(
    record: RunRecord, moved: Mapping[int, tuple[Lot, Decimal]],
) -> dict[str, list[tuple[int, Fraction]]]:
    """Return what the ledger took of each material beyond what was recorded at a mix, by lot."""
    recorded = _recorded(record.mixes)
    ahead: dict[int, Fraction] = defaultdict(Fraction)
    for state in record.mixes:
        if state.lot is not None:
            ahead[state.lot] += state.mix.volume_ml
    rest: dict[str, list[tuple[int, Fraction]]] = defaultdict(list)
    for pk, (lot, amount) in moved.items():
        left = Fraction(amount) - Fraction(recorded.get(lot.lot_number, Decimal(0))) - ahead[pk]
        if left > 0:
            rest[lot.material.code].append((pk, left))
    return rest


_LOTS = Lot.objects.select_related("material").defer(*(f"material__{name}" for name in LONG))
_LEFT = KeptLeftover.objects.select_related(
    "lot__material", "run__ticket__job__order__customer", "run__ticket__job__quote",
).defer(*frozen_of("run__ticket__job__quote"))
_RUNS = Run.objects.select_related("ticket__job__order__customer", "ticket__job__quote", "posting").defer(
    *frozen_of("ticket__job__quote"))


def _mixed_of(graph: LotGraph, outs: Collection[StockMovement]) -> list[int]:
    """Note what lots mixed ahead were made of. outs: movements out, of any postings. Return those that are new."""
    rows = StockMovement.objects.filter(kind=Kind.MAKE_UP_IN, reverses=None, reversed_by=None).order_by("pk")
    new = []
    made = {row.posting_id: row for row in graph.with_their_lots(among(
        rows, "posting_id", {row.posting_id for row in outs if row.kind == Kind.MAKE_UP_OUT}))}
    for row in outs:
        into = made.get(row.posting_id)
        if into is None or row.kind != Kind.MAKE_UP_OUT:
            continue
        graph.lots |= {into.lot_id: into.lot, row.lot_id: row.lot}
        held = graph.made_of.setdefault(into.lot_id, {})
        if not held or into.lot_id in new:
            new.append(into.lot_id)
        if row.lot_id not in held:
            held[row.lot_id] = Portion(recorded=Fraction(-row.quantity) / Fraction(into.quantity))
    return new


def forward(lots: Iterable[Lot]) -> LotGraph:
    """Return all that lots went into: lots made here, runs, trials and leftovers, to any depth, and the open runs."""
    graph = LotGraph(lots={lot.pk: lot for lot in lots})
    level, seen = set(graph.lots), set(graph.lots)  # what open runs take besides is not followed
    graph.add_runs(list(_RUNS.open()))
    outs = StockMovement.objects.filter(kind__in=TAKING, reverses=None, reversed_by=None)
    while level:
        moved = graph.with_their_lots(among(outs.order_by("pk"), "lot_id", level))
        postings = {row.posting_id for row in moved if row.kind == Kind.USE}
        graph.add_runs(list(among(_RUNS, "posting_id", postings)))
        trials = {use.posting_id: use for use in among(
            TrialUse.objects.select_related("trial__recipe_version__finish", "posting"), "posting_id", postings)}
        graph.trials += [(trials[row.posting_id], row.lot_id, -row.quantity) for row in moved
                         if row.posting_id in trials]
        new = set(_mixed_of(graph, moved))
        new |= set(graph.add_leftovers(among(_LEFT, "run_id", graph.records)))
        level = new - seen
        seen |= level
    return graph


def backward(runs: Sequence[Run]) -> LotGraph:
    """Return all that is in runs: the lots taken, and what those made here were made of, to any depth."""
    graph = LotGraph()
    graph.add_runs(runs)
    seen: set[int] = set()
    while level := {pk for pk, lot in graph.lots.items() if lot.made_here} - seen:
        seen |= level
        ins = StockMovement.objects.filter(kind=Kind.MAKE_UP_IN, reverses=None, reversed_by=None)
        postings = {row.posting_id for row in among(ins, "lot_id", level)}
        outs = StockMovement.objects.filter(kind=Kind.MAKE_UP_OUT, reverses=None, reversed_by=None)
        _mixed_of(graph, graph.with_their_lots(among(outs.order_by("pk"), "posting_id", postings)))
        left = list(among(_LEFT, "lot_id", level))
        graph.add_runs(list(among(_RUNS, "pk", {row.run_id for row in left})))
        graph.add_leftovers(left)
    return graph
