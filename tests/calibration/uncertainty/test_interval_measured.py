"""The stated uncertainty against a real bench: certificates that nobody here made.

The set coax_mismatch_offset_short (see `test_measured_sets`): raw readings of an open, a short and
a match that were characterised piece by piece, and of a mismatch and an offset short that carry
independent certificates. The actual error is what we correct against what the certificate says,
up to 6 GHz, at 60 frequencies.

The set states nothing of the standards' own data. Three statements are held against it:

- as shipped: 0.005 assumed of each standard's data, a hobbyist's connector and cable;
- a laboratory's bench: the data good to 0.0025, connectors that repeat to 0.0002 at 1 GHz, a cable
  that is not touched [practice]. The certificates' own standard deviations are .0045 and .0086;
- the maker's grade: each standard states an `error` of its own. The origin's README says that "the
  SOL standards were pre-characterized by the manufacturer" [read] and gives no figure; the nearest
  one published is the same maker's on its certificates, up to 6 GHz [read]: .0045 for the mismatch,
  which is built like a match, and .0086 for the offset short, built like an open or a short. Times
  2.45 for 95 % of a complex value [derived]: .0110 and .0211.

Actual error over stated uncertainty of the complex value, median and largest [run]:

              as shipped     laboratory     maker's grade
mismatch      .065   .155    .184   .425    .054   .109
offset short  .074   .224    .218   .508    .037   .084

The maker's grade is 18 to 27 times what happened at the median. That alone does not make it too
wide: where pieces and certificates come from one laboratory, which is not stated, its common errors
cancel here.
"""

from __future__ import annotations

from datetime import timedelta
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from acquire.sweep import ComplexArray, FloatArray, Plane, Reading, Sweep
from calibration.calibration_budget import budget_of
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import correct, solve
from calibration.evidence import DeviceCheck
from calibration.one_port_calibration import Calibration
from calibration.standards.kit import Kit
from calibration.standards.standard import DataStandard, Kind
from calibration.uncertainty.budget import Assumptions
from calibration.uncertainty.interval import interval, radius
from calibration.uncertainty.sensitivity import lagrange
from calibration.verification.device_comparison import verify
from calibration.verification.verification_device import RADIAL_95, CertifiedDevice
from calibration.verification.verified_budget import evidence_results
from tests.calibration.test_measured_sets import (
    COAX,
    COAX_FOLDER,
    NAMES,
    SOURCE,
    calibrated,
    certified,
    coax,
    measured,
    read,
)

__all__ = ["measured"]
HIGHEST_HZ = 6e9
SHIPPED = Assumptions()
LABORATORY = Assumptions(data_error=0.0025, connection=2e-4, cable=0.0)
MAKERS_GRADE = {"open": 0.0086 * RADIAL_95, "short": 0.0086 * RADIAL_95, "load": 0.0045 * RADIAL_95}
"""`error` of each standard, linear, about 95 %: see above."""
DEVICES: list[tuple[str, Kind]] = [("mismatch", "load"), ("offsetshort", "short")]
STATEMENTS = pytest.mark.parametrize(
    ("assumptions", "ratios"),
    [(SHIPPED, (0.05, 0.25)), (LABORATORY, (0.15, 0.60))],
    ids=["as shipped", "laboratory"],
)


def stating(calibration: Calibration, error: dict[str, float]) -> Calibration:
    """The same calibration, each of its standards stating how far its data may be off."""
    told = {}
    for name, standard in calibration.kit.standards.items():
        assert isinstance(standard, DataStandard)
        told[name] = DataStandard(standard.kind, standard.reading, standard.origin, error[name])
    raw = {
        name: Reading(each.frequency_hz, np.asarray(each.reflection))
        for name, each in calibration.readings.items()
    }
    return calibrated(Kit("coax", "coax", "coaxial", "ZiadHatab/srm-calibration", told), raw)


def certificate(folder: Path, device: str, kind: Kind) -> CertifiedDevice:
    """With the certificate's covariances, the larger variance counted for both parts."""
    rows = np.loadtxt(
        folder / COAX_FOLDER / f"answer_{device}_uncertainty.csv", delimiter=",", skiprows=1
    )
    rows = rows[rows[:, 0] > 0]
    value = Reading(rows[:, 0], rows[:, 1] + 1j * rows[:, 2])
    return CertifiedDevice.from_covariance(device, value, rows[:, [3, 6]].T, kind)


def judged(
    folder: Path, device: str, kind: str
) -> tuple[Calibration, FloatArray, ComplexArray, ComplexArray]:
    """The calibration; frequencies; the device as corrected, and as certified."""
    calibration = coax(folder, HIGHEST_HZ)
    raw = read(folder / COAX_FOLDER / f"raw_{device}.s2p", HIGHEST_HZ)
    answer = certified(folder / COAX_FOLDER / f"answer_{device}.s1p", kind, raw.frequency_hz)
    return calibration, raw.frequency_hz, correct(calibration.terms, raw.reflection), answer


@STATEMENTS
@pytest.mark.parametrize(("device", "kind"), DEVICES)
def test_the_certificate_lies_inside_what_is_stated_and_the_statement_is_not_lazy(
    measured: Path, device: str, kind: str, assumptions: Assumptions, ratios: tuple[float, float]
) -> None:
    """ratios : the median is at least the first, the largest below the second."""
    least, most = ratios
    calibration, _, found, answer = judged(measured, device, kind)
    budget = budget_of(calibration, assumptions)
    ratio = np.abs(found - answer) / radius(budget, found)
    assert np.mean(ratio <= 1) >= 0.95
    assert ratio.max() < most
    assert np.median(ratio) > least, "a statement this wide says nothing"
    told = interval(budget, found)
    size = np.abs(answer)
    assert np.mean((told.low <= size) & (size <= told.high)) >= 0.95


