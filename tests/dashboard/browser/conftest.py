"""Debian's Chromium, and the demo's page served from a thread of the tests."""

from __future__ import annotations

import os
import shutil
import socket
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, ClassVar

import pytest
from playwright.sync_api import Browser, BrowserContext, BrowserType, Page, expect

from acceptance.plan.recipe import parse_recipe
from calibration.files.store import load_calibration, load_kit
from dashboard.bench.composed_bench import Bench
from dashboard.bench.snapshot import Snapshot
from dashboard.demo.demo_bench import demo_bench
from dashboard.demo.scenario import PLAN, RECIPE
from dashboard.errors import SetupError
from dashboard.page.plan_form import read_plan
from dashboard.server.page_server import ADDRESS, listen
from tests.chromium import find
from tests.counts import PATIENCE_S
from tests.dashboard.conftest import UnitClock, Unplugged, calibrate, serving, until

ARGUMENTS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # A stranger's own name that leads to this machine: DNS rebinding.
    "--host-resolver-rules=MAP evil.example 127.0.0.1",
)
PATIENCE_MS = 1000 * PATIENCE_S
expect.set_options(timeout=PATIENCE_MS)
LOOK = Path(__file__).with_name("look.js")
LAPTOP, PHONE = (1366, 768), (390, 844)


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """Chromium from the path; as root without its sandbox, which root cannot have."""
    chromium = find()
    if chromium is None:
        pytest.fail(
            "The browser tests need Chromium: put it on the path, name it in BANDWRIGHT_CHROMIUM, "
            "or leave these tests out with `make test BROWSER=no`.",
            pytrace=False,
        )
    root = getattr(os, "geteuid", lambda: -1)() == 0
    arguments = [*ARGUMENTS, *(["--no-sandbox"] if root else [])]
    return {**browser_type_launch_args, "executable_path": chromium, "args": arguments}


@pytest.fixture(scope="session")
def browser_profile(
    browser_type: BrowserType, browser_type_launch_args: dict[str, Any]
) -> Iterator[BrowserContext]:
    """The worker's one browser, with a profile: it keeps what it fetched and compiled.

    Opening the page costs it half of what it costs a browser that never saw it.
    """
    with TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        kept = browser_type.launch_persistent_context(folder, **browser_type_launch_args)
        yield kept
        kept.close()


@pytest.fixture(scope="session")
def browser(browser_profile: BrowserContext) -> Browser:
    """The same browser, for who wants contexts of their own."""
    assert browser_profile.browser is not None
    return browser_profile.browser


@pytest.fixture
def context(
    request: pytest.FixtureRequest,
    browser_profile: BrowserContext,
    browser_context_args: dict[str, Any],
) -> Iterator[BrowserContext]:
    """The profile, with no page open and nothing stored but files that are fetched.

    Where the test has options of its own, or its traces are wanted, a new context.
    """
    artifacts = ("--tracing", "--screenshot", "--video")
    if browser_context_args or any(request.config.getoption(each) != "off" for each in artifacts):
        yield request.getfixturevalue("new_context")()
        return
    yield browser_profile
    blank, *pages = browser_profile.pages
    for each in pages:
        each.close()
    browser_profile.clear_cookies()
    devtools = browser_profile.new_cdp_session(blank)
    stored = {"origin": "*", "storageTypes": "local_storage,indexeddb"}
    devtools.send("Storage.clearDataForOrigin", stored)
    devtools.detach()


class Site:
    """The demo's page, that can go away and come back at the same address."""

    PORT: ClassVar[int] = 0
    """Where the last one was: the browser finds what it kept by the address."""

    def __init__(
        self,
        folder: Path,
        make: Callable[..., Bench] | None = None,
        calibration: Path | None = None,
    ) -> None:
        """make : another bench than the demo's, from its folders and its clock.

        calibration : the file that the bench begins with; the antenna is on its port then.
        """
        self.folder = folder
        self._calibration = calibration
        self._make = make or partial(demo_bench, read_plan(PLAN))
        self._listening: socket.socket = self._listen_again()
        self.port: int = self._listening.getsockname()[1]
        Site.PORT = self.port
        self.url = f"http://{ADDRESS}:{self.port}/"
        self.start()

    def _listen_again(self) -> socket.socket:
        try:
            return listen(self.PORT)
        except SetupError:  # somebody has taken it since: what was kept is fetched again
            return listen(0)

    def start(self) -> None:
        """Serve a new bench."""
        if self._listening.fileno() == -1:
            self._listening = listen(self.port)
        self.bench: Bench = self._make(
            calibration=self._calibration,
            records_folder=self.folder / "records",
            calibrations_folder=self.folder / "calibrations",
            clock=UnitClock(6),
        )
        self.bench.start()
        self._running = ExitStack()
        self._running.callback(self.bench.close)
        self._running.enter_context(serving(self.bench, self._listening))
        if self._calibration and self.bench.virtual_bench is not None:
            self.bench.hands.screw_on("antenna")

    def stop(self) -> None:
        """End it, as Ctrl-C would; twice does no harm."""
        self._running.close()


@pytest.fixture
def site(tmp_path: Path, calibration: Path | None) -> Iterator[Site]:
    """The page, served."""
    made = Site(tmp_path, calibration=calibration)
    yield made
    made.stop()


@pytest.fixture(params=[LAPTOP, PHONE], ids=["laptop", "phone"])
def width(request: pytest.FixtureRequest, page: Page) -> None:
    """A laptop's window, and a phone's."""
    across, down = request.param
    page.set_viewport_size({"width": across, "height": down})


