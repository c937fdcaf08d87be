"""A standard connected twice: do the two readings agree within what a joint made anew changes?

A load that hangs loose reads like a load. Off and on again it hangs otherwise; nothing else on the
bench has to be known for that. What stays as wrong as it was, a 75 ohm load, is not seen so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.calibration_budget import budget_of
from calibration.capture.neighbour_mean import largest_mean
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import correct
from calibration.one_port_calibration import Calibration
from calibration.standards.agreement import HAND_TIGHTENED
from calibration.standards.standard import DataStandard
from calibration.uncertainty.budget import Assumptions
from calibration.uncertainty.ranking import rank_sensitivities
from calibration.verification.term_change import LEAST_EVIDENCE

TEN_DB = 10 ** (-10 / 20)
"""The reflection at which it is asked whether the load decides: the limit of most plans."""
SQUARE_ALLOWED = LEAST_EVIDENCE["load"] * HAND_TIGHTENED**2
"""Mean square, over a window, by which two makings of a load may differ; of an open or a short,
which a joint moves twice as far, four times as much."""


@dataclass(frozen=True, slots=True)
class SecondReading:
    """What connecting a standard once more showed."""

    standard: str
    agrees: bool
    largest: float
    """The largest difference of the two, linear."""
    at_hz: float
    """Where."""


def compare_readings(
    calibration: Calibration, first: StandardReading, second: StandardReading
) -> SecondReading:
    """Compare two readings of one standard, corrected by the calibration.

    first, second : raw, on the calibration's grid, of the standard that `first` names.
    """
    terms = calibration.terms
    change = correct(terms, second.reflection) - correct(terms, first.reflection)
    is_load = calibration.kit.standards[first.name].kind == "load"
    allowed = SQUARE_ALLOWED * (1 if is_load else 4)
    size = np.abs(change)
    at = int(np.argmax(size))
    mean = largest_mean(calibration.frequency_hz, size**2)
    return SecondReading(
        first.name, mean <= allowed, float(size[at]), float(calibration.frequency_hz[at])
    )


def load_decides(calibration: Calibration, assumptions: Assumptions) -> bool:
    """True where the load carries a verdict: it is assumed, or counts most at 10 dB somewhere."""
    kit = calibration.kit
    stated = assumptions.load_db is not None or kit.load_return_loss_db is not None
    if not stated and not isinstance(kit.standards["load"], DataStandard):
        return True
    f = calibration.frequency_hz
    stretches = [((float(f[0]), float(f[-1])), TEN_DB)]
    budget = budget_of(calibration, assumptions)
    return any(each.dominating == "the load" for each in rank_sensitivities(budget, stretches))
