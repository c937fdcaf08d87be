"""What a cable loses and how long it is, from a sweep with its end open and one shorted.

Each end alone gives the way there and back as R / A, with all that the joints may reflect in its
uncertainty. Both together give (Ro - Rs) / (Ao - As), in which the joints, and the error of the
calibration's load, cancel to first order; so that is the better by far, and the two alone show
whether it may be believed [derived].

Loss one way is half of what comes back less, -10 log10 |tracking|: with the return losses of both
ends, (RLo + RLs) / 4. Delay one way is -phase / (4 pi f), its turns counted by the slope.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from acquire.coverage.spans import Span
from acquire.sweep import ComplexArray, FloatArray
from calibration.cable.measured_line import END_FLOOR, MeasuredLine
from calibration.error_terms.interpolation import stretches
from calibration.plane.loss import M_PER_S
from calibration.plane.reference_plane import PIGTAIL_CAUSE, Joints
from calibration.uncertainty.budget import Budget, Contribution
from calibration.uncertainty.interval import interval, radius

EXCHANGED_RAD = 1.0
"""Phase carried back to 0 Hz is 0 of an open, pi of a short; so near pi they were exchanged."""


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """The way through a cable, there and back, with how well it is known."""

    frequency_hz: FloatArray
    """Shape (points,)."""
    tracking: ComplexArray
    """S12 S21, shape (points,)."""
    loss_db: FloatArray
    """One way, shape (points,)."""
    loss_low_db: FloatArray
    loss_high_db: FloatArray
    """Between these, about 95 %; never below 0."""
    delay_s: FloatArray
    """One way, by frequency, shape (points,)."""
    delay_uncertainty_s: FloatArray
    """About 95 %, shape (points,)."""
    begins_rad: float
    """The phase carried back to 0 Hz by its slope, within half a turn; nan where the sweep is too
    narrow to count its turns, and the delay is that of the slope alone."""

    @property
    def mean_delay_s(self) -> float:
        """One way, weighed by how well each frequency tells it."""
        return float(np.average(self.delay_s, weights=1 / self.delay_uncertainty_s**2))

    @property
    def mean_delay_uncertainty_s(self) -> float:
        """About 95 %; not less than one frequency's, for most errors are the same in all."""
        return float(np.average(self.delay_uncertainty_s, weights=1 / self.delay_uncertainty_s**2))

    def length_m(self, velocity_factor: float) -> float:
        """How long a cable of that velocity factor is, m."""
        return self.mean_delay_s * velocity_factor * M_PER_S

    def inside(self, span: Span) -> slice:
        """The points of a span; those next to it where none lies in it."""
        first = int(np.searchsorted(self.frequency_hz, span[0]))
        last = int(np.searchsorted(self.frequency_hz, span[1], side="right"))
        return slice(min(first, self.frequency_hz.size - 1), max(last, first + 1))


@dataclass(frozen=True, slots=True, eq=False)
class Cable:
    """What a cable check found."""

    way: Way
    """By both ends, or by the one that was swept."""
    ends: Mapping[str, Way]
    """By each end alone."""
    exchanged: bool
    """True where the open looks like a short and the other way round."""
    mismatch: float
    """What its joints reflect at least, linear: what an open and a short cannot explain without;
    nan of one end alone."""

    @property
    def agree(self) -> bool:
        """True where loss and delay of the two ends agree within what is stated of them."""
        if len(self.ends) < 2:
            return True
        first, second = self.ends.values()
        loss = (first.loss_low_db <= second.loss_high_db) & (
            second.loss_low_db <= first.loss_high_db
        )
        apart = abs(first.mean_delay_s - second.mean_delay_s)
        known = np.hypot(first.mean_delay_uncertainty_s, second.mean_delay_uncertainty_s)
        return bool(np.mean(loss) >= 0.9 and apart <= known)


def cable_of(line: MeasuredLine, budget: Budget) -> Cable:
    """Work out a cable's loss and delay from what its ends read.

    budget : of the readings at the connector. Raises RangeError where its grid is wider.
    """
    frequency = budget.frequency_hz
    read = line.at(frequency)
    actual = {name: line.standards[name].reflection(frequency) for name in read}
    ends = {name: _by_one(line, budget, read[name], actual[name]) for name in read}
    if len(ends) == 1:
        ((_, way),) = ends.items()
        mismatch = float("nan")
    else:
        seen, joints = line.mismatch(budget, read, actual)
        way = _by_both(line, budget, read, actual, joints)
        mismatch = float((np.abs(seen) / (1 + np.abs(way.tracking)) ** 2).max())
    return Cable(way, ends, _exchanged(list(ends.values())), mismatch)


def _by_one(line: MeasuredLine, budget: Budget, read: ComplexArray, known: ComplexArray) -> Way:
    tracking = read / known
    near = 1 + tracking**2 * known**2
    far = tracking * (1 + known**2)
    parts = [
        *(_constant(each, each.at(read) / known) for each in budget.contributions),
        *(
            _own(f"{PIGTAIL_CAUSE}'s joint", line.joints.size * part / known)
            for part in (near, far)
        ),
        _own("the loss of its end", END_FLOOR * tracking),
    ]
    return _way(replace(budget, contributions=tuple(parts)), tracking, line.offset_s)


