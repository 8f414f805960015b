"""Waste is told by its source: its classes, whether it was made safe, and how much silver it can hold."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from jobs.work.bench import bench_state, note
from jobs.work.finishing import finish_run
from jobs.work.kept import keep_leftover_of
from jobs.work.silver import silver_of_runs
from recipes.solutions.mixing_ahead import mix_ahead
from recipes.trials.conducting import Taken, make_trial_safe, start_trial_clock, take_stock
from studio.house.clock import now, today
from studio.kit import database_rules
from studio.stockroom.lots.keeping import discard
from studio.stockroom.models import Material, WasteContainer, WasteEntry
from studio.stockroom.waste.containers import WasteRefused, contents, put_in
from studio.stockroom.waste.sources import find_source, lock_source, recent_sources
from studio.whole.audit import audit
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def drum(db):
    return WasteContainer.objects.create(name="S-1", meant_for="silver-bearing rinse", opened_on=today())


def put(drum, owner, *agents, **more):
    return put_in(**{"key": builders.key(), "container": drum, "by": owner, "what": "first rinse", "agents": agents,
                     "volume_ml": Decimal(100), **more})


def safe_trial(trial, owner):
    """Make safe what a trial mixed, or mixes now."""
    start_trial_clock(key=builders.key(), trial=trial, by=owner, subject="s3p1")
    return make_trial_safe(key=builders.key(), trial=trial, by=owner, clocks=[trial.clocks.get().pk], procedure="1",
                           treated=["leftovers", "first rinse", "guns", "hoses", "nozzles"])


def name_of(run):
    return f"run {run.ticket.job.number}/{run.ticket.number}"


def test_a_first_rinse_is_ammoniacal_until_its_run_was_made_safe(shop, owner, drum):
    run = builders.worked(shop.run(), owner, safe=False)
    for ticked in ((), ("silver_salt",)):
        with pytest.raises(WasteRefused, match="was not made safe yet"):
            put(drum, owner, *ticked, source=name_of(run))
    builders.made_safe(run, owner)
    entry = put(drum, owner, "iron", source=name_of(run))
    assert entry.made_safe
    assert {"silver_salt", "ammonia", "reducer", "iron"} <= set(entry.reacts_as), "ticked is added, never fewer"


def test_by_page_the_source_tells_the_classes(at_helper, shop, owner, drum):
    run = builders.worked(shop.run(), owner, safe=False)
    page = at_helper.get(f"/stockroom/waste/{drum.pk}/?source={name_of(run)}").content.decode()
    assert f'<option value="{name_of(run)}" selected>' in page
    sent = {"what": "First rinse", "volume": "1 L", "source": name_of(run), "made_safe": "on", "ph": "7.5"}
    answer = at_helper.post(f"/stockroom/waste/{drum.pk}/put-in/", {**sent, "key": builders.key()})
    assert answer.status_code == 422
    assert "was not made safe yet" in answer.content.decode()
    builders.made_safe(run, owner)
    finish_run(run=run, by=owner)
    assert at_helper.post(f"/stockroom/waste/{drum.pk}/put-in/", {**sent, "key": builders.key()}).status_code == 302
    page = at_helper.get(f"/stockroom/waste/{drum.pk}/").content.decode()
    assert re.search(r"It holds: [^<]*ammonia[^<]*reducer[^<]*silver salt", page)
    assert "pH 7.5" in page
    assert f"from {name_of(run)}" in page


def test_one_silvering_bath_after_another_goes_into_one_drum(shop, owner, drum):
    """Silver nitrate by its number is an oxidiser, dextrose a sugar: in a rinse they have met; by hand they stop."""
    shop.silver.cas_number, shop.sugar.cas_number = "7761-88-8", "50-99-7"
    shop.silver.save()
    shop.sugar.save()
    for _ in range(2):
        run = builders.worked(shop.run(), owner)
        finish_run(run=run, by=owner)
        put(drum, owner, source=name_of(run))
    held = contents(drum.entries.all())
    assert {"oxidiser", "sugar", "ammonia"} <= held.agents
    assert "oxidiser and reducer" in [pair.name for pair in held.cautions]
    assert audit() == []
    with pytest.raises(WasteRefused, match="oxidiser and reducer"):
        put(drum, owner, "permanganate")
    with pytest.raises(WasteRefused, match="must not meet"):
        put(drum, owner, "hypochlorite")


def test_what_a_form_offers_is_asked_of_many_runs_at_once(shop, owner):
    def asked():
        with CaptureQueriesContext(connection) as seen:
            offered = dict(recent_sources())
        return len(seen), offered

    done, waiting = builders.worked(shop.run(), owner), shop.run()
    few, offered = asked()
    assert {name_of(done), name_of(waiting)} <= offered.keys()
    assert f"{name_of(waiting)} reducer/1" in offered  # it holds no silver
    assert not any("silver-part" in name for name in offered)
    # what was not known to be silver when the ticket was printed is not offered by itself any more, of what goes on
    Material.objects.filter(pk=shop.sugar.pk).update(reacts_as=["reducer", "silver_salt"])
    later = asked()[1]
    assert f"{name_of(waiting)} reducer/1" not in later
    for _ in range(3):
        shop.run()
    assert asked()[0] == few


def test_a_trial_and_a_discarded_lot_tell_as_well(shop, owner, drum):
    trial = builders.trial(shop.recipe, owner)
    take_stock(key=builders.key(), trial=trial, by=owner, day=today(), taken=[Taken(lot=shop.silver_lot, amount=Decimal(10))])
    with pytest.raises(WasteRefused, match="was not made safe yet"):
        put(drum, owner, source=f"trial {trial.number}")
    safe_trial(trial, owner)
    entry = put(drum, owner, source=f"trial {trial.number}", silver_g=Decimal("6.35"))
    assert {"silver_salt", "ammonia"} <= set(entry.reacts_as)
    with pytest.raises(WasteRefused, match=r"can have left 0 g of silver at most, not 0\.001 g"):
        put(drum, owner, source=f"trial {trial.number}", silver_g=Decimal("0.001"))
    posting = discard(key=builders.key(), lot=shop.lots[1], by=owner, amount=Decimal(10), why="old")
    with pytest.raises(WasteRefused, match="With what lies in there it would be ammoniacal silver"):
        put(drum, owner, posting=posting)
    other = WasteContainer.objects.create(name="B-1", meant_for="ammonia", opened_on=today())
    assert put(other, owner, posting=posting).reacts_as == ["ammonia"]
    with pytest.raises(WasteRefused, match="can have left 0 g"):
        put(other, owner, posting=posting, silver_g=Decimal(1))


def test_a_lot_made_here_is_discarded_as_what_is_in_it(shop, owner, drum):
    """12 g/L of silver nitrate with 0.63499 g of silver in a gram: 100 mL hold 0.762 g."""
    stock = builders.solution("Silver stock", {"material": shop.silver, "amount": 12, "unit": "g"}, {"material": shop.water})
    lot = mix_ahead(key=builders.key(), by=owner, version=stock, volume_ml=Fraction(500), day=today())
    posting = discard(key=builders.key(), lot=lot, by=owner, amount=Decimal(100), why="dusty")
    assert find_source(f"discard {posting.key}").silver_g == Fraction("0.0076198800") * 100
    with pytest.raises(WasteRefused, match=r"left 0\.762 g of silver at most, not 0\.8 g"):
        put(drum, owner, posting=posting, silver_g=Decimal("0.8"))
    assert put(drum, owner, posting=posting, silver_g=Decimal("0.762")).reacts_as == ["silver_salt"]


def test_no_more_silver_than_the_run_left(shop, owner, drum, at_helper):
    run = builders.worked(shop.run(), owner)
    builders.judge(run, owner, good=1)
    finish_run(run=run, by=owner)
    run.refresh_from_db()
    rest = silver_of_runs([run])["rest"]
    half = Decimal(int(rest * 500)) / 1000
    put(drum, owner, source=name_of(run), silver_g=half)
    sent = {"what": "rest", "volume": "1 L", "silver": "900", "source": name_of(run), "key": builders.key()}
    answer = at_helper.post(f"/stockroom/waste/{drum.pk}/put-in/", sent)
    assert answer.status_code == 422
    assert "g of silver at most, not 900 g" in answer.content.decode()
    with pytest.raises(WasteRefused, match="what stands on good panes"):
        put(drum, owner, posting=run.posting, silver_g=half + Decimal("0.003"))
    put(drum, owner, posting=run.posting, silver_g=half)
    assert audit() == []
    database_rules.lift(connection)
    WasteEntry.objects.filter(source=name_of(run)).update(silver_g=Decimal(900))
    database_rules.install(connection)
    assert [found for found in audit() if f"{run.ticket.job}, ticket 1: silver" in found]


def test_a_container_takes_what_it_is_for_and_no_more_than_it_may(shop, owner, at_owner, at_helper):
    sent = {"name": "S-7", "meant_for": "silver rinse", "holds_most": "1 L", "takes": ["silver_salt", "ammonia"]}
    assert at_helper.post("/stockroom/waste/", sent).status_code == 302
    drum = WasteContainer.objects.get(name="S-7")
    assert (drum.takes, drum.holds_most_ml) == (["silver_salt", "ammonia"], 1000)
    page = at_helper.get(f"/stockroom/waste/{drum.pk}/").content.decode()
    assert "It takes: ammonia, silver salt." in page
    with pytest.raises(WasteRefused, match="S-7 takes ammonia, silver salt: it does not take iron salt"):
        put(drum, owner, "iron", "silver_salt")
    put(drum, owner, "silver_salt", volume_ml=Decimal(900))
    with pytest.raises(WasteRefused, match="may hold 1000 mL: 100 mL more go in"):
        put(drum, owner, "silver_salt", volume_ml=Decimal(101))
    with pytest.raises(IntegrityError, match="no more than it may"), transaction.atomic():
        WasteEntry.objects.create(container=drum, key=builders.key(), at=drum.entries.get().at, by=owner, what="more",
                                  volume_ml=101)
    assert audit() == []
    WasteContainer.objects.filter(pk=drum.pk).update(takes=["iron"])
    assert "Container S-7 does not take silver salt, and holds it." in audit()


@pytest.mark.parametrize(("typed", "refused"), [("0", False), ("14", False), ("14.1", True), ("-1", True), ("acid", True)])
def test_ph_is_typed_from_0_to_14(at_helper, house, drum, typed, refused):
    sent = {"what": "rinse", "volume": "1 L", "ph": typed, "key": builders.key()}
    assert (at_helper.post(f"/stockroom/waste/{drum.pk}/put-in/", sent).status_code == 422) is refused
    with pytest.raises(IntegrityError), transaction.atomic():
        WasteEntry.objects.create(container=drum, key=builders.key(), at="2026-05-04T10:00Z",
                                  by_id=at_helper.session["_auth_user_id"], what="x", ph=Decimal("14.1"))


def test_a_corrosive_ph_counts_as_acid_or_caustic(owner, drum):
    put(drum, owner, ph=Decimal("1.5"))
    assert drum.entries.get().reacts_as == ["acid"]
    with pytest.raises(WasteRefused, match="acid and sulfide"):
        put(drum, owner, "sulfide")


def test_what_nobody_has_classed_goes_into_no_container(shop, owner, drum):
    mystery = builders.material("Grey powder")
    posting = discard(key=builders.key(), lot=builders.lot(mystery, "5", owner, "M1"), by=owner, amount=Decimal(5), why="old")
    with pytest.raises(WasteRefused, match="Nobody has said how Grey powder reacts"):
        put(drum, owner, posting=posting)


def test_a_kept_leftover_is_not_waste(shop, owner):
    """What was kept of a silver stock went back on the shelf: it is no longer the run's to book."""
    run = builders.worked(shop.run(), owner)
    finish_run(run=run, by=owner)
    run.refresh_from_db()
    before = silver_of_runs([run])
    mix = next(mix for mix in bench_state(run).mixes if mix.mix.solution == "Reducer")
    keep_leftover_of(run=run, mix_key=mix.mix.key, volume_ml=Fraction(10), key=builders.key(), by=owner)
    after = silver_of_runs([run])
    assert (after["kept"], after["rest"]) == (0, before["rest"]), "the reducer holds none"


