"""The library in a real browser: author → version → trial on a phone → compare → promote → quote with the new version."""

from __future__ import annotations

import re
from pathlib import Path

from playwright.sync_api import Browser, Page, expect

from tests import builders
from tests.chromium import at_desk, pdf_of
from tests.serving import manage

PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}


def test_from_a_new_finish_to_a_quote_with_its_second_version(browser, demo, tmp_path):
    address, environment = demo
    page = at_desk(browser, address, "maud")
    author_a_finish(page, address)
    version_it(page, address)
    first = try_on_a_phone(browser, address, tmp_path, double=False, score="5", verdict="further")
    second = try_on_a_phone(browser, address, tmp_path, double=True, score="9", verdict="liked")
    compare_the_two(page, address, first, second)
    promote_and_version(page, address, second)
    quote_with_the_new_version(page, address)
    assert "Everything ties." in manage(environment, "audit")


def add_step(page: Page, kind: str) -> None:
    """Add a step after the last; its form opens."""
    page.get_by_label("New step").select_option(kind)
    page.get_by_role("button", name="Add step").click()
    expect(page.locator("li.opened h3")).to_contain_text(kind.capitalize())


def save_step(page: Page) -> None:
    page.get_by_role("button", name="Save the step").click()
    expect(page.locator("li.opened")).to_have_count(0)


def author_a_finish(page: Page, address: str) -> None:
    page.goto(f"{address}/finishes/")
    page.get_by_role("link", name="Add a finish").click()
    page.get_by_label("Name").fill("Night Reed")
    page.locator("#id_description").fill("Long dark strokes, as reeds at night.")
    page.get_by_role("button", name="Save, and write its recipe").click()
    page.wait_for_url("**/finishes/night-reed/1/edit/")
    add_step(page, "clean")
    save_step(page)
    add_step(page, "rinse")
    save_step(page)
    add_step(page, "sensitise")
    page.locator("#id_parts-0-solution_version").select_option(label="Sensitiser, version 1")
    page.get_by_label("Coverage per coat").fill("8 US fl oz / ft2")
    page.get_by_label("Dwell time", exact=True).fill("half a minute")
    expect(page.locator("#id_step-dwell_minutes_error")).to_contain_text("was not understood as a time")
    page.get_by_label("Dwell time", exact=True).fill("30 s")
    expect(page.locator("#id_step-dwell_minutes_error")).to_be_empty()
    expect(page.locator("#step-mixes")).to_contain_text("Sensitiser")
    expect(page.locator("#step-mixes")).to_contain_text("950 mL")  # 4 × 0.093025 m² × 2546.61 mL/m², up to 10 mL
    page.locator("#id_parts-0-strength").fill("double")
    expect(page.locator("#step-mixes")).to_contain_text("38 mL")  # 20 mL/L × 0.95 L × 2 of the tin stock in it
    page.locator("#id_parts-0-strength").fill("1")
    save_step(page)
    silvered = False
    for kind in ("rinse", "silver", "rinse", "make safe", "dry", "inspect", "seal"):
        add_step(page, kind)
        if kind == "rinse" and silvered:
            page.get_by_label("The first water is collected").check()
        silvered = silvered or kind == "silver"
        if kind == "silver":
            page.locator("#id_parts-0-solution_version").select_option(label="Silver part, sprayed, version 1")
            page.locator("#id_parts-1-solution_version").select_option(label="Dextrose reducer, version 1")
            page.get_by_label("Coverage per coat").fill("900 mL/m2")
            page.get_by_label("Dwell time", exact=True).fill("1 min")
            page.get_by_label("Done by").evaluate("hands => hands.closest('details').open = true")
            page.get_by_label("Done by").select_option("owner")
        if kind == "seal":
            page.locator("#id_parts-0-solution_version").select_option(label="Sealer, neat, version 1")
            page.locator("#id_parts-0-mixed_for").select_option("job")
            page.get_by_label("Coverage per coat").fill("110 mL/m2")
        save_step(page)
    arrange_by_keyboard_and_drag(page)
    page.reload()
    kinds = [text.split()[0].lower() for text in page.locator("ol.steps h3").all_inner_texts()]
    assert kinds == ["clean", "rinse", "sensitise", "rinse", "silver", "rinse", "make", "dry", "inspect", "seal"]
    assert "8 US fl oz / ft2" in reopened(page, 3)


def reopened(page: Page, number: int) -> str:
    page.locator(f"#step-{number}").get_by_role("link", name="Change").click()
    shown = page.get_by_label("Coverage per coat").input_value()
    page.get_by_role("link", name="Cancel").click()
    expect(page.locator("li.opened")).to_have_count(0)
    return shown


