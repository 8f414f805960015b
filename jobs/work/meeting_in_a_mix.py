"""When a silver salt and ammonia have met in a mix: as its ingredients go in, one after the other."""

from __future__ import annotations

from collections.abc import Collection

from jobs.work.pane_meetings import is_ammoniacal
from jobs.work.ticket_plan import TicketMix, TicketPlan
from studio.stockroom.hazards.classes import is_ammoniacal_silver
from studio.stockroom.models import Material


def meets_with(mix: TicketMix, plan: TicketPlan, numbers: Collection[int]) -> bool:
    """Say whether what is in a mix so far is ammoniacal silver. plan: by what is known now. numbers: what is in.

    An ingredient that is mixed on the ticket brings what its own mix holds. One query for a mix that is silver at all.
    """
    if not is_ammoniacal(mix):
        return False
    there = [row for row in mix.ingredients if row.number in numbers]
    agents = {name for row in there if not row.code for other in plan.mixes
              if other.solution_key == row.solution_key for name in other.agents}
    for material in Material.objects.filter(code__in={row.code for row in there if row.code}):
        agents |= set(material.known_classes)
    return is_ammoniacal_silver(agents)
