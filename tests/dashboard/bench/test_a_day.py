"""A day at ten sweeps a second: nothing grows that nobody asked for.

The unit hands the bench one sweep after the other, as soon as the last has been shown and encoded
for a viewer; a tenth of a second passes on the clock each time.
"""

from __future__ import annotations

import gc
import os
import sys
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from acceptance.plan.acceptance_plan import Plan
from acceptance.version import software
from acquire.analyzer.connected_analyzer import Counters
from acquire.analyzer.profile import load_profiles
from acquire.coverage.spans import continuous_spans
from acquire.sweep import Plane, Source, Sweep
from calibration.capture.standard_capture import StandardReading
from calibration.files.store import load_kit
from calibration.one_port_calibration import Calibration, calibrate
from dashboard.bench.composed_bench import Bench
from dashboard.demo.scenario import PLAN
from dashboard.feed.viewer_feed import Encoder
from dashboard.page.plan_form import read_plan
from dashboard.sweeping.sweep_margins import target_with_margins
from dashboard.sweeping.sweep_plan import coverage_for
from replay.virtual_bench.antenna import GOOD_SETTING
from tests.counts import LONG, PATIENCE_S

SWEEPS = 24 * 3600 * 10 if LONG else 800
EVERY_S = 0.1
WARM = SWEEPS // 5
"""Sweeps until all that is bounded has filled up: averages, histories, caches."""
MAY_GROW = 0.05


class DayClock:
    """Time that the unit moves on; nobody waits by it."""

    def __init__(self) -> None:
        self.seconds = 0.0

    def now(self) -> datetime:
        return datetime(2030, 1, 1, tzinfo=UTC) + timedelta(seconds=self.seconds)

    def monotonic(self) -> float:
        return self.seconds

    def wait(self, event: threading.Event, seconds: float) -> bool:
        return event.wait(min(seconds, 0.01))


class DayAnalyzer:
    """Sweeps an antenna that now and then is bent a little, with noise."""

    def __init__(self, clock: DayClock) -> None:
        self.profile = load_profiles()["registers-queue"]
        self.source = Source("virtual", "a unit for a day", self.profile.name, "virtual:day")
        self.identity, self.counters = self.source.analyzer, Counters()
        self.given = 0
        self.done = threading.Event()
        self.show: Any = None
        self._clock = clock
        self._rng = np.random.default_rng(1)

    def sweep(self, passes: Any) -> Sweep:
        self.show(self.given)
        if self.given == SWEEPS:
            self.done.set()
        self.given += 1
        self._clock.seconds += EVERY_S
        grid = np.concatenate([each.grid_hz() for each in passes])
        antenna = GOOD_SETTING.bent("arm_a", 0.5 * (self.given // 300 % 5))
        values = antenna.reflection(grid)
        values = values + 1e-3 * (self._rng.standard_normal((grid.size, 2)) @ [1, 1j])
        now = self._clock.now()
        return Sweep(grid, values, Plane.RAW, now, self.given, self.source, tuple(passes))

    def interrupt(self) -> None:
        pass

    def close(self) -> None:
        pass


def resident_bytes() -> int:
    """What the process holds in memory."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")


def calibration_of(unit: DayAnalyzer, plan: Plan, clock: DayClock) -> Calibration:
    """A perfect unit's, over what the plan wants: what is raw is corrected, and judged."""
    kit = load_kit("ideal")
    limits = unit.profile.limits
    passes = coverage_for(target_with_margins(plan, limits), unit.profile, None).passes
    grid = np.concatenate([each.grid_hz() for each in passes])
    return calibrate(
        kit,
        [
            StandardReading(name, grid, standard.reflection(grid), 8, np.full(grid.size, 1e-3))
            for name, standard in kit.standards.items()
        ],
        source=unit.source,
        request=passes,
        spans=continuous_spans(passes, limits.range_steps_hz),
        taken_at=clock.now(),
        software=software(),
    )


@pytest.mark.slow
@pytest.mark.timeout(14_000)
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="memory is read from /proc")
@pytest.mark.parametrize("calibrated", [False, True], ids=["raw", "calibrated"])
def test_memory_stays_as_it_is_and_no_file_appears(tmp_path: Path, *, calibrated: bool) -> None:
    """Calibrated, with verdicts, advice, and dips followed; and as it is before."""
    clock = DayClock()
    unit = DayAnalyzer(clock)
    plan = read_plan(PLAN)
    bench = Bench(
        lambda: unit,  # type: ignore[arg-type, return-value]
        address="virtual:day",
        kit=load_kit("ideal"),
        plan=plan,
        calibration=calibration_of(unit, plan, clock) if calibrated else None,
        calibrations_folder=tmp_path / "calibrations",
        records_folder=tmp_path / "records",
        clock=clock,
    )
    encoder = Encoder()
    held: list[int] = []
    objects: list[int] = []

    def show(sequence: int) -> None:
        """Wait until a sweep is on the page, and encode it as for a viewer."""
        moment = bench.wait_for(lambda now: now.sequence >= sequence, PATIENCE_S)
        assert sequence == 0 or (moment.verdict is not None) is calibrated, moment.port
        encoder.message(moment, clock.monotonic())
        if sequence and sequence % (SWEEPS // 20) == 0:
            gc.collect()
            held.append(resident_bytes())
            objects.append(len(gc.get_objects()))

    unit.show = show
    bench.start()
    try:
        assert unit.done.wait(13_900)
    finally:
        bench.close()
    warm = [at for at in range(len(held)) if (at + 1) * (SWEEPS // 20) > WARM]
    print(
        f"{SWEEPS} sweeps, {clock.seconds / 3600:.1f} h: {held[warm[0]] / 2**20:.1f} MB, "
        f"{held[-1] / 2**20:.1f} MB at the end; {objects[warm[0]]} objects, {objects[-1]}"
    )
    assert max(held[at] for at in warm) < (1 + MAY_GROW) * held[warm[0]]
    assert objects[-1] < (1 + MAY_GROW) * objects[warm[0]]
    assert list(tmp_path.iterdir()) == []
