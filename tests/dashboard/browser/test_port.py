"""The page begins without a port: it lists them, connects, and leads on to the first verdict."""

from __future__ import annotations

import contextlib
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from acquire.clock import SystemClock
from acquire.port.port_list import PortInfo
from dashboard.bench.composed_bench import Bench
from dashboard.bench.make_bench import live_bench
from dashboard.demo.demo_bench import practice
from dashboard.demo.scenario import PLAN
from dashboard.files import user_folders
from dashboard.page.plan_form import read_plan
from replay.virtual_analyzer.hosting import on_pty
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import LOOK, Site

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")
PORTS: list[PortInfo] = []


def portless(*, clock: Any, calibration: Path | None, **folders: Path) -> Bench:
    """A bench of no port; the time of real ports is the system's."""
    del clock, calibration
    return live_bench(
        None, clock=SystemClock(), practice=practice(), listing=lambda: list(PORTS), **folders
    )


@pytest.fixture
def plugged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Site, PortInfo]]:
    """The page of a bench without a port, and an analyzer to plug in."""
    monkeypatch.setattr(user_folders, "practice", lambda: tmp_path / "practice")
    PORTS.clear()
    clock = SystemClock()
    virtual = VirtualBench(clock, on_port="antenna", kit="3.5mm-plug-50")
    analyzer = VirtualAnalyzer(virtual, "registers", speed=10, powered_s=clock.monotonic())
    with on_pty(analyzer, clock) as address:
        site = Site(tmp_path, portless)
        with contextlib.ExitStack() as running:
            running.callback(site.stop)
            yield site, PortInfo(address, "a bridge", "1234:5678", "A1")


@pytest.mark.usefixtures("width")
def test_from_no_port_to_the_first_standard(page: Page, plugged: tuple[Site, PortInfo]) -> None:
    site, port = plugged
    page.add_init_script(path=LOOK)
    page.goto(site.url)
    expect(page.locator("#page")).to_have_attribute("data-view", "port")
    expect(page.locator("#sentence")).to_have_text("Choose the port that your analyzer is on.")
    expect(page.locator("#port-note")).to_contain_text("Plug the analyzer in")
    steps = page.locator("#guide-steps li")
    expect(steps).to_have_count(5)
    expect(steps.first).to_have_attribute("data-state", "now")
    rows = page.locator("#ports li")
    expect(rows).to_have_count(1)  # the virtual bench
    hands.fits(page)
    assert page.evaluate("tooFaint()") == []

    # A port that is plugged in appears, stands out, and is asked only when its button is pressed.
    PORTS.append(port)
    mine = rows.filter(has_text=port.device)
    expect(mine).to_contain_text("Just plugged in")
    expect(mine).to_contain_text("a bridge, USB 1234:5678, serial number A1")
    mine.get_by_role("button", name="Identify").click()
    expect(mine).to_contain_text(re.compile("says that it is .* 4400 MHz"))
    hands.fits(page)
    assert page.evaluate("tooFaint()") == []
    assert site.bench.snapshot().port.phase == "unchosen"

    # One press connects, and the next step opens by itself; a plan leads to the kit.
    expect(page.locator("#next-words")).to_have_text(f"Next: use {port.device}")
    page.locator("#next-step").click()
    plan = page.locator("#plan")
    expect(plan).to_be_visible()
    expect(steps.nth(1)).to_have_attribute("data-state", "now")
    site.bench.use_plan(read_plan(PLAN))
    page.keyboard.press("Escape")
    expect(page.locator("#page")).to_have_attribute("data-view", "calibrate")
    expect(page.locator("#sentence")).to_contain_text("kit")
    page.locator("#kit").get_by_text("3.5 mm plugs").click()
    expect(steps.nth(3)).to_have_attribute("data-state", "now")
    page.get_by_role("button", name="Start the calibration").click()
    expect(page.locator("#instruction")).to_contain_text("open")

    # The row is left and taken up again.
    page.locator("#guide-leave").click()
    expect(page.locator("#guide-steps")).to_be_hidden()
    expect(page.locator("#guide-leave")).to_have_text("Show the first steps (4 of 5)")
    page.locator("#guide-leave").click()
    expect(page.locator("#guide-steps")).to_be_visible()


def test_a_change_is_asked_about_and_a_wrong_port_leads_back_to_the_list(
    page: Page, plugged: tuple[Site, PortInfo]
) -> None:
    site, _ = plugged
    PORTS.append(PortInfo("/dev/nothing-here", "", "", ""))
    page.goto(site.url)
    page.get_by_role("button", name="Practise here").click()
    expect(page.locator("#plan")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("#origin")).to_contain_text("invented")
    expect(page.locator("#demo")).to_be_visible()

    page.locator("#port-state").click()
    wrong = page.get_by_role("button", name="Use /dev/nothing-here")
    wrong.click()
    asks = page.locator("#port-change")
    expect(asks).to_contain_text("begins at /dev/nothing-here")
    asks.get_by_role("button", name="Cancel").click()
    expect(page.locator("#port-state")).to_have_attribute("data-state", "sweeping")
    wrong.click()
    asks.get_by_role("button", name="Change the port").click()
    expect(page.locator("#sentence")).to_have_text("There is no port /dev/nothing-here.")
    expect(page.locator("#aside")).to_contain_text("choose another port from the list")
    expect(page.locator("#demo")).to_be_hidden()
    # From any other view the one step forward leads back to the list.
    page.keyboard.press("b")
    expect(page.locator("#next-words")).to_have_text("Next: port")
    page.keyboard.press("n")
    expect(page.locator("#page")).to_have_attribute("data-view", "port")
    hands.fits(page)
