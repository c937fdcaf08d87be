"""The same sweeps come to the same outcome in the terminal and on the page, field by field."""

from __future__ import annotations

import json
import queue
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, cast

import numpy as np
import pytest
from rich.console import Console

from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_plan
from acceptance.record.examination import Examined, examine
from acceptance.record.json_difference import first_difference
from acceptance.record.record_folder import load_record
from acquire.analyzer.connected_analyzer import Analyzer, Counters
from acquire.analyzer.profile import load_profiles
from acquire.errors import PortError
from acquire.sweep import Plane, Sweep, SweepRequest
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import ErrorTerms, embed
from calibration.files.plane_file import NOT_MOVED
from calibration.files.store import load_kit, load_plane, read_plane, save_calibration
from calibration.one_port_calibration import Calibration, calibrate
from calibration.plane.reference_plane import DeclaredLine
from calibration.uncertainty.budget import Assumptions
from dashboard.acceptance_run.running_acceptance import PUT_BACK_SWEEPS, AntennaDetails
from dashboard.bench.composed_bench import Bench
from dashboard.bench.snapshot import Snapshot
from dashboard.command_line.analyzer_options import AnalyzerOptions
from dashboard.errors import PutBackWantedError
from replay.clock import AcceleratedClock
from tests.acceptance.made import SOURCE, resonance

REQUEST = SweepRequest(760e6, 900e6, 281)
F = REQUEST.grid_hz()
EACH = 3
"""Sweeps a look, and a condition."""
PLAN = f"""
name = "gauge"
sweeps = {EACH}
touch_test = true
[[band]]
name = "gauge backhaul"
low_mhz = 836.0
high_mhz = 840.0
return_loss_db = 8
"""
CABLE = "delay_ps=4000 loss_db=4 loss_at_mhz=838 joints_db=40"
LOOKS_OHM = (30.0, 28.0, 30.0, 31.0)
"""Of the antenna: hands off, gripped, let go, and as it is accepted."""
TAKEN_AT = datetime(2026, 5, 1, 12, 10, tzinfo=UTC)
"""Of all sweeps: for a minute the page keeps a budget that the terminal makes anew."""
STATED = ("--load-db", "40")
ASSUMED = Assumptions(load_db=40.0)
DOUBTED = 0.3
"""A directivity that a unit can have, and few do: the calibration warns of it."""
TURN = np.exp(-2j * np.pi * F * 2e-9)
SHOWN = 1e-4
"""The page works its budget out anew every hundred sweeps: that moves no digit that is shown."""
TERMS = ErrorTerms(F, DOUBTED * TURN, 0.08 * TURN, 0.8 * TURN)


def doubted() -> Calibration:
    """A calibration that warns of itself."""
    kit, quiet = load_kit("3.5mm-plug-50"), np.full(F.size, 1e-4)
    return calibrate(
        kit,
        [
            StandardReading(name, F, embed(TERMS, standard.reflection(F)), 8, quiet)
            for name, standard in kit.standards.items()
        ],
        source=SOURCE,
        request=(REQUEST,),
        spans=((REQUEST.start_hz, REQUEST.stop_hz),),
        taken_at=datetime(2026, 5, 1, 12, 0, tzinfo=UTC),
        software="bandwright 0.1.0",
    )


def sweeps(plane: str) -> list[Sweep]:
    """Raw sweeps of the looks, in order; behind the cable where the plane is moved."""
    random = np.random.default_rng(1)
    found: list[Sweep] = []
    way = np.ones(F.size, complex)
    if plane:
        between = load_plane(plane).between
        assert isinstance(between, DeclaredLine)
        way = between.two_port(F).reflection_tracking
    for ohm in LOOKS_OHM:
        for _ in range(EACH):
            noise = random.standard_normal((2, F.size)) * 1e-5
            raw = embed(TERMS, way * resonance(838e6, ohm=ohm, f=F)) + noise[0] + 1j * noise[1]
            number = len(found) + 1
            found.append(Sweep(F, raw, Plane.RAW, TAKEN_AT, number, SOURCE, (REQUEST,)))
    short = embed(TERMS, load_kit("3.5mm-plug-50").standards["short"].reflection(F))
    for _ in range(PUT_BACK_SWEEPS):
        noise = random.standard_normal((2, F.size)) * 1e-5
        raw = short + noise[0] + 1j * noise[1]
        found.append(Sweep(F, raw, Plane.RAW, TAKEN_AT, len(found) + 1, SOURCE, (REQUEST,)))
    return found


class ScriptedUnit:
    """A unit that sweeps what was laid ready for it, and waits while nothing is."""

    profile = load_profiles()["prompted-pairs"]
    source, identity, counters = SOURCE, SOURCE.analyzer, Counters()

    def __init__(self, ready: Sequence[Sweep] = ()) -> None:
        self.ready: queue.Queue[Sweep | None] = queue.Queue()
        for each in ready:
            self.ready.put(each)

    def sweep(self, _requests: object) -> Sweep:
        found = self.ready.get()
        if found is None:
            raise PortError("The unit was let go of.")
        return found

    def interrupt(self) -> None:
        self.ready.put(None)

    def close(self) -> None:
        pass


@dataclass(frozen=True)
class Outcome:
    """What one way came to."""

    live: Mapping[str, object]
    """The verdict on the first look, as JSON."""
    examined: Examined
    files: Mapping[str, bytes]
    """Of the record, by their names."""


