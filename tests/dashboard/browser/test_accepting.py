"""An acceptance in several conditions, on the page."""

from __future__ import annotations

import json
import re

import pytest
from playwright.sync_api import Page, expect

from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.unfinished_records import UNFINISHED_FOLDER
from calibration.files.store import read_plane
from dashboard.demo.scenario import PLAN
from dashboard.page.plan_form import read_plan
from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site
from tests.dashboard.conftest import settled, until

FAR = 'name = "far"\n[[band]]\nname = "hi"\nlow_mhz = 5000\nhigh_mhz = 5100\nvswr = 2.0\n'
SEVERAL = 'conditions = ["bare", "sealed"]\n' + PLAN


@pytest.mark.calibrated
@pytest.mark.usefixtures("width")
def test_condition_after_condition_is_swept_kept_and_signed_off(opened: Page, site: Site) -> None:
    page = opened
    settled(site.bench)
    site.bench.use_plan(read_plan(SEVERAL))
    page.keyboard.press("a")
    expect(page.locator("#verdict-overall")).to_contain_text("fail")
    steps = page.locator("#accept-conditions li")
    expect(steps).to_have_count(2)
    expect(steps.nth(1)).to_contain_text("decides")
    expect(page.locator("#accept-instruction")).to_contain_text("Connect the bare antenna")
    sentence = page.locator("#sentence")
    expect(sentence).to_have_text(re.compile("Connect the bare antenna.*Then press Next"))
    expect(page.locator("#aside")).to_contain_text("Condition 1 of 2")
    page.locator("#antenna-label").fill("weir-3 <b>")
    expect(page.locator("#accept")).to_have_text("Sweep it: bare")
    expect(page.locator("#next-words")).to_have_text("Next: sweep it")
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("Swept and kept: bare, fail.")
    expect(steps.first).to_contain_text("fail")
    kept = site.folder / "records" / UNFINISHED_FOLDER
    assert len(list(kept.iterdir())) == 1

    expect(page.locator("#accept")).to_have_text("Sweep it: sealed")
    expect(sentence).to_contain_text("Seal it")
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("Swept and kept: sealed")
    steps.first.get_by_role("button", name="Sweep again").click()
    expect(page.locator("#accepted")).to_contain_text("Swept and kept: bare")
    expect(page.locator("#accept")).to_have_text("Sign off and write the record")
    expect(page.locator("#next-words")).to_have_text("Next: write it")
    expect(sentence).to_contain_text("Press Next to sign off")
    changes = page.locator("#changes")
    expect(changes).to_contain_text("nothing to speak of changes against bare")
    assert changes.locator("thead th").all_inner_texts() == ["bare", "sealed"]
    expect(changes.locator("tbody tr").first).to_contain_text("Margin, LTE 20 uplink")
    hands.wait_until(page, "document.querySelector('#changes-picture').naturalWidth > 0")
    hands.fits(page)
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("weir-3 <b> is written")
    with page.context.expect_page() as opening:
        page.get_by_role("link", name="Open its report").click()
    report = opening.value
    expect(report.locator("h1")).to_have_text("weir-3 <b>")
    expect(report.locator(".strips svg")).to_have_count(3)
    report.close()
    with page.expect_download() as waiting:
        page.get_by_role("link", name="its PDF").click()
    assert waiting.value.path().read_bytes().startswith(b"%PDF")
    assert not kept.exists()
    (folder,) = (each for each in (site.folder / "records").iterdir() if each.is_dir())
    done = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    assert done["antenna"] == "weir-3 <b>"
    assert [each["name"] for each in done["conditions"]] == ["bare", "sealed"]
    assert recheck_folder(folder).holds
    expect(page.locator("#accept")).to_have_text("Sweep it: bare")


@pytest.mark.calibrated
def test_what_was_begun_is_told_when_the_page_comes_back(opened: Page, site: Site) -> None:
    page = opened
    settled(site.bench)
    site.bench.use_plan(read_plan(SEVERAL))
    page.keyboard.press("a")
    expect(page.locator("#verdict-overall")).to_contain_text("fail")
    page.locator("#antenna-label").fill("weir-3")
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("Swept and kept: bare")
    site.stop()
    site.start()
    expect(page.locator("#unfinished-words")).to_contain_text("weir-3, begun")
    page.locator("#throw-away").click()
    expect(page.locator("#unfinished")).to_be_hidden()
    assert not (site.folder / "records" / UNFINISHED_FOLDER).exists()


