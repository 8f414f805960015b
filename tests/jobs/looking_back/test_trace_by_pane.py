"""From a lot to the panes it is on, in grams, and back: recorded at the mix, or only possible."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.looking_back.reach import lots_in_panes, reached_by
from jobs.work.bench import bench_state, note
from jobs.work.finishing import finish_run
from jobs.work.kept import keep_leftover_of
from recipes.solutions.mixing_ahead import mix_ahead
from studio.house.clock import today
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def mix_of(run, solution):
    return next(state.mix for state in bench_state(run).mixes if state.mix.solution == solution)


def record_silver(run, by, **lots):
    """Record what was taken of each lot of silver nitrate, in g."""
    mix = mix_of(run, "Silver part")
    amounts = {str(row.number): f"{row.amount:f}" for row in mix.ingredients} | {"1": f"{sum(map(Decimal, lots.values()))}"}
    builders.mixed(run, by, mix.key, amounts=amounts, lots={"1": list(map(list, lots.items()))})
    return mix.key


def test_a_lot_recorded_at_the_mix_is_on_each_pane_by_its_share(shop, owner):
    """Two panes of 610 × 915 and 305 × 915 mm: two parts and one, of 900 mL/m² each; what was left in the jug is on none."""
    run = shop.run(shop.line(quantity=1), shop.line("305 x 915 mm", 1, 2))
    key = record_silver(run, owner, S1="6")
    finish_run(run=builders.worked(run, owner, but=(key,)), by=owner)
    (found,) = reached_by([shop.silver_lot])[shop.silver_lot.pk]
    assert (found.standing, found.mixes, found.amount) == ("recorded", ("Silver part",), 6)
    mix = mix_of(run, "Silver part")
    poured = {label: volume / 2 for label, volume in bench_state(run).plan.recipes[0].steps[2].volume_per_pane_ml["1"].items()}
    assert {pane.label: pane.amount for pane in found.panes} == {
        label: 6 * volume / mix.volume_ml for label, volume in poured.items()}
    assert found.panes[0].amount == 2 * found.panes[-1].amount
    assert sum(pane.amount for pane in found.panes) < 6


def test_a_lot_that_nobody_recorded_is_only_possible(shop, owner):
    """Two jars, and the ledger took of both: each pane may hold either, at most so much."""
    jar = builders.lot(shop.silver, "500", owner, "S2", expires_on_given=today())
    jar = type(jar).objects.select_related("material").get(pk=jar.pk)
    run = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    (found,) = reached_by([jar])[jar.pk]
    assert (found.run, found.standing) == (run, "possible")
    assert reached_by([shop.silver_lot])[shop.silver_lot.pk] == []


def test_a_lot_mixed_ahead_carries_its_part(shop, owner, at_owner):
    """Reducer mixed ahead: 9 g of dextrose a litre. Each pane holds 9 g for each litre of it that went on."""
    made = mix_ahead(key=builders.key(), by=owner, version=shop.reducer, volume_ml=Fraction(3000), day=today())
    run = shop.run(shop.line(quantity=2))
    key = mix_of(run, "Reducer").key
    builders.worked(run, owner, but=(key,))
    note(run=run, by=owner, client_key=builders.key(), kind="mixed", subject=key,
         content={"made": False, "amounts": {}, "lot": made.pk, "lot_number": made.lot_number})
    finish_run(run=run, by=owner)
    sugar = shop.lots[2]
    (ahead,), (found,) = reached_by([made])[made.pk], reached_by([sugar])[sugar.pk]
    assert (found.standing, found.via) == ("recorded", (str(made),))
    assert [pane.amount for pane in found.panes] == [pane.amount * 9 / 1000 for pane in ahead.panes] != []
    held = {(row.label, row.lot.pk, row.via): row.amount for row in lots_in_panes(run.ticket.job)}
    for pane, inner in zip(ahead.panes, found.panes, strict=True):
        assert held[pane.label, made.pk, ""] == pane.amount
        assert held[pane.label, sugar.pk, str(made)] == inner.amount
    page = at_owner.get(f"/jobs/{run.ticket.job.number}/trace/").content.decode()
    assert str(made) in page


def test_a_leftover_carries_what_its_mix_was_made_of(shop, owner):
    """What was kept of job 1's reducer and used for job 2 brings the first job's dextrose to the second's panes."""
    first = finish_run(run=builders.worked(shop.run(), owner), by=owner)
    mix = mix_of(first, "Reducer")
    state = next(state for state in bench_state(first).mixes if state.mix.key == mix.key)
    left = keep_leftover_of(run=first, mix_key=mix.key, volume_ml=state.mix.volume_ml / 2, key=builders.key(), by=owner)
    second = shop.run(shop.line("200 x 200 mm", 1))
    key = mix_of(second, "Reducer").key
    builders.worked(second, owner, but=(key,))
    note(run=second, by=owner, client_key=builders.key(), kind="mixed", subject=key,
         content={"made": False, "amounts": {}, "lot": left.pk, "lot_number": left.lot_number})
    finish_run(run=second, by=owner)
    sugar = shop.lots[2]
    runs = {found.run for found in reached_by([sugar])[sugar.pk]}
    assert runs == {first, second}
    (there,) = [found for found in reached_by([sugar])[sugar.pk] if found.run == second]
    assert (there.via, there.standing) == ((str(left),), "possible")  # nobody recorded the jar at the first mix


