"""A second screen: scanned, looked at on a phone, lent the control, and put out again."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from dashboard.access.sharing import Sharing
from dashboard.demo.demo_bench import demo_bench
from dashboard.demo.scenario import PLAN
from dashboard.page.plan_form import read_plan
from dashboard.server.page_server import ADDRESS, listen
from tests.dashboard.conftest import UnitClock, origin, serving


@pytest.fixture
def shared(tmp_path: Path) -> Iterator[tuple[str, Sharing]]:
    """The demo, shared: the bench's own address, and the sharing."""
    sockets = [listen(0), listen(0)]
    sharing = Sharing(ADDRESS, sockets[1].getsockname()[1])
    bench = demo_bench(
        read_plan(PLAN),
        records_folder=tmp_path,
        calibrations_folder=tmp_path,
        clock=UnitClock(6),
    )
    bench.start()
    with closing(bench), serving(bench, *sockets, sharing=sharing):
        yield f"{origin(sockets[0])}/", sharing


def test_a_phone_that_scans_the_code_sees_the_wall_and_no_control(
    browser: Browser, shared: tuple[str, Sharing]
) -> None:
    url, _ = shared
    bench = browser.new_page(viewport={"width": 1366, "height": 768})
    bench.goto(url)
    bench.wait_for_selector('#page[data-feed="live"]')
    bench.locator("#share-open").click()
    expect(bench.locator("#share-code")).to_be_visible()
    address = bench.locator("#share-address").inner_text()
    assert "?code=" in address

    phone = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
    phone.goto(address)
    phone.get_by_label("Your name").fill("Ana <b>")
    phone.get_by_role("button", name="Look").click()
    phone.wait_for_selector('#page[data-feed="live"][data-role="viewer"]')
    assert phone.url.endswith("/#wall")
    expect(phone.locator("#sentence")).to_be_visible()
    expect(phone.locator("#next-step")).to_be_hidden()
    phone.goto(phone.url.replace("#wall", "#bench"))
    for name in ("#hold", "#demo", "#done", "#next-step"):
        expect(phone.locator(name)).to_be_hidden()
    assert phone.evaluate("document.documentElement.scrollWidth") == 390

    expect(bench.locator("#share-open")).to_have_text("1 looking")
    expect(phone.locator("#viewer-name")).to_have_text("Ana <b>: looking")
    expect(bench.locator("#share-list")).to_contain_text("Ana <b>")
    bench.get_by_role("button", name="Lend control to Ana <b>").click()
    phone.wait_for_selector('#page[data-role="lent"]')
    expect(phone.locator("#hold")).to_be_visible()
    expect(phone.locator("#viewer-name")).to_contain_text("control is yours")
    expect(bench.locator("#share-viewers")).to_contain_text("Ana <b> has control")
    bench.get_by_role("button", name="Take control back").click()
    phone.wait_for_selector('#page[data-role="viewer"]')
    bench.get_by_role("button", name="Stop sharing").click()
    phone.wait_for_selector('#page[data-feed="lost"]')
    expect(phone.locator("#lost")).to_contain_text("does not share")
    expect(bench.locator("#share-address")).to_have_text("Nothing is shared.")


def test_a_page_that_is_not_shared_offers_nothing_to_share(opened) -> None:  # type: ignore[no-untyped-def]
    expect(opened.locator("#share-open")).to_be_hidden()