def _by_both(
    line: MeasuredLine,
    budget: Budget,
    read: Mapping[str, ComplexArray],
    actual: Mapping[str, ComplexArray],
    joints: Joints,
) -> Way:
    apart = actual["open"] - actual["short"]
    tracking = (read["open"] - read["short"]) / apart
    parts: list[Contribution] = []
    for each in budget.contributions:
        by_open, by_short = (each.at(read[name]) / apart for name in ("open", "short"))
        if each.anew:
            parts += [_constant(each, by_open), _constant(each, by_short)]
        else:
            parts.append(_constant(each, by_open - by_short))
    second_order = (joints.size * (1 + np.abs(tracking))) ** 2
    parts += [
        _own(f"{PIGTAIL_CAUSE}'s joints", second_order * tracking),
        _own("the loss of its ends", END_FLOOR * tracking),
    ]
    return _way(replace(budget, contributions=tuple(parts)), tracking, line.offset_s)


def _way(budget: Budget, tracking: ComplexArray, offset_s: float) -> Way:
    frequency = budget.frequency_hz
    found = interval(budget, tracking)
    with np.errstate(divide="ignore"):
        loss, high, low = (
            -10 * np.log10(each) for each in (np.abs(tracking), found.low, found.high)
        )
    off_rad = np.arcsin(np.minimum(radius(budget, tracking) / np.abs(tracking), 1.0))
    phase, slope, slope_off = _linked(frequency, tracking, float(off_rad.max()))
    middle = float(frequency.mean())
    turns, begins = 0.0, float("nan")
    if phase is not None and off_rad.max() + slope_off * middle < np.pi / 2:
        at_zero = float(np.mean(phase - slope * frequency))
        turns = float(np.round(at_zero / (2 * np.pi)))
        begins = at_zero - 2 * np.pi * turns
    if phase is None or not np.isfinite(begins):  # only the slope is sure
        delay = np.full(frequency.size, -slope / (4 * np.pi))
        unsure = np.full(frequency.size, slope_off / (4 * np.pi))
    else:
        half_turn = np.pi * np.sign(begins) if abs(begins) > np.pi / 2 else 0.0
        delay = -(phase - 2 * np.pi * turns - half_turn) / (4 * np.pi * frequency)
        unsure = off_rad / (4 * np.pi * frequency)
    return Way(
        frequency_hz=frequency,
        tracking=tracking,
        loss_db=np.maximum(loss, 0.0),
        loss_low_db=np.maximum(low, 0.0),
        loss_high_db=np.maximum(high, 0.0),
        delay_s=delay,
        delay_uncertainty_s=unsure + offset_s,
        begins_rad=begins,
    )


def _linked(
    frequency_hz: FloatArray, tracking: ComplexArray, off_rad: float
) -> tuple[FloatArray | None, float, float]:
    """The phase with its turns counted across gaps; its slope, rad/Hz; how far that may be off.

    off_rad : how far each phase may be off. Begins with the widest stretch and takes the next one
    as long as the slope foretells its phase to half a turn, each making the slope surer. The
    phase is None where a gap is too wide for that.
    """
    parts = sorted(stretches(frequency_hz), key=lambda part: np.ptp(frequency_hz[part]))
    phase = np.full(frequency_hz.size, np.nan)
    first = parts.pop()
    phase[first] = np.unwrap(np.angle(tracking[first]))
    while True:
        known = np.isfinite(phase)
        f = frequency_hz[known]
        slope, at_zero = (float(each) for each in np.polyfit(f, phase[known], 1))
        slope_off = 2 * off_rad / max(float(np.ptp(f)), 1.0)
        if not parts:
            return phase, slope, slope_off
        parts.sort(key=lambda part: -np.abs(f[:, None] - frequency_hz[part]).min())
        part = parts.pop()  # the nearest one
        away_hz = float(np.abs(f.mean() - frequency_hz[part].mean()))
        if 2 * off_rad + slope_off * away_hz > np.pi:
            return None, slope, slope_off
        own = np.unwrap(np.angle(tracking[part]))
        predicted = slope * frequency_hz[part] + at_zero
        phase[part] = own + 2 * np.pi * np.round(np.mean(predicted - own) / (2 * np.pi))


def _exchanged(ends: Sequence[Way]) -> bool:
    return all(abs(abs(each.begins_rad) - np.pi) < EXCHANGED_RAD for each in ends)


def _constant(each: Contribution, size: ComplexArray) -> Contribution:
    coefficients = np.zeros((3, size.size), dtype=np.complex128)
    coefficients[0] = size
    return replace(each, coefficients=coefficients, across=False, anew=False, part="other")


def _own(name: str, size: ComplexArray) -> Contribution:
    coefficients = np.zeros((3, size.size), dtype=np.complex128)
    coefficients[0] = size
    return Contribution(name, "assumed", "", True, coefficients, PIGTAIL_CAUSE)
