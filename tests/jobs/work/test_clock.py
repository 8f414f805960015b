"""The clock on the bench: it starts with the mix, everybody is told, and only making safe stops it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from importlib import import_module
from typing import Any

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobs.models import Job, Run, RunClock, RunEntry
from jobs.work.bench import BenchError, bench_state, note
from jobs.work.clock import clocks_of
from jobs.work.finishing import finish_run
from jobs.work.making_safe import make_run_safe
from jobs.work.pane_meetings import meetings_of
from jobs.work.ticketing import plan_of
from recipes.clocks import ClockRefused
from recipes.models import MakingSafe, SilverClock, Trial
from recipes.trials.conducting import close_trial, make_trial_safe, start_trial_clock
from studio.house.clock import pretend, today
from studio.house.models import House
from studio.kit import database_rules
from studio.whole.audit import audit
from studio.whole.book.load import load_file
from studio.whole.book.save import book, canonical, save_book
from tests import builders

pytestmark = pytest.mark.django_db
Kind = RunEntry.Kind
TEN = builders.TEN


@pytest.fixture
def run(morning_workshop):
    return morning_workshop.run(morning_workshop.line(quantity=2))


def silver_of(run: Run) -> str:
    return next(row.mix.key for row in bench_state(run).mixes if row.is_ammoniacal)


def mixed(run: Run, by: Any, at: datetime = TEN, done_at: datetime | None = None, made: bool = True) -> SilverClock:
    """Record the run's silver part."""
    row = next(row for row in bench_state(run).mixes if row.is_ammoniacal)
    amounts = {str(ingredient.number): str(ingredient.amount) for ingredient in row.mix.ingredients}
    with pretend(at):
        note(run=run, by=by, client_key=builders.key(), kind=Kind.MIXED, subject=row.mix.key, device_at=done_at,
             content={"made": made, "amounts": amounts})
    return clocks_of(run).order_by("-pk").first()


def made_safe_by(client: Any, run: Run, **more: Any) -> Any:
    return client.post(f"/bench/{run.pk}/made-safe/", {
        "key": builders.key(), "clocks": [clock.pk for clock in clocks_of(run).filter(made_safe=None)],
        "treated": builders.SPRAYED_SAFE, "procedure": "Written procedure 1", **more})


def test_every_page_of_everybody_says_how_long_it_stands_until_it_is_made_safe(run, helper, at_owner, at_helper):
    mixed(run, helper)
    job = f"/jobs/{run.ticket.job.number}/"
    with pretend(TEN + timedelta(minutes=59)):
        for client, page in ((at_helper, f"/bench/{run.pk}/"), (at_helper, "/bench/"), (at_helper, "/"), (at_owner, job)):
            shown = client.get(page).content.decode()
            assert "59 min" in shown
            assert "fresh" in shown
    with pretend(TEN + timedelta(minutes=65)):
        shown = at_owner.get("/").content.decode()
        assert "1 h 5 min" in shown
        assert "make it safe soon" in shown
        assert "is-attention" in shown
        assert 'role="alert"' not in shown
    with pretend(TEN + timedelta(minutes=120)):
        for client, page in ((at_owner, "/jobs/"), (at_helper, "/stockroom/"), (at_helper, f"/bench/{run.pk}/")):
            shown = client.get(page).content.decode()
            assert 'role="alert"' in shown
            assert "Alarm" in shown
            assert "Silver part, load 1" in shown
            assert "2 h 0 min" in shown
        assert made_safe_by(at_helper, run).status_code == 302
        assert 'role="alert"' not in at_owner.get("/jobs/").content.decode()
        assert "treated: leftovers, first rinse, guns" in at_helper.get(f"/bench/{run.pk}/").content.decode()
    safe = MakingSafe.objects.get()
    assert (safe.by, safe.procedure) == (helper, "Written procedure 1")


def test_nobody_at_the_door_is_told(run, helper, client):
    mixed(run, helper)
    with pretend(TEN + timedelta(hours=5)):
        assert "Alarm" not in client.get("/guides/").content.decode()


