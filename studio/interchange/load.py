"""Read a book into an empty studio: all of it, or nothing. Errors name the path inside the document."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

from django.core.exceptions import ObjectDoesNotExist, ValidationError
from django.db import Error, models, transaction
from jsonschema import Draft202012Validator

from jobs.models import (
    BoughtIn,
    Customer,
    CustomerChoices,
    Job,
    JobPhotograph,
    KeptLeftover,
    KeptOffcut,
    Order,
    OrderLine,
    PaneResult,
    Quote,
    Run,
    RunEntry,
    SiteRecord,
    SwatchBook,
    WorkTicket,
)
from recipes.bench_rules import refuse_stops
from recipes.issuing import NotAcknowledged, check_solution_issue
from recipes.models import (
    Finish,
    FinishPicture,
    Ingredient,
    IssueEvent,
    MadeLot,
    Part,
    RecipeIssue,
    Solution,
    SolutionIssue,
    Step,
    Trial,
    TrialChange,
    TrialNote,
    TrialPhotograph,
    TrialTiming,
    TrialUse,
)
from recipes.reading import EVER, recipe_facts
from studio.audit import audit
from studio.errors import DaybookError
from studio.exact import MONEY_DECIMALS, STOCK_DECIMALS
from studio.interchange.columns import move_dates, read_amount, values_of
from studio.interchange.save import Book, files_beside
from studio.interchange.schema import book_schema
from studio.inventory.models import (
    CountLine,
    CountSheet,
    Delivery,
    Lot,
    LotEvent,
    LotPaper,
    Material,
    Offcut,
    Posting,
    Purchase,
    Reservation,
    ReservedAmount,
    StockMovement,
    WasteContainer,
    WasteEntry,
)
from studio.models import EdgeType, GunCalibration, House, HouseRates, Person, StoredFile
from studio.stored_files import keep

Row = TypeVar("Row", bound=models.Model)


class BookError(DaybookError):
    """A book that cannot be loaded; says where in the document and why."""


class _Reading:
    """A book being read: the path so far, how far its dates are moved, and what it has named."""

    def __init__(self, moved: timedelta) -> None:
        self.moved = moved
        self.path: list[str] = []
        self.people: dict[str, Person] = {}
        self.materials: dict[str, Material] = {}
        self.lots: dict[tuple[str, str], Lot] = {}
        self.solutions: dict[str, SolutionIssue] = {}
        self.recipes: dict[str, RecipeIssue] = {}
        self.cancelled: list[Job] = []

    @contextmanager
    def at(self, *path: str | int) -> Iterator[None]:
        """Stand at a path: whatever is refused below names it."""
        self.path += [str(part) for part in path]
        try:
            yield
        except BookError:
            raise
        except ValidationError as refusal:
            raise self.refused("; ".join(refusal.messages)) from refusal
        except (KeyError, ObjectDoesNotExist) as missing:
            raise self.refused(f"{missing} is named but not in the book.") from missing
        except (DaybookError, Error, ValueError, ArithmeticError) as refusal:
            raise self.refused(str(refusal)) from refusal
        del self.path[len(self.path) - len(path):]

    def each(self, entries: list[Book], name: str, take: Callable[[Book], object]) -> None:
        """Take every entry, standing at its path: a refusal names it."""
        for number, entry in enumerate(entries):
            with self.at(name, number):
                take(entry)

    def refused(self, why: str) -> BookError:
        return BookError(f"/{'/'.join(self.path)}: {why}")

    def make(self, model: type[Row], entry: Book, stock_unit: str = "", **more: Any) -> Row:
        """Make, check and save a row from its entry."""
        row = model(**values_of(model, entry, self.moved, stock_unit), **more)
        row.full_clean()
        row.save(force_insert=True)
        return row

    def moment(self, text: str) -> datetime:
        return datetime.fromisoformat(text) + self.moved


def read_book(path: Path) -> Book:
    """Read and check a document against the schema. Raises BookError naming the path inside it."""
    try:
        document: Book = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as unreadable:
        raise BookError(f"{path.name} cannot be read: {unreadable}") from unreadable
    wrong = min(
        Draft202012Validator(book_schema()).iter_errors(document), key=lambda error: list(map(str, error.path)),
        default=None,
    )
    if wrong is not None:
        raise BookError(f"/{'/'.join(map(str, wrong.absolute_path))}: {wrong.message[:300]}")
    return document


def studio_is_empty() -> bool:
    kept = (Person, House, HouseRates, Material, Lot, Solution, Finish, Customer, Order)
    return not any(model._default_manager.exists() for model in kept)


@transaction.atomic
def load_book(document: Book, files: Path, as_if_today: date | None = None) -> None:
    """Load a checked document into an empty studio.

    files: the folder with the book's files by SHA-256. as_if_today: move all dates so
    that the day the book was written becomes that day.
    Raises BookError; then nothing is loaded.
    """
    if not studio_is_empty():
        raise BookError("This studio already holds something: a book is loaded into an empty one.")
    moved = as_if_today - date.fromisoformat(document["written_on"]) if as_if_today else timedelta(0)
    reading = _Reading(moved)
    _house(reading, document)
    _files(reading, document, files)
    _stockroom(reading, document)
    _solutions(reading, document)
    _finishes(reading, document)
    if "swatch_book" in document:
        with reading.at("swatch_book"):
            _swatch_book(reading, document["swatch_book"])
    reading.each(document.get("customers", []), "customers", lambda one: _customer(reading, one))
    reading.each(document.get("jobs", []), "jobs", lambda one: _job(reading, one))
    reading.each(document.get("offcuts", []), "offcuts", lambda one: _offcut(reading, one))
    for job in reading.cancelled:  # nothing is added to a cancelled job, so it is cancelled once all is there
        job.state = Job.State.CANCELLED
        job.save(update_fields=["state"])
    if found := audit():
        raise BookError("/: the ledger does not tie: " + " ".join(found))


def load_file(path: Path, as_if_today: date | None = None) -> None:
    load_book(read_book(path), files_beside(path), as_if_today)


def _house(reading: _Reading, document: Book) -> None:
    if "house" in document:
        with reading.at("house"):
            reading.make(House, document["house"])
    reading.each(document.get("people", []), "people", lambda one: _person(reading, one))
    reading.each(document.get("rates", []), "rates", lambda one: _rates(reading, one))
    reading.each(document.get("guns", []), "guns", lambda one: reading.make(GunCalibration, one))


def _person(reading: _Reading, entry: Book) -> None:
    row = Person(**values_of(Person, entry))
    row.set_unusable_password()
    row.full_clean(exclude=["password"])
    row.save()
    reading.people[row.username] = row


def _rates(reading: _Reading, entry: Book) -> None:
    rates = reading.make(HouseRates, entry)
    for edge in entry.get("edges", []):
        reading.make(EdgeType, edge, rates=rates)


def _files(reading: _Reading, document: Book, folder: Path) -> None:
    def take(entry: Book) -> None:
        path = folder / entry["sha256"]
        if not path.is_file():
            raise reading.refused(f"the file {entry['name']} is not beside the book.")
        stored = keep(
            path.read_bytes(), name=entry["name"], media_type=entry["media_type"],
            owner_only=entry.get("owner_only", True),
        )
        if stored.sha256 != entry["sha256"]:
            raise reading.refused(f"the file {entry['name']} is not the one the book names.")

    reading.each(document.get("files", []), "files", take)


def _stockroom(reading: _Reading, document: Book) -> None:
    reading.each(document.get("materials", []), "materials", lambda one: _material(reading, one))
    reading.each(document.get("deliveries", []), "deliveries", lambda one: reading.make(Delivery, one))
    reading.each(document.get("lots", []), "lots", lambda one: _lot(reading, one))
    reading.each(document.get("postings", []), "postings", lambda one: _posting(reading, one))
    reading.each(document.get("purchases", []), "purchases", lambda one: _purchase(reading, one))
    reading.each(document.get("counts", []), "counts", lambda one: _count(reading, one))
    reading.each(document.get("waste_containers", []), "waste_containers", lambda one: _container(reading, one))


def _material(reading: _Reading, entry: Book) -> None:
    reading.materials[entry["code"]] = reading.make(Material, entry, entry["stock_unit"])


def _lot(reading: _Reading, entry: Book) -> None:
    material = reading.materials[entry["material"]]
    delivery = Delivery.objects.get(key=entry["delivery"]) if "delivery" in entry else None
    lot = reading.make(Lot, entry, material.stock_unit, material=material, delivery=delivery)
    reading.lots[material.code, lot.lot_number] = lot
    reading.each(entry.get("events", []), "events", lambda one: reading.make(
        LotEvent, one, lot=lot, by=reading.people[one["by"]]))
    for paper in entry.get("papers", []):
        LotPaper.objects.create(lot=lot, kind=paper["kind"], file=StoredFile.objects.get(sha256=paper["file"]))


def _named_lot(reading: _Reading, named: Book) -> Lot:
    return reading.lots[named["material"], named["lot_number"]]


def _purchase(reading: _Reading, entry: Book) -> None:
    material = reading.materials[entry["material"]]
    reading.make(Purchase, entry, material.stock_unit, material=material,
                 lot=_named_lot(reading, entry["lot"]) if "lot" in entry else None)


def _offcut(reading: _Reading, entry: Book) -> None:
    job = Job.objects.get(number=entry["promised_to_job"]) if "promised_to_job" in entry else None
    offcut = reading.make(
        Offcut, entry, material=reading.materials[entry["material"]], kept_by=reading.people[entry["kept_by"]],
        gone_by=reading.people[entry["gone_by"]] if "gone_by" in entry else None,
        reservation=job.reservation if job else None,
    )
    if "left_by" in entry:
        left = entry["left_by"]
        reading.make(KeptOffcut, left, offcut=offcut,
                     run=Run.objects.get(ticket__job__number=left["job"], ticket__number=left["ticket"]))


def _count(reading: _Reading, entry: Book) -> None:
    """Make a sheet open, with its lines, then say what it was posted as."""
    open_entry = {name: value for name, value in entry.items() if name != "posted_at"}
    sheet = reading.make(CountSheet, open_entry, by=reading.people[entry["by"]])
    for line in entry["lines"]:
        lot = _named_lot(reading, line["lot"])
        reading.make(CountLine, line, lot.material.stock_unit, sheet=sheet, lot=lot)
    if "posting" in entry:
        CountSheet.objects.filter(pk=sheet.pk).update(
            posting=Posting.objects.get(key=entry["posting"]), posted_at=reading.moment(entry["posted_at"])
        )


_AFTER_ENTRIES = ("handed_on", "handed_to", "returned_on", "returned_silver", "note")


def _container(reading: _Reading, entry: Book) -> None:
    """Make a container open, with what went in, then hand it over as the book says."""
    row = reading.make(WasteContainer, {k: v for k, v in entry.items() if k not in _AFTER_ENTRIES})
    reading.each(entry.get("entries", []), "entries", lambda one: reading.make(
        WasteEntry, one, container=row, by=reading.people[one["by"]],
        posting=Posting.objects.get(key=one["posting"]) if "posting" in one else None))
    later = values_of(WasteContainer, {k: v for k, v in entry.items() if k in _AFTER_ENTRIES}, reading.moved)
    if later:
        WasteContainer.objects.filter(pk=row.pk).update(**later)


def _posting(reading: _Reading, entry: Book) -> None:
    posting = reading.make(Posting, entry, by=reading.people[entry["by"]])
    reading.each(entry["movements"], "movements", lambda one: _movement(reading, posting, one))


def _movement(reading: _Reading, posting: Posting, entry: Book) -> None:
    lot = reading.lots[entry["lot"]["material"], entry["lot"]["lot_number"]]
    reverses = None
    if "reverses" in entry:
        first = entry["reverses"]
        reverses = StockMovement.objects.get(posting__key=first["posting"], line=first["line"])
    row = StockMovement(
        posting=posting, line=entry["line"], lot=lot, kind=entry["kind"],
        quantity=read_amount(entry["quantity"], lot.material.stock_unit, STOCK_DECIMALS),
        unit_cost=Decimal(entry["unit_cost"]), note=entry.get("note", ""), reverses=reverses,
    )
    row.full_clean()
    row.save(force_insert=True)


def _solutions(reading: _Reading, document: Book) -> None:
    """Make every issue first, then what goes into it, then check all, then freeze from the inside out."""
    entries = document.get("solutions", [])
    frozen: list[tuple[SolutionIssue, datetime]] = []
    reading.each(entries, "solutions", lambda one: _open_issues(reading, one, frozen))
    for take in (_ingredients, lambda reading, issue, entry: check_solution_issue(issue)):
        reading.each(entries, "solutions", partial(_each_issue, reading, take))
    with reading.at("solutions"):
        _freeze(frozen)
        for entry in entries:
            for issue_entry in entry["issues"]:
                for made in issue_entry.get("made_lots", []):
                    MadeLot.objects.create(
                        lot=_named_lot(reading, made["lot"]),
                        solution_issue=reading.solutions[f"{entry['code']}/{issue_entry['number']}"],
                        ready_at=reading.moment(made["ready_at"]) if "ready_at" in made else None,
                    )


def _open_issues(reading: _Reading, entry: Book, frozen: list[tuple[SolutionIssue, datetime]]) -> None:
    place = reading.materials[entry["shelf_place"]] if "shelf_place" in entry else None
    solution = Solution(code=entry["code"], name=entry["name"], material=place)
    solution.full_clean()
    solution.save(force_insert=True)
    for issue_entry in entry["issues"]:
        open_entry = {name: value for name, value in issue_entry.items() if name != "frozen_at"}
        issue = reading.make(SolutionIssue, open_entry, solution=solution)
        reading.solutions[issue.key] = issue
        if "frozen_at" in issue_entry:
            frozen.append((issue, reading.moment(issue_entry["frozen_at"])))


def _each_issue(
    reading: _Reading, take: Callable[[_Reading, SolutionIssue, Book], None], entry: Book
) -> None:
    reading.each(entry["issues"], "issues", lambda issue_entry: take(
        reading, reading.solutions[f"{entry['code']}/{issue_entry['number']}"], issue_entry
    ))


def _freeze(frozen: list[tuple[SolutionIssue, datetime]]) -> None:
    waiting = {issue.pk: when for issue, when in frozen}
    while waiting:
        held_up = set(Ingredient.objects.filter(
            solution_issue__in=waiting, nested__isnull=False, nested__frozen_at=None
        ).values_list("solution_issue_id", flat=True))
        ready = waiting.keys() - held_up
        if not ready:
            raise BookError("/solutions: a frozen solution holds one that is not frozen.")
        for pk in ready:
            SolutionIssue.objects.filter(pk=pk).update(frozen_at=waiting.pop(pk))


def _ingredients(reading: _Reading, issue: SolutionIssue, entry: Book) -> None:
    for ingredient in entry["ingredients"]:
        of: dict[str, Any] = (
            {"material": reading.materials[ingredient["material"]]} if "material" in ingredient
            else {"nested": reading.solutions[ingredient["solution"]]}
        )
        reading.make(Ingredient, ingredient, ingredient["unit"], solution_issue=issue, unit=ingredient["unit"], **of)


def _finishes(reading: _Reading, document: Book) -> None:
    """Make finishes with open recipe issues, then say where those came from, then issue them as the book says."""
    entries = document.get("finishes", [])
    origins: list[tuple[RecipeIssue, str]] = []
    reading.each(entries, "finishes", lambda one: _finish(reading, one, origins))
    with reading.at("finishes"):
        for issue, origin in origins:
            RecipeIssue.objects.filter(pk=issue.pk).update(came_from=reading.recipes[origin])
    reading.each(document.get("trials", []), "trials", lambda one: _trial(reading, one))
    reading.each(entries, "finishes", lambda one: reading.each(
        one["issues"], "issues", lambda issue: _promoted(reading.recipes[f"{one['code']}/{issue['number']}"], issue),
    ))
    reading.each(entries, "finishes", lambda one: reading.each(
        one["issues"], "issues",
        lambda issue: _events(reading, reading.recipes[f"{one['code']}/{issue['number']}"], issue),
    ))


def _finish(reading: _Reading, entry: Book, origins: list[tuple[RecipeIssue, str]]) -> None:
    finish = reading.make(Finish, entry)
    for picture in entry.get("pictures", []):
        FinishPicture.objects.create(
            finish=finish, side=picture["side"], caption=picture.get("caption", ""),
            file=StoredFile.objects.get(sha256=picture["file"]),
        )

    def take(issue_entry: Book) -> None:
        issue = reading.make(RecipeIssue, issue_entry, finish=finish)
        reading.recipes[issue.key] = issue
        if "came_from" in issue_entry:
            origins.append((issue, issue_entry["came_from"]))
        _steps(reading, issue, issue_entry)

    reading.each(entry["issues"], "issues", take)


def _steps(reading: _Reading, issue: RecipeIssue, entry: Book) -> None:
    def take(step_entry: Book) -> None:
        step = reading.make(Step, step_entry, recipe_issue=issue)
        for part in step_entry.get("parts", []):
            reading.make(Part, part, step=step, solution_issue=reading.solutions[part["solution"]])

    reading.each(entry["steps"], "steps", take)


def _promoted(issue: RecipeIssue, entry: Book) -> None:
    if "came_from_trial" in entry:
        trial = Trial.objects.get(number=entry["came_from_trial"])
        RecipeIssue.objects.filter(pk=issue.pk).update(came_from_trial=trial)


def _trial(reading: _Reading, entry: Book) -> None:
    """Make a trial open, with all that hangs on it, then close it as the book says."""
    open_entry = {name: value for name, value in entry.items() if name != "closed_at"}
    trial = reading.make(
        Trial, open_entry, recipe_issue=reading.recipes[entry["recipe"]], made_by=reading.people[entry["made_by"]],
        parent=Trial.objects.get(number=entry["parent"]) if "parent" in entry else None,
        glass=reading.materials[entry["glass"]] if "glass" in entry else None,
    )
    reading.each(entry.get("changes", []), "changes", lambda one: reading.make(TrialChange, one, trial=trial))
    for model, name in ((TrialNote, "notes"), (TrialTiming, "timings")):
        reading.each(entry.get(name, []), name, partial(_of_trial, reading, model, trial))
    reading.each(entry.get("photographs", []), "photographs", lambda one: _photograph(reading, trial, one))
    for key in entry.get("postings", []):
        TrialUse.objects.create(trial=trial, posting=Posting.objects.get(key=key))
    if "closed_at" in entry:
        Trial.objects.filter(pk=trial.pk).update(closed_at=reading.moment(entry["closed_at"]))


def _of_trial(reading: _Reading, model: type[models.Model], trial: Trial, entry: Book) -> None:
    reading.make(model, entry, trial=trial, by=reading.people[entry["by"]])


def _photograph(reading: _Reading, trial: Trial, entry: Book) -> None:
    copies: dict[str, Any] = {name: StoredFile.objects.get(sha256=entry[name])
              for name in ("original", "print_copy", "screen_copy", "aligned_copy")}
    reading.make(TrialPhotograph, entry, trial=trial, by=reading.people[entry["by"]], **copies)


def _swatch_book(reading: _Reading, entry: Book) -> None:
    glass = reading.materials[entry["glass"]] if "glass" in entry else None
    reading.make(SwatchBook, entry, glass=glass)


def _events(reading: _Reading, issue: RecipeIssue, entry: Book) -> None:
    """Issue and withdraw as the book says; a stop, or a caution nobody acknowledged, refuses the book."""
    for event in entry.get("events", []):
        if event["kind"] == IssueEvent.Kind.ISSUED:
            recipes, shelf = recipe_facts([issue.pk], EVER)
            unknown = [one for one in refuse_stops(recipes[issue.key], shelf)
                       if one.rule not in event.get("acknowledged", [])]
            if unknown:
                raise NotAcknowledged(unknown)
        reading.make(IssueEvent, event, recipe_issue=issue, by=reading.people[event["by"]])


def _customer(reading: _Reading, entry: Book) -> None:
    customer = reading.make(Customer, entry)
    for kept in entry.get("choices", []):
        reading.make(CustomerChoices, kept, customer=customer, finish=Finish.objects.get(code=kept["finish"]),
                     glass=reading.materials[kept["glass"]])


def _job(reading: _Reading, entry: Book) -> None:
    order = _order(reading, entry["order"])
    quotes = {}
    for at, quote_entry in enumerate(entry.get("quotes", [])):
        with reading.at("quotes", at):
            paper = StoredFile.objects.get(sha256=quote_entry["paper"]) if "paper" in quote_entry else None
            quote = reading.make(
                Quote, quote_entry, order=order, made_by=reading.people[quote_entry["made_by"]], paper=paper
            )
            quotes[quote.number, quote.revision] = quote
    booked = entry.get("booked_quote")
    was_worked = entry.get("state") == Job.State.CANCELLED and entry.get("tickets")
    job = reading.make(
        Job, {**entry, "state": Job.State.BOOKED} if was_worked else entry, order=order,
        quote=quotes[booked["number"], booked["revision"]] if booked else None,
        reservation=_reservation(reading, entry["reservation"]) if "reservation" in entry else None,
    )
    for one in entry.get("photographs", []):
        reading.make(JobPhotograph, one, job=job, by=reading.people[one["by"]],
                     picture=StoredFile.objects.get(sha256=one["picture"]))
    for at, ticket in enumerate(entry.get("tickets", [])):
        with reading.at("tickets", at):
            _ticket(reading, job, ticket)
    if was_worked:
        reading.cancelled.append(job)


def _order(reading: _Reading, entry: Book) -> Order:
    with reading.at("order"):
        order = reading.make(
            Order, entry, customer=Customer.objects.get(name=entry["customer"]),
            entered_by=reading.people[entry["entered_by"]],
        )
        for at, line in enumerate(entry["lines"]):
            with reading.at("lines", at):
                reading.make(
                    OrderLine, line, order=order, recipe_issue=reading.recipes[line["recipe"]],
                    glass=reading.materials[line["glass"]],
                )
        for thing in entry.get("bought_in", []):
            read_money(thing["cost"])
            reading.make(BoughtIn, thing, order=order)
        for record in entry.get("site_records", []):
            reading.make(SiteRecord, record, order=order)
    return order


def read_money(text: str) -> Decimal:
    """Read an amount of money, refusing more decimals than are kept."""
    amount = Decimal(text)
    if amount != round(amount, MONEY_DECIMALS):
        raise BookError(f"{text} has more than {MONEY_DECIMALS} decimals.")
    return amount


def _reservation(reading: _Reading, entry: Book) -> Reservation:
    with reading.at("reservation"):
        reservation = Reservation.objects.create(
            made_at=reading.moment(entry["made_at"]), what_for=entry["what_for"],
            released_at=reading.moment(entry["released_at"]) if "released_at" in entry else None,
        )
        for one in entry["amounts"]:
            material = reading.materials[one["material"]]
            ReservedAmount.objects.create(
                reservation=reservation, material=material,
                quantity=read_amount(one["quantity"], material.stock_unit, STOCK_DECIMALS),
            )
    return reservation


def _ticket(reading: _Reading, job: Job, entry: Book) -> None:
    ticket = WorkTicket.objects.create(
        job=job, number=entry["number"], plan=move_dates(entry["plan"], reading.moved),
        made_at=reading.moment(entry["made_at"]), made_by=reading.people[entry["made_by"]],
        paper=StoredFile.objects.get(sha256=entry["paper"]) if "paper" in entry else None,
    )
    run_entry = entry["run"]
    run = Run.objects.create(ticket=ticket, opened_at=reading.moment(run_entry["opened_at"]))
    for at, one in enumerate(run_entry.get("entries", [])):
        with reading.at("run", "entries", at):
            reading.make(RunEntry, one, run=run, by=reading.people[one["by"]])
    for one in run_entry.get("pane_results", []):
        reading.make(PaneResult, one, run=run, recipe_issue=reading.recipes[one["recipe"]])
    if "finished" in run_entry:
        ended = run_entry["finished"]
        run.finished_at, run.finished_by = reading.moment(ended["at"]), reading.people[ended["by"]]
        run.made_safe_at, run.made_safe_by = (
            reading.moment(ended["made_safe_at"]), reading.people[ended["made_safe_by"]]
        )
        run.posting = Posting.objects.get(key=ended["posting"])
        run.save()
    for one in run_entry.get("kept_leftovers", []):
        reading.make(KeptLeftover, one, run=run, lot=_named_lot(reading, one["lot"]))
