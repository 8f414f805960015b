"""A month closed: each table against a reckoning of its own, its columns, its days, and who may see it."""

from __future__ import annotations

import csv
from collections import defaultdict
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from jobs.models import Customer, JobAct, MoneyRequest
from jobs.money import month
from jobs.money.columns import OWED, PARTS
from jobs.money.month import Days
from jobs.money.requests import ask_balance, ask_deposit, take_back
from jobs.quotes.quoting import decide, save_quote
from jobs.work.booking import deliver
from jobs.work.coming_in import give_back, take_in, undo_taking_in
from jobs.work.correcting import correct_deduction, deducted
from jobs.work.finishing import finish_run
from studio.house.clock import house_zone, pretend, today
from studio.house.models import House, Person
from studio.stockroom.models import Lot, LotLevel
from studio.whole.audit import audit
from studio.whole.book.load import load_file
from tests import builders

pytestmark = pytest.mark.django_db
BOOK = Path(__file__).resolve().parents[3] / "studio" / "whole" / "demo" / "book.json"

#: what is read by programs: these names in this order, for ever
HEADS = {
    "requested": "number,kind,asked_on,due_on,customer,job,quote,takes_back,net,tax,total,currency",
    "tax": "tax_name,tax_share,number,asked_on,customer,net,tax,total,currency",
    "payments": "day,job,customer,what,how,amount,currency,note,recorded_at",
    "deposits": "job,title,customer,state,held,currency",
    "materials": "material,stock_unit,used_for,job,quantity,cost,currency",
    "stock": "material,lot,stock_unit,quantity,unit_cost,value,currency",
    "work": "job,title,customer,material,stock_unit,quantity,cost,currency",
}
OWED_HEAD = "customer,job,title,number,kind,asked_on,due_on,days_late,asked,taken_back,paid,open,currency"


def table(client, name: str, first: date, last: date) -> list[dict[str, str]]:
    answer = client.get(f"/jobs/money/month/{name}.csv", {"first": first.isoformat(), "last": last.isoformat()})
    text = b"".join(answer.streaming_content).decode()
    assert text.splitlines()[0] == HEADS[name]
    return list(csv.DictReader(StringIO(text)))


def asked(statement: str, *values: object) -> list[tuple]:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return cursor.fetchall()


def test_the_columns_are_what_they_were():
    assert {part.name: ",".join(part.head) for part in PARTS} == HEADS
    assert ",".join(OWED.head) == OWED_HEAD
    assert all(column.means for part in (*PARTS, OWED) for column in part.columns)


def days(first: date, last: date) -> Days:
    return Days(first=first, last=last, zone=house_zone(), currency="GBP")


def sum_of(rows: list[dict[str, str]], column: str) -> Decimal:
    return sum((Decimal(row[column]) for row in rows), Decimal(0))


def test_a_month_of_the_demo_is_what_its_rows_say(client, db):
    """Given the demo; when each of its last three months is closed; then every table is what a plain reckoning says."""
    load_file(BOOK)
    client.force_login(Person.objects.get(username="maud"))
    assert audit() == []
    zone = house_zone()
    latest = max(row.asked_on for row in MoneyRequest.objects.all())
    met: dict[str, int] = defaultdict(int)
    for back in range(4):
        last = latest - timedelta(days=30 * back)
        first = last - timedelta(days=29)
        begins = datetime.combine(first, datetime.min.time(), zone)
        ends = datetime.combine(last + timedelta(days=1), datetime.min.time(), zone)
        rows = {name: table(client, name, first, last) for name in HEADS}
        for name, found in rows.items():
            met[name] += len(found)
        net, tax, total, count = asked(
            "SELECT COALESCE(SUM(net), 0), COALESCE(SUM(tax), 0), COALESCE(SUM(total), 0), COUNT(*) FROM jobs_moneyrequest "
            "WHERE asked_on BETWEEN %s AND %s", first, last)[0]
        assert len(rows["requested"]) == count
        for name in ("requested", "tax"):
            assert [sum_of(rows[name], column) * 10000 for column in ("net", "tax", "total")] == [net, tax, total]
        movements = asked("SELECT p.at, m.kind, m.quantity, m.unit_cost, m.lot_id FROM inventory_stockmovement m JOIN inventory_posting p ON p.id = m.posting_id")
        when = [(at if isinstance(at, datetime) else datetime.fromisoformat(at), *rest) for at, *rest in movements]
        when = [(at if at.tzinfo else at.replace(tzinfo=UTC), *rest) for at, *rest in when]
        assert sum_of(rows["materials"], "cost").scaleb(9) == -sum(q * c for at, kind, q, c, _ in when if kind == "use" and begins <= at < ends)
        assert sum_of(rows["stock"], "value").scaleb(9) == sum(q * c for at, _, q, c, _ in when if at < ends)
        held: dict[int, int] = defaultdict(int)
        for lot, quantity in ((lot, q) for at, _, q, _, lot in when if at < ends):
            held[lot] += quantity
        assert len(rows["stock"]) == sum(1 for quantity in held.values() if quantity)
        before, moved, after = month.stock_moved(days(first, last))
        assert before + sum(moved.values()) == after == sum_of(rows["stock"], "value")
        _money_is(rows, first, last, ends, zone)
    assert min(met[name] for name in HEADS) > 0, dict(met)