class Workshop:
    """A page over a unit that it takes for a real one: what is on its port nobody tells it."""

    def __init__(self, folder: Path, speed: float = 10, calibration: Path | None = None) -> None:
        self.speed = speed
        self.site = Site(folder, self._bench, calibration)

    def _bench(
        self,
        *,
        calibration: Path | None,
        records_folder: Path,
        calibrations_folder: Path,
        clock: UnitClock,
    ) -> Bench:
        self.analyzer = Unplugged(clock, self.speed)
        return Bench(
            self.analyzer.open,
            address="/dev/test",
            kit=load_kit("3.5mm-plug-50"),
            plan=read_plan(PLAN),
            recipe=parse_recipe(RECIPE, "test"),
            calibration=None if calibration is None else load_calibration(calibration),
            calibration_path=calibration,
            calibrations_folder=calibrations_folder,
            records_folder=records_folder,
            clock=clock,
        )

    def rest(self) -> None:
        """Wait until what is on the port has come to rest, and three sweeps have come since."""
        bench, virtual = self.site.bench, self.analyzer.virtual
        still = until(bench, lambda _: virtual.state().steady)
        until(bench, lambda now: now.sequence > still.sequence + 3)

    def calibrate(self) -> None:
        """Do the whole calibration, and screw the antenna on."""
        bench = self.site.bench
        until(bench, lambda now: now.sequence > 0)
        bench.calibration.begin()
        for name in ("open", "short", "load"):
            self.analyzer.virtual.screw_on(name)
            bench.calibration.standard_is_on()
            until(bench, partial(_taken, name))
        self.analyzer.virtual.screw_on("load")
        bench.calibration.standard_is_on()
        until(bench, partial(_taken, "load, once more"))
        self.analyzer.virtual.screw_on("antenna")
        self.rest()
        self.advised()

    def advised(self) -> None:
        """Wait until there is advice for the antenna."""
        bench = self.site.bench
        until(bench, lambda now: now.tuning is not None and now.tuning.advice is not None)


def _taken(name: str, now: Snapshot) -> bool:
    session = now.calibration.session
    return session is None or name in session.taken


@pytest.fixture(scope="session")
def kept_calibration_of_unit(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A calibration of the workshop's unit, made once; to be read only."""
    folder = tmp_path_factory.mktemp("workshop")
    # the unit's time runs ahead of the wall's: what was made must lie before what is done with it
    clock = UnitClock(1000, datetime.now(UTC) - timedelta(minutes=5))
    analyzer = Unplugged(clock)
    made = Bench(
        analyzer.open,
        address="/dev/test",
        kit=load_kit("3.5mm-plug-50"),
        plan=read_plan(PLAN),
        calibrations_folder=folder,
        records_folder=folder,
        clock=clock,
        virtual_bench=analyzer.virtual,
    )
    with closing(made):
        made.start()
        calibrate(made)
    (path,) = folder.glob("*.json")
    return path


@pytest.fixture
def calibration_of_unit(request: pytest.FixtureRequest, tmp_path: Path) -> Path | None:
    """The file that the workshop begins with, where the test is marked `calibrated`: a copy."""
    if request.node.get_closest_marker("calibrated") is None:
        return None
    folder = tmp_path / "calibrations"
    folder.mkdir()
    return Path(shutil.copy(request.getfixturevalue("kept_calibration_of_unit"), folder))


@pytest.fixture
def workshop(tmp_path: Path, calibration_of_unit: Path | None) -> Iterator[Workshop]:
    """The page over a unit whose cable can be pulled, served."""
    made = Workshop(tmp_path, calibration=calibration_of_unit)
    yield made
    made.site.stop()


@pytest.fixture
def slow(tmp_path: Path, calibration_of_unit: Path | None) -> Iterator[Workshop]:
    """The same over a unit as slow as units are; the clock runs three times faster than life."""
    made = Workshop(tmp_path, 1, calibration_of_unit)
    yield made
    made.site.stop()


def refused_by_policy(text: str) -> bool:
    """True for what the browser says of something that the page's own policy forbids it."""
    return "Content Security Policy" in text or "Permissions-Policy" in text


@pytest.fixture
def opened(page: Page, site: Site) -> Iterator[Page]:
    """The demo's page, open and live."""
    yield from watched_page(page, site)


@pytest.fixture
def opened_workshop(page: Page, workshop: Workshop) -> Iterator[Page]:
    """The workshop's page, open and live."""
    yield from watched_page(page, workshop.site)


def watched_page(page: Page, site: Site) -> Iterator[Page]:
    """Open a page; whatever it fetches or complains of is looked at in the end."""
    strangers: list[str] = []
    complaints: list[str] = []

    def fetched(url: str) -> None:
        if not url.startswith((site.url, site.url.replace("http", "ws"), "data:", "blob:")):
            strangers.append(url)

    page.set_default_timeout(PATIENCE_MS)
    page.add_init_script(path=LOOK)
    page.on("request", lambda request: fetched(request.url))
    page.on("websocket", lambda opened: fetched(opened.url))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console",
        lambda message: (
            complaints.append(message.text) if refused_by_policy(message.text) else None
        ),
    )
    page.goto(site.url)
    page.wait_for_selector('#page[data-feed="live"]')
    yield page
    assert strangers == []
    assert complaints == []
