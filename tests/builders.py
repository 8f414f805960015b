"""The smallest shelf, recipe and order a test needs. No random numbers."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from io import BytesIO
from itertools import count
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from PIL import Image

from jobs.draft import DraftLine
from jobs.models import Customer, Job, Order, Quote, Run, RunEntry
from jobs.orders.saving import save_order
from jobs.quotes.quoting import decide, save_quote
from jobs.work.bench import bench_state, note
from jobs.work.booking import book_job
from jobs.work.clock import clocks_of
from jobs.work.making_safe import make_run_safe
from jobs.work.ticketing import make_ticket
from recipes.finishes.bench_rules import clock_starts, refuse_stops
from recipes.finishes.putting_in_use import put_in_use
from recipes.models import Finish, Ingredient, Part, RecipeVersion, Solution, SolutionVersion, Step, Trial
from recipes.reading import recipe_facts
from recipes.trials.changing import Change
from recipes.trials.conducting import say_not_mixed, start_trial, untold
from recipes.trials.reading import facts_of
from studio.house.clock import today
from studio.house.models import EdgeType, House, HouseRates, Person
from studio.kit.units import parse_size
from studio.stockroom.ledger import receive
from studio.stockroom.models import Lot, Material

_numbers = count(1)

#: the moment from which tests of the clock count: ten in the morning of a working day
TEN = datetime(2026, 3, 4, 10, 0, tzinfo=UTC)


def key() -> UUID:
    return uuid5(NAMESPACE_URL, f"test/{next(_numbers)}")


def person(name: str, role: str) -> Person:
    return Person.objects.create_user(username=name, password=f"{name}-password", role=role)


def house(**more: Any) -> House:
    row, _ = House.objects.update_or_create(id=1, defaults={
        "name": "The Testing Loft", "making_safe_procedure": "Written procedure 1, by the sink.", **more,
    })
    return row


def rates(**more: Any) -> HouseRates:
    values: dict[str, Any] = {
        "effective_from": date(2020, 1, 1), "currency": "EUR", "tax_share": Decimal("0.2"),
        "helper_per_hour": Decimal(24), "owner_per_hour": Decimal(45), "overhead_per_bench_hour": Decimal(12),
        "margin_share": Decimal("0.35"), "price_step": Decimal(1), "cover_share": Decimal("0.9"),
        "bench_width_mm": Decimal(2000), "bench_height_mm": Decimal(1200), **more,
    }
    row = HouseRates.objects.create(**values)
    EdgeType.objects.create(rates=row, name="seamed", minutes_per_m=Decimal(2))
    EdgeType.objects.create(rates=row, name="polished", minutes_per_m=Decimal(8), grinds_off_mm=Decimal(1))
    return row


def material(name: str, unit: str = "g", **more: Any) -> Material:
    row = Material(**{
        "name": name, "kind": "chemical", "stock_unit": unit, "liquid": unit == "mL", "list_price": Decimal("0.1"),
        **more,
    })
    row.save()
    row.full_clean(validate_constraints=False)  # those the database checked as it was saved
    return row


def glass(name: str = "Clear 4 mm", **more: Any) -> Material:
    return material(name, "sheet", **{
        "kind": "glass sheet", "sheet_width_mm": Decimal(2250), "sheet_height_mm": Decimal(1605),
        "thickness_mm": Decimal(4), "tint": "clear", "treatment": "annealed", "list_price": Decimal(50), **more,
    })


def lot(of: Material, quantity: str, by: Person, number: str = "", cost: str = "10", **more: Any) -> Lot:
    """Receive a lot. number: the first free of L1, L2, … where none is given."""
    more.setdefault("received_on", today() - timedelta(days=10))
    number = number or next(free for free in (f"L{at}" for at in count(1)) if not Lot.objects.filter(lot_number=free))
    return receive(
        key=key(), by=by, material=of, lot_number=number, quantity=Decimal(quantity), cost_with_carriage=Decimal(cost), **more
    )


def solution(name: str, *ingredients: dict[str, Any], **more: Any) -> SolutionVersion:
    """Make a solution. Each ingredient: material or nested, amount (0: make up), unit, active."""
    version = SolutionVersion.objects.create(
        solution=Solution.objects.create(name=name), number=1, **{"keeps_minutes": Decimal(1440), **more}
    )
    for number, ingredient in enumerate(ingredients, start=1):
        amount = Decimal(ingredient.pop("amount", 0))
        Ingredient.objects.create(**{
            "solution_version": version, "number": number, "amount_per_litre": amount, "make_up": amount == 0,
            "unit": "mL", "scales_with_strength": False, **ingredient,
        })
    return version


def recipe(finish: str, steps: Sequence[dict[str, Any]], number: int = 1, **more: Any) -> RecipeVersion:
    """Make a draft recipe version. Each step may carry `parts`: dicts of solution_version and more."""
    row, _ = Finish.objects.get_or_create(name=finish)
    version = RecipeVersion.objects.create(finish=row, number=number, **more)
    for at, values in enumerate(steps, start=1):
        parts = values.pop("parts", [])
        step = Step.objects.create(recipe_version=version, number=at, **values)
        for part_number, part in enumerate(parts, start=1):
            Part.objects.create(step=step, number=part_number, **part)
    return version


def put_version_in_use(version: RecipeVersion, by: Person) -> RecipeVersion:
    """Version a draft, acknowledging every caution."""
    recipes, shelf = recipe_facts([version.pk], today())
    cautions = {finding.rule for finding in refuse_stops(recipes[version.key], shelf)}
    put_in_use(version=version, by=by, acknowledged=cautions)
    return version


def photograph(width: int = 640, height: int = 480, colour: str = "#8899aa") -> bytes:
    """A plain JPEG as a camera would send it, without metadata."""
    content = BytesIO()
    Image.new("RGB", (width, height), colour).save(content, "JPEG")
    return content.getvalue()


def trial(of: RecipeVersion, by: Person, *changes: Change, **more: Any) -> Trial:
    """Start a trial on a small pane."""
    values: dict[str, Any] = {"width_mm": Decimal(150), "height_mm": Decimal(150), "size_text": "150 x 150 mm", **more}
    return start_trial(key=key(), by=by, recipe_version=of, changes=changes, **values)


def nothing_mixed(trial: Trial, by: Person) -> Trial:
    """Say of all ammoniacal silver of a trial that it was not mixed, so that it can be closed."""
    facts = facts_of([trial])
    for start in untold(trial, clock_starts(facts.tried[trial.pk], facts.shelf)):
        say_not_mixed(key=key(), trial=trial, by=by, subject=start.key)
    trial.refresh_from_db()
    return trial


class Workshop:
    """A small studio that can silver: water, silver, ammonia, sugar, sealer, glass, and one finish."""

    def __init__(self, by: Person, silver: str = "500", water: str = "100000") -> None:
        self.owner = by
        if not House.objects.exists():
            house()
        self.water = material("Distilled water", "mL", kind="water", list_price=Decimal("0.001"))
        self.silver = material("Silver nitrate", silver_g_per_unit=Decimal("0.63499"), reacts_as=["silver_salt"])
        self.ammonia = material("Ammonia 28 %", "mL", density_g_per_ml=Decimal("0.9"), reacts_as=["ammonia"])
        self.sugar = material("Dextrose", reacts_as=["reducer"])
        self.sealer = material("Clear sealer", "mL", kind="sealer", none_apply=True)
        self.glass = glass()
        self.silver_lot = lot(self.silver, silver, by, "S1", "700")
        self.lots = [
            lot(self.water, water, by, "W1", "50"), lot(self.ammonia, "1000", by, "A1", "12"),
            lot(self.sugar, "1000", by, "D1", "9"), lot(self.sealer, "5000", by, "C1", "60"),
            lot(self.glass, "10", by, "G1", "520"),
        ]
        self.silver_part = solution(
            "Silver part", {"material": self.silver, "amount": 12, "unit": "g", "scales_with_strength": True},
            {"material": self.ammonia, "amount": 14, "scales_with_strength": True, "end_point": "until just clear"},
            {"material": self.water}, keeps_minutes=None,
        )
        self.reducer = solution("Reducer", {"material": self.sugar, "amount": 9, "unit": "g", "scales_with_strength": True},
                                {"material": self.water})
        self.sealing = solution("Sealer, neat", {"material": self.sealer})
        self.recipe = put_version_in_use(recipe("Plain silver", self.steps()), by)

    def steps(self) -> list[dict[str, Any]]:
        return [
            {"kind": "clean", "minutes_per_pane": Decimal(2)},
            {"kind": "rinse", "rinse_full": True, "rinse_water": "distilled"},
            {"kind": "silver", "how": "spray", "coverage_ml_per_m2": Decimal(900), "dwell_minutes": Decimal(5),
             "minutes_per_load": Decimal(5), "parts": [
                 {"solution_version": self.silver_part, "mixed_for": "load"},
                 {"solution_version": self.reducer, "mixed_for": "load"}]},
            {"kind": "rinse", "rinse_full": True, "rinse_collected": True, "rinse_water": "distilled"},
            {"kind": "make safe"},
            {"kind": "inspect"},
            {"kind": "seal", "how": "brush", "coverage_ml_per_m2": Decimal(110), "drying": "air", "parts": [
                {"solution_version": self.sealing, "mixed_for": "job"}]},
        ]

    def line(self, size: str = "610 x 915 mm", quantity: int = 2, number: int = 1, **more: Any) -> tuple[str, DraftLine]:
        read = parse_size(size)
        return size, DraftLine(**{
            "number": number, "shape": "circle" if read.single else "rectangle", "width_mm": read.width_mm,
            "height_mm": read.height_mm, "quantity": quantity, "recipe_version_id": self.recipe.pk,
            "glass_id": self.glass.pk, "route": "sheet", "edge": "seamed", **more,
        })

    def order(self, *lines: tuple[str, DraftLine], **more: Any) -> Order:
        customer, _ = Customer.objects.get_or_create(name="Ada Fenwick", defaults={"email": "ada@fenwick.example"})
        return save_order(by=self.owner, form_key=key(), customer=customer, title="Hall mirror",
                          typed_lines=lines or (self.line(),), **more)

    def booked(self, *lines: tuple[str, DraftLine]) -> Job:
        order = self.order(*lines)
        decide(quote=save_quote(order=order, by=self.owner, form_key=key()), accepted=True)
        return book_job(job=order.job, by=self.owner, sample_approved=True, deposit_noted=True, waived_because="",
                        due_on=None)

    def run(self, *lines: tuple[str, DraftLine]) -> Run:
        return make_ticket(job=self.booked(*lines), by=self.owner).run


def quoted(order: Order, by: Person, title: str) -> Quote:
    """Save a quote of an order under a title of its own: a revision that says just the same is not saved twice."""
    Order.objects.filter(pk=order.pk).update(title=title)
    return save_quote(order=order, by=by, form_key=key())


def mixed(run: Run, by: Person, subject: str, **content: Any) -> None:
    """Note a batch as made."""
    note(run=run, by=by, client_key=key(), kind=RunEntry.Kind.MIXED, subject=subject, content={"made": True, "amounts": {}, **content})


def worked(
    run: Run, by: Person, factor: Fraction = Fraction(1), safe: bool = True, but: Collection[str] = (),
) -> Run:
    """Note a whole run as it was written, its amounts times a factor. but: batches recorded already."""
    def write(kind: str, content: dict[str, Any], subject: str = "") -> None:
        note(run=run, by=by, client_key=key(), kind=kind, content=content, subject=subject)

    kind = RunEntry.Kind
    write(kind.CONDITIONS, {"air_c": "20", "humidity_percent": "50"})
    state = bench_state(run)
    for mix in state.mixes:
        amounts = {str(ingredient.number): f"{ingredient.amount * Decimal(factor.numerator) / factor.denominator:.3f}"
                   for ingredient in mix.mix.ingredients}
        if mix.mix.key not in but:
            write(kind.MIXED, {"made": True, "amounts": amounts}, mix.mix.key)
    for spraying in state.sprayings:
        write(kind.SPRAYED, {"sprayed": True}, spraying.meeting.key)
    for pane in state.panes:
        write(kind.PANE, {"outcome": "good", "attempts": 1, "because": ""}, pane.label)
    write(kind.TIME, {"helper": "60", "owner": "10"})
    if safe:
        made_safe(run, by)
    return run


#: all that a making safe of sprayed silver says it treated
SPRAYED_SAFE = ["leftovers", "first rinse", "guns", "hoses", "nozzles"]


def made_safe(run: Run, by: Person, **more: Any) -> None:
    """Make safe all that stands of a run; one on which nothing does is ticked."""
    open_now = [clock.pk for clock in clocks_of(run).filter(made_safe=None)]
    if open_now:
        make_run_safe(run=run, key=key(), by=by, **{
            "clocks": open_now, "procedure": "Written procedure 1", "treated": SPRAYED_SAFE, **more})
    else:
        note(run=run, by=by, client_key=key(), kind=RunEntry.Kind.MADE_SAFE, content={"by_procedure": True})


def judge(run: Run, by: Person, good: int) -> None:
    """Note the first panes of a run as good, the others as spoilt."""
    for at, pane in enumerate(bench_state(run).panes):
        note(run=run, by=by, client_key=key(), kind=RunEntry.Kind.PANE, subject=pane.label, content={
            "outcome": "good" if at < good else "spoilt", "attempts": 1, "because": "" if at < good else "pinholes"})


def finish_by_page(client: Any, run: Run, **sent: Any) -> Any:
    """Look at what finishing deducts, then send just that."""
    page = f"/bench/{run.pk}/finish/"
    chosen = {name: value for name, value in sent.items() if name.startswith("chosen")}
    return client.post(page, {"shown": client.get(page, chosen).context["deduction"].mark, **sent})
