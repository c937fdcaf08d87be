"""What is seen and heard from two metres away, by every eye, and reached by one key."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Page, expect

from dashboard.page.actions.table import TABLE, key_rows
from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site, Workshop
from tests.dashboard.conftest import TO_PASS, calibrate, settled, until


def on_the_bench(page: Page, site: Site) -> None:
    """Calibrate, unless the bench began so, and wait until the page says what was found."""
    if site.bench.snapshot().calibration.calibration is None:
        calibrate(site.bench)
    settled(site.bench)
    expect(page.locator("#aside")).to_contain_text("The dip is at")


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_the_wall_shows_strips_and_the_sentence_and_nothing_else(opened: Page, site: Site) -> None:
    page = opened
    on_the_bench(page, site)
    page.keyboard.press("w")
    for name in ("#sentence", "#strips"):
        expect(page.locator(name)).to_be_visible()
    for name in (".top", "#curves", "#demo", "#next-step"):
        expect(page.locator(name)).to_be_hidden()
    assert page.url.endswith("#wall")
    for row in page.locator("#strips span.worst").all():
        assert row.evaluate("e => e.scrollWidth <= e.clientWidth"), row.inner_text()
    assert page.viewport_size is not None
    size = page.locator("#sentence").evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
    # 20 minutes of arc, what a sign is read by, are 12 mm at 2 m; letters are about half of the
    # font's size high, and a laptop's pixel is 0.23 mm [practice]
    assert size >= (40 if page.viewport_size["width"] > 1000 else 24)
    hands.fits(page)
    page.keyboard.press("b")
    expect(page.locator("#curves")).to_be_visible()
    page.keyboard.press("w")
    page.keyboard.press("Escape")
    expect(page.locator("#page")).to_have_attribute("data-view", "bench")
    page.keyboard.press("w")
    page.locator("#leave-wall").click()
    expect(page.locator("#curves")).to_be_visible()


def test_the_wall_has_an_address_of_its_own(opened: Page, site: Site) -> None:
    opened.goto(f"{site.url}#wall")
    expect(opened.locator("#page")).to_have_attribute("data-view", "wall")


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_the_tone_is_off_until_asked_and_rises_towards_passing(opened: Page, site: Site) -> None:
    page = opened
    on_the_bench(page, site)
    expect(page.locator("#volume")).to_be_hidden()
    assert page.evaluate("window.pitches.length") == 0
    page.locator("#tone").click()
    expect(page.locator("#tone")).to_have_attribute("aria-pressed", "true")
    expect(page.locator("#volume")).to_be_visible()
    hands.wait_until(page, "pitches.length > 0")
    far = page.evaluate("window.pitches.at(-1)")
    for dimension, delta_mm in TO_PASS[:1]:
        site.bench.hands.bend(dimension, delta_mm)
    site.bench.hands.bend("arm_b", -1.5)
    settled(site.bench)
    hands.wait_until(page, f"pitches.at(-1) > {far}")
    before = page.evaluate("window.pitches.at(-1)")
    site.bench.hands.bend("arm_b", -1.5)
    until(site.bench, lambda now: now.verdict is not None and now.verdict.words == "pass")
    hands.wait_until(page, "loudness.at(-1) === 0")
    assert 220 <= far < before <= 880
    page.keyboard.press("m")
    expect(page.locator("#tone")).to_have_attribute("aria-pressed", "false")


def test_every_key_is_listed_and_every_listed_key_does_something(opened: Page) -> None:
    page = opened
    page.keyboard.press("?")
    expect(page.locator("#keys")).to_be_visible()
    shown = page.locator("#keys kbd").all_inner_texts()
    assert sorted(shown) == sorted(key for keys, _ in key_rows() for key in keys.split(", "))
    page.keyboard.press("Escape")
    for action in TABLE:
        for key in action.keys:
            there = page.locator(f'[data-keys~="{key}"]').or_(page.locator(f'[data-taps~="{key}"]'))
            expect(there).to_have_count(1)
    for key, view in (("c", "calibrate"), ("w", "wall"), ("b", "bench")):
        page.keyboard.press(key)
        expect(page.locator("#page")).to_have_attribute("data-view", view)
    for key, metric in (("Z", "impedance"), ("v", "vswr")):
        page.keyboard.press(key)
        expect(page.locator("#page")).to_have_attribute("data-metric", metric)


def test_a_presenter_s_one_key_leads_through_the_whole_job(opened: Page, site: Site) -> None:
    """PageDown alone, from the first picture to the form that asks for a name."""
    page = opened
    expect(page.locator("#next-words")).to_have_text("Next: calibrate")
    page.keyboard.press("PageDown")
    expect(page.locator("#next-words")).to_have_text("Next: start")
    page.keyboard.press("PageDown")
    for name, asked in (
        ("open", "Screw the open on"),
        ("short", "Screw the short on"),
        ("load", "Screw the load on"),
        ("load", "once more"),
    ):
        expect(page.locator("#instruction")).to_contain_text(asked)
        expect(page.locator("#sentence")).to_have_text(f"Connect the {name} standard.")
        site.bench.hands.screw_on(name)
        page.keyboard.press("PageDown")
    hands.on_the_bench(page)
    expect(page.locator("#next-words")).to_have_text("Next: accept")
    page.keyboard.press("PageDown")
    expect(page.locator("#view-accept")).to_be_visible()
    page.keyboard.press("PageDown")
    expect(page.locator("#antenna-label")).to_be_focused()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.usefixtures("width")
def test_every_text_keeps_its_contrast(opened: Page, site: Site, scheme: Any) -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1, large text 3 to 1, by its relative luminance [memory]."""
    page = opened
    page.emulate_media(color_scheme=scheme)
    assert page.evaluate("tooFaint()") == []  # uncalibrated
    on_the_bench(page, site)
    page.keyboard.press("h")
    expect(page.locator("#since-hold")).to_be_visible()
    for key in ("b", "c", "a", "w", "b"):
        page.keyboard.press(key)
        assert page.evaluate("tooFaint()") == [], key
    for dialog in ("?", "p"):
        page.keyboard.press(dialog)
        assert page.evaluate("tooFaint()") == [], dialog
        page.keyboard.press("Escape")
    for dimension, delta_mm in TO_PASS:
        site.bench.hands.bend(dimension, delta_mm)
    expect(page.locator("#sentence")).to_contain_text("Every band passes")
    assert page.evaluate("tooFaint()") == [], "passing"


