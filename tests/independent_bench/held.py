"""What the program's intervals are held to: how often they cover, and how wide they are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.error_terms.one_port import correct
from calibration.uncertainty.interval import interval
from tests.independent_bench.bench import Benches, Faults, any_phase, random_boxes
from tests.independent_bench.one_port import Real
from tests.independent_bench.program import budget, calibration_of

FREQUENCY_HZ = np.array([0.7e9, 1.0e9, 1.4e9, 1.8e9, 2.2e9, 2.6e9, 3.0e9, 3.5e9])
LOADS_DB = (20.0, 26.0, 30.0, 36.0, 40.0, 46.0)
RETURN_LOSSES_DB = (3.0, 6.0, 10.0, 15.0, 20.0)
ABOVE_FLOOR_DB = 3.0
"""Below the floor, and right at it, the width of an interval means nothing."""
DRAWS = 20_000


@dataclass(frozen=True)
class Covered:
    """Of so many benches."""

    inside: int
    """The truth lay in the interval."""
    not_worse: int
    """The truth was no worse than what is called proven."""


def covered(
    load_db: float, true_db: tuple[float, ...], many: int, *, plane_at_bound: bool = False
) -> dict[float, Covered]:
    """How often the truth lay inside, by return loss: one point a bench, at random."""
    rng = np.random.default_rng(int(load_db))
    faults = Faults(load_db, plane_at_bound=plane_at_bound)
    benches = Benches.calibrated(
        faults, FREQUENCY_HZ, random_boxes(rng, many, FREQUENCY_HZ), rng, many
    )
    calibrations = [calibration_of(benches, number) for number in range(many)]
    budgets = [budget(each, faults) for each in calibrations]
    found = {}
    for each_db in true_db:
        size = 10 ** (-each_db / 20)
        raw = benches.raw_of(size * any_phase(rng, many) * np.ones(FREQUENCY_HZ.size))
        at = rng.integers(FREQUENCY_HZ.size, size=many)
        inside = not_worse = 0
        for number, (calibration, can_be_wrong) in enumerate(
            zip(calibrations, budgets, strict=True)
        ):
            said = interval(can_be_wrong, correct(calibration.terms, raw[number]))
            low, high = said.low[at[number]], said.high[at[number]]
            inside += bool(low <= size <= high)
            not_worse += bool(size <= high)
        found[each_db] = Covered(inside, not_worse)
    return found


def width_ratio(load_db: float, true_db: float, boxes: int) -> Real:
    """Median over random boxes of the interval's half-width over that of the same causes drawn
    20,000 times, shape (points,)."""
    rng = np.random.default_rng([int(load_db), int(true_db)])
    faults, perfect = Faults(load_db), Faults(400.0, 0.0, 0.0, 0.0, 1e-9, 8, 0.0, 0.0)
    ratios = []
    for _ in range(boxes):
        box = random_boxes(rng, 1, FREQUENCY_HZ)
        true = 10 ** (-true_db / 20) * any_phase(rng, 1) * np.ones(FREQUENCY_HZ.size)
        drawn = Benches.calibrated(faults, FREQUENCY_HZ, box, rng, DRAWS)
        size = np.abs(drawn.corrected(drawn.raw_of(true)))
        low, high = np.quantile(size, [0.025, 0.975], axis=0)
        as_said = Benches.calibrated(perfect, FREQUENCY_HZ, box, rng, 1)
        as_said.faults = faults
        said = interval(budget(calibration_of(as_said, 0), faults), true[0])
        ratios.append((said.high - said.low) / (high - low))
    result: Real = np.median(ratios, axis=0)
    return result
