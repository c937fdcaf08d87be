"""Calibrate, correct and judge readings of a one-port analyzer, from Python.

These names stay as they are; the packages and modules they come from may move.
docs/from-python.md leads through them.
"""

from __future__ import annotations

from bandwright.own_packages import require_own_packages

require_own_packages()

# ruff: noqa: E402 - what stands in the way is told before anything of it runs
from acceptance.limits.decision import State
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_plan
from acceptance.recheck.recheck_folder import recheck_folder as recheck
from acceptance.record.record_folder import load_record as read_record
from acceptance.tuning.advice import Advice
from acceptance.tuning.sweep_advice import advise_on_sweep as advise
from acceptance.verdict.plan_verdict import Verdict
from acceptance.verdict.sweep_verdict import judge_sweep as judge
from acquire.errors import BandwrightError
from acquire.files.touchstone_file import read_touchstone
from acquire.sweep import Plane, Sweep, SweepRequest
from calibration.files.portable_calibration import PortableCalibration as Calibration
from calibration.files.portable_calibration import calibrate_by_name as calibrate
from calibration.files.store import load_kit
from calibration.standards.kit import Kit
from calibration.uncertainty.budget import Assumptions
from calibration.uncertainty.interval import Interval
from replay.analyzer_by_address import open_analyzer

__all__ = [
    "Advice",
    "Assumptions",
    "BandwrightError",
    "Calibration",
    "Interval",
    "Kit",
    "Plan",
    "Plane",
    "State",
    "Sweep",
    "SweepRequest",
    "Verdict",
    "advise",
    "calibrate",
    "judge",
    "load_kit",
    "load_plan",
    "open_analyzer",
    "read_record",
    "read_touchstone",
    "recheck",
]
