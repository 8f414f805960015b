"""Long lists: heads that sort, by an address that can be kept, fifty rows a page, and no query a row."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Customer, Job, JobPhotograph, Order, Run, WorkTicket
from jobs.swatch_book import views as swatch_book_views
from jobs.swatch_book.guide_prices import Swatch
from recipes.models import Finish, Solution
from studio.house.clock import now, today
from studio.house.kept_files import keep
from studio.house.models import Person, PersonAct
from studio.stockroom.models import CountSheet, Delivery, Offcut, Purchase, WasteContainer
from tests import builders

pytestmark = pytest.mark.django_db
ROWS = 53


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def counts(shop, owner, number: int) -> None:
    CountSheet.objects.create(place=f"place {number:02}", as_of=now() - timedelta(hours=number), by=owner,
                              form_key=builders.key())


def offcuts(shop, owner, number: int) -> None:
    Offcut.objects.create(number=100 + number, material=shop.glass, width_mm=Decimal(300 + number), height_mm=400,
                          kept_at=now(), kept_by=owner, form_key=builders.key(), place=f"place {number:02}")


def containers(shop, owner, number: int) -> None:
    WasteContainer.objects.create(name=f"place {number:02}", meant_for="rinse", place="yard", opened_on=today())


def people(shop, owner, number: int) -> None:
    Person.objects.create(username=f"place-{number:02}", role="helper")


def trials(shop, owner, number: int) -> None:
    builders.trial(shop.recipe, owner, question=f"place {number:02}")


def customers(shop, owner, number: int) -> None:
    Customer.objects.create(name=f"place {number:02}")


def deliveries(shop, owner, number: int) -> None:
    builders.lot(shop.silver, "5", owner, delivery=Delivery.objects.create(
        supplier=f"place {number:02}", received_on=today(), key=builders.key()))


def lots(shop, owner, number: int) -> None:
    builders.lot(shop.silver, "5", owner, number=f"place {number:02}")


def runs(shop, owner, number: int) -> None:
    order = Order.objects.create(customer=Customer.objects.get_or_create(name="Ada")[0], title=f"place {number:02}",
                                 entered_at=now(), entered_by=owner, form_key=builders.key())
    job = Job.objects.create(number=order.pk, order=order)
    ticket = WorkTicket.objects.create(job=job, number=1, plan={}, made_at=now(), made_by=owner)
    Run.objects.create(ticket=ticket, opened_at=now())


def to_buy(shop, owner, number: int) -> None:
    builders.material(f"place {number:02}", reorder_point=Decimal(10))


def awaited(shop, owner, number: int) -> None:
    Purchase.objects.create(material=builders.material(f"place {number:02}"), quantity=5, ordered_on=today(),
                            form_key=builders.key())


@pytest.mark.parametrize(("address", "sort", "add"), [
    ("/stockroom/counts/", "sheet", counts), ("/stockroom/offcuts/", "where", offcuts),
    ("/stockroom/waste/", "container", containers), ("/studio/people/", "name", people),
    ("/finishes/trials/", "trial", trials), ("/jobs/customers/", "name", customers),
    ("/stockroom/deliveries/", "from", deliveries), ("/stockroom/silver-nitrate/", "lot", lots),
    ("/bench/runs/", "title", runs),
    ("/stockroom/buying/", "name", to_buy), ("/stockroom/buying/awaited/", "name", awaited),
])
def test_a_list_is_sorted_by_its_heads_and_fifty_rows_a_page(at_owner, owner, shop, address, sort, add):
    def shown(asked: str) -> list[str]:
        page = at_owner.get(f"{address}{asked}").content.decode().split("<main")[1]
        body = page.split("<tbody>")[1].split("</tbody>")[0].replace("place-", "place ")
        return list(dict.fromkeys(re.findall(r"place \d\d", body)))

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            at_owner.get(address)
        return len(seen)

    for number in range(3):
        add(shop, owner, number)
    queries()
    few = queries()
    for number in range(3, ROWS):
        add(shop, owner, number)
    assert queries() <= few + 1, "the pages are counted once there are several"
    named = [f"place {number:02}" for number in range(ROWS)]
    assert [one for one in shown(f"?sort={sort}") if one in named] == named[:len(shown(f"?sort={sort}"))]
    assert shown(f"?sort=-{sort}")[0] == named[-1]
    assert len(shown(f"?sort={sort}")) + len(shown(f"?sort={sort}&page=2")) == ROWS
    page = at_owner.get(f"{address}?sort={sort}").content.decode()
    assert 'aria-sort="ascending"' in page
    assert f"?sort={sort}&amp;page=2" in page
    assert "?sort=-" + sort in page


def test_solutions_are_sorted_by_their_name(at_owner, shop):
    names = sorted(Solution.objects.values_list("name", flat=True))
    page = at_owner.get("/finishes/solutions/?sort=-solution").content.decode().split("<tbody>")[1]
    assert [name for name in reversed(names) if f">{name}, version" in page] == list(reversed(names))
    assert page.index(names[-1]) <= page.index(names[0])


def test_open_counts_and_people_never_changed_stand_in_one_place_on_every_database(at_owner, owner):
    saved, still_open = (CountSheet.objects.create(place=place, as_of=now(), by=owner, form_key=builders.key())
                         for place in ("saved", "open"))
    CountSheet.objects.filter(pk=saved.pk).update(posted_at=now())
    helper = Person.objects.create(username="ivo", role="helper")
    PersonAct.objects.create(person=helper, at=now(), by=owner, what="was added")

    def rows(address: str) -> list[int]:
        return [row.pk for row in at_owner.get(address).context["listing"].rows]

    assert rows("/stockroom/counts/?sort=state") == [still_open.pk, saved.pk]
    assert rows("/stockroom/counts/?sort=-state") == [saved.pk, still_open.pk]
    assert rows("/studio/people/?sort=changed") == [helper.pk, owner.pk]
    assert rows("/studio/people/?sort=-changed") == [owner.pk, helper.pk]


def test_customers_are_listed_with_their_jobs_and_their_last_order(at_owner, at_helper, owner, shop):
    # given one who ordered twice, one who ordered once and later, and one who never did
    for name, on in (("Ada Fenwick", 3), ("Ada Fenwick", 4), ("bertram Oake", 9)):
        customer, _ = Customer.objects.get_or_create(name=name)
        entered = now() - timedelta(days=20 - on)
        order = Order.objects.create(customer=customer, title="Hall mirror", entered_at=entered, entered_by=owner,
                                     form_key=builders.key())
        Job.objects.create(number=order.pk, order=order)
    Customer.objects.create(name="Carl Nobody", phone="01632 5")

    def names(asked: str) -> list[str]:
        return [row.name for row in at_owner.get(f"/jobs/customers/{asked}").context["listing"].rows]

    # when the owner sorts the list by its heads, or asks for some; then each order holds, whichever the capitals
    assert names("") == ["Ada Fenwick", "bertram Oake", "Carl Nobody"]
    assert names("?sort=-jobs") == ["Ada Fenwick", "bertram Oake", "Carl Nobody"]
    assert names("?sort=-last") == ["Carl Nobody", "bertram Oake", "Ada Fenwick"]
    assert names("?q=01632") == ["Carl Nobody"]
    page = " ".join(at_owner.get("/jobs/customers/").content.decode().split())
    ada = Customer.objects.get(name="Ada Fenwick")
    assert f'<a href="/jobs/customers/{ada.pk}/">Ada Fenwick</a>' in page
    assert f'<a href="/jobs/?customer={ada.pk}">2<span class="hidden-words"> jobs of Ada Fenwick' in page
    # and the jobs and Find lead to it, for the owner alone
    for leads in ("/jobs/", f"/jobs/customers/{ada.pk}/", "/find/", "/find/?q=fenwick"):
        assert 'href="/jobs/customers/"' in at_owner.get(leads).content.decode(), leads
    assert at_helper.get("/jobs/customers/").status_code == 403
    assert "/jobs/customers/" not in at_helper.get("/find/?q=fenwick").content.decode()


def test_the_last_deliveries_stand_under_the_form_and_lead_to_all_of_them(at_owner, at_helper, owner, shop):
    for number in range(11):
        deliveries(shop, owner, number)
    page = at_owner.get("/stockroom/receive/").content.decode()
    assert "place 10" in page
    assert "place 00" not in page
    assert 'href="/stockroom/deliveries/"' in page
    assert "place 00" in at_owner.get("/stockroom/deliveries/").content.decode()
    assert at_helper.get("/stockroom/deliveries/").status_code == 403, "carriage is the owner's"


def test_lots_stand_as_they_are_picked_until_a_head_is_pressed(at_owner, at_helper, owner, shop):
    # given lots of which the one that is used first is neither the first nor the cheapest
    water = builders.material("Rinse water", "mL")
    for number, days, cost in (("B", 30, "9"), ("A", None, "2"), ("C", 5, "5")):
        builders.lot(water, "5", owner, number=number, cost=cost,
                     expires_on_given=days and today() + timedelta(days=days))

    def shown(client, asked: str = "") -> list[str]:
        return [lot.lot_number for lot, _ in client.get(f"/stockroom/rinse-water/{asked}").context["lots"]]

    # then they stand as they are picked, and as each head says
    assert shown(at_owner) == ["C", "B", "A"]
    assert shown(at_owner, "?sort=-lot") == ["C", "B", "A"]
    assert shown(at_owner, "?sort=lot") == ["A", "B", "C"]
    assert shown(at_owner, "?sort=-expires") == ["A", "B", "C"]
    assert shown(at_owner, "?sort=cost") == ["A", "C", "B"]
    # and a helper cannot ask which of them cost most
    assert shown(at_helper, "?sort=cost") == shown(at_helper, "?sort=-cost") == ["C", "B", "A"]


def test_the_runs_that_ended_stand_in_a_list_of_their_own(at_helper, owner, shop):
    # given a run that is due, one that is not said to be, and one that was cancelled
    for number in range(3):
        runs(shop, owner, number)
    Job.objects.filter(order__title="place 01").update(due_on=today())
    Job.objects.filter(order__title="place 02").update(state="cancelled", cancelled_because="no longer wanted")

    def shown(asked: str = "") -> list[str]:
        rows = at_helper.get(f"/bench/runs/{asked}").context["listing"].rows
        return [run.ticket.job.order.title for run in rows]

    # then the list tells them apart, and a run without a day comes after those with one, on every database
    assert shown("?state=ended") == ["place 02"]
    assert shown("?state=open&sort=due") == ["place 01", "place 00"]
    assert shown("?state=open&sort=-due") == ["place 00", "place 01"]
    assert len(shown()) == 3


def test_what_is_expected_first_stands_on_the_buying_page_and_leads_to_all_that_is_awaited(at_owner, at_helper, owner,
                                                                                           shop):
    # given eleven orders, of which the last alone is said to come on a day
    for number in range(11):
        awaited(shop, owner, number)
    Purchase.objects.filter(material__name="place 10").update(due_on=today())

    def shown(address: str) -> list[str]:
        return [row.material.name for row in at_owner.get(address).context["awaited"]]

    # then that one comes first on every database, the eleventh stands in the list, and the page leads there
    assert shown("/stockroom/buying/") == ["place 10", *(f"place {number:02}" for number in range(9))]
    assert shown("/stockroom/buying/awaited/")[-1] == "place 09"
    assert shown("/stockroom/buying/awaited/?sort=-expected") == list(reversed(shown("/stockroom/buying/awaited/")))
    page = at_owner.get("/stockroom/buying/").content.decode()
    assert '<a href="/stockroom/buying/awaited/">11 awaited</a>' in page
    assert at_helper.get("/stockroom/buying/awaited/").status_code == 403


def test_photographs_are_fifty_a_page_and_asked_by_what_they_show(at_owner, owner, shop):
    # given a job with more photographs than a page holds, the last of them at delivery
    job = shop.order().job
    address = f"/jobs/{job.number}/photographs/"
    picture = keep(builders.photograph(), name="site.jpg", media_type="image/jpeg", owner_only=False)

    def add(kind: str, caption: str) -> None:
        JobPhotograph.objects.create(key=builders.key(), job=job, kind=kind, caption=caption, picture=picture, at=now(),
                                     by=owner)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            at_owner.get(address)
        return len(seen)

    for number in range(3):
        add("site", f"wall {number}")
    queries()
    few = queries()
    for number in range(3, ROWS):
        add("hand-over" if number == ROWS - 1 else "site", f"wall {number}")
    # then no query grows with them, and what they show is asked by an address
    assert queries() <= few + 1
    assert len(at_owner.get(address).context["listing"].rows) == 50
    assert [row.caption for row in at_owner.get(f"{address}?page=2").context["listing"].rows] == [
        f"wall {number}" for number in range(50, ROWS)]
    assert [row.caption for row in at_owner.get(f"{address}?shows=hand-over").context["listing"].rows] == [
        f"wall {ROWS - 1}"]
    assert "?shows=site&amp;sort=&amp;page=2" in at_owner.get(f"{address}?shows=site").content.decode()


def test_the_swatch_book_shows_fifty_finishes_a_page(at_owner, shop, monkeypatch):
    finishes = [Finish.objects.create(name=f"place {number:02}") for number in range(ROWS)]
    priced: list[str] = []

    def swatches_of(book, of):
        priced.extend(finish.name for finish in of)
        return [Swatch(finish=finish, prices=()) for finish in of]

    monkeypatch.setattr(swatch_book_views, "finishes_in_it", lambda: finishes)
    monkeypatch.setattr(swatch_book_views, "swatches_of", swatches_of)

    def shown(asked: str = "") -> list[str]:
        return re.findall(r"<h2>(place \d\d)</h2>", at_owner.get(f"/swatch-book/{asked}").content.decode())

    assert shown() == [f"place {number:02}" for number in range(50)]
    assert len(priced) == 50  # none that the page does not show
    assert shown("?page=2") == [f"place {number:02}" for number in range(50, ROWS)]


def test_the_list_of_jobs_reads_nothing_frozen(at_owner, shop):
    shop.run()
    shop.booked()
    with CaptureQueriesContext(connection) as asked:
        html = at_owner.get("/jobs/").content.decode()
    assert "Ticket 1-1 is printed: begin at the bench." in html
    assert html.count(", accepted</span>") == 2
    wrong = [query["sql"] for query in asked for column in (
        '"jobs_quote"."basis"', '"jobs_quote"."plan"', '"jobs_quote"."figures"', '"jobs_workticket"."plan"')
        if column in query["sql"].partition(" FROM ")[0]]
    assert wrong == []
