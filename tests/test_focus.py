"""The keyboard stays where the work is when a fragment takes the place of what had the focus."""

from __future__ import annotations

from playwright.sync_api import Browser, Page, expect

from tests.chromium import at_desk
from tests.serving import Environment

WHERE = """begins => {
  const active = document.activeElement
  return `${active.tagName} ${active.name || active.textContent.trim()}`.startsWith(begins)
}"""


def comes_to_be_at(page: Page, begins: str) -> None:
    page.wait_for_function(WHERE, arg=begins)


def pressed(page: Page, button: str, says: str) -> None:
    found = page.get_by_role("button", name=button).first
    found.focus()
    with page.expect_response(lambda answer: says in answer.url):
        page.keyboard.press("Enter")


def test_what_is_recorded_or_refused_keeps_the_focus_beside_it(browser: Browser, demo: tuple[str, Environment]) -> None:
    page = at_desk(browser, demo[0], "teo")
    page.goto(f"{demo[0]}/bench/4/")
    for who in ("Helper's minutes", "Owner's minutes"):
        page.get_by_label(who).first.fill("0")
    pressed(page, "Record the time", "time")
    refused = page.locator("[name=helper][aria-invalid='true']")
    expect(refused).to_be_focused()
    refused.fill("12")
    pressed(page, "Record the time", "time")
    expect(page.locator("#time + * .state, #time ~ * .state").first).to_have_text("Recorded.")
    comes_to_be_at(page, "BUTTON Record the time")


def test_a_step_that_is_moved_keeps_the_focus_on_its_button(browser: Browser, demo: tuple[str, Environment]) -> None:
    page = at_desk(browser, demo[0], "maud")
    page.goto(f"{demo[0]}/finishes/ember-edge/4/edit/")
    pressed(page, "Down", "down")
    comes_to_be_at(page, "BUTTON")
