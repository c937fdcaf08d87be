"""The whole demo as a person does it, mistakes included."""

from __future__ import annotations

import json
import re

import pytest
from playwright.sync_api import Page, expect

from acceptance.recheck.recheck_folder import recheck_folder
from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site
from tests.dashboard.conftest import settled


def test_from_an_uncalibrated_unit_to_a_record_on_the_disk(opened: Page, site: Site) -> None:
    page = opened
    expect(page.locator("#origin")).to_have_text("Virtual bench: invented data")
    expect(page.locator("#sentence")).to_have_text("Calibrate with open, short and load.")
    strips = page.locator("#strips .strip")
    expect(strips).to_have_count(5)
    for strip in strips.all():
        expect(strip).to_have_attribute("data-state", "withheld")

    # The foot switch leads to the calibration.
    page.keyboard.press("n")
    page.keyboard.press("n")
    expect(page.locator("#sentence")).to_have_text("Connect the open standard.")
    hands.screw_on(page, "open")
    hands.capture(page)
    hands.taken(page, "open")
    # The open is left on where the short is wanted: refused, and only the short asked for again.
    hands.capture(page)
    refusal = page.locator("#refusal")
    expect(refusal).to_contain_text("Open and short read alike")
    expect(refusal).to_contain_text("Measure the short again.")
    expect(page.locator("#sentence")).to_have_text("Measure the short again.")
    hands.taken(page, "open")
    hands.screw_on(page, "short")
    hands.capture(page)
    hands.taken(page, "short")
    # The short left on for the load is refused too, by the load's name.
    hands.capture(page)
    expect(refusal).to_contain_text("The load was probably not screwed on")
    hands.screw_on(page, "load")
    hands.capture(page)
    hands.taken(page, "load")
    # Nothing before speaks for the load: it is asked for once more.
    expect(page.locator("#skip-standard")).to_be_visible()
    hands.screw_on(page, "load")
    hands.capture(page)
    hands.on_the_bench(page)
    expect(page.locator("#calibration-state")).to_contain_text("Calibrated")

    hands.screw_on(page, "antenna")
    expect(strips.first).to_have_attribute("data-state", "fail")
    expect(page.locator("#headline")).to_have_attribute("data-tone", "fail")
    page.keyboard.press("h")
    expect(page.locator("#holds")).to_contain_text("hold 1")
    expect(page.locator("#strips path.held").first).to_have_attribute("d", re.compile("^M"))
    hands.bend_until_it_passes(page)
    expect(page.locator("#sentence")).to_contain_text("Every band passes")
    page.keyboard.press("u")
    expect(page.locator("#holds")).to_have_text("")

    page.keyboard.press("n")
    expect(page.locator("#verdict-overall")).to_have_text("pass")
    expect(page.locator("#verdict-rows tr")).to_have_count(5)
    page.keyboard.press("n")  # no name yet: one step too many only asks for it
    expect(page.locator("#antenna-label")).to_be_focused()
    page.locator("#antenna-label").fill("weir-3")
    page.locator("#operator").fill("river-watch")
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("The record of weir-3 is written")
    (folder,) = (each for each in (site.folder / "records").iterdir() if each.is_dir())
    expect(page.locator("#accepted code")).to_have_text(str(folder))
    done = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    assert done["antenna"] == "weir-3"
    assert done["invented"] is True
    written = json.loads((folder / "verdict.json").read_text(encoding="utf-8"))
    assert written["words"] == "pass"
    assert recheck_folder(folder).holds


@pytest.mark.calibrated
def test_every_way_to_see_it_is_one_key_away(opened: Page, site: Site) -> None:
    page = opened
    settled(site.bench)
    page.keyboard.press("v")
    expect(page.locator("#overview .axis-name")).to_have_text("VSWR")
    expect(page.locator("#strips .tick").first).to_have_text("1")
    page.keyboard.press("z")
    expect(page.locator("#overview .axis-name")).to_contain_text("Ω")
    expect(page.locator("#overview .trace.second")).to_have_attribute("d", re.compile("^M"))
    page.keyboard.press("s")
    expect(page.locator("#smith")).to_be_visible()
    expect(page.locator("#smith .whole")).to_have_attribute("d", re.compile("^M"))
    # It is the reflection itself in its unit circle, and each limit is a circle about the centre.
    inside = """() => {
      const named = (name) => document.querySelector(`#smith .${name}`);
      const [unit, path] = [named("unit"), named("whole")];
      const [x, y, r] = ["cx", "cy", "r"].map((name) => unit[name].baseVal.value);
      const at = (i) => path.getPointAtLength((i / 50) * path.getTotalLength());
      return Array.from({ length: 50 }, (_, i) => Math.hypot(at(i).x - x, at(i).y - y) / r);
    }"""
    sizes = page.evaluate(inside)
    assert max(sizes) <= 1.02
    assert max(sizes) - min(sizes) > 0.3
    assert page.locator("#smith .limit-circle").count() >= 2
    page.keyboard.press("r")
    expect(page.locator("#overview")).to_be_visible()
    page.keyboard.press("?")
    expect(page.locator("#keys")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("#keys")).to_be_hidden()
    before = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.keyboard.press("t")
    hands.wait_until(page, f"getComputedStyle(document.body).backgroundColor !== '{before}'")


@pytest.mark.calibrated
def test_nothing_on_the_bench_is_wider_than_its_panel(opened: Page, site: Site) -> None:
    """With a hold, its differences, the best state and the history all shown."""
    page = opened
    settled(site.bench)
    page.keyboard.press("h")
    hands.bend(page, "Arm A", "plus 2")
    expect(page.locator("#since-hold")).to_contain_text("Since hold 1")
    expect(page.locator("#best")).to_contain_text("best so far")
    for name in ("curves", "strips", "headline", "beneath"):
        wider = page.evaluate(
            "id => { const e = document.getElementById(id); return e.scrollWidth - e.clientWidth }",
            name,
        )
        assert wider <= 1, name
