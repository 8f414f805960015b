"""The bench in a browser: a tablet that loses its network, or its server, loses nothing that it showed as recorded."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager

from playwright.sync_api import Browser, Page, expect

from tests.chromium import at_desk
from tests.serving import own_database, served

TABLET, PHONE = {"width": 1280, "height": 800}, {"width": 360, "height": 740}
MIX, STEP, STEPS = "mix-m5b1", "r1l2s1", "/bench/4/steps/"


@contextmanager
def at_the_bench(browser: Browser, address: str, name: str, size: dict[str, int]) -> Iterator[Page]:
    """Open the demo's run of three loads, and say at the end what the browser complained of."""
    page = at_desk(browser, address, name, viewport=size)
    complaints: list[str] = []
    page.on("pageerror", lambda wrong: complaints.append(str(wrong)))
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.goto(f"{address}/bench/")
    page.get_by_role("link", name="Open the run").first.click()
    expect(page.locator("[data-line]")).to_contain_text("Connected")
    yield page
    page.context.close()
    lost = ("ERR_INTERNET_DISCONNECTED", "ERR_CONNECTION_REFUSED", "ERR_CONNECTION_RESET", "ERR_EMPTY_RESPONSE")
    assert [said for said in complaints if not any(word in said for word in lost)] == []


def kept(page: Page) -> None:
    """Wait until the device has the page for when there is no network."""
    page.wait_for_function("caches.match(location.pathname).then(there => there && navigator.serviceWorker.controller)")


def go(page: Page, anchor: str) -> None:
    page.evaluate("anchor => { location.hash = anchor; }", anchor)
    expect(page.locator(f"[id='{anchor}']")).to_be_visible()


def do_step(page: Page, anchor: str) -> None:
    go(page, anchor)
    page.locator(f"[id='{anchor}'] .onward.when-open").click()


def tick_all(page: Page, anchor: str) -> None:
    go(page, anchor)
    for tick in page.locator(f"#{anchor} .ingredients input").all():
        tick.check()


def test_a_mix_refuses_in_a_sentence_until_everything_is_ticked(browser, demo):
    with at_the_bench(browser, demo[0], "teo", PHONE) as page:
        go(page, MIX)
        page.locator(f"#{MIX} .ingredients input").first.check()
        page.locator(f"#{MIX} .onward.when-open").click()
        expect(page.locator(f"#{MIX} [data-refusal]")).to_contain_text("each is ticked as it goes in")
        assert page.url.endswith(f"#{MIX}")


def test_the_network_is_lost_in_the_middle_and_nothing_else_is(browser, demo):
    address, _ = demo
    with at_the_bench(browser, address, "teo", TABLET) as page, \
            at_the_bench(browser, address, "maud", PHONE) as other:
        kept(page)
        page.context.set_offline(True)
        expect(page.locator("[data-line]")).to_contain_text("Not connected")
        do_step(page, STEP)
        expect(page.locator("[data-line]")).to_contain_text("1 tick kept here")
        page.reload()
        go(page, STEP)
        expect(page.locator(f"[id='{STEP}'] [data-words]")).to_contain_text("kept here")
        tick_all(page, MIX)
        page.locator(f"#{MIX} .onward.when-open").click()
        expect(page.locator("[data-line]")).to_contain_text("ticks kept here")
        go(other, STEP)
        expect(other.locator(f"[id='{STEP}'] [data-words]")).to_be_hidden()
        page.context.set_offline(False)
        expect(page.locator("[data-line]")).to_contain_text("Connected")
        expect(page.locator("[data-line]")).not_to_contain_text("kept here")
        expect(other.locator(f"[id='{STEP}'] [data-words]")).to_contain_text("Done")
        go(other, MIX)
        expect(other.locator(f"#{MIX} [data-words]").first).to_contain_text("Mixed as written")


def test_two_who_do_not_know_of_each_other_mix_once_and_are_asked(browser, demo):
    address, _ = demo
    with at_the_bench(browser, address, "teo", TABLET) as page, \
            at_the_bench(browser, address, "maud", TABLET) as other:
        page.context.set_offline(True)
        expect(page.locator("[data-line]")).to_contain_text("Not connected")
        for one in (page, other):
            tick_all(one, MIX)
            one.locator(f"#{MIX} .onward.when-open").click()
        expect(other.locator("[data-line]")).not_to_contain_text("kept here")
        page.context.set_offline(False)
        expect(page.locator("[data-line]")).not_to_contain_text("kept here")
        page.reload()
        go(page, MIX)
        page.get_by_role("button", name="It was mixed once").click()
        page.wait_for_timeout(500)
        page.reload()
        go(page, MIX)
        expect(page.get_by_role("button", name="It was mixed once")).to_have_count(0)


def test_the_server_is_killed_and_what_was_shown_as_recorded_goes_up_later(browser, tmp_path):
    with own_database(tmp_path, "daybook_killed", "demo") as environment:
        with ExitStack() as first:
            address = first.enter_context(served(environment))
            port = int(address.rpartition(":")[2])
            bench = ExitStack()
            page = bench.enter_context(at_the_bench(browser, address, "teo", TABLET))
            kept(page)
            do_step(page, STEP)
            expect(page.locator("[data-line]")).not_to_contain_text("kept here")
        tick_all(page, MIX)
        page.locator(f"#{MIX} .onward.when-open").click()
        expect(page.locator("[data-line]")).to_contain_text("ticks kept here")
        # the tab is killed too: another opens what the device kept, and there is still no server
        page.close()
        again = page.context.new_page()
        again.goto(f"{address}{STEPS}#{MIX}")
        expect(again.locator(f"#{MIX} [data-words]").first).to_contain_text("kept here")
        with served(environment, port):
            expect(again.locator("[data-line]")).to_contain_text("Connected")
            expect(again.locator("[data-line]")).not_to_contain_text("kept here")
            expect(again.locator(f"#{MIX} [data-words]").first).to_contain_text("Mixed as written")
            bench.close()


def test_an_ended_log_in_keeps_its_ticks(browser, demo):
    address, _ = demo
    with at_the_bench(browser, address, "teo", TABLET) as page:
        cookies = page.context.cookies()
        page.context.clear_cookies()
        do_step(page, STEP)
        expect(page.locator("[data-line]")).to_contain_text("Logged out")
        expect(page.locator("[data-line]")).to_contain_text("1 tick kept here")
        page.context.add_cookies(cookies)
        expect(page.locator("[data-line]")).to_contain_text("Connected")
        expect(page.locator("[data-line]")).not_to_contain_text("kept here")


def test_a_timer_goes_on_through_a_reload_and_counts_over(browser, demo):
    address, _ = demo
    with at_the_bench(browser, address, "teo", TABLET) as page:
        timed = page.locator("[data-timer]").first.get_attribute("data-timer")
        go(page, timed)
        page.locator(f"[id='{timed}'] [data-begins]").click()
        expect(page.locator(f"[id='{timed}'] .timer")).to_have_class("timer runs")
        page.reload()
        go(page, timed)
        expect(page.locator(f"[id='{timed}'] .timer")).to_have_class("timer runs")
        expect(page.locator(f"[id='{timed}'] [data-words]")).to_contain_text("Begun")


def test_what_is_kept_is_emptied_at_the_door(browser, demo):
    address, _ = demo
    with at_the_bench(browser, address, "teo", TABLET) as page:
        page.wait_for_function("caches.has('daybook-bench')")
        page.goto(f"{address}/")
        page.get_by_role("button", name="Log out").click()
        page.wait_for_url("**/log-in/**")
        page.wait_for_function("caches.has('daybook-bench').then(there => !there)")
