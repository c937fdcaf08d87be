"""Four or more standards say one thing too many: is each as near to the others as is stated of it?

With A_i + d_i in place of A_i, standard i is left over by

    r_i = sum over j of (1_ij - L_j(A_i)) d_j

in the solution of all of them, L_j as in `calibration.uncertainty.sensitivity` [derived]. Each d_j
is bounded by what is stated of the standard, its phase unknown, and moved at random by the making
of its connection. How far r_i may reach follows from the law of all these parts together
(`calibration.uncertainty.error_sum`), not from the root of their squares: two loads at their bounds
differ by more than that for half of all phases.

One standard too many tells that something is wrong, and hardly what: with four standards any of
them could be the culprit. The one is named that need be wrong by least, against what is stated of
it, and others that are as likely beside it. From five on, what each would leave decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray
from calibration.capture.neighbour_mean import largest_mean
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import ErrorTerms, correct, solve
from calibration.errors import CalibrationError
from calibration.standards.definition import definition_of
from calibration.standards.kit import Kit
from calibration.uncertainty.budget import Assumptions
from calibration.uncertainty.error_sum import RADIAL_95, radius_95
from calibration.uncertainty.sensitivity import EXACT_STANDARDS, lagrange

HAND_TIGHTENED = 0.007
"""What one making of a hand-tightened joint changes a small reflection by, rms, linear; 0.003 to
0.01 is expected of half a turn [practice, unmeasured]."""
FULL_REFLECTION = 2.0
"""How much more a joint moves an open or a short: by its phase, 0 to 4 times [derived]."""
BEYOND_95 = 1.3
"""What holds nearly all of a law whose 95 % is known, never beyond the sum of its bounds."""
LEAST_ALLOWED = 0.005
"""What is left over is told to first order: the square of an ordinary load is as much."""
ALIKE = 1.5
"""Culprits within this factor of each other are not told apart."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """One of four or more standards that contradicts the others."""

    culprit: str
    others: tuple[str, ...]
    """Standards that could be the culprit as well."""
    size: float
    """How far it would have to be off, linear, where that is most."""
    stated: float
    """How far it may be off there by what is stated of it, linear."""
    at_hz: float

    @property
    def words(self) -> str:
        """What was found, in a sentence or two."""
        spoken = self.culprit.replace("-", " ")
        also = ""
        if self.others:
            names = " or ".join(each.replace("-", " ") for each in self.others)
            also = f" The {names} could be the one as well."
        return (
            f"The standards do not agree: at {self.at_hz / 1e6:.1f} MHz the {spoken} would have to "
            f"be off by {self.size:.2g}, and {self.stated:.2g} is stated of it. It was loose, "
            f"confused, or is not what the kit says.{also}"
        )


def disagreement(
    kit: Kit,
    readings: Mapping[str, StandardReading],
    terms: ErrorTerms,
    assumptions: Assumptions,
) -> Disagreement | None:
    """The standard that contradicts the others by more than is stated; None where none does.

    readings : raw, by standard; terms : solved from all of them. With three standards, which are
    always met exactly, this finds nothing.
    """
    if len(readings) <= EXACT_STANDARDS:
        return None
    f, names = terms.frequency_hz, list(readings)
    actual = {name: kit.standards[name].reflection(f) for name in names}
    stated = np.array(
        [
            definition_of(
                kit.standards[name], f, assumptions, _stated_db(kit, name, assumptions)
            ).bound
            for name in names
        ]
    )
    apart = np.array([correct(terms, readings[name].reflection) - actual[name] for name in names])
    passed_on = _passed_on(terms, actual)
    random = np.array([_random(readings[name], actual[name], terms) for name in names])
    bounds = np.abs(passed_on) * stated[None]
    sigma = np.sqrt(np.sum(np.square(np.abs(passed_on) * random[None]), axis=1))
    reach = np.array(
        [
            np.minimum(
                BEYOND_95 * radius_95(each, own), each.sum(axis=0) + BEYOND_95 * RADIAL_95 * own
            )
            for each, own in zip(bounds, sigma, strict=True)
        ]
    )
    allowed: FloatArray = np.maximum(reach, LEAST_ALLOWED)
    if largest_mean(f, np.max(np.square(np.abs(apart) / allowed), axis=0)) <= 1:
        return None
    room = dict(zip(names, stated + RADIAL_95 * random, strict=True))
    return _culprit(f, room, apart, passed_on, allowed)


def loads_words(
    kit: Kit,
    readings: Mapping[str, StandardReading],
    terms: ErrorTerms,
    assumptions: Assumptions,
) -> str:
    """What several loads, or a length beside a load, say of the load; empty where there is neither.

    Loads that agree may be wrong alike: only a length, an offset short or a line, solves for a load
    without taking another one's word.
    """
    f = terms.frequency_hz
    loads = [name for name in readings if kit.standards[name].kind == "load"]
    sentences = []
    if len(loads) > 1:
        read = np.array([correct(terms, readings[name].reflection) for name in loads])
        spread = np.abs(read[:, None] - read[None]).max()
        sentences.append(
            f"The {len(loads)} loads differ by up to {spread:.2g}; what they have in common no "
            "load can show."
        )
    rest = [name for name in readings if name not in loads]
    if len(rest) >= EXACT_STANDARDS and loads:
        actual = {name: kit.standards[name].reflection(f) for name in rest}
        try:
            without = solve(f, [readings[name].reflection for name in rest], list(actual.values()))
        except CalibrationError:  # nowhere far enough apart to solve without a load
            return " ".join(sentences)
        at_nothing = np.abs([each[0] for each in lagrange(without, actual).values()])
        unsure = sum(
            weight * definition_of(kit.standards[name], f, assumptions).bound
            for weight, name in zip(at_nothing, rest, strict=True)
        )
        solved = np.abs(correct(without, readings[loads[0]].reflection))
        at = int(np.argmin(unsure))
        sentences.append(
            f"Solved without it, the {loads[0]} reflects {solved[at]:.2g} at "
            f"{f[at] / 1e6:.0f} MHz, to {np.asarray(unsure)[at]:.2g}."
        )
    return " ".join(sentences)


def _stated_db(kit: Kit, name: str, assumptions: Assumptions) -> float | None:
    if name != "load":  # of any other load nobody said anything
        return None
    return kit.load_return_loss_db if assumptions.load_db is None else assumptions.load_db


def _passed_on(terms: ErrorTerms, actual: Mapping[str, ComplexArray]) -> ComplexArray:
    """1_ij - L_j(A_i): what an error of j does to what is left of i, shape (i, j, points)."""
    weights = lagrange(terms, actual)
    rows = [
        [
            float(name == other) - (weight[0] + known * (weight[1] + known * weight[2]))
            for other, weight in weights.items()
        ]
        for name, known in actual.items()
    ]
    return np.array(rows)


def _random(reading: StandardReading, actual: ComplexArray, terms: ErrorTerms) -> FloatArray:
    """Standard deviation of either component by connection and noise, shape (points,)."""
    more = 1 + (FULL_REFLECTION - 1) * np.minimum(np.abs(actual), 1)
    sigma: FloatArray = HAND_TIGHTENED / np.sqrt(2) * more
    if reading.noise is None:
        return sigma
    referred = np.abs((1 - terms.source_match * actual) ** 2 / terms.reflection_tracking)
    both: FloatArray = np.hypot(sigma, reading.noise * referred / np.sqrt(2 * reading.sweeps))
    return both


def _culprit(
    frequency_hz: FloatArray,
    room: Mapping[str, FloatArray],
    apart: ComplexArray,
    passed_on: ComplexArray,
    allowed: FloatArray,
) -> Disagreement:
    """The standard that, wrong by itself, leaves least and need be wrong by least.

    room : by standard, how far it may be off.
    """
    names, may_be = list(room), list(room.values())
    needed, left = [], []
    for at in range(len(names)):
        column = passed_on[:, at]
        power = np.maximum((np.abs(column) ** 2).sum(axis=0), 1e-12)
        error = (column.conj() * apart).sum(axis=0) / power
        rest = np.abs(apart - column * error) / allowed
        needed.append(np.abs(error))
        left.append(largest_mean(frequency_hz, np.max(rest**2, axis=0)))
    relative = [
        float(np.sqrt(largest_mean(frequency_hz, np.square(one / may))))
        for one, may in zip(needed, may_be, strict=True)
    ]
    possible = [at for at, one in enumerate(left) if one <= 1] or [int(np.argmin(left))]
    best = min(possible, key=lambda at: relative[at])
    one_too_many = len(names) == EXACT_STANDARDS + 1
    alike = np.inf if one_too_many else ALIKE * relative[best]
    others = sorted(
        (at for at in possible if at != best and relative[at] <= alike),
        key=lambda at: relative[at],
    )
    worst = int(np.argmax(needed[best] / may_be[best]))
    return Disagreement(
        names[best],
        tuple(names[at] for at in others),
        float(needed[best][worst]),
        float(may_be[best][worst]),
        float(frequency_hz[worst]),
    )
