"""The order in which glass is worked, checked on the order: cut, drilled and edged, then toughened, then silvered."""

from __future__ import annotations

from jobs.draft import OrderDraft
from jobs.estimating.glass import CUT_HERE
from jobs.estimating.refusals import EstimateError
from studio.house.models import HouseRates
from studio.stockroom.models import Material


def check_glass(draft: OrderDraft, rates: HouseRates) -> None:
    """Refuse what would cut, drill or grind glass after toughening, or toughen it after silvering."""
    treated = dict(Material.objects.filter(pk__in=[line.glass_id for line in draft.lines])
                   .exclude(treatment=Material.Treatment.ANNEALED).values_list("pk", "treatment"))
    for line in draft.lines:
        treatment = treated.get(line.glass_id)
        if treatment is None:
            continue
        if line.route in CUT_HERE:
            raise EstimateError("treated glass cut here", line.name, line.number, treatment=treatment)
        edge = next((edge_type for edge_type in rates.edge_types.all() if edge_type.name == line.edge), None)
        if line.route != "own" and edge is not None and edge.grinds_off_mm > 0:
            raise EstimateError(
                "treated glass ground", line.name, line.number, edge=line.edge, treatment=treatment
            )
        if line.holes and line.route == "own":
            raise EstimateError("treated glass drilled", line.name, line.number, treatment=treatment)
    for item in draft.bought_in:
        if item.kind != "toughening":
            continue
        if item.before != "silvering":
            raise EstimateError("toughened too late", item.name)
        if item.line_number in {line.number for line in draft.lines if line.glass_id in treated}:
            raise EstimateError("toughened already", item.name, line_number=str(item.line_number))
