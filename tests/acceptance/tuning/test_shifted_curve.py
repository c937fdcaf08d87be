"""The curve that advice sees holds what was swept and nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.bands.load import load_bands
from acceptance.plan.plan_file import parse_plan
from acceptance.tuning.shifted_curve import Curve
from acquire.sweep import FloatArray

BANDS = parse_plan(
    'name = "two"\n[[band]]\nlte = 20\nreturn_loss_db = 10\n[[band]]\nnr = 3\nvswr = 2\n',
    "plan.toml",
    load_bands(),
)
LOW, HIGH = np.linspace(0.78e9, 0.88e9, 60), np.linspace(1.7e9, 1.89e9, 60)


@pytest.mark.parametrize(
    ("frequency_hz", "seen"),
    [
        (np.concatenate([LOW, HIGH]), {"LTE 20", "NR n3"}),
        (LOW, {"LTE 20"}),
        (HIGH, {"NR n3"}),
        (np.array([0.7e9, 1.95e9]), set()),
        (np.concatenate([LOW, [1.95e9]]), {"LTE 20"}),
        (np.empty(0), set()),
    ],
    ids=["both", "the low one", "the high one", "none but around", "one in a gap", "nothing"],
)
def test_a_band_that_was_not_swept_is_no_advice(frequency_hz: FloatArray, seen: set[str]) -> None:
    """Straight on from the nearest point it would have a margin, and a false one."""
    flat = np.full(frequency_hz.size, 0.5 + 0j)
    curve = Curve.of(frequency_hz, flat, np.zeros(flat.size), BANDS.targets, ())
    assert {target.name for target in curve.targets} == seen
    assert len(curve.margins) == len(curve.targets)
