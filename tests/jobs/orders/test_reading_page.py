"""An e-mail on the order page: sure lines go in once, questions are one press, and nothing that was written is lost."""

from __future__ import annotations

import io
import re
from decimal import Decimal
from html import unescape
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pypdf import PdfReader

from jobs.models import CustomerChoices, Order
from tests import builders
from tests.jobs.orders.test_order_page import typed


@pytest.fixture
def workshop(owner, rates):
    return builders.Workshop(owner)


EMAIL = "3 @ 24 3/8 x 36, 2 no. 600x900mm\none round 30in\n60 x 90\nThe wall is 3 m\nKind regards\nInes"


def sizes_of(page: str) -> list[str]:
    return re.findall(r'name="lines-\d+-size_text" value="([^"]*)"', page)


def settled(page: str) -> str:
    found = re.search(r'name="pasted_settled" value="([^"]*)"', page)
    assert found
    return found.group(1)


def answers(page: str) -> dict[str, str]:
    """Return the buttons of a page by their words."""
    found = re.findall(r'name="answer"\s+value="([^"]*)"[^>]*>(.*?)</button>', page, re.DOTALL)
    return {re.sub(r"\s+|<[^>]*>", " ", words).strip(): value for value, words in found}


@pytest.mark.django_db
def test_sure_lines_become_lines_of_the_order(at_owner, workshop):
    sent = typed(workshop, {"size_text": "", "edge": "polished"}, pasted=EMAIL)
    page = at_owner.post("/jobs/lines/pasted/", sent).content.decode()
    assert sizes_of(page) == ["24 3/8 x 36 in", "600 x 900 mm", "30 in"]
    assert "Read from “2 no. 600x900mm”" in page
    assert page.count('<option value="polished" selected>') == 3 + 1  # the empty row begins as the last line
    assert not Order.objects.exists()
    read = page[page.index("letter-read"):]
    written = re.findall(r'class="as-written"><span class="hidden-words">Written: </span>(.*?)</p>', read)
    assert written == ["3 @ 24 3/8 x 36", "2 no. 600x900mm", "one round 30in", "60 x 90", "The wall is 3 m"]
    assert "1 × Ø 30 in" in read
    assert "A length, but no width × height" in read
    assert "<li>Ines</li>" in read


@pytest.mark.django_db
def test_a_letter_read_twice_adds_its_lines_once(at_owner, workshop):
    sent = typed(workshop, {"size_text": ""}, pasted="2 @ 600 x 900 mm\n2 @ 600 x 900 mm")
    page = at_owner.post("/jobs/lines/pasted/", sent).content.decode()
    assert sizes_of(page) == ["600 x 900 mm", "600 x 900 mm"]
    again = typed(workshop, {"size_text": "600 x 900 mm"}, {"size_text": "600 x 900 mm"},
                  pasted="2 @ 600 x 900 mm\n2 @ 600 x 900 mm\n1 @ 300 x 400 mm", pasted_settled=settled(page))
    assert sizes_of(at_owner.post("/jobs/lines/pasted/", again).content.decode()) == [
        "600 x 900 mm", "600 x 900 mm", "300 x 400 mm"]


@pytest.mark.django_db
def test_a_question_is_answered_by_one_press(at_owner, workshop):
    page = at_owner.post("/jobs/lines/pasted/", typed(workshop, {"size_text": ""}, pasted=EMAIL)).content.decode()
    press = {"pasted": EMAIL, "pasted_settled": settled(page), "answer": answers(page)["1 × 60 × 90 cm"]}
    answered = at_owner.post("/jobs/lines/pasted/answer/", typed(
        workshop, {"size_text": "30 in", "shape": "circle"}, **press)).content.decode()
    assert sizes_of(answered) == ["30 in", "60 x 90 cm"]
    assert "1 × 60 × 90 cm" not in answers(answered)
    assert "Leave it out" not in answers(answered)
    again = at_owner.post("/jobs/lines/pasted/answer/", typed(
        workshop, {"size_text": "30 in", "shape": "circle"}, {"size_text": "60 x 90 cm"},
        pasted=EMAIL, pasted_settled=settled(answered), answer=press["answer"])).content.decode()
    assert sizes_of(again) == ["30 in", "60 x 90 cm"]


