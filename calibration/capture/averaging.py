"""Sweeps of the same thing averaged, and only while it stays the same.

Averaging complex readings of something that moves is a false pass: two states 90 degrees apart
turn 10 dB into 13 dB. So the newest sweep joins those before it only where nothing but noise
changed (`calibration.capture.movement`), and else begins anew.

**A burst** is a transmitter nearby, heard by the receiver for a moment: a few points of one sweep
lie far off what the other sweeps agree on, while the rest of that sweep is steady. Those points
are left out of the average and named. With two sweeps nobody knows which of them was disturbed,
so such points count as not measured until a third one decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.sweep import ComplexArray, FloatArray, Sweep
from calibration.capture.movement import (
    JUMP_FACTOR,
    NEGLIGIBLE_CHANGE,
    Change,
    change_between,
    continues,
)
from calibration.capture.neighbour_mean import mean_between

Mask = NDArray[np.bool_]

MOST_SWEEPS = 8
"""More hardly quieten a reading that drifts anyway."""
MOST_DISTURBED = 0.1
"""Share of a sweep's points that a burst may disturb; what changes more has moved."""
SHARED_POINTS, SHARED_CHANGE = 4, 0.9
"""So many points side by side that share so much of their change have moved: of four of random
phase, chance gives this to fewer than 1 in 20, and then the sweep is only taken as a move [run]."""
LEAST_BURST = 10 * NEGLIGIBLE_CHANGE
"""A change below 40 dB is no burst worth a word."""
NEIGHBOUR_POINTS = 10
"""Points to either side whose scatter is taken together: noise changes slowly in frequency."""
BURST_FACTOR = 8.0
"""A point whose own variance exceeds its neighbours' so many times has noise of its own (a
transmitter that stays): of four sweeps, chance gives this to fewer than 1 point in 1e4 [derived:
chi square, 6 degrees of freedom]."""


@dataclass(frozen=True, slots=True)
class Burst:
    """One disturbance that was left out."""

    low_hz: float
    high_hz: float
    """First and last frequency disturbed; often the same."""
    sequence: int
    """The sweep it was in."""
    size: float
    """How far off it was, linear."""

    @property
    def words(self) -> str:
        """One sentence, with what to look for."""
        low, high = f"{self.low_hz / 1e6:.1f}", f"{self.high_hz / 1e6:.1f}"
        where = f"{low} MHz" if low == high else f"{low} to {high} MHz"
        return (
            f"A burst at {where} ({self.size:.2g}) was left out of sweep {self.sequence}: a "
            "transmitter nearby, or a contact that broke for a moment."
        )


@dataclass(frozen=True, slots=True, eq=False)
class Averaged:
    """A reading made of one sweep or of several."""

    sweep: Sweep
    """The mean; time, number and request are those of the newest. A point that nobody knows is
    not finite."""
    of: tuple[Sweep, ...]
    """The sweeps averaged, in order."""
    noise: FloatArray | None
    """Shape (points,): rms scatter of one sweep, linear; None of a single one."""
    bursts: tuple[Burst, ...]
    """What was left out."""
    change: Change | None
    """Between the newest sweep and what it joined, or did not join; None of the first."""

    @property
    def sweeps(self) -> int:
        """How many were averaged."""
        return len(self.of)

    @property
    def steady(self) -> bool:
        """True where the newest sweep joined those before it."""
        return self.sweeps > 1


class Averaging:
    """Averages sweeps as they come in: quick while things move, quiet while they rest."""

    def __init__(self, most_sweeps: int = MOST_SWEEPS) -> None:
        """most_sweeps : how many of the newest are averaged."""
        self._most = most_sweeps
        self._window: list[Sweep] = []

    def add(self, sweep: Sweep) -> Averaged:
        """Take the next sweep; return the average of all that are alike, the newest included."""
        change: Change | None = None
        going_on = bool(self._window) and continues(self._window[-1], sweep)
        window = [*self._window, sweep] if going_on else [sweep]
        stack = _stack(window)
        off = _disturbed(stack)
        if going_on:
            change = _change(stack, off)
            if not change.steady:
                window, stack, off = [sweep], stack[-1:], np.zeros_like(off[-1:])
        newest = slice(-self._most, None)
        self._window, stack, off = window[newest], stack[newest], off[newest]
        drift = _drift(stack, off)
        if drift is not None and not drift.steady:
            half = len(self._window) // 2
            change, self._window, stack = drift, self._window[half:], stack[half:]
            off = _disturbed(stack)
        return _averaged(self._window, stack, _left_out(stack, off), change)


def average(sweeps: Sequence[Sweep]) -> Averaged | None:
    """The mean of sweeps that are alike, all of them; None where something moved.

    sweeps : one or more, in the order taken.
    """
    averaging = Averaging(len(sweeps))
    found = [averaging.add(sweep) for sweep in sweeps][-1]
    return found if found.sweeps == len(sweeps) else None


def _change(stack: ComplexArray, off: Mask) -> Change:
    """What the last sweep changed against those before it, bursts of any of them left aside."""
    kept = _undisturbed(stack, off)
    if not kept.size:
        return Change(np.inf, np.inf, np.inf, 0.0)
    return change_between(kept[:-1].mean(axis=0), kept[-1])


