"""What the program makes of the raw readings of an independent bench, by its public ways."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from acceptance.plan.acceptance_plan import Plan
from acceptance.verdict.judged_sweep import JudgedReading, judged_sweep
from acquire.sweep import Plane, Source, Sweep
from calibration.calibration_budget import budget_of
from calibration.capture.standard_capture import StandardReading
from calibration.evidence import ConnectionRepeats
from calibration.one_port_calibration import Calibration, calibrate
from calibration.standards.kit import Kit
from calibration.standards.standard import CoefficientStandard, IdealStandard
from calibration.uncertainty.budget import Assumptions, Budget
from calibration.verification.reading_budget import ReadingBudget
from tests.independent_bench.bench import OPEN_FF, PLANE_PS, SHORT_PH, Benches, Faults
from tests.independent_bench.one_port import Complex

SOURCE = Source("virtual", "independent bench", "invented", "virtual:")
TAKEN_AT = datetime(2026, 5, 1, 9, 0, tzinfo=UTC)
AGE = timedelta(hours=1)
"""Between calibrating and reading."""
KIT = Kit(
    name="independent",
    label="What the independent bench says of its parts",
    connector="any",
    source="invented",
    standards={
        "open": CoefficientStandard(kind="open", offset_delay_ps=PLANE_PS, c0_ff=OPEN_FF),
        "short": CoefficientStandard(kind="short", offset_delay_ps=PLANE_PS, l0_ph=SHORT_PH),
        "load": IdealStandard(kind="load"),
    },
)


def calibration_of(benches: Benches, number: int) -> Calibration:
    """One of the benches, calibrated by the program."""
    f, faults = benches.frequency_hz, benches.faults
    noise = np.full(f.size, faults.noise)
    readings = [
        StandardReading(name, f, raw[number], faults.sweeps, noise)
        for name, raw in benches.raw.items()
    ]
    return calibrate(
        KIT,
        readings,
        source=SOURCE,
        request=(),
        spans=((float(f[0]), float(f[-1])),),
        taken_at=TAKEN_AT,
        software="test",
    )


def remade(
    calibration: Calibration, benches: Benches, name: str, number: int, times: int = 2
) -> Calibration:
    """The same calibration, one of its standards made anew ten minutes later."""
    f, faults = benches.frequency_hz, benches.faults
    noise = np.full(f.size, faults.noise)
    takes = tuple(
        StandardReading(name, f, benches.made(name)[number], faults.sweeps, noise)
        for _ in range(times)
    )
    at = TAKEN_AT + timedelta(minutes=10)
    return calibration.with_evidence(ConnectionRepeats(name, takes, at))


def stated(faults: Faults) -> Assumptions:
    """What is known of a bench: how large its faults may be."""
    return Assumptions(
        load_db=faults.load_db,
        modelled_offset_ps=faults.plane_ps,
        definition_floor=faults.end,
        connection=faults.connection,
        drift_per_hour=faults.drift,
        cable=faults.cable,
    )


def budget(calibration: Calibration, faults: Faults) -> Budget:
    """What the program says can be wrong at the time of reading."""
    return budget_of(calibration, stated(faults), age_s=AGE.total_seconds())


def judged(
    calibration: Calibration, faults: Faults, raw: Complex, plan: Plan
) -> JudgedReading[Sweep]:
    """One raw sweep, by the one way to a verdict."""
    sweep = Sweep(calibration.frequency_hz, raw, Plane.RAW, TAKEN_AT + AGE, 1, SOURCE, ())
    return judged_sweep((sweep,), calibration, ReadingBudget(stated(faults)), plan=plan)
