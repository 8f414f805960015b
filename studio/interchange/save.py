"""The whole studio as one document. What it names, it names by code, number or key."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from jobs.models import Customer, Job, Order, Quote, Run, SwatchBook, WorkTicket
from recipes.models import Finish, RecipeIssue, Solution, SolutionIssue, Step, Trial, TrialPhotograph
from studio.clock import today
from studio.interchange.columns import amount_text, written
from studio.inventory.models import (
    CountSheet,
    Delivery,
    Lot,
    Material,
    Offcut,
    Posting,
    Purchase,
    Reservation,
    StockMovement,
    WasteContainer,
)
from studio.kit.asking import fetched
from studio.models import GunCalibration, House, HouseRates, Person, StoredFile
from studio.rounding import plain
from studio.stored_files import read

FORMAT, VERSION = "silvering daybook", 1
Book = dict[str, Any]


def book() -> Book:
    """Return the studio as a book, in a fixed order: equal studios give equal documents."""
    house = House.objects.first()
    document: Book = {
        "format": FORMAT, "version": VERSION, "written_on": today().isoformat(),
        "people": [written(person) for person in Person.objects.order_by("username")],
        "rates": [
            {**written(rates), "edges": [written(edge) for edge in rates.edge_types.all()]}
            for rates in fetched(HouseRates.objects.order_by("effective_from"), "edge_types")
        ],
        "guns": [written(gun) for gun in GunCalibration.objects.order_by("gun", "measured_on")],
        "files": [written(file) for file in StoredFile.objects.order_by("sha256")],
        "materials": [written(one, one.stock_unit) for one in Material.objects.order_by("code")],
        "deliveries": [written(one) for one in Delivery.objects.order_by("pk")],
        "lots": [_lot(lot) for lot in _lots()],
        "postings": [_posting(posting) for posting in _postings()],
        "offcuts": [_offcut(one) for one in Offcut.objects.select_related("material", "kept_by", "gone_by",
                                                                          "reservation__job").order_by("number")],
        "purchases": [_purchase(one) for one in Purchase.objects.select_related("material", "lot__material")
                      .order_by("pk")],
        "counts": [_count(sheet) for sheet in _counts()],
        "waste_containers": [_container(row) for row in fetched(
            WasteContainer.objects.order_by("pk"), "entries__by", "entries__posting")],
        "solutions": [_solution(one) for one in _solutions()],
        "finishes": [_finish(finish) for finish in _finishes()],
        "trials": [_trial(trial) for trial in _trials()],
        "customers": [_customer(one) for one in fetched(
            Customer.objects.order_by("name"), "choices__finish", "choices__glass")],
        "jobs": [_job(job) for job in _jobs()],
    }
    swatch_book = SwatchBook.objects.select_related("glass").first()
    if swatch_book is not None:
        glass = {"glass": swatch_book.glass.code} if swatch_book.glass else {}
        document["swatch_book"] = {**written(swatch_book), **glass}
    return {**document, "house": written(house)} if house else document


def save_book(path: Path) -> None:
    """Write the book, and its files by SHA-256 in a folder beside it."""
    path.write_text(canonical(book()), encoding="utf-8")
    for stored in StoredFile.objects.order_by("sha256"):
        folder = files_beside(path)
        folder.mkdir(exist_ok=True)
        (folder / stored.sha256).write_bytes(read(stored))


def canonical(document: Book) -> str:
    return json.dumps(document, indent=1, ensure_ascii=False, sort_keys=True) + "\n"


def files_beside(path: Path) -> Path:
    return path.with_suffix(".files")


def lot_reference(lot: Lot) -> dict[str, str]:
    return {"material": lot.material.code, "lot_number": lot.lot_number}


def _lots() -> list[Lot]:
    return fetched(
        Lot.objects.select_related("material", "delivery").order_by("pk"),
        "events__by", "papers__file",
    )


def _lot(lot: Lot) -> Book:
    entry: Book = {"material": lot.material.code, **written(lot, lot.material.stock_unit)}
    if lot.delivery is not None:
        entry["delivery"] = str(lot.delivery.key)
    if lot.events.all():
        entry["events"] = [{**written(event), "by": event.by.username} for event in lot.events.all()]
    if lot.papers.all():
        entry["papers"] = [{"kind": paper.kind, "file": paper.file.sha256} for paper in lot.papers.all()]
    return entry


def _offcut(one: Offcut) -> Book:
    gone = {"gone_by": one.gone_by.username} if one.gone_by else {}
    job: Job | None = getattr(one.reservation, "job", None)
    promised = {"promised_to_job": job.number} if job else {}
    return {"material": one.material.code, **written(one), "kept_by": one.kept_by.username, **gone, **promised}


def _purchase(one: Purchase) -> Book:
    came = {"lot": lot_reference(one.lot)} if one.lot else {}
    return {"material": one.material.code, **written(one, one.material.stock_unit), **came}


def _counts() -> list[CountSheet]:
    return fetched(
        CountSheet.objects.select_related("by", "posting").order_by("pk"),
        "lines__lot__material",
    )


def _count(sheet: CountSheet) -> Book:
    posted = {"posting": str(sheet.posting.key)} if sheet.posting else {}
    lines = sorted(sheet.lines.all(), key=lambda line: line.pk)
    return {
        **written(sheet), **posted, "by": sheet.by.username,
        "lines": [{**written(line, line.lot.material.stock_unit), "lot": lot_reference(line.lot)} for line in lines],
    }


def _container(row: WasteContainer) -> Book:
    entries = []
    for entry in row.entries.all():
        behind = {"posting": str(entry.posting.key)} if entry.posting else {}
        entries.append({**written(entry), **behind, "by": entry.by.username})
    return {**written(row), "entries": entries}


def _postings() -> list[Posting]:
    return fetched(
        Posting.objects.select_related("by").order_by("pk"),
        "movements__lot__material", "movements__reverses__posting",
    )


def _posting(posting: Posting) -> Book:
    movements = sorted(posting.movements.all(), key=lambda one: one.line)
    return {**written(posting), "by": posting.by.username, "movements": [_movement(one) for one in movements]}


def _movement(one: StockMovement) -> Book:
    entry: Book = {
        "line": one.line, "lot": lot_reference(one.lot), "kind": one.kind,
        "quantity": amount_text(one.quantity, one.lot.material.stock_unit),
        "unit_cost": plain(one.unit_cost),
    }
    if one.note:
        entry["note"] = one.note
    if one.reverses is not None:
        entry["reverses"] = {"posting": str(one.reverses.posting.key), "line": one.reverses.line}
    return entry


def _solutions() -> list[Solution]:
    return fetched(
        Solution.objects.select_related("material").order_by("code"),
        "issues__ingredients__material", "issues__ingredients__nested__solution", "issues__made_lots__lot__material",
    )


def _solution(solution: Solution) -> Book:
    entry: Book = {"code": solution.code, "name": solution.name}
    if solution.material:
        entry["shelf_place"] = solution.material.code
    return {**entry, "issues": [_solution_issue(issue) for issue in solution.issues.all()]}


def _solution_issue(issue: SolutionIssue) -> Book:
    ingredients = []
    for one in issue.ingredients.all():
        of = {"material": one.material.code} if one.material else {"solution": one.nested.key if one.nested else ""}
        ingredients.append({**written(one, one.unit), **of, "unit": one.unit})
    made = [
        {"lot": lot_reference(one.lot), **({"ready_at": one.ready_at.isoformat()} if one.ready_at else {})}
        for one in issue.made_lots.all()
    ]
    return {**written(issue), "ingredients": ingredients, **({"made_lots": made} if made else {})}


def _finishes() -> list[Finish]:
    return fetched(
        Finish.objects.order_by("code"),
        "pictures__file", "issues__came_from__finish", "issues__events__by",
        "issues__steps__parts__solution_issue__solution", "issues__came_from_trial",
    )


def _finish(finish: Finish) -> Book:
    return {
        **written(finish),
        "pictures": [
            {"side": picture.side, "file": picture.file.sha256, "caption": picture.caption}
            for picture in finish.pictures.all()
        ],
        "issues": [_recipe_issue(issue) for issue in finish.issues.all()],
    }


def _recipe_issue(issue: RecipeIssue) -> Book:
    origin: Book = {"came_from": issue.came_from.key} if issue.came_from else {}
    if issue.came_from_trial:
        origin["came_from_trial"] = issue.came_from_trial.number
    return {
        **written(issue), **origin, "steps": [_step(step) for step in issue.steps.all()],
        "events": [{**written(event), "by": event.by.username} for event in issue.events.all()],
    }


def _step(step: Step) -> Book:
    parts = [{**written(part), "solution": part.solution_issue.key} for part in step.parts.all()]
    return {**written(step), "parts": parts} if parts else written(step)


def _trials() -> list[Trial]:
    return fetched(
        Trial.objects.select_related("recipe_issue__finish", "parent", "glass", "made_by").order_by("number"),
        "changes", "notes__by", "timings__by", "uses__posting", "photographs__by", "photographs__original",
        "photographs__print_copy", "photographs__screen_copy", "photographs__aligned_copy",
    )


def _trial(trial: Trial) -> Book:
    entry: Book = {
        **written(trial), "recipe": trial.recipe_issue.key, "made_by": trial.made_by.username,
        "changes": [written(change) for change in trial.changes.all()],
        "notes": [{**written(note), "by": note.by.username} for note in trial.notes.all()],
        "timings": [{**written(timing), "by": timing.by.username} for timing in trial.timings.all()],
        "photographs": [_photograph(one) for one in trial.photographs.all()],
        "postings": [str(use.posting.key) for use in trial.uses.all()],
    }
    if trial.parent:
        entry["parent"] = trial.parent.number
    if trial.glass:
        entry["glass"] = trial.glass.code
    return entry


def _photograph(one: TrialPhotograph) -> Book:
    return {
        **written(one), "by": one.by.username, "original": one.original.sha256, "print_copy": one.print_copy.sha256,
        "screen_copy": one.screen_copy.sha256, "aligned_copy": one.aligned_copy.sha256,
    }


def _customer(customer: Customer) -> Book:
    kept = [{**written(one), "finish": one.finish.code, "glass": one.glass.code} for one in customer.choices.all()]
    return {**written(customer), **({"choices": kept} if kept else {})}


def _jobs() -> list[Job]:
    return fetched(
        Job.objects.select_related("order__customer", "order__entered_by", "quote", "reservation").order_by("number"),
        "order__lines__recipe_issue__finish", "order__lines__glass", "order__bought_in", "order__quotes__made_by",
        "order__quotes__paper", "reservation__amounts__material", "tickets__made_by", "tickets__paper",
        "tickets__run__entries__by", "tickets__run__pane_results__recipe_issue__finish", "order__site_records",
        "photographs__by", "photographs__picture", "tickets__run__finished_by", "tickets__run__made_safe_by",
        "tickets__run__posting",
    )


def _job(job: Job) -> Book:
    entry = {
        **written(job), "order": _order(job.order),
        "quotes": [_quote(quote) for quote in sorted(job.order.quotes.all(), key=lambda q: (q.number, q.revision))],
        "tickets": [_ticket(ticket) for ticket in sorted(job.tickets.all(), key=lambda t: t.number)],
    }
    if job.photographs.all():
        entry["photographs"] = [
            {**written(one), "by": one.by.username, "picture": one.picture.sha256} for one in job.photographs.all()
        ]
    if job.quote:
        entry["booked_quote"] = {"number": job.quote.number, "revision": job.quote.revision}
    if job.reservation:
        entry["reservation"] = _reservation(job.reservation)
    return entry


def _order(order: Order) -> Book:
    lines = [
        {**written(line), "recipe": line.recipe_issue.key, "glass": line.glass.code} for line in order.lines.all()
    ]
    bought_in = [written(one) for one in order.bought_in.all()]
    return {
        **written(order), "customer": order.customer.name, "entered_by": order.entered_by.username, "lines": lines,
        "bought_in": bought_in,
        **({"site_records": [written(one) for one in order.site_records.all()]} if order.site_records.all() else {}),
    }


def _quote(quote: Quote) -> Book:
    paper = {"paper": quote.paper.sha256} if quote.paper else {}
    return {**written(quote), "made_by": quote.made_by.username, **paper}


def _reservation(reservation: Reservation) -> Book:
    released = {"released_at": reservation.released_at.isoformat()} if reservation.released_at else {}
    return {
        "made_at": reservation.made_at.isoformat(), "what_for": reservation.what_for, **released,
        "amounts": [
            {"material": one.material.code, "quantity": amount_text(one.quantity, one.material.stock_unit)}
            for one in reservation.amounts.all()
        ],
    }


def _ticket(ticket: WorkTicket) -> Book:
    paper = {"paper": ticket.paper.sha256} if ticket.paper else {}
    return {
        "number": ticket.number, "plan": ticket.plan, "made_at": ticket.made_at.isoformat(),
        "made_by": ticket.made_by.username, **paper, "run": _run(ticket.run),
    }


def _run(run: Run) -> Book:
    entry: Book = {
        "opened_at": run.opened_at.isoformat(),
        "entries": [{**written(one), "by": one.by.username} for one in run.entries.all()],
        "pane_results": [{**written(one), "recipe": one.recipe_issue.key} for one in run.pane_results.all()],
    }
    if run.finished_at and run.finished_by and run.made_safe_at and run.made_safe_by and run.posting:
        entry["finished"] = {
            "at": run.finished_at.isoformat(), "by": run.finished_by.username,
            "made_safe_at": run.made_safe_at.isoformat(), "made_safe_by": run.made_safe_by.username,
            "posting": str(run.posting.key),
        }
    return entry
