"""How well a connector repeats: the same standard taken off and put on again, n times.

With n takes G_k of one standard, corrected, the scatter of one making is

    s^2 = sum |G_k - mean|^2 / (n - 1)

pooled over the neighbouring frequencies, which a making moves alike, and widened by Student's t
for few takes with n - 1 degrees of freedom: one making is one draw, whatever the number of points
swept (a nut mostly varies along one line of the complex plane, so its two components count once).
The noise of the readings is in it, which makes it a little too large and never too small.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.calibration_budget import few_sweeps
from calibration.capture.neighbour_mean import mean_between
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.interpolation import points_by_span, same_grid
from calibration.error_terms.one_port import correct
from calibration.errors import CalibrationError
from calibration.evidence import ConnectionRepeats
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import GOOD_LOAD_CONNECTION, GOOD_LOAD_DB, Assumptions

LEAST_TAKES = 3
"""Two takes give a scatter that is 6.5 times too uncertain [table: Student's t]."""
LEAST_REMADE = LEAST_TAKES - 1
"""So often a standard is made anew, where the making it was calibrated by counts as well."""
OWN_TAKE_WITHIN = timedelta(hours=1)
"""Later than that after calibrating, what differs may have drifted."""
POOLED_SHARE = 0.05
"""Share of a frequency within which a making moves the reading alike [practice]."""
UNLIKE_STANDARD_FACTOR = 0.2
"""Takes that differ by so much are not one standard connected again, but another one."""


@dataclass(frozen=True, slots=True, eq=False)
class Repeatability:
    """What one making of the connector differs from the next by."""

    standard: str
    takes: int
    frequency_hz: FloatArray
    """Shape (points,), the calibration's grid."""
    scatter: FloatArray
    """rms of one making, pooled, linear, as seen, shape (points,)."""
    rms: FloatArray
    """The same widened for few takes: the budget's `connection_rms`, shape (points,)."""

    @property
    def words(self) -> str:
        """One sentence with the numbers."""
        at = int(np.argmax(self.rms))
        return (
            f"{self.takes} makings of the {self.standard} scatter by {self.scatter.min():.2g} to "
            f"{self.scatter.max():.2g} rms; counted as {self.rms[at]:.2g} at "
            f"{self.frequency_hz[at] / 1e6:.6g} MHz, for so few."
        )


def repeatability(calibration: Calibration, takes: Sequence[StandardReading]) -> Repeatability:
    """Work out the scatter of one making from takes of the same standard.

    takes : three or more, raw, as `StandardCapture` gives them, each with the standard taken off
        and put on again in between; on the calibration's grid. Any standard will do, and none
        needs to be known.
    Raises CalibrationError for too few takes, another grid, or takes that are not one standard.
    """
    if len(takes) < LEAST_TAKES:
        raise CalibrationError(
            f"{len(takes)} makings say too little of the next one. Take the standard off and put "
            f"it on again, {LEAST_TAKES} times or more; 5 do well."
        )
    name = takes[0].name
    for each in takes:
        if each.name != name:
            raise CalibrationError(
                f"The makings are of a {name} and of a {each.name}. Use the same one every time."
            )
        if not same_grid(each.frequency_hz, calibration.frequency_hz):
            raise CalibrationError(
                f"A making of the {name} was swept at other frequencies than the calibration. "
                f"Sweep the frequencies that were calibrated."
            )
    corrected = np.array([correct(calibration.terms, each.reflection) for each in takes])
    _require_one_standard(name, calibration.frequency_hz, corrected)
    square = np.sum(np.abs(corrected - corrected.mean(axis=0)) ** 2, axis=0) / (len(takes) - 1)
    scatter = np.sqrt(_pooled(calibration, square))
    wider = few_sweeps(len(takes))
    return Repeatability(name, len(takes), calibration.frequency_hz, scatter, wider * scatter)


def with_own_take(calibration: Calibration, repeats: ConnectionRepeats) -> list[StandardReading]:
    """The makings of a standard, that which it was calibrated by among them where it is young."""
    own = calibration.readings.get(repeats.standard)
    late = repeats.taken_at - calibration.taken_at > OWN_TAKE_WITHIN
    return [*([] if own is None or late else [own]), *repeats.takes]


def rms_between(calibration: Calibration, takes: Sequence[StandardReading]) -> FloatArray:
    """Scatter of makings, widened for so few, shape (points,); as `repeatability`, and 0 of one."""
    if len(takes) == 1:
        return np.zeros(calibration.frequency_hz.size)
    corrected = np.array([correct(calibration.terms, each.reflection) for each in takes])
    square = np.sum(np.abs(corrected - corrected.mean(axis=0)) ** 2, axis=0) / (len(takes) - 1)
    return np.asarray(few_sweeps(len(takes)) * np.sqrt(_pooled(calibration, square)))


def connection_advice(calibration: Calibration, assumptions: Assumptions) -> tuple[str, ...]:
    """One sentence where the load is so good that the connector ought to be measured; else none."""
    stated_db = assumptions.load_stated_db(calibration.kit.load_return_loss_db)
    if (
        assumptions.connection is not None
        or calibration.evidence.connection_repeats
        or stated_db is None
        or stated_db <= GOOD_LOAD_DB
    ):
        return ()
    return (
        f"The load is stated as {stated_db:g} dB, and how well the connector repeats is not known: "
        f"{GOOD_LOAD_CONNECTION:g} at 1 GHz is assumed. Make the short anew, twice (`bandwright "
        f"verify --remake short --times {LEAST_REMADE}`): that also shows a short that was loose.",
    )


def _require_one_standard(name: str, frequency_hz: FloatArray, takes: ComplexArray) -> None:
    if not np.isfinite(takes).all():
        raise CalibrationError(
            f"A making of the {name} has points that were not measured. Sweep it again."
        )
    apart = np.abs(takes - np.median(takes.real, axis=0) - 1j * np.median(takes.imag, axis=0))
    number, at = np.unravel_index(int(np.argmax(apart)), apart.shape)
    if apart[number, at] > UNLIKE_STANDARD_FACTOR:
        raise CalibrationError(
            f"Making {number + 1} of the {name} differs from the others by "
            f"{apart[number, at]:.2g} at {frequency_hz[at] / 1e6:.6g} MHz: something else was on, "
            f"or the nut was loose. Take that one again."
        )


def _pooled(calibration: Calibration, square: FloatArray) -> FloatArray:
    """Mean of the neighbours within `POOLED_SHARE`, never across a step of the analyzer's range."""
    frequency = calibration.frequency_hz
    pooled = square.copy()
    for inside in points_by_span(frequency, calibration.spans):
        if not inside.size:
            continue
        here = frequency[inside]
        first = np.searchsorted(here, here * (1 - POOLED_SHARE))
        last = np.searchsorted(here, here * (1 + POOLED_SHARE), side="right")
        pooled[inside] = mean_between(square[inside], first, last)
    return pooled
