"""Live through half a year of the demo studio and save it as a book, by the same services the app uses.

    python -m studio.whole.demo.write_book

writes studio/whole/demo/book.json with its files, in a data folder of its own that is removed afterwards.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import tempfile
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from studio.whole.demo.days import WRITTEN_ON, next_key, on

BOOK = Path(__file__).parent / "book.json"


def furnish_studio() -> tuple[Any, Any]:
    """The studio, its people, rates and guns."""
    from studio.house.models import EdgeType, GunCalibration, House, HouseRates, Person

    House.objects.create(
        name="Hollin & Vane, Silverers", address="The Net Loft\nKelder Quay\nPort Asher PA4 7QL",
        email="desk@hollinvane.example", phone="01632 960 118", tax_number="GB 000 0000 00", time_zone="Europe/London",
        terms="Half on order, the rest before collection. Sizes are as finished. Hand silvering varies: the approved "
        "sample shows the character, not every mark. Glass in bathrooms, on stairs and near floors must follow the "
        "local safety glazing code; tell us before we cut.",
        request_prefix="HV-", request_first_number=301, request_days=14,
        payment_details="Transfer to Hollin & Vane, sort code 00-00-00, account 00000000; write the quote's number "
        "with it. Or by card at the workshop.",
        mail_sender="quotes@hollinvane.example",
        care_note="Dust with a dry soft cloth. Never spray cleaner on the mirror or let water reach its edge. "
        "Keep it from constant damp.",
        making_safe_procedure="Written procedure 3, on the wall by the sink: read it before mixing, tick it after.",
        spill_procedure="Written procedure 4. Clear the area first.",
        waste_procedure="Silver-bearing rinse and residue: closed container S, collected by the licensed contractor.",
    )
    maud = Person.objects.create(username="maud", first_name="Maud", last_name="Hollin", role="owner")
    teo = Person.objects.create(username="teo", first_name="Teo", last_name="Varga", role="helper")
    dated = ((date(2026, 1, 1), "21", "42", "0.33"), (date(2026, 7, 1), "22.5", "45", "0.35"))
    for when, helper, owner, margin in dated:
        rates = HouseRates.objects.create(
            effective_from=when, currency="GBP", tax_name="VAT", tax_share=Decimal("0.20"),
            helper_per_hour=Decimal(helper), owner_per_hour=Decimal(owner), overhead_per_bench_hour=Decimal(14),
            margin_share=Decimal(margin), minimum_charge=Decimal(120), price_step=Decimal(5), plan="spares",
            cover_share=Decimal("0.9"), glass_loss_share=Decimal("0.3"), bench_width_mm=Decimal(2000),
            bench_height_mm=Decimal(1200), bench_usable_share=Decimal("0.72"), increment_ml=Decimal(10),
            largest_vessel_ml=Decimal(5000), balance_readability_g=Decimal("0.01"), trim_mm=Decimal(10),
            clearance_mm=Decimal(2), smallest_offcut_mm=Decimal(300), offcut_credit_share=Decimal(0),
            deposit_share=Decimal("0.5"), quote_valid_days=30, usual_working_days=12, setup_minutes=Decimal(30),
            cutting_minutes_per_pane=Decimal(4), packing_minutes_per_pane=Decimal(8),
            hands=1 if when.month == 1 else 2, benches=2, cure_hours=Decimal(24), smallest_strip_mm=Decimal(12),
            crate_most_kg=Decimal(60), crate_kg=Decimal(9),
        )
        for name, minutes, grinds in (("seamed", "2", "0"), ("polished flat", "8", "1"), ("bevelled 20 mm", "15", "1")):
            EdgeType.objects.create(
                rates=rates, name=name, minutes_per_m=Decimal(minutes), grinds_off_mm=Decimal(grinds)
            )
    GunCalibration.objects.create(
        gun="silver pair, 1.2 mm", measured_on=date(2026, 6, 12), flow_ml_per_minute=Decimal(300),
        passes=Decimal(3), traverse_m2_per_minute=Decimal(1),
    )
    return maud, teo


def write_library(owner: Any) -> None:
    """Materials, solutions, finishes with their pictures, and their recipe versions, in use as time went by."""
    from recipes.models import Finish, FinishPicture, Ingredient, Solution, SolutionVersion
    from recipes.solutions.putting_in_use import check_solution_version
    from studio.house.kept_files import keep
    from studio.stockroom.models import Material
    from studio.stockroom.places import make_place
    from studio.whole.demo.draw_pictures import MARK, drawn
    from studio.whole.demo.library import FINISHES, MATERIALS, PLACES, SOLUTIONS, as_listed

    for name, (kind, is_dark) in PLACES.items():
        make_place(name, kind, is_dark=is_dark)
    for values in MATERIALS:
        make_place(str(values.get("storage_place", "")))
        row = Material(**as_listed(values))
        row.save()
        row.full_clean()
    for name, values, ingredients in SOLUTIONS:
        version = SolutionVersion.objects.create(solution=Solution.objects.create(name=name), number=1, **values)
        for number, ingredient in enumerate(ingredients, start=1):
            of: dict[str, Any] = {k: v for k, v in ingredient.items() if k not in ("material", "solution")}
            if "material" in ingredient:
                of["material"] = Material.objects.get(name=ingredient["material"])
            else:
                of["nested"] = SolutionVersion.objects.get(solution__name=ingredient["solution"])
            Ingredient.objects.create(solution_version=version, number=number, **of)
        check_solution_version(version)
    for at, (values, recipes) in enumerate(FINISHES):
        finish = Finish.objects.create(**values)
        for side in ("front", "back"):
            FinishPicture.objects.create(
                finish=finish, side=side, caption=MARK,
                file=keep(drawn(finish.code, side), name=f"{finish.code}-{side}.jpg", media_type="image/jpeg",
                          owner_only=False),
            )
        before = None
        for number, recipe in enumerate(recipes, start=1):
            with on(160 - 18 * number - at):
                before = write_recipe(finish, number, recipe, before, owner)


def write_recipe(finish: Any, number: int, recipe: Any, came_from: Any, owner: Any) -> Any:
    from recipes.finishes.bench_rules import refuse_stops
    from recipes.finishes.putting_in_use import put_in_use, withdraw_recipe
    from recipes.models import Part, RecipeVersion, SolutionVersion, Step
    from recipes.reading import recipe_facts
    from studio.house.clock import today

    version = RecipeVersion.objects.create(
        finish=finish, number=number, why=recipe.why, own_yield_share=recipe.own_yield_share, came_from=came_from
    )
    for at, values in enumerate(recipe.steps, start=1):
        own = {name: value for name, value in values.items() if name != "parts"}
        row = Step.objects.create(recipe_version=version, number=at, **own)
        for part_number, entry in enumerate(values.get("parts", []), start=1):
            Part.objects.create(
                step=row, number=part_number, strength=entry["strength"], parts=entry["parts"],
                mixed_for=entry["mixed_for"],
                solution_version=SolutionVersion.objects.get(solution__name=entry["solution"]),
            )
    if recipe.state != "draft":
        facts, shelf = recipe_facts([version.pk], today())
        cautions = {finding.rule for finding in refuse_stops(facts[version.key], shelf)}
        put_in_use(version=version, by=owner, acknowledged=cautions, note="Looked at in raking light, front and back.")
    if recipe.state == "withdrawn":
        withdraw_recipe(version=version, by=owner, note="Too much silver lost at the corners.")
    return version


#: material, supplier, days before, quantity, with carriage cost; more where something is out of the ordinary
LOTS: list[tuple[str, str, int, str, str, dict[str, Any]]] = [
    ("Distilled water", "Asher Water Works", 150, "100000", "44", {"opened": 60}),
    ("Distilled water", "Asher Water Works", 40, "100000", "46", {"opened": 20}),
    ("Distilled water", "Asher Water Works", 6, "100000", "47", {}),
    ("Silver nitrate", "Marrow & Tule Chemicals", 170, "250", "322", {"opened": 160}),
    ("Silver nitrate", "Marrow & Tule Chemicals", 75, "250", "341", {"opened": 60}),
    ("Silver nitrate", "Pellworth Fine Chemicals", 20, "250", "358", {}),
    ("Silver nitrate", "Pellworth Fine Chemicals", 8, "100", "149", {"held": "Label torn: assay to be asked for."}),
    ("Ammonia solution 28 %", "Marrow & Tule Chemicals", 200, "1000", "11.50", {"opened": 190}),
    ("Ammonia solution 28 %", "Marrow & Tule Chemicals", 60, "1000", "11.90", {"opened": 30}),
    ("Ammonia solution 28 %", "Marrow & Tule Chemicals", 14, "1000", "12.20", {}),
    ("Sodium hydroxide", "Marrow & Tule Chemicals", 120, "1000", "13.80", {"opened": 100}),
    ("Sodium hydroxide", "Pellworth Fine Chemicals", 30, "500", "7.60", {}),
    ("Dextrose, anhydrous", "Quay Provisions", 140, "1000", "8.40", {"opened": 130}),
    ("Dextrose, anhydrous", "Quay Provisions", 45, "1000", "8.90", {}),
    ("Rochelle salt", "Pellworth Fine Chemicals", 110, "500", "15.20", {"opened": 90}),
    ("Rochelle salt", "Pellworth Fine Chemicals", 28, "500", "15.90", {}),
    ("Tin(II) chloride dihydrate", "Pellworth Fine Chemicals", 150, "100", "17.50", {"opened": 110}),
    ("Tin(II) chloride dihydrate", "Pellworth Fine Chemicals", 35, "100", "18.40", {"opened": 25}),
    ("Tin(II) chloride dihydrate", "Pellworth Fine Chemicals", 10, "100", "18.60", {}),
    ("Hydrochloric acid 37 %", "Marrow & Tule Chemicals", 130, "1000", "18.20", {"opened": 120}),
    ("Hydrochloric acid 37 %", "Marrow & Tule Chemicals", 22, "1000", "19.10", {}),
    ("Cerium oxide polish", "Lowmere Glass Supplies", 125, "1000", "26.50", {}),
    ("Cerium oxide polish", "Lowmere Glass Supplies", 50, "1000", "27.80", {}),
    ("Cerium oxide polish", "Lowmere Glass Supplies", 12, "1000", "28.00", {}),
    ("Copper(II) sulfate pentahydrate", "Pellworth Fine Chemicals", 140, "500", "7.80", {}),
    ("Copper(II) sulfate pentahydrate", "Pellworth Fine Chemicals", 16, "500", "8.20", {}),
    ("Iron(III) chloride hexahydrate", "Pellworth Fine Chemicals", 135, "500", "10.40", {}),
    ("Iron(III) chloride hexahydrate", "Pellworth Fine Chemicals", 24, "500", "10.90", {}),
    ("Sodium sulfide", "Pellworth Fine Chemicals", 80, "100", "6.10", {"opened": 70}),
    ("Ethanol 96 %", "Marrow & Tule Chemicals", 90, "1000", "10.80", {}),
    ("Ethanol 96 %", "Marrow & Tule Chemicals", 18, "1000", "11.20", {}),
    ("Sodium chloride", "Quay Provisions", 120, "1000", "2.60", {}),
    ("Sodium chloride", "Quay Provisions", 33, "1000", "2.80", {}),
    ("Antiquing concentrate", "Dusk & Ledger Patinas", 150, "500", "79", {"opened": 148}),
    ("Antiquing concentrate", "Dusk & Ledger Patinas", 55, "500", "82", {"opened": 40}),
    ("Antiquing concentrate", "Dusk & Ledger Patinas", 9, "500", "83.50", {}),
    ("Clear back sealer", "Lowmere Glass Supplies", 140, "2500", "74", {"opened": 115}),
    ("Clear back sealer", "Lowmere Glass Supplies", 48, "2500", "77", {"opened": 45}),
    ("Clear back sealer", "Lowmere Glass Supplies", 7, "2500", "78", {}),
    ("Backing paint, slate grey", "Lowmere Glass Supplies", 130, "2500", "53", {"opened": 128}),
    ("Backing paint, slate grey", "Lowmere Glass Supplies", 42, "2500", "55", {}),
    ("Backing paint, slate grey", "Lowmere Glass Supplies", 11, "2500", "56", {}),
    ("Clear float 4 mm", "Brack Glass Merchants", 120, "6", "318", {}),
    ("Clear float 4 mm", "Brack Glass Merchants", 60, "8", "432", {}),
    ("Clear float 4 mm", "Brack Glass Merchants", 15, "6", "330", {}),
    ("Clear float 6 mm", "Brack Glass Merchants", 100, "3", "231", {}),
    ("Clear float 6 mm", "Brack Glass Merchants", 26, "3", "240", {}),
    ("Low-iron float 4 mm", "Brack Glass Merchants", 95, "4", "344", {}),
    ("Low-iron float 4 mm", "Brack Glass Merchants", 25, "4", "352", {}),
    ("Bronze float 4 mm", "Brack Glass Merchants", 85, "3", "279", {}),
    ("Bronze float 4 mm", "Brack Glass Merchants", 19, "2", "192", {}),
    ("Nitrile gloves, pair", "Quay Provisions", 110, "200", "22", {}),
    ("Nitrile gloves, pair", "Quay Provisions", 32, "200", "23", {}),
    ("Lint-free wipes", "Quay Provisions", 105, "600", "22", {}),
    ("Lint-free wipes", "Quay Provisions", 21, "300", "12", {}),
    ("Backing board 3 mm", "Brack Glass Merchants", 77, "12", "78", {}),
    ("Backing board 3 mm", "Brack Glass Merchants", 13, "12", "79", {}),
    ("Filter papers", "Pellworth Fine Chemicals", 102, "200", "17", {}),
    ("Filter papers", "Pellworth Fine Chemicals", 29, "100", "9", {}),
    ("Ammonia solution 28 %", "Pellworth Fine Chemicals", 3, "1000", "12.60", {}),
]


def receive_lots(owner: Any) -> None:
    """Receive every lot in the order in which it came."""
    from studio.stockroom.ledger import receive
    from studio.stockroom.models import Lot, Material

    for number, (name, supplier, days, quantity, cost, more) in enumerate(
        sorted(LOTS, key=lambda lot: -lot[2]), start=1
    ):
        with on(days, hour=9) as day:
            lot = receive(
                key=next_key(), by=owner, material=Material.objects.get(name=name), lot_number=f"L{1000 + number}",
                quantity=Decimal(quantity), cost_with_carriage=Decimal(cost), received_on=day, supplier=supplier,
                opened_on=WRITTEN_ON - timedelta(days=more["opened"]) if "opened" in more else None,
            )
        if "held" in more:
            Lot.objects.filter(pk=lot.pk).update(state="held", hold_reason=more["held"])


def line(size: str, quantity: int, finish: str, glass: str = "Clear float 4 mm", **more: Any) -> dict[str, Any]:
    return {"size": size, "quantity": quantity, "finish": finish, "glass": glass, "edge": "seamed", **more}


#: customer, title, days before, lines, how far it went
JOBS: list[tuple[str, str, int, list[dict[str, Any]], str]] = [
    ("Café Lanterna", "Six panels behind the bar", 96,
     [line("450 x 900 mm", 6, "Foxed Harbour", version=2, match_group="bar")], "delivered"),
    ("Ines Marchetti", "Round mirror for a hall", 70, [line("76 cm", 1, "Quiet Silver", shape="circle", version=1,
                                                            glass="Low-iron float 4 mm", edge="polished flat")],
     "finished"),
    ("Orla Penhallow", "Overmantel, two wings", 44,
     [line("24 3/8 x 36", 1, "Smoke Veil", version=2), line("12 1/4 x 36", 2, "Smoke Veil", version=2)], "finished"),
    ("Theatre Royal, Port Asher", "Foyer panels", 30,
     [line("610 x 915 mm", 4, "Winter Salt", version=2), line("300 x 915 mm", 2, "Winter Salt", version=2)],
     "on the bench"),
    ("Brannock Interiors", "Wardrobe doors", 18,
     [line("500 x 1500 mm", 4, "Drowned Leaf", version=2, edge="polished flat")], "booked"),
    ("Ines Marchetti", "Tray bases", 12,
     [line("300 x 200 mm", 8, "Ridge Water", glass="Low-iron float 4 mm")], "booked"),
    ("Café Lanterna", "Table tops", 9,
     [line("600 mm", 3, "Bronze Tide", "Bronze float 4 mm", shape="circle", edge="polished flat", offered="A"),
      line("600 mm", 3, "Quiet Silver", shape="circle", edge="polished flat", offered="B"),
      line("300 mm", 1, "Bronze Tide", "Bronze float 4 mm", shape="circle", edge="polished flat", offered="+")],
     "sent"),
    ("Orla Penhallow", "Bathroom cabinet front", 25, [line("400 x 700 mm", 1, "Quiet Silver")], "declined"),
    ("Saltmarsh Hotel", "Corridor of twelve", 5,
     [line("2' 0 3/8\" x 3'", 12, "Ember Edge", match_group="wall"), line("610 x 610 mm", 2, "Foxed Harbour")],
     "enquiry"),
    ("Theatre Royal, Port Asher", "Box office triptych", 3,
     [line("1012 x 1512 mm", 1, "Foxed Harbour", match_group="triptych", place="left", joint="6 mm"),
      line("1112 x 1512 mm", 1, "Foxed Harbour", match_group="triptych", place="middle", joint="6 mm",
           holes="socket 80 x 80 mm at 300 x 400 mm; hole 10 mm at 60 x 1440 mm"),
      line("1012 x 1512 mm", 1, "Foxed Harbour", match_group="triptych", place="right", joint="6 mm")],
     "enquiry"),
    ("Brannock Interiors", "Splashback test", 60, [line("900 x 600 mm", 1, "Foxed Harbour", version=1)], "cancelled"),
]

#: what is done elsewhere, by the order's title
OUTSIDE_WORK: dict[str, tuple[Any, ...]] = {}


def know_outside_work() -> None:
    from jobs.draft import DraftBoughtIn

    OUTSIDE_WORK["Box office triptych"] = (
        DraftBoughtIn(name="Socket and hole, drilled at Lowmere Glass", cost=Decimal(24), line_number=2,
                      kind="drilling", markup_share=Decimal("0.15"), days=4, before="silvering"),
        DraftBoughtIn(name="Bronze frames", cost=Decimal(310), kind="framing", days=16, before="handing over"),
    )


def keep_choices_and_offcuts(owner: Any, helper: Any) -> None:
    """What Saltmarsh Hotel's lines usually are, and glass that was left over."""
    from jobs.models import Customer
    from jobs.orders.presets import save_preset
    from recipes.models import RecipeVersion
    from studio.stockroom.models import Material
    from studio.stockroom.offcuts.kept import keep_offcut

    clear = Material.objects.get(name="Clear float 4 mm")
    version = RecipeVersion.objects.filter(finish__code="ember-edge").in_use().order_by("-number")[0]
    with on(4, 16):
        save_preset(Customer.objects.get(name="Saltmarsh Hotel"), "corridors", {
            "recipe_version": str(version.pk), "glass": str(clear.pk), "edge": "polished flat",
        })
        for width, height, place in ((640, 930, "offcut rack"), (410, 1580, "offcut rack, tall end")):
            keep_offcut(key=next_key(), by=helper, material=clear, width_mm=Decimal(width), height_mm=Decimal(height),
                        place=place, came_from="job 2")


