"""The analyzer's port is chosen while the bench runs, and none is opened unasked."""

from __future__ import annotations

import contextlib
import errno
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from acquire.clock import Clock, SystemClock
from acquire.errors import NoReplyError, PortError
from acquire.port.port_list import PortInfo
from dashboard.bench.composed_bench import Bench
from dashboard.bench.make_bench import live_bench
from dashboard.bench.snapshot import Snapshot
from dashboard.demo.demo_bench import practice
from dashboard.demo.scenario import PLAN
from dashboard.errors import NotNowError
from dashboard.feed.frame import header
from dashboard.feed.sentence import sentence
from dashboard.files import user_folders
from dashboard.page.actions.table import perform
from dashboard.page.plan_form import read_plan
from replay.virtual_analyzer.hosting import on_pty
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.dashboard.conftest import UnitClock, until
from tests.wording import missing_words

needs_ptys = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")
PRACTICE = practice().address


@dataclass
class Plugged:
    """A bench of no port, and what is plugged in beside it."""

    bench: Bench
    ports: list[PortInfo] = field(default_factory=list)


@pytest.fixture
def clock(request: pytest.FixtureRequest) -> Clock:
    """The system's own where a real port's deadlines are met; else one that waits for no one."""
    return SystemClock() if request.node.get_closest_marker("slow") else UnitClock(6)


@pytest.fixture
def plugged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, clock: Clock) -> Iterator[Plugged]:
    """A running bench without an analyzer; nothing is plugged in yet."""
    monkeypatch.setattr(user_folders, "practice", lambda: tmp_path / "practice")
    ports: list[PortInfo] = []
    made = live_bench(
        None,
        plan=read_plan(PLAN),
        records_folder=tmp_path / "records",
        calibrations_folder=tmp_path / "calibrations",
        check_pieces_folder=tmp_path / "pieces",
        clock=clock,
        practice=practice(),
        listing=lambda: list(ports),
    )
    made.start()
    with contextlib.closing(made):
        yield Plugged(made, ports)


def measures_at(address: str, now: Snapshot) -> bool:
    """True once sweeps come in from there."""
    return now.port.address == address and now.fresh and now.sweep is not None


def test_a_bench_without_a_port_lists_those_there_are_and_opens_none(plugged: Plugged) -> None:
    bench = plugged.bench
    now = bench.snapshot()
    assert now.port.phase == "unchosen"
    assert not missing_words(sentence(now).text, "Choose the port")
    head = header(now, 0.0)
    assert (head["port"]["choosable"], head["guide"]["now"]) == (True, "port")
    assert [each.practice for each in bench.port.listed()] == [True]
    plugged.ports += [
        PortInfo("/dev/ttyS0", "", "", ""),
        PortInfo("/dev/ttyUSB0", "a bridge", "1234:5678", "A1"),
    ]
    listed = bench.port.listed()
    assert [each.address for each in listed] == ["/dev/ttyUSB0", "/dev/ttyS0", PRACTICE]
    assert (listed[0].usb_id, listed[0].serial_number, listed[0].answer) == ("1234:5678", "A1", "")
    assert bench.snapshot().port.phase == "unchosen"


@pytest.mark.parametrize("address", ["/etc/passwd", "replay:/etc/passwd", "socket://host:1"])
def test_what_is_not_listed_is_neither_asked_nor_opened(plugged: Plugged, address: str) -> None:
    for asked in ("identify port", "use port"):
        refused = perform(plugged.bench, {"do": asked, "address": address})
        assert refused.kind == "refused"
        assert "not in the list" in refused.words
    assert plugged.bench.snapshot().port.phase == "unchosen"


@pytest.mark.parametrize("role", ["viewer", "lent", "out"])
@pytest.mark.parametrize("asked", ["identify port", "use port"])
def test_the_port_is_the_benchs_own_affair(plugged: Plugged, role: str, asked: str) -> None:
    refused = perform(plugged.bench, {"do": asked, "address": PRACTICE}, role=lambda: role)
    assert refused.kind == "refused"
    assert "at the bench alone" in refused.words
    assert plugged.bench.snapshot().port.phase == "unchosen"


