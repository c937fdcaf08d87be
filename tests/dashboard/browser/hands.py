"""What a person does on the page, by what is written on it."""

from __future__ import annotations

from playwright.sync_api import Page, expect

BENDS = (("Arm A", "plus 2", 2), ("Arm A", "plus 0.5", 2), ("Arm B", "minus 2", 1))
FINISH = ("Arm B", "minus 0.5")


def wait_until(page: Page, condition: str) -> None:
    """Wait until a condition holds, written as a JavaScript expression."""
    page.evaluate(f"() => until(() => {condition})")


def shown(page: Page, sequence: int) -> None:
    """Wait until the page shows a sweep, or a later one."""
    wait_until(page, f"Number(document.getElementById('page').dataset.sequence) >= {sequence}")


def fits(page: Page) -> None:
    """Nothing is read sideways."""
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0


def screw_on(page: Page, name: str) -> None:
    """Put something on the virtual port, and wait until the page says that it is on."""
    button = page.locator("#on-port").get_by_role("button", name=name, exact=True)
    button.click()
    expect(button).to_have_attribute("aria-pressed", "true")


def capture(page: Page) -> None:
    """Say that the standard is on."""
    page.locator("#standard-on").click()


def taken(page: Page, name: str) -> None:
    """Wait until a standard is taken."""
    step = page.locator("#steps li", has_text=name).first
    expect(step).to_have_attribute("data-state", "taken")


def calibrate(page: Page) -> None:
    """The whole calibration, right the first time; ends on the bench, the antenna on."""
    page.get_by_role("button", name="Start the calibration").click()
    for name in ("open", "short", "load"):
        screw_on(page, name)
        capture(page)
        taken(page, name)
    expect(page.locator("#instruction")).to_contain_text("once more")
    screw_on(page, "load")
    capture(page)
    on_the_bench(page)
    screw_on(page, "antenna")


def on_the_bench(page: Page) -> None:
    """Wait until the page has gone to the bench by itself."""
    expect(page.locator("#page")).to_have_attribute("data-view", "bench")


def bend(page: Page, dimension: str, step: str) -> None:
    """Bend by one step, and wait until the antenna has its new size."""
    row = page.locator("#dimensions li", has_text=dimension)
    before = row.locator("output").inner_text()
    row.get_by_role("button", name=f"{dimension} {step} mm", exact=True).click()
    expect(row.locator("output")).not_to_have_text(before)


def bend_until_it_passes(page: Page) -> None:
    """Bend as the strips say, until each carries the mark of a pass."""
    for dimension, step, times in BENDS:
        for _ in range(times):
            bend(page, dimension, step)
    for _ in range(2):
        bend(page, *FINISH)
    for strip in page.locator("#strips .strip").all():
        expect(strip).to_have_attribute("data-state", "pass")
