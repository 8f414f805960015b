"""An order entered in a real browser: twelve lines by keyboard alone, forty from an e-mail, unsaved work, no script."""

from __future__ import annotations

import time

from playwright.sync_api import Browser, Page, Route, expect

from tests.chromium import at_desk
from tests.serving import manage

#: size as written, quantity, the first letters of another shape; the glass of one line is another
TWELVE = [
    ("2' 0 3/8\" x 3'", "12", ""), ("24 3/8 x 36", "2", ""), ("610 x 610 mm", "2", ""), ("30in", "1", "c"),
    ("450 x 900", "6", "r"), ("400 x 700", "4", "e"), ("600 x 800", "1", "r"), ("500 x 700 mm", "4", ""),
    ("300 x 200", "8", ""), ("600 mm", "3", "c"), ("12 1/4 x 36", "2", "r"), ("90 x 60 cm", "1", ""),
]


def test_an_order_is_entered(browser, demo):
    address, environment = demo
    twelve_lines_by_keyboard_alone(browser, address)
    forty_lines_from_an_email(browser, address)
    what_was_not_saved_is_offered_again(browser, address)
    without_a_script(browser, address)
    assert "Everything ties." in manage(environment, "audit")


def named(page: Page) -> str:
    """Return the name of the field that has the focus."""
    return str(page.evaluate("document.activeElement.name || document.activeElement.id"))


def comes_to_be_in(page: Page, name: str) -> None:
    page.wait_for_function("name => [document.activeElement.name, document.activeElement.id].includes(name)", arg=name)


def tab_to(page: Page, name: str) -> None:
    for _ in range(40):
        if named(page) == name:
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"Tab never came to {name}")


def twelve_lines_by_keyboard_alone(browser: Browser, address: str) -> None:
    page = at_desk(browser, address, "maud", viewport={"width": 1280, "height": 900})
    page.goto(f"{address}/jobs/new/")
    tab_to(page, "customer")
    page.keyboard.type("Saltmarsh")
    tab_to(page, "title")
    page.keyboard.type("Corridor")
    page.keyboard.press("Enter")  # nothing is sent by it: the first size is next
    for at, (size, quantity, shape) in enumerate(TWELVE):
        comes_to_be_in(page, f"lines-{at}-size_text")
        page.keyboard.type(size)
        page.keyboard.press("Tab")
        page.keyboard.type(quantity)
        page.keyboard.press("Tab")
        page.keyboard.type(shape)
        if at == 0:  # the others begin as this one
            page.keyboard.press("Tab")
            page.keyboard.type("Foxed Harbour")
            page.keyboard.press("Tab")
            page.keyboard.type("Clear float 4")
        page.keyboard.press("Enter")
    comes_to_be_in(page, "lines-12-size_text")
    assert page.locator("#id_lines-11-recipe_version").input_value() == page.locator("#id_lines-0-recipe_version").input_value()
    page.keyboard.press("ArrowUp")
    comes_to_be_in(page, "lines-11-size_text")
    page.keyboard.press("Alt+KeyM")
    comes_to_be_in(page, "lines-11-opening")
    expect(page.locator("#lines-11-drawn")).to_contain_text("Understood as 900 × 600 mm")
    tab_to(page, "lines-11-own_price_each")
    page.keyboard.type("99.50")
    expect(page.locator("#line-12 .line-price")).to_have_text("Price £99.50")
    comes_to_be_in(page, "lines-11-own_price_each")  # the price came and left the focus where it was
    expect(page.locator("#line-1 .read")).to_contain_text("619.1 × 914.4")
    expect(page.locator("#line-1 .each")).to_contain_text("each")
    page.keyboard.press("Alt+KeyM")
    comes_to_be_in(page, "lines-11-size_text")
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent.trim()") == "Save the order":
            break
    page.keyboard.press("Enter")
    expect(page.get_by_text("The order is saved.")).to_be_visible()
    expect(page.locator("h1")).to_have_text("Corridor")
    number = page.url.rstrip("/").rsplit("/", 1)[1]
    page.goto(f"{address}/jobs/{number}/order/")
    expect(page.locator(".line:not(.fresh)")).to_have_count(12)
    expect(page.locator("#id_lines-5-shape")).to_have_value("ellipse")
    expect(page.locator("#kept-here")).to_be_hidden()  # what was saved is kept no longer
    page.context.close()


