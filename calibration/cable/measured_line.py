"""A pigtail known by what it reads with its end open, shorted, or both.

With the end's reflection A known, the reading at the connector is R = ED + ER A / (1 - ES A).
An open and a short are two equations for three unknowns. Two reflections of the joints are left,
of which only one sum shows:

    M = (Ro As - Rs Ao) / (As - Ao) = ED - Ao As ER ES                                   [derived]

ED is taken as w M, with w so that what stays in doubt is least (a Wiener weight), and the rest
is solved as if a perfect load had read just that: `one_port.solve`. What the joints may reflect,
the errors of the calibration, which are the same in all these readings, and those of the
standards at the end then enter by the Lagrange polynomials of
`calibration.uncertainty.sensitivity`, fully correlated. So an open and a short at the far end also
undo most of what the calibration's own open and short had wrong.

With one of them alone the joints are taken to reflect nothing, and R / A is the way there and
back; all that they may reflect is in the uncertainty.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from acquire.sweep import ComplexArray, FloatArray, Reading
from calibration.calibration_budget import UNKNOWN_INTERPOLATION
from calibration.error_terms.interpolation import (
    LARGEST_TURN_DEG,
    largest_turn,
    polar_cubic,
    same_grid,
    stretches,
    tolerance_hz,
)
from calibration.error_terms.one_port import ErrorTerms, solve
from calibration.errors import PlaneError, RangeError
from calibration.plane.reference_plane import ASSUMED_JOINTS, PIGTAIL_CAUSE, Joints, Moved, carried
from calibration.standards.standard import IdealStandard, Standard
from calibration.uncertainty.budget import Budget, Contribution
from calibration.uncertainty.error_sum import radius_95
from calibration.uncertainty.sensitivity import lagrange

BARE_OFFSET_S = 10e-12
"""How far, one way, a bare open end or a soldered short may lie from the plane: 2 mm of PTFE coax,
and the fringing of a bare end [practice]."""
END_FLOOR = 0.001
"""Least error of any open or short, linear: nothing reflects exactly 1."""
LARGEST_GAIN = 1.1
LEAST_RETURN = 0.03
"""A loss of 15 dB one way: behind it nothing can be told."""
LEAST_DIFFERENCE = 0.5
"""An open and a short at one end differ by twice what either reads; less than a quarter of that,
and one of them was there twice."""

WORST_JOINT_DB = 6.0
LEAST_POINTS = 9
"""Fewer cannot show what leaving every second one out misses."""

BARE_ENDS: Mapping[str, Standard] = {
    "open": IdealStandard(kind="open"),
    "short": IdealStandard(kind="short"),
}


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class MeasuredLine:
    """What lies between connector and feed, as measured through it."""

    words: str
    """As "the pigtail measured by its end open and shorted"."""
    ends: Mapping[str, Reading]
    """Corrected readings at the connector, by "open" and "short": both, or one."""
    standards: Mapping[str, Standard]
    """What was at the end, by the same names."""
    offset_s: float = BARE_OFFSET_S
    """How far, one way, the plane of each may be off."""
    joints: Joints = ASSUMED_JOINTS
    same_calibration: bool = True
    """True where the antenna is read with the calibration that the ends were: their errors are
    then one and the same."""

    def __post_init__(self) -> None:
        if not self.ends or set(self.ends) - {"open", "short"}:
            raise PlaneError(
                "A pigtail is measured by its end open, shorted, or both. Sweep one of them."
            )
        for name, reading in self.ends.items():
            _require_an_end(name, reading)
        if len(self.ends) == 2:
            _require_two_ends(self.ends["open"], self.ends["short"])

    def at(self, frequency_hz: FloatArray) -> dict[str, ComplexArray]:
        """The ends' readings at other frequencies, by magnitude and phase. Raises RangeError."""
        found = {}
        for name, reading in self.ends.items():
            if same_grid(frequency_hz, reading.frequency_hz):
                found[name] = np.asarray(reading.reflection)
                continue
            found[name] = _between(reading, frequency_hz)
        return found

    def moved(self, budget: Budget) -> Moved:
        """The two-port on the budget's grid, and the budget behind it. Raises RangeError."""
        frequency = budget.frequency_hz
        read = self.at(frequency)
        actual = {name: self.standards[name].reflection(frequency) for name in read}
        added: Sequence[Contribution]
        if len(read) == 2:
            terms, shares, added = self._by_both(budget, read, actual)
        else:
            terms, shares, added = self._by_one(frequency, read, actual)
        listed: list[Contribution] = []
        for each in budget.contributions:
            own = carried(each, terms)
            errors = {name: each.at(value) for name, value in read.items()}
            parts = {name: -errors[name] * share for name, share in shares.items()}
            if each.anew:
                listed.append(own)
                listed += [
                    _of_the_end(each, name, part)
                    for name, part in parts.items()
                    if np.abs(part).max() > 0
                ]
            elif self.same_calibration:
                listed.append(replace(own, coefficients=own.coefficients + sum(parts.values())))
            else:
                together: ComplexArray = np.sum(list(parts.values()), axis=0)
                listed += [own, replace(each, coefficients=together, name=f"{each.name}, then")]
        between = self._between_points(frequency, shares)
        return Moved(terms, replace(budget, contributions=(*listed, *added, *between)))

    def _between_points(
        self, frequency_hz: FloatArray, shares: Mapping[str, ComplexArray]
    ) -> list[Contribution]:
        """What interpolation may miss: a quarter of what leaving every second point out shows. That
        hole is twice as wide, and a cubic's error goes with its fourth power; noise is in it."""
        found = []
        for name, reading in self.ends.items():
            if same_grid(frequency_hz, reading.frequency_hz):
                continue
            miss = _left_out(reading)
            here = np.interp(frequency_hz, reading.frequency_hz, miss) / 4
            part: ComplexArray = here * shares[name]
            words = "a quarter of what leaving points out shows"
            label = f"interpolating the {name} at the end"
            found.append(Contribution(label, "measured", words, True, part, "interpolation"))
        return found

    def _by_both(
        self, budget: Budget, read: Mapping[str, ComplexArray], actual: Mapping[str, ComplexArray]
    ) -> tuple[ErrorTerms, dict[str, ComplexArray], Sequence[Contribution]]:
        frequency = budget.frequency_hz
        (ro, rs), (ao, as_) = ((each["open"], each["short"]) for each in (read, actual))
        none = np.zeros(frequency.size, dtype=np.complex128)
        seen, joints = self.mismatch(budget, read, actual)
        first = (ro - rs) / (ao - as_)  # ER, but for the joints
        weight = self._weight(budget, read, actual, first)
        terms = solve(frequency, [ro, rs, weight * seen], [ao, as_, none])
        er, es = terms.reflection_tracking, terms.source_match
        weights = lagrange(terms, {"open": ao, "short": as_, "load": none})
        load = weights["load"] * weight / er
        shares = {  # what an error of 1 in either reading does
            "open": weights["open"] * (1 - es * ao) ** 2 / er + load * as_ / (as_ - ao),
            "short": weights["short"] * (1 - es * as_) ** 2 / er - load * ao / (as_ - ao),
        }
        turn = 4 * np.pi * frequency * self.offset_s
        together = actual["open"] * weights["open"] + actual["short"] * weights["short"]
        apart = actual["open"] * weights["open"] - actual["short"] * weights["short"]
        turning: ComplexArray = 1j * turn * together
        differ: ComplexArray = np.hypot(turn, END_FLOOR) * apart
        ends = "the open and the short at the end"
        near: ComplexArray = (1 - weight) / er * weights["load"]
        far: ComplexArray = weight * ao * as_ * weights["load"]
        return (
            terms,
            shares,
            [
                *joints.contributions(er, near, far),
                _end(f"the plane of {ends}", turning, self.offset_s, across=True),
                _end(f"what {ends} differ by", differ, self.offset_s),
                _end(f"the loss of {ends}", END_FLOOR * together, self.offset_s),
            ],
        )

    def mismatch(
        self, budget: Budget, read: Mapping[str, ComplexArray], actual: Mapping[str, ComplexArray]
    ) -> tuple[ComplexArray, Joints]:
        """M of the module's text, shape (points,); and the joints, by what is said or seen of them.

        M reaches (1 + |ER|)^2 times what either joint reflects. Where it shows more than was said,
        beyond what the calibration can have wrong, that is what they are taken to reflect.
        """
        (ro, rs), (ao, as_) = ((each["open"], each["short"]) for each in (read, actual))
        seen: ComplexArray = (ro * as_ - rs * ao) / (as_ - ao)
        bounds, sigma = [np.zeros(seen.size)], np.zeros(seen.size)
        for each in budget.contributions:
            off = np.abs((each.at(ro) * as_ - each.at(rs) * ao) / (as_ - ao))
            if each.bounded:
                bounds.append(off)
            else:
                sigma = np.hypot(sigma, off)
        tracking = np.abs((ro - rs) / (ao - as_))
        beyond = (np.abs(seen) - radius_95(np.array(bounds), sigma)) / (1 + tracking) ** 2
        least = float(beyond.max())
        if least <= self.joints.size:
            return seen, self.joints
        return seen, Joints(max(float(-20 * np.log10(least)), WORST_JOINT_DB), "measured")

    def _by_one(
        self,
        frequency: FloatArray,
        read: Mapping[str, ComplexArray],
        actual: Mapping[str, ComplexArray],
    ) -> tuple[ErrorTerms, dict[str, ComplexArray], Sequence[Contribution]]:
        ((name, value),) = read.items()
        known = actual[name]
        none = np.zeros(frequency.size, dtype=np.complex128)
        er = value / known
        terms = ErrorTerms(frequency, none, none, er)
        straight = np.array([none, 1 / known, none])
        near = 1 / er * np.array([none + 1, -1 / known, none])
        far = np.array([none, -known, none + 1])
        along: ComplexArray = np.array([none, none + 1, none])
        turning: ComplexArray = 4j * np.pi * frequency * self.offset_s * along
        lossy: ComplexArray = END_FLOOR * along
        return (
            terms,
            {name: straight / er},
            [
                *self.joints.contributions(er, near, far),
                _end(f"the plane of the {name} at the end", turning, self.offset_s, across=True),
                _end(f"the loss of the {name} at the end", lossy, self.offset_s),
            ],
        )

    def _weight(
        self,
        budget: Budget,
        read: Mapping[str, ComplexArray],
        actual: Mapping[str, ComplexArray],
        er: ComplexArray,
    ) -> FloatArray:
        """How much of M is taken for ED, shape (points,): where the variance that is left of a
        perfect match is least, it being quadratic in w."""
        (ro, rs), (ao, as_) = ((each["open"], each["short"]) for each in (read, actual))
        size = self.joints.size
        seen = size**2 * (1 + np.abs(er) ** 2)
        upper = seen / np.abs(er) ** 2
        lower = upper + seen * np.abs(ao * as_) ** 2
        for each in budget.contributions:
            nothing = each.coefficients[0]
            by_open = each.at(ro) * as_ / (as_ - ao)
            by_short = -each.at(rs) * ao / (as_ - ao)
            scale = 1.0 if each.bounded else 2.0
            if each.anew:
                lower = (
                    lower + scale * (np.abs(by_open) ** 2 + np.abs(by_short) ** 2) / abs(er) ** 2
                )
                continue
            both = by_open + by_short
            if self.same_calibration:
                upper = upper + scale * (nothing.conj() * both).real / np.abs(er) ** 2
            lower = lower + scale * np.abs(both) ** 2 / np.abs(er) ** 2
        weight: FloatArray = np.clip(upper / lower, 0.0, 1.0)
        return weight