CUSTOMERS: list[dict[str, str]] = [
    {"name": "Café Lanterna", "email": "bar@lanterna.example", "address": "2 Fore Street\nPort Asher"},
    {"name": "Ines Marchetti", "email": "ines@marchetti.example", "phone": "01632 960 204",
     "address": "Garret House\nKelder Quay\nPort Asher"},
    {"name": "Orla Penhallow", "email": "orla@penhallow.example", "address": "Highweather\nLowmere"},
    {"name": "Theatre Royal, Port Asher", "email": "works@theatre.example", "address": "Theatre Square\nPort Asher"},
    {"name": "Brannock Interiors", "email": "studio@brannock.example", "address": "Unit 5, The Ropewalk\nLowmere"},
    {"name": "Saltmarsh Hotel", "email": "manager@saltmarsh.example", "address": "Marsh Road\nAldby"},
]


def do_jobs(owner: Any, helper: Any) -> None:
    from jobs.models import Customer

    for customer in CUSTOMERS:
        Customer.objects.create(**customer)
    for customer_name, title, days, lines, state in JOBS:
        do_job(owner, helper, Customer.objects.get(name=customer_name), title, days, lines, state)


def send_by_mail(quote: Any, owner: Any) -> None:
    """Send a quote with its private link, into the folder of letters."""
    from jobs.private_links.letter import standard_subject, standard_text
    from jobs.private_links.sending import send_quote
    from studio.house.models import House

    send_quote(quote=quote, by=owner, key=next_key(), addresses=quote.order.customer.email,
               subject=standard_subject(quote), text=standard_text(quote, House.objects.get()))


