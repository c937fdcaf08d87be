"""Make the documentation's pictures from the running program: `make pictures`.

The demo's page is served over the virtual bench and driven as the browser tests drive it, so no
picture shows what the program does not do.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

TOP = Path(__file__).parents[1]
sys.path.insert(0, str(TOP))

from playwright.sync_api import Browser, Page, expect, sync_playwright  # noqa: E402

from acquire.port.port_list import PortInfo  # noqa: E402
from dashboard.bench.composed_bench import Bench  # noqa: E402
from dashboard.bench.make_bench import live_bench  # noqa: E402
from dashboard.demo.demo_bench import demo_bench, practice  # noqa: E402
from dashboard.page.plan_form import read_plan  # noqa: E402
from docs.picture_words import write_words  # noqa: E402
from tests.chromium import find  # noqa: E402
from tests.dashboard.browser import hands  # noqa: E402
from tests.dashboard.browser.conftest import ARGUMENTS, LOOK, Site  # noqa: E402
from tests.dashboard.conftest import calibrate as calibrate_bench  # noqa: E402
from tests.dashboard.conftest import settled  # noqa: E402

PICTURES = TOP / "docs" / "pictures"
LAPTOP = (1366, 768)
PHONE = (390, 844)
TEN = ("lte = 1", "nr = 3", "lte = 7", "lte = 8", "lte = 20", "nr = 28", "nr = 38", "nr = 40",
       "nr = 75", "nr = 78")  # fmt: skip
TEN_BANDS = 'name = "ten bands, Europe"\n' + "".join(
    f"[[band]]\n{band}\nreturn_loss_db = 10\n" for band in TEN
)


@contextmanager
def opened(browser: Browser, site: Site, size: tuple[int, int], *, dark: bool) -> Iterator[Page]:
    """The page, live."""
    width, height = size
    context = browser.new_context(
        viewport={"width": width, "height": height},
        color_scheme="dark" if dark else "light",
        reduced_motion="reduce",
    )
    page = context.new_page()
    page.add_init_script(path=LOOK)
    page.goto(site.url)
    page.wait_for_selector(":is(#page[data-feed=live], #page[data-feed=stalled])")
    yield page
    context.close()


Take = Callable[[Page, str], None]
"""What is done with each scene, by its name."""


def drawn(page: Page) -> None:
    """Wait until what is shown has been drawn."""
    page.mouse.move(0, 0)
    if page.url.endswith("report.html"):
        return  # a report is served so that it runs nothing, a wait for its drawing neither
    page.evaluate(
        "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"
    )


def write(page: Page, name: str) -> None:
    """Write one picture, and its words beside it."""
    drawn(page)
    picture = PICTURES / f"{name}.png"
    page.screenshot(path=picture)
    write_words(page, picture)
    print(f"docs/pictures/{name}.png")


def calibrate(page: Page, take: Take) -> None:
    """Open taken, then left on for the short: refused; then all three right."""
    page.keyboard.press("c")
    page.get_by_role("button", name="Start the calibration").click()
    expect(page.get_by_text("The reading now")).to_be_visible()
    take(page, "calibrate")
    hands.screw_on(page, "open")
    hands.capture(page)
    hands.taken(page, "open")
    hands.capture(page)
    expect(page.locator("#refusal")).to_contain_text("Open and short read alike", timeout=20_000)
    take(page, "refused")
    for name in ("short", "load"):
        hands.screw_on(page, name)
        hands.capture(page)
        hands.taken(page, name)
    hands.screw_on(page, "load")  # once more: nothing before speaks for it
    hands.capture(page)
    hands.on_the_bench(page)
    hands.screw_on(page, "antenna")


def checking(page: Page, take: Take) -> None:
    """A second load measured back, and what costs most."""
    page.keyboard.press("c")
    page.locator("#second-load").fill("40")
    page.locator("#check-load").click()
    expect(page.locator("#instruction")).to_contain_text("second load")
    hands.screw_on(page, "second load")
    hands.capture(page)
    expect(page.locator("#check-outcome")).to_contain_text("agree", timeout=20_000)
    page.locator("#work-costs-out").click()
    expect(page.locator("#costs")).to_contain_text("would")
    page.locator("#calibration-checks").scroll_into_view_if_needed()
    page.evaluate("document.querySelector('#calibration-checks').scrollIntoView()")
    take(page, "checked")
    page.keyboard.press("b")
    hands.screw_on(page, "antenna")


def bending(page: Page, site: Site, take: Take) -> None:
    """As delivered, half way, and passing."""
    settled(site.bench)
    expect(page.locator("#headline")).to_have_attribute("data-tone", "fail", timeout=20_000)
    page.keyboard.press("h")
    expect(page.locator("#holds")).to_contain_text("hold 1")
    hands.bend(page, "Arm A", "plus 2")
    hands.bend(page, "Arm A", "plus 2")
    for line in page.locator("#strips .strip[data-band='LTE 20']").all():
        expect(line).to_have_attribute("data-state", "pass", timeout=20_000)
    settled(site.bench)
    take(page, "bench")
    page.keyboard.press("t")
    take(page, "bench-dark")
    page.keyboard.press("t")
    page.keyboard.press("s")
    expect(page.locator("#smith")).to_be_visible()
    hands.wait_until(page, "document.querySelector('#smith .whole')?.getAttribute('d')")
    take(page, "smith")
    page.keyboard.press("r")
    for dimension, step in (("Arm A", "plus 0.5"), ("Arm A", "plus 0.5"), ("Arm B", "minus 2"),
                            ("Arm B", "minus 0.5"), ("Arm B", "minus 0.5")):  # fmt: skip
        hands.bend(page, dimension, step)
    expect(page.locator("#sentence")).to_contain_text("Every band passes", timeout=20_000)
    settled(site.bench)
    take(page, "passed")
    page.keyboard.press("w")
    take(page, "wall")
    page.keyboard.press("b")


def accept(page: Page, site: Site, take: Take) -> None:
    """The name of the finished antenna, and where its record is."""
    page.keyboard.press("a")
    page.locator("#antenna-label").fill("weir-3")
    page.locator("#operator").fill("river-watch")
    page.locator("#accept").click()
    expect(page.locator("#accepted")).to_contain_text("is written", timeout=20_000)
    settled(site.bench)  # the demo's hand puts the short on and the antenna back
    # the folder of this run is gone when it ends: show where the demo keeps its own
    page.evaluate(
        "for (const code of document.querySelectorAll('#accepted code')) code.textContent ="
        " code.textContent.replace(/^.*records/, '~/.local/share/bandwright/practice')"
    )
    take(page, "accept")


def afterwards(page: Page, site: Site, take: Take) -> None:
    """The help, the cable, the records and a report."""
    page.keyboard.press("b")
    page.keyboard.press("F1")
    expect(page.locator("#help-chapter h1")).to_be_visible()
    take(page, "help")
    page.keyboard.press("Escape")
    page.goto(f"{site.url}cable?cable=rg-58")
    take(page, "cable")
    page.goto(f"{site.url}records")
    take(page, "records")
    page.get_by_role("link", name="weir-3").first.click()
    page.wait_for_load_state()
    take(page, "report")


def scenes(browser: Browser, folder: Path, take: Take) -> None:
    """Go through the whole job, and hand over each scene that the documentation shows."""
    site = Site(folder)
    try:
        with opened(browser, site, LAPTOP, dark=False) as page:
            calibrate(page, take)
            checking(page, take)
            bending(page, site, take)
            accept(page, site, take)
            with opened(browser, site, PHONE, dark=False) as phone:
                expect(phone.locator("#strips [data-state]").first).to_be_visible()
                take(phone, "phone")
            afterwards(page, site, take)
    finally:
        site.stop()
    many = Site(folder / "many", make=partial(demo_bench, read_plan(TEN_BANDS)))
    try:
        calibrate_bench(many.bench)
        with opened(browser, many, LAPTOP, dark=False) as page:
            expect(page.locator("#strips [data-state='fail']").first).to_be_visible()
            settled(many.bench)
            take(page, "ten-bands")
            page.keyboard.press("p")
            page.locator("#plan-find").fill("n78")
            expect(page.locator("#plan-found input")).to_be_checked()
            take(page, "plan")
    finally:
        many.stop()
    start(browser, folder / "start", take)


def start(browser: Browser, folder: Path, take: Take) -> None:
    """Nothing chosen yet: one port, and the virtual bench to practise on."""
    ports = [PortInfo("/dev/ttyACM0", "USB serial port", "1234:5678", "A1")]

    def portless(*, calibration: Path | None, **more: Any) -> Bench:
        del calibration
        return live_bench(None, practice=practice(), listing=lambda: ports, **more)

    site = Site(folder, portless)
    try:
        with opened(browser, site, LAPTOP, dark=False) as page:
            expect(page.locator("#ports li")).to_have_count(2, timeout=20_000)
            take(page, "port")
    finally:
        site.stop()


def main() -> int:
    """Make them all."""
    chromium = find()
    if chromium is None:
        print("The pictures need Chromium: run `python tests/chromium.py` first.", file=sys.stderr)
        return 1
    PICTURES.mkdir(exist_ok=True)
    root = getattr(os, "geteuid", lambda: -1)() == 0
    arguments = [*ARGUMENTS, *(["--no-sandbox"] if root else [])]
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=arguments)
        try:
            scenes(browser, Path(folder), write)
        finally:
            browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
