"""What changes on a bench while antennas are swept, through the one way to a verdict.

The bench is the one of tests/calibration/verification/test_put_back.py: two-ports in a row, with
its own numbers. An antenna that passes by a fault is swept; then the short is put back.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from acceptance.limits.decision import State
from acceptance.record.acceptance_record import Acceptance, Condition
from acceptance.record.check_after_sweep import ChecksAfterSweep, StandardCheck
from acceptance.record.examination import examine
from acceptance.verdict.plan_verdict import Verdict
from acquire.sweep import ComplexArray, Plane, Sweep
from calibration.uncertainty.budget import Assumptions
from tests.acceptance.made import plan
from tests.calibration.verification.test_put_back import (
    FAULTS,
    KIT,
    MADE,
    SOURCE,
    Bench,
    F,
    Fault,
    turning,
)
from tests.counts import LONG, QUICK

WANTED = plan("""
name = "wide"
sweeps = 2
[[band]]
name = "low"
low_mhz = 750
high_mhz = 950
return_loss_db = 10
[[band]]
name = "high"
low_mhz = 1700
high_mhz = 2600
return_loss_db = 10
""")
ANTENNA = turning(10 ** (-9.2 / 20), 0.05e-9)
"""9.2 dB everywhere: it fails at 10."""
HONEST = 1000 if LONG else 20 if QUICK else 100
FOUND: Mapping[str, Fault] = {**FAULTS, "1.5 nH": Fault(series_h=1.5e-9)}


def verdicts(seed: int, fault: Fault) -> tuple[Verdict, Verdict]:
    """Of the antenna swept under a fault: without a check after it, and with one."""
    rng = np.random.default_rng([31, seed])
    bench = Bench(rng, joint=rng.uniform(0.003, 0.01))
    calibration = bench.calibration()
    hours = float(rng.uniform(0.05, 8))
    bench.drift(hours)
    bench.fault = fault

    def swept(true: ComplexArray, minutes: float) -> tuple[Sweep, ...]:
        first = bench.read(true)  # one making of the joint, and two sweeps of it
        at = MADE + timedelta(hours=hours, minutes=minutes)
        noise = [bench.noise * rng.standard_normal((2, F.size)) / np.sqrt(2) for _ in range(2)]
        return tuple(
            Sweep(F, first + n[0] + 1j * n[1], Plane.RAW, at + timedelta(seconds=k), k, SOURCE, ())
            for k, n in enumerate(noise)
        )

    made = Acceptance(
        "weir-3", WANTED, calibration, Assumptions(load_db=30.0), MADE, "test",
        after_sweep=ChecksAfterSweep(),
    ).with_condition(Condition("finished", swept(ANTENNA, 0)))  # fmt: skip
    before = examine(made).conditions[0].verdict
    checked = made.with_check(StandardCheck(swept(KIT.standards["short"].reflection(F), 2)))
    return before, examine(checked).conditions[0].verdict


@pytest.mark.slow
@pytest.mark.parametrize("name", FOUND)
def test_nothing_passes_by_what_changed(name: str) -> None:
    for seed in range(8):
        before, after = verdicts(seed, FOUND[name])
        assert before.overall is not State.NOT_MEASURED
        assert after.overall is State.NOT_MEASURED, seed
        assert all("calibrate anew" in each.reason for each in after.bands)


def test_without_the_check_a_lossier_cable_passes_what_fails() -> None:
    before, after = verdicts(1, FAULTS["a cable 2.7 dB lossier"])
    assert before.overall is State.PASS
    assert after.overall is State.NOT_MEASURED


@pytest.mark.slow
def test_an_honest_bench_keeps_its_verdict() -> None:
    refused = []
    for seed in range(HONEST):
        before, after = verdicts(seed, Fault())
        assert before.overall in (State.FAIL, State.CONDITIONAL_FAIL)
        if after.overall is State.NOT_MEASURED:
            refused.append(seed)
        else:
            assert replace(after, notes=before.notes) == before
    assert len(refused) <= max(HONEST // 200, 1), refused