def test_d002_and_d003_are_named_as_classifications_beside_d011(at_helper, house):
    for address in ("/stockroom/waste/", "/guides/cautions/"):
        page = " ".join(at_helper.get(address).content.decode().split())
        assert all(code in page for code in ("D002", "D003", "D011"))
        assert "lassifications only" in page.replace("classifications </", "classifications")


def test_days_are_the_studios_own(at_helper, owner, drum, house):
    house.waste_days_open = 30
    house.save()
    WasteContainer.objects.filter(pk=drum.pk).update(opened_on=today() - timedelta(days=40))
    assert "limit 30 days" in at_helper.get(f"/stockroom/waste/{drum.pk}/").content.decode()


def test_made_safe_is_what_the_clocks_say(shop, owner, drum):
    """Given a run that was made safe, when its silver is mixed again, then its rinse waits anew; a trial's too."""
    run = builders.worked(shop.run(), owner)
    assert find_source(name_of(run)).made_safe is True
    silver = next(row.mix.key for row in bench_state(run).mixes if row.is_ammoniacal)
    note(run=run, by=owner, client_key=builders.key(), kind="mixed", subject=silver, content={"made": True, "amounts": {}})
    assert find_source(name_of(run)).made_safe is False
    with pytest.raises(WasteRefused, match="was not made safe yet"):
        put(drum, owner, source=name_of(run))
    trial = builders.trial(shop.recipe, owner)
    assert find_source(f"trial {trial.number}").made_safe is False, "nobody said that its silver was not mixed"
    start_trial_clock(key=builders.key(), trial=trial, by=owner, subject="s3p1")
    with pytest.raises(WasteRefused, match="was not made safe yet"):
        put(drum, owner, source=f"trial {trial.number}")
    safe_trial(trial, owner)
    assert put(drum, owner, source=f"trial {trial.number}").made_safe


