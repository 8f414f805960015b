"""What may be done to glass, checked on the order: cut, drilled and edged, then toughened, then silvered."""

from __future__ import annotations

from jobs.draft import OrderDraft
from jobs.estimating.glass import CUT_HERE
from jobs.estimating.refusals import EstimateError
from studio.house.models import HouseRates
from studio.stockroom.models import Material


def check_glass(draft: OrderDraft, rates: HouseRates) -> None:
    """Refuse what would cut, drill or grind glass after toughening, or toughen it after silvering.

    A bench rule, checked on the order: cut, drilled and edged first, then toughened, then silvered.
    """
    treated = dict(Material.objects.filter(pk__in=[line.glass_id for line in draft.lines])
                   .exclude(treatment=Material.Treatment.ANNEALED).values_list("pk", "treatment"))
    for line in draft.lines:
        treatment = treated.get(line.glass_id)
        if treatment is None:
            continue
        if line.route in CUT_HERE:
            raise EstimateError("treated glass cut here", line.name, line.number, treatment=treatment)
        edge = next((one for one in rates.edge_types.all() if one.name == line.edge), None)
        if line.route != "own" and edge is not None and edge.grinds_off_mm > 0:
            raise EstimateError(
                "treated glass ground", line.name, line.number, edge=line.edge, treatment=treatment
            )
        if line.holes and line.route == "own":
            raise EstimateError("treated glass drilled", line.name, line.number, treatment=treatment)
    for thing in draft.bought_in:
        if thing.kind != "toughening":
            continue
        if thing.before != "silvering":
            raise EstimateError("toughened too late", thing.name)
        if thing.line_number in {line.number for line in draft.lines if line.glass_id in treated}:
            raise EstimateError("toughened already", thing.name, line_number=str(thing.line_number))
