"""The decision on one value: five states, by guard band.

Source: ILAC-G8:09/2019, sections 4.1 to 4.2.3 [read]: with the guard band w = TL - AL a value
passes up to TL - w, passes conditionally up to TL, fails conditionally up to TL + w, and fails
above. A return loss is a lower limit; here the decision is made on |reflection|, where the same
limit is an upper one.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

LIMIT_TOLERANCE = 1e-9
"""Relative; about 1e-8 dB. A value at its limit passes, however either was rounded."""


class State(StrEnum):
    """What can be said of a band."""

    PASS = "pass"  # noqa: S105 - no password
    CONDITIONAL_PASS = "conditional pass"  # noqa: S105 - nor this
    CONDITIONAL_FAIL = "conditional fail"
    FAIL = "fail"
    NOT_MEASURED = "not measured"


DECIDED = (State.PASS, State.CONDITIONAL_PASS, State.CONDITIONAL_FAIL, State.FAIL)
"""The states of a measured value, from best to worst; decide() returns indices into it."""


def decide(
    size: ArrayLike, limit: float, upward: ArrayLike = 0.0, downward: ArrayLike | None = None
) -> NDArray[np.intp]:
    """Decide each |reflection| by its own guard band.

    size : finite, 0 or more, shape (points,) or a single value.
    limit : the largest |reflection| that conforms.
    upward : how much larger the truth may be, in |reflection|, 0 or more, of a shape that fits:
        what is read must stay so far below the limit to pass.
    downward : how much smaller it may be: what is read must lie so far above the limit to fail;
        as upward where it is not given. With 0 there is only pass and fail.
    Returns indices into DECIDED, of the broadcast shape. Equality counts as the better state.
    Raises ValueError for a guard band below zero or anything that is not a number.
    """
    value, up = np.asarray(size, dtype=np.float64), np.asarray(upward, dtype=np.float64)
    down = up if downward is None else np.asarray(downward, dtype=np.float64)
    # What is not a number fails these too.
    if np.isnan(value.sum()) or not (up.min(initial=0) >= 0 and down.min(initial=0) >= 0):
        raise ValueError("A decision needs numbers, and a guard band of 0 or more.")
    slack = limit * LIMIT_TOLERANCE
    return np.asarray(
        (value > limit - up + slack).astype(np.intp)
        + (value > limit + slack)
        + (value > limit + down + slack)
    )


def most_severe(states: Iterable[State]) -> State:
    """Return the state of the whole: any fail fails it; else anything not measured leaves it
    not measured; else the worst counts."""
    order = (*DECIDED[:3], State.NOT_MEASURED, State.FAIL)
    return max(states, key=order.index)
