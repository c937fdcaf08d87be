"""The closed form of a sum of errors, against drawing it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import beta

from calibration.uncertainty.error_sum import (
    FACTOR_95,
    KURTOSIS,
    LAW_MARGIN,
    half_width_95,
    radius_95,
)
from tests.counts import LONG

DRAWS = 400_000 if LONG else 100_000


def drawn(bounds: list[float], sigma: float, seed: int = 1) -> np.ndarray:
    """Sums of phasors of unknown phase and complex noise, shape (DRAWS,)."""
    rng = np.random.default_rng(seed)
    phases = np.exp(2j * np.pi * rng.uniform(size=(len(bounds), DRAWS)))
    noise = rng.standard_normal((2, DRAWS))
    return np.array(bounds) @ phases + sigma * (noise[0] + 1j * noise[1])


def closed(bounds: list[float], sigma: float = 0.0) -> tuple[float, float]:
    sized, spread = np.array(bounds)[:, None], np.array([sigma])
    return float(half_width_95(sized, spread)[0]), float(radius_95(sized, spread)[0])


# D = .01, M = .02, T = .005, R = .002, all of unknown phase: |G|, linear bound, Monte Carlo 95 %
# half-width of 4e5 draws [run]. Form U = D + T|G| + M|G|^2 + R: EA-10/12, EURAMET cg-12 [memory].
VECTORS = [
    (0.1, 0.01270, 0.0113),
    (0.2, 0.01380, 0.0115),
    (0.316, 0.01558, 0.0122),
    (1.0, 0.03700, 0.0292),
]


@pytest.mark.parametrize(("size", "linear", "monte_carlo"), VECTORS)
def test_the_reference_vectors_are_met_and_the_worst_case_never_exceeded(
    size: float, linear: float, monte_carlo: float
) -> None:
    bounds = [0.01, 0.005 * size, 0.02 * size**2, 0.002]
    half_width, _ = closed(bounds)
    assert sum(bounds) == pytest.approx(linear, abs=1e-5)
    assert 0.995 * monte_carlo < half_width < 1.06 * monte_carlo
    assert half_width <= linear * (1 + 1e-12)


MIXTURES = [
    ([0.05], 0.0),
    ([0.0], 0.01),
    ([0.05], 0.0005),
    ([0.03], 0.003),
    ([0.01, 0.0005, 0.002], 0.0),
    ([0.03, 0.03], 0.0),
    ([0.03, 0.02, 0.01], 0.01),
    ([1.0, 1.0, 1.0], 0.0),
    ([1.0, 0.3], 0.0),
    ([0.01, 0.005, 0.005, 0.002, 0.001], 0.002),
]


@pytest.mark.parametrize(("bounds", "sigma"), MIXTURES)
def test_the_closed_form_is_neither_short_nor_lazy(bounds: list[float], sigma: float) -> None:
    sums = drawn(bounds, sigma)
    half_width, radius = closed(bounds, sigma)
    assert 0.99 < half_width / np.quantile(np.abs(sums.real), 0.95) < 1.07
    assert 0.99 < radius / np.quantile(np.abs(sums), 0.95) < 1.07


def test_nothing_wrong_reaches_nowhere() -> None:
    assert closed([0.0], 0.0) == (0.0, 0.0)


def test_the_table_is_the_beta_law_s_quantile() -> None:
    """Pearson's type II law by scipy, an independent library."""
    for excess, factor in zip(KURTOSIS[:-1], FACTOR_95[:-1], strict=True):
        alpha = (-6 / excess - 3) / 2
        ppf = 2 * beta.ppf(0.975, alpha, alpha) - 1
        assert factor == pytest.approx(ppf * np.sqrt(2 * alpha + 1), rel=1e-5)
    assert LAW_MARGIN >= 1
