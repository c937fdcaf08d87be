"""What all tests share: Hypothesis' settings, the workers, and what `make quick` leaves out."""

from __future__ import annotations

import os
import signal
from collections import Counter
from collections.abc import Iterator
from itertools import compress
from pathlib import Path
from typing import TypeVar

import pytest

from acquire.analyzer import stream
from dashboard.bench import engine
from tests.counts import PATIENCE_S, QUICK  # first of all: it loads Hypothesis' settings
from tests.second_try import BROWSER, EXIT_STATUS

T = TypeVar("T")
MARKS = {"browser_profile": "browser", "postgres": "process", "bench": "slow", "cable": "slow"}
"""The mark that a fixture puts on each test that asks for it."""
LEFT_OUT = ("browser", "process", "slow")
"""The marks of what `make quick` leaves out."""
MOST_WORKERS = 8

left_out = pytest.StashKey[Counter[str]]()
browser = pytest.StashKey[list[str]]()


def pytest_configure(config: pytest.Config) -> None:
    config.stash[left_out], config.stash[browser] = Counter(), []
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        # a shell starts what runs behind it deaf to Ctrl-C, and each process of a test would be too
        signal.signal(signal.SIGINT, signal.default_int_handler)


def pytest_xdist_auto_num_workers() -> int:
    """Two workers a processor: half of the time one waits, for a browser or a unit's clock."""
    return min(2 * (os.cpu_count() or 1), MOST_WORKERS)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark by fixture; then leave out what `make quick` has no time for, and count it."""
    kept, gone = [], []
    for item in items:
        for fixture in MARKS.keys() & set(getattr(item, "fixturenames", ())):
            item.add_marker(MARKS[fixture])
        if item.get_closest_marker("browser"):
            config.stash[browser].append(item.nodeid)
        why = next((mark for mark in LEFT_OUT if item.get_closest_marker(mark)), None)
        if QUICK and why:
            config.stash[left_out][why] += 1
            gone.append(item)
        else:
            kept.append(item)
    if gone:
        items[:] = kept
        config.hook.pytest_deselected(items=gone)


@pytest.hookimpl(trylast=True, specname="pytest_collection_modifyitems")
def long_ones_first(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Put what takes long first in each worker's share, so that none is left to the last.

    A share is so many tests in a row, and who has finished takes from the end of another's.
    """
    workers = getattr(config, "workerinput", {}).get("workercount", 1)
    if workers > 1:
        takes_long = [any(map(item.get_closest_marker, LEFT_OUT)) for item in items]
        items[:] = shares(items, takes_long, workers)


def shares(items: list[T], takes_long: list[bool], workers: int) -> list[T]:
    """The shares of so many workers, one after the other, each with as many long ones."""
    long = list(compress(items, takes_long))
    short = [item for item, is_long in zip(items, takes_long, strict=True) if not is_long]
    dealt: list[T] = []
    for worker in range(workers):
        own = long[worker::workers]
        room = (len(items) - len(dealt)) // (workers - worker) - len(own)
        dealt += own + short[: max(room, 0)]
        del short[: max(room, 0)]
    return dealt + short


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """Tell the process that speaks what was left out, and keep how it ended for `.ci/run`."""
    config = session.config
    if (output := getattr(config, "workeroutput", None)) is not None:
        output["left_out"] = dict(config.stash[left_out])
        output["browser"] = config.stash[browser]
    elif (cache := getattr(config, "cache", None)) is not None:
        cache.set(EXIT_STATUS, int(exitstatus))
        cache.set(BROWSER, config.stash[browser])


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: object, error: object) -> None:
    """Take what a worker found: all of them collect the same."""
    told = getattr(node, "workeroutput", {})
    stash = node.config.stash  # type: ignore[attr-defined]
    stash[left_out] |= Counter(told.get("left_out", {}))
    stash[browser] = told.get("browser", []) or stash[browser]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say what `make quick` left out."""
    if found := terminalreporter.config.stash[left_out]:
        words = ", ".join(f"{found[mark]} {mark}" for mark in LEFT_OUT if found[mark])
        terminalreporter.write_line(f"Left out by `make quick`: {words}. `make test` runs all.")


@pytest.fixture(autouse=True, scope="session")
def patience() -> Iterator[None]:
    """What the program waits by the wall's clock may take longer on a machine that others load.

    A thread that ends late, or a sweep that comes late, is no finding of any test.
    """
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(stream, "STOP_WITHIN_S", PATIENCE_S)
        patched.setattr(engine, "LEAST_PATIENCE_S", PATIENCE_S)
        yield


@pytest.fixture
def gauge_records(written_gauges: Path) -> Iterator[Path]:
    """The folder with the records of the whole batch of invented gauges; to be read only.

    A command that reads them puts their catalogue beside them: the next test finds none.
    """
    yield written_gauges
    for each in written_gauges.glob("catalogue.sqlite*"):
        each.unlink()


@pytest.fixture(scope="session")
def written_gauges(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The same, written once."""
    from acceptance.record.record_folder import write_record
    from dashboard.demo import example_batch

    folder = tmp_path_factory.mktemp("gauges")
    for each in example_batch.records():
        write_record(each, folder)
    return folder
