"""Tuning on the page, at a laptop's width and a phone's: advised, said, held, and by touch."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site, Workshop
from tests.dashboard.conftest import settled, touched, until

pytestmark = [pytest.mark.usefixtures("width"), pytest.mark.calibrated]


def on_the_bench(page: Page, site: Site) -> None:
    settled(site.bench)
    expect(page.locator("#aside")).to_contain_text("The dip is at")


def read_anew(site: Site) -> None:
    """Wait until what is on the port rests, and the mean is whole again: there is a new look."""
    settled(site.bench)
    until(site.bench, lambda now: now.averaged is not None and now.averaged.sweeps >= 8)


def test_following_the_advice_line_makes_every_band_pass(opened: Page, site: Site) -> None:
    page = opened
    on_the_bench(page, site)
    for _ in range(12):
        text = page.locator("#sentence").inner_text()
        if "Every band passes" in text:
            break
        found = re.search(r"(Shorten|Lengthen|Widen|Narrow|Raise|Lower) .* by ([0-9.]+) mm", text)
        assert found, text
        advice = settled(site.bench).tuning
        assert advice is not None
        assert advice.advice is not None
        site.bench.hands.bend(str(advice.advice.dimension), round(advice.advice.delta_mm or 0, 1))
        settled(site.bench)
        expect(page.locator("#sentence")).not_to_have_text(text)
    expect(page.locator("#sentence")).to_contain_text("Done. Every band passes")
    expect(page.locator("#best")).to_contain_text("to spare")
    assert page.locator("#history-of-margin .mark").count() >= 1
    hands.fits(page)


def test_the_advice_does_not_flicker_while_nothing_moves(opened: Page, site: Site) -> None:
    """30 sweeps of the same antenna, with their noise: the sentence stands still."""
    page = opened
    on_the_bench(page, site)
    rested = until(site.bench, lambda now: now.averaged is not None and now.averaged.sweeps >= 8)
    expect(page.locator("#averaged")).to_have_text("Mean of 8 sweeps")
    page.evaluate("window.changes = changesOf('sentence')")
    last = until(site.bench, lambda now: now.sequence >= rested.sequence + 30)
    hands.shown(page, last.sequence)
    assert page.evaluate("window.changes") == []


def test_what_was_done_is_said_by_a_tap_or_a_key_and_learned(
    opened_workshop: Page, workshop: Workshop
) -> None:
    """At a real port nothing tells the page what the pliers did: the person does."""
    page, virtual = opened_workshop, workshop.analyzer.virtual
    workshop.advised()
    expect(page.locator("#done")).to_be_visible()
    taps = page.locator("#dimensions-done .done button")
    expect(taps).to_have_count(8)
    if page.viewport_size is not None and page.viewport_size["width"] < 500:
        for tap in taps.all():
            box = tap.bounding_box()
            assert box is not None
            assert box["height"] >= 44  # a thumb's size
    page.keyboard.press("2")  # said before it can be seen: arm A a step more
    expect(page.locator("#waiting-for")).to_contain_text("arm A +0.5 mm")
    page.keyboard.press("l")
    expect(page.locator("#answer")).to_contain_text("Taken back: arm A +0.5 mm.")
    expect(page.locator("#waiting-for")).to_have_text("")

    advised = page.locator("#did-it")
    words = (advised.get_attribute("aria-label") or "").removeprefix("I did it: ")
    number, unit = words.split()[-2:]
    assert (number.lstrip("+−"), unit) in re.findall(
        r"by ([0-9.]+) (mm)", page.locator("#sentence").inner_text()
    )
    advised.click()
    expect(page.locator("#waiting-for")).to_contain_text(words)
    expect(advised).to_be_hidden()
    page.keyboard.press("l")
    expect(page.locator("#waiting-for")).to_have_text("")
    page.get_by_role("button", name="arm A plus 0.5 mm done").click()
    expect(page.locator("#waiting-for")).to_contain_text("arm A +0.5 mm")
    virtual.bend("arm_a", 0.5)
    expect(page.locator("#waiting-for")).to_have_text("")
    marks = page.locator("#history-of-margin .mark")
    expect(marks).to_have_count(1)
    expect(marks.locator("title")).to_have_text("arm A +0.5 mm")

    virtual.bend("arm_b", -1.0)  # seen first and said afterwards: just bent it
    workshop.rest()
    page.keyboard.press("d")
    expect(page.locator("#answer")).to_contain_text("Noted: just bent it.")
    expect(marks).to_have_count(2)
    hands.fits(page)


def test_the_best_state_is_kept_and_what_was_done_since_is_told(opened: Page, site: Site) -> None:
    page = opened
    on_the_bench(page, site)
    expect(page.locator("#best")).to_contain_text("This is the best so far")
    site.bench.hands.bend("arm_a", -3.0)  # the wrong way
    settled(site.bench)
    expect(page.locator("#best")).to_have_text(
        re.compile(r"^Best so far: .* dB short, before arm A −3 mm$")
    )
    hands.fits(page)


def test_the_touch_test_is_led_by_one_key_and_says_what_it_found(opened: Page, site: Site) -> None:
    page = opened
    on_the_bench(page, site)
    page.keyboard.press("g")
    expect(page.locator("#sentence")).to_contain_text("take your hands off")
    settled(site.bench)
    page.keyboard.press("n")
    expect(page.locator("#sentence")).to_contain_text("Grip the feed cable")
    page.locator("#grip").click()
    expect(page.locator("#grip")).to_have_text("Let go of the cable")
    read_anew(site)
    page.locator("#next-step").click()
    expect(page.locator("#sentence")).to_contain_text("Let go of the cable")
    page.locator("#grip").click()
    expect(page.locator("#grip")).to_have_text("Grip the cable")
    read_anew(site)
    page.keyboard.press("n")
    expect(page.locator("#touch-result")).to_contain_text("part of the antenna")
    expect(page.locator("#touch-result")).to_contain_text("ferrite")
    hands.fits(page)


@pytest.mark.parametrize("leave", ["Escape", "g", "button"])
def test_the_touch_test_can_be_left(opened: Page, site: Site, leave: str) -> None:
    page, shown = opened, opened.locator("#page")
    on_the_bench(page, site)
    expect(page.locator("#leave-touch")).to_be_hidden()
    page.keyboard.press("g")
    expect(shown).to_have_attribute("data-touch", "hands off")
    hands.fits(page)
    page.keyboard.press("a")
    expect(page.locator("#next-words")).to_have_text("Next: touch test")
    page.keyboard.press("n")  # leads back to it, and looks at nothing yet
    expect(page.locator("#view-bench")).to_be_visible()
    expect(shown).to_have_attribute("data-touch", "hands off")
    if leave == "button":
        page.get_by_role("button", name="Cancel").click()
    else:
        page.keyboard.press(leave)
    expect(shown).to_have_attribute("data-touch", "idle")
    expect(page.locator("#aside")).to_contain_text("The dip is at")
    expect(page.locator("#next-words")).to_have_text("Next: accept")


def test_what_the_touch_test_found_can_be_forgotten(opened: Page, site: Site) -> None:
    page = opened
    on_the_bench(page, site)
    touched(site.bench)
    expect(page.locator("#touch-found")).to_contain_text("Gripping the cable")
    hands.fits(page)
    page.get_by_role("button", name="Discard this result").click()
    expect(page.locator("#touch-result")).to_be_hidden()
    assert site.bench.snapshot().touch.result is None


def test_several_holds_have_names_and_each_can_be_shown(opened: Page, site: Site) -> None:
    page = opened
    on_the_bench(page, site)
    page.keyboard.press("h")
    hands.bend(page, "Arm A", "plus 2")
    settled(site.bench)
    page.keyboard.press("h")
    expect(page.locator("#holds button")).to_have_text(["hold 1", "hold 2"])
    expect(page.locator("#since-hold")).to_contain_text("Since hold 2")
    page.locator("#holds").get_by_role("button", name="hold 1").click()
    expect(page.locator("#since-hold")).to_contain_text("Since hold 1: dip")
    page.keyboard.press("u")
    expect(page.locator("#holds button")).to_have_count(1)
    hands.fits(page)
