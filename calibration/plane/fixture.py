"""A fixture between connector and feed, known by its two-port Touchstone file.

Only what a passive fixture can be is undone: passive, no more comes out than goes in (no singular
value of S above 1), and reciprocal, the same both ways (S21 = S12). A file that is neither was
measured badly, or is an amplifier's.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from acquire.touchstone.reader import TwoPortFile
from calibration.error_terms.interpolation import (
    LARGEST_TURN_DEG,
    complex_cubic,
    largest_turn,
    polar_cubic,
)
from calibration.error_terms.one_port import ErrorTerms
from calibration.errors import PlaneError, RangeError
from calibration.plane.reference_plane import PIGTAIL_CAUSE, Moved, carried
from calibration.uncertainty.budget import Budget, Contribution, Origin
from calibration.uncertainty.sensitivity import through_terms

MOST_GAIN = 1.005
"""Largest singular value of a passive two-port, as it may be measured."""
MOST_ASYMMETRY = 0.01
"""Furthest that S21 and S12 of a reciprocal one may lie apart, as measured, linear."""
LEAST_THROUGH = 0.1
"""20 dB one way: behind that nothing can be told."""
ASSUMED_ERROR = 0.005
"""How far each parameter may be off where nothing is stated, linear: as a standard's data."""


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Fixture:
    """A two-port by its scattering parameters, checked to be passive and reciprocal."""

    words: str
    """As "the fixture of clamp.s2p"."""
    data: TwoPortFile
    turned: bool = False
    """True where the file's port 2 is the one at the connector."""
    error: float = ASSUMED_ERROR
    """How far each parameter may be off, linear, about 95 %."""
    error_origin: Origin = "assumed"

    def __post_init__(self) -> None:
        matrix, frequency = self.data.matrix, self.data.frequency_hz
        if frequency.size < 2:
            raise PlaneError(f"{self.words}: a fixture's file needs two points or more.")
        gain = np.linalg.norm(matrix, ord=2, axis=(1, 2))
        at = int(np.argmax(gain))
        if gain[at] > MOST_GAIN:
            raise PlaneError(
                f"{self.words}: at {frequency[at] / 1e6:.6g} MHz more comes out than goes in "
                f"({gain[at]:.4g} times, at most {MOST_GAIN:g} as measured), so it is not passive. "
                "Measure it again, or take the file of the fixture and not of an amplifier."
            )
        apart = np.abs(matrix[:, 0, 1] - matrix[:, 1, 0])
        at = int(np.argmax(apart))
        if apart[at] > MOST_ASYMMETRY:
            raise PlaneError(
                f"{self.words}: at {frequency[at] / 1e6:.6g} MHz S21 and S12 lie {apart[at]:.2g} "
                f"apart, more than {MOST_ASYMMETRY:g}, so it is not the same both ways. Measure it "
                "again; of cables, adapters and clamps both are alike."
            )
        through = np.abs(self._tracking()) ** 0.5
        at = int(np.argmin(through))
        if through[at] < LEAST_THROUGH:
            raise PlaneError(
                f"{self.words}: only {through[at]:.2g} of the wave gets through at "
                f"{frequency[at] / 1e6:.6g} MHz, and behind that nothing can be told."
            )
        turn, at = largest_turn(self._tracking())
        if turn > LARGEST_TURN_DEG:
            raise PlaneError(
                f"{self.words}: the way there and back turns {turn:.0f} degrees from "
                f"{frequency[at] / 1e6:.6g} MHz to the next point, more than "
                f"{LARGEST_TURN_DEG:.0f}. Export it with more points."
            )
        if not 0 <= self.error <= 0.2:
            raise PlaneError(
                f"{self.words}: its error is a linear figure from 0 to 0.2, such as 0.005."
            )

    def _tracking(self) -> ComplexArray:
        both: ComplexArray = self.data.matrix[:, 0, 1] * self.data.matrix[:, 1, 0]
        return both

    def two_port(self, frequency_hz: FloatArray) -> ErrorTerms:
        """The three terms, interpolated. Raises RangeError outside of the file."""
        known = self.data.frequency_hz
        if frequency_hz[0] < known[0] - 1 or frequency_hz[-1] > known[-1] + 1:
            raise RangeError(
                f"{self.words} is known from {known[0] / 1e6:.6g} to {known[-1] / 1e6:.6g} "
                f"MHz, and the sweep from {frequency_hz[0] / 1e6:.6g} to "
                f"{frequency_hz[-1] / 1e6:.6g}. "
                "Measure it over all of that."
            )
        at = np.clip(frequency_hz, known[0], known[-1])
        near, far = (1, 0) if self.turned else (0, 1)
        return ErrorTerms(
            frequency_hz,
            complex_cubic(known, self.data.matrix[:, near, near], at),
            complex_cubic(known, self.data.matrix[:, far, far], at),
            polar_cubic(known, self._tracking(), at),
        )

    def moved(self, budget: Budget) -> Moved:
        """The fixture undone; each of its parameters may be off by its error, phase unknown."""
        terms = self.two_port(budget.frequency_hz)
        through = 2 * np.sqrt(np.abs(terms.reflection_tracking))  # S21 and S12 are off alike
        by_s11, by_both, by_s22 = through_terms(terms)
        words = f"{self.error:g} of each parameter {self.error_origin}"
        parts = (("S11", by_s11), ("S21", through * by_both), ("S22", by_s22))
        added = tuple(
            Contribution(
                f"the fixture's {name}",
                self.error_origin,
                words,
                True,
                self.error * part,
                PIGTAIL_CAUSE,
            )
            for name, part in parts
        )
        listed = tuple(carried(each, terms) for each in budget.contributions)
        return Moved(terms, replace(budget, contributions=(*listed, *added)))
