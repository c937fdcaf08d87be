"""Solving and correcting, against scikit-rf's OnePort on the same data."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np

from benchmarks.row import Goal, Row
from calibration.error_terms.one_port import ErrorTerms, correct, embed, solve


@contextmanager
def rows() -> Iterator[list[Row]]:
    """Yield the comparisons for 401 and 1601 points."""
    import skrf

    listed: list[Row] = []
    for points, goal in ((401, 50), (1601, 150)):
        rng = np.random.default_rng(points)
        frequency = np.linspace(0.7e9, 2.7e9, points)

        def spread(size: float, rng: Any = rng, points: int = points) -> Any:
            return size * (rng.standard_normal(points) + 1j * rng.standard_normal(points))

        terms = ErrorTerms(frequency, spread(0.05), spread(0.05), 0.8 + spread(0.05))
        actual = np.array([np.ones(points), -np.ones(points), np.zeros(points)], dtype=complex)
        measured = embed(terms, actual)
        raw = embed(terms, spread(0.2))
        axis = skrf.Frequency.from_f(frequency, unit="hz")

        def networks(values: Any, axis: Any = axis) -> list[Any]:
            return [skrf.Network(frequency=axis, s=each[:, None, None]) for each in values]

        def their_solution(
            measured: Any = measured, actual: Any = actual, nets: Any = networks
        ) -> Any:
            return skrf.calibration.OnePort(measured=nets(measured), ideals=nets(actual))

        theirs = their_solution()
        theirs.run()
        reading = networks([raw])[0]

        def our_network(terms: Any = terms, raw: Any = raw, axis: Any = axis) -> Any:
            return skrf.Network(frequency=axis, s=correct(terms, raw)[:, None, None])

        listed += [
            Row(
                f"solve a calibration, {points} points",
                lambda f=frequency, m=measured, a=actual: solve(f, m, a),
                "scikit-rf OnePort.run",
                lambda make=their_solution: make().run(),
                Goal(times=10),
                15,
            ),
            Row(
                f"correct a sweep, {points} points, Network out",
                our_network,
                "scikit-rf OnePort.apply_cal",
                lambda cal=theirs, n=reading: cal.apply_cal(n),
                Goal(times=goal),
                30,
            ),
        ]
    yield listed