def on_the_page(folder: Path, plan: Plan, plane: str) -> Outcome:
    """Look, touch and accept as the page does, a sweep at a time."""
    unit, script = ScriptedUnit(), iter(sweeps(plane))
    bench = Bench(
        lambda: cast("Analyzer", unit),
        address="scripted",
        kit=None,
        plan=plan,
        calibration=doubted(),
        calibrations_folder=folder,
        records_folder=folder,
        clock=AcceleratedClock(),
        assumptions=ASSUMED,
        plane=read_plane(plane) if plane else NOT_MOVED,
    )

    def swept(count: int) -> Snapshot:
        for _ in range(count):
            sweep = next(script)
            unit.ready.put(sweep)
            bench.wait_for(lambda now, n=sweep.sequence: now.sequence == n, 20)  # type: ignore[misc]
        return bench.snapshot()

    waited = bench.engine.after

    def after(before: Snapshot) -> Snapshot:
        unit.ready.put(next(script))
        return waited(before)

    bench.engine.after = after  # type: ignore[method-assign]
    bench.start()
    try:
        first = swept(EACH)
        bench.touch_test.begin()
        bench.touch_test.next()
        for _ in ("gripped", "let go"):
            swept(EACH)
            bench.touch_test.next()
        with pytest.raises(
            PutBackWantedError, match=r"Swept and kept. Put the short \(or the open"
        ):
            bench.acceptance.sign_off(AntennaDetails("weir-3"))
        signed = bench.acceptance.sign_off(AntennaDetails("weir-3"))
    finally:
        bench.close()
    assert first.verdict is not None
    return outcome(first.verdict.answer(), signed.path)


def in_the_terminal(
    folder: Path,
    plan: Path,
    plane: str,
    bandwright: Callable[..., Any],
    monkeypatch: pytest.MonkeyPatch,
) -> Outcome:
    """The same by `sweep` and `accept`."""
    unit, conditions = ScriptedUnit(), sweeps(plane)

    @contextmanager
    def connected(_: AnalyzerOptions, _bench: object = None) -> Iterator[Analyzer]:
        yield cast("Analyzer", unit)

    monkeypatch.setattr(AnalyzerOptions, "connected", connected)
    monkeypatch.setattr(Console, "input", lambda *_, **__: "")
    save_calibration(doubted(), folder / "c.json")
    common = (
        *("--port", "virtual:", "--plan", plan, "--calibration", folder / "c.json", *STATED),
        *(("--plane", plane) if plane else ()),
    )
    for each in (*conditions[:EACH], *conditions):
        unit.ready.put(each)
    live = bandwright("sweep", *common, "--sweeps", EACH, "--json")
    bandwright("accept", *common, "--name", "weir-3", "--folder", folder, clock=AcceleratedClock())
    (record,) = (each for each in folder.iterdir() if (each / "record.json").exists())
    return outcome(live.json["verdict"], record)


def outcome(live: Mapping[str, object], record: Path) -> Outcome:
    acceptance = load_record(record).acceptance
    files = {
        path.relative_to(record).as_posix(): path.read_bytes()
        for path in record.rglob("*")
        if path.suffix in (".json", ".csv", ".s1p")
    }
    return Outcome(live, examine(acceptance), files)


@pytest.fixture(params=["", CABLE], ids=["at the connector", "behind 4 dB of cable"])
def both(
    request: pytest.FixtureRequest,
    tmp_path: Path,
    bandwright: Callable[..., Any],
    monkeypatch: pytest.MonkeyPatch,
) -> tuple[Outcome, Outcome, str]:
    """Page and terminal, and the plane."""
    plan, folders = tmp_path / "plan.toml", [tmp_path / name for name in ("page", "terminal")]
    plan.write_text(PLAN, encoding="utf-8")
    for folder in folders:
        folder.mkdir()
    page = on_the_page(folders[0], load_plan(plan), request.param)
    return (
        page,
        in_the_terminal(folders[1], plan, request.param, bandwright, monkeypatch),
        (request.param),
    )


@pytest.mark.slow
def test_every_field_of_the_outcomes_is_equal(both: tuple[Outcome, Outcome, str]) -> None:
    page, terminal, plane = both
    assert first_difference(page.live, terminal.live, tolerance=SHOWN) == ""
    assert page.examined.overall is terminal.examined.overall
    assert [each.holds for each in page.examined.checks] == [True]
    (one,), (two,) = page.examined.conditions, terminal.examined.conditions
    assert one.verdict == two.verdict
    assert any("Directivity" in note for note in one.verdict.notes), "its calibration is doubted"
    assert one.dips == two.dips
    assert (one.verdict.de_embedding is None) == (plane == "")
    for name in ("frequency_hz", "reflection", "low", "high", "floor"):
        assert np.array_equal(getattr(one.interval, name), getattr(two.interval, name))
    touch, other = page.examined.acceptance.touch_test, terminal.examined.acceptance.touch_test
    assert touch is not None
    assert other is not None
    assert first_difference(asdict(touch), asdict(other), tolerance=SHOWN) == ""
    assert touch.current == "some"


@pytest.mark.slow
def test_the_records_hold_the_same(both: tuple[Outcome, Outcome, str]) -> None:
    page, terminal, _ = both
    assert page.files.keys() == terminal.files.keys()
    for name, content in page.files.items():
        if name == "record.json":
            other = result(terminal.files[name])
            assert first_difference(result(content), other, tolerance=SHOWN) == ""
        elif name != "calibration.json":
            assert content == terminal.files[name], name


def result(record: bytes) -> dict[str, Any]:
    """What a record tells, but for when it was written, and what swept before it began."""
    found: dict[str, Any] = json.loads(record)
    return {name: value for name, value in found.items() if not name.endswith("_at")}
