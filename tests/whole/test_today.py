"""Today: one list in order with reasons, safety first, each thing once; and what a helper never sees of it."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import given
from hypothesis import strategies as st

from jobs.models import Job, Order, Run, RunEntry
from jobs.quotes.quoting import decide, mark_sent, save_quote
from jobs.work.booking import book_job
from jobs.work.coming_in import take_in
from jobs.work.finishing import finish_run
from recipes.models import TrialRecord
from recipes.trials.records import settle
from studio.house.clock import now, pretend, today
from studio.kit.roles import May, may
from studio.stockroom.lots.keeping import hold_lot
from studio.stockroom.models import CountLine, CountSheet, Lot, Purchase
from studio.whole.day_words import counted, day_words, due_words, hour_words
from studio.whole.opening import first_line, second_line
from studio.whole.to_do import (
    AnswerToRead,
    BackupDue,
    BegunCount,
    Doubt,
    EndingLot,
    JobToSee,
    NotTaken,
    OpenRun,
    OpenTrial,
    Rank,
    Silver,
    to_do,
)
from studio.whole.today import gather
from tests import builders
from tests.jobs.work.test_clock import TEN, mixed

DAY = date(2026, 11, 26)


def as_owner(what: May) -> bool:
    return may("owner", what)


def as_helper(what: May) -> bool:
    return may("helper", what)


HALF_PAST_FIVE = datetime(2026, 11, 26, 17, 30, tzinfo=UTC)


def silver(clock: int = 1, at: datetime = HALF_PAST_FIVE, *, alarms: bool = False) -> Silver:
    return Silver(clock=clock, what="Silver part, load 1", where="Ticket 4-1", began="Mixed 15:42", alarm_from=at,
                  alarms=alarms, address="/bench/1/#made-safe", run=1)


def run(pk: int = 1, due: date | None = None, **more: object) -> OpenRun:
    return OpenRun(**{"pk": pk, "ticket": f"Ticket {pk}-1", "title": "Foyer panels", "due": due, "stands": "load 2 at step 8",
                      "address": f"/bench/{pk}/", **more})


def lot(pk: int = 1, on: date = DAY, *, past: bool = False) -> EndingLot:
    return EndingLot(pk=pk, number=f"L{pk}", material="Ammonia", there="912 mL", until="16 Nov", on=on, is_past=past, address="/lot/")


def job(number: int, rank: Rank, due: date | None = None) -> JobToSee:
    return JobToSee(number=number, rank=rank, what=f"See to job {number}", button="See", address="/jobs/", why="Because.", due=due)


def doubt(about: tuple[str, int] = ("version", 1), *, needs: May = May.RECIPES) -> Doubt:
    return Doubt(about=about, what="Make Plain silver sound", why="It is in doubt.", address="/", button="Look", needs=needs)


#: one of each, as the bench would order them
IN_ORDER = [
    silver(), run(), doubt(), NotTaken(pk=1, where="Ticket 4-1", why="The run was over.", address="/"), lot(1, DAY - timedelta(9), past=True),
    lot(2), job(5, Rank.DELIVER, DAY - timedelta(2)),
    AnswerToRead(number=6, title="Hall mirror", address="/", why="Rose Askew accepted Quote 6."), job(1, Rank.TICKET), job(2, Rank.DELIVER), job(3, Rank.QUOTE),
    OpenTrial(number=9, finish="Smoke Veil", question="Hot air?", begun=DAY, address="/"),
    BegunCount(pk=1, place="the dry shelf", counted=9, of=14, begun=DAY, address="/"), job(4, Rank.PRICE),
    BackupDue(made_on=DAY - timedelta(9), address="/"),
]


@given(st.permutations(IN_ORDER))
def test_safety_comes_first_however_it_was_gathered(known):
    tasks = to_do(known, DAY, as_owner)
    assert [task.rank for task in tasks] == list(Rank)
    assert [task.about for task in tasks] == [fact.task(DAY).about for fact in IN_ORDER]
    for task in tasks:
        assert task.what
        assert task.why.endswith((".", "?"))
        assert task.button


@given(st.lists(st.sampled_from(IN_ORDER), max_size=30))
def test_each_stands_once_and_a_helper_is_given_no_more_than_his_own(known):
    tasks = to_do(known, DAY, as_owner)
    assert len({task.about for task in tasks}) == len(tasks) == len({fact.task(DAY).about for fact in known})
    assert to_do(known, DAY, as_helper) == [task for task in tasks if task.needs == May.WORK]


def test_one_thing_stands_where_it_is_most_pressing():
    in_doubt = doubt(("job", 7))
    assert [task.rank for task in to_do([job(7, Rank.TICKET), in_doubt], DAY, as_owner)] == [Rank.DOUBT]
    held = doubt(("lot", 1))
    assert [task.rank for task in to_do([lot(1, past=True), held], DAY, as_owner)] == [Rank.DOUBT]


def test_within_a_rank_what_presses_sooner_comes_first():
    late, soon = silver(1, HALF_PAST_FIVE), silver(2, HALF_PAST_FIVE - timedelta(hours=1))
    assert [task.about for task in to_do([late, soon], DAY, as_helper)] == [("silver", 2), ("silver", 1)]
    undated, due, overdue = run(1), run(2, DAY), run(3, DAY - timedelta(2))
    tasks = to_do([undated, due, overdue], DAY, as_helper)
    assert [(task.about[1], task.when) for task in tasks] == [(3, "due 24 Nov, 2 days late"), (2, "due today"), (1, "")]


def test_what_is_done_and_late_goes_before_tickets_that_have_time():
    late, due, later, soon = (job(1, Rank.DELIVER, DAY - timedelta(3)), job(2, Rank.TICKET, DAY),
                              job(3, Rank.TICKET, DAY + timedelta(9)), job(4, Rank.DELIVER, DAY + timedelta(1)))
    tasks = to_do([later, soon, due, late], DAY, as_owner)
    assert [(task.about[1], task.rank) for task in tasks] == [
        (1, Rank.DUE), (2, Rank.DUE), (3, Rank.TICKET), (4, Rank.DELIVER)]
    assert tasks[0].when == "due 23 Nov, 3 days late"
    quote = JobToSee(number=9, rank=Rank.QUOTE, what="Ask", button="Ask", address="/", why="Because.", due=DAY)
    assert quote.task(DAY).rank == Rank.QUOTE


def test_past_its_limit_nobody_is_told_to_touch_it():
    task = silver(alarms=True).task(DAY)
    assert "safe" not in task.what
    assert "read what to do" in task.why
    line = first_line([task], [run()], [silver(alarms=True)], DAY)
    assert line == "One run is on the bench; Silver part, load 1 stands past its limit: read what to do before anybody touches it."


def test_a_full_count_is_the_owners_to_save_and_the_rest_a_helpers_to_count():
    begun = BegunCount(pk=1, place="", counted=9, of=14, begun=DAY, address="/")
    full = BegunCount(pk=2, place="the dry shelf", counted=14, of=14, begun=DAY, address="/")
    assert [task.what for task in to_do([begun, full], DAY, as_helper)] == ["Go on with the count of all places"]
    assert [task.what for task in to_do([begun, full], DAY, as_owner)] == [
        "Go on with the count of all places", "Save the count of the dry shelf"]


@pytest.mark.parametrize(("known", "first", "second"), [
    ([], "Nothing is on the bench, and nothing waits to be done.", "Nothing due is late."),
    ([silver(), run(), lot(1), lot(2, past=True), job(1, Rank.TICKET)],
     "One run is on the bench; leftovers of it must be made safe by half past five.",
     "Then two lots to look after and one ticket to make. Nothing due is late."),
    ([run(1), run(2)], "Two runs are on the bench.", "Nothing due is late."),
    ([run(1), lot(1), job(4, Rank.PRICE)], "One run is on the bench; then use or renew Ammonia, L1.",
     "After that one order to price. Nothing due is late."),
    ([job(1, Rank.TICKET)], "Nothing is on the bench; next, see to job 1.", "Nothing due is late."),
    ([silver(1), silver(2), run(2)], "One run is on the bench; ammoniacal silver must be made safe by half past five.",
     "Nothing due is late."),
])
def test_the_first_two_lines_say_how_things_stand(known, first, second):
    tasks = to_do(known, DAY, as_owner)
    runs = [fact for fact in known if isinstance(fact, OpenRun)]
    stands = [fact for fact in known if isinstance(fact, Silver)]
    assert first_line(tasks, runs, stands, DAY) == first
    said = not stands and any(task.rank > Rank.BENCH for task in tasks)
    assert second_line(tasks, [], DAY, first_is_said=said) == second


def test_what_is_late_is_said_with_its_days():
    late = [("Hall mirror", DAY - timedelta(1)), ("Foyer panels", DAY - timedelta(3))]
    assert second_line([], late[:1], DAY, first_is_said=False) == "Hall mirror is 1 day late."
    assert second_line([], late, DAY, first_is_said=False) == "Two jobs are late, Foyer panels by 3 days."


@pytest.mark.parametrize(("hour", "minute", "words"), [
    (17, 30, "half past five"), (17, 0, "five o’clock"), (16, 45, "quarter to five"), (12, 15, "quarter past twelve"),
    (0, 30, "half past twelve"), (11, 45, "quarter to twelve"), (23, 45, "quarter to twelve"), (9, 42, "09:42"),
])
def test_hours_are_said_as_people_say_them(hour, minute, words):
    assert hour_words(datetime(2026, 11, 26, hour, minute, tzinfo=UTC)) == words


def test_days_have_their_month_in_words_and_another_year_its_number():
    assert [day_words(DAY + timedelta(days), DAY) for days in (0, 1, 5, 365)] == ["today", "tomorrow", "Tue 1 Dec", "26 Nov 2027"]
    assert due_words(None, DAY) == ""
    assert (counted(1, "run"), counted(2, "mix", "mixes"), counted(13, "run")) == ("one run", "two mixes", "13 runs")


# The page, of studios made by hand

pytest_db = pytest.mark.django_db


def shown(client) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", client.get("/").content.decode().split('<main')[1]).split())


def tasks_of(person) -> list[tuple[Rank, str]]:
    return [(task.rank, task.what) for task in gather(person, today()).tasks]


@pytest_db
def test_a_morning_with_silver_on_the_bench(morning_workshop, owner, helper, at_owner, at_helper):
    open_run = morning_workshop.run(morning_workshop.line(quantity=2))
    mixed(open_run, helper)
    with pretend(TEN + timedelta(minutes=30)):
        assert tasks_of(helper)[:2] == [
            (Rank.SILVER, "Make Silver part, load 1 safe"), (Rank.BENCH, "Hall mirror: load 1 mixing for step 3")]
        page = shown(at_helper)
        assert "One run is on the bench; leftovers of it must be made safe by twelve o’clock." in page
        assert "Mixed 10:00, Ticket 1-1." in page
        for client in (at_owner, at_helper):
            html = client.get("/").content.decode()
            tasks = html[html.index('<ol class="tasks"'):html.index("</ol>", html.index('<ol class="tasks"'))]
            assert tasks.count('class="button"') == 1
            assert tasks.index('class="button"') < tasks.index("Hall mirror")
            assert html.count('class="button"') == 1
        assert "Ada Fenwick" in shown(at_owner)
        assert "Ada Fenwick" not in page
    with pretend(TEN + timedelta(hours=3)):
        assert "stands past its limit: read what to do before anybody touches it" in shown(at_helper)


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


@pytest_db
def test_where_a_run_stands_follows_what_is_recorded(shop, owner, helper):
    open_run = shop.run(shop.line(quantity=2))
    stands = [dict(tasks_of(helper))[Rank.BENCH]]
    for kind, content in ((RunEntry.Kind.CONDITIONS, {"air_c": "20"}), (RunEntry.Kind.GLASS, {"sheets": 1})):
        RunEntry.objects.create(run=open_run, client_key=uuid4(), kind=kind, content=content, at=now(), by=owner,
                                subject="clear-4-mm" if kind == RunEntry.Kind.GLASS else "")
        stands.append(dict(tasks_of(helper))[Rank.BENCH])
    assert stands == ["Hall mirror: record the conditions", "Hall mirror: cut the glass", "Hall mirror: mixing for the whole job"]
    builders.worked(open_run, owner)
    assert dict(tasks_of(helper))[Rank.BENCH] == "Hall mirror: ready to be finished"
    finish_run(run=open_run, by=owner)
    assert (Rank.DELIVER, "Pack and deliver Hall mirror") in tasks_of(owner)
    assert Rank.DELIVER not in dict(tasks_of(helper))


@pytest_db
def test_the_owners_desk_by_how_each_job_stands(shop, owner, helper, at_owner, at_helper):
    priced = shop.order()
    drafted = shop.order()
    save_quote(order=drafted, by=owner, form_key=builders.key())
    out = shop.order()
    sent = save_quote(order=out, by=owner, form_key=builders.key())
    mark_sent(sent)
    accepted = shop.order()
    decide(quote=save_quote(order=accepted, by=owner, form_key=builders.key()), accepted=True)
    shop.booked()
    desk = [(Rank.TICKET, "Make the work ticket of Hall mirror"), (Rank.QUOTE, "Book Hall mirror"),
            (Rank.QUOTE, "Look over and send Quote 1, Hall mirror"), (Rank.PRICE, "Price Hall mirror")]
    assert sorted(tasks_of(owner)) == sorted(desk)
    assert tasks_of(helper) == []
    page = shown(at_owner)
    assert "answers quote 2, Hall mirror" in page
    assert "sample and deposit of Hall mirror, quote 3" in page
    assert f"You: price {priced.title}" in page
    for_the_helper = shown(at_helper)
    assert "Ada Fenwick" not in for_the_helper
    assert "€" not in for_the_helper
    with pretend(now() + timedelta(days=26)):
        assert (Rank.QUOTE, "Ask about Quote 2, Hall mirror") in tasks_of(owner)
    with pretend(now() + timedelta(days=31)):
        # what lapsed is left to the list of jobs, and so is what was declined
        assert [what for _, what in tasks_of(owner) if "Quote" in what] == []
        assert "quote 2" not in shown(at_owner)
    decide(quote=sent, accepted=False)
    assert "quote 2" not in shown(at_owner)
    assert sorted(tasks_of(owner)) == sorted(desk)


@pytest_db
def test_what_the_bench_of_a_trial_could_not_send_waits_on_everybody(shop, owner, helper, at_helper):
    tried = builders.trial(shop.recipe, owner)
    waiting = [TrialRecord.objects.create(trial=tried, key=uuid4(), kind="mixed", subject="s1p1", done_at=now(), at=now(),
                                          by=helper, why=why) for why in ("Too little is on the shelf.", "Recorded already.")]
    assert [rank for rank, _ in tasks_of(helper)[:2]] == [Rank.NOT_TAKEN] * 2
    page = at_helper.get("/").content.decode()
    assert "Say what became of a record of Trial 1" in page
    assert "Too little is on the shelf." in page
    assert f'/trials/{tried.number}/#waiting"' in page
    for record in waiting:
        settle(waiting=record, by=helper, because="Weighed again.")
    assert Rank.NOT_TAKEN not in dict(tasks_of(helper))


@pytest_db
def test_once_a_quote_was_saved_today_speaks_no_more_of_setting_up(shop, owner, at_owner):
    order = shop.order()
    assert "Setting up the studio" in shown(at_owner)
    save_quote(order=order, by=owner, form_key=builders.key())
    assert "Setting up the studio" not in shown(at_owner)


@pytest_db
def test_the_oldest_enquiry_is_priced_first(shop, owner):
    for title, days in (("Alcove", 0), ("Zinc bar", 3)):
        with pretend(now() - timedelta(days=days)):
            order = shop.order()
            Order.objects.filter(pk=order.pk).update(title=title)
    assert [what for _, what in tasks_of(owner)] == ["Price Zinc bar", "Price Alcove"]


@pytest_db
def test_what_a_booking_went_ahead_without_waits_on_its_customer(shop, owner, at_owner):
    order = shop.order()
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    decide(quote=quote, accepted=True)
    book_job(job=order.job, by=owner, sample_approved=True, deposit_noted=False, waived_because="an old friend", due_on=today())
    with pretend(now() + timedelta(days=6)):
        page = shown(at_owner)
        assert "deposit of Hall mirror" in page
        assert "6 days since" in page
        assert "approves the sample" not in page
        assert "goes ahead by your word: an old friend." in page
        assert "Hall mirror is 6 days late." in page
        take_in(job=order.job, by=owner, key=builders.key(), amount=Decimal(1))
        assert [(row.what, row.amount) for row in gather(owner, today()).customers] == [
            ("rest of the deposit of Hall mirror", f"€{quote.deposit - 1:,.2f}")]


@pytest_db
def test_the_shelf_says_what_turns_and_what_is_promised(shop, owner, helper, at_helper):
    Lot.objects.filter(lot_number="A1").update(expires_on_given=today() - timedelta(days=1))
    Lot.objects.filter(lot_number="D1").update(expires_on_given=today())
    Lot.objects.filter(lot_number="W1").update(expires_on_given=today() + timedelta(days=30))
    Lot.objects.filter(lot_number="C1").update(expires_on_given=today() + timedelta(days=31))
    builders.lot(shop.ammonia, "500", owner, "A2")
    hold_lot(key=builders.key(), lot=shop.silver_lot, by=owner, why="grey specks")
    assert tasks_of(helper)[:2] == [(Rank.EXPIRED, "Discard Ammonia 28 %, A1"), (Rank.TURNS_TODAY, "Use or renew Dextrose, D1")]
    known = gather(helper, today())
    assert [(row.number, row.tone, row.colour) for row in known.shelf] == [
        ("A1", "danger", "gone"), ("D1", "attention", "held"), ("W1", "attention", "held"), ("S1", "danger", "held")]
    page = shown(at_helper)
    assert "A2 is usable." in page
    assert "No other lot of it is usable." in page
    assert "held: grey specks" in page


@pytest_db
def test_promises_are_taken_from_lots_in_the_order_they_are_picked(shop, owner):
    """Of the water that turns first the job takes what it needs, and the bar hatches that much of that lot alone."""
    first = builders.lot(shop.water, "40", owner, "W0", expires_on_given=today() + timedelta(days=3))
    shop.booked()
    rows = {row.number: row for row in gather(owner, today()).shelf}
    assert rows[first.lot_number].bar.free == 0
    assert rows[first.lot_number].level == "40 mL of 40 mL, 40 mL promised"
    needed = shop.water.reserved.get().quantity
    assert needed > 40
    Lot.objects.filter(lot_number="W1").update(expires_on_given=today() + timedelta(days=20))
    rows = {row.number: row for row in gather(owner, today()).shelf}
    share = (needed - 40) / Decimal(100000) * 140
    assert rows["W1"].bar.promised == pytest.approx(float(share), abs=0.06)


@pytest_db
def test_ordered_goods_and_counts_are_waited_for_without_prices(shop, owner, at_owner, at_helper):
    Purchase.objects.create(material=shop.silver, quantity=Decimal(250), supplier="Pellworth", ordered_on=today() - timedelta(9),
                            due_on=today() - timedelta(2), form_key=builders.key())
    Purchase.objects.create(material=shop.water, quantity=Decimal(5000), supplier="Pellworth", ordered_on=today(),
                            due_on=today() + timedelta(5), form_key=builders.key())
    sheet = CountSheet.objects.create(place="the dry shelf", as_of=now(), by=owner, form_key=builders.key())
    CountLine.objects.create(sheet=sheet, lot=shop.silver_lot, expected=Decimal(5))
    for client in (at_owner, at_helper):
        page = shown(client)
        assert "Pellworth: 250 g Silver nitrate" in page
        assert "2 days late" in page
        assert "5.00 L Distilled water to come, Pellworth" in page
        assert "count the dry shelf" in page
        assert "0 of 1" in page
    assert "/stockroom/buying/" in at_owner.get("/").content.decode()
    assert "/stockroom/buying/" not in at_helper.get("/").content.decode()


@pytest_db
def test_an_empty_studio_is_led_on_and_not_told_of_a_shelf(house, at_owner, at_helper):
    page = shown(at_owner)
    assert "Nothing is on the bench, and nothing waits to be done." in page
    assert 'href="/start/"' in at_owner.get("/").content.decode()
    assert "Will run out or expire" not in page
    assert "Enter an order" not in shown(at_helper)


@pytest_db
def test_a_long_list_is_folded_and_queries_do_not_grow(shop, owner, at_owner, at_helper):
    def asked(client) -> int:
        with CaptureQueriesContext(connection) as seen:
            client.get("/")
        return len(seen)

    def a_day() -> None:
        shop.run(shop.line("305 x 305 mm", 1))
        shop.order()
        mark_sent(save_quote(order=shop.order(), by=owner, form_key=builders.key()))
        builders.trial(shop.recipe, owner)
        builders.lot(shop.sugar, "10", owner, expires_on_given=today())
        finish_run(run=builders.worked(shop.run(shop.line("305 x 305 mm", 1)), owner), by=owner)

    a_day()
    asked(at_owner)  # what is in doubt is worked out once
    few = [asked(at_owner), asked(at_helper)]
    for _ in range(4):
        a_day()
    assert [asked(at_owner), asked(at_helper)] == few
    known = gather(owner, today())
    assert len(known.first_tasks) == 12
    assert known.later_tasks
    assert f"And {len(known.later_tasks)} more" in shown(at_owner)
    assert Run.objects.open().count() == 5
    assert Job.objects.filter(state="finished").count() == 5
