"""Options and optional lines: each choice is the estimate of an order with only its lines; one is chosen, once."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from io import BytesIO

import pytest
from django.test import Client
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase
from pypdf import PdfReader

from jobs.choices import MOST_CHOICES, TooMuchToChoose, choices_of
from jobs.draft import OrderDraft, draft_of
from jobs.kept_orders import as_it_stands
from jobs.models import CustomerAnswer, Job, Order, OrderLine, Quote
from jobs.orders.saving import change_order
from jobs.private_links.letter import standard_text
from jobs.quotes.paper import render_quote
from jobs.quotes.pricing import price_order
from jobs.quotes.quoting import QuoteError, decide, save_quote, take_back, undo_answer
from jobs.work import states
from jobs.work.booking import book_job
from jobs.work.revising import revise
from recipes.models import FinishPicture
from studio.house.clock import today
from studio.house.kept_files import keep
from studio.house.models import House
from studio.kit.currencies import show_money
from studio.whole.audit import audit
from tests import builders
from tests.jobs.private_links.test_customers_page import linked, read, send

SIZES = ("300 x 400 mm", "610 x 915 mm", "500 mm", "900 x 1100 mm")


class TestEveryChoice(TestCase):
    """Over random orders: what is frozen of a choice is what an order with only its lines would cost."""

    def setUp(self):
        builders.house()
        builders.rates(minimum_charge=Decimal(150), setup_minutes=Decimal(30), deposit_share=Decimal("0.5"))
        self.shop = builders.Workshop(builders.person("maud", "owner"))

    @settings(max_examples=12)
    @given(st.lists(st.tuples(st.sampled_from(SIZES), st.integers(1, 3), st.sampled_from(["", "A", "B", "+"])),
                    min_size=2, max_size=4))
    def test_it_costs_what_an_order_with_only_its_lines_costs(self, lines):
        typed = [self.shop.line(size, quantity, number, offered=offered)
                 for number, (size, quantity, offered) in enumerate(lines, 1)]
        quote = save_quote(order=self.shop.order(*typed), by=self.shop.owner, form_key=builders.key())
        for choice in quote.choices:
            alone = [(text, replace(line, offered="", number=at)) for at, (text, line) in enumerate(
                (row for row in typed if row[1].number in choice["lines"]), 1)]
            price = price_order(draft_of(self.shop.order(*alone)), today()).price
            assert (Decimal(choice["net"]), Decimal(choice["total"]), Decimal(choice["deposit"])) == (
                price.net, price.total, price.deposit)
        if quote.choices:
            assert quote.total == Decimal(quote.choices[0]['total'])


pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner, rates):
    return builders.Workshop(owner)


@pytest.fixture
def offered(shop) -> Order:
    """A mirror that is always meant, a wing in one of two sizes, and a tray if they like."""
    return shop.order(shop.line(), shop.line("300 x 915 mm", 2, 2, offered="A"), shop.line("400 x 915 mm", 2, 3, offered="B"),
                      shop.line("200 x 200 mm", 1, 4, offered="+"))


@pytest.fixture
def quote(shop, offered) -> Quote:
    return save_quote(order=offered, by=shop.owner, form_key=builders.key())


def test_given_options_and_an_extra_then_each_way_is_a_choice_of_its_own(quote):
    assert [(row["key"], row["label"], row["lines"]) for row in quote.choices] == [
        ("A", "option A", [1, 2]), ("A+4", "option A, with line 4", [1, 2, 4]),
        ("B", "option B", [1, 3]), ("B+4", "option B, with line 4", [1, 3, 4])]


def test_given_options_then_the_job_says_which_line_is_in_which_and_of_what_its_price_is(quote, at_owner):
    page = read(at_owner.get(f"/jobs/{quote.order.job.number}/"))
    assert "in option A" in page
    assert "in option B" in page
    assert ">optional<" in page
    assert "At today's prices, option A, without what is optional:" in page
    assert " ordered, 5 offered</p>" in page
    assert "option A, without what is optional" in read(at_owner.get(f"/jobs/{quote.order.job.number}/order/"))


def test_the_whole_is_not_the_sum_of_its_lines(shop, quote):
    """Set-up, minimum and loads are worked out for each choice."""
    extra = Decimal(quote.choices[1]["net"]) - Decimal(quote.choices[0]["net"])
    alone = price_order(draft_of(shop.order(shop.line("200 x 200 mm", 1))), today()).price.net
    assert 0 < extra < alone


@pytest.mark.parametrize("key", ["A", "B+4"])
def test_given_a_choice_at_the_link_then_order_and_price_are_what_was_frozen(quote, shop, rates, key):
    frozen = next(row for row in quote.choices if row["key"] == key)
    customer = Client(enforce_csrf_checks=True)
    path = linked(quote)
    page = read(customer.get(path))
    assert "Option B, with line 4" in page
    rates.helper_per_hour = Decimal(99)
    rates.save()
    refused = send(customer, path, page)
    assert (refused.status_code, "say which of them is accepted" in read(refused)) == (422, True)
    assert send(customer, path, page, choice=key).status_code == 302
    fixed = Quote.objects.get(state="accepted")
    assert (fixed.revision, fixed.total, fixed.plan) == (2, Decimal(frozen["total"]), frozen["plan"])
    order = Order.objects.get(pk=quote.order_id)
    assert [(line.number, line.offered) for line in order.lines.all()] == [(number, "") for number in frozen["lines"]]
    assert CustomerAnswer.objects.get().choice == frozen["label"]
    assert f"Rose Askew accepted {frozen['label']} of this quote" in read(customer.get(path))
    job = book_job(job=order.job, by=shop.owner, sample_approved=True, deposit_noted=True, waived_because="", due_on=None)
    assert (job.state, job.quote) == ("booked", fixed)
    assert list(audit()) == []


def test_given_a_choice_by_telephone_then_it_is_the_same(quote, at_owner):
    refused = at_owner.post(f"/quotes/{quote.pk}/accepted/", {"who": "R. Askew"})
    assert refused.status_code == 422
    at_owner.post(f"/quotes/{quote.pk}/accepted/", {"who": "R. Askew, by telephone", "choice": "B"})
    job = Job.objects.get(order=quote.order)
    assert job.acts.get(kind="accepted").note == "option B; R. Askew, by telephone"
    assert (Quote.objects.get(pk=quote.pk).state, job.state) == ("replaced", "quoted")


def test_given_a_choice_that_is_undone_then_the_quote_with_its_options_is_open_again(quote, at_owner, owner):
    stood = as_it_stands(quote.order)
    chosen = decide(quote=quote, accepted=True, by=owner, choice="A")
    assert decide(quote=quote, accepted=True, by=owner, choice="A") == chosen  # pressed twice
    job = Job.objects.get(order=quote.order)
    act = job.acts.get(kind="accepted")
    page = read(at_owner.get(f"/jobs/{job.number}/undo/{act.pk}/"))
    assert f"{quote} waits for the customer again, with all of its options." in page
    assert "is accepted again" not in page
    undo_answer(quote=chosen, by=owner, why="B was meant")
    assert as_it_stands(Order.objects.get(pk=quote.order_id)) == stood
    assert list(Quote.objects.order_by("revision").values_list("state", flat=True)) == ["sent", "replaced"]
    assert list(audit()) == []
    page = read(at_owner.get(f"/jobs/{job.number}/"))
    assert f'href="/quotes/{quote.pk}/">Look at its options' in page
    # chosen anew, the same or another, at a fresh link
    path, customer = linked(quote), Client(enforce_csrf_checks=True)
    assert send(customer, path, read(customer.get(path)), choice="A").status_code == 302
    again = Quote.objects.get(state="accepted")
    assert (again.revision, again.total) == (3, chosen.total)
    undo_answer(quote=again, by=owner, why="B was meant")
    assert decide(quote=quote, accepted=True, by=owner, choice="B").revision == 4
    assert [line.number for line in Order.objects.get(pk=quote.order_id).lines.all()] == [1, 3]


def test_given_a_draft_chosen_by_telephone_and_undone_then_it_can_be_taken_back(quote, owner, at_owner):
    chosen = decide(quote=quote, accepted=True, by=owner, choice="B")
    undo_answer(quote=chosen, by=owner, why="a slip")
    take_back(quote=Quote.objects.get(pk=quote.pk), by=owner, why="a slip")
    page = read(at_owner.get(f"/quotes/{quote.pk}/"))
    assert "Make a private link" in page
    assert "Mark as accepted" in page


def test_given_an_order_changed_since_then_undoing_the_choice_leaves_it(quote, shop, owner):
    chosen = decide(quote=quote, accepted=True, by=owner, choice="A")
    order = Order.objects.get(pk=quote.order_id)
    change_order(order=order, saves=order.saves, by=owner, typed_lines=[shop.line("700 x 700 mm")])
    undo_answer(quote=chosen, by=owner, why="a slip")
    assert [line.size_text for line in Order.objects.get(pk=order.pk).lines.all()] == ["700 x 700 mm"]


def test_given_the_quote_named_a_day_then_what_is_chosen_names_it_too(shop, offered, owner):
    ready = {"on": "2026-12-18", "by": "2026-12-02", "days": 0, "words": "Friday 18 December 2026", "on_words": "Friday 18 December"}
    quote = save_quote(order=offered, by=owner, form_key=builders.key(), ready=ready)
    assert decide(quote=quote, accepted=True, by=owner, choice="B").wording["ready"] == ready


def test_given_a_choice_that_is_none_then_nothing_is_accepted(quote, owner):
    for key in ("", "C", "A+1", "all"):
        with pytest.raises(QuoteError, match="say which of them"):
            decide(quote=quote, accepted=True, by=owner, choice=key)
    assert OrderLine.objects.filter(order=quote.order).count() == 4


def test_given_options_in_two_finishes_then_the_page_shows_each_its_own_picture(shop, owner):
    gold = builders.put_version_in_use(builders.recipe("Amber gold", shop.steps()), owner)
    kept = {}
    for version, colour in ((shop.recipe, "#bbbbbb"), (gold, "#ddaa22")):
        kept[version.finish.name] = builders.photograph(colour=colour)
        file = keep(kept[version.finish.name], name="p.jpg", media_type="image/jpeg", owner_only=False)
        FinishPicture.objects.create(finish=version.finish, side="front", file=file)
    order = shop.order(shop.line(offered="A"), shop.line("300 x 915 mm", 2, 2, offered="B"))
    order.lines.filter(number=2).update(recipe_version=gold)  # by name it comes first on the page
    customer, path = Client(), linked(save_quote(order=order, by=owner, form_key=builders.key()))
    shown = re.findall(r'<img src="([^"]+)"\s+alt="([^,]+),', read(customer.get(path)))
    assert {name: b"".join(customer.get(address)) for address, name in shown} == kept


def test_each_option_says_its_edge_net_and_tax(quote):
    page = read(Client().get(linked(quote)))
    assert " edge" in page.partition("The finish")[0]
    for choice in quote.choices:
        for name in ("net", "tax", "total"):
            assert show_money(Fraction(choice[name]), quote.currency) in page


def test_the_letter_says_what_it_may_come_to(quote):
    sums = [Fraction(choice["total"]) for choice in quote.choices]
    said = standard_text(quote, House(name="Loft"))
    assert f"{show_money(min(sums), quote.currency)} to {show_money(max(sums), quote.currency)} in all" in said


def test_given_accepted_by_telephone_then_the_link_says_it_is_noted(quote, owner):
    path, customer = linked(quote), Client(enforce_csrf_checks=True)
    decide(quote=quote, accepted=True, by=owner, choice="A", who="R. Askew, by telephone")
    assert "was accepted; the studio has noted it" in read(customer.get(path))


def test_at_the_desk_a_missing_option_is_said_beside_them_and_who_is_kept(quote, at_owner):
    refused = read(at_owner.post(f"/quotes/{quote.pk}/accepted/", {"who": "R. Askew, by telephone"}))
    assert 'id="choice-error" role="alert">Quote 1 has options: say which of them is accepted.' in refused
    assert 'value="R. Askew, by telephone"' in refused


def test_declined_it_stays_whole(quote, owner):
    decide(quote=quote, accepted=False, by=owner)
    assert (Quote.objects.get().state, OrderLine.objects.count()) == ("declined", 4)


def test_the_paper_shows_them_side_by_side_with_the_signature_below(quote):
    front = PdfReader(BytesIO(render_quote(quote))).pages[0]
    text = " ".join(front.extract_text().split())
    for row in quote.choices:
        assert row["label"][0].upper() + row["label"][1:] in text
    assert "Yes, please make What is ticked above." in text
    assert "name and signature" in text
    assert "300 × 915 mm" in text
    assert "400 × 915 mm" in text


@pytest.mark.parametrize("marks", ["+++++", "ABCD+++"])
def test_more_than_a_page_can_show_is_refused_in_a_sentence(shop, marks):
    lines = [shop.line(number=number, offered=offered) for number, offered in enumerate(marks, 1)]
    with pytest.raises(TooMuchToChoose, match="four optional lines"):
        save_quote(order=shop.order(*lines), by=shop.owner, form_key=builders.key())


def test_a_booked_order_has_no_options(shop):
    job = shop.booked()
    with pytest.raises(QuoteError, match="options are for a quote before that"):
        revise(job=job, by=shop.owner, key=builders.key(), why="a wish", agreed_by="Ada", change=lambda: change_order(
            order=job.order, saves=job.order.saves, by=shop.owner, act=states.REVISE,
            typed_lines=[shop.line(), shop.line("300 x 300 mm", 1, 2, offered="+")]))


@given(st.lists(st.sampled_from(["", "A", "B", "C", "D", "+"]), min_size=1, max_size=6))
def test_every_line_that_is_always_meant_is_in_every_choice_and_no_choice_has_two_options(marks):
    class Line:
        def __init__(self, number, offered):
            self.number, self.offered = number, offered

    draft = OrderDraft(lines=tuple(Line(number, mark) for number, mark in enumerate(marks, 1)))
    try:
        found = choices_of(draft)
    except TooMuchToChoose:
        return
    assert 1 <= len(found) <= MOST_CHOICES
    assert len({choice.key for choice in found}) == len(found)
    for choice in found:
        in_it = [marks[number - 1] for number in choice.lines]
        assert in_it.count("") == marks.count("")
        assert len(set(in_it) - {"", "+"}) <= 1
