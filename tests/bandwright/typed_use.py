"""Use of the face as a type checker sees it: `make check` holds it against mypy's strict rules."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from bandwright import (
    Advice,
    Assumptions,
    Calibration,
    Interval,
    Kit,
    Plan,
    Plane,
    State,
    Sweep,
    SweepRequest,
    Verdict,
    advise,
    calibrate,
    judge,
    load_kit,
    load_plan,
    open_analyzer,
    read_record,
    read_touchstone,
    recheck,
)


def passing_bands(verdict: Verdict) -> list[str]:
    """The names of the bands that pass."""
    return [band.name for band in verdict.bands if band.state is State.PASS]


def swept(address: str, passes: Sequence[SweepRequest]) -> Sweep:
    """One raw sweep of an analyzer."""
    with open_analyzer(address) as analyzer:
        return analyzer.sweep(passes)


def calibrated(folder: Path, kit_name: str) -> Calibration:
    """A calibration from three files, saved and loaded."""
    kit: Kit = load_kit(kit_name)
    raw = {name: read_touchstone(folder / f"{name}.s1p", plane=Plane.RAW) for name in kit.standards}
    calibration: Calibration = calibrate(raw, kit, load_db=30.0)
    calibration.save(folder / "calibration.json")
    return Calibration.load(folder / "calibration.json")


def looked_at(plan_file: str, raw: Sweep, calibration: Calibration) -> tuple[Verdict, Advice]:
    """A sweep judged, and what to do next."""
    plan: Plan = load_plan(plan_file)
    interval: Interval = calibration.uncertainty(raw, Assumptions(cable=0.001))
    assert interval.high.shape == raw.frequency_hz.shape
    verdict: Verdict = judge(plan, raw, calibration, plane="cable=ptfe-2.5mm length_mm=182")
    return verdict, advise(plan, raw, calibration)


def holds(folder: str) -> bool:
    """Whether a record holds."""
    return bool(read_record(folder).acceptance.plan.targets) and recheck(folder).holds