@pytest.mark.django_db
def test_what_is_left_out_can_be_asked_again(at_owner, workshop):
    page = at_owner.post("/jobs/lines/pasted/", typed(workshop, {"size_text": ""}, pasted="60 x 90")).content.decode()
    left = at_owner.post("/jobs/lines/pasted/answer/", typed(
        workshop, {"size_text": ""}, pasted="60 x 90", pasted_settled=settled(page),
        answer=answers(page)["Leave it out"])).content.decode()
    assert "left out" in left
    assert sizes_of(left) == []
    asked = at_owner.post("/jobs/lines/pasted/answer/", typed(
        workshop, {"size_text": ""}, pasted="60 x 90", pasted_settled=settled(left),
        answer=answers(left)["Ask again : 60 x 90"])).content.decode()
    assert "1 × 60 × 90 cm" in answers(asked)


@pytest.mark.django_db
def test_an_opening_takes_its_joint_into_the_line(at_owner, workshop):
    page = at_owner.post("/jobs/lines/pasted/", typed(
        workshop, {"size_text": ""}, pasted="The opening is 612 x 912 mm, deduct 3 mm all round.")).content.decode()
    assert re.search(r'name="lines-0-opening"[^>]*checked', page)
    assert 'name="lines-0-joint_text" value="3 mm"' in page
    assert "an opening, 3 mm left at every edge" in page


@pytest.mark.django_db
def test_what_finds_no_room_stays_offered(at_owner, workshop):
    text = "\n".join(f"1 @ {300 + at} x 400 mm" for at in range(62))
    page = at_owner.post("/jobs/lines/pasted/", typed(workshop, {"size_text": ""}, pasted=text)).content.decode()
    assert len(sizes_of(page)) == 60
    assert "2 not taken" in page
    assert page.count(">Take it</button>") == 2


@pytest.mark.django_db
def test_lines_are_duplicated_moved_and_chosen_alike(at_owner, workshop):
    def sizes(page):
        return re.findall(r'name="lines-\d+-size_text" value="([^"]*)"', page.content.decode())

    lines = ({"size_text": "300 x 300 mm", "edge": "polished"}, {"size_text": "400 x 400 mm"})
    assert sizes(at_owner.post("/jobs/lines/0/duplicate/", typed(workshop, *lines))) == [
        "300 x 300 mm", "300 x 300 mm", "400 x 400 mm"]
    assert sizes(at_owner.post("/jobs/lines/0/down/", typed(workshop, *lines))) == [
        "400 x 400 mm", "300 x 300 mm"]
    assert sizes(at_owner.post("/jobs/lines/0/up/", typed(workshop, *lines))) == [
        "300 x 300 mm", "400 x 400 mm"]
    page = at_owner.post("/jobs/lines/0/spread/", typed(workshop, *lines)).content.decode()
    assert page.count('<option value="polished" selected>') == 2 + 1  # and the empty row


@pytest.mark.django_db
def test_a_customers_choices_start_new_lines(at_owner, workshop):
    order = workshop.order()
    sent = typed(workshop, {"edge": "polished"}, customer=order.customer_id, preset_name="shop fronts")
    assert "Saved for Ada Fenwick as “shop fronts”" in at_owner.post("/jobs/lines/0/save-preset/", sent).content.decode()
    kept = CustomerChoices.objects.get()
    page = at_owner.post("/jobs/lines/pasted/", typed(
        workshop, {"size_text": "", "recipe_version": "", "glass": "", "edge": "seamed"},
        pasted="2 @ 300 x 400 mm", preset=kept.pk,
    )).content.decode()
    assert page.count('<option value="polished" selected>') == 1 + 1  # and the empty row
    chosen = re.search(r'<select name="lines-0-recipe_version".*?</select>', page, re.DOTALL)
    assert chosen
    assert f'<option value="{workshop.recipe.pk}" selected>' in chosen.group()
    refused = at_owner.post("/jobs/lines/0/save-preset/", typed(workshop, {}, preset_name="x")).content.decode()
    assert "Choose a saved customer first" in refused


