"""A double click on a form without a key: it goes once, and the page that follows says what was done."""

from __future__ import annotations

from playwright.sync_api import Browser, expect

from studio.whole.demo import PASSWORDS
from tests.chromium import at_desk
from tests.serving import Environment


def test_a_new_password_pressed_twice_is_changed_once_and_says_so(
    browser: Browser, demo: tuple[str, Environment],
) -> None:
    # given a helper who double-clicks: the first change ends the log-in that the second press still carries
    page = at_desk(browser, demo[0], "teo", viewport={"width": 800, "height": 900})
    sent: list[str] = []
    page.on("request", lambda asked: sent.append(asked.url) if asked.method == "POST" else None)
    page.goto(f"{demo[0]}/password/")
    page.locator("[name=old_password]").fill(PASSWORDS["teo"])
    for name in ("new_password1", "new_password2"):
        page.locator(f"[name={name}]").fill("tin and larch and moss")
    button = page.locator("main form button:not([type=button])").last.bounding_box()
    assert button is not None
    for _ in range(2):  # as a hand does it: the second while the first is on its way
        page.mouse.click(button["x"] + 9, button["y"] + 9)
        page.wait_for_timeout(120)
    # then it is changed, said, and teo is still in
    expect(page.get_by_text("Your password is changed")).to_be_visible()
    expect(page).to_have_url(f"{demo[0]}/")
    assert sent == [f"{demo[0]}/password/"]