def answer_at_link(quote: Any, owner: Any) -> None:
    """Let the customer say yes at the private link."""
    from jobs.private_links.answering import answer_quote, seen_mark
    from jobs.private_links.links import link_of, make_link

    made = make_link(quote=quote, by=owner, key=next_key())
    link = link_of(made.address.rpartition("/q/")[2].rstrip("/"))
    assert link is not None
    answer_quote(link=link, accepted=True, name=quote.order.customer.name, said="", seen=seen_mark(link))


def do_job(
    owner: Any, helper: Any, customer: Any, title: str, days: int, lines: list[dict[str, Any]], state: str
) -> None:
    """Take one job as far as it went."""
    from jobs.orders.saving import save_order
    from jobs.quotes.quoting import decide, mark_sent, save_quote
    from jobs.work.booking import book_job, deliver
    from jobs.work.cancelling import cancel
    from jobs.work.ticketing import make_ticket
    from studio.whole.book.orders import line_of

    with on(days) as day:
        draft_lines = [(line["size"], line_of(number, line)) for number, line in enumerate(lines, start=1)]
        order = save_order(
            by=owner, form_key=next_key(), customer=customer, title=title,
            due_on=day + timedelta(days=42), typed_lines=draft_lines, bought_in=OUTSIDE_WORK.get(title, ()),
        )
        job = order.job
        if state == "enquiry":
            return
        quote = save_quote(order=order, by=owner, form_key=next_key())
        if state == "sent":
            send_by_mail(quote, owner)
        else:
            mark_sent(quote, owner)
    if state == "sent":
        return
    if state == "booked":
        with on(days - 2, 14):
            answer_at_link(quote, owner)
    with on(days - 2, 15):
        decide(quote=quote, accepted=state != "declined", by=owner)
        if state == "declined":
            return
        job = book_job(
            job=job, by=owner, sample_approved=state != "booked", deposit_noted=state != "booked",
            waived_because="Deposit promised for Friday; long-standing customer." if state == "booked" else "",
            due_on=WRITTEN_ON - timedelta(days=days - 42),
        )
    if state == "cancelled":
        with on(days - 5):
            cancel(job=job, by=owner, because="The customer chose tiles.")
        return
    if state == "booked":
        return
    with on(days - 12, 8):
        ticket = make_ticket(job=job, by=owner)
    with on(days - 12 if state != "on the bench" else 1, 9):
        work_bench(ticket.run, owner, helper, finish=state != "on the bench")
    if state == "delivered":
        with on(days - 20):
            deliver(job=job, by=owner)