def _of_the_end(each: Contribution, name: str, coefficients: ComplexArray) -> Contribution:
    causes = {"connecting the antenna": "connecting", "noise in this reading": "noise in"}
    words = f"{causes.get(each.name, each.name)} the {name} at the end"
    return replace(each, name=words, coefficients=coefficients)


def _end(
    name: str, coefficients: ComplexArray, offset_s: float, *, across: bool = False
) -> Contribution:
    words = f"plane known to {offset_s * 1e12:.3g} ps"
    return Contribution(name, "assumed", words, True, coefficients, PIGTAIL_CAUSE, across=across)


def _require_an_end(name: str, reading: Reading) -> None:
    size = np.abs(reading.reflection)
    if not np.isfinite(size).all():
        raise PlaneError(
            f"Some points of the {name} at the pigtail's end were not measured. Sweep it again."
        )
    if size.max() > LARGEST_GAIN:
        at = int(np.argmax(size))
        raise PlaneError(
            f"With its end {name}, the pigtail reflects {size[at]:.3g} of what it gets at "
            f"{reading.frequency_hz[at] / 1e6:.6g} MHz, and nothing reflects more than all. "
            "Calibrate, and sweep it again."
        )
    if size.min() < LEAST_RETURN:
        at = int(np.argmin(size))
        raise PlaneError(
            f"With its end {name}, only {size[at]:.2g} of the wave comes back at "
            f"{reading.frequency_hz[at] / 1e6:.6g} MHz: either its end was not {name}, or it loses "
            "more than 15 dB one way and nothing can be told through it. Look at its end, or take "
            "a shorter cable."
        )
    for part in stretches(reading.frequency_hz):
        here = reading.reflection[part]
        if here.size < 2:
            continue
        turn, at = largest_turn(here)
        if turn > LARGEST_TURN_DEG:
            raise PlaneError(
                f"The {name} at the pigtail's end turns {turn:.0f} degrees from "
                f"{reading.frequency_hz[part][at] / 1e6:.6g} MHz to the next point, more than "
                f"{LARGEST_TURN_DEG:.0f}, so its length is not certain. Sweep with a finer step "
                "(`calibrate --step-khz`)."
            )


