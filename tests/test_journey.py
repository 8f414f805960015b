"""The main job in a real browser, from an order to the deducted stock: the owner's steps 1 to 6, and the helper's."""

from __future__ import annotations

from playwright.sync_api import Browser, Page, expect

from tests.chromium import at_desk, pdf_of
from tests.serving import manage


def test_from_order_to_deducted_stock(browser, demo):
    address, environment = demo
    page = at_desk(browser, address, "maud")
    job = enter_order(page, address)
    quote_paper = save_and_accept_quote(page, address)
    run = book_and_make_ticket(page, address)
    work_the_run_as_helper(browser, address, run)
    see_estimate_beside_actual(page, address, job, quote_paper)
    assert "Everything ties." in manage(environment, "audit")


def enter_order(page: Page, address: str) -> str:
    """Steps 1 and 2: an order with sizes as people write them, and the price that builds beside it."""
    page.goto(f"{address}/jobs/new/")
    page.get_by_label("Customer", exact=True).select_option(label="Orla Penhallow")
    page.get_by_label("What for").fill("Alcove pair")
    first, second = page.locator("#line-1"), page.locator("#line-2")
    first.get_by_label("Size", exact=True).fill("24 3/8 by a bit")
    first.get_by_label("Finish", exact=True).select_option(label="Foxed Harbour 3")
    first.get_by_label("Glass", exact=True).select_option(label="Clear float 4 mm")
    expect(page.locator("#id_lines-0-size_text_error")).to_contain_text("was not understood as a size")
    expect(page.get_by_label("What for")).to_have_value("Alcove pair")
    first.get_by_label("Size", exact=True).fill("24 3/8 x 36")
    expect(first.locator(".read")).to_contain_text("619.1 × 914.4")
    expect(page.locator("#id_lines-0-size_text_error")).to_have_count(0)
    first.locator(".drawer-of > summary").click()
    expect(first.locator(".pane-drawn")).to_contain_text("619.1 × 914.4 mm (24 3/8 × 36 in), 0.566 m²")
    first.locator(".drawer-of > summary").click()
    expect(page.locator("#price .figure")).to_contain_text("£")
    one_pane = page.locator("#price .figure").inner_text()
    first.get_by_label("Quantity").fill("2")
    expect(page.locator("#price .figure")).not_to_have_text(one_pane)
    first.get_by_label("Quantity").fill("3")
    first.get_by_label("Quantity").fill("2")
    page.get_by_role("link", name="How this price comes about").click()
    working = page.locator("#working")
    working.get_by_text("Chemistry", exact=True).first.click()
    expect(working.get_by_text("Silver nitrate").first).to_be_visible()
    working.get_by_text("What if: silver dearer").click()
    expect(working.get_by_text("If silver costs 10 % more")).to_be_visible()
    page.get_by_role("button", name="Add a line").click()
    second.get_by_label("Shape", exact=True).select_option("circle")
    second.get_by_label("Size", exact=True).fill("61cm")
    second.get_by_label("Edge", exact=True).select_option("polished flat")
    expect(second.locator(".read")).to_contain_text("Ø 610")
    page.get_by_role("button", name="Save the order").click()
    page.wait_for_url("**/jobs/12/")
    return page.url


def save_and_accept_quote(page: Page, address: str) -> str:
    """Step 3, and the answer: the quote is numbered and frozen, its paper says no cost."""
    page.get_by_role("button", name="Save as quote").click()
    expect(page.get_by_role("status")).to_contain_text("is saved and frozen")
    path = page.get_by_role("link", name="(PDF)").first.get_attribute("href")
    text, pages = pdf_of(page, address, path)
    total = page.locator("td[data-label=Total]").first.inner_text().split()[0]
    for wanted in ("Hollin & Vane", "Orla Penhallow", "619.1 × 914.4 mm", "Ø 610 mm", "Foxed Harbour", total, "VAT 20 %", "to begin",
                   "valid until", "Terms", "Care", "What varies"):
        assert wanted in text, wanted
    assert "margin" not in text.lower()
    assert pages == 2
    page.get_by_role("button", name="Mark as sent").click()
    page.get_by_role("button", name="Mark as accepted").click()
    expect(page.get_by_role("heading", name="Book it")).to_be_visible()
    return path


def book_and_make_ticket(page: Page, address: str) -> str:
    """Step 4: sample and deposit are in, stock is promised, the ticket is printed."""
    page.get_by_role("button", name="Book the job").click()
    expect(page.get_by_role("alert")).to_contain_text("both in, or say why not")
    page.get_by_label("The customer has approved a sample").check()
    page.get_by_label("The deposit is in").check()
    page.get_by_role("button", name="Book the job").click()
    expect(page.get_by_role("status")).to_contain_text("stock is promised")
    page.get_by_role("button", name="Make the work ticket").click()
    ticket = page.get_by_role("link", name="Ticket 12-1 (PDF)").get_attribute("href")
    text, pages = pdf_of(page, address, ticket)
    for wanted in ("Work ticket 12-1", "1.1", "619.1 × 914.4 mm", "Cut list", "Silver part, sprayed", "Silver nitrate",
                   "until nearly clear", "dwell 30 s", "Good:", "Wear", "Why spoilt", "Air °C", "opens this run"):
        assert wanted in text, wanted
    assert "£" not in text
    assert pages >= 4
    return page.get_by_role("link", name="open the run").get_attribute("href")


