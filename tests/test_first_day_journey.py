"""The first day in a real browser: an empty studio, to its first quote as a PDF. Submissions and typed values counted.

A value is whatever is filled in, chosen or ticked; a submission is a form that was sent.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Locator, Page, expect

from tests.chromium import pdf_of
from tests.serving import Environment, manage, own_database, served

MOST_SUBMISSIONS, MOST_VALUES = 12, 40

NOTE = """Marrow & Tule Chemicals
Invoice 4411
Silver nitrate 100 g, lot SN-44, 86.00, exp 05/2028
Ammonia solution 25 %, 1 L, lot A91, 11.50
Potassium hydroxide 500 g, lot K7, 9.80
Dextrose anhydrous 1 kg, lot D3, 8.40
Rochelle salt 500 g, lot R12, 15.20
Tin(II) chloride dihydrate 100 g, lot T5, 17.50
Cerium oxide polish 1 kg, lot C1, 26.50
Distilled water 2 x 25 L, 23.00 each
Carriage 6.90
"""
PROCEDURE = ("Written procedure 1, on the wall by the sink: what is added to what, with face shield and extraction on, "
             "and where it stands until it is collected.")


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[tuple[str, Environment]]:
    """An empty studio, served: its address and environment."""
    with own_database(tmp_path, "daybook_first_day") as environment, served(environment) as address:
        yield address, environment


class Counting:
    """A page on which every value that is typed, chosen or ticked is counted, and every form that is sent."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.values = self.submissions = self.pages = 0
        page.on("request", self._sent)

    def _sent(self, request: object) -> None:
        if request.is_navigation_request():
            self.pages += 1
            self.submissions += request.method == "POST"

    def fill(self, field: Locator | str, value: str) -> None:
        self.values += 1
        (self.page.get_by_label(field) if isinstance(field, str) else field).fill(value)

    def choose(self, field: Locator, label: str) -> None:
        self.values += 1
        field.select_option(label=label)

    def tick(self, label: str) -> None:
        self.values += 1
        self.page.get_by_label(label).check()

    def press(self, name: str) -> None:
        self.page.get_by_role("button", name=name).first.click()
        self.page.wait_for_load_state()

    def follow(self, name: str) -> None:
        self.page.get_by_role("link", name=name).first.click()
        self.page.wait_for_load_state()


def accessible(page: Page, name: str) -> None:
    """Fail where axe finds something on a page of the first day that no demo shows."""
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    assert not found, (name, [(rule["id"], rule["nodes"][0]["target"]) for rule in found])


def set_up(counting: Counting, address: str, environment: Environment, *, script: bool) -> None:
    """Go through the stages, in order, up to the first order."""
    secret = manage(environment, "first_owner", "--if-empty").split()[-1]
    page = counting.page
    page.goto(f"{address}/")
    expect(page).to_have_url(f"{address}/first-owner/")
    counting.fill("Name of the studio", "Lark Lane Glass")
    if script:
        accessible(page, "first owner")
        expect(page.get_by_label("Time zone")).to_have_value("Europe/Lisbon")
        expect(page.get_by_label("Currency")).to_have_value("EUR")
    else:
        counting.choose(page.get_by_label("Time zone"), "Europe/Lisbon")
        counting.choose(page.get_by_label("Currency"), "Euro, € (EUR)")
    counting.fill("Username", "nell")
    counting.fill(page.get_by_label("Password", exact=True), "quiet-mirror-9")
    counting.fill("Password again", "quiet-mirror-9")
    counting.fill("Secret of the start", secret)
    counting.press("Open the daybook")
    expect(page.get_by_role("heading", level=1)).to_have_text("Set up the studio")
    for label, value in (("A helper", "18"), ("The owner", "€38"), ("Overhead", "9,50"), ("Margin", "35 %"),
                         ("Least that is charged", "90"), ("Tax, %", "23")):
        counting.fill(label, value)
    counting.press("Save the rates")
    counting.fill("Size of a bench", "1400 x 900 mm")
    counting.press("Save hands and days")
    counting.fill("Price of Clear float 4 mm", "54")
    counting.press("Enter what is ticked or priced")
    counting.fill("The delivery note", NOTE)
    counting.press("Read it")
    expect(page.get_by_label("Supplier")).to_have_value("Marrow & Tule Chemicals")
    if script:
        accessible(page, "what was read of a note")
    counting.press("Save the delivery")
    counting.press("Add the starter set")
    if script:
        accessible(page, "cautions of the starter set")
    counting.fill("Making-safe procedure", PROCEDURE)
    counting.tick("I have read these cautions")
    counting.press("Put both in use")
    expect(page.get_by_role("status").first).to_contain_text("never a recommendation")
    counting.follow("Enter an order")


