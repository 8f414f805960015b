"""The owner's pages of jobs as they are asked for: the story, a booked order changed, ordering again, the list."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.timezone import make_aware

from jobs.desk.story import Entry
from jobs.estimating.basis import HoleFacts
from jobs.models import Job, Order, Quote
from jobs.orders.saving import change_order
from jobs.quotes.quoting import decide, mark_sent, save_quote
from jobs.work import states
from jobs.work.bench import note
from jobs.work.booking import book_job, deliver
from jobs.work.cancelling import cancel
from jobs.work.coming_in import take_in
from jobs.work.finishing import finish_run
from jobs.work.revising import revise
from jobs.work.ticketing import make_ticket
from studio.house.clock import today
from studio.stockroom.models import LotLevel, Posting
from studio.whole.audit import audit
from studio.whole.day_words import plain_day
from studio.whole.today import gather
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


def test_the_story_tells_a_whole_job_in_order_with_who(shop, owner, at_owner):
    order = shop.order(shop.line(quantity=2, own_panes_to_start=2))
    quote = save_quote(order=order, by=owner, form_key=builders.key())
    mark_sent(quote, owner)
    decide(quote=quote, accepted=True, by=owner)
    book_job(job=order.job, by=owner, sample_approved=True, deposit_noted=True, waived_because="", due_on=None)
    run = builders.worked(make_ticket(job=order.job, by=owner).run, owner)
    builders.judge(run, owner, good=1)
    finish_run(run=run, by=owner)
    deliver(job=order.job, by=owner)
    page = at_owner.get(f"/jobs/{order.job.number}/")
    told = [entry.sentence for entry in page.context["story"] if entry.mark == "done"]
    expected = ["Enquiry entered", "Quote 1 saved", "Quote 1 sent", "Quote 1 accepted", "Booked", "Sample approved", "In: ",
                f"Ticket {order.job.number}-1 printed: 2 panes in 1 load", "work at the bench began", "made safe",
                "Pane 1.2 spoilt", "the run finished", "Delivered"]
    at = [next(place for place, sentence in enumerate(told) if words in sentence) for words in expected]
    assert at == sorted(at)
    assert all(entry.who for entry in page.context["story"] if entry.mark == "done")
    assert [(drawn.pane.label, drawn.pane.word) for drawn in page.context["panes"].drawn] == [("1.1", "good"), ("1.2", "spoilt")]
    spent = {row.name: row for row in page.context["spent"]}
    assert spent["Hands"].spent == 70
    assert spent["Glass"].spent == 52  # one sheet of ten for 520


def test_no_more_is_asked_for_a_longer_story(shop, owner, at_owner):
    def queries(job: Job) -> int:
        with CaptureQueriesContext(connection, ) as asked:
            assert at_owner.get(f"/jobs/{job.number}/").status_code == 200
        return len(asked)

    short, long = shop.order(shop.line()), shop.order(*(shop.line(number=at, quantity=4) for at in range(1, 7)))
    quotes = [builders.quoted(order, owner, f"Mirrors {at}") for at, order in enumerate((short, long, long, long))]
    for quote in quotes:
        mark_sent(quote, owner)
    queries(short.job)
    assert queries(short.job) == queries(long.job)


def sent_order(shop, order: Order, quantity: int, **more: str) -> dict[str, str]:
    """The order form as a browser sends it, with another number of panes."""
    return {
        "job": str(order.job.number), "key": str(order.form_key), "saves": str(order.saves),
        "customer": str(order.customer_id), "title": order.title, "lines-TOTAL_FORMS": "1", "lines-INITIAL_FORMS": "0",
        "lines-0-shape": "rectangle", "lines-0-size_text": "610 x 915 mm", "lines-0-quantity": str(quantity),
        "lines-0-recipe_version": str(shop.recipe.pk), "lines-0-glass": str(shop.glass.pk), "lines-0-route": "sheet",
        "lines-0-edge": "seamed", "lines-0-joint": "", "bought-TOTAL_FORMS": "0", "bought-INITIAL_FORMS": "0", **more,
    }


def test_a_booked_order_is_changed_after_its_differences_are_seen(shop, owner, at_owner):
    job = shop.booked(shop.line(quantity=2))
    address, before = f"/jobs/{job.number}/order/", job.quote.total
    assert at_owner.get(address).status_code == 200
    looked = at_owner.post(address, sent_order(shop, job.order, 4))
    assert looked.status_code == 200
    revised = looked.context["revised"]
    assert revised.dearer > 0
    assert f"{revised.quote.total - before:.2f} more" in looked.content.decode()
    assert {row.material.name for row in revised.stock} >= {"Silver nitrate"}
    assert Quote.objects.count() == 1
    assert job.order.lines.get().quantity == 2
    sure = {"change-sure": "yes", "change-key": str(builders.key()), "change-why": "two more for the stairs"}
    assert at_owner.post(address, sent_order(shop, job.order, 4, **{**sure, "change-why": ""})).status_code == 422
    assert Quote.objects.count() == 1
    sent = sent_order(shop, job.order, 4, **sure)
    saved = at_owner.post(address, sent)
    assert saved.status_code == 302
    assert saved.cookies[f"saved-order-{sent['key']}"].value == sent["saves"]  # the browser keeps none of it as unsaved
    row = Job.objects.get(pk=job.pk)
    assert (row.state, row.quote.revision, row.quote.state) == ("booked", 2, "sent")
    assert job.order.lines.get().quantity == 4
    assert at_owner.post(f"/quotes/{row.quote.pk}/accepted/", {"who": "Ada, by letter"}).status_code == 302
    page = at_owner.get(f"/jobs/{job.number}/").content.decode()
    assert "two more for the stairs" in page
    assert "Ada, by letter" in page
    assert audit() == []


def test_an_order_on_the_bench_is_not_changed(shop, owner, at_owner):
    run = shop.run()
    note(run=run, by=owner, client_key=builders.key(), kind="note", content={"text": "begun"})
    order = run.ticket.job.order
    refused = at_owner.post(f"/jobs/{order.job.number}/order/", sent_order(shop, order, 4))
    assert refused.status_code == 422
    assert order.lines.get().quantity == 2


def test_ordered_again_it_is_a_new_enquiry_in_the_version_in_use(shop, owner, at_owner):
    order = shop.order(shop.line(quantity=3), due_on=today() + timedelta(days=9))
    newer = builders.put_version_in_use(builders.recipe("Plain silver", shop.steps(), number=2), owner)
    key = str(builders.key())
    for _ in range(2):
        answer = at_owner.post(f"/jobs/{order.job.number}/again/", {"key": key, "versions": "newest"}, follow=True)
    made = Order.objects.exclude(pk=order.pk).get()
    assert "Plain silver, version 2 in place of version 1." in answer.content.decode()
    assert (made.customer, made.due_on, made.job.state) == (order.customer, None, "enquiry")
    assert [(line.quantity, line.recipe_version) for line in made.lines.all()] == [(3, newer)]
    same = at_owner.post(f"/jobs/{order.job.number}/again/", {"key": str(builders.key()), "versions": "same"})
    assert same.status_code == 302
    assert Order.objects.latest("pk").lines.get().recipe_version == shop.recipe


def test_the_list_puts_what_is_due_first_and_is_filtered_by_its_address(shop, at_owner):
    late = shop.order(due_on=today() + timedelta(days=20)).job
    soon = shop.order(due_on=today() + timedelta(days=2)).job
    undated = shop.order().job

    def numbers(query: str = "") -> list[int]:
        return [job.number for job in at_owner.get(f"/jobs/{query}").context["listing"].rows]

    assert numbers() == [soon.number, late.number, undated.number]
    assert numbers("?sort=-number") == [undated.number, soon.number, late.number]
    assert numbers(f"?q={late.number}&state=enquiry") == [late.number]
    assert numbers("?q=fenwick+hall") == [soon.number, late.number, undated.number]
    assert numbers("?state=booked") == []
    assert numbers(f"?customer={late.order.customer_id + 1}") == []


def test_the_list_shows_and_sorts_what_was_agreed_not_a_later_draft(shop, owner, at_owner):
    """Given a quote accepted, when a dearer draft follows it, then the list still tells the agreed total."""
    order = shop.order(shop.line(quantity=1))
    agreed = save_quote(order=order, by=owner, form_key=builders.key())
    mark_sent(agreed, owner)
    decide(quote=agreed, accepted=True, by=owner)
    between = save_quote(order=shop.order(shop.line(quantity=3)), by=owner, form_key=builders.key())
    change_order(order=order, saves=order.saves, typed_lines=[shop.line(quantity=9)], by=owner)
    draft = save_quote(order=Order.objects.get(pk=order.pk), by=owner, form_key=builders.key())
    assert agreed.total < between.total < draft.total
    page = at_owner.get("/jobs/?sort=total")
    assert [job.number for job in page.context["listing"].rows] == [order.job.number, between.order.job.number]
    assert page.context["listing"].rows[0].quote_that_counts == agreed
    assert at_owner.get("/jobs/?customer=99999999999999999999").status_code == 200


def test_a_discard_and_a_delivery_are_undone_by_opposites_and_what_was_used_is_not(shop, owner, at_owner):
    lot = shop.lots[2]
    at_owner.post(f"/stockroom/lots/{lot.pk}/discard/", {"key": str(builders.key()), "amount": "40 g", "why": "spilt"})
    posting = Posting.objects.get(kind="discard")
    address = f"/stockroom/postings/{posting.pk}/undo/"
    assert address in at_owner.get(f"/stockroom/lots/{lot.pk}/").content.decode()
    assert "40 g come back into" in at_owner.get(address).content.decode()
    key = str(builders.key())
    for _ in range(2):
        at_owner.post(address, {"key": key, "why": "another bottle was spilt"})
    assert LotLevel.objects.get(lot=lot).on_hand == 1000
    assert "undone already" in at_owner.post(address, {"key": str(builders.key()), "why": "once more"}).content.decode()
    receipt = lot.movements.get(kind="receipt").posting
    at_owner.post(f"/stockroom/lots/{lot.pk}/discard/", {"key": str(builders.key()), "amount": "1 g", "why": "spilt"})
    said = f"Of 1.00 kg received into {lot} only 999 g is left, the rest was used since"
    before = at_owner.get(f"/stockroom/postings/{receipt.pk}/undo/").content.decode()
    assert said in before
    assert 'name="why"' not in before, "no reason is asked for what is refused"
    used = at_owner.post(f"/stockroom/postings/{receipt.pk}/undo/", {"key": str(builders.key()), "why": "never came"})
    assert said in used.content.decode()
    assert LotLevel.objects.get(lot=lot).on_hand == Decimal(999)
    assert audit() == []


def test_a_job_shows_the_holes_of_its_panes_where_they_are_and_its_own_prices(shop, at_owner):
    hole = HoleFacts(kind="hole", width_mm=Fraction(40), height_mm=Fraction(40), from_left_mm=Fraction(100),
                     from_bottom_mm=Fraction(200))
    drilled = shop.line(quantity=2, holes=(hole,), holes_text="hole 40 mm at 100 x 200 mm",
                        own_price_each=Decimal("250.00"))
    order = shop.order(drilled, shop.line(number=2, quantity=1))
    page = at_owner.get(f"/jobs/{order.job.number}/")
    drawn = page.context["panes"].drawn
    assert [[(one.x, one.y, one.radius) for one in pane.holes] for pane in drawn] == [[("100", "715", "20")]] * 2 + [[]]
    assert float(drawn[0].down) * 915 == pytest.approx(float(drawn[0].height), abs=0.1)
    text = page.content.decode()
    assert text.count('r="20"') == 2
    assert "1 hole<" in text.replace("\n", "")
    assert text.count("€250.00 each, own price") == 1
    ticketed = shop.run(drilled).ticket.job
    assert [len(one.holes) for one in at_owner.get(f"/jobs/{ticketed.number}/").context["panes"].drawn][:2] == [1, 1]


def entries(at_owner, job: Job) -> list[Entry]:
    return at_owner.get(f"/jobs/{job.number}/").context["story"]


def test_each_entry_of_a_story_tells_what_the_order_was_then(shop, owner, at_owner):
    order = shop.order(shop.line(quantity=4), shop.line("300 x 300 mm", 1, number=2))
    first = entries(at_owner, order.job)[0]
    assert (first.sentence, first.who) == ("Enquiry entered.", owner.name)
    assert list(first.more) == ["4 of 610 x 915 mm, Plain silver, version 1", "1 of 300 x 300 mm, Plain silver, version 1"]
    builders.quoted(order, owner, "Hall mirror")
    builders.quoted(order, owner, "Hall mirrors")
    order.refresh_from_db()
    change_order(order=order, saves=order.saves, by=owner, typed_lines=[shop.line(quantity=6)])
    save_quote(order=order, by=owner, form_key=builders.key())
    told = {entry.sentence.partition(" saved")[0]: list(entry.more) for entry in entries(at_owner, order.job)}
    assert told["Enquiry entered."] == []
    assert told["Quote 1"] == ["4 of 610 x 915 mm, Plain silver, version 1", "1 of 300 x 300 mm, Plain silver, version 1"]
    assert told["Quote 1, revision 2"] == ["Called “Hall mirrors”, was “Hall mirror”.", "The price stays."]
    lines, gone, price, *days = told["Quote 1, revision 3"]
    assert lines == ("Line 1 was 4 of 610 x 915 mm, Plain silver, version 1; now 6 of 610 x 915 mm, Plain silver, "
                     "version 1.")
    assert gone == "Left out: 1 of 300 x 300 mm, Plain silver, version 1."
    before, after = order.quotes.get(revision=2), order.quotes.get(revision=3)
    assert price == f"€{after.total:,.2f} with tax, was €{before.total:,.2f}."
    assert [words.startswith("Ready ") for words in days] == [
        True for _ in range(before.wording["ready"]["days"] != after.wording["ready"]["days"])]


def test_a_change_of_a_booked_order_says_what_it_changed(shop, owner, at_owner):
    job = shop.booked(shop.line(quantity=2))
    order = Order.objects.get(pk=job.order_id)
    revise(job=job, by=owner, key=builders.key(), why="seen on site", agreed_by="Ada", change=lambda: change_order(
        order=order, saves=order.saves, by=owner, act=states.REVISE,
        typed_lines=[shop.line(quantity=2, note="top right corner clipped")]))
    (revised,) = [entry for entry in entries(at_owner, job) if "booked order was changed" in entry.sentence]
    assert list(revised.more) == [
        "“seen on site”", "Line 1, 2 of 610 x 915 mm, Plain silver, version 1: other note.", "The price stays."]


def test_what_is_next_is_said_alike_on_page_story_and_list(shop, owner, at_owner):
    """Once the ticket is printed nobody is told to print it; with money owed something is left to do."""
    run = shop.run(shop.line(quantity=1, own_panes_to_start=1))
    job = run.ticket.job

    def said() -> set[str]:
        page, listed = at_owner.get(f"/jobs/{job.number}/"), at_owner.get("/jobs/")
        now = {entry.sentence for entry in page.context["story"] if entry.mark == "now"}
        return {page.context["next"].what, listed.context["next"][job.number], *now}

    assert said() == {f"{run.ticket} is printed: begin at the bench."}
    builders.judge(builders.worked(run, owner), owner, good=1)
    finish_run(run=run, by=owner)
    deliver(job=job, by=owner)
    owed = job.quote.total - job.quote.deposit
    assert said() == {f"Delivered: €{owed:,.2f} is still to come."}
    waits = [row for row in gather(owner, today()).customers if row.what == f"rest of {job.order.title}"]
    assert [(row.amount, row.soft) for row in waits] == [(f"€{owed:,.2f}", f"delivered {plain_day(today(), today())}")]
    take_in(job=job, by=owner, key=builders.key(), amount=owed, on=None, note="")
    assert said() == {"Delivered: nothing is left to do."}
    assert not [row for row in gather(owner, today()).customers if row.what == f"rest of {job.order.title}"]


def test_the_list_asks_no_more_for_more_jobs(shop, at_owner):
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            assert at_owner.get("/jobs/").status_code == 200
        return len(asked)

    shop.run(shop.line(quantity=1))
    queries()
    few = queries()
    for _ in range(3):
        shop.run(shop.line(quantity=1))
    assert queries() == few


def test_where_no_deposit_is_asked_none_is_still_to_come(shop, at_owner, rates):
    def to_come() -> list[str]:
        job = shop.order(shop.line(quantity=1)).job
        builders.quoted(job.order, shop.owner, "Hall mirror")
        return [entry.sentence for entry in entries(at_owner, job) if entry.mark == "to"]

    assert "Deposit in" in to_come()
    rates.deposit_share = 0
    rates.save()
    assert "Deposit in" not in to_come()


def test_a_day_that_is_recorded_on_itself_stands_where_it_was_recorded():
    nine, ten = (make_aware(datetime(2026, 5, 4, hour)) for hour in (9, 10))
    money = Entry(sentence="In.", when=nine.date(), recorded=nine)
    booked = Entry(sentence="Booked.", when=ten)
    assert money.moment < booked.moment
    late = Entry(sentence="In.", when=nine.date(), recorded=ten + timedelta(days=2))
    assert booked.moment < late.moment < ten + timedelta(hours=12)


@pytest.mark.parametrize(("before", "passed"), [
    ("enquiry", ["enquiry"]), ("quoted", ["enquiry", "quoted"]), ("booked", ["enquiry", "quoted", "booked"]),
    ("printed", ["enquiry", "quoted", "booked"]), ("begun", ["enquiry", "quoted", "booked", "on the bench"]),
])
def test_a_cancelled_job_ends_its_course_where_it_had_come(shop, owner, at_owner, before, passed):
    if before in ("enquiry", "quoted"):
        job = shop.order(shop.line(quantity=1)).job
        if before == "quoted":
            mark_sent(builders.quoted(job.order, owner, "Hall mirror"), owner)
    elif before == "booked":
        job = shop.booked(shop.line(quantity=1))
    else:
        run = shop.run(shop.line(quantity=1))
        job = run.ticket.job
        if before == "begun":
            note(run=run, by=owner, client_key=builders.key(), kind="note", content={"text": "begun"})
    cancel(job=Job.objects.get(pk=job.pk), by=owner, because="no longer wanted", nothing_else=True)
    course = at_owner.get(f"/jobs/{job.number}/").context["course"]
    assert [stage.name for stage in course] == [*passed, "cancelled"]


def test_half_of_a_booked_line_in_another_finish_is_a_revision(shop, at_owner):
    """Given a booked order of eight, when half of it is set apart in another finish, then quote, stock and loads follow."""
    job = shop.booked(shop.line(quantity=8))
    other = builders.put_version_in_use(builders.recipe("Grey silver", shop.steps()), shop.owner)
    address = f"/jobs/{job.number}/order/"
    apart = at_owner.post("/jobs/lines/0/halve/", {**sent_order(shop, job.order, 8), "job": job.number})
    form = apart.context["sheet"].lines.forms
    assert [line.typed("quantity") for line in form][:2] == ["4", "4"]
    sent = {**sent_order(shop, job.order, 4), **{name.replace("lines-0-", "lines-1-"): value for name, value in sent_order(
        shop, job.order, 4).items() if name.startswith("lines-0-")}, "lines-TOTAL_FORMS": 2}
    sent |= {"lines-1-recipe_version": other.pk, "change-sure": "yes", "change-key": str(builders.key()),
             "change-why": "half of it grey", "change-agreed_by": "Ada, by telephone"}
    assert at_owner.post(address, sent).status_code == 302
    row = Job.objects.get(pk=job.pk)
    assert (row.quote.revision, row.quote.state) == (2, "accepted")
    assert sorted(job.order.lines.values_list("quantity", "recipe_version__finish__name")) == [
        (4, "Grey silver"), (4, "Plain silver")]
    assert audit() == []
