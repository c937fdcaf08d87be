"""Error terms between the calibrated frequencies."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.coverage.spans import continuous_spans
from acquire.sweep import SweepRequest
from calibration.error_terms.interpolation import (
    complex_cubic,
    leave_one_out,
    polar_cubic,
    same_grid,
    terms_at,
)
from calibration.error_terms.one_port import ErrorTerms
from calibration.errors import RangeError


def delayed(frequency_hz: np.ndarray, delay_s: float, size: float = 1.0) -> np.ndarray:
    return size * np.exp(-2j * np.pi * frequency_hz * delay_s)


def terms_on(frequency_hz: np.ndarray, tracking_delay_s: float = 4e-9) -> ErrorTerms:
    return ErrorTerms(
        frequency_hz,
        delayed(frequency_hz, 0.5e-9, 0.05),
        delayed(frequency_hz, 0.7e-9, 0.1),
        delayed(frequency_hz, tracking_delay_s, 0.8),
    )


@pytest.mark.parametrize(("degrees", "published"), [(36, 0.05), (86, 0.27)])
def test_tracking_as_real_and_imaginary_parts_would_cost_dearly(
    degrees: float, published: float
) -> None:
    """Linear in the parts loses 5 % at 36 degrees a step, 27 % at 86.

    Source: [run]; 1 - cos(half the step) [derived]. Magnitude and unwrapped phase is exact.
    """
    step_hz, delay_s = 10e6, degrees / 360 / 10e6
    f = 1e9 + step_hz * np.arange(21)
    between = f[:-1] + step_hz / 2
    values = delayed(f, delay_s)
    in_parts = np.interp(between, f, values.real) + 1j * np.interp(between, f, values.imag)
    assert np.abs(in_parts - delayed(between, delay_s)).max() == pytest.approx(published, abs=0.005)
    assert np.abs(polar_cubic(f, values, between) - delayed(between, delay_s)).max() < 1e-11


def test_directivity_is_best_interpolated_as_a_complex_cubic() -> None:
    """A two-path directivity on a 20 MHz grid: .033 polar, .006 linear complex, .0014 cubic.

    Source: [run]. Two equal paths of 0.05 with 0.5 and 8 ns give these three figures.
    """

    def directivity(f: np.ndarray) -> np.ndarray:
        return delayed(f, 0.5e-9, 0.05) + delayed(f, 8e-9, 0.05)

    f = np.arange(700e6, 2700e6 + 1, 20e6)
    fine = np.linspace(700e6, 2700e6, 4001)
    truth, values = directivity(fine), directivity(f)
    polar = np.interp(fine, f, np.abs(values)) * np.exp(
        1j * np.interp(fine, f, np.unwrap(np.angle(values)))
    )
    linear = np.interp(fine, f, values.real) + 1j * np.interp(fine, f, values.imag)
    assert np.abs(polar - truth).max() == pytest.approx(0.033, abs=0.0005)
    assert np.abs(linear - truth).max() == pytest.approx(0.006, abs=0.0005)
    assert np.abs(complex_cubic(f, values, fine) - truth).max() == pytest.approx(0.0014, abs=5e-5)


def test_other_points_get_the_terms_that_hold_there() -> None:
    f, other = np.linspace(700e6, 2700e6, 201), np.linspace(800e6, 2600e6, 241)
    found = terms_at(terms_on(f), other, [(700e6, 2700e6)])
    truth = terms_on(other)
    assert found.frequency_hz.tolist() == other.tolist(), "as many points out as in"
    np.testing.assert_allclose(found.directivity, truth.directivity, atol=1e-6)
    np.testing.assert_allclose(found.source_match, truth.source_match, atol=1e-6)
    np.testing.assert_allclose(found.reflection_tracking, truth.reflection_tracking, atol=1e-11)


def test_a_calibrated_frequency_gets_its_terms_untouched_whatever_lies_around() -> None:
    """No spline, no span and no limit on the phase: nothing is interpolated."""
    terms = terms_on(np.linspace(700e6, 2700e6, 21), tracking_delay_s=40e-9)
    found = terms_at(terms, terms.frequency_hz, [])
    np.testing.assert_array_equal(found.reflection_tracking, terms.reflection_tracking)
    part = terms_at(terms, terms.frequency_hz[3:9], [])
    np.testing.assert_array_equal(part.directivity, terms.directivity[3:9])


def test_frequencies_match_within_a_hertz_and_not_bit_for_bit() -> None:
    f = np.linspace(700e6, 2700e6, 21)
    assert same_grid(f, f + 0.001)
    assert same_grid(f, f * (1 + 3e-10))
    assert not same_grid(f, f + 10)
    assert not same_grid(f, f[:-1])
    terms = terms_on(f, tracking_delay_s=40e-9)
    found = terms_at(terms, f + 0.001, [])
    np.testing.assert_array_equal(found.reflection_tracking, terms.reflection_tracking)


@pytest.mark.parametrize("asked", [699e6, 2701e6, 1500e6])
def test_a_frequency_outside_the_calibrated_spans_is_refused_by_name(asked: float) -> None:
    f = np.concatenate([np.linspace(700e6, 1000e6, 31), np.linspace(2000e6, 2700e6, 71)])
    spans = [(700e6, 1000e6), (2000e6, 2700e6)]
    with pytest.raises(RangeError) as caught:
        terms_at(
            terms_on(f), np.array([705e6, asked]) if asked > 705e6 else np.array([asked]), spans
        )
    assert f"{asked / 1e6:.0f} MHz was not calibrated" in str(caught.value)
    assert "700 to 1000 MHz, 2000 to 2700 MHz" in str(caught.value)


def test_nothing_is_carried_across_a_range_step_of_the_unit() -> None:
    """The unit switches range at 1500 MHz: another tracking there, and no ringing around it."""
    f = np.linspace(1000e6, 2000e6, 101)
    terms = terms_on(f)
    jumped = np.where(f > 1500e6, -0.5, 1.0) * terms.reflection_tracking
    terms = ErrorTerms(f, terms.directivity, terms.source_match, jumped)
    spans = [(1000e6, 1500e6), (1500e6, 2000e6)]
    others = np.array([1483e6, 1488e6, 1512e6, 1517e6])
    found = terms_at(terms, others, spans)
    truth = np.where(others > 1500e6, -0.5, 1.0) * delayed(others, 4e-9, 0.8)
    np.testing.assert_allclose(found.reflection_tracking, truth, atol=1e-10)
    for between in (1495e6, 1505e6):
        with pytest.raises(RangeError, match=f"{between / 1e6:.0f} MHz was not calibrated"):
            terms_at(terms, np.array([between]), spans)


@pytest.mark.parametrize(("degrees", "refused"), [(85, False), (95, True), (170, True)])
def test_a_phase_that_turns_over_90_degrees_a_step_is_refused(
    degrees: float, refused: bool
) -> None:
    f = np.linspace(700e6, 2700e6, 101)
    terms = terms_on(f, tracking_delay_s=degrees / 360 / 20e6)
    other = np.array([711e6])
    if not refused:
        found = terms_at(terms, other, [(700e6, 2700e6)])
        assert (
            abs(
                found.reflection_tracking[0]
                - terms_on(other, degrees / 360 / 20e6).reflection_tracking[0]
            )
            < 1e-9
        )
        return
    with pytest.raises(
        RangeError, match=f"turns {degrees} degrees .* more points or a shorter cable"
    ):
        terms_at(terms, other, [(700e6, 2700e6)])


def test_leaving_one_out_foretells_more_than_interpolation_errs() -> None:
    """The hole is twice the step, so the figure bounds the error in between [derived]."""

    def made(f: np.ndarray) -> ErrorTerms:
        two_paths = delayed(f, 0.5e-9, 0.05) + delayed(f, 8e-9, 0.05)
        return ErrorTerms(f, two_paths, two_paths, delayed(f, 4e-9, 0.8) * (1 + two_paths))

    f, between = np.arange(700e6, 2700e6 + 1, 20e6), np.arange(750e6, 2651e6, 20e6)
    left_out = leave_one_out(made(f), [(700e6, 2700e6)])
    found, truth = terms_at(made(f), between, [(700e6, 2700e6)]), made(between)
    for name in ("directivity", "source_match", "reflection_tracking"):
        predicted = getattr(left_out, name)
        assert predicted.shape == f.shape
        error = np.abs(getattr(found, name) - getattr(truth, name))
        assert error.max() < predicted.max() < 0.1


def test_leaving_one_out_is_silent_about_a_span_too_short_to_tell() -> None:
    f = np.array([700e6, 710e6, 720e6, 730e6, 1000e6, 1010e6, 1020e6, 1030e6, 1040e6])
    left_out = leave_one_out(terms_on(f), [(700e6, 730e6), (1000e6, 1040e6)])
    assert np.isnan(left_out.directivity).tolist() == [True] * 4 + [False] * 5


def test_the_spans_of_a_units_passes_and_range_steps_are_understood() -> None:
    """Two passes that follow each other, a gap, and a range step inside the first stretch."""
    passes = [
        SweepRequest(700e6, 900e6, 41),
        SweepRequest(905e6, 1105e6, 41),
        SweepRequest(1700e6, 1900e6, 41),
    ]
    spans = continuous_spans(passes, range_steps_hz=[800e6])
    terms = terms_on(np.concatenate([each.grid_hz() for each in passes]))
    for good in (752e6, 902e6, 1752e6):
        found = terms_at(terms, np.array([good]), spans)
        assert abs(found.reflection_tracking[0] - delayed(np.array([good]), 4e-9, 0.8)[0]) < 1e-9
    for bad in (797e6, 803e6, 1200e6):
        with pytest.raises(RangeError, match=f"{bad / 1e6:.0f} MHz was not calibrated"):
            terms_at(terms, np.array([bad]), spans)
