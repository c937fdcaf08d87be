"""What known devices prove of a calibration's residual errors.

A device that reflects G shows the total error of the reading there, to how well the device is
known and to how well this one reading repeats:

    |error(G)| <= |difference| + sqrt(U_device^2 + U_rest^2)

(for a second load, which is bounded, both by the law of bounded and random parts together).
U_rest is the 95 % radius of everything else in the budget at that reading, so the bound belongs
to the group of contributions it is to replace and to nothing else. It is never below
|difference| + U_device.

**A small reflection** (a second load, a mismatch) bounds the contributions that act where
nothing is reflected: the load's definition. Its shape over G stays, its size becomes what was
proven.

**Full reflections** bound tracking and source match together. At |G| = 1 and phase angle p the
group's error is |a + b exp(jp)|. Seen with at most B at two phases a turn psi apart,

    |a| + |b| <= B / sin(psi / 4),  psi up to 180 degrees

[derived: the largest sum of two phasors whose sums at both phases are bounded; 180 degrees gives
sqrt(2) B, the parallelogram law]. One offset short sees one phase at each frequency, so its
neighbours within 5 % of the frequency help, where the residuals hardly change and the phase
behind a long line does; an offset short and an offset open see two at every frequency.

The planes of open and short have a known direction, and what is proven of them keeps it
(`calibration.uncertainty.known_directions`); the ring above takes their place where it is less.

**One of the calibration's own standards** bounds drift, never a definition.

What was assumed or stated is replaced by what was proven where that is less: all are bounds, and
this one is seen.
Where a device contradicts the budget (En > 1), what it shows is taken, more or less.

**A second load that agrees too well** proves nothing until a person says that it is another piece
than the calibration's: its own load put back says nothing of what that reflects.

**A device of unknown phase** proves nothing of complex errors: sizes may agree where they do not.
Where its size contradicts, though, the error is at least so large, and counts as seen there: the
largest within 5 % of the frequency, since an error turns in phase and shows in the size now and
then only.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from acquire.sweep import FloatArray
from calibration.error_terms.interpolation import same_grid
from calibration.errors import CalibrationError
from calibration.uncertainty.budget import Budget, Contribution, Part
from calibration.uncertainty.interval import radius
from calibration.uncertainty.known_directions import proven_along
from calibration.verification.device_comparison import Verification
from calibration.verification.two_loads import with_bound
from calibration.verification.verification_device import OwnStandard

SMALLEST_SIZE = 1e-300
SMALL_REFLECTION = 0.4
"""A device that reflects less, linear, tells of the load; one that reflects more, of tracking
and source match."""
NEAR_SHARE = 0.05
"""Share of the frequency within which residuals are taken to keep their size [practice]."""
LEAST_TURN = np.pi / 2
"""With less between the phases seen, B / sin(psi / 4) is more than 2.6 B and proves too little."""
TWO_PHASORS_SHARE = 0.85
"""Two equal bounded errors of unknown phase reach 0.85 of their sum with 95 % [run]: a single
one that replaces both must be smaller than this, or the interval would widen."""

KNOWN_DIRECTION_SHARE = 0.7
"""What an error of known direction moves a return loss by, against one of unknown phase, rms over
the phases of the reading [derived: 1 / sqrt(2)]."""


def bound_by(budget: Budget, verifications: Sequence[Verification]) -> Budget:
    """The budget, with assumptions and statements replaced by what the devices prove.

    budget : on the verifications' grid.
    verifications : of the same calibration, `verify` made them. A device of unknown phase counts
        only where it contradicts.
    Returns a budget in which contributions of origin "measured" name the device that bounds them.
    Raises CalibrationError for verifications on another grid.
    """
    for each in verifications:
        if not same_grid(each.frequency_hz, budget.frequency_hz):
            raise CalibrationError(
                f"{each.device.name} was measured at other frequencies than the budget's. Measure "
                f"it with the same sweep."
            )
    own = [each for each in verifications if isinstance(each.device, OwnStandard)]
    foreign = [
        each for each in verifications if not (isinstance(each.device, OwnStandard) or each.asks)
    ]
    both: tuple[tuple[Part, list[Verification], str], ...] = (
        ("drift", own, "put back"),
        ("definition", foreign, "measured back"),
    )
    for part, seen, by in both:
        budget = _small(budget, [each for each in seen if is_small(each)], part, by)
        budget = _full(budget, [each for each in seen if not is_small(each)], part, by)
    return budget


def is_small(seen: Verification) -> bool:
    """True for a device that reflects so little that it tells of directivity and load alone."""
    return float(np.nanmedian(np.abs(seen.reflection))) < SMALL_REFLECTION


def _acts_at_nothing(each: Contribution) -> bool:
    """True for a cause that moves a reading of nothing: the load, directivity."""
    at_nothing, *others = np.median(np.abs(each.coefficients), axis=1)
    return bool(at_nothing > 0.5 * max(others))


def _small(budget: Budget, seen: Sequence[Verification], part: Part, by: str) -> Budget:
    """Replace what acts at no reflection by what small reflections prove."""
    members = [
        each for each in budget.contributions if each.part == part and _acts_at_nothing(each)
    ]
    if not seen or not members:
        return budget
    # several loads share one shape, 1 - G^2; the largest stands for it
    shape = max(members, key=lambda each: float(np.abs(each.coefficients[0]).max()))
    own = [np.maximum(shape.size(one.reflection), SMALLEST_SIZE) for one in seen]
    scale = np.array(
        [
            _difference_bound(budget, one, members) / size
            for one, size in zip(seen, own, strict=True)
        ]
    )
    refuted = _refuted(seen)
    shown = np.where(refuted, scale, -np.inf).max(axis=0)  # the worst of the contradictions
    provable = np.where(_phase_known(seen), np.nan_to_num(scale, nan=np.inf), np.inf)
    least_bound = provable.min(axis=0)  # any device proves what it proves
    bound = np.where(refuted.any(axis=0), shown, least_bound)
    replaced = refuted.any(axis=0) | (bound < 1)
    coefficients = np.where(replaced, bound, 0) * shape.coefficients
    name = " and ".join(dict.fromkeys(each.name for each in members))
    words = _words(seen, np.abs(coefficients[0]), by)
    new = Contribution(name, "measured", words, True, coefficients, members[0].cause, part=part)
    return _with(budget, members, new, replaced)


def _full(budget: Budget, seen: Sequence[Verification], part: Part, by: str) -> Budget:
    """Replace what acts only on a reflection by what full reflections prove of it together."""
    members = [
        each for each in budget.contributions if each.part == part and not _acts_at_nothing(each)
    ]
    if not seen or not members:
        return budget
    difference_bound = np.array([_difference_bound(budget, one, members) for one in seen])
    size = np.array([np.abs(one.reflection) for one in seen])
    phase = np.array([np.angle(one.reflection) for one in seen])
    known, refutes = _phase_known(seen), _refuted(seen)
    refuted = refutes.any(axis=0)
    by_direction = proven_along(
        members,
        np.array([one.reflection for one in seen]),
        np.where(known & ~refuted, difference_bound, np.nan),
        f"{_devices(seen)}, {by}",
    )
    budget = _in_place_of(budget, members, by_direction)
    members = list(by_direction)
    # |a + b G| <= proven / |G|, and what holds of |b| |G| is larger by 1 / |G| of |b|
    bound = together_from(
        budget.frequency_hz,
        np.where(known, difference_bound / size**2, np.nan),
        np.where(known, phase, 0),
    )
    most = [
        np.abs(each.coefficients).sum(axis=0)
        * (KNOWN_DIRECTION_SHARE if each.direction_known else 1)
        for each in members
    ]
    less = bound < TWO_PHASORS_SHARE * np.sqrt(np.square(most).sum(axis=0) / 2)
    bounded = np.isfinite(bound)
    replaced = bounded & (refuted | less)
    # too few phases to bound it, and more than the budget allows: it is at least what was seen
    least = np.nan_to_num(np.where(known | refutes, difference_bound / size, 0)).max(axis=0)
    placed = replaced | refuted
    coefficients = np.zeros((3, bound.size), dtype=np.complex128)
    coefficients[1] = np.where(placed, np.maximum(np.where(bounded, bound, 0), least), 0)
    words = _words(seen, np.abs(coefficients[1]), by)
    what = "tracking and source match"
    name = f"drift of {what}" if part == "drift" else what
    new = Contribution(name, "measured", words, True, coefficients, members[0].cause, part=part)
    return _with(budget, members, new, replaced)


def together_from(
    frequency_hz: FloatArray, difference_bound: FloatArray, phase: FloatArray
) -> FloatArray:
    """Bound of |a| + |b| at every frequency, shape (points,); inf where too few phases were seen.

    proven : bound of |a + b exp(j phase)|, shape (devices, points); nan: not seen.
    phase : radian, same shape.
    Everything within `NEAR_SHARE` of a frequency counts: the largest bound and the widest turn.
    """
    bound = np.full(frequency_hz.shape, np.inf)
    for at, near in enumerate(_neighbourhoods(frequency_hz)):
        seen, angle = difference_bound[:, near].ravel(), phase[:, near].ravel()
        finite = np.isfinite(seen)
        if not finite.any():
            continue
        # the largest in reach bounds them all: a pair chosen for being small would flatter
        largest = float(seen[finite].max())
        turn = _largest_turn(angle[finite])
        if turn >= LEAST_TURN:
            bound[at] = largest / np.sin(turn / 4)
    return bound


def _largest_turn(angle: FloatArray) -> float:
    """Largest angle between any two phases, radian, at most pi; shape of angle (observations,).

    The one most opposite to each is next to its antipode in order round the circle.
    """
    order = np.sort(np.mod(angle, 2 * np.pi))
    opposite = np.mod(order + np.pi, 2 * np.pi)
    after = np.searchsorted(order, opposite)
    count = order.size
    gaps = [
        np.abs(np.angle(np.exp(1j * (order - order[(after + shift) % count])))) for shift in (-1, 0)
    ]
    return float(np.max(gaps))


def _difference_bound(
    budget: Budget, one: Verification, members: Sequence[Contribution]
) -> FloatArray:
    """|difference| and, with it, all that this comparison itself may be off by, 95 %."""
    excluded = list(members)
    if isinstance(one.device, OwnStandard):  # compared with itself, its definition cancels
        excluded += [each for each in budget.contributions if each.part == "definition"]
    kept = tuple(each for each in budget.contributions if all(each is not e for e in excluded))
    rest = radius(dataclasses.replace(budget, contributions=kept), one.reflection)
    seen = one.difference
    if not one.device.phase_known:
        seen = np.array(
            [np.nanmax(seen[near], initial=0) for near in _neighbourhoods(one.frequency_hz)]
        )
    if one.two_loads is not None:  # what the second load may reflect is bounded, and adds
        kept_budget = dataclasses.replace(budget, contributions=kept)
        return seen + with_bound(kept_budget, one.reflection, one.stated)
    result: FloatArray = seen + np.hypot(one.stated, rest)
    return result


def _phase_known(seen: Sequence[Verification]) -> NDArray[np.bool_]:
    """Which devices can prove something of complex errors, shape (devices, 1)."""
    return np.array([[one.device.phase_known] for one in seen])


def _neighbourhoods(frequency_hz: FloatArray) -> Iterator[NDArray[np.bool_]]:
    """Of every frequency in turn, the points within `NEAR_SHARE` of it."""
    for centre in frequency_hz:
        yield np.abs(frequency_hz - centre) <= NEAR_SHARE * centre


def _refuted(seen: Sequence[Verification]) -> NDArray[np.bool_]:
    """Where a device contradicts the budget, shape (devices, points)."""
    with np.errstate(invalid="ignore"):
        return np.array([one.normalised > 1 for one in seen])


def _words(seen: Sequence[Verification], sizes: FloatArray, by: str) -> str:
    return f"at most {sizes.max(initial=0):.2g}, proven by the {_devices(seen)}, {by}"


def _devices(seen: Sequence[Verification]) -> str:
    return " and ".join(one.device.name for one in seen)


def _in_place_of(
    budget: Budget, members: Sequence[Contribution], new: Sequence[Contribution]
) -> Budget:
    """The budget with each member's successor in its place; itself where all stay."""
    by_member = {id(old): one for old, one in zip(members, new, strict=True) if old is not one}
    if not by_member:
        return budget
    listed = tuple(by_member.get(id(each), each) for each in budget.contributions)
    return dataclasses.replace(budget, contributions=listed)


def _with(
    budget: Budget,
    members: Sequence[Contribution],
    new: Contribution,
    replaced: NDArray[np.bool_],
) -> Budget:
    """Put the new one in, and take the members out where it replaces them."""
    if not np.any(new.coefficients):
        return budget
    listed: list[Contribution] = []
    for each in budget.contributions:
        if each is members[0]:
            listed.append(new)
        if all(each is not member for member in members):
            listed.append(each)
        elif not replaced.all():
            listed.append(
                dataclasses.replace(each, coefficients=np.where(replaced, 0, each.coefficients))
            )
    return dataclasses.replace(budget, contributions=tuple(listed))