@pytest.mark.django_db
def test_a_preset_takes_money_as_the_line_does_and_says_what_it_does_not_read(at_owner, workshop):
    order = workshop.order()

    def save(price):
        sent = typed(workshop, {"cut_price_per_m2": price}, customer=order.customer_id, preset_name="bars")
        return at_owner.post("/jobs/lines/0/save-preset/", sent, follow=True)

    assert "Saved for" in save("€12.50").content.decode()
    assert CustomerChoices.objects.get().cut_price_per_m2 == Decimal("12.5")
    assert "was not understood as money" in save("twelve").content.decode()


@pytest.mark.django_db
def test_presets_are_asked_for_at_once(at_owner, workshop):
    """Given ever more presets, when the order page is opened, then it asks the database as often."""
    order, counted = workshop.order(), []
    for at in range(4):
        CustomerChoices.objects.create(customer=order.customer, name=f"bar {at}", finish=workshop.recipe.finish,
                                       glass=order.lines.first().glass, edge="seamed")
        with CaptureQueriesContext(connection) as asked:
            at_owner.get(f"/jobs/{order.job.number}/order/")
        counted.append(len(asked))
    assert len(set(counted[1:])) == 1


@pytest.mark.django_db
def test_the_form_asks_as_often_for_forty_lines_as_for_two(at_owner, workshop):
    counted = []
    for lines in (2, 40):
        text = "\n".join(f"1 @ {300 + at} x 400 mm" for at in range(lines))
        with CaptureQueriesContext(connection) as asked:
            page = at_owner.post("/jobs/lines/pasted/", typed(workshop, {"size_text": ""}, pasted=text))
        assert f'name="lines-TOTAL_FORMS" value="{lines + 1}"' in page.content.decode()
        counted.append(len(asked))
    assert counted[0] == counted[1]


OPEN_EMAIL = "2 @ 600 x 900 mm\n60 x 90\nThe wall is 3 m"
OPEN_WORDS = "1 question of the letter is open, 1 thing said is not acted on"


def saved_with_letter(client, workshop, text=OPEN_EMAIL, **more):
    read = client.post("/jobs/lines/pasted/", typed(workshop, {"size_text": ""}, pasted=text)).content.decode()
    sent = typed(workshop, {"size_text": "600 x 900 mm"}, pasted=text, pasted_settled=settled(read), **more)
    response = client.post("/jobs/new/", sent)
    assert response.status_code == 302
    return Order.objects.get().job


@pytest.mark.django_db
def test_what_a_letter_leaves_open_stays_with_the_job_until_it_is_settled(at_owner, workshop):
    job = saved_with_letter(at_owner, workshop)
    page = at_owner.get(f"/jobs/{job.number}/").content.decode()
    assert f"Still to settle: {OPEN_WORDS}." in page
    assert OPEN_WORDS in page[page.index('id="letter"'):]
    assert "“The wall is 3 m”" in page
    order_page = at_owner.get(f"/jobs/{job.number}/order/").content.decode()
    assert OPEN_EMAIL in order_page
    assert "1 × 60 × 90 cm" in answers(order_page)
    assert "not taken" not in order_page  # what was taken stays taken

    question, mark = job.order.letter_points.filter(state="open")
    page = at_owner.post(f"/jobs/{job.number}/letter/{mark.key}/settle/", follow=True).content.decode()
    assert "1 question of the letter is open." in page
    at_owner.post(f"/jobs/{job.number}/letter/{question.key}/settle/")
    page = at_owner.get(f"/jobs/{job.number}/").content.decode()
    assert "of the letter is open" not in page
    assert "2 settled" in page
    at_owner.post(f"/jobs/{job.number}/letter/{mark.key}/settle/", {"again": "yes"})
    assert "1 thing said is not acted on" in at_owner.get(f"/jobs/{job.number}/").content.decode()


