"""The budget of a calibration, or of a file that somebody else calibrated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from acquire.sweep import ComplexArray, FloatArray
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.interpolation import (
    leave_one_out,
    points_by_span,
    same_grid,
    tolerance_hz,
)
from calibration.error_terms.one_port import ErrorTerms
from calibration.one_port_calibration import Calibration
from calibration.standards.definition import definition_of
from calibration.standards.standard import CoefficientStandard, Standard
from calibration.uncertainty.budget import (
    Assumptions,
    Budget,
    Contribution,
    Origin,
)
from calibration.uncertainty.sensitivity import lagrange, through_terms

UNKNOWN_INTERPOLATION = 0.01
"""What leaving a point out is taken to show where there are too few points to leave one out."""


def budget_of(
    calibration: Calibration,
    assumptions: Assumptions,
    *,
    age_s: float = 0.0,
    swept: int = 0,
    sweeps: int = 1,
    connection_rms: FloatArray | None = None,
    frequency_hz: FloatArray | None = None,
) -> Budget:
    """Say what can be wrong with a reading corrected by a calibration.

    age_s : seconds since the calibration; swept : sweeps taken since.
    sweeps : how many sweeps the reading averages; their noise is taken to be what calibrating
        showed, `with_noise` puts what they showed themselves in its place.
    connection_rms : measured repeatability of the connector, rms, linear, shape (points,) on
        the calibration's grid; None takes the assumption.
    frequency_hz : grid of the reading; None is the calibration's own. On another one the
        sizes are interpolated between the calibrated points, and interpolation itself counts.
    """
    grid, kit = calibration.frequency_hz, calibration.kit
    standards = {name: kit.standards[name] for name in calibration.readings}
    basis = _Basis.of(calibration.terms, standards)
    listed = [
        *_definitions(basis, assumptions, kit.load_return_loss_db),
        *_connections(basis, assumptions, kit.load_return_loss_db, connection_rms),
        *_noise(basis, calibration.readings, sweeps),
        *drift(calibration.terms, assumptions, age_s, swept),
        _cable(grid, assumptions),
    ]
    return on_grid(Budget(grid, tuple(listed)), calibration, frequency_hz)


def on_grid(budget: Budget, calibration: Calibration, frequency_hz: FloatArray | None) -> Budget:
    """A budget on the calibration's grid, taken to a reading's; interpolation then counts too.

    frequency_hz : shape (points,); None, or the calibration's own, changes nothing.
    """
    if frequency_hz is None or same_grid(frequency_hz, calibration.frequency_hz):
        return budget
    listed = [*budget.contributions, *_interpolation(calibration)]
    moved = tuple(_moved(each, calibration, frequency_hz) for each in listed)
    return Budget(np.asarray(frequency_hz, dtype=np.float64), moved, interpolated=True)


def budget_of_file(frequency_hz: FloatArray, assumptions: Assumptions) -> Budget:
    """Say what can be wrong with a file's readings, of whose calibration nothing is known.

    It is taken to have been made with an open, a short and a load as `assumptions` describes
    modelled ones; noise and drift are in no file, and are left out.
    """
    one = np.ones(frequency_hz.shape, dtype=np.complex128)
    perfect = ErrorTerms(frequency_hz, 0 * one, 0 * one, one)
    standards: dict[str, Standard] = {
        kind: CoefficientStandard(kind=kind) for kind in ("open", "short", "load")
    }
    basis = _Basis.of(perfect, standards)
    listed = (
        *_definitions(basis, assumptions, None),
        *_connections(basis, assumptions, None, None),
        _cable(frequency_hz, assumptions),
    )
    return Budget(frequency_hz, listed)


@dataclass(frozen=True, slots=True, eq=False)
class _Basis:
    """What every contribution through a standard is worked out from."""

    terms: ErrorTerms
    standards: Mapping[str, Standard]
    actual: Mapping[str, ComplexArray]
    """What each standard is said to reflect, shape (points,)."""
    weights: Mapping[str, ComplexArray]
    """Lagrange coefficients of each, shape (3, points)."""

    @classmethod
    def of(cls, terms: ErrorTerms, standards: Mapping[str, Standard]) -> _Basis:
        actual = {name: each.reflection(terms.frequency_hz) for name, each in standards.items()}
        return cls(terms, standards, actual, lagrange(terms, actual))


def _definitions(
    basis: _Basis, assumptions: Assumptions, kit_load_db: float | None
) -> Sequence[Contribution]:
    frequency = basis.terms.frequency_hz
    stated_db = assumptions.load_stated_db(kit_load_db)
    found = []
    for name, weight in basis.weights.items():
        standard = basis.standards[name]
        stated = stated_db if name == "load" else None  # of any other load nobody said anything
        known = definition_of(standard, frequency, assumptions, stated)
        size = known.size
        if known.turn is not None:
            # A exp(j turn) - A = A (j sin(turn) - (1 - cos(turn))): across what it reflects, and
            # the little that is along it is bounded with the rest
            across = np.where(known.turn < np.pi / 2, np.sin(known.turn), 1.0)
            found.append(
                Contribution(
                    f"the {name}'s plane",
                    known.origin,
                    known.words,
                    True,
                    1j * across * basis.actual[name] * weight,
                    "open and short",
                    part="definition",
                    direction_known=True,
                )
            )
            size = np.hypot(1 - np.cos(known.turn), known.size)
        cause = "the load" if standard.kind == "load" else "open and short"
        found.append(
            Contribution(
                f"the {name}'s definition",
                known.origin,
                known.words,
                True,
                size * weight,
                cause,
                part="definition",
            )
        )
    return found


def _connections(
    basis: _Basis,
    assumptions: Assumptions,
    kit_load_db: float | None,
    measured: FloatArray | None,
) -> Sequence[Contribution]:
    """Independent makings of the connector: their variances add, so one contribution each."""
    frequency = basis.terms.frequency_hz
    at_1_ghz = assumptions.connection_behind(assumptions.load_stated_db(kit_load_db))
    rms = at_1_ghz * np.maximum(frequency / 1e9, 0.1)
    origin: Origin = "assumed"
    if measured is not None:
        rms, origin = measured, "measured"
    words = f"{origin} repeatability of the connector"
    sigma = rms / np.sqrt(2)
    one = np.zeros((3, frequency.size), dtype=np.complex128)
    one[0] = sigma
    made = [(name, sigma * weight) for name, weight in basis.weights.items()]
    return [
        Contribution(
            f"connecting the {name}",
            origin,
            words,
            False,
            weighted,
            "the connector",
            anew=name == "antenna",
        )
        for name, weighted in [*made, ("antenna", one)]
    ]


def with_noise(budget: Budget, calibration: Calibration, noise: FloatArray, sweeps: int) -> Budget:
    """The budget with the noise that a reading's own sweeps showed.

    budget : of that calibration, taken to the reading's grid by `on_grid`.
    noise : their raw scatter, rms of one sweep, linear, shape (points,), on the budget's grid.
    sweeps : how many the reading averages.
    """
    rms = noise / np.sqrt(2 * sweeps)
    words = f"scatter of the {sweeps} sweeps averaged"
    one = _reading_noise(calibration.terms, np.ones(calibration.frequency_hz.size), words)
    if budget.interpolated:
        one = _moved(one, calibration, budget.frequency_hz)
    rest = budget.without("reading noise")
    own = replace(one, coefficients=rms * one.coefficients)
    return replace(rest, contributions=(*rest.contributions, own))


def _reading_noise(terms: ErrorTerms, rms: FloatArray, words: str) -> Contribution:
    through = rms * through_terms(terms)[0]
    return Contribution(
        "noise in this reading",
        "measured",
        words,
        False,
        through,
        "noise",
        anew=True,
        part="reading noise",
    )


def _noise(
    basis: _Basis, readings: Mapping[str, StandardReading], sweeps: int
) -> Sequence[Contribution]:
    terms = basis.terms
    found = []
    levels = []
    for name, actual in basis.actual.items():
        reading = readings[name]
        if reading.noise is None:
            continue
        levels.append(reading.noise)
        referred = np.abs((1 - terms.source_match * actual) ** 2 / terms.reflection_tracking)
        sigma = reading.noise * few_sweeps(reading.sweeps) * referred / np.sqrt(2 * reading.sweeps)
        words = f"scatter of {reading.sweeps} sweeps"
        weighted = sigma * basis.weights[name]
        found.append(
            Contribution(f"noise in the {name}", "measured", words, False, weighted, "noise")
        )
    if levels:
        rms = np.sqrt(np.mean(np.square(levels), axis=0) / (2 * sweeps))
        words = f"scatter seen while calibrating; the reading averages {sweeps}"
        found.append(_reading_noise(terms, rms, words))
    return found


def few_sweeps(sweeps: int) -> float:
    """How much wider a scatter estimated from few sweeps must be taken: Student's t over normal.

    t at 97.5 % [table: any handbook of statistics], for the degrees of freedom sweeps - 1.
    """
    t = (12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179)
    degrees = max(sweeps - 1, 1)
    return (t[degrees - 1] if degrees <= len(t) else 1.96 + 2.4 / degrees) / 1.96


def drift(
    terms: ErrorTerms,
    assumptions: Assumptions,
    age_s: float,
    swept: int = 0,
    *,
    name: str = "drift",
    since: str = "calibrating",
) -> Sequence[Contribution]:
    """What age and use may have changed: tracking and source match alike, directivity half."""
    hours = abs(age_s) / 3600  # where a clock was set back, by how much is all that is known
    per_sweep = assumptions.drift_per_1000_sweeps / 1000
    size = assumptions.drift_per_hour * hours + per_sweep * swept
    words = f"{assumptions.drift_per_hour:g} an hour assumed, {hours:.1f} h since {since}"
    if swept:
        words += f", {assumptions.drift_per_1000_sweeps:g} a thousand sweeps, {swept} taken"
    return [
        # anew: what has drifted by now had not when something else was read
        Contribution(
            name, "assumed", words, True, least * through, "drift", anew=True, part="drift"
        )
        for least, through in zip((size / 2, size, size), through_terms(terms), strict=True)
    ]


def _cable(frequency: FloatArray, assumptions: Assumptions) -> Contribution:
    coefficients = np.zeros((3, frequency.size), dtype=np.complex128)
    coefficients[1] = assumptions.cable * np.maximum(frequency / 1e9, 0.1)
    words = f"{assumptions.cable:g} of a full reflection at 1 GHz assumed"
    return Contribution("the cable", "assumed", words, True, coefficients, anew=True)


def _interpolation(calibration: Calibration) -> Sequence[Contribution]:
    """A quarter of what leaving a point out shows: the hole is two steps wide, so a cubic's own
    error is a sixteenth of it, and noise, which the figure holds too, hardly less than all. Where
    too few points stand together to leave one out, unknown is not zero."""
    missed = leave_one_out(calibration.terms, calibration.spans)
    parts = (missed.directivity, missed.reflection_tracking, missed.source_match)
    words = "a quarter of what leaving each calibrated point out shows"
    return [
        Contribution(
            "interpolation",
            "measured",
            words,
            True,
            np.nan_to_num(part, nan=UNKNOWN_INTERPOLATION) / 4 * through,
        )
        for part, through in zip(parts, through_terms(calibration.terms), strict=True)
    ]


def _moved(each: Contribution, calibration: Calibration, frequency_hz: FloatArray) -> Contribution:
    """The same contribution on another grid.

    Between calibrated points of one span by size and unwrapped phase: the terms turn with the
    cable, and straight lines between complex numbers would cut the corner. A calibrated point,
    on a range step too, keeps what it has. Where nothing is known, nothing is said: nan.
    """
    grid, slack = calibration.frequency_hz, tolerance_hz(frequency_hz)
    moved = np.full((3, frequency_hz.size), np.nan, dtype=np.complex128)
    for inside in points_by_span(grid, calibration.spans):
        if not inside.size:
            continue
        low_hz, high_hz = grid[inside[0]], grid[inside[-1]]
        here: NDArray[np.bool_] = (low_hz - frequency_hz <= slack) & (
            frequency_hz - high_hz <= slack
        )
        for row in range(3):
            values = each.coefficients[row][inside]
            size = np.interp(frequency_hz[here], grid[inside], np.abs(values))
            phase = np.interp(frequency_hz[here], grid[inside], np.unwrap(np.angle(values)))
            moved[row, here] = size * np.exp(1j * phase)
    nearest = np.clip(np.searchsorted(grid, frequency_hz), 1, grid.size - 1)
    nearest -= frequency_hz - grid[nearest - 1] < grid[nearest] - frequency_hz
    on_it = np.abs(grid[nearest] - frequency_hz) <= slack
    moved[:, on_it] = each.coefficients[:, nearest[on_it]]
    return replace(each, coefficients=moved)
