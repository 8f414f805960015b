"""The recall: a jar is held after the eight panes of the demo's foyer job were silvered; each is found, by load."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from jobs.looking_back.reach import lots_in_panes
from jobs.looking_back.recall import recall_of, unsettled
from jobs.models import Job, Run
from jobs.work.bench import bench_state
from jobs.work.finishing import finish_run
from studio.house.clock import today
from studio.house.form_keys import NAME
from studio.house.models import Person
from studio.stockroom.models import Lot
from studio.whole import demo
from studio.whole.audit import audit
from studio.whole.book.load import load_file
from tests import builders

pytestmark = pytest.mark.django_db

BOOK = Path(demo.__file__).parent / "book.json"
SILVER = "Silver part, sprayed"


def nitrate_of(mix):
    return next(row for row in mix.ingredients if row.code == "silver-nitrate")


def test_eight_panes_are_found_by_their_lot_and_by_their_load(client):
    load_file(BOOK, today())
    owner, helper = (Person.objects.filter(role=role).first() for role in ("owner", "helper"))
    run, job = Run.objects.get(ticket__job__number=4), Job.objects.get(number=4)

    # the ammonia on its ticket expired meanwhile: the owner prints it anew
    client.force_login(owner)
    assert "Lot L1001 of Ammonia solution 28 % is not taken: expired" in client.get("/jobs/4/").content.decode()
    client.post("/jobs/4/ticket/anew/", {"ticket": 1})
    run.refresh_from_db()
    assert str(run.ticket) == "Ticket 4-2"

    # at the bench: every load's silver is mixed as written, and so of the jar that the ticket names
    client.force_login(helper)
    silver = [state.mix for state in bench_state(run).mixes if state.mix.solution == SILVER]
    assert [mix.load for mix in silver] == [1, 2, 3]
    for mix in silver:
        sent = client.post(f"/bench/{run.pk}/mixes/{mix.key}/as-written/", {NAME: str(builders.key())})
        assert sent.status_code == 302, sent.context["refusal"]
    finish_run(run=builders.worked(run, helper, but=[mix.key for mix in silver]), by=helper)
    assert audit() == []

    # the owner holds the jar
    jar = Lot.objects.select_related("material").get(lot_number=nitrate_of(silver[0]).picks[0].lot_number)
    client.force_login(owner)
    page = client.post(f"/stockroom/lots/{jar.pk}/hold/", {
        "why": "grey specks", "saves": jar.saves, NAME: str(builders.key())}, follow=True).content.decode()

    # eight panes, in three loads, each with its grams
    found = [item for item in recall_of([jar]) if item.reached.run == run]
    by_load = {item.reached.load: [pane.label for pane in item.reached.panes] for item in found}
    (recipe,) = bench_state(run).plan.recipes
    assert by_load == {f"load {load.number}": load.panes for load in recipe.loads}
    assert sum(map(len, by_load.values())) == 8
    assert all(item.reached.standing == "recorded" for item in found)
    for mix, item in zip(silver, found, strict=True):
        poured = Fraction(nitrate_of(mix).amount)
        assert item.reached.amount == poured
        assert 0 < sum(pane.amount for pane in item.reached.panes) <= poured
        assert item.words in page
    held = {row.label: row.portion for row in lots_in_panes(job) if row.lot == jar}
    assert held == {pane.label: pane.portion for item in found for pane in item.reached.panes}

    # on Today until each is settled
    assert found[0].words in client.get("/").content.decode()
    others = [item for item in recall_of([jar]) if item.is_open and item.reached.run != run]
    for at, item in enumerate(found):
        assert len([left for lot, items in unsettled() if lot == jar for left in items]) == len(others) + 3 - at
        answer = client.post(f"/stockroom/lots/{jar.pk}/settle/", {
            "what": item.name, "decided": "looked at against the light: sound", NAME: str(builders.key())})
        assert answer.status_code == 302
        assert item.words not in client.get("/").content.decode()
