"""In a browser: a ticket waits for its sample and the deposit; customers are merged, exported and forgotten."""

from __future__ import annotations

import json
from io import BytesIO
from zipfile import ZipFile

from playwright.sync_api import Page, expect

from tests.chromium import at_desk, pdf_of


def accept_and_approve(page: Page, address: str) -> None:
    """The quote that is out is accepted, and the sample that is with the customer approved on its page."""
    page.goto(f"{address}/jobs/7/")
    page.get_by_role("link", name="Look at its options").click()
    page.get_by_label("Who said so, and how").fill("Bruna Conti, by telephone")
    page.get_by_label("Option A: ").check()
    page.get_by_role("button", name="Mark as accepted").click()
    page.goto(f"{address}/jobs/7/")
    page.locator("#samples").get_by_role("link", name="Bronze Tide").click()
    text, pages = pdf_of(page, address, page.get_by_role("link", name="Approval pack (PDF)").get_attribute("href"))
    assert "I approve this sample of Bronze Tide" in text
    assert pages == 1
    page.get_by_label("Our half is kept").fill("sample box 3")
    page.get_by_role("button", name="Save the sample").click()
    expect(page.get_by_role("status")).to_contain_text("is saved")
    page.get_by_label("Approved by").fill("Bruna Conti")
    page.get_by_label("How", exact=True).select_option("from a photograph")
    page.get_by_role("button", name="Record the approval").click()
    expect(page.get_by_role("status")).to_contain_text("Bronze Tide is approved")
    expect(page.get_by_text("Bruna Conti, from a photograph")).to_be_visible()


def wait_before_the_ticket(page: Page, address: str) -> None:
    """Booked, the approval is undone: the ticket waits, until the owner says why it goes ahead."""
    page.goto(f"{address}/jobs/7/")
    assert page.get_by_label("The customer has approved a sample").is_checked()
    page.get_by_label("The deposit is in").check()
    page.get_by_role("button", name="Book the job").click()
    expect(page.get_by_role("button", name="Make the work ticket")).to_be_visible()
    page.locator(".entry", has_text="Sample approved.").get_by_role("link", name="Undo").click()
    page.get_by_label("Why", exact=True).fill("that was another sample")
    page.get_by_role("button", name="Undo that the sample was approved").click()
    expect(page.get_by_text("Booked: its ticket waits for the sample of Bronze Tide.").first).to_be_visible()
    expect(page.get_by_role("button", name="Make the work ticket")).to_have_count(0)
    page.get_by_role("link", name="Look at what it waits for").click()
    page.get_by_text("Go ahead without", exact=True).click()
    page.get_by_label("Why it goes ahead").fill("Same bronze as their bar")
    page.get_by_role("button", name="Let it go ahead").click()
    page.get_by_role("button", name="Make the work ticket").click()
    expect(page.get_by_role("status")).to_contain_text("is ready to print")
    page.get_by_role("link", name="open the run").click()
    expect(page.get_by_text("Same bronze as their bar")).to_be_visible()
    page.goto(address)
    expect(page.get_by_text("Same bronze as their bar").first).to_be_visible()


def merge_and_export(page: Page, address: str) -> None:
    page.goto(f"{address}/jobs/customers/?q=tarrant")
    page.get_by_role("link", name="Theatre Royal, Port Asher", exact=True).click()
    expect(page.get_by_role("link", name="Perpetua Lisle")).to_be_visible()
    page.get_by_role("link", name="Add a contact").click()
    page.get_by_label("Name").fill("Wilf Amory")
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_role("link", name="Wilf Amory")).to_be_visible()
    page.get_by_role("link", name="Merge into another customer").click()
    page.get_by_label("Merge into").select_option("Brannock Interiors")
    page.get_by_role("button", name="Show what would move").click()
    expect(page.get_by_text("3 contacts: Oswin Tarrant, Perpetua Lisle, Wilf Amory.")).to_be_visible()
    page.get_by_role("button", name="Merge: Brannock Interiors stays").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Brannock Interiors")
    expect(page.get_by_role("link", name="Wilf Amory")).to_be_visible()
    expect(page.get_by_text("Foyer panels")).to_be_visible()
    with page.expect_download() as started:
        page.get_by_role("link", name="All that is kept about them (ZIP)").click()
    with open(started.value.path(), "rb") as file:
        about = json.loads(ZipFile(BytesIO(file.read())).read("customer.json"))
    assert {order["title"] for order in about["orders"]} >= {"Foyer panels", "Wardrobe doors"}


def forget_one(page: Page, address: str) -> None:
    page.goto(f"{address}/jobs/customers/?q=saltmarsh")
    page.get_by_role("link", name="Saltmarsh Hotel", exact=True).click()
    there = page.url
    page.get_by_role("link", name="Forget this customer").click()
    expect(page.get_by_text("Job 9 is enquiry: deliver or cancel it first.")).to_be_visible()
    page.goto(f"{address}/jobs/9/")
    page.get_by_text("Cancel this job", exact=True).click()
    page.get_by_label("Why it is cancelled").fill("they sold the hotel")
    page.get_by_role("button", name="Cancel the job").click()
    page.goto(f"{there}forget/")
    expect(page.get_by_text("Backups and books that were made before still hold everything")).to_be_visible()
    page.get_by_label("Wipe this now").check()
    page.get_by_role("button", name="Wipe how to reach them").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("forgotten on")
    page.goto(f"{address}/find/?q=saltmarsh")
    expect(page.locator("main").get_by_text("manager@saltmarsh.example")).to_have_count(0)


def test_samples_and_customers(demo, browser):
    address, _ = demo
    page = at_desk(browser, address, "maud", viewport={"width": 1280, "height": 900})
    accept_and_approve(page, address)
    wait_before_the_ticket(page, address)
    merge_and_export(page, address)
    forget_one(page, address)
    helper = at_desk(browser, address, "teo", viewport={"width": 360, "height": 740})
    for path in ("/jobs/7/", "/jobs/customers/", "/jobs/customers/4/export.zip", "/quotes/7/samples.pdf"):
        assert helper.goto(f"{address}{path}").status == 403, path