@pytest.mark.parametrize(("device", "kind"), DEVICES)
def test_the_certified_devices_verify_the_calibration(
    measured: Path, device: str, kind: Kind
) -> None:
    known = certificate(measured, device, kind)
    calibration = coax(measured, HIGHEST_HZ)
    raw = read(measured / COAX_FOLDER / f"raw_{device}.s2p", HIGHEST_HZ)
    reading = StandardReading(device, raw.frequency_hz, raw.reflection, 1, None)
    checked = calibration.with_evidence(
        DeviceCheck(known, reading, calibration.taken_at + timedelta(minutes=5))
    )
    (seen,) = evidence_results(checked, LABORATORY).devices
    assert seen.passed
    assert seen.share_inside == 1.0
    assert 0.005 < np.median(seen.combined) < 0.05


@pytest.mark.parametrize(("device", "kind"), DEVICES)
def test_standards_that_state_their_own_error_hold_against_the_certificates(
    measured: Path, device: str, kind: Kind
) -> None:
    """En of the complex value at most .083 and .075, of the size .086 and .084 [run]."""
    plain, _, _, answer = judged(measured, device, kind)
    calibration = stating(plain, MAKERS_GRADE)
    budget = budget_of(calibration, LABORATORY)
    stated = {each.name for each in budget.contributions if each.origin == "stated"}
    assert stated == {f"the {name}'s definition" for name in NAMES}
    raw = read(measured / COAX_FOLDER / f"raw_{device}.s2p", HIGHEST_HZ)
    sweep = Sweep(raw.frequency_hz, raw.reflection, Plane.RAW, calibration.taken_at, 1, SOURCE, ())
    known = certificate(measured, device, kind)
    seen = verify(calibration, budget, known, sweep)
    ratio = np.abs(seen.reflection - answer) / radius(budget, seen.reflection)
    print(f"{device}: actual over stated {np.median(ratio):.3f}, at most {ratio.max():.3f}")
    assert ratio.max() < 0.15
    assert np.median(ratio) > 0.03, "a statement this wide says nothing"
    assert seen.share_inside >= 0.95
    assert seen.normalised.max() < 0.15
    told = interval(budget, seen.reflection)
    further = np.abs(answer) - told.reflection
    side = np.where(further > 0, told.upward, told.downward)
    # along one direction 1.96 standard deviations hold 95 %, not 2.45
    own = known.uncertainty(raw.frequency_hz) / RADIAL_95 * 1.959964
    assert np.mean(np.abs(further) <= side) >= 0.95
    assert np.mean(np.abs(further) <= np.hypot(side, own)) >= 0.95


@pytest.mark.parametrize(("device", "kind"), DEVICES)
def test_standards_that_claim_too_much_are_found_out(
    measured: Path, device: str, kind: Kind
) -> None:
    """Data claimed good to 0.0005, nothing else wrong: 27 and 32 % inside; at 0.001, 83 and 82 %
    [run]."""
    plain, _, found, answer = judged(measured, device, kind)
    calibration = stating(plain, dict.fromkeys(NAMES, 0.0005))
    budget = budget_of(calibration, Assumptions(connection=0.0, cable=0.0))
    assert np.mean(np.abs(found - answer) <= radius(budget, found)) < 0.5


@pytest.mark.parametrize(("raw", "answer"), [(7, 8), (9, 10)], ids=["mismatch", "offset short"])
def test_the_rows_of_the_table_lie_inside_what_the_standards_state(raw: int, answer: int) -> None:
    """The same without the files, end to end at six frequencies."""
    f = np.real(COAX[:, 0])
    table = partial(np.ascontiguousarray, dtype=np.complex128)
    standards = {
        name: DataStandard(name, Reading(f, table(COAX[:, 4 + at])), "table", MAKERS_GRADE[name])  # type: ignore[arg-type]
        for at, name in enumerate(NAMES)
    }
    readings = {name: Reading(f, table(COAX[:, 1 + at])) for at, name in enumerate(NAMES)}
    calibration = calibrated(Kit("coax", "coax", "coaxial", "the table", standards), readings)
    budget = budget_of(calibration, LABORATORY)
    found = correct(calibration.terms, COAX[:, raw])
    ratio = np.abs(found - COAX[:, answer]) / radius(budget, found)
    print(f"actual over stated {np.median(ratio):.3f}, at most {ratio.max():.3f}")
    assert ratio.max() < 0.15
    assert np.median(ratio) > 0.02
    told, size = interval(budget, found), np.abs(COAX[:, answer])
    assert ((told.low <= size) & (size <= told.high)).all()


@pytest.mark.parametrize(("device", "raw", "answer"), [("mismatch", 7, 8), ("short", 9, 10)])
def test_the_rows_of_the_table_lie_inside_what_a_laboratory_would_state(
    device: str, raw: int, answer: int
) -> None:
    """The same without the files: the definitions' 0.0025 each, linear worst case."""
    terms = solve(np.real(COAX[:, 0]), COAX[:, 1:4].T, COAX[:, 4:7].T)
    found = correct(terms, COAX[:, raw])
    weights = lagrange(terms, dict(zip(NAMES, COAX[:, 4:7].T, strict=True)))
    sizes = [np.abs(0.0025 * (e0 + found * (e1 + found * e2))) for e0, e1, e2 in weights.values()]
    worst: FloatArray = np.sum(sizes, axis=0)
    ratio = np.abs(found - COAX[:, answer]) / worst
    assert ratio.max() < 0.6, device
    assert ratio.max() > 0.1, device
