"""What a trial leaves for the waste: the silvering bath it tried, or all of it where none holds silver."""

from __future__ import annotations

import re
from fractions import Fraction

from django.db.models import Min

from recipes.finishes.bench_rules import clock_starts
from recipes.models import MakingSafe, Trial
from recipes.solutions.rules import agents_within, unclassed_within
from recipes.trials.conducting import untold
from recipes.trials.reading import TrialFacts, facts_of
from studio.kit.typed_numbers import whole_number
from studio.stockroom.hazards.classes import SILVER, with_implied
from studio.stockroom.made_here import classes_of_lots, silver_in, what_is_in
from studio.stockroom.models import Posting, StockMovement
from studio.stockroom.waste.sources import RECENT, Source, SourceKind

_NAME = re.compile(r"trial (\d+)")


def _find(name: str) -> Source | None:
    found = _NAME.fullmatch(name)
    trial = None if found is None else Trial.objects.select_related("recipe_version__finish").filter(
        number=whole_number(found[1])).first()
    if trial is None:
        return None
    facts = facts_of([trial])
    steps = [[part.solution for part in step.parts] for step in facts.tried[trial.pk].steps]
    classes = [frozenset().union(*(agents_within(key, facts.shelf) for key in keys)) for keys in steps]
    silver = [at for at, held in enumerate(classes) if with_implied(held) & SILVER]
    chosen = silver or range(len(steps))
    moved = list(StockMovement.objects.filter(posting__trial_use__trial=trial).select_related("lot__material"))
    postings = [movement.posting_id for movement in moved]
    moved += StockMovement.objects.filter(reverses__posting__in=postings).select_related("lot__material")
    lots = list({movement.lot_id: movement.lot for movement in moved}.values())
    inside = what_is_in(lots)
    grams = sum((-Fraction(movement.quantity) * (silver_in(movement.lot, inside.get(movement.lot_id)) or 0)
                 for movement in moved), Fraction(0))
    taken = classes_of_lots(lots)
    return Source(
        name=name, words=str(trial), is_bath=bool(silver), silver_g=grams, made_safe=_made_safe(trial, facts),
        safe_since=MakingSafe.objects.filter(clocks__trial=trial).aggregate(first=Min("done_at"))["first"],
        classes=frozenset().union(*(classes[at] for at in chosen), *(
            held for held in taken.values() if with_implied(held) & SILVER)),
        unknown=tuple(dict.fromkeys(
            missing for at in chosen for key in steps[at] for missing in unclassed_within(key, facts.shelf))),
        postings=tuple(dict.fromkeys(postings)),
    )


def _made_safe(trial: Trial, facts: TrialFacts) -> bool | None:
    """Say whether what a trial mixed is made safe: every clock of it stopped, and of all its ammoniacal silver
    somebody said whether it was mixed; None where there is none, or no record says it.
    """
    clocks = list(trial.clocks.all())
    if trial.closed_at is None and untold(trial, clock_starts(facts.tried[trial.pk], facts.shelf)):
        return False
    return all(clock.made_safe_id is not None for clock in clocks) if clocks else None


def _recent() -> list[tuple[str, str]]:
    rows = Trial.objects.select_related("recipe_version__finish").order_by("-started_at")[:RECENT]
    return [(f"trial {row.number}", str(row)) for row in rows]


def _of_posting(posting: Posting) -> str:
    use = getattr(posting, "trial_use", None)
    return f"trial {use.trial.number}" if use is not None else ""


def _lock(name: str) -> None:
    if found := _NAME.fullmatch(name):
        list(Trial.objects.select_for_update().filter(number=whole_number(found[1])))


TRIALS = SourceKind(lock=_lock, find=_find, recent=_recent, of_posting=_of_posting)
