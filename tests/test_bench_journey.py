"""The bench in a browser: a tablet that loses its network, or its server, loses nothing that it showed as recorded."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from contextlib import ExitStack, contextmanager

from playwright.sync_api import Browser, Locator, Page, expect

from studio.whole.demo import PASSWORDS
from tests.chromium import at_desk
from tests.serving import manage, own_database, served

TABLET, PHONE = {"width": 1280, "height": 800}, {"width": 360, "height": 740}
MIX, STEP, STEPS = "mix-m5b1", "r1l2s1", "/bench/4/steps/"


@contextmanager
def at_the_bench(
    browser: Browser, address: str, name: str, size: dict[str, int], but: str = "ERR_INTERNET_DISCONNECTED",
) -> Iterator[Page]:
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
    lost = (but, "ERR_INTERNET_DISCONNECTED", "ERR_CONNECTION_REFUSED", "ERR_CONNECTION_RESET", "ERR_EMPTY_RESPONSE")
    assert [said for said in complaints if not any(word in said for word in lost)] == []


def kept(page: Page) -> None:
    """Wait until the device has the page for when there is no network."""
    until(page, "caches.match(location.pathname).then(there => Boolean(there && navigator.serviceWorker.controller))")


def until(page: Page, said: str) -> None:
    """Wait until what a page promises is so: the browser's own waiting takes a promise for a yes."""
    for _ in range(100):
        if page.evaluate(said) is True:
            return
        page.wait_for_timeout(150)
    raise AssertionError(f"Never so: {said}")


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
        go(page, MIX)
        page.get_by_role("button", name="It was mixed once").click()
        sent_all(page)
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
    with at_the_bench(browser, address, "teo", TABLET, "403") as page:
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
        kept(page)
        page.goto(f"{address}/")
        page.get_by_role("button", name="Log out").click()
        page.wait_for_url("**/log-in/**")
        until(page, "caches.has('daybook-bench').then(there => !there)")


def shown(page: Page, anchor: str) -> Locator:
    go(page, anchor)
    return page.locator(f"[id='{anchor}']")


def sent_all(page: Page) -> None:
    """Wait until a press is answered and nothing waits on the device."""
    expect(page.locator("button[disabled]")).to_have_count(0)
    expect(page.locator("[data-line]")).to_contain_text("Connected")
    expect(page.locator("[data-line]")).not_to_contain_text("kept here")


def mix(page: Page, anchor: str) -> None:
    tick_all(page, anchor)
    page.locator(f"#{anchor} .onward.when-open").click()
    expect(page.locator(f"#{anchor} [data-words]").first).to_contain_text("Mixed as written")
    sent_all(page)


def those(page: Page, which: str) -> list[str]:
    """Return the anchors of screens as they stand now, in the order of the hand."""
    return [screen.get_attribute("id") or "" for screen in page.locator(f".screen{which}").all()]


def rest_as_written(page: Page) -> None:
    """Record what is left of every load as the ticket has it, silver by itself."""
    for anchor in those(page, "[data-kind=mix]:not([data-done]):has([data-silver])"):
        mix(page, anchor)
    for anchor in those(page, "[data-kind=panes]"):
        shown(page, anchor).get_by_role("button", name="The rest of this load as written").click()
        sent_all(page)


def judge(page: Page, spoilt: Collection[str] = ()) -> None:
    for pane in page.locator(".one-pane:has([name=subject])").all():
        label = (pane.get_attribute("id") or "").removeprefix("pane-")
        if not label:
            continue
        go(page, pane.locator("xpath=ancestor::section").get_attribute("id") or "")
        if label in spoilt:
            pane.get_by_text("Spoilt, or started more than once").click()
            pane.get_by_label("What spoilt it").fill("a run in the paint")
            pane.get_by_role("button", name="Spoilt", exact=True).click()
        else:
            pane.get_by_role("button", name="Good", exact=True).click()
        expect(pane.locator("[data-words]")).to_contain_text("Spoilt" if label in spoilt else "Good")
        sent_all(page)


def make_safe(page: Page) -> None:
    """Make everything safe; what is forgotten first is said on the same screen, with all that was ticked."""
    safe = shown(page, "made-safe")
    for clock in safe.locator("[name=clocks]").all():
        clock.check()
    for part in ("leftovers", "first rinse"):
        safe.locator(f"[name=treated][value='{part}']").check()
    safe.get_by_role("button", name="Record that it is safe").click()
    expect(safe.locator("[data-refusal]").first).to_contain_text("guns, hoses, nozzles")
    expect(safe.locator("[name=treated][value='first rinse']")).to_be_checked()
    for part in ("guns", "hoses", "nozzles"):
        safe.locator(f"[name=treated][value='{part}']").check()
    safe.get_by_role("button", name="Record that it is safe").click()
    expect(page.locator(".clock")).to_be_hidden()
    sent_all(page)