@pytest.mark.django_db
def test_a_quote_and_a_booking_say_what_the_letter_leaves_open(at_owner, workshop):
    job = saved_with_letter(at_owner, workshop)
    page = at_owner.post(f"/jobs/{job.number}/quote/", {"key": str(uuid4())}, follow=True).content.decode()
    assert f"is saved and frozen. Still to settle: {OPEN_WORDS}." in page
    quote = job.order.quotes.get()
    assert f"{OPEN_WORDS}." in at_owner.get(f"/quotes/{quote.pk}/").content.decode()
    paper = b"".join(at_owner.get(f"/quotes/{quote.pk}/paper.pdf"))
    assert "letter" not in " ".join(one.extract_text() for one in PdfReader(io.BytesIO(paper)).pages)


@pytest.mark.django_db
def test_an_answer_on_the_saved_order_settles_it_and_says_by_whom(at_owner, workshop, owner):
    job = saved_with_letter(at_owner, workshop)
    page = at_owner.get(f"/jobs/{job.number}/order/").content.decode()
    sent = typed(workshop, {"size_text": "600 x 900 mm"}, pasted=OPEN_EMAIL, pasted_settled=settled(page),
                 job=job.number, saves=job.order.saves, answer=answers(page)["1 × 60 × 90 cm"])
    page = at_owner.post("/jobs/lines/pasted/answer/", sent).content.decode()
    assert sizes_of(page) == ["600 x 900 mm", "60 x 90 cm"]
    sent = typed(workshop, {"size_text": "600 x 900 mm"}, {"size_text": "60 x 90 cm"}, pasted=OPEN_EMAIL,
                 pasted_settled=settled(page), saves=job.order.saves)
    assert at_owner.post(f"/jobs/{job.number}/order/", sent).status_code == 302
    point = job.order.letter_points.get(kind="question")
    assert (point.state, point.settled_by) == ("taken", owner)
    assert job.order.letter_points.filter(state="open").count() == 1


@pytest.mark.django_db
def test_unsaved_work_taken_up_again_keeps_the_letter_and_what_was_settled(at_owner, workshop):
    page = at_owner.post("/jobs/lines/pasted/", typed(workshop, {"size_text": ""}, pasted=OPEN_EMAIL)).content.decode()
    sent = typed(workshop, {"size_text": "600 x 900 mm"}, pasted=OPEN_EMAIL, pasted_settled=settled(page))
    for address in ("/jobs/price-now/", "/jobs/lines/0/duplicate/"):  # taken up; and any other button of the form
        again = at_owner.post(address, sent).content.decode()
        assert settled(again) == settled(page)
        assert "1 × 60 × 90 cm" in answers(again)
        assert "Seen to" in answers(again)


@pytest.mark.django_db
def test_another_letter_does_not_hide_what_the_first_leaves_open(at_owner, workshop):
    job = saved_with_letter(at_owner, workshop)
    page = at_owner.post("/jobs/lines/pasted/", typed(
        workshop, {"size_text": "600 x 900 mm"}, pasted="60 x 90 cm please", job=job.number)).content.decode()
    sent = typed(workshop, {"size_text": "600 x 900 mm"}, {"size_text": "60 x 90 cm"}, pasted="60 x 90 cm please",
                 pasted_settled=settled(page), saves=job.order.saves)
    assert at_owner.post(f"/jobs/{job.number}/order/", sent).status_code == 302
    assert [point.written for point in job.order.letter_points.filter(state="open")] == ["The wall is 3 m"]
    page = at_owner.get(f"/jobs/{job.number}/order/").content.decode()
    assert "An earlier letter of this order leaves open" in page


def hidden(page: str) -> dict[str, list[str]]:
    """Return the letters that a form carries in hidden fields."""
    found: dict[str, list[str]] = {}
    for name, value in re.findall(r'type="hidden" name="(pasted_\w+)" value="([^"]*)"', page):
        found.setdefault(name, []).append(unescape(value))
    return found


