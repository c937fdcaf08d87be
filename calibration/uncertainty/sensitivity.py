"""How an error of a standard, or of a term, moves a corrected reflection.

**Through a standard.** Where standard i reflects A_i + d_i instead of the A_i the kit says, the
corrected reading is a bilinear map f of the truth with f(A_i + d_i) = A_i. To first order in d

    f(G) - G = - sum over i of L_i(G) d_i

with L_i the Lagrange polynomials of the A_i: L_i(A_i) = 1, L_i(A_k) = 0. For an ideal open, short
and load: G (G + 1)/2, G (G - 1)/2, 1 - G^2. So a wrong load moves directivity and source match
together and by itself, as it must. With more than three standards the L_i come from the weighted
least squares that `one_port.solve` does [derived].

**Through a term.** An error of the terms themselves gives [derived from G = (Gm - ED) / (ER +
ES (Gm - ED))]

    dG = - (1 - ES G)^2 / ER dED - G (1 - ES G) / ER dER - G^2 dES
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from acquire.sweep import ComplexArray
from calibration.error_terms.one_port import ErrorTerms

EXACT_STANDARDS = 3
"""So many standards are met exactly; more of them as nearly as can be."""


def lagrange(terms: ErrorTerms, actual: Mapping[str, ComplexArray]) -> dict[str, ComplexArray]:
    """Coefficients of L_i(G) = l0 + l1 G + l2 G^2 for every standard, shape (3, points) each.

    actual : what the kit says each standard reflects, three or more, shape (points,).
    """
    if len(actual) == EXACT_STANDARDS:
        return dict(zip(actual, _through_three(*actual.values()), strict=True))
    known = np.array(list(actual.values())).T
    powers = np.stack([np.ones_like(known), known, known**2], axis=-1)
    weight = np.abs(terms.reflection_tracking[:, None] / (1 - terms.source_match[:, None] * known))
    solved = np.linalg.pinv(powers * weight[:, :, None]) * weight[:, None, :]
    return {
        name: np.ascontiguousarray(solved[:, :, i].T, dtype=np.complex128)
        for i, name in enumerate(actual)
    }


def _through_three(*known: ComplexArray) -> list[ComplexArray]:
    """Met exactly, whatever the weights: L_a(G) = (G - b)(G - c) / ((a - b)(a - c))."""
    found = []
    for at, a in enumerate(known):
        b, c = (each for other, each in enumerate(known) if other != at)
        found.append(np.array([b * c, -(b + c), np.ones_like(a)]) / ((a - b) * (a - c)))
    return found


def through_terms(terms: ErrorTerms) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Coefficients of dG for an error of 1 in ED, in ER and in ES, shape (3, points) each."""
    es, er = terms.source_match, terms.reflection_tracking
    none = np.zeros_like(es)
    return (
        np.array([1 / er, -2 * es / er, es**2 / er]),
        np.array([none, 1 / er, -es / er]),
        np.array([none, none, np.ones_like(es)]),
    )
