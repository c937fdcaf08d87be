"""docs/from-python.md does what it says, and the main job agrees with scikit-rf's own."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import skrf

from acquire.sweep import Sweep
from bandwright import Plane, calibrate, judge, load_kit
from tests.bandwright import typed_use

PAGE = Path(__file__).parents[2] / "docs" / "from-python.md"
PYTHON = re.compile(r"^```python\n(.*?)^```", re.DOTALL | re.MULTILINE)
BLOCKS = PYTHON.findall(PAGE.read_text(encoding="utf-8"))


@pytest.mark.slow
def test_the_page_can_be_followed_from_top_to_bottom(
    workshop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    names: dict[str, Any] = {}
    for number, block in enumerate(BLOCKS):
        exec(compile(block, f"{PAGE.name}, block {number}", "exec"), names)  # noqa: S102 - our page
    printed = capsys.readouterr().out
    assert "LTE 20" in printed
    assert names["again"].made == names["calibration"].made
    assert (workshop / "corrected.s1p").exists()


def test_the_whole_job_takes_less_than_ten_lines() -> None:
    lines = [line for line in BLOCKS[0].splitlines() if line.strip()]
    assert len(lines) < 10
    assert {"calibrate(", "correct(", "judge("} <= set(re.findall(r"\w+\(", BLOCKS[0]))


def test_error_terms_and_corrected_reflection_are_those_of_scikit_rf(workshop: Path) -> None:
    # scikit-rf 2, skrf.calibration.OnePort [run]: another solution of the same equations, so both
    # agree but for rounding, which a condition number of some 10 enlarges: 1e-9.
    networks = {name: skrf.Network(f"{name}.s1p") for name in ("open", "short", "load")}
    calibration = calibrate(networks, "3.5mm-plug-50", load_db=30)
    kit, frequency = load_kit("3.5mm-plug-50"), networks["open"].frequency
    ideals = [
        skrf.Network(frequency=frequency, s=kit.standards[name].reflection(frequency.f))
        for name in networks
    ]
    theirs = skrf.calibration.OnePort(measured=list(networks.values()), ideals=ideals)
    antenna = skrf.Network("antenna.s1p")
    corrected = theirs.apply_cal(antenna)
    ours = calibration.correct(antenna)
    assert np.allclose(ours.reflection, corrected.s[:, 0, 0], rtol=0, atol=1e-9)
    assert np.allclose(ours.to_network().s, corrected.s, rtol=0, atol=1e-9)
    terms = theirs.coefs
    assert np.allclose(calibration.terms.directivity, terms["directivity"], rtol=0, atol=1e-9)
    assert np.allclose(calibration.terms.source_match, terms["source match"], rtol=0, atol=1e-9)


def test_networks_and_sweeps_come_to_the_same_verdict(
    workshop: Path, bench_sweeps: dict[str, Sweep]
) -> None:
    standards = {name: each for name, each in bench_sweeps.items() if name != "antenna"}
    by_sweeps = calibrate(standards, "3.5mm-plug-50", load_db=30)
    by_networks = calibrate(
        {name: each.to_network() for name, each in standards.items()}, "3.5mm-plug-50", load_db=30
    )
    antenna = bench_sweeps["antenna"]
    first = judge("plan.toml", antenna, by_sweeps)
    second = judge("plan.toml", Sweep.from_network(antenna.to_network()), by_networks)
    assert [band.state for band in first.bands] == [band.state for band in second.bands]
    assert [band.worst_return_loss_db for band in first.bands] == pytest.approx(
        [band.worst_return_loss_db for band in second.bands], rel=1e-9
    )
    assert "invented" in " ".join(first.notes)
    assert "drift is counted for 1 hour" in " ".join(second.notes)


def test_a_program_with_types_does_the_same(workshop: Path) -> None:
    calibration = typed_use.calibrated(workshop, "3.5mm-plug-50")
    raw = typed_use.read_touchstone("antenna.s1p", plane=Plane.RAW)
    verdict, advice = typed_use.looked_at("plan.toml", raw, calibration)
    assert verdict.plane is Plane.ANTENNA
    assert len(typed_use.passing_bands(verdict)) <= len(verdict.bands)
    assert advice.text
    assert typed_use.holds("records/weir-3")
    assert typed_use.swept("virtual:?seed=3", [typed_use.SweepRequest(8e8, 9e8, 5)]).points == 5
