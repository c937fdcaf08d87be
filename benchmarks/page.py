"""The page against the usual way to keep a page up to date, in one run, drawn in a real browser.

    python -m benchmarks.page [seconds] [minutes]

minutes : how long one more run of ours is, to see whether it drifts; without it there is none.

The usual way: an interval timer in the page asks ten times a second, and whole figures come back.
Both draw six strips and an overview of the same sweeps, ten (or thirty) a second. Sweep to drawn is
counted from the moment the sweep was finished to the moment its drawing was reported; the server's
CPU is this process's own, the browser's is not in it.
"""

from __future__ import annotations

import contextlib
import os
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import Browser, Page, sync_playwright
from rich.console import Console
from rich.table import Table

from acceptance.bands.load import load_bands
from acceptance.plan.plan_file import parse_plan
from acceptance.version import software
from acquire.analyzer.connected_analyzer import Counters
from acquire.analyzer.profile import load_profiles
from acquire.sweep import Plane, Source, Sweep, SweepRequest
from benchmarks.crowd import crowd
from calibration.capture.standard_capture import StandardReading
from calibration.files.store import load_kit
from calibration.one_port_calibration import Calibration, calibrate
from dashboard.bench.composed_bench import Bench
from dashboard.feed import viewer_feed
from dashboard.server.page_server import ADDRESS, listen, make_server
from replay.virtual_bench.antenna import GOOD_SETTING
from tests.chromium import find

PLAN = 'name = "six"\n' + "".join(
    f'[[band]]\nname = "band {n}"\nlow_mhz = {700 + 220 * n}.0\nhigh_mhz = {760 + 220 * n}.0\n'
    "return_loss_db = 10\n"
    for n in range(6)
)
LOW_HZ, HIGH_HZ = 0.69e9, 1.95e9
SOURCE = Source("virtual", "a benchmark's unit", "registers-queue", "virtual:benchmark")
ARGUMENTS = ["--disable-gpu", "--no-first-run", "--disable-background-networking"]