def finish(page: Page, minutes: str = "240") -> None:
    leave = shown(page, "leave")
    expect(leave.locator("#still")).to_contain_text("Everything is recorded.")
    leave.get_by_label("Helper's minutes").fill(minutes)
    leave.get_by_label("Owner's minutes").fill("0")
    leave.get_by_role("button", name="Record the time").click()
    expect(leave.locator("[data-words]").first).to_contain_text("Recorded")
    sent_all(page)
    leave.get_by_role("link", name="Finish: what will be deducted").click()


def test_a_whole_run_at_the_tablet_is_deducted_as_it_was_shown(browser, demo):
    """The first load to its mixes and first dwell, the rest as written; the expired bottle stays where it is."""
    address, environment = demo
    with at_the_bench(browser, address, "teo", TABLET) as page:
        glass = shown(page, "glass")
        glass.get_by_role("button", name="Record the sheets").click()
        expect(glass.locator("[data-words]")).to_contain_text("Recorded")
        sent_all(page)
        for anchor in those(page, "[data-load=r1l1]:not([data-done])")[:5]:
            screen = shown(page, anchor)
            if anchor.startswith("mix-"):
                mix(page, anchor)
            elif not anchor.endswith("panes"):
                if screen.locator("[data-begins]").count():
                    screen.locator("[data-begins]").click()
                    sent_all(page)
                    screen.locator(".onward.when-open").click()
                    expect(screen.locator("[data-refusal]")).to_contain_text("press again")
                screen.locator(".onward.when-open").click()
                expect(screen.locator("[data-words]")).to_contain_text("Done")
                sent_all(page)
        rest_as_written(page)
        judge(page)
        expect(page.locator("#clock")).to_contain_text("and 2 more")
        make_safe(page)
        finish(page)
        deducted = page.get_by_role("row", name="Ammonia solution")
        expect(deducted).to_have_count(1)
        expect(deducted).to_contain_text("L1027")
        page.get_by_role("button", name="Finish: deduct this").click()
        expect(page.locator("main")).to_contain_text("The run is finished and its stock is deducted.")
    assert "Everything ties" in manage(environment, "audit")


def test_two_helpers_at_one_mix_see_each_others_ticks_and_one_clock(browser, demo):
    address, _ = demo
    silver = "mix-m7b1"
    with at_the_bench(browser, address, "teo", TABLET) as page, \
            at_the_bench(browser, address, "maud", PHONE) as other:
        for one in (page, other):
            go(one, silver)
        page.locator(f"#{silver} [name=number][value='2']").check()
        other.locator(f"#{silver} [name=number][value='3']").check()
        for one in (page, other):
            for number in "23":
                expect(one.locator(f"#{silver} [name=number][value='{number}']")).to_be_checked()
            expect(one.locator("#clock")).to_contain_text("Ammoniacal silver is 0 min old")


def test_a_lot_is_held_while_it_is_mixed(browser, demo):
    address, _ = demo
    with at_the_bench(browser, address, "teo", PHONE) as page:
        tick_all(page, MIX)
        owner = at_desk(browser, address, "maud")
        owner.goto(f"{address}/find/?q=L1006")
        owner.get_by_role("link", name="L1006").first.click()
        owner.get_by_text("Hold, discard, return").click()
        owner.locator("#why").fill("looks yellow")
        owner.get_by_role("button", name="Hold the lot").click()
        expect(owner.locator("main")).to_contain_text("Held: looks yellow")
        mixed = page.locator(f"#{MIX}")
        mixed.locator(".onward.when-open").click()
        expect(mixed.locator("[data-refusal]")).to_contain_text("held: looks yellow. Take lot L1032.")
        mixed.get_by_role("button", name="Mixed, with the other lot").click()
        expect(mixed.locator("[data-words]").first).to_contain_text("Mixed as written")
        go(page, MIX)
        expect(mixed.locator("[data-refusal]")).to_be_hidden()
        mixed.get_by_text("Mixed once more").click()
        mixed.get_by_label("Why: the first is counted as used too").fill("knocked over")
        mixed.get_by_role("button", name="Record that it was mixed again").click()
        expect(mixed.locator(f"[data-said='mixed {MIX.removeprefix('mix-')}-2']")).to_contain_text("knocked over")
        owner.context.close()


