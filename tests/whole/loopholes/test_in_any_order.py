"""In whatever order people write, mix, class, cancel and close: no ammoniacal mix is on the shelf, nothing ends standing.

The models know no class and no rule of the product: which bottle holds what, and what stands, in a handful of words.
"""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import transaction
from django.test import override_settings
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from jobs.models import Job, Run
from jobs.work.bench import bench_state
from jobs.work.finishing import finish_run
from jobs.work.kept import keep_leftover_of
from jobs.work.making_safe import make_run_safe
from recipes.models import SilverClock, SolutionVersion, Trial
from recipes.solutions.authoring import IngredientDraft, next_version, save_solution, start_solution
from recipes.trials.conducting import close_trial, make_trial_safe
from studio.house.clock import now, pretend
from studio.kit.errors import DaybookError
from studio.stockroom.lots.keeping import release_lot
from studio.stockroom.materials import save_material
from studio.stockroom.models import Lot, Material
from tests import builders
from tests.whole.loopholes.world import World

#: bottle → what is in it, as its label says
HOLDS = {"Lunar salt": "silver", "Hartshorn": "ammonia", "Firework salt": "ammonium", "Lye": "caustic",
         "Muriatic acid": "acid", "Unread powder": "nothing known"}
FEW = settings(max_examples=20, stateful_step_count=14, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def world(django_db_setup, django_db_blocker, tmp_path_factory):
    with django_db_blocker.unblock(), override_settings(FILES=tmp_path_factory.mktemp("files")), transaction.atomic():
        builders.house()
        builders.rates()
        made = World(builders.person("maud", "owner"))
        made.runs, made.tried = [made.standing_run(), made.shop.run()], made.trial()
        yield made
        transaction.set_rollback(True)


class InTheStudio(RuleBasedStateMachine):
    """Acts in a studio that is as it was when the next example begins."""

    world: World

    @initialize()
    def opens(self):
        self.inside = transaction.savepoint()
        self.began, self.minutes = now(), 0
        self.clock = pretend(self.began)
        self.clock.__enter__()

    def teardown(self):
        if hasattr(self, "inside"):
            self.clock.__exit__(None, None, None)
            transaction.savepoint_rollback(self.inside)

    def does(self, act) -> str:
        """Do something; where it is refused, nothing is half done, and the sentence is returned."""
        try:
            with transaction.atomic():
                act()
        except DaybookError as refusal:
            return str(refusal)
        return ""

    def time_passes(self, minutes):
        self.minutes += minutes
        self.clock.__exit__(None, None, None)
        self.clock = pretend(self.began + timedelta(minutes=self.minutes))
        self.clock.__enter__()


class Shelf(InTheStudio):
    """Solutions of any bottles, in each other, by version; mixed ahead; the truth entered late; lots released."""

    @initialize()
    def nothing_written(self):
        self.inside_of: dict[int, frozenset[str]] = {}
        self.powder_is = ""

    def holds(self, pk: int) -> frozenset[str]:
        return frozenset(self.powder_is if name == "Unread powder" else HOLDS[name] for name in self.inside_of[pk])

    def is_ammoniacal(self, pk: int) -> bool:
        there = self.holds(pk)
        return "silver" in there and ("ammonia" in there or {"ammonium", "caustic"} <= there)

    def drafts(self, names, nested):
        rows = [IngredientDraft(material_id=self.world.bottles[name].pk, amount_per_litre=Decimal(5),
                                unit=self.world.bottles[name].stock_unit) for name in sorted(names)]
        rows += [IngredientDraft(nested_id=nested, amount_per_litre=Decimal(100))] if nested else []
        return [*rows, IngredientDraft(material_id=self.world.shop.water.pk, make_up=True)]

    def content(self, names, nested):
        return frozenset(names) | (self.inside_of[nested] if nested else frozenset())

    @rule(data=st.data(), names=st.sets(st.sampled_from(sorted(HOLDS)), min_size=1, max_size=3),
          keeps=st.sampled_from([None, 60, 1440]))
    def write(self, data, names, keeps):
        nested = data.draw(st.sampled_from([None, *sorted(self.inside_of)]))
        made = []
        self.does(lambda: made.append(start_solution(
            f"Mix {builders.key()}", {"keeps_minutes": keeps and Decimal(keeps)}, self.drafts(names, nested))))
        for version in made:
            self.inside_of[version.pk] = self.content(names, nested)

    @precondition(lambda self: getattr(self, "inside_of", None))
    @rule(data=st.data(), names=st.sets(st.sampled_from(sorted(HOLDS)), min_size=1, max_size=3),
          keeps=st.sampled_from([None, 1440]))
    def write_anew(self, data, names, keeps):
        """Change an open version, or start the next of one that is frozen and change that."""
        row = SolutionVersion.objects.get(pk=data.draw(st.sampled_from(sorted(self.inside_of))))
        draft = row if row.frozen_at is None else next_version(row, "clearer")
        self.inside_of.setdefault(draft.pk, self.inside_of[row.pk])
        refused = self.does(lambda: save_solution(
            draft, draft.saves, {"keeps_minutes": keeps and Decimal(keeps)}, self.drafts(names, None)))
        if not refused:
            self._changed(draft.pk, frozenset(names))

    def _changed(self, pk, names):
        """What is nested in open solutions changes with it."""
        self.inside_of[pk] = names
        for outer in SolutionVersion.objects.filter(ingredients__nested=pk):
            own = set(outer.ingredients.values_list("material__name", flat=True)) & HOLDS.keys()
            self._changed(outer.pk, frozenset(own) | names)

    @precondition(lambda self: getattr(self, "inside_of", None))
    @rule(data=st.data())
    def mix_ahead(self, data):
        pk = data.draw(st.sampled_from(sorted(self.inside_of)))
        refused = self.does(lambda: self.world.mixed_ahead(SolutionVersion.objects.get(pk=pk), 50))
        assert refused or not self.is_ammoniacal(pk)

    @rule(what=st.sampled_from(["ammonia", "silver", "caustic", "none apply", ""]))
    def somebody_reads_the_sheet(self, what):
        row = Material.objects.get(name="Unread powder")
        row.reacts_as = [{"silver": "silver_salt"}.get(what, what)] if what not in ("none apply", "") else []
        row.none_apply = what == "none apply"
        assert self.does(lambda: save_material(
            row, by=self.world.owner, why_taken_away="its sheet was another's")) == ""
        self.powder_is = what

    @rule(name=st.sampled_from(["Lunar salt", "Hartshorn", "Firework salt"]))
    def somebody_empties_a_number(self, name):
        row = Material.objects.get(name=name)
        row.cas_number, row.none_apply = "", True
        self.does(lambda: save_material(row, by=self.world.owner))

    @rule()
    def somebody_lets_held_lots_go(self):
        for lot in Lot.objects.filter(state="held", made__isnull=False):
            self.does(lambda lot=lot: release_lot(key=builders.key(), lot=lot, by=self.world.owner, why="looks fine"))

    @invariant()
    def nothing_ammoniacal_is_to_be_had(self):
        for lot in Lot.objects.filter(made__solution_version__in=getattr(self, "inside_of", {}), level__on_hand__gt=0,
                                      state="usable").select_related("made"):
            assert not self.is_ammoniacal(lot.made.solution_version_id), lot


class Clocks(InTheStudio):
    """Runs and trials mixed, made safe, finished, cancelled, closed, their leftovers kept, while time goes on."""

    @initialize()
    def begins(self):
        self.runs, self.tried = self.world.runs, Trial.objects.get(pk=self.world.tried.pk)
        self.stands = {clock.pk for clock in SilverClock.objects.filter(made_safe=None)}

    def open_clocks(self):
        return set(SilverClock.objects.filter(made_safe=None).values_list("pk", flat=True))

    @rule(which=st.integers(0, 1))
    def mix(self, which):
        before = self.open_clocks()
        if not self.does(lambda: self.world.mix(self.runs[which])):
            self.stands |= self.open_clocks() - before
            assert self.world.standing(self.runs[which])

    @rule()
    def mix_for_the_trial(self):
        before = self.open_clocks()
        if not self.does(lambda: self.world.start(self.tried)):
            self.stands |= self.open_clocks() - before
            assert self.tried.clocks.filter(made_safe=None).exists()

    @rule(minutes=st.sampled_from([10, 90, 300]))
    def wait(self, minutes):
        self.time_passes(minutes)

    @rule(data=st.data(), which=st.integers(0, 1))
    def make_safe(self, data, which):
        named = data.draw(st.sets(st.sampled_from(sorted(self.stands)))) if self.stands else set()
        if not self.does(lambda: make_run_safe(
                run=self.runs[which], key=builders.key(), by=self.world.owner, clocks=sorted(named), procedure="1",
                treated=builders.SPRAYED_SAFE)):
            self.stands -= named

    @rule()
    def make_the_trial_safe(self):
        named = set(self.tried.clocks.filter(made_safe=None).values_list("pk", flat=True))
        if not self.does(lambda: make_trial_safe(
                trial=self.tried, key=builders.key(), by=self.world.owner, clocks=sorted(named), procedure="1",
                treated=builders.SPRAYED_SAFE)):
            self.stands -= named

    @rule(which=st.integers(0, 1))
    def finish(self, which):
        self.does(lambda: finish_run(run=Run.objects.get(pk=self.runs[which].pk), by=self.world.owner))

    @rule(which=st.integers(0, 1))
    def cancel(self, which):
        job = Job.objects.get(pk=self.runs[which].ticket.job_id)
        self.world.post(f"/jobs/{job.number}/cancel/", saves=job.saves, because="The customer moved.")

    @rule()
    def close(self):
        trial = Trial.objects.get(pk=self.tried.pk)
        self.does(lambda: close_trial(trial, trial.saves, verdict="liked", score=7))

    @rule(which=st.integers(0, 1), solution=st.sampled_from(["Silver part", "Reducer"]))
    def keep_what_is_left(self, which, solution):
        run = Run.objects.get(pk=self.runs[which].pk)
        mix = next(row.mix for row in bench_state(run).mixes if row.mix.solution == solution)
        refused = self.does(lambda: keep_leftover_of(
            run=run, mix_key=mix.key, volume_ml=Fraction(20), key=builders.key(), by=self.world.owner))
        assert refused or solution == "Reducer"

    @invariant()
    def only_making_safe_stops_and_nothing_ends_standing(self):
        if not hasattr(self, "stands"):
            return
        assert self.open_clocks() == self.stands
        for clock in SilverClock.objects.filter(pk__in=self.stands).select_related("trial", "of_run__run__ticket__job"):
            if clock.trial is not None:
                assert clock.trial.closed_at is None
            else:
                assert clock.of_run.run.finished_at is None
                assert clock.of_run.run.ticket.job.state != "cancelled"


@pytest.mark.django_db
@pytest.mark.parametrize("machine", [Shelf, Clocks])
def test_in_any_order(world, db, machine):
    run_state_machine_as_test(type(machine.__name__, (machine,), {"world": world}), settings=FEW)
