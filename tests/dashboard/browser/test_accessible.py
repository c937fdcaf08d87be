"""axe-core finds nothing on any view, light or dark, on a laptop or a phone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Literal

import pytest
from axe_playwright_python.base import AXE_FILE_PATH
from playwright.sync_api import Page, expect

from tests.dashboard.browser.conftest import LAPTOP, PHONE, Site

AXE = AXE_FILE_PATH.read_text(encoding="utf-8")
Look = tuple[tuple[int, int], Literal["light", "dark"]]
LOOKS: list[Look] = [(LAPTOP, "light"), (LAPTOP, "dark"), (PHONE, "light"), (PHONE, "dark")]
PAGES = ("cable", "records", "help", "help/first-hour")


def found_by_axe(page: Page, what: str) -> list[str]:
    """What axe-core says of what is shown now, a line a rule and element."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)
    # nothing that is on its way in or out: it is judged as it stands
    page.evaluate("document.getAnimations().forEach(each => each.finish())")
    violations: list[dict[str, Any]] = page.evaluate(
        "axe.run(document, { resultTypes: ['violations'] }).then(found => found.violations)"
    )
    return [
        f"{what}: {rule['id']}: {' '.join(node['html'].split())[:120]}"
        f" ({' '.join(node['failureSummary'].split())[:160]})"
        for rule in violations
        for node in rule["nodes"]
    ]


def looked_at(page: Page, name: str, looks: Sequence[Look] = LOOKS) -> Iterator[str]:
    """What axe-core finds by laptop and phone, light and dark."""
    for (across, down), scheme in looks:
        page.set_viewport_size({"width": across, "height": down})
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        yield from found_by_axe(page, f"{name}, {across} px, {scheme}")


@pytest.mark.slow
@pytest.mark.calibrated
def test_nothing_is_found_on_any_view_and_in_any_dialog(opened: Page) -> None:
    page = opened
    expect(page.locator("#strips [data-state]").first).to_be_visible()
    found = []
    views = page.locator("[data-view-to]").evaluate_all("all => all.map(e => e.dataset.viewTo)")
    for view in sorted(set(views), key=lambda view: (view == "bench", view)):
        page.evaluate(f"location.hash = '{view}'")
        expect(page.locator("#page")).to_have_attribute("data-view", view)
        found += looked_at(page, view)
    for metric in ("vswr", "impedance", "smith"):
        page.locator(f"#metric-{metric}").click()
        found += found_by_axe(page, metric)
    for dialog in page.locator("dialog").evaluate_all("all => all.map(e => e.id)"):
        page.evaluate(f"document.getElementById('{dialog}').showModal()")
        found += looked_at(page, dialog, LOOKS[1:3])
        page.evaluate(f"document.getElementById('{dialog}').close()")
    assert not "\n".join(found)


@pytest.mark.slow
def test_nothing_is_found_before_calibrating_and_on_pages_served_whole(
    opened: Page, site: Site
) -> None:
    page = opened
    found = [*looked_at(page, "bench, not calibrated", LOOKS[1:3])]
    page.locator("#help-open").click()
    expect(page.locator("#help-chapter h1")).to_be_visible()
    found += looked_at(page, "help", LOOKS[1:3])
    for path in PAGES:
        page.goto(f"{site.url}{path}")
        found += looked_at(page, path)
    assert not "\n".join(found)


@pytest.mark.calibrated
def test_a_button_is_named_without_its_key(opened: Page) -> None:
    page = opened
    for key in page.locator("button kbd:visible").all():
        button = key.locator("xpath=ancestor::button[1]")
        own = button.evaluate(
            "e => { const c = e.cloneNode(true);"
            " for (const k of c.querySelectorAll('kbd')) k.remove();"
            " return e.getAttribute('aria-label') ?? c.textContent }"
        )
        expect(button).to_have_accessible_name(" ".join(own.split()))
    expect(page.get_by_role("button", name="Bench", exact=True)).to_be_attached()
