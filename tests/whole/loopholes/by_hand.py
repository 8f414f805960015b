"""What two people do to each other, and what somebody writes into the database past the program."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from jobs.models import Job, KeptLeftover, Run, RunClock
from jobs.work.finishing import finish_run
from recipes.models import Ingredient, MadeLot, SilverClock, SolutionVersion, Step, Trial
from studio.house.clock import now, today
from studio.house.models import House
from studio.stockroom.models import Lot, Material, Posting, StockMovement, WasteContainer, WasteEntry
from tests import builders
from tests.recipes.finishes.test_authoring import fields_of
from tests.whole.loopholes.by_page import NEVER, NEW, STANDS
from tests.whole.loopholes.table import through
from tests.whole.loopholes.world import World

MEANWHILE = "Somebody else changed this meanwhile"


def _saves(row: Any) -> int:
    return int(type(row).objects.get(pk=row.pk).saves)


def _classed(world: World, bottle: str, **more: Any) -> None:
    """Somebody else enters what a bottle is."""
    row = Material.objects.get(pk=world.bottles[bottle].pk)
    sent = {"name": row.name, "kind": row.kind, "stock_unit": row.stock_unit, "saves": row.saves,
            **({"liquid": "on"} if row.liquid else {}), "cas_number": row.cas_number, **more}
    assert "is saved" in world.post(f"/stockroom/{row.code}/edit/", **sent)


@through("two people", "kept")
def kept(world: World) -> None:
    """One types a mix of silver and a powder, and sends it after another entered that the powder is ammonia."""
    mix = world.typed("Odd silver", world.bottles["Lunar salt"], world.bottles["Unread powder"], keeps_minutes="1 day")
    _classed(world, "Unread powder", reacts_as=["ammonia"])
    assert NEVER in world.post(NEW, **mix)


@through("two people", "made ahead")
def made_ahead(world: World) -> None:
    _classed(world, "Unread powder", none_apply="on")
    odd = builders.solution("Odd silver", *world.doses("Lunar salt", "Unread powder"))
    _classed(world, "Unread powder", reacts_as=["ammonia"])
    assert NEVER in world.post("/finishes/solutions/odd-silver/1/mix-ahead/", volume="100 mL")
    assert not Lot.objects.filter(made__solution_version=odd).exists()


@through("two people", "a newer version")
def a_newer_version(world: World) -> None:
    """One opens the next version; another adds ammonia, used at once; the first sends the keeping time."""
    draft = builders.solution("Next stock", *world.doses("Lunar salt"), keeps_minutes=None)
    opened = draft.saves
    page, both = "/finishes/solutions/next-stock/1/edit/", [world.bottles[name] for name in ("Lunar salt", "Hartshorn")]
    sent = world.typed("Next stock", *both) | {"in-INITIAL_FORMS": 2}
    assert "is saved" in world.post(page, **sent, saves=opened)
    mine = world.typed("Next stock", both[0], keeps_minutes="1 day") | {"in-INITIAL_FORMS": 2}
    assert MEANWHILE in world.post(page, **mine, saves=opened)
    assert SolutionVersion.objects.get(pk=draft.pk).keeps_minutes is None


@through("two people", "a frozen version")
def a_frozen_version(world: World) -> None:
    opened = world.plain.saves
    world.mixed_ahead(world.plain)
    sent = world.typed("Plain silver stock", world.bottles["Lunar salt"], world.bottles["Hartshorn"])
    assert "is frozen" in world.post("/finishes/solutions/plain-silver-stock/1/edit/", **sent, saves=opened)
    assert world.plain.ingredients.count() == 2


@through("two people", "class taken away")
def class_taken_away(world: World) -> None:
    """One has the powder open as unknown and says that none apply; meanwhile another entered its number."""
    row = world.bottles["Unread powder"]
    _classed(world, "Unread powder", cas_number="6484-52-2")
    sent = {"name": row.name, "kind": "chemical", "stock_unit": "g", "none_apply": "on"}
    page = f"/stockroom/{row.code}/edit/"
    assert MEANWHILE in world.post(page, **sent, saves=row.saves)
    world.post(page, **sent, saves=_saves(row))
    assert "ammonium" in Material.objects.get(pk=row.pk).known_classes


@through("two people", "identity cleared")
def identity_cleared(world: World) -> None:
    row = world.bottles["Hartshorn"]
    _classed(world, "Hartshorn", density_g_per_ml="0.9")
    sent = {"name": row.name, "kind": "chemical", "stock_unit": "mL", "liquid": "on", "cas_number": ""}
    assert MEANWHILE in world.post(f"/stockroom/{row.code}/edit/", **sent, saves=row.saves)
    assert Material.objects.get(pk=row.pk).cas_number == row.cas_number


@through("two people", "unclassed kept")
def unclassed_kept(world: World) -> None:
    _classed(world, "Unread powder", none_apply="on")
    builders.solution("Powder stock", *world.doses("Unread powder"))
    _classed(world, "Unread powder")  # it was another product's sheet
    assert "Unread powder" in world.post("/finishes/solutions/powder-stock/1/mix-ahead/", volume="100 mL")
    assert not Lot.objects.filter(material__name="Powder stock").exists()


def _changed_under_the_page(world: World, steps: list[dict[str, Any]], change: Callable[[Any], object], said: str) -> None:
    """One looks at a sound draft; another changes it; the first presses “put in use”."""
    draft = world.draft(steps)
    change(draft)
    assert said in world.put_in_use(draft)
    assert not world.in_use(draft)


@through("two people", "unclassed in use")
def unclassed_in_use(world: World) -> None:
    _classed(world, "Unread powder", none_apply="on")
    steps = [world.one_step("Unread powder"), {"kind": "rinse", "rinse_full": True}, *world.steps()]
    _changed_under_the_page(world, steps, lambda _: _classed(world, "Unread powder"), "nobody has said what")


@through("two people", "parts of a step")
def parts_of_a_step(world: World) -> None:
    _classed(world, "Unread powder", none_apply="on")
    steps = [world.one_step("Unread powder", "Bleach"), {"kind": "rinse", "rinse_full": True}, *world.steps()]
    _changed_under_the_page(
        world, steps, lambda _: _classed(world, "Unread powder", reacts_as=["ammonia"]), "In one step")


@through("two people", "carried on the pane")
def carried_on_the_pane(world: World) -> None:
    steps = [world.one_step("Bleach"), {"kind": "rinse", "rinse_full": True}, world.one_step("Hartshorn")]
    _changed_under_the_page(world, steps, lambda draft: draft.steps.filter(kind="rinse").update(rinse_full=False),
                            "There is no full rinse between")


@through("two people", "not collected")
def not_collected(world: World) -> None:
    _changed_under_the_page(world, world.steps(), lambda draft: draft.steps.update(rinse_collected=False),
                            "is not collected in this rinse")


@through("two people", "never made safe")
def never_made_safe(world: World) -> None:
    _changed_under_the_page(world, world.steps(), lambda draft: draft.steps.filter(kind="make safe").delete(),
                            "No step makes the ammoniacal")


@through("two people", "stands too long")
def stands_too_long(world: World) -> None:
    _changed_under_the_page(world, world.steps(), lambda _: House.objects.update(ammoniacal_limit_minutes=1),
                            "longer than 1 minutes")


@through("two people", "no procedure")
def no_procedure(world: World) -> None:
    _changed_under_the_page(world, world.steps(), lambda _: House.objects.update(making_safe_procedure=""),
                            "making-safe procedure first")


@through("two people", "procedure emptied")
def procedure_emptied(world: World) -> None:
    """One has the settings open from when there was none; another writes it and puts a recipe in use."""
    house = House.objects.get()
    sent = {"name": house.name, "time_zone": "UTC", "paper": "A4", "units": "metric"}
    world.post("/studio/safety/", **sent, saves=house.saves, making_safe_procedure="Procedure 2: salt, then acid, by the sink.")
    assert MEANWHILE in world.post("/studio/safety/", **sent, saves=house.saves, making_safe_procedure="")
    assert "do not leave it empty" in world.post("/studio/safety/", **sent, saves=_saves(house), making_safe_procedure="")
    assert House.objects.get().making_safe_procedure == "Procedure 2: salt, then acid, by the sink."


@through("two people", "run ended")
def run_ended(world: World) -> None:
    """One has a run open that is safe; another mixes again; the first presses “finish”."""
    run = world.standing_run(safe=True)
    world.mix(run)
    assert STANDS in world.post(f"/bench/{run.pk}/finish/")
    assert Run.objects.get(pk=run.pk).finished_at is None


@through("two people", "job cancelled")
def job_cancelled(world: World) -> None:
    run = world.shop.run()
    job, opened = run.ticket.job, _saves(run.ticket.job)
    world.mix(run)
    world.post(f"/jobs/{job.number}/cancel/", saves=opened)
    assert Job.objects.get(pk=job.pk).state == "on the bench"


@through("two people", "trial closed")
def trial_closed(world: World) -> None:
    trial = world.trial()
    trial.refresh_from_db()
    opened = trial.saves
    world.start(trial)
    world.post(f"/finishes/trials/{trial.number}/close/", verdict="liked", score="7", saves=opened)
    assert Trial.objects.get(pk=trial.pk).closed_at is None


@through("two people", "tried against a stop")
def tried_against_a_stop(world: World) -> None:
    draft = world.draft(world.steps())
    page = f"/finishes/{draft.finish.code}/1/try/"
    sent = fields_of(world.client().get(page).content.decode(), "try")
    Step.objects.filter(recipe_version=draft, kind="make safe").delete()
    assert "nobody tries against that" in world.post(page, **sent)
    assert not Trial.objects.exists()


@through("two people", "making safe of others")
def making_safe_of_others(world: World) -> None:
    """One ticks the mix that stands; meanwhile another mixes for another run."""
    run = world.standing_run()
    [ticked], other = world.standing(run), world.standing_run()
    world.post(f"/bench/{run.pk}/made-safe/", clocks=[ticked.pk], treated=builders.SPRAYED_SAFE, procedure="1")
    assert not world.standing(run)
    assert len(world.standing(other)) == 1
    again = world.post(f"/bench/{run.pk}/made-safe/", clocks=[ticked.pk], treated=builders.SPRAYED_SAFE, procedure="2")
    assert "already" in again


@through("two people", "leftover of a bath")
def leftover_of_a_bath(world: World) -> None:
    """One has the leftover's form open; another enters that the sugar was ammonia and silver after all."""
    mix = world.mix_named(world.finished, "Reducer").mix
    Material.objects.filter(pk=world.shop.sugar.pk).update(reacts_as=["ammonia"])
    world.shop.water.refresh_from_db()
    Material.objects.filter(pk=world.shop.water.pk).update(reacts_as=["silver_salt"])
    assert "ammoniacal silver" in world.post(f"/bench/{world.finished.pk}/leftover/", mix=mix.key, volume="10 mL")
    assert not world.finished.kept_leftovers.exists()


