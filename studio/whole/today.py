"""What the Today page gathers from all rooms."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from jobs.looking_back.recall import RecallItem, unsettled
from jobs.models import Job, Quote, Run, WaitingRecord
from jobs.work.clock import standing_now
from jobs.work.in_doubt import jobs_in_doubt, runs_in_doubt
from jobs.work.overtaken import overtaken
from jobs.work.records import waiting_records
from recipes.clocks import Standing
from recipes.finishes.in_doubt import versions_in_doubt
from recipes.models import RecipeVersion, Trial
from recipes.trials.against_stops import open_trials_in_doubt
from studio.house.models import House, Person
from studio.kit.asking import fetched
from studio.stockroom.models import Lot, Material
from studio.stockroom.shelf import Standing as OnShelf
from studio.stockroom.shelf import standings

SOON = timedelta(days=30)


@dataclass(frozen=True, kw_only=True)
class Expiring:
    """A lot on the shelf that is past its date or soon will be."""

    lot: Lot
    on: date
    is_past: bool


@dataclass(frozen=True, kw_only=True)
class Today:
    """Everything the Today page shows, each list in the order it is shown."""

    day: date
    runs: list[Run]
    trials: list[Trial]
    booked: list[Job]
    enquiries: list[Job]
    quotes_out: list[Quote]
    lapsed: list[Quote]
    low: list[OnShelf]
    expiring: list[Expiring]
    held: list[Lot]
    standing: list[Standing]
    has_materials: bool
    unclassed: int
    #: how they react is known, and nobody entered their hazard statements
    without_hazards: list[Material]
    in_doubt: list[tuple[RecipeVersion, str]]
    runs_in_doubt: list[tuple[Run, list[str]]]
    jobs_in_doubt: list[tuple[Job, list[str]]]
    trials_in_doubt: list[tuple[Trial, str]]
    #: open runs whose tickets name lots that may not be taken now
    overtaken: list[tuple[Run, list[str]]]
    #: what was sent from the bench and could not be taken as it was
    waiting: list[WaitingRecord]
    #: held lots with what each touched and nobody settled yet
    recalls: list[tuple[Lot, list[RecallItem]]]


def gather(person: Person, day: date) -> Today:
    """Return what concerns a person today; a helper gets no enquiries and no quotes."""
    unanswered = list(
        Quote.objects.unanswered().select_related("order__customer", "order__job")
    ) if person.is_owner else []
    on_shelf = Lot.objects.filter(level__on_hand__gt=0).select_related("material", "level")
    held = [lot for lot in on_shelf if lot.state == Lot.State.HELD]
    expiring = [
        Expiring(lot=lot, on=lot.expires_on, is_past=lot.has_expired(day))
        for lot in on_shelf if lot not in held and lot.expires_on is not None and lot.expires_on <= day + SOON
    ]
    shelf = standings(day)
    jobs = Job.objects.select_related("order__customer")
    booked = fetched(jobs.booked().order_by("due_on"), "order__lines__recipe_version__finish", "tickets")
    runs = list(Run.objects.open().select_related("ticket__job__order__customer", "ticket__job__quote"))
    trials = list(Trial.objects.filter(closed_at=None).select_related("recipe_version__finish"))
    return Today(
        in_doubt=versions_in_doubt(), runs_in_doubt=runs_in_doubt(runs), runs=runs,
        day=day, trials=trials, trials_in_doubt=open_trials_in_doubt(),
        booked=booked, jobs_in_doubt=jobs_in_doubt(booked), overtaken=overtaken(runs, doubts=False),
        recalls=unsettled(), waiting=waiting_records(),
        enquiries=list(jobs.waiting()) if person.is_owner else [],
        quotes_out=[quote for quote in unanswered if quote.standing_on(day) != Quote.State.LAPSED],
        lapsed=[quote for quote in unanswered if quote.standing_on(day) == Quote.State.LAPSED],
        low=[standing for standing in shelf if standing.wants_buying],
        expiring=sorted(expiring, key=lambda entry: entry.on), held=held,
        standing=standing_now(House.objects.first() or House()), has_materials=bool(shelf),
        unclassed=sum(standing.material.is_unclassed for standing in shelf),
        without_hazards=[standing.material for standing in shelf
                         if standing.material.hazards_not_entered and not standing.material.is_unclassed],
    )
