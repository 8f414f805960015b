"""What the audit finds of safety, beside what ties: each sentence is of rows that no form or program writes.

Recipes in use are not in it: the audit asks whether what is in doubt is marked, and `known_doubts` tells it.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from fractions import Fraction

from jobs.models import Run
from jobs.work.bench import bench_state
from jobs.work.kept import kept_before_ml, left_over_ml, mixed_at
from recipes.models import MadeLot
from studio.kit.asking import FEW, rows_by_key
from studio.kit.keeping_times import lasting
from studio.stockroom.models import WasteEntry
from studio.stockroom.waste.sources import find_source
from studio.whole.looked_at import LookedAt

#: a lot's volume is kept to a thousandth of a millilitre
_ROUNDING_ML = Fraction(1, 1000)


def lots_made_here(since: LookedAt) -> Iterator[str]:
    """No lot is of a solution that is used at once, or kept past its own keeping time."""
    made = MadeLot.objects.select_related("lot__material", "solution_version__solution")
    for row in made.filter(solution_version__keeps_minutes=None):
        yield f"{row.lot} is of {row.solution_version}, which is used at once."
    for row in made.filter(solution_version__keeps_minutes__isnull=False, lot__discard_at__isnull=False):
        version, lot = row.solution_version, row.lot
        assert version.keeps_minutes is not None
        assert lot.made_at is not None
        assert lot.discard_at is not None
        most = lasting(Fraction(version.ready_after_minutes + version.keeps_minutes))
        if lot.discard_at - lot.made_at > most + timedelta(seconds=1):
            yield f"{lot} is kept past the keeping time of {version}."


def leftovers(since: LookedAt) -> Iterator[str]:
    """What was kept of a run's mix was there, keeps, and has the mix's own clock."""
    kept_from = Run.objects.filter(kept_leftovers__isnull=False).select_related("ticket__job").distinct()
    for run in rows_by_key(kept_from, FEW):
        state, moments = bench_state(run), mixed_at(run)
        mixes = {noted.key: noted for noted in state.mixes}
        for key, volume in kept_before_ml(run).items():
            noted = mixes.get(key)
            if noted is None or not noted.mix.keeps:
                yield f"A leftover of {run.ticket} is of {noted.mix.solution if noted else key}, which is never kept."
            elif volume > left_over_ml(noted, state) + _ROUNDING_ML:
                yield f"More is kept of {noted.mix.solution} than {run.ticket} left of it."
        for kept in run.kept_leftovers.select_related("lot__material"):
            began = moments.get(kept.mix)
            if began is not None and kept.lot.made_at is not None and kept.lot.made_at > began:
                yield f"{kept.lot} is said to be younger than its mix on {run.ticket}."


def waste_before_it_was_safe(since: LookedAt) -> Iterator[str]:
    """Nothing is in a container from silver that nobody made safe, as whatever it was told and whatever was ticked."""
    entries = list(WasteEntry.objects.exclude(source="").select_related("container"))
    sources = {name: find_source(name) for name in sorted({entry.source for entry in entries})}
    for entry in entries:
        source = sources[entry.source]
        if source is None or source.made_safe is not False or not source.is_bath:
            continue
        # what was mixed anew since says nothing of what went in before
        if not entry.made_safe or source.safe_since is None or source.safe_since > entry.at:
            yield f"Container {entry.container} holds {entry.what} from {source.words}, which was not made safe."


CHECKS = (lots_made_here, leftovers, waste_before_it_was_safe)
