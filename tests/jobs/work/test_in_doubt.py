"""The truth about a material, entered late: lots are held, versions and tickets in doubt, and what is open can finish."""

from __future__ import annotations

from fractions import Fraction

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from jobs.quotes.quoting import decide, mark_sent, save_quote
from jobs.work.booking import book_job
from jobs.work.finishing import finish_run
from jobs.work.ticketing import make_ticket
from recipes.finishes.in_doubt import InDoubt, versions_in_doubt
from recipes.solutions.holding import make_lot_safe
from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import today
from studio.house.models import House
from studio.stockroom.ledger import LedgerError
from studio.stockroom.lots.keeping import hold_lot, release_lot
from studio.stockroom.materials import save_material
from studio.stockroom.models import Lot, LotEvent, Material
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


def spoil(workshop, *classes: str, by=None):
    """Enter that the sealer of every recipe reacts as something that no step may hold."""
    workshop.sealer.refresh_from_db()
    workshop.sealer.reacts_as = list(classes)
    return save_material(workshop.sealer, by=by, why_taken_away="the sheet was another product's")


def kept_sugar(owner):
    """A kept mix of silver and an odd sugar, mixed ahead."""
    silver = builders.material("Lunar salt", reacts_as=["silver_salt"])
    odd, water = builders.material("Odd sugar", none_apply=True), builders.material("Plain water", "mL", kind="water")
    kept = builders.solution("Kept", {"material": silver, "amount": 5, "unit": "g"}, {"material": odd, "amount": 5, "unit": "g"},
                             {"material": water})
    nested = builders.solution("Around it", {"nested": kept, "amount": 100}, {"material": water})
    for row in (silver, odd, water):
        builders.lot(row, "5000", owner)
    lots = [mix_ahead(key=builders.key(), by=owner, version=version, volume_ml=Fraction(500), day=today()) for version in (kept, nested)]
    return odd, lots


def test_lots_that_became_ammoniacal_are_held_at_once_and_only_leave(workshop, owner, at_owner):
    odd, lots = kept_sugar(owner)
    sent = {"name": "Odd sugar", "kind": "chemical", "stock_unit": "g", "saves": odd.saves, "reacts_as": ["ammonia"]}
    page = at_owner.post("/stockroom/odd-sugar/edit/", sent, follow=True).content.decode()
    for lot in lots:
        lot.refresh_from_db()
        assert lot.is_held
        assert "ammoniacal silver" in lot.hold_reason
        assert LotEvent.objects.get(lot=lot).by == owner
        assert f"lot {lot.lot_number} was mixed of" in page
        with pytest.raises(LedgerError, match="stays held: It holds ammoniacal silver"):
            release_lot(key=builders.key(), lot=lot, by=owner, why="it looks fine")
        make_lot_safe(key=builders.key(), lot=lot, by=owner, procedure="1", treated=["leftovers"])
    assert "it is held" in page
    assert not [sentence for sentence in audit() if "is not held" in sentence]


def test_a_material_that_is_cleared_again_lets_its_lots_go(owner, workshop):
    odd, (lot, _) = kept_sugar(owner)
    odd.reacts_as = ["ammonia"]
    save_material(odd)
    odd.refresh_from_db()
    odd.reacts_as, odd.none_apply = [], True
    save_material(odd, why_taken_away="the sheet was another product's")
    lot.refresh_from_db()
    assert lot.is_held  # nobody looked at it yet
    release_lot(key=builders.key(), lot=lot, by=owner, why="the sheet was another product's")
    lot.refresh_from_db()
    assert not lot.is_held


def test_a_lot_somebody_holds_keeps_its_own_reason_and_other_lots_are_left(owner, workshop):
    odd, (lot, _) = kept_sugar(owner)
    hold_lot(key=builders.key(), lot=lot, by=owner, why="cloudy")
    odd.reacts_as = ["ammonia"]
    save_material(odd)
    lot.refresh_from_db()
    assert lot.hold_reason == "cloudy"
    assert not Lot.objects.filter(made=None, state="held").exists()


def test_the_audit_finds_a_lot_that_was_let_go_behind_its_back(owner, workshop):
    odd, (lot, _) = kept_sugar(owner)
    Material.objects.filter(pk=odd.pk).update(reacts_as=["ammonia"])
    assert any(f"{lot} is not held" in sentence for sentence in audit())


def test_a_version_in_doubt_is_not_quoted_booked_or_printed_until_it_is_sound(workshop, owner):
    order, booked = workshop.order(), workshop.booked()
    accepted = workshop.order()
    quote = save_quote(order=accepted, by=owner, form_key=builders.key())
    mark_sent(quote)
    decide(quote=quote, accepted=True)
    spoil(workshop, "fluoride")
    doubt = r"Plain silver, version 1, is in doubt: step \d+"
    with pytest.raises(InDoubt, match=doubt):
        save_quote(order=order, by=owner, form_key=builders.key())
    booking = {"by": owner, "sample_approved": True, "deposit_noted": True, "waived_because": "", "due_on": None}
    with pytest.raises(InDoubt, match=doubt):
        book_job(job=accepted.job, **booking)
    with pytest.raises(InDoubt, match=doubt):
        make_ticket(job=booked, by=owner)
    spoil(workshop, "flammable")
    assert versions_in_doubt() == []
    save_quote(order=order, by=owner, form_key=builders.key())
    book_job(job=accepted.job, **booking)
    assert make_ticket(job=booked, by=owner).run.is_open


