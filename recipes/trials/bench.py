"""A trial at the bench: its screens in the order of the hand, the lots to take, and what is recorded so far."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from recipes.facts import RecipeFacts
from recipes.facts import Shelf as Facts
from recipes.finishes.bench_rules import ClockStart, clock_starts
from recipes.finishes.bench_rules.silver import in_bench_order
from recipes.models import Trial, TrialRecord
from recipes.trials.cards import MIX, Screen, screens_of
from recipes.trials.conducting import mixes_of
from recipes.trials.reading import TrialFacts, facts_of
from studio.house.clock import house_zone, today
from studio.kit.rounding import as_decimal
from studio.stockroom.models import Lot, Material
from studio.stockroom.picking import Pick, Shelf
from studio.stockroom.shelf import as_on_shelf

Kind = TrialRecord.Kind
BEGAN, DONE = "began", "done"
_WORDS = {"as-written": "mixed as written", "amounts": "mixed, other amounts", "again": "mixed once more",
          "not-made": "not mixed", "from-lot": "taken from a lot mixed ahead"}


class Records:
    """The records of a trial that count, by kind and subject, the newest last; waiting: what could not be taken."""

    def __init__(self, rows: Iterable[TrialRecord]) -> None:
        kept = list(rows)
        settled = {row.settles for row in kept if row.settles}
        self.waiting = [row for row in kept if row.why and row.kind != Kind.SETTLED and row.key not in settled]
        self._found: dict[tuple[str, str], list[TrialRecord]] = {}
        for row in kept:
            if row.why:
                continue
            of = row.content["of"] if row.kind == Kind.UNDONE else row.kind
            mine = self._found.setdefault((of, row.subject), [])
            if row.kind == Kind.UNDONE:
                mine[:] = [one for one in mine if str(one.key) != row.content["undoes"]]
            else:
                mine.append(row)
        for (kind, _), mine in self._found.items():
            if kind != Kind.MIXED:  # its time may be typed
                mine.sort(key=lambda row: row.done_at)

    def all_of(self, kind: str, subject: str = "") -> list[TrialRecord]:
        return self._found.get((kind, subject), [])

    def newest(self, kind: str, subject: str = "") -> TrialRecord | None:
        mine = self.all_of(kind, subject)
        return mine[-1] if mine else None

    def subjects(self, kind: str) -> list[str]:
        return [subject for (of, subject), mine in self._found.items() if of == kind and mine]


@dataclass(frozen=True, kw_only=True)
class Taking:
    """What an ingredient takes: its lots, what no lot can give, and every lot on hand. Amounts in the stock unit."""

    material: Material
    amount: Decimal
    picks: Sequence[Pick]
    short: Decimal
    lots: Sequence[Lot]

    @property
    def printed(self) -> list[str]:
        """Return what the screen says to take, as its form sends it: a lot's id and an amount each."""
        return [f"{pick.lot_id} {pick.amount:f}" for pick in self.picks]


@dataclass(frozen=True, kw_only=True)
class TrialBench:
    """takings: by screen subject and number of the ingredient. starts: where a safety clock starts, by its key."""

    trial: Trial
    facts: TrialFacts
    recipe: RecipeFacts
    shelf: Facts
    screens: Sequence[Screen]
    records: Records
    starts: Mapping[str, ClockStart]
    takings: Mapping[str, Mapping[int, Taking]] = field(default_factory=dict)

    def mix(self, subject: str) -> Screen | None:
        """Return the screen of a mix; of a further making of it, too."""
        root = subject.partition("-")[0]
        return next((one for one in self.screens if one.kind == MIX and one.subject == root), None)


def bench_of(trial: Trial) -> TrialBench:
    """Read a trial as its bench needs it, in a fixed number of queries. Prefetch changes."""
    facts = facts_of([trial])
    recipe, shelf = in_bench_order(facts.tried[trial.pk], facts.shelf), facts.shelf
    screens = screens_of(recipe, mixes_of(trial, recipe, shelf), shelf)
    records = Records(trial.records.select_related("by"))
    return TrialBench(
        trial=trial, facts=facts, recipe=recipe, shelf=shelf, screens=screens, records=records,
        starts={start.key: start for start in clock_starts(recipe, shelf)},
        takings=_takings(screens, records, today()),
    )


