"""The three-term model: solve, correct, embed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calibration.error_terms.one_port import ErrorTerms, correct, embed, solve
from calibration.errors import CalibrationError


def complex_random(random: np.random.Generator, *shape: int) -> np.ndarray:
    return random.standard_normal(shape) + 1j * random.standard_normal(shape)


def test_the_worked_vector_of_an_ideal_open_short_and_load_comes_out() -> None:
    """ED, ES, ER and a device of 0.2 at 40 degrees.

    Source: the vector was run with scikit-rf 2.2.0 and with plain numpy, which agree [run].
    """
    measured = np.array(
        [[1.016638902 - 0.187187653j], [-0.695508057 + 0.186764222j], [0.06 - 0.05j]]
    )
    terms = solve([1e9], measured, np.array([[1.0], [-1.0], [0.0]]))
    tolerance = 2e-9  # the readings carry nine decimals
    assert abs(terms.directivity[0] - (0.06 - 0.05j)) < tolerance
    assert abs(terms.source_match[0] - (0.10 + 0.08j)) < tolerance
    assert abs(terms.reflection_tracking[0] - (0.85 - 0.20j)) < tolerance
    device = correct(terms, [0.214635193 + 0.032933061j])[0]
    assert abs(device - (0.153208889 + 0.128557522j)) < tolerance


def test_the_worked_vector_holds_to_1e_9_both_ways() -> None:
    """Source: as above; the readings are made from the exact terms [run, derived]."""
    terms = ErrorTerms(
        np.array([1e9]), np.array([0.06 - 0.05j]), np.array([0.10 + 0.08j]), np.array([0.85 - 0.2j])
    )
    device = 0.2 * np.exp(1j * np.radians(40))
    assert abs(embed(terms, 1.0)[0] - (1.016638902 - 0.187187653j)) < 1e-9
    assert abs(embed(terms, -1.0)[0] - (-0.695508057 + 0.186764222j)) < 1e-9
    assert abs(embed(terms, device)[0] - (0.214635193 + 0.032933061j)) < 1e-9
    assert -20 * np.log10(abs(embed(terms, device)[0])) == pytest.approx(13.265, abs=5e-4)
    assert -20 * np.log10(abs(device)) == pytest.approx(13.979, abs=5e-4)


def test_the_solution_is_the_closed_form_of_ideal_standards() -> None:
    """a = Mo - Ml, b = Ms - Ml: ED = Ml, ES = (a+b)/(a-b), ER = -2ab/(a-b) [derived, run]."""
    random = np.random.default_rng(5)
    measured = complex_random(random, 3, 50)
    actual = np.repeat([[1.0], [-1.0], [0.0]], 50, axis=1)
    terms = solve(np.arange(50.0), measured, actual)
    a, b = measured[0] - measured[2], measured[1] - measured[2]
    np.testing.assert_allclose(terms.directivity, measured[2], rtol=1e-12)
    np.testing.assert_allclose(terms.source_match, (a + b) / (a - b), rtol=1e-10)
    np.testing.assert_allclose(terms.reflection_tracking, -2 * a * b / (a - b), rtol=1e-10)


@pytest.mark.parametrize("standards", [3, 4, 6])
def test_it_agrees_with_an_independent_solver_on_random_terms(standards: int) -> None:
    """Source: scikit-rf 2.2.0, OnePort, which solves by singular values [run]."""
    import skrf
    from skrf.calibration import OnePort

    random = np.random.default_rng(7 + standards)
    points = 200
    frequency = np.linspace(1e8, 6e9, points)
    terms = ErrorTerms(
        frequency,
        0.1 * complex_random(random, points),
        0.1 * complex_random(random, points),
        0.8 * np.exp(2j * np.pi * random.random(points)),
    )
    around = np.arange(standards)[:, None] / (standards - 1) * 2 * np.pi
    actual = np.exp(1j * (around + random.uniform(-0.2, 0.2, (standards, points))))
    actual[-1] = 0.02 * complex_random(random, points)  # a load, not quite one
    measured = embed(terms, actual)
    if standards > 3:
        measured = measured + 1e-3 * complex_random(random, standards, points)

    own = solve(frequency, measured, actual)

    def networks(values: np.ndarray) -> list[skrf.Network]:
        return [skrf.Network(f=frequency, s=row, f_unit="Hz") for row in values]

    other = OnePort(measured=networks(measured), ideals=networks(actual))
    other.run()
    for name, value in (
        ("directivity", own.directivity),
        ("source match", own.source_match),
        ("reflection tracking", own.reflection_tracking),
    ):
        np.testing.assert_allclose(value, other.coefs[name], rtol=0, atol=1e-12)
    device = 0.5 * complex_random(random, points)
    raw = embed(own, device)
    np.testing.assert_allclose(
        correct(own, raw), other.apply_cal(networks([raw])[0]).s[:, 0, 0], rtol=0, atol=1e-12
    )


@given(seed=st.integers(0, 2**32 - 1), size=st.floats(0, 1), phase=st.floats(-np.pi, np.pi))
def test_embedding_then_correcting_gives_any_passive_reflection_back(
    seed: int, size: float, phase: float
) -> None:
    random = np.random.default_rng(seed)
    terms = ErrorTerms(
        np.arange(20.0),
        0.3 * complex_random(random, 20) / 3,
        0.3 * complex_random(random, 20) / 3,
        random.uniform(0.1, 1.5, 20) * np.exp(2j * np.pi * random.random(20)),
    )
    reflection = np.full(20, size * np.exp(1j * phase))
    np.testing.assert_allclose(
        correct(terms, embed(terms, reflection)), reflection, rtol=0, atol=1e-11
    )


OPEN_SHORT_LOAD = [1.0, -1.0, 0.0]
RESISTORS_25_100_200_OHM = [-1 / 3, 1 / 3, 0.6]


@pytest.mark.parametrize(
    ("standards", "published"),
    [(OPEN_SHORT_LOAD, 1.2e-3), (OPEN_SHORT_LOAD + RESISTORS_25_100_200_OHM, 6.6e-4)],
)
def test_noise_of_the_standards_reaches_the_device_as_published(
    standards: list[float], published: float
) -> None:
    """1e-3 complex noise on each standard: 1.2e-3 rms with three, 6.6e-4 with six.

    Source: scikit-rf 2.2.0 [run]. Two digits are given, and not which six: five per cent here,
    with an open, a short, a load and three resistors.
    """
    random = np.random.default_rng(11)
    points = 20_000
    terms = ErrorTerms(
        np.arange(float(points)),
        np.full(points, 0.06 - 0.05j),
        np.full(points, 0.10 + 0.08j),
        np.full(points, 0.85 - 0.20j),
    )
    actual = np.repeat(np.array(standards, dtype=complex)[:, None], points, axis=1)
    noise = 1e-3 / np.sqrt(2) * complex_random(random, len(standards), points)
    found = solve(terms.frequency_hz, embed(terms, actual) + noise, actual)
    device = np.full(points, 0.2 * np.exp(1j * np.radians(40)))
    error = correct(found, embed(terms, device)) - device
    assert float(np.sqrt(np.mean(np.abs(error) ** 2))) == pytest.approx(published, rel=0.05)


def test_two_standards_are_too_few() -> None:
    with pytest.raises(CalibrationError, match="three standards or more, not 2"):
        solve([1e9], [[1.0], [-1.0]], [[1.0], [-1.0]])


@pytest.mark.parametrize("more", [[], [[0.9j]]])
def test_standards_that_are_truly_alike_have_no_solution(more: list[list[complex]]) -> None:
    alike = [[1.0], [1.0], [0.0]] + ([[1.0]] if more else [])
    with pytest.raises(CalibrationError, match=r"cannot be told apart at 1000\.000 MHz"):
        solve([1e9], np.array(alike) * 0.8, alike)


def test_shapes_that_differ_are_refused() -> None:
    with pytest.raises(CalibrationError, match="one reading and one known value a frequency"):
        solve([1e9, 2e9], [[1.0], [-1.0], [0.0]], [[1.0], [-1.0], [0.0]])


def test_a_point_that_was_not_measured_stays_so_and_spoils_no_other() -> None:
    terms = ErrorTerms(np.arange(3.0), np.zeros(3), np.full(3, 0.1), np.ones(3) + 0j)
    found = correct(terms, np.array([0.5, complex(np.nan, np.nan), np.inf]))
    assert np.isfinite(found).tolist() == [True, False, False]