def test_an_open_run_says_so_and_is_recorded_and_finished(workshop, owner, at_owner):
    run = workshop.run()
    spoil(workshop, "fluoride")
    assert make_ticket(job=run.ticket.job, by=owner) == run.ticket  # the one that is open stays
    assert "is in doubt: step" in at_owner.get(f"/bench/{run.pk}/").content.decode()
    builders.worked(run, owner)
    finish_run(run=run, by=owner)
    run.refresh_from_db()
    assert run.finished_at is not None


def test_the_pages_name_it(workshop, owner, at_owner, at_helper):
    run = workshop.run()
    sealer = workshop.sealer
    sent = {"name": sealer.name, "kind": sealer.kind, "stock_unit": sealer.stock_unit, "saves": sealer.saves, "liquid": "on",
            "reacts_as": ["fluoride"]}
    said = at_owner.post(f"/stockroom/{sealer.code}/edit/", sent, follow=True).content.decode()
    assert f"of job {run.ticket.job.number} is open and in doubt: record and finish it" in said
    for page in (at_helper.get("/"), at_helper.get("/finishes/plain-silver/1/")):
        assert "Plain silver, version 1, is in doubt" in page.content.decode()
    assert "is open and in doubt" in " ".join(at_helper.get("/").content.decode().split())
    refused = at_owner.post(f"/jobs/{run.ticket.job.number}/quote/", {"key": builders.key()})
    assert refused.status_code < 500


def test_today_asks_no_more_for_more_versions_in_doubt(workshop, owner, at_owner):
    workshop.run()
    for number in range(2):
        builders.put_version_in_use(builders.recipe(f"Finish {number}", workshop.steps()), owner)
    spoil(workshop, "fluoride")
    def asked():
        with CaptureQueriesContext(connection) as queries:
            at_owner.get("/")
        return len(queries)

    asked()
    few = asked()
    spoil(workshop, "flammable")
    for number in range(2, 8):
        builders.put_version_in_use(builders.recipe(f"Finish {number}", workshop.steps()), owner)
    spoil(workshop, "fluoride")
    assert len(versions_in_doubt()) == 9
    assert asked() == few


@pytest.mark.parametrize("identity", [
    {"cas_number": "7761-88-8", "reacts_as": ["ammonia"]}, {"formula": "AgNO3", "reacts_as": ["ammonium", "caustic"]},
    {"silver_g_per_unit": "0.1", "reacts_as": ["ammonium_nitrate", "caustic_solid"]}, {"reacts_as": ["silver_chloride", "ammonia"]},
])
def test_the_database_itself_knows_identity(db, identity):
    """Written past every form, a lot of the bottle is refused: by what it is, not only by what was ticked."""
    Material(name="Bath", kind="chemical", stock_unit="mL", liquid=True, **identity).save()
    Material.objects.bulk_create([Material(name="Tub", code="tub", kind="chemical", stock_unit="mL", liquid=True, **identity)])
    for bottle in Material.objects.all():
        with pytest.raises(IntegrityError, match="never stored"), transaction.atomic():
            Lot.objects.create(material=bottle, lot_number="B1", received_on=today(), quantity_received=1)


def test_classes_are_kept_in_step_and_the_audit_finds_it_where_not(db):
    row = builders.material("Bleach", "mL", cas_number="7681-52-9")
    assert {"hypochlorite", "caustic", "oxidiser"} <= set(Material.objects.get(pk=row.pk).classes)
    row.cas_number = "7647-14-5"
    row.save(update_fields=["cas_number"])
    assert Material.objects.get(pk=row.pk).classes == ["chloride"]
    Material.objects.filter(pk=row.pk).update(classes=[])
    assert "Bleach is kept with other classes than its identity and its owner tell: save it again." in audit()


def test_a_lower_limit_puts_in_doubt_what_dwells_past_it_and_says_which(workshop, owner, at_owner):
    """Given silver that dwells 90 minutes, when the studio lets it stand 60, then its version makes nothing new."""
    steps = workshop.steps()
    steps[2]["dwell_minutes"] = 90
    slow = builders.put_version_in_use(builders.recipe("Slow silver", steps), owner)
    job = workshop.booked(workshop.line(recipe_version_id=slow.pk))
    assert versions_in_doubt() == []
    house = House.objects.get()
    sent = {"name": house.name, "time_zone": "UTC", "paper": "A4", "units": "metric",
            "making_safe_procedure": house.making_safe_procedure}
    same = at_owner.post("/studio/safety/", {**sent, "ammoniacal_limit_minutes": "100", "saves": house.saves}, follow=True)
    assert "Slow silver" not in same.content.decode()
    house.refresh_from_db()
    page = at_owner.post("/studio/safety/", {**sent, "ammoniacal_limit_minutes": "60", "saves": house.saves}, follow=True)
    assert "Slow silver, version 1 is in use and in doubt: step 3" in page.content.decode()
    assert "longer than 60 minutes" in page.content.decode()
    assert [version for version, _ in versions_in_doubt()] == [slow]
    with pytest.raises(InDoubt, match="longer than 60 minutes"):
        make_ticket(job=job, by=owner)
    assert "Slow silver" in at_owner.get("/").content.decode()