def work_bench(run: Any, owner: Any, helper: Any, finish: bool) -> None:
    """Note a run as a helper would: most things as written, a little more here, a spoilt pane there."""
    from jobs.models import RunEntry
    from jobs.work.bench import bench_state, note
    from jobs.work.finishing import finish_run
    from jobs.work.making_safe import make_run_safe

    kind = RunEntry.Kind

    def write(entry_kind: str, content: dict[str, Any], subject: str = "") -> None:
        note(run=run, by=helper, client_key=next_key(), kind=entry_kind, content=content, subject=subject)

    write(kind.CONDITIONS, {"air_c": "19.5", "glass_c": "19", "solution_c": "20", "humidity_percent": "54",
                            "water": "distilled, fresh drum", "conductivity_us_cm": "2"})
    state = bench_state(run)
    for at, mix in enumerate(state.mixes):
        if not finish and at >= len(state.mixes) // 2:
            return
        amounts = {
            str(ingredient.number):
                f"{ingredient.amount + (Decimal('0.1') if ingredient.unit == 'g' and at % 3 == 1 else 0):f}"
            for ingredient in mix.mix.ingredients
        }
        write(kind.MIXED, {"made": True, "amounts": amounts}, mix.mix.key)
    for spraying in state.sprayings:
        write(kind.SPRAYED, {"sprayed": True}, spraying.meeting.key)
    for at, pane in enumerate(state.panes):
        spoilt = at % 9 == 4
        write(kind.PANE, {"outcome": "spoilt" if spoilt else "good", "attempts": 1,
                          "because": "pinholes along one edge" if spoilt else ""}, pane.label)
    write(kind.TIME, {"helper": "215", "owner": "60"})
    write(kind.NOTE, {"text": "Rim took a little longer than the sample."})
    standing = [silver.row.pk for silver in bench_state(run).standing]
    if standing:
        make_run_safe(run=run, key=next_key(), by=helper, clocks=standing, procedure="Making safe, by the sink",
                      treated=["leftovers", "first rinse", "guns", "hoses", "nozzles", "trays", "rags"])
    else:
        write(kind.MADE_SAFE, {"by_procedure": True})
    finish_run(run=run, by=helper)