@pytest.mark.calibrated
def test_nothing_moves_by_itself_where_less_motion_is_asked_for(opened: Page, site: Site) -> None:
    page = opened
    page.emulate_media(reduced_motion="reduce")
    on_the_bench(page, site)
    for key in ("b", "c", "a", "w"):
        page.keyboard.press(key)
        assert page.evaluate("stillMoving()") == [], key


@pytest.mark.calibrated
def test_a_state_is_told_without_its_colour(opened: Page, site: Site) -> None:
    """Each state by a shape and a word of its own; uplink and downlink by their names."""
    page = opened
    on_the_bench(page, site)
    expect(page.locator("#strips .strip[data-state=fail] .overall").first).to_contain_text("fail")
    shapes = set(
        page.locator("#strips li .state svg path").evaluate_all("p => p.map(e => e.outerHTML)")
    )
    states = set(page.locator("#strips li").evaluate_all("l => l.map(e => e.dataset.state)"))
    assert len(states) > 1
    assert len(shapes) == len(states)
    names = page.locator("#strips .link-name").all_text_contents()
    assert {name.split()[0] for name in names} == {"uplink", "downlink"}


@pytest.mark.calibrated
def test_an_unplugged_unit_is_told_and_found_again(
    opened_workshop: Page, workshop: Workshop
) -> None:
    page = opened_workshop
    workshop.advised()
    expect(page.locator("#strips .strip").first).to_have_attribute("data-state", "fail")
    workshop.analyzer.pull()
    expect(page.locator("#port-state")).to_have_attribute("data-state", "lost")
    expect(page.locator("#sentence")).to_contain_text("Plug it in again")
    expect(page.locator("#page")).to_have_attribute("data-old", "true")
    workshop.analyzer.put_back()
    expect(page.locator("#port-state")).to_have_attribute("data-state", "sweeping")
    expect(page.locator("#page")).to_have_attribute("data-old", "false")
    expect(page.locator("#aside")).to_contain_text("The dip is at")