def arrange_by_keyboard_and_drag(page: Page) -> None:
    """Move the last step up with the keyboard and down by its button; drag the second below the third and back."""
    page.locator("#step-10 .handle").focus()
    page.keyboard.press("Alt+ArrowUp")
    expect(page.locator("#step-9 h3")).to_contain_text("Seal")
    page.locator("#step-9").get_by_role("button", name="Down").click()
    expect(page.locator("#step-10 h3")).to_contain_text("Seal")
    for moved in ("Rinse", "Sensitise"):
        expect(page.locator("#step-2 h3")).to_contain_text(moved)
        page.locator("#step-1").scroll_into_view_if_needed()
        handle, third = page.locator("#step-2 .handle").bounding_box(), page.locator("#step-3").bounding_box()
        page.mouse.move(handle["x"] + 10, handle["y"] + 10)
        page.mouse.down()
        page.mouse.move(third["x"] + 60, third["y"] + third["height"] * 0.9, steps=8)
        page.mouse.up()
        expect(page.locator("#step-3 h3")).to_contain_text(moved)


def version_it(page: Page, address: str) -> None:
    page.goto(f"{address}/finishes/night-reed/1/")
    page.get_by_role("button", name="Put in use").click()
    if page.get_by_role("alert").count():  # cautions are acknowledged by name
        for caution in page.get_by_label(re.compile("^I know:")).all():
            caution.check()
        page.get_by_role("button", name="Put in use").click()
    expect(page.get_by_role("status")).to_contain_text("is in use")
    expect(page.get_by_text("in use", exact=True).first).to_be_visible()


def try_on_a_phone(
    browser: Browser, address: str, folder: Path, *, double: bool, score: str, verdict: str
) -> int:
    """The helper starts a trial with few touches, photographs both sides, takes from the shelf, and closes it."""
    page = at_desk(browser, address, "teo", **PHONE)
    page.goto(f"{address}/finishes/night-reed/1/")
    page.get_by_role("link", name="Try it on a sample").click()
    if double:
        page.get_by_text("3. Sensitise").click()
        page.locator("#id_s3p1-strength").fill("double")
        page.get_by_label("What is the question?").fill("What does doubling the sensitiser do?")
    page.get_by_role("button", name="Start the trial").click()
    page.wait_for_url(re.compile(r"/finishes/trials/\d+/$"))
    number = int(page.url.rstrip("/").rsplit("/", 1)[1])
    expect(page.locator("main")).to_contain_text("as written → double strength" if double else "as written")
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    for side in ("front", "back"):
        photograph = folder / f"{side}.jpg"
        photograph.write_bytes(builders.photograph(1200, 900, "#778899" if double else "#aabbcc"))
        page.get_by_label(f"Photograph the {side}").set_input_files(photograph)
        expect(page.locator(f"img[alt*='{side}']")).to_have_count(1)
    page.get_by_label("Air").fill("19.5 C")
    page.get_by_label("Relative humidity").fill("54 %")
    page.get_by_role("button", name="Save conditions").click()
    page.locator("#step-5").get_by_role("button", name="Start the timer").click()
    expect(page.locator("#step-5 .timer")).to_contain_text("of 1:00")
    page.wait_for_timeout(1200)
    page.locator("#step-5").get_by_role("button", name="Stop and record").click()
    expect(page.locator("#step-5")).to_contain_text("Took ")
    page.get_by_role("button", name="Take from stock").click()
    expect(page.locator("#stock ~ table").first).to_contain_text("Silver nitrate")
    page.get_by_label("Note", exact=True).fill("Strokes run the whole width." if double else "Short strokes.")
    page.get_by_role("button", name="Save note").click()
    expect(page.get_by_text("trokes").first).to_be_visible()
    page.get_by_role("button", name="Record that it is mixed").click()
    for treated in ("leftovers", "first rinse", "guns", "hoses", "nozzles", "trays"):
        page.get_by_role("group", name="What was treated").get_by_label(treated, exact=True).check()
    page.get_by_role("button", name="Record that it is safe").click()
    expect(page.get_by_text("treated: leftovers, first rinse")).to_be_visible()
    page.get_by_label("Score, 0 to 10").select_option(score)
    page.get_by_label("Verdict").select_option(verdict)
    page.get_by_label("Where the sample is kept").fill("box 9")
    page.get_by_role("button", name="Close the trial").click()
    expect(page.get_by_role("status")).to_contain_text("is closed")
    assert "£" not in page.content()
    page.context.close()
    return number


