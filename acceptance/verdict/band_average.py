"""How far a band's average return loss can be trusted.

What is wrong with a calibration is wrong alike across a band, so that averaging makes it no less;
only noise averages out.
"""

from __future__ import annotations

import math

import numpy as np

from acceptance.bands.band_table import Span
from acceptance.limits.match import one_return_loss_db
from acquire.sweep import ComplexArray
from calibration.uncertainty.covariance import covariance, of_average_power, uncertainty_of
from calibration.uncertainty.interval import Interval


def average_interval_db(
    interval: Interval, reflection: ComplexArray, span: Span
) -> tuple[float, float] | None:
    """Least and greatest average return loss that a band may have, about 95 %, dB.

    interval : of the reading. reflection : it, shape (points,). span : the band, Hz; its average
    is over the points inside. The greatest is infinite where it may reflect nothing; None where
    nothing is known of the causes, or of a point, or fewer than two points lie inside.
    """
    if interval.budget is None:
        return None
    inside = slice(*np.searchsorted(interval.frequency_hz, [span[0] - 1, span[1] + 1]).tolist())
    if inside.stop - inside.start < 2:
        return None
    power, quantity = of_average_power(interval.budget, reflection, inside)
    unsure = uncertainty_of(quantity)
    if not math.isfinite(power + unsure):
        return None
    # whichever way an error points, it adds its own power: (|G| +- a)^2 = |G|^2 +- 2 a |G| + a^2
    own = covariance(interval.budget, reflection)
    scattered = float(np.mean((own[:, 0, 0] + own[:, 1, 1])[inside]))
    most = math.sqrt(power + scattered + unsure)
    # what is no larger than its own error may be nothing
    least = math.sqrt(max(power + scattered - unsure, 0.0)) if power > scattered else 0.0
    return one_return_loss_db(most), one_return_loss_db(least)