def test_both_lots_of_a_mix_that_was_made_twice_are_on_its_panes(shop, owner):
    """The first jug was poured in part, then spilt; the second came from another jar. Neither jar is lost to a recall."""
    jar = builders.lot(shop.silver, "500", owner, "S2")
    run = shop.run(shop.line(quantity=2))
    key = record_silver(run, owner, S1="6")
    builders.mixed(run, owner, f"{key}-2", amounts={"1": "5"}, lots={"1": [["S2", "5"]]}, because="Spilt.")
    (first,) = reached_by([shop.silver_lot])[shop.silver_lot.pk]
    (second,) = reached_by([jar])[jar.pk]
    assert (first.standing, first.amount) == ("recorded", 6)
    assert (second.standing, second.amount) == ("recorded", 5)
    assert [pane.label for pane in first.panes] == [pane.label for pane in second.panes] != []
    assert {row.lot for row in lots_in_panes(run.ticket.job) if row.standing == "recorded"} == {shop.silver_lot, jar}


def test_what_is_left_of_a_second_making_carries_what_that_was_made_of(shop, owner):
    jar = builders.lot(shop.lots[2].material, "500", owner, "D2")
    run = shop.run()
    key = mix_of(run, "Reducer").key
    builders.mixed(run, owner, f"{key}-2", lots={"1": [["D2", "1"]]}, because="Spilt.")
    finish_run(run=builders.worked(run, owner, but=(f"{key}-2",)), by=owner)
    left = keep_leftover_of(run=run, mix_key=f"{key}-2", volume_ml=Fraction(50), key=builders.key(), by=owner)
    later = shop.run(shop.line("200 x 200 mm", 1))
    note(run=later, by=owner, client_key=builders.key(), kind="mixed", subject=mix_of(later, "Reducer").key,
         content={"made": False, "amounts": {}, "lot": left.pk, "lot_number": left.lot_number})
    assert {found.run for found in reached_by([jar])[jar.pk]} == {run, later}


def test_a_pane_that_was_not_started_holds_nothing(shop, owner):
    run = shop.run(shop.line(quantity=2))
    key = record_silver(run, owner, S1="9")
    builders.worked(run, owner, but=(key,))
    last = bench_state(run).panes[-1].label
    note(run=run, by=owner, client_key=builders.key(), kind="pane", subject=last,
         content={"outcome": "not started", "attempts": 1, "because": ""})
    finish_run(run=run, by=owner)
    (found,) = reached_by([shop.silver_lot])[shop.silver_lot.pk]
    assert last not in {pane.label for pane in found.panes} != set()


def test_what_an_open_ticket_is_to_take_is_named_as_that(shop, owner):
    run = shop.run()
    found = reached_by([shop.silver_lot])[shop.silver_lot.pk]
    assert {(row.run, row.standing) for row in found} == {(run, "stands on its ticket")}
    record_silver(run, owner, S1="7")
    (row,) = reached_by([shop.silver_lot])[shop.silver_lot.pk]
    assert (row.standing, row.amount) == ("recorded", 7)


def test_queries_do_not_grow_with_runs(shop, owner):
    def count() -> int:
        with CaptureQueriesContext(connection) as seen:
            reached_by([shop.silver_lot, shop.lots[2]])
        return len(seen)

    finish_run(run=builders.worked(shop.run(), owner), by=owner)
    few = count()
    for _ in range(3):
        finish_run(run=builders.worked(shop.run(), owner), by=owner)
    assert count() == few