def keep_swatch_book() -> None:
    """Choose what customers may choose from."""
    from jobs.models import SwatchBook
    from recipes.models import Finish
    from studio.stockroom.models import Material

    for place, code in enumerate(("quiet-silver", "foxed-harbour", "ridge-water", "smoke-veil", "winter-salt")):
        Finish.objects.filter(code=code).update(
            in_swatch_book=True, swatch_place=place, lead_time_days=20 if place % 2 else None
        )
    SwatchBook.objects.create(
        glass=Material.objects.get(name="Clear float 4 mm"), edge="seamed", small_size_text="600 x 900 mm",
        large_size_text="1000 x 1500 mm", foreword="Silvered and aged by hand in Port Asher. Ask for a sample: its "
        "character is what we promise, not every mark.",
    )


def keep_the_week() -> None:
    """Who works when, on which benches, the days that differ, and what the owner said of two jobs."""
    from uuid import NAMESPACE_URL, uuid5

    from jobs.models import Job, JobInWeek
    from studio.house.week_models import DayApart, StudioWeek

    days, short = "08:00-12:30, 13:00-16:30", "08:00-13:00"
    helps, half = "08:30-12:30, 13:00-17:00", "08:30-12:30"
    StudioWeek.objects.create(
        benches="Long bench\nWindow bench", country="GB", region="ENG", comes_share=Decimal("0.4"),
        **{f"owner_{day}": days for day in ("monday", "tuesday", "wednesday", "thursday")}, owner_friday=short,
        **{f"helper_{day}": helps for day in ("monday", "tuesday", "wednesday", "thursday")}, helper_friday=half,
    )
    for at, (who, on_day, because) in enumerate((
        ("helper", 2, "dentist"), ("owner", 10, "at the glass fair"), ("studio", 17, "stocktaking"),
    )):
        day = WRITTEN_ON + timedelta(days=on_day)
        DayApart.objects.create(key=uuid5(NAMESPACE_URL, f"demo/week/{at}"), who=who, first_on=day, last_on=day,
                                because=because)
    JobInWeek.objects.create(job=Job.objects.get(number=5), weight=2)
    JobInWeek.objects.create(job=Job.objects.get(number=6), not_before=WRITTEN_ON + timedelta(days=3),
                             because="the carpenter brings the trays")


