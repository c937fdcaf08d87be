"""The records as pages, by hand: found, marked, compared, and the next cut asked for."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.dashboard.browser import hands
from tests.dashboard.browser.conftest import PHONE, Site


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.usefixtures("width")
def test_records_are_found_compared_and_learned_from(
    opened: Page, site: Site, gauge_records: Path, scheme: Any
) -> None:
    shutil.copytree(gauge_records, site.bench.records_folder, dirs_exist_ok=True)
    page = opened
    page.emulate_media(color_scheme=scheme)
    page.goto(f"{site.url}records")
    hands.fits(page)
    assert page.evaluate("tooFaint()") == []
    page.get_by_label("Words").fill("ford")
    page.get_by_role("button", name="Search").click()
    boxes = page.get_by_role("checkbox")
    expect(boxes).to_have_count(7)
    for n in range(3):
        boxes.nth(n).check()
    page.get_by_role("button", name="Compare selected").click()
    expect(page.locator("figure svg:visible")).to_have_count(1)
    hands.fits(page)
    assert page.evaluate("tooFaint()") == []
    page.get_by_role("link", name="Records").click()
    page.get_by_role("link", name="bent strip").first.click()
    page.get_by_label("Target for the dip, MHz").fill("836")
    page.get_by_role("button", name="Where to cut next").click()
    expect(page.locator("main")).to_contain_text("For a dip at 836.0 MHz")
    hands.fits(page)
    assert page.evaluate("tooFaint()") == []


def test_the_page_leads_to_the_records(opened: Page) -> None:
    with opened.context.expect_page() as opening:
        opened.get_by_role("link", name="Records").click()
    expect(opening.value.locator("h1")).to_have_text("Records")


def test_a_forged_report_says_and_does_nothing_here(
    opened: Page, site: Site, gauge_records: Path
) -> None:
    shutil.copytree(gauge_records, site.bench.records_folder, dirs_exist_ok=True)
    folder = min(each for each in site.bench.records_folder.iterdir() if each.is_dir())
    forged = "<h1>forged</h1><script>document.title = 'acted'</script>"
    (folder / "report.html").write_text(forged, encoding="utf-8")
    opened.goto(f"{site.url}records/{folder.name}/report.html")
    expect(opened.locator("h1")).not_to_have_text("forged")
    expect(opened.locator("table").first).to_contain_text("State")
    assert opened.title() != "acted"
    assert opened.evaluate("self.origin") == "null"


def test_records_are_sorted_downloaded_and_deleted(
    opened: Page, site: Site, gauge_records: Path
) -> None:
    shutil.copytree(gauge_records, site.bench.records_folder, dirs_exist_ok=True)
    page = opened
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    page.goto(f"{site.url}records")
    page.get_by_role("link", name="Antenna", exact=True).click()
    first = page.locator("tbody tr").first
    expect(first).to_contain_text("bridge-1")
    hands.fits(page)
    with page.expect_download() as kept:
        first.get_by_role("link", name="Download").click()
    assert kept.value.suggested_filename.endswith(".zip")
    first.get_by_role("link", name="Delete").click()
    expect(page.locator("h1")).to_contain_text("bridge-1")
    hands.fits(page)
    assert page.evaluate("tooFaint()") == []
    page.get_by_role("button", name="Delete the record").click()  # nothing is filled in
    expect(page.locator("h1")).to_contain_text("Delete the record of")
    page.get_by_label("Why is it deleted?").fill("wrong antenna")
    page.get_by_role("checkbox").check()
    page.get_by_role("button", name="Delete the record").click()
    expect(page.locator(".notes").first).to_contain_text("is deleted. Its stub stays")
    expect(page.locator("tbody tr")).to_have_count(24)
