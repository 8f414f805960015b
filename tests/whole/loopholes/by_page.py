"""What somebody tries in a browser, and how the studio answers."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from io import BytesIO

from pypdf import PdfReader

from jobs.models import Job, Run
from recipes.models import SilverClock, SolutionVersion, Trial
from studio.house.clock import now, pretend, today
from studio.house.models import House
from studio.stockroom.models import Lot, Material
from tests import builders
from tests.recipes.finishes.test_authoring import fields_of
from tests.whole.loopholes.table import through
from tests.whole.loopholes.world import World

NEW = "/finishes/solutions/new/"
NEVER = "never stored and never mixed ahead"
STANDS = "Silver part, load 1"


def _refused(world: World, sent: dict, sentence: str) -> None:
    before = SolutionVersion.objects.count()
    assert sentence in world.post(NEW, **sent)
    assert SolutionVersion.objects.count() == before


def _not_in_use(world: World, steps: list, sentence: str) -> None:
    draft = world.draft(steps)
    assert sentence in world.put_in_use(draft)
    assert not world.in_use(draft)


@through("page", "kept")
def kept(world: World) -> None:
    _refused(world, world.bath_typed(keeps_minutes="1 day"), NEVER)
    assert "silver-bath" in world.post(NEW, **world.bath_typed())  # used at once it is written down


@through("page", "made ahead")
def made_ahead(world: World) -> None:
    said = world.post("/finishes/solutions/bath/1/mix-ahead/", volume="500 mL")
    assert NEVER in said
    assert not Lot.objects.filter(made__solution_version=world.bath).exists()


@through("page", "by an ammonium salt")
def by_an_ammonium_salt(world: World) -> None:
    named = (world.bottles[name] for name in ("Lunar salt", "Firework salt", "Lye"))
    _refused(world, world.typed("Salt bath", *named, keeps_minutes="1 day"), NEVER)


@through("page", "inside a part")
def inside_a_part(world: World) -> None:
    outer = builders.solution("Around the bath", {"nested": world.bath, "amount": 500}, {"material": world.shop.water},
                              keeps_minutes=None)
    for nested in (world.bath, outer):
        _refused(world, world.typed("Outermost", nested, keeps_minutes="1 day"), NEVER)
    silver = builders.solution("Silver in it", *world.doses("Lunar salt"))
    _refused(world, world.typed("Outermost", silver, world.bottles["Hartshorn"], keeps_minutes="1 h"), NEVER)


@through("page", "a newer version")
def a_newer_version(world: World) -> None:
    world.mixed_ahead(world.plain)
    world.post("/finishes/solutions/plain-silver-stock/1/next/", why="clearer")
    draft = SolutionVersion.objects.get(solution=world.plain.solution, number=2)
    sent = world.typed("Plain silver stock", world.bottles["Lunar salt"], world.bottles["Hartshorn"])
    sent["in-INITIAL_FORMS"] = 2
    page = "/finishes/solutions/plain-silver-stock/2/edit/"
    assert NEVER in world.post(page, **sent, saves=draft.saves, **{"solution-keeps_minutes": "1 day"})
    assert NEVER in world.post(page, **sent, saves=draft.saves), "used at once, but its place is on the shelf"
    assert draft.ingredients.count() == 2


@through("page", "a frozen version")
def a_frozen_version(world: World) -> None:
    world.mixed_ahead(world.plain)
    world.plain.refresh_from_db()
    sent = world.typed("Plain silver stock", world.bottles["Lunar salt"], world.bottles["Hartshorn"])
    sent["in-INITIAL_FORMS"] = 2
    world.post("/finishes/solutions/plain-silver-stock/1/edit/", **sent, saves=world.plain.saves)
    assert world.plain.ingredients.count() == 2


def _material(world: World, bottle: str, **more: object) -> str:
    row = Material.objects.get(pk=world.bottles[bottle].pk)
    sent = {"name": row.name, "kind": row.kind, "stock_unit": row.stock_unit, "saves": row.saves,
            "cas_number": row.cas_number, **({"liquid": "on"} if row.liquid else {}), **more}
    return world.post(f"/stockroom/{row.code}/edit/", **sent)


@through("page", "renamed")
def renamed(world: World) -> None:
    assert "is saved" in _material(world, "Hartshorn", name="Smelling water")
    _refused(world, world.bath_typed(keeps_minutes="1 day", cautions="Harmless."), NEVER)


@through("page", "class taken away")
def class_taken_away(world: World) -> None:
    said = _material(world, "Hartshorn", none_apply="on", reacts_as=[])
    assert "“none apply” is not kept" in said
    assert "ammonia" in Material.objects.get(name="Hartshorn").known_classes
    _refused(world, world.bath_typed(keeps_minutes="1 day"), NEVER)


@through("page", "identity cleared")
def identity_cleared(world: World) -> None:
    """What the number told stays until its owner unticks it, and what nobody knows does not keep either."""
    assert "“none apply” is not kept" in _material(world, "Hartshorn", cas_number="", none_apply="on")
    _refused(world, world.bath_typed(keeps_minutes="1 day"), NEVER)
    _material(world, "Hartshorn", reacts_as=[])
    _refused(world, world.bath_typed(keeps_minutes="1 day"), "Hartshorn")


@through("page", "unclassed kept")
def unclassed_kept(world: World) -> None:
    powder = world.bottles["Unread powder"]
    _refused(world, world.typed("Powder mix", powder, keeps_minutes="1 day"), "Unread powder")
    version = builders.solution("Powder stock", *world.doses("Unread powder"))
    assert "Unread powder" in world.post("/finishes/solutions/powder-stock/1/mix-ahead/", volume="100 mL")
    assert not Lot.objects.filter(made__solution_version=version).exists()


@through("page", "unclassed in use")
def unclassed_in_use(world: World) -> None:
    _not_in_use(world, [world.one_step("Unread powder"), *world.steps()], "nobody has said what it reacts as")


@through("page", "parts of a step")
def parts_of_a_step(world: World) -> None:
    _not_in_use(world, [world.one_step("Bleach", "Hartshorn"), *world.steps()], "In one step")


@through("page", "carried on the pane")
def carried_on_the_pane(world: World) -> None:
    for first, second in (("Bleach", "Hartshorn"), ("Liver", "Muriatic acid")):
        _not_in_use(world, [world.one_step(first), world.one_step(second)], "There is no full rinse between")


@through("page", "not collected")
def not_collected(world: World) -> None:
    steps = world.steps()
    steps[3]["rinse_collected"] = False
    _not_in_use(world, steps, "is not collected in this rinse")
    rinsing_itself = world.steps()
    rinsing_itself[2] |= {"rinse_full": True, "rinse_water": "distilled"}
    _not_in_use(world, rinsing_itself, "is not collected in this rinse")


@through("page", "never made safe")
def never_made_safe(world: World) -> None:
    _not_in_use(world, [step for step in world.steps() if step["kind"] != "make safe"], "No step makes the ammoniacal")


@through("page", "stands too long")
def stands_too_long(world: World) -> None:
    long = world.steps()
    long[2]["dwell_minutes"] = Decimal(121)
    _not_in_use(world, long, "longer than 120 minutes")
    in_several = world.steps()
    in_several[2]["dwell_minutes"] = Decimal(100)
    in_several.insert(3, {"kind": "silver", "how": "pour", "dwell_minutes": Decimal(100), "parts": [
        {"solution_version": world.shop.reducer, "mixed_for": "load"}]})
    _not_in_use(world, in_several, "longer than 120 minutes")
    House.objects.update(ammoniacal_limit_minutes=30)
    under_the_house = world.steps()
    under_the_house[2]["dwell_minutes"] = Decimal(31)
    _not_in_use(world, under_the_house, "longer than 30 minutes")


@through("page", "no procedure")
def no_procedure(world: World) -> None:
    House.objects.update(making_safe_procedure=" ")
    _not_in_use(world, world.steps(), "Write the studio's making-safe procedure first")


@through("page", "procedure emptied")
def procedure_emptied(world: World) -> None:
    house = House.objects.get()
    sent = {"name": house.name, "time_zone": "UTC", "paper": "A4", "units": "metric", "saves": house.saves}
    assert "do not leave it empty" in world.post("/studio/safety/", **sent, making_safe_procedure=" ")
    assert House.objects.get().making_safe_procedure.strip()


@through("page", "run ended")
def run_ended(world: World) -> None:
    run = world.standing_run()
    assert STANDS in world.post(f"/bench/{run.pk}/finish/")
    assert Run.objects.get(pk=run.pk).finished_at is None
    assert len(world.standing(run)) == 1


@through("page", "job cancelled")
def job_cancelled(world: World) -> None:
    run = world.standing_run()
    job = run.ticket.job
    world.post(f"/jobs/{job.number}/cancel/", saves=Job.objects.get(pk=job.pk).saves)
    assert Job.objects.get(pk=job.pk).state != "cancelled"
    assert len(world.standing(run)) == 1


@through("page", "trial closed")
def trial_closed(world: World) -> None:
    trial = world.trial()
    world.start(trial)
    trial.refresh_from_db()
    said = world.post(f"/finishes/trials/{trial.number}/close/", verdict="liked", score="7", saves=trial.saves)
    assert "Record that what still stands was made safe" in said
    assert Trial.objects.get(pk=trial.pk).closed_at is None


@through("page", "tried against a stop")
def tried_against_a_stop(world: World) -> None:
    draft = world.draft([step for step in world.steps() if step["kind"] != "make safe"])
    page = f"/finishes/{draft.finish.code}/1/try/"
    sent = fields_of(world.client().get(page).content.decode(), "try")
    assert "With ammoniacal silver nobody tries" in world.post(page, **{**sent, "question": "Does it hold?"})
    assert not Trial.objects.exists()


@through("page", "making safe of others")
def making_safe_of_others(world: World) -> None:
    run, other = world.standing_run(), world.standing_run()
    [mine], [theirs] = world.standing(run), world.standing(other)
    sent = {"treated": builders.SPRAYED_SAFE, "procedure": "1"}
    world.post(f"/bench/{run.pk}/made-safe/", clocks=[mine.pk, theirs.pk], **sent)
    assert world.standing(run) == [mine]
    world.post(f"/bench/{run.pk}/made-safe/", clocks=[mine.pk], **sent)
    assert SilverClock.objects.get(pk=mine.pk).made_safe is not None
    assert world.standing(other) == [theirs]


@through("page", "leftover of a bath")
def leftover_of_a_bath(world: World) -> None:
    mix = world.mix_named(world.finished, "Silver part").mix
    world.post(f"/bench/{world.finished.pk}/leftover/", mix=mix.key, volume="10 mL")
    assert not world.finished.kept_leftovers.exists()


@through("page", "leftover longer")
def leftover_longer(world: World) -> None:
    mix = world.mix_named(world.finished, "Reducer").mix
    sent = {"mix": mix.key, "volume": "10 mL"}
    world.post(f"/bench/{world.finished.pk}/leftover/", **sent)
    kept = world.finished.kept_leftovers.get().lot
    assert kept.discard_at == kept.made_at + timedelta(days=1)
    assert kept.made_at <= world.finished.finished_at
    with pretend(now() + timedelta(days=2)):
        assert "was to be discarded by" in world.post(f"/bench/{world.finished.pk}/leftover/", **sent)
    assert world.finished.kept_leftovers.count() == 1


@through("page", "leftover too much")
def leftover_too_much(world: World) -> None:
    mix = world.mix_named(world.finished, "Reducer").mix
    page, half = f"/bench/{world.finished.pk}/leftover/", f"{round(mix.volume_ml * 6 / 10)} mL"
    world.post(page, mix=mix.key, volume=half)
    assert "More than was mixed" in world.post(page, mix=mix.key, volume=half)
    assert world.finished.kept_leftovers.count() == 1


@through("page", "made here, delivered")
def made_here_delivered(world: World) -> None:
    material = world.mixed_ahead(world.stock).material
    sent = {"lot_number": "X1", "amount": "5 mL", "cost_with_carriage": "1", "received_on": today().isoformat()}
    assert "never from a delivery" in world.post(f"/stockroom/{material.code}/receive/", **sent)
    assert material.lots.count() == 1


@through("page", "label printed again")
def label_printed_again(world: World) -> None:
    lot = world.mixed_ahead(world.stock)
    page, printed = f"/finishes/solutions/sugar-stock/1/label.pdf?lot={lot.pk}", []
    for later in (0, 60):
        with pretend(now() + timedelta(minutes=later)):
            pdf = PdfReader(BytesIO(world.client().get(page).content))
            printed.append(pdf.pages[0].extract_text())
    assert lot.until in " ".join(printed[0].split())
    assert printed[0] == printed[1]


@through("page", "waste told otherwise")
def waste_told_otherwise(world: World) -> None:
    run = world.standing_run()
    said = world.post(f"/stockroom/waste/{world.drum.pk}/put-in/", what="clear water", volume="1 L",
                      source=world.source(run), made_safe="on", agents=["water"])
    assert "was not made safe yet" in said
    assert not world.drum.entries.exists()


@through("page", "waste not taken")
def waste_not_taken(world: World) -> None:
    type(world.drum).objects.update(takes=["acid"])
    said = world.post(f"/stockroom/waste/{world.drum.pk}/put-in/", what="polish", volume="1 L", agents=["abrasive"])
    assert "it does not take polish or abrasive" in said
    assert not world.drum.entries.exists()


@through("page", "waste too much")
def waste_too_much(world: World) -> None:
    type(world.drum).objects.update(holds_most_ml=500)
    said = world.post(f"/stockroom/waste/{world.drum.pk}/put-in/", what="rinse", volume="501 mL")
    assert "may hold 500 mL" in said
    assert not world.drum.entries.exists()


@through("page", "waste silver")
def waste_silver(world: World) -> None:
    said = world.post(f"/stockroom/waste/{world.drum.pk}/put-in/", what="rinse", volume="1 L", silver="400",
                      source=world.source(world.finished))
    assert "g of silver at most" in said
    assert not world.drum.entries.exists()


@through("page", "stored beside")
def stored_beside(world: World) -> None:
    Material.objects.filter(name="Hartshorn").update(storage_place="Low shelf")
    assert "chloramine" in _material(world, "Bleach", storage_place="low shelf")
    assert not Material.objects.get(name="Bleach").storage_place


@through("table", "made here, delivered")
def made_here_pasted(world: World) -> None:
    material = world.mixed_ahead(world.stock).material
    sent = {"supplier": "Quay", "received_on": today().isoformat(), "share_by": "value",
            "table": f"{material.name},X1,5 mL,1\n"}
    assert "never from a delivery" in world.post("/stockroom/receive/", **sent)
    assert material.lots.count() == 1


@through("table", "stored beside")
def stored_beside_pasted(world: World) -> None:
    Material.objects.filter(name="Hartshorn").update(storage_place="Low shelf")
    fresh = builders.material("Laundry bleach", "mL", cas_number="7681-52-9", storage_place="low shelf")
    sent = {"supplier": "Quay", "received_on": today().isoformat(), "share_by": "value",
            "table": "Laundry bleach,B1,1 L,9\n"}
    assert "chloramine" in world.post("/stockroom/receive/", **sent)
    assert not fresh.lots.exists()


