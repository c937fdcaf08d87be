"""A folder as somebody has it who swept standards and an antenna with a program of their own."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from acceptance.record.record_folder import write_record
from acquire.sweep import Reading, Sweep, SweepRequest
from acquire.touchstone.writer import format_touchstone
from replay.analyzer_by_address import open_analyzer
from replay.clock import AcceleratedClock
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.acceptance.made import record

PASSES = (SweepRequest(700e6, 850e6, 76), SweepRequest(852e6, 1002e6, 76))
PLAN = """
name = "river gauge"
[[band]]
lte = 20
return_loss_db = 6
[[band]]
lte = 8
return_loss_db = 6
"""
RECIPE = 'name = "bent strip"\n[[dimension]]\nname = "arm_a"\nlength_mm = 85.0\n'


@pytest.fixture(scope="session")
def bench_sweeps() -> dict[str, Sweep]:
    """Raw sweeps of open, short, load and antenna, taken on the virtual bench."""
    clock, settle = AcceleratedClock(), threading.Event()
    bench = VirtualBench(clock)
    sweeps = {}
    with open_analyzer("virtual:", bench=bench, clock=clock) as analyzer:
        for name in ("open", "short", "load", "antenna"):
            bench.screw_on(name)
            clock.wait(settle, 10.0)  # the bench's own time: the nut is tight
            sweeps[name] = analyzer.sweep(PASSES)
    return sweeps


@pytest.fixture
def workshop(
    bench_sweeps: dict[str, Sweep], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """The folder to work in: sweeps as Touchstone, a plan, a recipe and a record."""
    for name, sweep in bench_sweeps.items():
        text = format_touchstone(Reading(sweep.frequency_hz, sweep.reflection))
        (tmp_path / f"{name}.s1p").write_text(text, encoding="ascii")
    (tmp_path / "plan.toml").write_text(PLAN, encoding="utf-8")
    (tmp_path / "recipe.toml").write_text(RECIPE, encoding="utf-8")
    write_record(record(), tmp_path / "records").rename(tmp_path / "records" / "weir-3")
    monkeypatch.chdir(tmp_path)
    return tmp_path