def forty_lines_from_an_email(browser: Browser, address: str) -> None:
    page = at_desk(browser, address, "maud", viewport={"width": 1280, "height": 900})
    page.goto(f"{address}/jobs/new/")
    page.locator("#id_customer").select_option(label="Ines Marchetti")
    page.locator("#id_title").fill("Forty")
    page.locator("#id_lines-0-recipe_version").select_option(label="Foxed Harbour 3")
    page.locator("#id_lines-0-glass").select_option(label="Clear float 4 mm")
    page.get_by_role("link", name="Read sizes from an e-mail").click()
    page.get_by_label("What the customer wrote").fill("\n".join(f"2 @ {300 + 5 * at} x 400 mm" for at in range(40)))
    page.get_by_role("button", name="Read the sizes").click()
    expect(page.locator(".line:not(.fresh)")).to_have_count(40)
    expect(page.locator("#line-40 .each")).to_contain_text("each")
    page.locator("#line-3 .drawer-of > summary").click()
    page.get_by_role("button", name="Remove line 3", exact=True).click()
    expect(page.locator(".put-back:visible")).to_contain_text("2 × 310 x 400 mm")
    expect(page.locator("#line-3 [name$=size_text]")).to_have_value("315 x 400 mm")
    page.get_by_role("button", name="Put it back").click()
    expect(page.locator("#line-3 [name$=size_text]")).to_have_value("310 x 400 mm")
    page.get_by_role("button", name="Down line 3", exact=True).click()
    expect(page.locator("#line-4 [name$=size_text]")).to_have_value("310 x 400 mm")
    page.get_by_role("button", name="Duplicate line 4", exact=True).click()
    comes_to_be_in(page, "lines-4-size_text")
    page.locator("#line-4 .other-finishes > summary").click()
    expect(page.locator("#line-4 .found table")).to_contain_text("more", timeout=60_000)  # nine estimates of 41 lines
    page.locator("#line-4 .found").get_by_role("button", name="Take this one Quiet Silver").click()
    expect(page.locator("#line-4 select[name$=recipe_version] option:checked")).to_contain_text("Quiet Silver")
    page.get_by_role("button", name="Save the order").click()
    expect(page.locator("h1")).to_have_text("Forty")
    page.context.close()


def what_was_not_saved_is_offered_again(browser: Browser, address: str) -> None:
    page = at_desk(browser, address, "maud", viewport={"width": 1280, "height": 900})
    page.goto(f"{address}/jobs/9/order/")
    page.locator("#id_title").fill("Half typed")
    page.locator("#id_lines-0-note").evaluate("field => { field.value = 'for the stairs'; }")
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    page.get_by_role("link", name="Stockroom").click(no_wait_after=True)
    page.wait_for_timeout(500)
    assert asked == ["beforeunload"]
    assert "/order/" in page.url
    again = page.context.new_page()
    page.close()
    again.goto(f"{address}/jobs/9/order/")
    offered = again.locator("#kept-here")
    expect(offered).to_contain_text("you typed this order less than a minute ago and did not save it")
    offered.get_by_role("button", name="Take it up").click()
    expect(again.locator("#id_title")).to_have_value("Half typed")
    expect(again.locator("#id_lines-0-note")).to_have_value("for the stairs")
    again.get_by_role("button", name="Save the order").click()
    expect(again.locator("h1")).to_have_text("Half typed")
    again.goto(f"{address}/jobs/9/order/")
    expect(again.locator("#kept-here")).to_be_hidden()
    again.locator("#id_title").fill("Nobody's business")
    again.wait_for_function("() => Object.keys(localStorage).some(name => name.startsWith('order:'))")
    again.on("dialog", lambda dialog: dialog.accept())
    again.route("**/log-out/", answered_late)  # a price asked for on the way would be answered first, by the door
    again.get_by_role("button", name="Log out").first.click(no_wait_after=True)  # the dialog stands between
    again.wait_for_url("**/log-in/?left", timeout=60_000)
    assert again.evaluate("Object.keys(localStorage).filter(name => name.startsWith('order:')).length") == 0
    again.context.close()


def answered_late(route: Route) -> None:
    answer = route.fetch(max_redirects=0)
    time.sleep(1.5)
    route.fulfill(response=answer)


def without_a_script(browser: Browser, address: str) -> None:
    page = at_desk(browser, address, "maud", java_script_enabled=False, viewport={"width": 1280, "height": 900})
    page.goto(f"{address}/jobs/new/")
    page.locator("#id_customer").select_option(label="Ines Marchetti")
    page.locator("#id_title").fill("By hand")
    page.locator("#id_lines-0-size_text").fill("610 x 915 mm")
    page.locator("#id_lines-0-recipe_version").select_option(label="Foxed Harbour 3")
    page.locator("#id_lines-0-glass").select_option(label="Clear float 4 mm")
    page.get_by_role("button", name="Add a line").last.click()
    page.locator("#id_lines-1-size_text").fill("300 x 400 mm")
    assert page.locator("#id_lines-1-glass").input_value() == page.locator("#id_lines-0-glass").input_value()
    page.locator("#line-1 .drawer-of > summary").click()
    page.get_by_role("button", name="Duplicate line 1", exact=True).click()
    page.locator("#line-1 .drawer-of > summary").click()
    page.get_by_role("button", name="Remove line 1", exact=True).click()
    expect(page.locator("#line-1 [name$=size_text]")).to_have_value("610 x 915 mm")
    page.get_by_role("button", name="Put it back").click()
    expect(page.locator("#line-3 [name$=size_text]")).to_have_value("300 x 400 mm")
    expect(page.locator("#line-3 .line-price")).to_contain_text("£")
    page.locator("#working > summary").click()
    page.get_by_role("button", name="Show the working").click()
    expect(page.locator("#working")).to_contain_text("Bench timetable")
    page.locator("#id_lines-0-size_text").fill("oops")
    page.get_by_role("button", name="Save the order").click()
    expect(page.locator("#problems")).to_contain_text("Line 1: Size: “oops” was not understood")
    page.locator("#id_lines-0-size_text").fill("610 x 915 mm")
    page.get_by_role("button", name="Save the order").click()
    expect(page.locator("h1")).to_have_text("By hand")
    page.context.close()