def _between(reading: Reading, frequency_hz: FloatArray) -> ComplexArray:
    """An end's reading at other frequencies, within its stretches. Raises RangeError."""
    found = np.full(frequency_hz.shape, np.nan, dtype=np.complex128)
    for part in stretches(reading.frequency_hz):
        known, values = reading.frequency_hz[part], reading.reflection[part]
        slack = tolerance_hz(frequency_hz)
        here = (frequency_hz >= known[0] - slack) & (frequency_hz <= known[-1] + slack)
        if here.any() and known.size > 1:
            at = np.clip(frequency_hz[here], known[0], known[-1])
            found[here] = polar_cubic(known, values, at)
    missing = ~np.isfinite(found)
    if missing.any():
        raise RangeError(
            f"The pigtail was not measured at {frequency_hz[missing][0] / 1e6:.6g} MHz. Measure it "
            "over all that is swept."
        )
    return found


def _left_out(reading: Reading) -> FloatArray:
    """How far each point lies from a cubic through every second one, linear, shape (points,);
    0.01 where a stretch is too short to tell, for unknown is not zero."""
    miss = np.full(reading.frequency_hz.size, UNKNOWN_INTERPOLATION)
    for part in stretches(reading.frequency_hz):
        f, values = reading.frequency_hz[part], reading.reflection[part]
        if f.size < LEAST_POINTS or largest_turn(values[::2])[0] > LARGEST_TURN_DEG:
            continue
        kept = f[::2]
        inside = f <= kept[-1]
        off = np.abs(polar_cubic(kept, values[::2], f[inside]) - values[inside])
        # each point takes the worst of its neighbours: the ones kept are met exactly
        wide = np.maximum(off, np.maximum(np.r_[off[1:], 0.0], np.r_[0.0, off[:-1]]))
        miss[part] = np.interp(f, f[inside], wide)
    return miss


def _require_two_ends(opened: Reading, shorted: Reading) -> None:
    if not same_grid(opened.frequency_hz, shorted.frequency_hz):
        raise PlaneError(
            "The open and the short at the pigtail's end were swept at different frequencies. "
            "Sweep both alike."
        )
    apart = np.abs(opened.reflection - shorted.reflection)
    mean = (np.abs(opened.reflection) + np.abs(shorted.reflection)) / 2
    alike = apart < LEAST_DIFFERENCE * mean
    if alike.any():
        at = int(np.argmax(alike))
        raise PlaneError(
            f"With its end open and shorted the pigtail reads alike at "
            f"{opened.frequency_hz[at] / 1e6:.6g} MHz: {apart[at]:.2g} apart, where "
            f"{2 * mean[at]:.2g} is expected. One of them was swept twice, or the pigtail is "
            "broken. Sweep both again."
        )