def test_practice_brings_its_own_standards_and_folders_and_takes_them_away_again(
    plugged: Plugged, tmp_path: Path
) -> None:
    bench = plugged.bench
    plugged.ports.append(PortInfo("/dev/nothing-here", "", "", ""))
    assert perform(bench, {"do": "use port", "address": PRACTICE}).kind == "done"
    now = until(bench, lambda now: measures_at(PRACTICE, now))
    assert now.bench is not None
    assert now.calibration.kit
    assert now.assumptions.load_db is not None
    assert bench.records_folder == tmp_path / "practice" / "records"
    assert header(now, 0.0)["guide"]["now"] == "calibrate"

    # A change is asked about first, and refused while a calibration runs.
    refused = perform(bench, {"do": "use port", "address": "/dev/nothing-here"})
    assert not missing_words(refused.words, "is measuring", "Confirm")
    bench.calibration.begin()
    refused = perform(bench, {"do": "use port", "address": "/dev/nothing-here", "sure": True})
    assert "while a calibration runs" in refused.words
    bench.calibration.leave()

    done = perform(bench, {"do": "use port", "address": "/dev/nothing-here", "sure": True})
    assert done.kind == "done"
    now = until(bench, lambda now: now.port.phase == "lost")
    assert (now.sweep, now.bench, now.calibration.kit) == (None, None, "")
    assert now.assumptions.load_db is None, "an invented load's figure counts for no real one"
    assert bench.records_folder == tmp_path / "records"
    said = sentence(now)
    assert not missing_words(said.text, "no port /dev/nothing-here")
    assert not missing_words(said.aside, "Plug the analyzer in", "another port from the list")
    assert "`" not in said.text + said.aside
    assert header(now, 0.0)["guide"]["now"] == "port"


@pytest.mark.parametrize(
    ("fault", "text", "aside"),
    [
        (errno.EBUSY, "in use by another program", "Close that program"),
        (errno.EACCES, "no permission to open", "dialout"),
    ],
)
def test_a_port_that_cannot_be_opened_is_told_with_what_to_do(
    plugged: Plugged, monkeypatch: pytest.MonkeyPatch, fault: int, text: str, aside: str
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(fault, "refused")

    monkeypatch.setattr("serial.serial_for_url", refuse)
    plugged.ports.append(PortInfo("/dev/ttyUSB0", "", "", ""))
    plugged.bench.port.use("/dev/ttyUSB0")
    now = until(plugged.bench, lambda now: now.port.phase == "lost")
    assert text in sentence(now).text
    assert aside in sentence(now).aside
    with pytest.raises((PortError, NotNowError)):
        plugged.bench.port.ask("/dev/ttyUSB0")


@needs_ptys
@pytest.mark.slow
def test_an_analyzer_is_asked_chosen_left_and_found_again(
    plugged: Plugged, clock: Clock, tmp_path: Path
) -> None:
    bench = plugged.bench
    virtual = VirtualBench(clock, on_port="antenna", kit="3.5mm-plug-50")
    analyzer = VirtualAnalyzer(virtual, "registers", speed=10, powered_s=clock.monotonic())
    with on_pty(analyzer, clock) as address:
        plugged.ports.append(PortInfo(address, "", "", ""))
        words = bench.port.ask(address)
        assert not missing_words(words, "says that it is", "0.05 to 4400 MHz", "not yet proven")
        (listed, _) = bench.port.listed()
        assert (listed.answered, listed.answer, listed.asking) == (True, words, False)
        assert bench.snapshot().port.phase == "unchosen", "asking chooses nothing"

        bench.port.use(address)
        here = until(bench, lambda now: measures_at(address, now))
        assert here.bench is None
        assert here.sweep is not None
        assert here.sweep.source.kind == "port"
        assert "measuring here already" in bench.port.ask(address)
        bench.port.use(PRACTICE, sure=True)
        there = until(bench, lambda now: measures_at(PRACTICE, now))
        assert there.sweep is not None
        assert there.sweep.source.kind == "virtual", "no sweep of the port before is shown"
        assert there.sequence > here.sequence
        bench.port.use(address, sure=True)
        again = until(bench, lambda now: measures_at(address, now))
        assert again.sweep is not None
        assert again.sweep.source.kind == "port"
        assert bench.records_folder == tmp_path / "records"
        assert again.port.trouble == "", "what was left was not lost"


@needs_ptys
@pytest.mark.slow
def test_a_port_where_nobody_answers_is_told_and_the_list_says_so(
    plugged: Plugged, clock: Clock
) -> None:
    class Silent:
        def feed(self, data: bytes, now_s: float) -> None:
            pass

        def take(self, now_s: float) -> bytes:
            return b""

        def due_s(self) -> float | None:
            return None

    with on_pty(Silent(), clock) as address:
        plugged.ports.append(PortInfo(address, "", "", ""))
        with pytest.raises(NoReplyError, match="No analyzer answered at"):
            plugged.bench.port.ask(address)
        (listed, _) = plugged.bench.port.listed()
        assert not listed.answered
        assert "No analyzer answered at" in listed.answer


def test_a_bench_whose_port_is_fixed_says_so(bench: Bench) -> None:
    for asked in ("identify port", "use port"):
        refused = perform(bench, {"do": asked, "address": PRACTICE})
        assert refused.kind == "refused"
        assert "bandwright live" in refused.words