def compare_the_two(page: Page, address: str, first: int, second: int) -> None:
    page.goto(f"{address}/finishes/trials/?finish=night-reed")
    page.get_by_label(f"Compare trial {first}").check()
    page.get_by_label(f"Compare trial {second}").check()
    page.get_by_role("button", name="Compare ticked trials").click()
    table = page.get_by_role("table", name="Values that differ")
    expect(table).to_contain_text("double strength")
    expect(page.locator(".aligned .side-front img")).to_have_count(2)
    page.get_by_label("Back", exact=True).check()
    expect(page.locator(".aligned .side-front img").first).to_be_hidden()
    expect(page.locator(".aligned .side-back img").first).to_be_visible()
    page.get_by_label("Closer").fill("3")
    assert "scale(3)" in page.locator(".aligned .side-back img").first.get_attribute("style")
    page.locator("#wipe").fill("20")
    assert "20%" in page.locator(".over .upper.side-back").get_attribute("style")
    page.goto(f"{address}/finishes/night-reed/one-change/")
    row = page.locator("section", has=page.get_by_role("heading", name="sensitise: strength"))
    expect(row).to_contain_text("5 → 9")
    expect(row).to_contain_text("+4")
    expect(row.locator("svg circle")).to_have_count(2)


def promote_and_version(page: Page, address: str, trial: int) -> None:
    page.goto(f"{address}/finishes/trials/{trial}/")
    page.get_by_label("Why", exact=True).fill("The strokes run the whole width.")
    page.get_by_role("button", name="Make a draft version").click()
    page.wait_for_url("**/finishes/night-reed/2/")
    expect(page.get_by_text("Made from")).to_be_visible()
    expect(page.locator("figure img")).to_have_count(2)
    page.get_by_role("link", name="What changed since version 1").click()
    differing = page.get_by_role("table", name="Steps and values that differ").locator("tbody tr")
    expect(differing).to_have_count(1)
    expect(differing).to_contain_text("at double strength")
    page.goto(f"{address}/finishes/night-reed/2/")
    for caution in page.get_by_label(re.compile("^I know:")).all():
        caution.check()
    page.get_by_role("button", name="Put in use").click()
    expect(page.get_by_role("status")).to_contain_text("is in use")


def quote_with_the_new_version(page: Page, address: str) -> None:
    page.goto(f"{address}/jobs/new/")
    page.get_by_label("Customer", exact=True).select_option(label="Saltmarsh Hotel")
    page.get_by_label("What for").fill("Reed panels")
    line = page.locator("#line-1")
    line.get_by_label("Size", exact=True).fill("500 x 700 mm")
    line.get_by_label("Finish", exact=True).select_option(label="Night Reed 2")
    line.get_by_label("Glass", exact=True).select_option(label="Clear float 4 mm")
    expect(page.locator("#price .figure")).to_contain_text("£")
    page.get_by_role("button", name="Save the order").click()
    page.wait_for_url("**/jobs/12/")
    expect(page.get_by_text("larger or more than it was ever made")).to_be_visible()
    page.get_by_role("button", name="Save as quote").click()
    text, _ = pdf_of(page, address, page.get_by_role("link", name="(PDF)").first.get_attribute("href"))
    assert "Night Reed" in text
    page.goto(f"{address}/finishes/night-reed/2/used/")
    expect(page.get_by_text("Saltmarsh Hotel: Reed panels").first).to_be_visible()


def test_a_recipe_is_written_and_tried_without_javascript(browser, demo):
    address, _ = demo
    page = at_desk(browser, address, "maud", java_script_enabled=False)
    page.goto(f"{address}/finishes/ember-edge/4/edit/")
    steps = page.locator("ol.steps > li")
    before = steps.count()
    page.get_by_role("button", name="Duplicate step 2", exact=True).click()
    expect(steps).to_have_count(before + 1)
    page.get_by_label("Dwell time", exact=True).fill("45 s")
    page.get_by_role("button", name="Save the step").click()
    expect(page.locator("#step-3")).to_contain_text("Dwell 45 s")
    page.get_by_role("button", name="Down step 3", exact=True).click()
    page.get_by_role("button", name="Remove step 4", exact=True).click()
    expect(steps).to_have_count(before)
    page.goto(f"{address}/finishes/smoke-veil/2/try/")
    page.get_by_text("3. Sensitise").click()
    page.locator("#id_s3p1-strength").fill("triple")
    page.get_by_role("button", name="Start the trial").click()
    expect(page.get_by_text("as written → triple strength")).to_be_visible()
    page.locator("#took-3").fill("40 s")
    page.locator("#step-3").get_by_role("button", name="Record").click()
    expect(page.locator("#step-3")).to_contain_text("Took 40 s")
    page.goto(f"{address}/finishes/solutions/new/")
    page.get_by_label("Name", exact=True).fill("Reed wash")
    page.locator("#id_in-0-what").select_option(label="Antiquing concentrate")
    page.locator("#id_in-0-amount").fill("1:32")
    page.locator("#id_in-1-what").select_option(label="Distilled water")
    page.locator("#id_in-1-make_up").check()
    page.get_by_role("button", name="Check without saving").click()
    expect(page.locator("#check")).to_contain_text("about 970 mL")
    page.get_by_role("button", name="Add an ingredient").click()
    page.get_by_role("button", name="Save the solution").click()
    expect(page.get_by_role("status")).to_contain_text("Reed wash, version 1 is saved")