def test_pages_ask_no_more_however_much_stands(run, helper, at_helper):
    def asked(page: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert at_helper.get(page).status_code == 200
        return len(seen)

    mixed(run, helper)
    with pretend(TEN + timedelta(hours=3)):
        for page in ("/", "/bench/", f"/bench/{run.pk}/"):
            asked(page)
            before = asked(page)
            for number in range(3):
                RunClock.objects.create(run=run, clock=SilverClock.objects.create(
                    key=builders.key(), subject=f"{page}{number}", what="more", started_at=TEN, noted_at=TEN,
                    noted_by=helper))
            assert asked(page) == before


def test_the_limit_is_the_studios_and_never_past_the_days_hours(run, helper, at_owner, house):
    mixed(run, helper)
    House.objects.update(ammoniacal_limit_minutes=240, hours_wednesday="08:00-13:00")
    for minutes, alarmed in ((179, False), (180, True)):
        with pretend(TEN + timedelta(minutes=minutes)):
            assert ('role="alert"' in at_owner.get("/jobs/").content.decode()) is alarmed
    with pytest.raises(IntegrityError), transaction.atomic():
        House.objects.update(ammoniacal_limit_minutes=241)


def test_a_run_does_not_end_with_its_clock_running_by_page_by_program_or_by_hand(run, helper, at_helper):
    with pretend(TEN):
        builders.worked(run, helper, safe=False)
        refused = at_helper.post(f"/bench/{run.pk}/finish/")
        assert refused.status_code == 422
        assert "Silver part" in refused.content.decode()
        with pytest.raises(BenchError, match="Silver part"):
            finish_run(run=run, by=helper)
        with pytest.raises(BenchError, match="Tick each mix"):
            note(run=run, by=helper, client_key=builders.key(), kind=Kind.MADE_SAFE, content={"by_procedure": True})
        assert at_helper.post(f"/bench/{run.pk}/made-safe/", {"by_procedure": "on", "key": builders.key()}).status_code == 422
        assert clocks_of(run).get().made_safe is None
        made_safe_by(at_helper, run)
        assert builders.finish_by_page(at_helper, run).status_code == 302
    assert audit() == []


def test_more_than_one_making_safe_a_run_and_only_what_is_named_stops(morning_workshop, helper, at_helper):
    """Two loads' silver: the first is made safe while the second stands."""
    run = morning_workshop.run(morning_workshop.line(size="900 x 1500 mm", quantity=3))
    with pretend(TEN):
        builders.worked(run, helper, safe=False)
        first, *others = clocks_of(run)
        assert others
        assert made_safe_by(at_helper, run, clocks=[first.pk]).status_code == 302
        assert set(clocks_of(run).filter(made_safe=None)) == set(others)
        with pytest.raises(BenchError, match="still stands"):
            finish_run(run=run, by=helper)
        made_safe_by(at_helper, run)
        finish_run(run=run, by=helper)
    assert MakingSafe.objects.count() == 2


def test_two_people_make_the_same_mix_safe_and_the_second_is_told(run, owner, helper, at_owner, at_helper):
    clock = mixed(run, helper)
    with pretend(TEN + timedelta(minutes=30)):
        assert made_safe_by(at_helper, run).status_code == 302
        second = made_safe_by(at_owner, run, clocks=[clock.pk], procedure="Another procedure")
        assert second.status_code == 422
        assert "made safe by teo at 10:30 already" in second.content.decode()
    assert MakingSafe.objects.get().by == helper
    key = builders.key()
    another = mixed(run, helper, TEN + timedelta(hours=1))
    with pretend(TEN + timedelta(hours=2)):
        for _ in range(2):
            assert made_safe_by(at_helper, run, key=key, clocks=[another.pk]).status_code == 302
    assert MakingSafe.objects.count() == 2


def test_what_is_entered_late_counts_from_when_it_was_done(run, helper, at_helper):
    """Paper: mixed at ten, entered at half past eleven; corrected to a quarter to ten; never put forward."""
    key = silver_of(run)
    page = f"/bench/{run.pk}/mixes/{key}/as-written/"
    with pretend(TEN + timedelta(minutes=90)):
        ahead = at_helper.post(page, {"key": builders.key(), f"{key}-done_at": "2026-03-04T12:30"})
        assert ahead.status_code == 422
        assert "still to come" in ahead.content.decode()
        assert 'value="2026-03-04T12:30"' in ahead.content.decode()
        assert not SilverClock.objects.exists()
        assert at_helper.post(page, {"key": builders.key(), f"{key}-done_at": "2026-03-04T10:00"}).status_code == 302
        assert clocks_of(run).get().started_at == TEN
        assert "1 h 30 min" in at_helper.get(f"/bench/{run.pk}/").content.decode()
        at_helper.post(page, {"key": builders.key(), f"{key}-done_at": "2026-03-04T09:45"})
        at_helper.post(page, {"key": builders.key(), f"{key}-done_at": ""})
        at_helper.post(f"/bench/{run.pk}/mixes/{key}/not-made/", {"key": builders.key()})
        clock = clocks_of(run).get()
        assert clock.started_at == TEN - timedelta(minutes=15)
        assert clock.made_safe is None
        early = made_safe_by(at_helper, run, done_at="2026-03-04T09:30")
        assert "nothing is made safe before it is mixed" in early.content.decode()
        assert made_safe_by(at_helper, run, done_at="2026-03-04T11:00").status_code == 302
    assert MakingSafe.objects.get().done_at == TEN + timedelta(hours=1)


def test_a_correction_of_what_was_made_safe_stands_no_more_and_a_second_mixing_does(run, helper):
    mixed(run, helper)
    with pretend(TEN + timedelta(hours=1)):
        builders.made_safe(run, helper)
    mixed(run, helper, TEN + timedelta(hours=2), done_at=TEN)
    assert not clocks_of(run).filter(made_safe=None).exists()
    mixed(run, helper, TEN + timedelta(hours=2))
    assert clocks_of(run).get(made_safe=None).started_at == TEN + timedelta(hours=2)


@pytest.mark.parametrize(("wrong", "told"), [
    ({"clocks": []}, "Tick each mix"), ({"treated": []}, "Tick what was treated"), ({"procedure": ""}, "written procedure"),
    ({"clocks": [9999]}, "made safe already, or no mix"), ({"done_at": "noon"}, "was not understood as a day and a time"),
    ({"done_at": "2026-03-05T10:00"}, "still to come"),
    ({"treated": ["rags"]}, "there was none: leftovers, first rinse, guns, hoses, nozzles"),
    ({"treated": ["leftovers", "rags"], "none_left": ["leftovers: none", "guns: none"]}, "none: leftovers, first rinse, hoses"),
])
@pytest.mark.parametrize("headers", [{}, {"HX-Request": "true"}], ids=["page", "part"])
def test_a_making_safe_that_says_too_little_is_refused(run, helper, at_helper, wrong, told, headers):
    clock = mixed(run, helper)
    with pretend(TEN + timedelta(minutes=5)):
        sent = {"key": builders.key(), "clocks": [clock.pk], "treated": ["rags"], "procedure": "1", **wrong}
        refused = at_helper.post(f"/bench/{run.pk}/made-safe/", sent, headers=headers)
    assert refused.status_code == 422
    assert told in refused.content.decode()
    assert not MakingSafe.objects.exists()


def test_a_mix_of_another_run_is_not_made_safe_here(morning_workshop, run, helper):
    other = morning_workshop.run()
    clock = mixed(other, helper)
    mixed(run, helper)
    with pretend(TEN), pytest.raises(ClockRefused, match="no mix of this run"):
        make_run_safe(run=run, key=builders.key(), by=helper, clocks=[clock.pk], procedure="1", treated=["rags"])


@pytest.fixture
def two_stocks(morning_workshop, owner):
    """A run whose silver and ammonia keep, each by itself, and meet on the pane."""
    silver = builders.solution("Silver stock", {"material": morning_workshop.silver, "amount": 12, "unit": "g"},
                               {"material": morning_workshop.water})
    ammonia = builders.solution("Ammonia stock", {"material": morning_workshop.ammonia, "amount": 14},
                                {"material": morning_workshop.water})
    steps = morning_workshop.steps()
    steps[2]["parts"] = [{"solution_version": silver, "mixed_for": "load"},
                         {"solution_version": ammonia, "mixed_for": "load"},
                         {"solution_version": morning_workshop.reducer, "mixed_for": "load"}]
    version = builders.put_version_in_use(builders.recipe("Two stocks", steps), owner)
    return morning_workshop.run(morning_workshop.line(recipe_version_id=version.pk))


def test_two_keeping_stocks_start_their_clock_at_the_first_spraying(two_stocks, helper, at_helper):
    run = two_stocks
    [meeting] = meetings_of(plan_of(run.ticket))
    with pretend(TEN):
        for row in bench_state(run).mixes:
            at_helper.post(f"/bench/{run.pk}/mixes/{row.mix.key}/as-written/", {"key": builders.key()})
        assert not clocks_of(run).exists()
        assert any("first sprayed" in sentence for sentence, _ in bench_state(run).missing)
        page = f"/bench/{run.pk}/sprayings/{meeting.key}/"
        assert at_helper.post(f"/bench/{run.pk}/sprayings/r9l9s9/", {"key": builders.key()}).status_code == 404
        ahead = at_helper.post(page, {"key": builders.key(), f"{meeting.key}-done_at": "2026-03-04T18:00"})
        assert ahead.status_code == 422
        assert at_helper.post(page, {"key": builders.key()}, headers={"HX-Request": "true"}).status_code == 200
    clock = clocks_of(run).get()
    assert (clock.began, clock.started_at) == ("sprayed", TEN)
    assert "Silver stock and Ammonia stock" in clock.what
    with pretend(TEN + timedelta(minutes=1)):
        assert "First sprayed" in at_helper.get(f"/bench/{run.pk}/").content.decode()


def test_of_two_versions_of_one_name_each_tells_its_own_clock(two_stocks):
    """Given a ticket that mixes version 1 of a name as ammoniacal silver and sprays version 2, which is not by itself."""
    plan = plan_of(two_stocks.ticket)
    stock = next(mix for mix in plan.mixes if mix.solution == "Silver stock")
    first = replace(stock, key="m9b1", solution_key="silver-stock/9", ammoniacal=True)
    assert len(meetings_of(replace(plan, mixes=[*plan.mixes, first]))) == 1, "the meeting has its own clock"
    of_before = replace(first, solution_key="")
    assert meetings_of(replace(plan, mixes=[*plan.mixes, of_before])) == [], "a ticket of before knows the name alone"


def test_stocks_that_were_not_sprayed_owe_nothing(two_stocks, helper, at_helper):
    run = two_stocks
    [meeting] = meetings_of(plan_of(run.ticket))
    with pretend(TEN):
        at_helper.post(f"/bench/{run.pk}/sprayings/{meeting.key}/", {"key": builders.key(), "sprayed": "no"})
    assert not clocks_of(run).exists()
    assert not any("first sprayed" in sentence for sentence, _ in bench_state(run).missing)


def test_a_cancelled_job_still_owes_making_safe(run, helper, at_helper):
    """Its run takes no other record, but the alarm names it until it is safe."""
    mixed(run, helper)
    database_rules.lift(connection)
    Job.objects.update(state="cancelled")
    database_rules.install(connection)
    with pretend(TEN + timedelta(hours=3)):
        assert "Ticket 1-1, cancelled" in at_helper.get("/").content.decode()
        shown = at_helper.get(f"/bench/{run.pk}/").content.decode()
        assert "What still stands is made safe all the same" in " ".join(shown.split())
        assert "Record that it is safe" in shown
        assert made_safe_by(at_helper, run).status_code == 302
        assert 'role="alert"' not in at_helper.get("/").content.decode()
    assert not RunEntry.objects.filter(kind=Kind.MADE_SAFE).exists()


def test_a_run_without_ammoniacal_silver_ends_by_its_one_tick(run, helper, at_helper):
    with pretend(TEN):
        for row in bench_state(run).mixes:
            note(run=run, by=helper, client_key=builders.key(), kind=Kind.MIXED, subject=row.mix.key,
                 content={"made": False, "amounts": {}})
        assert at_helper.post(f"/bench/{run.pk}/made-safe/", {"by_procedure": "on", "key": builders.key()}).status_code == 302
    assert bench_state(run).made_safe is not None
    assert not MakingSafe.objects.exists()


def test_the_audit_finds_a_clock_that_was_never_stopped_or_never_started(run, helper):
    with pretend(TEN):
        finish_run(run=builders.worked(run, helper), by=helper)
        assert audit() == []
        database_rules.lift(connection)
        clocks_of(run).update(made_safe=None)
        assert any("Silver part, load 1 was never made safe" in sentence for sentence in audit())
        RunClock.objects.all().delete()
        said = audit()
    assert any("the clock of Silver part never started" in sentence for sentence in said)
    assert any("belongs to no run, no trial and no lot" in sentence for sentence in said)
    database_rules.install(connection)


def test_a_runs_one_record_of_before_covers_all_its_mixes(morning_workshop, run, helper):
    """What was recorded before there were clocks: a finished run ties, an open one starts its clock when migrated."""
    with pretend(TEN):
        finished = finish_run(run=builders.worked(run, helper), by=helper)
        still_open, safe = morning_workshop.run(), morning_workshop.run()
        mixed(still_open, helper)
        mixed(safe, helper)
        database_rules.lift(connection)
        RunClock.objects.all().delete()
        SilverClock.objects.all().delete()
        MakingSafe.objects.all().delete()
        RunEntry.objects.filter(kind=Kind.MADE_SAFE).update(content={"by_procedure": True})
        note(run=safe, by=helper, client_key=builders.key(), kind=Kind.MADE_SAFE, content={"by_procedure": True})
        import_module("jobs.migrations.0014_clocks_start_for_open_runs").start_clocks_of_open_runs(apps, None)
        database_rules.install(connection)
        assert [clock.of_run.run for clock in SilverClock.objects.all()] == [still_open]
        assert SilverClock.objects.get().started_at == TEN
        assert not [sentence for sentence in audit() if str(finished.ticket) in sentence]


ACTS = st.lists(st.one_of(
    st.tuples(st.just("mix"), st.integers(0, 5)),
    st.tuples(st.just("safe"), st.frozensets(st.integers(0, 5), min_size=1)),
    st.tuples(st.just("not made"), st.integers(0, 5)),
    st.tuples(st.just("finish"), st.just(0)),
), max_size=10)


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts=ACTS)
def test_no_run_ends_with_its_clock_running(morning_workshop, helper, acts):
    """Given a run of several loads, when mixes and makings safe come in any order, only what is named ever stops."""
    sid = transaction.savepoint()
    try:
        with pretend(TEN):
            run = morning_workshop.run(morning_workshop.line(size="900 x 1500 mm", quantity=3))
            builders.lot(morning_workshop.silver, "5000", morning_workshop.owner, "S9", "10")
            stands: dict[str, int] = {}
            keys = [row.mix.key for row in bench_state(run).mixes if row.is_ammoniacal]
            assert len(keys) > 1
            builders.worked(run, helper)
        for at, (act, what) in enumerate(acts):
            with pretend(TEN + timedelta(minutes=10 * (at + 1))):
                _act(run, helper, act, what, keys, stands)
            assert set(clocks_of(run).filter(made_safe=None).values_list("subject", flat=True)) == stands.keys()
            run.refresh_from_db()
            assert not (run.finished_at and stands)
    finally:
        transaction.savepoint_rollback(sid)