@through("two people", "leftover longer")
def leftover_longer(world: World) -> None:
    """Kept twice, hours apart, both lots end with the mix."""
    mix, page = world.mix_named(world.finished, "Reducer").mix, f"/bench/{world.finished.pk}/leftover/"
    for _ in range(2):
        world.post(page, mix=mix.key, volume="10 mL")
    assert len({kept.lot.discard_at for kept in world.finished.kept_leftovers.all()}) == 1


@through("two people", "leftover too much")
def leftover_too_much(world: World) -> None:
    mix = world.mix_named(world.finished, "Reducer").mix
    page, all_of_it = f"/bench/{world.finished.pk}/leftover/", f"{int(mix.volume_ml)} mL"
    world.post(page, mix=mix.key, volume=all_of_it)
    world.post(page, mix=mix.key, volume=all_of_it)
    assert world.finished.kept_leftovers.count() == 1


@through("two people", "made here, delivered")
def made_here_delivered(world: World) -> None:
    """One has the delivery's form open for a bought reducer; another enters that it is made here."""
    bought = builders.material("Bought reducer", "mL", none_apply=True)
    Material.objects.filter(pk=bought.pk).update(kind="solution")
    sent = {"lot_number": "X1", "amount": "5 mL", "cost_with_carriage": "1", "received_on": today().isoformat()}
    assert "never from a delivery" in world.post(f"/stockroom/{bought.code}/receive/", **sent)
    assert not bought.lots.exists()


