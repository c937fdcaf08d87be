"""What hides between two points, planted by a bench that shares no code with the program."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.verdict.band_curve import BandCurve, Gap, band_curve
from acceptance.verdict.hidden_between import hidden_between
from tests.counts import LONG
from tests.independent_bench.antennas import planted, smooth_antenna

PLANTINGS = 4000 if LONG else 1200
SMOOTH = 1000 if LONG else 300
DEFAULT_STEPS, WIDEST_STEP_HZ = 20, 5e6
"""What a sweep has where nobody says: a twentieth of the band, 5 MHz at most."""


def judged_worst(curve: BandCurve) -> float:
    return float((np.abs(curve.reflection) + curve.error + curve.hidden).max())


@pytest.mark.slow
@pytest.mark.parametrize("steps_wide", [(1.0, 1.3), (1.0, 4.0)], ids=["one step", "1 to 4 steps"])
def test_a_planted_resonance_is_seen_or_counted(steps_wide: tuple[float, float]) -> None:
    """Q 50 to 200, one step wide or wider: the largest |reflection| in the band is no larger than
    what is judged, in 995 of 1,000; or the band is too coarse to be judged at all. Nowhere does it
    rise .002 above that."""
    rng = np.random.default_rng(int(10 * steps_wide[1]))
    beyond = []
    for _ in range(PLANTINGS):
        centre_hz = rng.uniform(0.7e9, 3.5e9)
        width_hz = centre_hz / rng.uniform(50, 200)
        step_hz = width_hz / rng.uniform(*steps_wide)
        low_hz = centre_hz * rng.uniform(0.97, 0.99)
        span = (low_hz, low_hz + max(DEFAULT_STEPS * step_hz, rng.uniform(0.01, 0.04) * centre_hz))
        plain = smooth_antenna(rng, centre_hz)
        antenna = planted(rng, plain, rng.uniform(*span), width_hz)
        f = np.arange(low_hz - rng.uniform() * step_hz, span[1] + step_hz, step_hz)
        curve = band_curve(f, antenna.reflection(f), span)
        if isinstance(curve, BandCurve):
            truth = float(np.abs(antenna.reflection(np.linspace(*span, 4001))).max())
            beyond.append(truth - judged_worst(curve))
    assert len(beyond) > PLANTINGS / 4
    assert np.mean(np.array(beyond) > 1e-4) <= 0.005
    assert max(beyond) < 0.002


@pytest.mark.slow
@pytest.mark.parametrize(("noise", "median_db", "most_db"), [(0.0, 0.001, 0.02), (1e-3, 0.05, 0.3)])
def test_a_smooth_antenna_loses_next_to_nothing(
    noise: float, median_db: float, most_db: float
) -> None:
    """At the grid that is swept where nobody says: Q 5 to 25, bands of 20 to 190 MHz."""
    rng = np.random.default_rng(5)
    lost_db = []
    for _ in range(SMOOTH):
        centre_hz, width_hz = rng.uniform(0.7e9, 2.7e9), rng.uniform(20e6, 190e6)
        step_hz = min(width_hz / DEFAULT_STEPS, WIDEST_STEP_HZ)
        low_hz = centre_hz - width_hz * rng.uniform()
        span = (low_hz, low_hz + width_hz)
        f = np.arange(low_hz - rng.uniform() * step_hz, span[1] + step_hz, step_hz)
        real, imaginary = rng.standard_normal((2, f.size)) * noise / np.sqrt(2)
        curve = band_curve(
            f, smooth_antenna(rng, centre_hz).reflection(f) + real + 1j * imaginary, span
        )
        if isinstance(curve, Gap):
            continue
        as_read = float((np.abs(curve.reflection) + curve.error).max())
        lost_db.append(20 * np.log10(judged_worst(curve) / as_read))
    assert len(lost_db) > 0.9 * SMOOTH
    assert np.median(lost_db) <= median_db
    assert np.quantile(lost_db, 0.99) <= most_db


@pytest.mark.parametrize("points", [3, 4, 5, 6, 12])
def test_a_line_and_a_parabola_hide_nothing_but_what_they_rise(points: int) -> None:
    """A straight run rises no further than its ends; a parabola's top is found between them
    [derived: 1 - x^2 at -.5 and .5 is .75, and 1 between]."""
    x = np.arange(points) - (points - 1) / 2
    straight = 0.1 + 0.01 * x + 0j
    assert hidden_between(x, straight, x, np.abs(straight)).max() < 1e-12
    if points in (6, 12):
        bent = 1 - x**2 / 100 + 0j
        rise = hidden_between(x, bent, x, np.abs(bent))
        assert rise.max() == pytest.approx(0.0025, abs=1e-9)
        assert rise.argmax() in (points // 2 - 1, points // 2)


def test_a_grid_of_uneven_steps_is_followed_as_well() -> None:
    f = np.cumsum(np.array([0.0, 1, 1, 2, 2, 1, 0.5, 0.5, 3, 3]))
    bent = (0.3 + 0.01j * f - 0.002 * (f - 6) ** 2).astype(np.complex128)
    rise = hidden_between(f, bent, f, np.abs(bent))
    fine = np.linspace(f[0], f[-1], 2001)
    truth = np.abs(0.3 + 0.01j * fine - 0.002 * (fine - 6) ** 2)
    assert (np.abs(bent) + rise).max() >= truth.max() - 1e-4
    assert rise.max() < 0.02