def _money_is(rows, first, last, ends, zone) -> None:
    """Reckon payments, deposits held and work under way from every act, one after another."""
    came: Decimal = Decimal(0)
    in_hand: dict[int, Decimal] = defaultdict(Decimal)
    gone: dict[int, list[str]] = defaultdict(list)
    for act in JobAct.objects.select_related("undoes", "job").order_by("pk"):
        one, sign = (act.undoes, -1) if act.undoes else (act, 1)
        day = act.on or (act.at.astimezone(zone).date() if act.at else date.min)
        if one.kind in ("paid", "given back"):
            amount = sign * one.amount * (1 if one.kind == "paid" else -1)
            if first <= day <= last:
                came += amount
            if day <= last:
                in_hand[act.job.number] += amount
        elif one.kind in ("delivered", "cancelled") and (act.at is None or act.at < ends):
            if sign > 0:
                gone[act.job.number].append(one.kind)
            else:
                gone[act.job.number].remove(one.kind)
    assert sum_of(rows["payments"], "amount") == came
    expected = {number: amount for number, amount in in_hand.items() if amount and "delivered" not in gone[number]}
    assert {int(row["job"]): Decimal(row["held"]) for row in rows["deposits"]} == expected
    used: dict[int, int] = defaultdict(int)
    for number, at, quantity, cost in asked(
        "SELECT j.number, p.at, m.quantity, m.unit_cost FROM jobs_run r JOIN jobs_workticket t ON t.id = r.ticket_id JOIN jobs_job j ON j.id = t.job_id "
        "JOIN inventory_posting p ON p.id = r.posting_id JOIN inventory_stockmovement m ON m.posting_id = p.id"):
        at = at if isinstance(at, datetime) else datetime.fromisoformat(at)
        if (at if at.tzinfo else at.replace(tzinfo=UTC)) < ends and not gone[number]:
            used[number] -= quantity * cost
    work: dict[int, Decimal] = defaultdict(Decimal)
    for row in rows["work"]:
        work[int(row["job"])] += Decimal(row["cost"]).scaleb(9)
    assert {number: cost for number, cost in work.items() if cost} == {number: cost for number, cost in used.items() if cost}


@pytest.fixture
def shop(owner, rates):
    """The studio of these tests, furnished before the days that they close."""
    with pretend(datetime(2026, 2, 1, 9, tzinfo=UTC)):
        builders.house(tax_number="EU 123", request_prefix="R-", request_first_number=41)
        return builders.Workshop(owner)


@pytest.fixture
def story(shop, owner):
    """A job from deposit to delivery over three months, its deduction corrected once, a payment undone."""
    House.objects.update(time_zone="America/New_York")
    shop_days = [datetime(2026, 3, 31, 23, 30, tzinfo=UTC), datetime(2026, 4, 1, 3, 30, tzinfo=UTC), datetime(2026, 4, 1, 4, 30, tzinfo=UTC)]
    with pretend(datetime(2026, 3, 1, 15, tzinfo=UTC)):
        order = shop.order()
        quote = save_quote(order=order, by=owner, form_key=builders.key())
        decide(quote=quote, accepted=True)
    job = order.job
    with pretend(shop_days[1]):  # the last half hour of March in New York
        ask_deposit(job=job, by=owner, key=builders.key(), amount=quote.deposit)
    with pretend(shop_days[2]):
        take_in(job=job, by=owner, key=builders.key(), amount=quote.deposit, how="card")
    return job, quote