def _a_load_without_silver(run: Run) -> bool:
    """Say whether all silver of a load is recorded as not mixed: its panes are good all the same."""
    made: dict[int | None, list[bool]] = {}
    for row in bench_state(run).mixes:
        if row.is_ammoniacal:
            made.setdefault(row.mix.load, []).append(bool(row.made))
    return not all(any(of_load) for of_load in made.values())


def _act(run: Run, helper: Any, act: str, what: Any, keys: list[str], stands: dict[str, int]) -> None:
    """Do one thing to a run and to the test's own model of it; once it is finished nothing changes it."""
    run.refresh_from_db()
    if act == "finish":
        if stands:
            with pytest.raises(BenchError, match="still stands"):
                finish_run(run=run, by=helper)
        elif run.finished_at is None and _a_load_without_silver(run):
            with pytest.raises(BenchError, match="recorded as not mixed"):
                finish_run(run=run, by=helper)
        else:
            finish_run(run=run, by=helper)
    elif run.finished_at is not None:
        return
    elif act in ("mix", "not made"):
        key = keys[what % len(keys)]
        row = next(row for row in bench_state(run).mixes if row.mix.key == key)
        amounts = {str(ingredient.number): str(Decimal(ingredient.amount)) for ingredient in row.mix.ingredients}
        note(run=run, by=helper, client_key=builders.key(), kind=Kind.MIXED, subject=key,
             content={"made": act == "mix", "amounts": amounts})
        if act == "mix":
            stands.setdefault(key, clocks_of(run).get(subject=key, made_safe=None).pk)
    else:
        named = {keys[number % len(keys)] for number in what} & stands.keys()
        if named:
            make_run_safe(run=run, key=builders.key(), by=helper, clocks=[stands.pop(key) for key in sorted(named)],
                          procedure="1", treated=builders.SPRAYED_SAFE)


def test_clocks_and_makings_safe_stand_in_a_book(db, tmp_path):
    """Given a finished run, one that stands, and a closed trial, when saved and loaded, they are as they were."""
    sid = transaction.savepoint()
    with pretend(TEN):
        builders.house()
        builders.rates()
        maud = builders.person("maud", "owner")
        morning_workshop = builders.Workshop(maud)
        finish_run(run=builders.worked(morning_workshop.run(), maud), by=maud)
        mixed(morning_workshop.run(), maud)
        trial = builders.trial(morning_workshop.recipe, maud)
        clock = start_trial_clock(key=builders.key(), trial=trial, by=maud, subject="s3p1")
        make_trial_safe(key=builders.key(), trial=trial, by=maud, clocks=[clock.pk], procedure="1",
                        treated=builders.SPRAYED_SAFE)
        close_trial(trial, None, verdict="liked", score=7)
        save_book(tmp_path / "book.json")
        before = book()
        transaction.savepoint_rollback(sid)
        load_file(tmp_path / "book.json", today())
        assert canonical(book()) == canonical(before)
    assert audit() == []
    assert SilverClock.objects.filter(made_safe=None).count() == 1
    assert Trial.objects.get().closed_at is not None