def write_order() -> None:
    """Write the order that the demo can be asked to estimate."""
    import json

    order = {
        "customer": "Orla Penhallow", "title": "Alcove pair and a round",
        "lines": [
            line("24 3/8 x 36", 2, "Foxed Harbour"),
            line("30 in", 1, "Ridge Water", "Low-iron float 4 mm", shape="circle", edge="polished flat"),
        ],
        "bought_in": [{"name": "brass frame", "cost": "68", "line": 2}],
        "discount": {"share": "0.05", "reason": "returning customer"},
    }
    BOOK.with_name("order.json").write_text(json.dumps(order, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        os.environ.update(DAYBOOK_DATA=folder, MAIL_FOLDER=f"{folder}/mail", DJANGO_SETTINGS_MODULE="studio.settings")
        os.environ.pop("DATABASE_URL", None)
        import django
        from django.core.management import call_command

        django.setup()
        call_command("migrate", verbosity=0)
        from studio.whole.audit import audit
        from studio.whole.book.save import save_book
        from studio.whole.demo.customers import reach_customers, show_samples
        from studio.whole.demo.money import ask_and_take_in
        from studio.whole.demo.stockroom import work_the_stockroom
        from studio.whole.demo.trials import make_trials

        # the same book every time: its links' tokens are made of a count, and a demo's alone
        secrets.token_urlsafe = lambda nbytes=None: hashlib.sha256(str(next_key()).encode()).hexdigest()[:43]
        owner, helper = furnish_studio()
        write_library(owner)
        receive_lots(owner)
        know_outside_work()
        do_jobs(owner, helper)
        keep_choices_and_offcuts(owner, helper)
        make_trials(owner, helper)
        show_samples(owner)
        reach_customers(owner)
        ask_and_take_in(owner)
        work_the_stockroom(owner, helper)
        keep_swatch_book()
        keep_the_week()
        with on(0, 8):
            for left in BOOK.with_suffix(".files").glob("*"):
                left.unlink()
            save_book(BOOK)
            write_order()
            print("\n".join(audit()) or "Everything ties.")


if __name__ == "__main__":
    main()