def test_days_are_the_studios_own(story, at_owner):
    march = table(at_owner, "requested", date(2026, 3, 1), date(2026, 3, 31))
    assert [(row["number"], row["asked_on"]) for row in march] == [("R-41", "2026-03-31")]
    assert table(at_owner, "payments", date(2026, 3, 1), date(2026, 3, 31)) == []
    paid = table(at_owner, "payments", date(2026, 4, 1), date(2026, 4, 1))
    assert [(row["day"], row["how"], row["recorded_at"]) for row in paid] == [("2026-04-01", "card", "2026-04-01T00:30:00-04:00")]


def test_a_closed_month_stays_as_it_was_whatever_is_undone_later(story, owner, at_owner):
    _, quote = story
    april = date(2026, 4, 1), date(2026, 4, 30)
    before = table(at_owner, "payments", *april), table(at_owner, "deposits", *april)
    with pretend(datetime(2026, 5, 5, 12, tzinfo=UTC)):
        undo_taking_in(act=JobAct.objects.get(kind="paid"), by=owner, why="Another's money")
    assert (table(at_owner, "payments", *april), table(at_owner, "deposits", *april)) == before
    may = table(at_owner, "payments", date(2026, 5, 1), date(2026, 5, 31))
    assert [(row["what"], Decimal(row["amount"])) for row in may] == [("in (undone)", -quote.deposit)]
    assert table(at_owner, "deposits", date(2026, 5, 1), date(2026, 5, 31)) == []


def test_work_is_in_progress_until_it_is_delivered_and_a_correction_counts_once(shop, owner, at_owner):
    with pretend(datetime(2026, 3, 2, 10, tzinfo=UTC)):
        run = builders.worked(shop.run(), owner)
        finish_run(run=run, by=owner)
        run.refresh_from_db()
        rows = deducted(run)
        used = sum((row.amount * row.lot.unit_cost for row in rows), Decimal(0))
    with pretend(datetime(2026, 4, 2, 10, tzinfo=UTC)):
        first = rows[0]
        half = (first.amount / 2).quantize(Decimal("0.001"))
        correct_deduction(run=run, by=owner, key=builders.key(), amounts={row.lot.pk: row.amount for row in rows} | {first.lot.pk: half}, why="half of it")
        less = (first.amount - half) * first.lot.unit_cost
    with pretend(datetime(2026, 5, 2, 10, tzinfo=UTC)):
        deliver(job=run.ticket.job, by=owner)
    march, april, may = ((date(2026, at, 1), date(2026, at, 28)) for at in (3, 4, 5))
    number = str(run.ticket.job.number)
    assert sum_of(table(at_owner, "materials", *march), "cost") == sum_of(table(at_owner, "work", *march), "cost") == used
    april_rows = table(at_owner, "materials", *april)
    assert sum_of(april_rows, "cost") == -less
    assert {(row["used_for"], row["job"]) for row in april_rows} == {("job", number)}
    assert sum_of(table(at_owner, "work", *april), "cost") == used - less
    assert table(at_owner, "work", *may) == []
    assert sum_of(table(at_owner, "deposits", *april), "held") == run.ticket.job.quote.deposit
    assert table(at_owner, "deposits", *may) == []
    stock = sum(level.on_hand * level.lot.unit_cost for level in LotLevel.objects.select_related("lot"))
    assert sum_of(table(at_owner, "stock", *may), "value") == stock


def test_what_was_over_before_a_month_is_not_read_for_it(shop, owner):
    with pretend(datetime(2026, 3, 2, 10, tzinfo=UTC)):
        run = builders.worked(shop.run(), owner)
        finish_run(run=run, by=owner)
    with pretend(datetime(2026, 5, 2, 10, tzinfo=UTC)):
        deliver(job=run.ticket.job, by=owner)
    march, may = days(date(2026, 3, 1), date(2026, 3, 31)), days(date(2026, 5, 1), date(2026, 5, 31))

    job = run.ticket.job
    assert list(month._maybe_not(march.ends, "delivered")) == list(month._maybe_not(march.ends, "delivered", "cancelled")) == [job]
    assert not month._maybe_not(may.ends, "delivered").exists()
    for reckon in (month.deposits, month.work):
        assert {row[0] for row in reckon(march)} == {job.number}
        assert list(reckon(may)) == []