def test_of_what_no_record_says_that_it_was_made_safe_nothing_goes_in(shop, owner, drum):
    """Given a trial of which somebody said that its silver was not mixed, when a rinse of it comes, then that is not so."""
    trial = builders.nothing_mixed(builders.trial(shop.recipe, owner), owner)
    assert find_source(f"trial {trial.number}").made_safe is None
    with pytest.raises(WasteRefused, match="no record says that this was"):
        put(drum, owner, source=f"trial {trial.number}")


def test_the_audit_does_not_believe_a_tick(shop, owner, drum):
    """Given waste ticked as made safe, when its trial's silver still stands, then the audit names it; not what was."""
    trial = builders.trial(shop.recipe, owner)
    start_trial_clock(key=builders.key(), trial=trial, by=owner, subject="s3p1")
    WasteEntry.objects.create(key=builders.key(), container=drum, by=owner, what="rinse", at=now(), made_safe=True,
                              reacts_as=["silver_salt", "ammonia"], source=f"trial {trial.number}")
    run = builders.worked(shop.run(), owner)
    put(WasteContainer.objects.create(name="S-2", meant_for="rinse", opened_on=today()), owner, source=name_of(run))
    silver = next(row.mix.key for row in bench_state(run).mixes if row.is_ammoniacal)
    note(run=run, by=owner, client_key=builders.key(), kind="mixed", subject=silver, content={"made": True, "amounts": {}})
    assert [said for said in audit() if "not made safe" in said] == [
        f"Container S-1 holds rinse from {trial}, which was not made safe."]


def test_a_source_is_locked_before_its_silver_is_counted(shop, owner, drum):
    """Two who book one run's silver into two containers: the second waits for the first, and counts what it booked."""
    run = builders.worked(shop.run(), owner)
    trial = builders.trial(shop.recipe, owner)
    posting = discard(key=builders.key(), lot=shop.lots[1], by=owner, amount=Decimal(10), why="old")
    for name, table in ((name_of(run), "jobs_run"), (f"trial {trial.number}", "recipes_trial"),
                        (f"discard {posting.key}", "inventory_posting")):
        with transaction.atomic(), CaptureQueriesContext(connection) as asked:
            lock_source(name)
        [query] = [row["sql"] for row in asked if "SELECT" in row["sql"]]
        assert table in query
        assert ("FOR UPDATE" in query) == connection.features.has_select_for_update