def work_the_run_as_helper(browser: Browser, address: str, run: str) -> None:
    """Step 5: the helper notes everything on a tablet, and finishes. No price anywhere."""
    page = at_desk(browser, address, "teo", viewport={"width": 820, "height": 1180})
    page.goto(address + run)
    page.get_by_label("Air, °C").fill("20.5")
    page.get_by_label("Relative humidity, %").fill("52")
    page.get_by_role("button", name="Record the conditions").click()
    expect(page.locator("#conditions + [data-part]").get_by_text("Recorded.")).to_be_visible()
    page.get_by_role("link", name="See what will be deducted, then finish").click()
    expect(page.locator("main")).to_contain_text("mixes are not recorded yet")
    expect(page.get_by_role("button", name="Finish: deduct this")).to_have_count(0)
    page.goto(address + run)
    waiting = page.locator(".mix", has=page.get_by_text("not recorded yet"))
    for _ in range(waiting.count()):
        first = waiting.first
        key = first.get_attribute("id")
        page.locator(f"#{key}").locator("xpath=ancestor::details[1]").evaluate("group => { group.open = true; }")
        page.locator(f"#{key}").get_by_role("button", name="Mixed as written").click()
        expect(page.locator(f"#{key}")).to_contain_text("mixed as written")
    panes = page.locator(".pane", has=page.get_by_text("not judged yet"))
    spoilt = panes.first
    spoilt.get_by_text("Spoilt, or started more than once").click()
    spoilt.get_by_label("What spoilt it").fill("pinholes")
    spoilt.get_by_role("button", name="Spoilt").click()
    expect(page.locator(".pane", has=page.get_by_text("spoilt: pinholes"))).to_be_visible()
    for _ in range(panes.count()):
        before = panes.count()
        panes.first.get_by_role("button", name="Good").click()
        expect(panes).to_have_count(before - 1)
    page.get_by_label("Helper's minutes").fill("240")
    page.get_by_label("Owner's minutes").fill("45")
    page.get_by_role("button", name="Record the time").click()
    expect(page.locator("#making-safe")).to_contain_text("Silver part, sprayed")
    for box in page.locator("#making-safe form input[type=checkbox]:not([name=none_left])").all():
        box.check()
    page.get_by_role("button", name="Record that it is safe").click()
    expect(page.get_by_text("Everything is recorded: finish the run.")).to_be_visible()
    page.get_by_role("link", name="See what will be deducted, then finish").click()
    expect(page.locator("main")).to_contain_text("Silver nitrate")
    page.get_by_role("button", name="Finish: deduct this").click()
    expect(page.get_by_role("status").first).to_contain_text("stock is deducted")
    assert "£" not in page.content()
    page.context.close()


def see_estimate_beside_actual(page: Page, address: str, job: str, quote_paper: str) -> None:
    """Step 6: the job compares, and the lot's page shows what was taken."""
    page.goto(job)
    expect(page.get_by_role("heading", name="Estimate and actual")).to_be_visible()
    row = page.locator("tr", has=page.get_by_role("link", name="Silver nitrate"))
    assert row.locator("td").nth(0).inner_text() == row.locator("td").nth(1).inner_text()
    expect(page.get_by_text("good of")).to_be_visible()
    row.get_by_role("link").click()
    page.get_by_role("link", name="L1002").click()
    expect(page.get_by_role("cell", name="Job 12, Ticket 12-1")).to_be_visible()


def test_a_helper_at_a_phone(browser, demo):
    """The helper sees the bench, the shelf and the recipes on a phone: nothing wider than it, nothing of money."""
    address, _ = demo
    page = at_desk(browser, address, "teo", viewport={"width": 360, "height": 740})
    for path in ("/", "/bench/", "/bench/4/", "/stockroom/", "/stockroom/silver-nitrate/", "/finishes/",
                 "/finishes/foxed-harbour/3/", "/guides/cautions/"):
        page.goto(address + path)
        assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"), path
        shown = page.inner_text("body")
        assert "£" not in shown, path
        assert "Unit cost" not in shown, path
    assert page.goto(f"{address}/jobs/").status == 403
    assert "This page is for: owner" in page.inner_text("main")
    page.goto(f"{address}/bench/4/")
    load = page.locator("#r1l2")
    load.locator("> summary").click()
    load.get_by_role("button", name="Start the dwell").first.click()
    expect(load.locator(".timer").filter(has_text=":").first).to_be_visible()
    page.goto(f"{address}/bench/4/#r1l2")  # as the code on the printed load opens it: the dwell goes on
    page.reload()
    expect(load.locator(".timer").filter(has_text=":").first).to_be_visible()
    expect(load.get_by_role("button", name="Start again")).to_have_count(1)


def test_the_order_page_without_javascript(browser, demo):
    address, _ = demo
    page = at_desk(browser, address, "maud", java_script_enabled=False)
    page.goto(f"{address}/jobs/new/")
    page.get_by_label("Customer", exact=True).select_option(label="Saltmarsh Hotel")
    page.get_by_label("What for").fill("Lobby")
    page.get_by_label("Size", exact=True).fill("2' 0 3/8\" x 3'")
    page.get_by_label("Finish", exact=True).select_option(label="Quiet Silver 2")
    page.get_by_label("Glass", exact=True).select_option(label="Low-iron float 4 mm")
    page.get_by_role("button", name="Work out the price without saving").click()
    expect(page.locator("#price .figure")).to_contain_text("£")
    expect(page.locator("#line-1 .read")).to_contain_text("619.1 × 914.4")
    page.get_by_role("button", name="Add a line").click()
    expect(page.get_by_role("group", name="Line 2", exact=True)).to_be_visible()
    page.get_by_role("button", name="Save the order").click()
    expect(page.get_by_role("heading", name="Lobby")).to_be_visible()