def _drift(stack: ComplexArray, off: Mask) -> Change | None:
    """Newer half against older half: what moves slowly hides between neighbours."""
    if len(stack) < 4:
        return None
    kept = _undisturbed(stack, off)
    if not kept.size:
        return None
    half = len(kept) // 2
    return change_between(kept[:half].mean(axis=0), kept[half:].mean(axis=0))


def _undisturbed(stack: ComplexArray, off: Mask) -> ComplexArray:
    """The points that no sweep is off at, shape (sweeps, points left)."""
    disturbed = off.any(axis=0)
    kept: ComplexArray = stack[:, ~disturbed] if disturbed.any() else stack
    return kept


def _disturbed(stack: ComplexArray) -> Mask:
    """Points of each sweep that lie far off the others, shape (sweeps, points).

    Of two sweeps both are doubtful where they differ. A sweep too much of which is off, or off by
    the same from one frequency to the next, has moved and is not disturbed.
    """
    if len(stack) < 2:
        return np.zeros(stack.shape, dtype=np.bool_)
    centre = _middle(stack)
    apart = np.abs(stack - centre)
    # the middle of one sweep's distances hardly feels a burst; 0.83 of rms for complex noise
    noise = float(np.median(apart)) / 0.83
    off = ~(apart <= max(JUMP_FACTOR * noise, LEAST_BURST / 2))
    moved = (off.mean(axis=1) > MOST_DISTURBED) | [
        _moves(difference, points) for difference, points in zip(stack - centre, off, strict=True)
    ]
    off[moved] = ~np.isfinite(stack[moved])
    return off


def _middle(stack: ComplexArray) -> ComplexArray:
    """The middle of the real and of the imaginary parts at every point, shape (points,).

    As numpy's median, which takes four times as long over so few rows; what was not measured
    counts as large.
    """
    ordered = np.ascontiguousarray(stack.view(np.float64).T)
    ordered.sort(axis=1)
    last = len(stack) - 1
    middle = (ordered[:, last // 2] + ordered[:, (last + 1) // 2]) / 2
    return middle.view(np.complex128)


def _left_out(stack: ComplexArray, off: Mask) -> Mask:
    """What no average may hold, shape (sweeps, points), of what is off. Where more than one of
    three sweeps or more is off, that is how it is there, and all of them count."""
    if len(stack) < 3:
        return off
    several = off.sum(axis=0) > 1
    return np.where(several, ~np.isfinite(stack), off)


def _moves(difference: ComplexArray, off: Mask) -> bool:
    """True where neighbours share what is off: an antenna moves so, a transmitter does not."""
    return any(
        group.size >= SHARED_POINTS
        and abs(np.vdot(difference[group[:-1]], difference[group[1:]]))
        > SHARED_CHANGE * float(np.sum(np.abs(difference[group[:-1]] * difference[group[1:]])))
        for group in _runs(off & np.isfinite(difference))
    )


def _runs(points: Mask, apart: int = 1) -> Sequence[NDArray[np.intp]]:
    """Indices of points no further apart than so many steps, run by run."""
    at = np.flatnonzero(points)
    return np.split(at, np.flatnonzero(np.diff(at) > apart) + 1) if at.size else []


def _averaged(
    window: Sequence[Sweep], stack: ComplexArray, off: Mask, change: Change | None
) -> Averaged:
    """The mean of a window, without what is left out of it."""
    newest = window[-1]
    if len(window) == 1:
        return Averaged(newest, (newest,), None, (), change)
    counted = (~off).sum(axis=0)
    kept = np.where(off, 0, stack)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = kept.sum(axis=0) / counted
        square = np.where(off, 0, np.abs(stack - mean) ** 2).sum(axis=0) / (counted - 1)
    sweep = newest.with_reflection(mean)
    return Averaged(sweep, tuple(window), _noise(square), _bursts(window, off, mean), change)


def _noise(square: FloatArray) -> FloatArray:
    """rms of one sweep from the squares at every point, those of the neighbours taken together."""
    own = np.nan_to_num(square, nan=0.0, posinf=0.0)
    at = np.arange(own.size)
    near = mean_between(
        own, np.maximum(at - NEIGHBOUR_POINTS, 0), np.minimum(at + NEIGHBOUR_POINTS + 1, own.size)
    )
    result: FloatArray = np.sqrt(np.where(own > BURST_FACTOR * near, own, near))
    return result


def _bursts(window: Sequence[Sweep], off: Mask, mean: ComplexArray) -> tuple[Burst, ...]:
    if len(window) < 3:
        return ()
    found = []
    for sweep, points in zip(window, off, strict=True):
        for group in _runs(points & np.isfinite(sweep.reflection), NEIGHBOUR_POINTS):
            size = float(np.abs(sweep.reflection[group] - mean[group]).max())
            low_hz, high_hz = sweep.frequency_hz[group[[0, -1]]].tolist()
            found.append(Burst(low_hz, high_hz, sweep.sequence, size))
    return tuple(found)


def _stack(window: Sequence[Sweep]) -> ComplexArray:
    return np.stack([sweep.reflection for sweep in window])