def test_a_spill_says_what_to_do_first_and_is_written_down(browser, demo):
    address, _ = demo
    with at_the_bench(browser, address, "teo", PHONE) as page:
        screen = shown(page, STEP)
        screen.get_by_role("link", name="Trouble").click()
        page.get_by_role("link", name="Spill").click()
        spill = page.locator("#trouble-spill")
        expect(spill).to_contain_text("never let it dry")
        spill.get_by_label("Where, how much, what was done").fill("half a jug, by the sink")
        spill.get_by_role("button", name="Record it").click()
        sent_all(page)
        expect(shown(page, "leave").locator("#noted")).to_contain_text("Spill: half a jug, by the sink")


def test_a_short_run_goes_on_with_a_further_ticket_and_ends_finished(browser, demo):
    address, environment = demo
    with at_the_bench(browser, address, "teo", PHONE) as page:
        rest_as_written(page)
        judge(page, spoilt=("1.2", "1.3"))
        make_safe(page)
        finish(page)
        page.get_by_role("button", name="Finish: deduct this").click()
        expect(page.locator("main")).to_contain_text("The run is finished")
        owner = at_desk(browser, address, "maud")
        owner.goto(f"{address}/jobs/4/")
        expect(owner.locator("main")).to_contain_text("Part done")
        owner.get_by_role("button", name="Print a ticket for the 1 pane left").click()
        expect(owner.locator("main")).to_contain_text("is ready to print; its stock is promised.")
        owner.context.close()
        page.goto(f"{address}/bench/")
        page.get_by_role("link", name="Open the run").first.click()
        expect(page.locator(".one-pane[id^='pane-']")).to_have_count(1)
    assert "Everything ties" in manage(environment, "audit")


def test_a_locked_tablet_keeps_its_clocks_in_sight_and_its_ticks_until_the_pin(browser, demo):
    address, environment = demo
    lock = ("from django.utils import timezone; from studio.house.models import PersonSession as S; "
            "assert S.objects.exclude(tablet_minutes=None).update(locked_at=timezone.now())")
    with at_the_bench(browser, address, "teo", TABLET, but="responded with a status of 42") as page:
        page.goto(f"{address}/account/")
        page.get_by_label("New PIN").fill("4711")
        page.get_by_label("Your password", exact=True).fill(PASSWORDS["teo"])
        page.get_by_role("button", name="Set the PIN").click()
        page.get_by_role("button", name="This is the bench tablet").click()
        expect(page.get_by_text("This is the bench tablet now")).to_be_visible()
        page.goto(f"{address}{STEPS}")
        expect(page.locator("[data-line]")).to_contain_text("Connected")
        expect(page.locator("#idle-lock")).to_be_hidden()
        manage(environment, "shell", "-v", "0", "-c", lock)
        do_step(page, STEP)
        expect(page.locator("[data-line]")).to_contain_text("1 tick kept here")
        expect(page.locator("[data-line]")).to_contain_text("Locked")
        expect(page.locator("#idle-lock")).to_be_visible()
        expect(page.locator(".screen:visible .trouble")).to_be_visible()
        go(page, STEP)
        expect(page.locator(f"[id='{STEP}'] [data-words]")).to_contain_text("kept here")
        page.get_by_label("PIN of").fill("9999")
        page.get_by_role("button", name="Unlock", exact=True).click()
        expect(page.get_by_text("That is not your PIN.")).to_be_visible()
        page.get_by_label("PIN of").fill("4711")
        page.get_by_role("button", name="Unlock", exact=True).click()
        expect(page.locator("#idle-lock")).to_be_hidden()
        expect(page.locator("[data-line]")).not_to_contain_text("kept here")
        expect(page.locator(f"[id='{STEP}'] [data-words]")).to_contain_text("Done")
        page.clock.install()
        page.goto(f"{address}/account/")
        page.get_by_label("New PIN").fill("half typed"[:8])
        manage(environment, "shell", "-v", "0", "-c", lock)
        page.clock.fast_forward("11:00")
        expect(page.locator("#idle-lock")).to_be_visible()
        assert page.locator("#idle-lock").evaluate("lock => lock.matches(':modal')")
        page.keyboard.press("Escape")
        page.keyboard.press("Escape")
        expect(page.locator("#idle-lock")).to_be_visible()
        page.get_by_label("PIN of").fill("4711")
        page.get_by_role("button", name="Unlock", exact=True).click()
        expect(page.locator("#idle-lock")).to_be_hidden()
        expect(page.get_by_label("New PIN")).to_have_value("half typed"[:8])
