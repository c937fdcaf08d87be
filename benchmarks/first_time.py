"""How far it is from an empty page to the first verdict: presses counted, and time, in a browser.

    python -m benchmarks.first_time [--markdown]

Twice, each with folders that are empty: the demo, and `bandwright live` without an option over a
port that behaves as a real one (a virtual analyzer at a pseudo-terminal; POSIX only). The page
counts what is pressed, clicks and keys alike; a choice from a list counts twice, to open and to
choose. Putting standards and the antenna on is the hands' work and is not counted. What is typed
is counted by itself: it may be names alone. The way goes on to the antenna's record, to compare.

The analyzers sweep ten times faster than analyzers do, and nobody reads or hesitates: the seconds
are those that a person cannot save.
"""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from playwright.sync_api import Browser, Page, expect, sync_playwright

from acceptance.bands.load import load_bands
from acceptance.plan.plan_file import parse_plan
from acquire.clock import SystemClock
from acquire.port.port_list import PortInfo
from benchmarks.__main__ import method, show
from dashboard.bench.composed_bench import Bench
from dashboard.bench.make_bench import live_bench
from dashboard.bench.snapshot import Snapshot
from dashboard.demo import scenario
from dashboard.demo.demo_bench import demo_bench, practice
from dashboard.server.page_server import ADDRESS, listen, make_server
from replay.virtual_analyzer.hosting import on_pty
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.chromium import find

ARGUMENTS = ["--disable-gpu", "--no-first-run", "--disable-background-networking"]
PATIENCE_MS = 120_000.0
STANDARDS = ("open", "short", "load", "load")
"""The load twice: nothing before speaks for it."""
MOST = {"the demo": 7, "a real port": 10}
"""Presses to the first verdict that are aimed at."""
COUNT = """
window.presses = 0;
window.typed = "";
addEventListener("pointerdown", ({ isTrusted, target }) => {
  if (isTrusted && !target.closest?.("#demo")) window.presses += 1;
}, true);
addEventListener("change", ({ target }) => {
  if (target instanceof HTMLSelectElement) window.presses += 2;
}, true);
addEventListener("keydown", ({ isTrusted, key, target }) => {
  if (!isTrusted) return;
  const types = target.matches?.("input:not([type=radio], [type=checkbox]), textarea");
  if (types && key.length === 1) window.typed += key;
  else window.presses += 1;
}, true);
"""


@dataclass(frozen=True, slots=True)
class Way:
    """What it took to get somewhere."""

    presses: int
    typed: str
    seconds: float


class Newcomer:
    """Somebody who has never seen the page: does what stands out, and puts on what is asked for."""

    def __init__(self, page: Page, bench: Bench, put_on: Callable[[str], object]) -> None:
        self.page = page
        self._bench = bench
        self._put_on = put_on
        self._begun = time.perf_counter()

    def next(self) -> None:
        """Press the one loud button, once it can be pressed."""
        button = self.page.locator("#next-step")
        expect(button).to_be_enabled()
        button.click()

    def choose_bands(self) -> None:
        """Take a region's bands."""
        expect(self.page.locator("#plan")).to_be_visible()
        region = self.page.locator("#plan-region")
        expect(region.locator("option", has_text="Europe")).to_have_count(1)
        region.select_option(label=region.locator("option", has_text="Europe").inner_text())
        use = self.page.locator("#use-plan")
        expect(use).to_be_enabled()
        use.click()

    def choose_kit(self) -> None:
        """Say which standards these are."""
        self.page.locator("#kit").get_by_text("3.5 mm plugs").click()
        expect(self.page.locator("#start-calibration")).to_be_enabled()

    def calibrate(self) -> None:
        """Start, and do what is asked; ends with the antenna on."""
        self.next()
        for number, standard in enumerate(STANDARDS):
            self._bench.wait_for(partial(_asked_for, number), PATIENCE_MS / 1000)
            self._put_on(standard)
            self.next()
        expect(self.page.locator("#page")).to_have_attribute("data-view", "bench")
        self._put_on("antenna")

    def verdict(self) -> Way:
        """Wait until every band carries a mark."""
        self._bench.wait_for(lambda now: now.verdict is not None, PATIENCE_MS / 1000)
        expect(self.page.locator("#guide")).to_be_hidden()
        return self._way()

    def record(self, put_back: bool) -> Way:
        """Write the record of this antenna; it passes or not."""
        self.next()
        self.page.locator("#antenna-label").click()
        self.page.keyboard.type("first")
        self.next()
        if put_back:
            done = self.page.locator("#accepted [data-kind]")
            expect(done).to_have_attribute("data-kind", "kept")
            expect(self.page.locator("#accept")).to_contain_text("It is on")
            self._put_on("short")
            self.next()
        expect(self.page.locator('#accepted [data-kind="done"]')).to_be_visible()
        return self._way()

    def _way(self) -> Way:
        seconds = time.perf_counter() - self._begun
        presses, typed = self.page.evaluate("[window.presses, window.typed]")
        return Way(presses, typed, seconds)


