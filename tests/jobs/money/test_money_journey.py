"""In a browser: a balance asked for, taken back, asked anew and paid, who owes, a month closed; a helper meets none of it."""

from __future__ import annotations

import pytest

from tests.chromium import at_desk, pdf_of


@pytest.mark.parametrize("script", [True, False], ids=["with a script", "without"])
def test_money_is_asked_for_taken_back_paid_and_the_month_closed(demo, browser, script):
    address, _ = demo
    page = at_desk(browser, address, "maud", viewport={"width": 1280 if script else 360, "height": 900}, java_script_enabled=script)
    page.goto(f"{address}/jobs/4/")
    page.get_by_role("link", name="Ask for money, and what was asked").click()
    assert "was not asked for yet" in page.inner_text("main")
    page.get_by_role("button", name="Make the balance request").click()
    assert "Balance request HV-312 is made and kept" in page.inner_text("main")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth") if script else True
    paper = page.get_by_role("link", name="Balance request HV-312 (PDF)").get_attribute("href")
    text, pages = pdf_of(page, address, paper)
    assert pages == 1
    assert "Foyer panels" in text
    assert "Please name HV-312" in text
    page.get_by_role("link", name="Take HV-312 back").click()
    page.get_by_role("button", name="Make the credit").click()
    assert "Say why it is taken back" in page.inner_text("main")
    page.get_by_label("Why").fill("The theatre pays the trust")
    page.get_by_role("button", name="Make the credit").click()
    assert "takes back HV-312: The theatre pays the trust" in page.inner_text("main")
    page.get_by_role("button", name="Make the balance request").click()
    page.get_by_role("link", name="Record what came in").click()
    opened = page.locator("details", has=page.get_by_role("button", name="Record the money"))
    if opened.get_attribute("open") is None:
        opened.locator("summary").click()
    page.get_by_label("How it was paid").select_option("transfer")
    page.locator("#in-money-amount").fill("100")
    page.get_by_role("button", name="Record the money").click()
    assert "In by transfer: £100.00." in page.inner_text("main")
    page.goto(f"{address}/jobs/money/owed/")
    assert "Balance request HV-314" in page.inner_text("main")
    assert "days late" in page.inner_text("main")
    page.get_by_role("link", name="Close a month").click()
    page.get_by_label("From").fill("1 Jan 2026")
    page.get_by_label("To").fill("today")
    page.get_by_role("button", name="Show").click()
    for words in ("Tax by rate", "Deposits held", "Work in progress", "VAT 20 %", "At the end of the last day"):
        assert words in page.inner_text("main")
    page.get_by_role("link", name="Asked for", exact=True).click()
    assert "HV-313" in page.inner_text("main")
    page.context.close()
    helper = at_desk(browser, address, "teo")
    for path in ("/jobs/money/owed/", "/jobs/money/month/", "/jobs/money/requests/", "/jobs/4/requests/", paper):
        assert helper.context.request.get(address + path).status == 403
    helper.goto(f"{address}/")
    assert "HV-3" not in helper.inner_text("main")
    helper.context.close()