@through("two people", "waste too much")
def waste_too_much(world: World) -> None:
    WasteContainer.objects.update(holds_most_ml=500)
    for _ in range(2):
        said = world.post(f"/stockroom/waste/{world.drum.pk}/put-in/", what="rinse", volume="300 mL", agents=["water"])
    assert "200 mL more go in" in said
    assert world.drum.entries.count() == 1


@through("two people", "waste silver")
def waste_silver(world: World) -> None:
    sent = {"what": "rinse", "volume": "1 L", "silver": "0.1", "source": world.source(world.finished)}
    for _ in range(60):
        said = world.post(f"/stockroom/waste/{world.drum.pk}/put-in/", **sent)
        if "g of silver at most" in said:
            break
        sent["silver"] = str(Decimal(sent["silver"]) * 2)
    assert "g of silver at most" in said


@through("two people", "stored beside")
def stored_beside(world: World) -> None:
    row = world.bottles["Bleach"]
    Material.objects.filter(name="Hartshorn").update(storage_place="Low shelf")
    sent = {"name": row.name, "kind": "chemical", "stock_unit": "mL", "liquid": "on", "cas_number": row.cas_number}
    said = world.post(f"/stockroom/{row.code}/edit/", **sent, saves=row.saves, storage_place="low shelf")
    assert "chloramine" in said


# The database ---------------------------------------------------------------------------------------------------------

def _database_refuses(why: str, write: Callable[[], object]) -> None:
    with pytest.raises(IntegrityError, match=why), transaction.atomic():
        write()


