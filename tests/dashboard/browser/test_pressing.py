"""A press counts though the page moves under it, and is taken back by sliding off."""

from __future__ import annotations

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.dashboard.browser import hands

SLIDES = (
    "const e = document.createElement('div'); e.style.height = '300px'; document.body.prepend(e)"
)
MADE_ANEW = "const b = BUTTON; b.replaceWith(b.cloneNode(true))"
BUTTON = "[...document.querySelectorAll('#on-port button')].find(b => b.textContent === 'short')"
COUNT = """
window.actions = 0;
const set = window.dash_clientside.set_props;
window.dash_clientside.set_props = (id, props) => {
  window.actions += id === 'action';
  set(id, props);
}
"""


def short(page: Page) -> Locator:
    return page.locator("#on-port").get_by_role("button", name="short", exact=True)


def press(page: Page, meanwhile: str = "", slide_px: int = 0) -> None:
    """Press "short", let something happen to the page, and release."""
    short(page).scroll_into_view_if_needed()
    box = short(page).bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    if meanwhile:
        page.evaluate(f"() => {{ {meanwhile.replace('BUTTON', BUTTON)} }}")
    if slide_px:
        page.mouse.move(x, y + slide_px, steps=3)
    page.mouse.up()


@pytest.mark.parametrize("meanwhile", ["", SLIDES, MADE_ANEW], ids=["still", "slid away", "anew"])
def test_a_press_counts_once_whatever_happens_to_its_button(opened: Page, meanwhile: str) -> None:
    page = opened
    page.evaluate(f"() => {{ {COUNT} }}")
    press(page, meanwhile)
    expect(short(page)).to_have_attribute("aria-pressed", "true")
    hands.screw_on(page, "load")  # and what comes after it counts once too
    assert page.evaluate("window.actions") == 2


def test_a_press_is_taken_back_by_sliding_off(opened: Page) -> None:
    page = opened
    page.evaluate(f"() => {{ {COUNT} }}")
    press(page, slide_px=200)
    hands.screw_on(page, "load")
    assert page.evaluate("window.actions") == 1


def test_a_key_presses_a_button(opened: Page) -> None:
    page = opened
    short(page).focus()
    page.keyboard.press("Enter")
    expect(short(page)).to_have_attribute("aria-pressed", "true")