def test_credits_count_against_and_money_given_back_goes_out(story, owner, at_owner):
    job, quote = story
    with pretend(datetime(2026, 4, 10, 12, tzinfo=UTC)):
        rest = ask_balance(job=job, by=owner, key=builders.key())
        take_back(request=rest, by=owner, key=builders.key(), why="=1+1 too soon")
        give_back(job=job, by=owner, key=builders.key(), amount=Decimal(7), how="cash", note="=cmd|' /C calc'!A0")
    april = date(2026, 4, 1), date(2026, 4, 30)
    assert sum_of(table(at_owner, "requested", *april), "total") == 0
    assert sum_of(table(at_owner, "tax", *april), "tax") == 0
    paid = table(at_owner, "payments", *april)
    assert [Decimal(row["amount"]) for row in paid] == [quote.deposit, Decimal(-7)]
    assert paid[1]["note"].startswith("'=cmd")
    Customer.objects.update(name="=HYPERLINK(1)")
    assert {row["customer"] for row in table(at_owner, "requested", *april)} == {"'=HYPERLINK(1)"}


def test_pages_ask_as_often_however_many_rows_there_are(story, shop, owner, at_owner):
    addresses = ["/jobs/money/month/?first=2026-03-01&last=2026-04-30", "/jobs/money/owed/", "/jobs/money/requests/",
                 *(f"/jobs/money/month/{name}/?first=2026-03-01&last=2026-04-30" for name in HEADS)]
    counted: list[int] = []

    def another(size: str) -> None:
        with pretend(datetime(2026, 4, 3, 12, tzinfo=UTC)):
            ask_balance(job=shop.booked(shop.line(size, 1)), by=owner, key=builders.key())

    another("250 x 400 mm")  # one that owes: of who is even nothing is read
    for _ in range(2):
        for address in addresses:
            with CaptureQueriesContext(connection, ) as queries:
                assert at_owner.get(address).status_code == 200
            counted.append(len(queries))
        for at in range(3):
            another(f"{300 + at} x 400 mm")
    half = len(addresses)
    assert counted[:half] == counted[half:]


@pytest.mark.parametrize(("asks", "says"), [
    ({"first": "2026-05-02", "last": "2026-05-01"}, "before the first"), ({"first": "x", "last": "2026-05-01"}, "was not understood"),
    ({"first": "1 Jan 1980", "last": "2026-05-01"}, "before any studio"), ({"first": "", "last": ""}, "required"),
])
def test_days_that_cannot_be_are_asked_back(shop, at_owner, asks, says):
    for address in ("/jobs/money/month/", "/jobs/money/month/stock/", "/jobs/money/month/stock.csv"):
        answer = at_owner.get(address, asks)
        assert answer.status_code == 422
        assert says in answer.content.decode()


def test_who_may_see_what(shop, owner, client, at_helper):
    """The desk asks for money and sees what is owed; a month's costs are the owner's; a helper meets none of it."""
    ask_balance(job=shop.booked(), by=owner, key=builders.key())
    pk, number = MoneyRequest.objects.get().pk, MoneyRequest.objects.get().job.number
    desks = ["/jobs/money/owed/", "/jobs/money/owed.csv", "/jobs/money/requests/", f"/jobs/money/requests/{pk}/paper.pdf",
             f"/jobs/money/requests/{pk}/credit/", f"/jobs/{number}/requests/"]
    owners = ["/jobs/money/month/", "/jobs/money/month/stock/", "/jobs/money/month/stock.csv"]
    client.force_login(builders.person("nell", "desk"))
    assert {client.get(address).status_code for address in desks} == {200}
    assert {client.get(address).status_code for address in owners} == {403}
    assert "Close a month" not in client.get("/jobs/money/owed/").content.decode()
    assert {at_helper.get(address).status_code for address in (*desks, *owners)} == {403}


@pytest.mark.parametrize("at", [1, 2])
def test_a_posting_while_the_stock_is_reckoned_counts_whole_or_not_at_all(shop, owner, at):
    """Given a delivery that comes before any one of its queries; then the stock of before is what it was."""
    first = today() - timedelta(days=30)
    span, before_it = days(first, today()), days(first, first - timedelta(days=1))
    asked: list[str] = []

    def delivered_meanwhile(execute, sql, params, many, context):
        asked.append(sql)
        if len(asked) == at:
            builders.lot(shop.glass, "7", owner, f"Come {len(asked)} {Lot.objects.count()}")
        return execute(sql, params, many, context)

    def reckoned() -> tuple[Decimal, Decimal]:
        before, moved, after = month.stock_moved(span)
        assert before + sum(moved.values()) == after
        return before, after

    stood = reckoned()
    with connection.execute_wrapper(delivered_meanwhile):
        meanwhile = reckoned()
    assert len(asked) > at
    assert meanwhile in (stood, reckoned())
    asked.clear()
    with connection.execute_wrapper(delivered_meanwhile):
        before = sum((row[5] for row in month.stock(before_it)), Decimal(0))
    assert before == stood[0]