@through("database", "class taken away")
def silver_and_ammonia_in_one_bottle(world: World) -> None:
    """Classes are written beside the material: no lot of ammoniacal silver is kept, whatever column is emptied."""
    salt = world.bottles["Lunar salt"]
    Material.objects.filter(pk=salt.pk).update(reacts_as=["ammonia"])
    _database_refuses("never stored", lambda: Lot.objects.create(
        material=salt, lot_number="B1", received_on=today(), quantity_received=1))


@through("database", "a frozen version")
def frozen_ingredients(world: World) -> None:
    world.mixed_ahead(world.plain)
    _database_refuses("stays as it was", lambda: Ingredient.objects.create(
        solution_version=world.plain, number=9, material=world.bottles["Hartshorn"], amount_per_litre=5, unit="mL"))


@through("database", "run ended")
def run_ended_by_hand(world: World) -> None:
    run = world.standing_run()
    ends = {"finished_at": now(), "finished_by": world.owner, "made_safe_at": now(), "made_safe_by": world.owner,
            "posting": Posting.objects.first()}
    _database_refuses("still stands", lambda: Run.objects.filter(pk=run.pk).update(**ends))
    _database_refuses("never deleted", lambda: SilverClock.objects.all()._raw_delete("default"))
    clock = SilverClock.objects.create(key=builders.key(), subject="m", what="bath", started_at=now(), noted_at=now(),
                                       noted_by=world.owner)
    _database_refuses("is finished", lambda: RunClock.objects.create(run=world.finished, clock=clock))


@through("database", "job cancelled")
def job_cancelled_by_hand(world: World) -> None:
    job = world.standing_run().ticket.job
    _database_refuses("does not go from that state|still stands", lambda: Job.objects.filter(pk=job.pk).update(
        state="cancelled", cancelled_because="the customer went away"))


@through("database", "trial closed")
def trial_closed_by_hand(world: World) -> None:
    trial = world.trial()
    world.start(trial)
    _database_refuses("still stands", lambda: Trial.objects.filter(pk=trial.pk).update(closed_at=now(), verdict="liked"))


@through("database", "making safe of others")
def a_clock_set_back_or_forward(world: World) -> None:
    run = world.standing_run()
    clock = SilverClock.objects.filter(pk=world.standing(run)[0].pk)
    _database_refuses("only stops", lambda: clock.update(started_at=now() + timedelta(hours=1)))
    builders.made_safe(run, world.owner)
    finish_run(run=run, by=world.owner)
    _database_refuses("only stops", lambda: clock.update(made_safe=None))


@through("database", "leftover too much")
def leftover_by_hand(world: World) -> None:
    _database_refuses("No more is kept", lambda: KeptLeftover.objects.create(
        run=world.finished, lot=world.shop.silver_lot, mix="m1b1", volume_ml=2, mixed_ml=1))


@through("database", "leftover longer")
def kept_on_by_hand(world: World) -> None:
    lot = world.mixed_ahead(world.stock)
    _database_refuses("does not change", lambda: Lot.objects.filter(pk=lot.pk).update(
        discard_at=lot.discard_at + timedelta(days=9)))
    _database_refuses("never edited|What a lot mixed here", lambda: MadeLot.objects.filter(lot=lot).update(
        solution_version=world.plain))


@through("database", "made here, delivered")
def delivered_by_hand(world: World) -> None:
    lot = world.mixed_ahead(world.stock)
    _database_refuses("never from a delivery", lambda: Lot.objects.create(
        material=lot.material, lot_number="X1", received_on=today(), quantity_received=1))
    _database_refuses("never from a delivery", lambda: StockMovement.objects.create(
        posting=lot.movements.get().posting, line=9, lot=lot, kind="receipt", quantity=1, unit_cost=0))


@through("database", "waste told otherwise")
def ammoniacal_waste_by_hand(world: World) -> None:
    _database_refuses("made safe", lambda: WasteEntry.objects.create(
        container=world.drum, key=builders.key(), at=now(), by=world.owner, what="water",
        reacts_as=["silver_salt", "ammonia"]))


@through("database", "waste too much")
def too_much_waste_by_hand(world: World) -> None:
    WasteContainer.objects.update(holds_most_ml=5)
    _database_refuses("no more than it may", lambda: WasteEntry.objects.create(
        container=world.drum, key=builders.key(), at=now(), by=world.owner, what="rinse", volume_ml=6))


@through("database", "never made safe")
def steps_of_a_recipe_in_use(world: World) -> None:
    """What was put in use sound stays so."""
    draft = world.draft(world.steps())
    assert "is in use" in world.put_in_use(draft)
    _database_refuses("is frozen", lambda: draft.steps.filter(kind="make safe")._raw_delete("default"))


