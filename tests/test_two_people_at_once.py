"""Two people open one record: who saves second over the other's change is told, with both shown, and nothing is lost."""

from __future__ import annotations

from datetime import timedelta

import pytest

from jobs.models import Customer, Job, SwatchBook
from jobs.quotes.quoting import decide, save_quote
from studio.house.clock import today
from studio.stockroom.models import Lot, WasteContainer
from studio.stockroom.waste.containers import put_in
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def version_on(page: str) -> str:
    return page.split('name="saves" value="')[1].split('"')[0]


def told(answer, theirs: str, mine: str) -> None:
    shown = answer.content.decode()
    assert answer.status_code == 422
    assert "Somebody else changed this meanwhile" in shown
    assert theirs in shown
    assert mine in shown


def test_a_customer(at_owner, shop):
    row = Customer.objects.create(name="Ida Moss", email="ida@example.com")
    address = f"/jobs/customers/{row.pk}/"
    opened = version_on(at_owner.get(address).content.decode())
    sent = {"name": "Ida Moss", "saves": opened}
    assert at_owner.post(address, sent | {"phone": "0100 1"}).status_code == 302
    late = at_owner.post(address, sent | {"phone": "0100 2"})
    told(late, "0100 1", "0100 2")
    row.refresh_from_db()
    assert row.phone == "0100 1"
    again = {**sent, "phone": "0100 2", "saves": version_on(late.content.decode())}
    assert at_owner.post(address, again).status_code == 302


def test_a_customer_is_the_owners_alone(at_helper, shop):
    row = Customer.objects.create(name="Ida Moss", email="ida@example.com")
    assert at_helper.get(f"/jobs/customers/{row.pk}/").status_code == 403


def test_the_swatch_book(at_owner, shop):
    opened = version_on(at_owner.get("/swatch-book/").content.decode())
    sent = {"small_size_text": "600 x 900 mm", "large_size_text": "1 x 2 m", "saves": opened}
    assert at_owner.post("/swatch-book/", sent | {"foreword": "Theirs.", "finishes": [shop.recipe.finish.pk]}).status_code == 302
    told(at_owner.post("/swatch-book/", sent | {"foreword": "Mine."}), "Theirs.", "Mine.")
    shop.recipe.finish.refresh_from_db()
    assert shop.recipe.finish.in_swatch_book
    assert SwatchBook.objects.get().foreword == "Theirs."


def test_a_job_is_booked_once(at_owner, shop, owner):
    order = shop.order()
    decide(quote=save_quote(order=order, by=owner, form_key=builders.key()), accepted=True)
    address = f"/jobs/{order.job.number}/"
    opened = version_on(at_owner.get(address).content.decode())
    day, other = today() + timedelta(days=20), today() + timedelta(days=40)
    sent = {"sample_approved": "on", "saves": opened}
    for _ in range(2):  # sent twice it is booked once
        theirs = sent | {"waived_because": "old friend", "due_on": day.isoformat()}
        assert at_owner.post(f"{address}book/", theirs).status_code == 302
    mine = sent | {"waived_because": "it is urgent", "due_on": other.isoformat()}
    told(at_owner.post(f"{address}book/", mine), "old friend", f"You asked for: due {other:%d %b %Y}, going ahead because “it is urgent”")
    late = at_owner.post(f"{address}cancel/", {"saves": opened})
    told(late, "booked", "Cancel the job")
    job = Job.objects.get()
    assert (job.state, job.due_on) == (Job.State.BOOKED, day)
    assert at_owner.post(f"{address}cancel/", {"saves": job.saves}).status_code == 302


def test_a_lot(at_owner, at_helper, shop):
    """The helper saw it held for its label; meanwhile the owner released it and held it again for its smell."""
    address = f"/stockroom/lots/{shop.silver_lot.pk}/"

    def send(client, act: str, why: str, saves: str):
        return client.post(f"{address}{act}/", {"why": why, "saves": saves, "key": builders.key()})

    assert send(at_helper, "hold", "label torn", version_on(at_helper.get(address).content.decode())).status_code == 302
    opened = version_on(at_helper.get(address).content.decode())
    assert send(at_owner, "release", "relabelled", opened).status_code == 302
    assert send(at_owner, "hold", "it smells", version_on(at_owner.get(address).content.decode())).status_code == 302
    told(send(at_helper, "release", "I wrote a new label", opened), "it smells", "I wrote a new label")
    lot = Lot.objects.get(pk=shop.silver_lot.pk)
    assert (lot.state, lot.hold_reason) == (Lot.State.HELD, "it smells")
    opening = at_helper.post(f"{address}open/", {"saves": opened, "key": builders.key()})
    told(opening, "it smells", "not opened")


def test_a_waste_container(at_owner, shop, owner):
    row = WasteContainer.objects.create(name="S-1", meant_for="rinse", opened_on=today())
    address = f"/stockroom/waste/{row.pk}/"
    opened = version_on(at_owner.get(address).content.decode())
    put_in(key=builders.key(), container=row, by=owner, what="rinse", agents=[], volume_ml=builders.Decimal(1500))
    handing = {"handed_on": today().isoformat(), "handed_to": "Ebb Refiners", "saves": opened}
    late = at_owner.post(f"{address}hand-over/", handing)
    told(late, "1500 mL", "Ebb Refiners")
    handing["saves"] = version_on(late.content.decode())
    assert at_owner.post(f"{address}hand-over/", handing).status_code == 302
    opened = version_on(at_owner.get(address).content.decode())
    back = {"returned_on": today().isoformat(), "saves": opened}
    assert at_owner.post(f"{address}came-back/", back | {"grams": "2.2"}).status_code == 302
    told(at_owner.post(f"{address}came-back/", back | {"grams": "3.3"}), "2.2 g", "3.3")
    row.refresh_from_db()
    assert row.returned_silver_g == builders.Decimal("2.2")
