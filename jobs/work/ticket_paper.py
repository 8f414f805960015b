"""The work ticket: what a helper follows alone. It carries no price."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.urls import reverse

from jobs.drawings.panes import draw_sides
from jobs.drawings.sheets import draw_sheet
from jobs.drawings.timeline import draw_timeline
from jobs.estimating.carrying import LOCAL_CODES
from jobs.kept_papers import kept_paper
from jobs.models import WorkTicket
from jobs.work.in_doubt import doubts_of_ticket
from jobs.work.known_now import known_now
from jobs.work.overtaken import why_overtaken
from jobs.work.pane_list import pane_list
from jobs.work.pane_meetings import is_ammoniacal, meetings_of
from jobs.work.ticket_plan import TicketMix, TicketPane, TicketPlan, TicketStep
from jobs.work.ticketing import plan_of
from jobs.work.work_plan import work_plan
from recipes.clocks import limit_of
from recipes.facts import SPRAYED as SPRAYED_STEPS
from studio.house.models import House
from studio.house.paper import render_pdf
from studio.stockroom.hazards.standing import MIXED, SPRAYED
from studio.stockroom.protection import protection_for


def doubt_of(ticket: WorkTicket) -> str:
    """Return what stands across the head of a ticket in doubt, with what to do; nothing where it is sound.

    One that is not saved yet was planned as sound.
    """
    said = doubts_of_ticket(ticket) if ticket.pk else ()
    if not said:
        return ""
    return (f"IN DOUBT. {' '.join(said)} Mix nothing more of it. Make safe what was mixed, and its first rinse, by the "
            "written procedure and in this shift; record what was done, and finish the run.")


def overtaken_of(ticket: WorkTicket) -> str:
    """Return what stands across the head of a ticket that was overtaken; nothing where it is to be worked from."""
    said = why_overtaken(ticket) if ticket.pk else ()
    return f"OVERTAKEN. {' '.join(said)}" if said else ""


def ticket_context(ticket: WorkTicket) -> dict[str, Any]:
    """Return what a ticket prints. doubt: what became known since it was planned; the plan then carries it too.

    overtaken: why it is not to be worked from as it was printed.
    """
    plan, doubt = plan_of(ticket), doubt_of(ticket)
    if doubt:
        plan = known_now(plan)
    house = House.objects.first()
    limit = limit_of(house or House())
    return {
        "doubt": doubt, "overtaken": overtaken_of(ticket),
        "ticket": ticket, "job": ticket.job, "order": ticket.job.order, "plan": plan, "house": house,
        "units": house.units if house else "metric", "paper_size": house.paper if house else "A4",
        "address": settings.PUBLIC_URL + _page_of(ticket),
        "work": work_plan(plan), "panes": pane_list(plan), "silver": holds_ammoniacal_silver(plan),
        "safe_by": limit.in_words(MIXED), "safe_by_sprayed": limit.in_words(SPRAYED),
        "protection": protection_of(plan), "local_codes": LOCAL_CODES,
        "fluoride": any("fluoride" in mix.agents for mix in plan.mixes),
        "timeline": draw_timeline(plan.timetable, {recipe.key: recipe.finish for recipe in plan.recipes})
        if plan.timetable else None,
        "drilled": [
            (pane.label, draw_sides(pane.shape, pane.width_mm, pane.height_mm, pane.holes,
                                    house.units if house else "metric"))
            for pane in _first_of_each_line(plan) if pane.holes
        ],
        "drawings": {
            glass.code: [
                draw_sheet(sheet, glass.sheet_width_mm, glass.sheet_height_mm, house.units if house else "metric")
                for sheet in glass.plan
            ]
            for glass in plan.glass
        },
    }


def _first_of_each_line(plan: TicketPlan) -> list[TicketPane]:
    return [pane for at, pane in enumerate(plan.panes) if pane.line not in {other.line for other in plan.panes[:at]}]


def holds_ammoniacal_silver(plan: TicketPlan) -> bool:
    """Say whether a mix of the ticket is ammoniacal silver, or becomes it on the panes."""
    return any(is_ammoniacal(mix) for mix in plan.mixes) or bool(meetings_of(plan))


def protection_of(plan: TicketPlan) -> list[str]:
    """Return what to wear and have for the whole ticket."""
    worked: list[TicketMix | TicketStep] = [*plan.mixes, *(step for recipe in plan.recipes for step in recipe.steps)]
    return protection_for(
        {agent for done in worked for agent in done.agents}, {code for done in worked for code in done.statements},
        glass=True, chemical=any(mix.chemical for mix in plan.mixes),
        sprayed=any(step.how in SPRAYED_STEPS for recipe in plan.recipes for step in recipe.steps),
    )


def _page_of(ticket: WorkTicket) -> str:
    """Return the address that a ticket's code opens: its run's page, or its job's while it is not saved."""
    if ticket.pk is None:
        return reverse("jobs:job", args=[ticket.job.number])
    return reverse("jobs:steps", args=[ticket.newest.run.pk])


def render_ticket(ticket: WorkTicket) -> bytes:
    """Return the ticket as PDF, worked out from its plan; nothing is kept."""
    return render_pdf("jobs/work/documents/ticket.html", ticket_context(ticket))


def ticket_paper(ticket: WorkTicket) -> bytes:
    """Return the ticket as PDF, as first printed; its bytes are kept."""
    return kept_paper(
        ticket, lambda: render_ticket(ticket),
        name=f"ticket-{ticket.job.number}-{ticket.number}.pdf", owner_only=False,
    )


def paper_to_read(ticket: WorkTicket) -> bytes:
    """Return the ticket as PDF: one in doubt, or overtaken, is printed afresh and says so; its kept paper stays."""
    if not doubt_of(ticket) and not overtaken_of(ticket):
        return ticket_paper(ticket)
    return render_pdf("jobs/work/documents/ticket.html", ticket_context(ticket))
