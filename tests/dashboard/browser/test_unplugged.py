"""A unit that is unplugged: what to do stands out, and nothing is captured behind one's back."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from dashboard.bench.make_bench import live_bench
from dashboard.bench.snapshot import Snapshot
from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import Site, Workshop, watched_page
from tests.dashboard.conftest import until

pytestmark = pytest.mark.usefixtures("width")


def test_an_unplugged_unit_is_told_in_full_ink_and_captures_nothing(
    page: Page, slow: Workshop
) -> None:
    analyzer, bench = slow.analyzer, slow.site.bench
    for opened in watched_page(page, slow.site):
        until(bench, lambda now: now.sequence > 0)
        opened.keyboard.press("c")
        opened.get_by_role("button", name="Start the calibration").click()
        capture = opened.locator("#standard-on")
        expect(capture).to_be_enabled()
        analyzer.virtual.screw_on("open")
        capture.click()
        expect(capture).to_have_text("Measuring. Keep still.")
        analyzer.pull()
        expect(opened.locator("#sentence")).to_contain_text("no port /dev/test")
        expect(opened.locator("#page")).to_have_attribute("data-old", "true")
        faded = opened.locator("#headline").evaluate("e => getComputedStyle(e).filter")
        assert faded == "none"
        expect(opened.locator("#aside")).to_contain_text("Press again for the open")
        expect(capture).to_be_disabled()
        expect(capture).to_have_text("Waiting for the analyzer")
        expect(opened.locator("#steadiness")).to_be_hidden()
        assert opened.evaluate("tooFaint()") == []
        hands.fits(opened)

        lost = bench.snapshot()
        analyzer.put_back()
        expect(capture).to_have_text("It is connected. Measure the open.")
        now = until(bench, partial(_sweeps_again, lost))
        session = now.calibration.session
        assert session is not None
        assert (session.phase, session.taken) == ("screw on", ())


def test_standards_are_chosen_before_they_are_measured(page: Page, tmp_path: Path) -> None:
    """Nothing is preselected at a real port: what is not said is not taken to be ideal."""
    site = Site(tmp_path, partial(live_bench, "/dev/nowhere"))
    try:
        page.goto(site.url)
        expect(page.locator("#port-state")).to_have_text("No analyzer at /dev/nowhere")
        page.keyboard.press("c")
        expect(page.locator("#kit input:checked")).to_have_count(0)
        expect(page.locator("#start-calibration")).to_be_disabled()
        expect(page.locator("#start-why")).to_have_text("Choose your standards first.")
        hands.fits(page)
        page.locator("#kit").get_by_text("Ideal standards").click()
        expect(page.locator("#kit-words")).to_contain_text("Nothing real is ideal")
        expect(page.locator("#start-why")).to_have_text("Connect the analyzer first.")
        page.locator("#kit").get_by_text("Type N plugs").click()
        expect(page.locator("#kit-words")).to_contain_text("Published coefficients")
        expect(page.locator("#kit-words")).not_to_contain_text("[read]")
        page.reload()
        expect(page.locator("#kit :checked")).to_have_count(1)
        assert page.locator("#load-db").evaluate("e => e.scrollWidth <= e.clientWidth")
        hands.fits(page)
    finally:
        site.stop()


def _sweeps_again(lost: Snapshot, now: Snapshot) -> bool:
    return now.fresh and now.sequence > lost.sequence + 2
