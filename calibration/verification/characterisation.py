"""A home-made standard, measured against a better kit, becomes one of known error.

What the better kit's budget says at that very reflection (95 % of the complex value: the kit's
definitions, connection, noise, drift) is how well the part is known from then on. The data then
stands for what the part reflects, and the error beside it for what is not known of it:

    [standard.load]
    form = "data"
    kind = "load"
    file = "resistor.s1p"
    error = [0.0041, 0.0042]    # linear, one a point of the file, or one figure for all

A budget takes that error in place of the assumed one, so that a bare socket or a soldered
resistor is as good as this measurement proved, and no better.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping

import numpy as np

from acquire.sweep import Reading
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.interpolation import same_grid
from calibration.error_terms.one_port import correct
from calibration.errors import CalibrationError, StandardError
from calibration.one_port_calibration import Calibration
from calibration.standards.kit import Kit
from calibration.standards.standard import DataStandard, Kind, Standard
from calibration.uncertainty.budget import Budget
from calibration.uncertainty.interval import radius

MOST_ERROR = 0.3
"""A part known no better than this helps nobody."""
FULL_REFLECTION, SMALL_REFLECTION = 0.7, 0.4
"""An open or a short reflects at least, a load at most so much, linear."""


def characterise(
    calibration: Calibration, budget: Budget, reading: StandardReading, kind: Kind
) -> DataStandard:
    """Measure a part as a standard for a kit to come.

    calibration : made with the better kit. budget : of it, on the calibration's own grid, told
        the age and the number of sweeps. reading : of the part, raw, as `StandardCapture` gives
        it; its name is the part's. kind : what it is.
    Returns data on the calibration's grid whose `error`, shape (points,), is what was proven.
    Raises StandardError if it is not of that kind; CalibrationError for another grid, or if the
    better kit is not good enough.
    """
    name, grid = reading.name, calibration.frequency_hz
    if not (same_grid(reading.frequency_hz, grid) and same_grid(budget.frequency_hz, grid)):
        raise CalibrationError(
            f"{name} and the budget must be on the frequencies that were calibrated: a standard is "
            f"not interpolated before it is one. Sweep those."
        )
    reflection = correct(calibration.terms, reading.reflection)
    size = np.abs(reflection)
    if (kind == "load" and size.max() > SMALL_REFLECTION) or (
        kind != "load" and size.min() < FULL_REFLECTION
    ):
        raise StandardError(
            f"{name} reflects {size.min():.2g} to {size.max():.2g}, which is no {kind}. Look what "
            f"is screwed on, and that it is tight.",
            name,
        )
    error = radius(budget, reflection)
    if (worst := float(error.max())) > MOST_ERROR:
        at = int(np.argmax(error))
        raise CalibrationError(
            f"The kit {calibration.kit.name} knows {name} only to {worst:.2g} at "
            f"{grid[at] / 1e6:.6g} MHz. Use a better kit, state its load, or fewer frequencies."
        )
    return DataStandard(kind, Reading(grid, reflection), name, error)


def kit_of(kit: Kit, name: str, characterised: Mapping[str, Standard]) -> Kit:
    """A kit of its own name, in which these standards take the place of the others.

    The load's stated return loss goes with the load it was stated of.
    """
    standards = {**kit.standards, **characterised}
    stated = None if "load" in characterised else kit.load_return_loss_db
    parts = ", ".join(characterised)
    source = f"{parts} measured against the kit {kit.name}; the rest from it"
    return dataclasses.replace(
        kit,
        name=name,
        source=source,
        standards=standards,
        load_return_loss_db=stated,
        load_source="" if stated is None else kit.load_source,
    )


def error_words(standard: DataStandard) -> str:
    """How well a part is known, in one sentence for a person."""
    if standard.error is None:
        return f"{standard.origin}: nothing is stated of its error."
    error = np.broadcast_to(standard.error, standard.reading.frequency_hz.shape)
    at = int(np.argmax(error))
    return (
        f"{standard.origin}: known to {error[at]:.2g} or better ({-20 * np.log10(error[at]):.0f} "
        f"dB), worst at {standard.reading.frequency_hz[at] / 1e6:.6g} MHz."
    )