def test_the_next_step_leads_to_what_speaks_against_accepting(opened: Page, site: Site) -> None:
    """No calibration, no touch test, a plane that cannot be there: each is one press away."""
    page, following = opened, opened.locator("#next-words")
    site.bench.use_plan(read_plan("touch_test = true\n" + PLAN))
    page.keyboard.press("a")
    expect(following).to_have_text("Next: calibrate")
    page.keyboard.press("PageDown")
    expect(page.locator("#view-calibrate")).to_be_visible()
    hands.calibrate(page)
    site.bench.plane.use(read_plane("delay_ps=500 loss_db=20 loss_at_mhz=838"))
    page.keyboard.press("a")
    expect(page.locator("#accept-why")).to_contain_text("The plane cannot be there.")
    expect(following).to_have_text("Next: plane")
    page.keyboard.press("PageDown")
    page.locator("#plane-connector").click()
    expect(page.locator("#plane")).to_be_hidden()
    expect(following).to_have_text("Next: touch test")
    page.keyboard.press("PageDown")
    expect(following).to_have_text("Next")
    expect(page.locator("#page")).not_to_have_attribute("data-touch", "idle")


@pytest.mark.calibrated
def test_a_plane_that_cannot_be_there_can_be_reached_beneath_the_curves(
    opened: Page, site: Site
) -> None:
    page = opened
    settled(site.bench)
    site.bench.plane.use(read_plane("delay_ps=500 loss_db=20 loss_at_mhz=838"))
    expect(page.locator("#sentence")).to_have_text("Set the plane again.")
    expect(page.locator("#aside")).to_contain_text("The plane cannot be there")
    expect(page.locator("#plane-words")).to_contain_text("At the connector")
    expect(page.locator("#plane-effect")).to_be_empty()
    expect(page.locator("#next-words")).to_have_text("Next: plane")
    page.locator("#plane-open").click()
    expect(page.locator("#plane")).to_be_visible()


@pytest.mark.calibrated
def test_one_step_too_many_writes_no_unit_twice(opened: Page, site: Site) -> None:
    """After the record comes the next antenna: its name, note and sizes are not known yet."""
    page = opened
    settled(site.bench)
    page.keyboard.press("a")
    page.locator("#antenna-label").fill("weir-3")
    page.get_by_text("Finished sizes (mm)").click()
    sizes = page.locator("#sizes input")
    sizes.first.fill("85.5")
    page.locator("#note").fill("of weir-3 alone")
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("The record of weir-3 is written")
    expect(page.locator("#next-words")).to_have_text("Next: another one")
    page.locator("#next-step").click()
    expect(page.locator("#view-bench")).to_be_visible()
    page.keyboard.press("a")
    expect(page.locator("#antenna-label")).to_have_value("")
    expect(sizes.first).to_have_value("")
    expect(page.locator("#note")).to_have_value("")
    expect(page.locator("#next-words")).to_have_text("Next: name it")
    assert len([each for each in (site.folder / "records").iterdir() if each.is_dir()]) == 1


def test_a_calibration_in_doubt_is_read_about_before_and_after(opened: Page, site: Site) -> None:
    """Open and short taken for each other: said at once, on the pill, and in the record."""
    page = opened
    page.keyboard.press("c")
    page.get_by_role("button", name="Start the calibration").click()
    for asked, on in (("open", "short"), ("short", "open"), ("load", "load")):
        hands.screw_on(page, on)
        hands.capture(page)
        hands.taken(page, asked)
    page.locator("#skip-standard").click()
    expect(page.locator("#calibration-warnings")).to_contain_text("only once")
    expect(page.locator("#calibration-warnings")).to_contain_text("Open and short look exchanged")
    expect(page.locator("#view-calibrate")).to_be_visible()
    expect(page.locator("#calibration-state")).to_contain_text("in doubt")
    page.keyboard.press("n")
    hands.screw_on(page, "antenna")
    settled(site.bench)  # a verdict that turns while the nut is turned is rightly refused
    page.keyboard.press("a")
    page.locator("#antenna-label").fill("weir-3")
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("The record of weir-3 is written")
    (folder,) = [each for each in (site.folder / "records").iterdir() if each.is_dir()]
    assert "Open and short look exchanged" in (folder / "verdict.json").read_text(encoding="utf-8")
    assert recheck_folder(folder).holds


@pytest.mark.calibrated
def test_a_plan_that_cannot_be_swept_is_said_once_and_leads_to_the_plan(
    opened: Page, site: Site
) -> None:
    page, following = opened, opened.locator("#next-words")
    settled(site.bench)
    site.bench.use_plan(read_plan(FAR))
    expect(page.locator("#sentence")).to_contain_text("5000 to 5100 MHz cannot be swept")
    expect(page.locator("#aside")).to_have_text("")
    expect(page.locator("#coverage")).to_have_text("")
    expect(page.locator("#best")).to_have_text("")
    until(site.bench, lambda now: now.tuning is not None and len(now.tuning.dips) > 0)
    expect(page.locator("#best")).to_have_text("")
    expect(following).to_have_text("Next: plan")
    page.keyboard.press("a")
    expect(page.locator("#accept-why")).to_contain_text("5000 to 5100 MHz cannot be swept")
    expect(following).to_have_text("Next: plan")
    page.keyboard.press("PageDown")
    expect(page.locator("#plan")).to_be_visible()
