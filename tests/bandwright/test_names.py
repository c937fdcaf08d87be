"""The names that are promised, and that loading them is no burden."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import bandwright

TOP = Path(__file__).parents[2]
PAGE = (TOP / "docs" / "from-python.md").read_text(encoding="utf-8")
PROMISED = """
    Advice Assumptions BandwrightError Calibration Interval Kit Plan Plane State Sweep SweepRequest
    Verdict advise calibrate judge load_kit load_plan open_analyzer read_record read_touchstone
    recheck
"""


def test_the_names_are_those_that_were_promised() -> None:
    assert bandwright.__all__ == PROMISED.split()
    assert all(hasattr(bandwright, name) for name in bandwright.__all__)


@pytest.mark.parametrize("name", bandwright.__all__)
def test_every_name_is_documented(name: str) -> None:
    assert f"| `{name}" in PAGE
    assert getattr(bandwright, name).__doc__


@pytest.mark.parametrize("method", ["to_network", "from_network"])
def test_a_sweep_goes_to_scikit_rf_and_back(method: str) -> None:
    assert hasattr(bandwright.Sweep, method)
    assert f"`{method}`" in PAGE


@pytest.mark.parametrize("method", ["correct", "uncertainty", "save", "load"])
def test_a_calibration_does_what_the_page_says(method: str) -> None:
    assert hasattr(bandwright.Calibration, method)
    assert f"`{method}`" in PAGE


@pytest.mark.process
def test_what_is_slow_to_load_waits_until_it_is_needed() -> None:
    slow = {"dash", "plotly", "scipy", "skrf", "sqlalchemy", "dashboard"}
    code = f"import bandwright, sys; print(sorted({slow!r} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
