"""The ripple of a long line: residual directivity and source match without a certificate.

Over the sweep the phase behind a long line turns round and round, while directivity D and source
match M at the near end hardly change. So the size of the corrected reading swings:

- a small load behind the line, |G| > |D|: between |G| - |D| and |G| + |D|, so that half the
  peak-to-peak is |D|. With |G| < |D| the half-swing is |G| and tells nothing of D;
- a short behind the line: the reading is D + G (1 + M G), so half the swing lies between
  ||M| - |D|| and |M| + |D|, whichever their phase makes it [derived].

The half-swing is taken in a window of at least `TURNS` turns that moves along the sweep. The
line's own match must be better than what is sought: what its two ends reflect adds to D.
Source: the ripple technique of EA-10/12 and EURAMET cg-12 [memory; no conformity is claimed].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.capture.neighbour_mean import mean_between
from calibration.errors import CalibrationError
from calibration.plane.loss import M_PER_S

TURNS = 2.0
"""Turns of phase in one window: at least one maximum and one minimum, wherever it begins."""
POINTS_A_TURN = 8
"""Fewer miss the peak by more than 8 % of the swing [derived: 1 - cos(pi / 8)]."""
MOST_CENTRE = 1.1
"""The complex mean over whole turns is D itself; a swing smaller than it is the load's size."""


@dataclass(frozen=True, slots=True, eq=False)
class Ripple:
    """The swing of |reading| along a sweep."""

    frequency_hz: FloatArray
    """Shape (points,)."""
    mean: FloatArray
    """|reading| in the middle of its swing, linear, shape (points,)."""
    half_swing: FloatArray
    """Half the peak-to-peak of |reading| in the window around each point, linear."""
    centre: FloatArray
    """|mean| of the complex reading over the window, linear: what does not turn."""
    turns: float
    """How often the phase turns over the whole sweep."""


def ripple(frequency_hz: FloatArray, reflection: ComplexArray, delay_s: float) -> Ripple:
    """Measure the swing of a corrected reading of something behind a line.

    reflection : complex, shape (points,), at the connector. delay_s : of the line, one way, s.
    Raises CalibrationError if the line is too short for the sweep, or the points too far apart.
    """
    if not np.isfinite(reflection).all():
        raise CalibrationError("Some points were not measured. Sweep again before judging ripple.")
    span_hz = float(frequency_hz[-1] - frequency_hz[0])
    turns = 2 * delay_s * span_hz
    if turns < TURNS:
        needed_m = TURNS / (2 * span_hz) * M_PER_S
        raise CalibrationError(
            f"Behind this line the phase turns {turns:.2g} times over the sweep; {TURNS:g} are "
            f"needed. Use a longer line (of air: {needed_m:.2g} m), or sweep more."
        )
    step_hz = float(np.diff(frequency_hz).max())
    if 2 * delay_s * step_hz > 1 / POINTS_A_TURN:
        raise CalibrationError(
            f"The points are {step_hz / 1e6:.3g} MHz apart, and the phase turns once in "
            f"{0.5 / delay_s / 1e6:.3g} MHz. Sweep with at least {POINTS_A_TURN} points a turn."
        )
    size = np.abs(reflection)
    width_hz = TURNS / (2 * delay_s)
    low = np.clip(frequency_hz - width_hz / 2, frequency_hz[0], frequency_hz[-1] - width_hz)
    first = np.searchsorted(frequency_hz, low)
    last = np.searchsorted(frequency_hz, low + width_hz, side="right")
    centre = np.abs(mean_between(reflection, first, last))
    most = np.array([size[a:b].max() for a, b in zip(first, last, strict=True)])
    least = np.array([size[a:b].min() for a, b in zip(first, last, strict=True)])
    return Ripple(frequency_hz, (most + least) / 2, (most - least) / 2, centre, turns)


def directivity_from(found: Ripple) -> FloatArray:
    """|D| from the ripple of a small load, linear, shape (points,).

    Raises CalibrationError where the load does not exceed D: the swing is then the load's size,
    and the reading circles beside zero instead of round it.
    """
    at = int(np.argmax(found.centre - MOST_CENTRE * found.half_swing))
    if found.centre[at] > MOST_CENTRE * found.half_swing[at]:
        raise CalibrationError(
            f"At {found.frequency_hz[at] / 1e6:.6g} MHz the reading circles with a radius of "
            f"{found.half_swing[at]:.2g} about {found.centre[at]:.2g}: the load reflects less than "
            f"the directivity sought. Put a load behind the line that reflects more."
        )
    return found.half_swing


def source_match_from(found: Ripple, directivity: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The least and the most |M| can be, from the ripple of a short; linear, shape (points,).

    directivity : |D|, linear, shape (points,), of `directivity_from` or of a budget.
    Half the swing R lies between ||M| - |D|| and |M| + |D|, so |M| lies between |R - |D|| and
    R + |D|.
    """
    least: FloatArray = np.abs(found.half_swing - directivity)
    return least, found.half_swing + directivity