@dataclass
class Figures:
    """What one way showed."""

    drawn_ms: list[float]
    cpu_share: float
    frames: float
    """Drawn a second."""
    grown_mb: float = 0.0
    """How much memory the server took meanwhile."""
    reaction_ms: float = 0.0
    """From a key to what it did, drawn; the median of some."""

    @property
    def drift(self) -> float:
        """Median of the last fifth over that of the first."""
        fifth = max(len(self.drawn_ms) // 5, 1)
        return statistics.median(self.drawn_ms[-fifth:]) / statistics.median(self.drawn_ms[:fifth])

    @property
    def median(self) -> float:
        """Sweep to drawn, ms."""
        return statistics.median(self.drawn_ms)

    @property
    def p95(self) -> float:
        """Sweep to drawn, ms."""
        return float(np.quantile(self.drawn_ms, 0.95))


class BenchmarkAnalyzer:
    """Sweeps at a steady pace: an antenna as it is, noise on it."""

    def __init__(self, points: int, hertz: float) -> None:
        self.profile = load_profiles()["registers-queue"]
        self.source, self.identity, self.counters = SOURCE, SOURCE.analyzer, Counters()
        self._grid = np.linspace(LOW_HZ, HIGH_HZ, points)
        self._true = GOOD_SETTING.reflection(self._grid)
        self._every_s, self._next = 1 / hertz, time.monotonic()
        self._rng, self._stopped = np.random.default_rng(1), threading.Event()
        self.newest: tuple[int, float, Any] = (0, 0.0, self._true)

    def sweep(self, passes: Any) -> Sweep:
        """Come back at the next tick with a whole sweep."""
        self._next = max(self._next + self._every_s, time.monotonic())
        self._stopped.wait(max(self._next - time.monotonic(), 0.0))
        real, imaginary = self._rng.standard_normal((2, self._grid.size)) * 1e-3
        values = self._true + real + 1j * imaginary
        now = time.time()
        self.newest = (self.newest[0] + 1, now, values)
        when = datetime.fromtimestamp(now, UTC)
        return Sweep(self._grid, values, Plane.RAW, when, 1, SOURCE, tuple(passes))

    def interrupt(self) -> None:
        """End a sweep at once."""
        self._stopped.set()

    def close(self) -> None:
        """Nothing to let go of."""


def calibration(points: int) -> Calibration:
    """A perfect unit's: what is raw is corrected."""
    f = np.linspace(LOW_HZ, HIGH_HZ, points)
    kit = load_kit("ideal")
    readings = [
        StandardReading(name, f, standard.reflection(f), 8, np.full(points, 1e-3))
        for name, standard in kit.standards.items()
    ]
    return calibrate(
        kit,
        readings,
        source=SOURCE,
        request=(SweepRequest(LOW_HZ, HIGH_HZ, points),),
        spans=((LOW_HZ, HIGH_HZ),),
        taken_at=datetime.now(UTC),
        software=software(),
    )


@contextmanager
def serve(application: Any) -> Iterator[str]:
    """Serve an ASGI application; its address."""
    import uvicorn

    listening = listen(0)
    config = uvicorn.Config(application, lifespan="off", log_level="error", access_log=False)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    try:
        yield f"http://{ADDRESS}:{listening.getsockname()[1]}/"
    finally:
        server.should_exit = True
        thread.join(20)
        listening.close()


def watched(page: Page, drawn: list[tuple[float, float]], seconds: float) -> Figures:
    """Let it run, and count what was drawn meanwhile."""
    page.wait_for_timeout(2000)
    drawn.clear()
    cpu, begun, memory = server_s(), time.monotonic(), memory_mb()
    page.wait_for_timeout(1000 * seconds)
    took = time.monotonic() - begun
    share = (server_s() - cpu) / took
    ages = [1000 * (at - finished) for finished, at in drawn]
    return Figures(ages or [float("nan")], share, len(ages) / took, memory_mb() - memory)


REACTIONS = 5
REACTION = """
() => new Promise(done => {
  const begun = performance.now();
  const held = document.getElementById('holds');
  new MutationObserver((_, me) => { me.disconnect(); done(performance.now() - begun); })
    .observe(held, { childList: true, subtree: true });
  document.dispatchEvent(new KeyboardEvent('keydown', { key: 'h', bubbles: true }));
})
"""


def server_s() -> float:
    """CPU time of all threads but this one, seconds: this one drives the browser, which hears of
    every message by itself, and is no part of any server."""
    return time.process_time() - time.thread_time()


def memory_mb() -> float:
    """This process's, resident."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGESIZE") / 2**20


def ours(browser: Browser, points: int, hertz: float, seconds: float, viewers: int = 0) -> Figures:
    """Our own page and feed; viewers : so many more beside the one that is measured."""
    unit = BenchmarkAnalyzer(points, hertz)
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(
            lambda: unit,  # type: ignore[arg-type,return-value]
            address="benchmark",
            kit=load_kit("ideal"),
            plan=parse_plan(PLAN, "plan", load_bands()),
            calibration=calibration(points),
            calibrations_folder=Path(folder),
            records_folder=Path(folder),
        )
        sent: dict[int, float] = {}
        measured: list[Any] = []
        drawn: list[tuple[float, float]] = []
        message, acknowledged = viewer_feed.Encoder.message, viewer_feed.acknowledged

        def noted(self: Any, now: Any, clock_s: float, role: str = "bench") -> bytes:
            made = message(self, now, clock_s, role)
            measured[:] = measured or [
                self
            ]  # the first one is the page's; the others are the crowd's
            if now.sweep is not None and self is measured[0]:
                sent[self.messages] = now.sweep.taken_at.timestamp()
            return made

        def heard(text: str) -> int | None:
            number = acknowledged(text)
            if number in sent and "crowd" not in text:
                drawn.append((sent.pop(number), time.time()))
            return number

        viewer_feed.Encoder.message, viewer_feed.acknowledged = noted, heard  # type: ignore[method-assign]
        ready = threading.Event()
        listening = listen(0)
        server = make_server(bench, ready.set)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
        bench.start()
        thread.start()
        ready.wait(20)
        page = browser.new_page(viewport={"width": 1366, "height": 768})
        try:
            url = f"http://{ADDRESS}:{listening.getsockname()[1]}/"
            page.goto(url)
            page.wait_for_selector('#page[data-feed="live"]')
            with crowd(url, viewers) if viewers else contextlib.nullcontext():
                found = watched(page, drawn, seconds)
                found.reaction_ms = statistics.median(
                    float(page.evaluate(REACTION)) for _ in range(REACTIONS)
                )
                return found
        finally:
            page.close()
            server.should_exit = True
            thread.join(20)
            bench.close()
            listening.close()
            viewer_feed.Encoder.message, viewer_feed.acknowledged = message, acknowledged  # type: ignore[method-assign]


REPORT = """
const seen = new WeakSet();
setInterval(() => {
  const graph = document.querySelector('#overview .js-plotly-plot');
  if (!graph || seen.has(graph) || !graph.on) return;
  seen.add(graph);
  graph.on('plotly_afterplot', () => fetch('/drawn?n=' + graph.layout.meta));
}, 50);
"""


def usual(browser: Browser, points: int, hertz: float, seconds: float) -> Figures:
    """An interval timer that asks for whole figures."""
    import plotly.graph_objects as go
    from dash import Dash, Input, Output, dcc, html
    from fastapi import FastAPI
    from starlette.requests import Request
    from starlette.responses import PlainTextResponse

    unit, stop = BenchmarkAnalyzer(points, hertz), threading.Event()
    finished: dict[int, float] = {}
    drawn: list[tuple[float, float]] = []

    def sweeping() -> None:
        while not stop.is_set():
            unit.sweep(())
            finished[unit.newest[0]] = unit.newest[1]

    server = FastAPI()

    async def report(request: Request) -> PlainTextResponse:
        text = request.query_params["n"]
        number = int(text) if text.isdecimal() else 0
        if number in finished:
            drawn.append((finished.pop(number), time.time()))
        return PlainTextResponse("")

    server.add_route("/drawn", report)
    app = Dash("usual", server=server, add_log_handler=False)  # type: ignore[arg-type]
    names = ["overview", *(f"strip{n}" for n in range(6))]
    app.index_string = app.index_string.replace("</body>", f"<script>{REPORT}</script></body>")
    app.layout = html.Div(
        [dcc.Interval(id="tick", interval=100), *(dcc.Graph(id=name) for name in names)]
    )
    mhz = np.linspace(LOW_HZ, HIGH_HZ, points) / 1e6

    @app.callback([Output(name, "figure") for name in names], Input("tick", "n_intervals"))
    def figures(_: int | None) -> list[Any]:
        number, _, values = unit.newest
        loss = -20 * np.log10(np.abs(values))
        made = []
        for n in range(7):
            low, high = (mhz[0], mhz[-1]) if n == 0 else (680 + 220 * (n - 1), 780 + 220 * (n - 1))
            inside = (mhz >= low) & (mhz <= high)
            figure = go.Figure(go.Scatter(x=mhz[inside], y=loss[inside]))
            figure.update_layout(meta=number, height=200)
            figure.add_hline(y=10)
            made.append(figure)
        return made

    thread = threading.Thread(target=sweeping)
    thread.start()
    page = browser.new_page(viewport={"width": 1366, "height": 768})
    try:
        with serve(server) as url:
            page.goto(url)
            page.wait_for_selector("#overview .js-plotly-plot")
            return watched(page, drawn, seconds)
    finally:
        page.close()
        stop.set()
        unit.interrupt()
        thread.join(5)


def main(seconds: float, minutes: float) -> None:
    """Print the table."""
    table = Table(
        "points", "Hz", "way", "drawn: median ms", "95 %", "frames a s", "server CPU",
        title="Sweep finished to drawn, six strips and an overview",
    )  # fmt: skip
    root = getattr(os, "geteuid", lambda: -1)() == 0
    arguments = [*ARGUMENTS, *(["--no-sandbox"] if root else [])]
    ways: dict[str, Callable[..., Figures]] = {"ours": ours, "interval timer": usual}
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=find(), args=arguments)
        for points, hertz in ((401, 10), (1601, 10), (401, 30)):
            found = {name: way(browser, points, hertz, seconds) for name, way in ways.items()}
            for name, each in found.items():
                table.add_row(
                    str(points), str(hertz), name, f"{each.median:.0f}", f"{each.p95:.0f}",
                    f"{each.frames:.1f}", f"{each.cpu_share:.1%}",
                )  # fmt: skip
            one, other = found["ours"], found["interval timer"]
            table.add_row(
                "", "", "ratio", f"{one.median / other.median:.2f}", f"{one.p95 / other.p95:.2f}",
                "", f"{one.cpu_share / other.cpu_share:.2f}", style="bold",
            )  # fmt: skip
        alone, with_ten = (ours(browser, 401, 10, seconds, count) for count in (0, 10))
        for name, each in (("ours, alone", alone), ("ours, ten more looking", with_ten)):
            table.add_row(
                "401", "10", name, f"{each.median:.0f}", f"{each.p95:.0f}", f"{each.frames:.1f}",
                f"{each.cpu_share:.1%}",
            )  # fmt: skip
        lines = [
            f"From key to drawn: {alone.reaction_ms:.0f} ms, with ten more looking (one frozen) "
            f"{with_ten.reaction_ms:.0f} ms; memory meanwhile {with_ten.grown_mb:+.1f} MB."
        ]
        if minutes:
            long = ours(browser, 401, 10, 60 * minutes)
            lines.append(
                f"Over {minutes:g} minutes: last fifth {long.drift:.2f} of the first, memory "
                f"{long.grown_mb:+.1f} MB."
            )
        browser.close()
    Console().print(table)
    for line in lines:
        print(line)


if __name__ == "__main__":
    given = [float(each) for each in sys.argv[1:3]]
    main(given[0] if given else 8.0, given[1] if len(given) > 1 else 0.0)