def _takings(screens: Sequence[Screen], records: Records, day: date) -> dict[str, dict[int, Taking]]:
    """Return what each mix takes, one after the other: what the first empties, the next does not take. Two queries."""
    mixes = [screen for screen in screens if screen.mix is not None]
    codes = {row.measured.ingredient.material for screen in mixes if screen.mix for row in screen.mix.rows}
    materials = {row.code: row for row in Material.objects.filter(code__in=codes - {None})}
    lots: dict[str, list[Lot]] = {code: [] for code in materials}
    for lot in Lot.objects.filter(material__in=materials.values(), level__on_hand__gt=0).select_related(
            "material", "level"):
        lots[lot.material.code].append(lot)
    shelves = {code: Shelf([as_on_shelf(lot) for lot in mine], day) for code, mine in lots.items()}
    found: dict[str, dict[int, Taking]] = {}
    for screen in mixes:
        assert screen.mix is not None
        done = records.newest(Kind.MIXED, screen.subject) is not None
        for row in screen.mix.rows:
            material = materials.get(row.measured.ingredient.material or "")
            amount = as_decimal(row.measured.amount, 3)
            if material is None or amount <= 0:
                continue
            picks, short = ([], Decimal(0)) if done else shelves[material.code].take(amount)
            first = [pick.lot_id for pick in picks]
            found.setdefault(screen.subject, {})[row.measured.ingredient.number] = Taking(
                material=material, amount=amount, picks=picks, short=short,
                lots=sorted(lots[material.code], key=lambda lot, first=first: lot.pk not in first),  # type: ignore[misc]
            )
    return found


# What was recorded, in words ----------------------------------------------------------------------------------------

def said_of(bench: TrialBench) -> dict[str, dict[str, Any]]:
    """Return, by kind and subject, the newest record's key, what it says, and whether it is done with."""
    found: dict[str, dict[str, Any]] = {}
    records = bench.records
    for subject in records.subjects(Kind.MIXED):
        row = records.all_of(Kind.MIXED, subject)[-1]
        found[f"{Kind.MIXED} {subject}"] = _said(row, _WORDS.get(row.content.get("act", ""), "mixed"))
    for subject in records.subjects(Kind.STEP):
        found[f"{Kind.STEP} {subject}"] = _of_step(records.all_of(Kind.STEP, subject))
    for subject in records.subjects(Kind.ADDED):
        row = records.all_of(Kind.ADDED, subject)[-1]
        found[f"{Kind.ADDED} {subject}"] = {"numbers": row.content["numbers"], "record": "", "done": False, "words": ""}
    for kind in (Kind.CONDITIONS, Kind.MADE_SAFE):
        newest = records.newest(kind)
        if newest is not None:
            found[f"{kind} "] = _said(newest, "recorded")
    return found


def _said(row: TrialRecord, what: str) -> dict[str, Any]:
    return {"record": str(row.key), "done": True, "words": f"{what.capitalize()} {_clock(row.done_at)}, {_who(row)}"}


def _of_step(rows: Sequence[TrialRecord]) -> dict[str, Any]:
    newest, began = rows[-1], began_at(rows)
    done = newest.content["did"] == DONE
    return {
        "record": str(newest.key), "done": done, "by": _who(newest), "began": began.isoformat() if began else None,
        "words": f"{'Done' if done else 'Begun'} {_clock(newest.done_at)}, {_who(newest)}",
    }


def began_at(rows: Sequence[TrialRecord]) -> datetime | None:
    """Return when a step was last begun, of its records; None: it was never said."""
    return next((row.done_at for row in reversed(rows) if row.content["did"] == BEGAN), None)


def _who(row: TrialRecord) -> str:
    return f"{row.done_by} (sent by {row.by.name})" if row.done_by else row.by.name


def _clock(moment: datetime) -> str:
    return moment.astimezone(house_zone()).strftime("%H:%M")