def order(counting: Counting) -> None:
    """Enter one line for a new customer, and save it as a quote."""
    page = counting.page
    name = page.get_by_label("New customer's name")
    if not name.is_visible():
        page.locator("summary", has_text="New customer").click()
    counting.fill(name, "Ines Marchetti")
    counting.fill("What for", "Mirror for a hall")
    counting.fill(page.get_by_label("Size", exact=True).first, "600 x 800")
    counting.choose(page.get_by_label("Finish").first, "Starter silver, sprayed 1")
    counting.choose(page.get_by_label("Glass", exact=True).first, "Clear float 4 mm")
    counting.press("Save the order")
    counting.press("Save as quote")


@pytest.mark.parametrize("script", [True, False], ids=["with a script", "without one"])
def test_from_an_empty_studio_to_the_first_quote(browser: Browser, empty, script):
    address, environment = empty
    context = browser.new_context(timezone_id="Europe/Lisbon", locale="en-GB", java_script_enabled=script)
    page = context.new_page()
    page.set_default_timeout(60_000)
    counting = Counting(page)
    set_up(counting, address, environment, script=script)
    order(counting)
    paper = page.locator("a[href$='paper.pdf']").first.get_attribute("href")
    text, _ = pdf_of(page, address, paper)
    print(f"first day, script {script}: {counting.submissions} submissions, {counting.pages} pages, "
          f"{counting.values} values")
    for said in ("Lark Lane Glass", "Starter silver, sprayed", "600 × 800 mm", "approved sample", "edges as cut", "in all", "€"):
        assert said in text, said
    assert "starting point" not in text, "what is meant for the studio is not said to a customer"
    assert counting.submissions <= MOST_SUBMISSIONS
    assert counting.values <= MOST_VALUES
    assert "Everything ties." in manage(environment, "audit")


def test_the_start_is_left_and_taken_up_again_where_it_stood(browser: Browser, empty):
    address, environment = empty
    secret = manage(environment, "first_owner", "--if-empty").split()[-1]
    page = browser.new_context(timezone_id="Europe/Lisbon", locale="pt-PT").new_page()
    counting = Counting(page)
    page.goto(f"{address}/first-owner/")
    counting.fill("Name of the studio", "Lark Lane Glass")
    counting.fill("Username", "nell")
    counting.fill(page.get_by_label("Password", exact=True), "quiet-mirror-9")
    counting.fill("Password again", "quiet-mirror-9")
    counting.fill("Secret of the start", secret)
    counting.press("Open the daybook")
    counting.follow("Leave this for later")
    expect(page.get_by_label("Size of a bench")).to_be_visible()
    counting.press("Save hands and days")
    page.goto(f"{address}/")
    expect(page.locator("main")).to_contain_text("2 of 7 stages")
    counting.follow("Go on setting up")
    expect(page.get_by_label("The owner")).to_be_visible()
    counting.fill("The owner", "38")
    counting.press("Save the rates")
    expect(page.get_by_role("alert")).to_contain_text("A helper, € an hour")
    expect(page.get_by_label("The owner")).to_have_value("38")
