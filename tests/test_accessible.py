"""Every page as a screen reader, a narrow phone and the dark find it: axe finds nothing, no word is cut off at 320 px.

The rules are those of axe-core, its best practices among them (https://dequeuniversity.com/rules/axe/).
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.chromium import at_desk
from tests.pictures import HELPER_PAGES, OWNER_PAGES
from tests.serving import Environment, manage

pytestmark = pytest.mark.whichever_database

DESK, PHONE, NARROWEST = 1280, 360, 320
CONTRAST = {"runOnly": ["color-contrast"], "resultTypes": ["violations"]}
MORE_PAGES = {"bench-steps": "/bench/4/steps/", "trial-steps": "/finishes/trials/9/steps/", "password": "/password/"}
OWNERS = sorted((OWNER_PAGES | MORE_PAGES).items())
HELPERS = sorted(HELPER_PAGES.items())
AT_A_TIME = 16

#: what sticks out of the page, or is cut off inside something that hides it, by its own words
CUT_OFF = """() => {
  const out = [], wide = document.documentElement.clientWidth
  if (document.documentElement.scrollWidth > wide) out.push(`the page is ${document.documentElement.scrollWidth} wide`)
  for (const part of document.querySelectorAll('main *, header *, footer *, nav *')) {
    const style = getComputedStyle(part), box = part.getBoundingClientRect()
    if (part.closest('.hidden-words, .skip, svg, [hidden]') || !box.width || style.visibility === 'hidden') continue
    if ([part, part.closest('thead'), part.parentElement].some(one => one && getComputedStyle(one).clipPath !== 'none')) continue
    if (part.matches('input, select, textarea, .crop-view')) continue
    const hides = ['hidden', 'clip'].includes(style.overflowX)
    if (hides && part.scrollWidth > part.clientWidth + 1) out.push(part.className + ' cuts off ' + part.innerText.slice(0, 40))
    const scrolled = part.closest('.scroll, .loads, [tabindex="0"][role="region"]')
    if (!scrolled && box.right > wide + 1 && part.children.length === 0 && part.textContent.trim())
      out.push('sticks out: ' + part.textContent.trim().slice(0, 40))
  }
  return out.slice(0, 5)
}"""


def _parts(pages: list[tuple[str, str]]) -> list[list[tuple[str, str]]]:
    return [pages[at:at + AT_A_TIME] for at in range(0, len(pages), AT_A_TIME)]


def _found(page: Page, axe: Axe, where: str, options: dict[str, object] | None = None) -> Iterator[str]:
    answer = axe.run(page, options=options or {"resultTypes": ["violations"]}).response
    for rule in answer["violations"]:
        targets = ", ".join(str(node["target"][0]) for node in rule["nodes"][:3])
        yield f"{where}: {rule['id']} ({len(rule['nodes'])}): {targets}"


def what_is_wrong(page: Page, name: str) -> Iterator[str]:
    """Yield what axe finds at the desk and on a phone, in both lights, and what a narrow screen cuts off."""
    axe = Axe()
    for width in (DESK, PHONE):
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme="light")
        yield from _found(page, axe, f"{name} at {width}")
        page.emulate_media(color_scheme="dark")
        yield from _found(page, axe, f"{name} at {width} in the dark", CONTRAST)
    page.set_viewport_size({"width": NARROWEST, "height": 900})
    yield from (f"{name} at {NARROWEST}: {cut}" for cut in page.evaluate(CUT_OFF))


def _walk(browser: Browser, address: str, person: str, pages: list[tuple[str, str]]) -> list[str]:
    page = at_desk(browser, address, person, reduced_motion="reduce")
    wrong: list[str] = []
    for name, path in pages:
        page.goto(address + path)
        wrong += what_is_wrong(page, name)
    page.context.close()
    return wrong


@pytest.mark.parametrize("pages", _parts(OWNERS), ids=lambda pages: pages[0][0])
def test_nothing_is_found_on_the_owners_pages(
    browser: Browser, demo: tuple[str, Environment], pages: list[tuple[str, str]],
) -> None:
    wrong = _walk(browser, demo[0], "maud", pages)
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("pages", _parts(HELPERS), ids=lambda pages: pages[0][0])
def test_nothing_is_found_on_the_helpers_pages(
    browser: Browser, demo: tuple[str, Environment], pages: list[tuple[str, str]],
) -> None:
    wrong = _walk(browser, demo[0], "teo", pages)
    assert not wrong, "\n".join(wrong)


def test_nothing_is_found_at_the_door(browser: Browser, demo: tuple[str, Environment]) -> None:
    page = browser.new_page()
    page.goto(f"{demo[0]}/log-in/")
    wrong = list(what_is_wrong(page, "the door"))
    assert not wrong, "\n".join(wrong)


def test_nothing_is_found_on_a_locked_tablet(browser: Browser, demo: tuple[str, Environment]) -> None:
    address, environment = demo
    page = at_desk(browser, address, "teo", reduced_motion="reduce")
    page.goto(f"{address}/account/second-step/")
    page.get_by_role("button", name="Set up a device").click()
    wrong = list(what_is_wrong(page, "the code to read"))
    page.goto(f"{address}/account/")
    page.get_by_role("button", name="This is the bench tablet").click()
    manage(environment, "shell", "-v", "0", "-c", (
        "from django.utils import timezone; from studio.house.models import PersonSession as S; "
        "assert S.objects.exclude(tablet_minutes=None).update(locked_at=timezone.now())"))
    for name, path in {"the lock": "/lock/?next=/", "steps, locked": "/bench/4/steps/", "run, locked": "/bench/4/"}.items():
        page.goto(address + path)
        wrong += what_is_wrong(page, name)
    assert not wrong, "\n".join(wrong)
