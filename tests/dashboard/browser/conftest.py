"""Debian's Chromium, and the demo's page served from a thread of the tests."""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from dashboard.bench import Bench
from dashboard.benches import demo_bench
from dashboard.planning import read_plan
from dashboard.scenario import PLAN
from dashboard.server import ADDRESS, listen, make_server
from replay.clock import FastClock
from tests.chromium import find

ARGUMENTS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PATIENCE_MS = 20_000


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


class Site:
    """The demo's page, that can go away and come back at the same address."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._listening: socket.socket = listen(0)
        self.port: int = self._listening.getsockname()[1]
        self.url = f"http://{ADDRESS}:{self.port}/"
        self.start()

    def start(self) -> None:
        """Serve a new bench."""
        if self._listening.fileno() == -1:
            self._listening = listen(self.port)
        self.bench: Bench = demo_bench(
            read_plan(PLAN),
            records_folder=self.folder / "records",
            calibrations_folder=self.folder / "calibrations",
            clock=FastClock(3),  # the hand is quicker than life
        )
        ready = threading.Event()
        self._server = make_server(self.bench, ready.set)
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [self._listening]}
        )
        self.bench.start()
        self._thread.start()
        assert ready.wait(20)

    def stop(self) -> None:
        """End it, as Ctrl-C would."""
        self._server.should_exit = True
        self._thread.join(20)
        assert not self._thread.is_alive()
        self.bench.close()
        self._listening.close()


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    """The page, served."""
    made = Site(tmp_path)
    yield made
    if made._thread.is_alive():
        made.stop()


@pytest.fixture
def opened(page: Page, site: Site) -> Iterator[Page]:
    """The page, open and live; whatever it fetches or complains of is looked at in the end."""
    strangers: list[str] = []
    complaints: list[str] = []

    def fetched(url: str) -> None:
        if not url.startswith((site.url, site.url.replace("http", "ws"), "data:", "blob:")):
            strangers.append(url)

    page.set_default_timeout(PATIENCE_MS)
    page.on("request", lambda request: fetched(request.url))
    page.on("websocket", lambda opened: fetched(opened.url))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(site.url)
    page.wait_for_selector('#page[data-feed="live"]')
    yield page
    assert strangers == []
    assert complaints == []