@pytest.mark.django_db
def test_a_letter_written_over_before_the_first_save_leaves_its_open_points_with_the_order(at_owner, workshop):
    page = at_owner.post("/jobs/lines/pasted/", typed(workshop, {"size_text": ""}, pasted=OPEN_EMAIL)).content.decode()
    for other in ("1 @ 700 x 900 mm\nThe ceiling is 2 m", "1 @ 300 x 400 mm"):
        sent = typed(workshop, {"size_text": "600 x 900 mm"}, pasted=other, **hidden(page))
        page = at_owner.post("/jobs/lines/pasted/", sent).content.decode()
    assert "An earlier letter of this order leaves open" in page
    assert "stay open on the job" in page
    sent = typed(workshop, {"size_text": "600 x 900 mm"}, pasted="1 @ 300 x 400 mm", **hidden(page))
    assert at_owner.post("/jobs/new/", sent).status_code == 302
    points = Order.objects.get().letter_points
    assert [point.written for point in points.filter(state="open")] == ["60 x 90", "The wall is 3 m",
                                                                         "The ceiling is 2 m"]
    assert [point.written for point in points.filter(state="taken")] == ["2 @ 600 x 900 mm", "1 @ 700 x 900 mm",
                                                                          "1 @ 300 x 400 mm"]


@pytest.mark.django_db
def test_a_letter_pasted_again_adds_its_lines_once(at_owner, workshop):
    page = at_owner.post("/jobs/lines/pasted/", typed(workshop, {"size_text": ""}, pasted=OPEN_EMAIL)).content.decode()
    for text in ("1 @ 300 x 400 mm", OPEN_EMAIL):
        sent = typed(workshop, *({"size_text": size} for size in sizes_of(page)), pasted=text, **hidden(page))
        page = at_owner.post("/jobs/lines/pasted/", sent).content.decode()
    assert sizes_of(page) == ["600 x 900 mm", "300 x 400 mm"]


@pytest.mark.django_db
def test_a_hole_that_no_line_has_is_asked_about_once_before_it_is_seen_to(at_owner, workshop):
    text = "2 @ 600 x 900 mm, with two 8 mm holes"
    page = at_owner.post("/jobs/lines/pasted/", typed(workshop, {"size_text": ""}, pasted=text)).content.decode()

    def press(words, holes=""):
        sent = typed(workshop, {"size_text": "600 x 900 mm", "holes_text": holes}, pasted=text,
                     answer=answers(page)[words], **hidden(page))
        return at_owner.post("/jobs/lines/pasted/answer/", sent).content.decode()

    assert "Seen to" not in answers(press("Seen to", holes="hole 8 mm at centre"))
    page = press("Seen to")
    assert "No line of the order has a hole yet: is it meant so?" in page
    assert "seen to</span>" in press("Seen to, without a hole")


@pytest.mark.django_db
def test_lines_of_a_letter_on_a_fresh_order_have_its_glass_source_and_edge(at_owner, workshop):
    """Given an order as it opens, nothing chosen yet, when a letter is read into it, then no choice of a row is red."""
    fresh = typed(workshop, {"size_text": "", "recipe_version": "", "glass": ""}, pasted="2 @ 300 x 400 mm")
    page = at_owner.post("/jobs/lines/pasted/", fresh).content.decode()
    assert sizes_of(page) == ["300 x 400 mm"]
    for name in ("route", "edge"):
        assert f'id="id_lines-0-{name}_error"' not in page
        chosen = re.search(rf'<select name="lines-0-{name}".*?</select>', page, re.DOTALL)
        assert chosen
        assert "selected" in chosen.group()


@pytest.mark.django_db
def test_words_kept_beside_a_size_are_counted_at_the_head(at_owner, workshop):
    letter = "4 panels 620 x 1450 mm in foxed harbour, 6 mm glass, polished edges\n2 @ 600 x 900 mm"
    page = at_owner.post("/jobs/lines/pasted/", {**typed(workshop), "pasted": letter}).content.decode()
    assert sizes_of(page)[:2] == ["620 x 1450 mm", "600 x 900 mm"]
    assert "1 with words kept as a note" in page
    assert "Compare finish, glass and" in page