def _asked_for(number: int, now: Snapshot) -> bool:
    session = now.calibration.session
    return session is not None and session.phase == "screw on" and len(session.taken) == number


@contextmanager
def served(bench: Bench) -> Iterator[str]:
    """Serve a bench's page, and give its address."""
    listening = listen(0)
    ready = threading.Event()
    server = make_server(bench, ready.set)
    thread = threading.Thread(target=lambda: server.run(sockets=[listening]))
    bench.start()
    thread.start()
    try:
        ready.wait()
        yield f"http://{ADDRESS}:{listening.getsockname()[1]}/"
    finally:
        server.should_exit = True
        thread.join()
        bench.close()


def met(browser: Browser, url: str) -> Page:
    """Open the page as a newcomer does, counting."""
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    page.set_default_timeout(PATIENCE_MS)
    page.add_init_script(COUNT)
    page.goto(url)
    return page


def of_the_demo(browser: Browser, folder: Path) -> tuple[Way, Way]:
    """`bandwright demo`: to the verdict, and to the record."""
    plan = parse_plan(scenario.PLAN, scenario.PLAN_NAME, load_bands())
    bench = demo_bench(
        plan, records_folder=folder / "records", calibrations_folder=folder / "calibrations"
    )
    with served(bench) as url:
        page = met(browser, url)
        hand = page.locator("#on-port")

        def put_on(name: str) -> None:
            hand.get_by_role("button", name=name, exact=True).click()

        newcomer = Newcomer(page, bench, put_on)
        newcomer.next()
        newcomer.calibrate()
        return newcomer.verdict(), newcomer.record(put_back=False)


def of_a_port(browser: Browser, folder: Path) -> tuple[Way, Way]:
    """`bandwright live`: to the verdict, and to the record."""
    clock = SystemClock()
    virtual = VirtualBench(clock, kit="3.5mm-plug-50")
    analyzer = VirtualAnalyzer(virtual, "registers", speed=10, powered_s=clock.monotonic())
    with on_pty(analyzer, clock) as address:
        ports = [
            PortInfo("/dev/ttyS0", "", "", ""),
            PortInfo(address, "USB serial", "1234:5678", "1"),
        ]
        bench = live_bench(
            None,
            records_folder=folder / "records",
            calibrations_folder=folder / "calibrations",
            check_pieces_folder=folder / "pieces",
            practice=practice(),
            listing=lambda: ports,
        )
        with served(bench) as url:
            page = met(browser, url)
            newcomer = Newcomer(page, bench, virtual.screw_on)
            newcomer.next()
            newcomer.choose_bands()
            newcomer.choose_kit()
            newcomer.calibrate()
            return newcomer.verdict(), newcomer.record(put_back=True)


HEADS = ("first time, from the empty page", "presses", "goal", "met", "typed", "seconds")


def main() -> None:
    """Print the table."""
    root = getattr(os, "geteuid", lambda: -1)() == 0
    arguments = [*ARGUMENTS, *(["--no-sandbox"] if root else [])]
    expect.set_options(timeout=PATIENCE_MS)
    lines = []
    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as folder:
        browser = playwright.chromium.launch(executable_path=find(), args=arguments)
        for name, walk in (("the demo", of_the_demo), ("a real port", of_a_port)):
            verdict, record = walk(browser, Path(folder) / name)
            goal = MOST[name]
            met_it = "yes" if verdict.presses <= goal and not verdict.typed else "no"
            for way, where, aim, reached in (
                (verdict, "the verdict", f"at most {goal}", met_it),
                (record, "its record", "", ""),
            ):
                lines.append(
                    (
                        f"{name}, to {where}",
                        str(way.presses),
                        aim,
                        reached,
                        f'"{way.typed}"' if way.typed else "nothing",
                        f"{way.seconds:.0f}",
                    )
                )
        browser.close()
    machine = method().partition(" Medians")[0]
    show(f"{machine} One walk each.", HEADS, lines, markdown="--markdown" in sys.argv)


if __name__ == "__main__":
    with contextlib.suppress(KeyboardInterrupt):
        main()
