"""Which way to trim, by how much, and how sure: from the curve, the dips and what was learned.

A dimension slides the curve around a dip along the logarithm of frequency, and deepens or flattens
it; so what a step would do to every band's margin is read off the curve as it is now, slid and
deepened (`acceptance.tuning.shifted_curve`). The step that takes most away from what the bands are
short of is advised. Then doubt comes in:

- what can be bent back is bent by s / (s^2 + sd^2) of what is wanted, the step that misses least
  on average;
- what is cut off stays off, so it is cut by 1 / (|s| + 1.96 sd), which with 97.5 % is not too much;
- where not even the sign is sure, the step is small, to learn it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acceptance.limits.match import mismatch_loss_db
from acceptance.plan.acceptance_plan import Target
from acceptance.plan.recipe import Dimension
from acceptance.tuning.advice import (
    Advice,
    Expected,
    band_name,
    capital,
    millimetres,
    resistance_at,
)
from acceptance.tuning.dimension_effect import DimensionEffects
from acceptance.tuning.dip_reason import needs_it
from acceptance.tuning.dip_tracking import Tracked
from acceptance.tuning.dips import Dip
from acceptance.tuning.scaling_advice import (
    CANDIDATE_COUNT,
    FURTHEST_SLIDE,
    by_scaling,
)
from acceptance.tuning.shifted_curve import Curve
from acceptance.tuning.stepless_advice import (
    nothing_in_sight,
    through_ripple,
    too_shallow,
    too_uncertain,
)
from acceptance.verdict.wording import spoken
from acquire.sweep import FloatArray

GAINS_NOTHING_DB = 0.05
"""Mismatch loss below which more is not worth a bend."""
LEAST_STEP_GAIN_DB = 0.1
"""An advised step takes at least so much, dB, away from what all bands are short of; or a fifth of
what the worst band is short of, if that is less."""
LEAST_MM = 0.1
"""No hand does less."""
NORMAL_95_FACTOR = 1.96
TRIED_STEPS = 2
LARGEST_TRIED_STEPS = 6.0
"""A step whose sign is unknown is at most so many of the hand's steps; a cut only TRIED_STEPS."""
WIDER_AT_FIRST, WIDER_UNSCALED = 1.6, 2.5
"""How much wider a prediction's interval is before a bend was seen, and where no length scales: so
that 95 % hold on random antennas, one in ten of the other sign (`benchmarks/tuning.py`) [run]."""
LARGEST_UNSCALED = 20.0
"""Where no length says what is much, a step is at most so many of the hand's steps."""


def advise(curve: Curve, effects: DimensionEffects) -> Advice:
    """Say what to do next."""
    if not curve.targets:
        return Advice("no dip", "Choose a band to tune for.", "The sweep covers none of the plan.")
    if not curve.dips:
        return through_ripple(curve.ripple) if curve.ripple else nothing_in_sight()
    margins = curve.margins
    worst = min(margins, key=lambda n: margins[n])
    if margins[worst] >= 0:
        return _good(curve, effects, worst, margins[worst])
    uncertain = too_uncertain(curve)
    if uncertain is not None:
        return uncertain
    return _towards(curve, effects, curve.targets[worst], margins[worst])


def _towards(curve: Curve, effects: DimensionEffects, worst: Target, margin_db: float) -> Advice:
    """What helps the bands that are short."""
    own = curve.dip_of(worst)
    refused = None if own is None else too_shallow(curve, own)
    if refused is not None:
        return refused
    steps = [
        step
        for each in effects.recipe.dimensions
        if (step := _best(curve, effects, each)) is not None
    ]
    now = _total(curve, np.zeros(1), np.zeros(1))[0]
    useful = [
        step
        for step in steps
        if now - step.left >= min(LEAST_STEP_GAIN_DB, -margin_db / 5)
        and abs(step.wanted_mm) >= LEAST_MM
    ]
    if useful:
        return _spoken(curve, effects, min(useful, key=lambda step: step.left), worst)
    if not effects.recipe.dimensions and (scaled := by_scaling(curve)) is not None:
        return scaled
    if own is None:
        return Advice(
            "no dip",
            f"Try the part that should serve {band_name(worst)}.",
            f"No dip is in sight for {band_name(worst)}: it is too shallow to see, or far off.",
        )
    if not effects.recipe.dimensions:
        return Advice(
            "cannot",
            "Change the feed, or its height.",
            f"The dip at {own.dip.frequency_hz / 1e6:.0f} MHz is too shallow or too narrow for "
            f"{band_name(worst)}; moving it does not help.",
        )
    return _unknown(curve, effects, own, worst)


@dataclass(frozen=True, slots=True)
class _Step:
    dimension: Dimension
    wanted_mm: float
    """Would hit, if what is expected were so."""
    number: int
    """The dip it is for."""
    shift: float
    """How far that dip should move, d ln(frequency)."""
    left: float
    """What the bands would still be short of."""


def _total(curve: Curve, shift: FloatArray, depth: FloatArray) -> FloatArray:
    """What all bands are short of, every dip moved alike."""
    total: FloatArray = np.sum(
        [curve.short(curve.after(each, shift, depth)) for each in curve.targets], axis=0
    )
    return total


def _best(curve: Curve, effects: DimensionEffects, dimension: Dimension) -> _Step | None:
    """The step of one dimension after which the bands are short of least."""
    dip_effects = {each.number: effects.effect(dimension.name, each.number) for each in curve.dips}
    half_width = max(abs(effect.shift.mean) for effect in dip_effects.values())
    deep = max(abs(effect.depth.mean) for effect in dip_effects.values())
    if half_width < 1e-6 and deep < 1e-6:
        return None
    most_mm = min(
        FURTHEST_SLIDE / half_width if half_width > 1e-6 else np.inf,
        0.5 / deep if deep > 1e-6 else np.inf,
    )
    if dimension.length_mm is not None:
        most_mm = min(most_mm, FURTHEST_SLIDE * dimension.length_mm)
    else:
        most_mm = min(most_mm, LARGEST_UNSCALED * dimension.step_mm)
    # a square law puts the candidates close together where the step is small
    ladder = np.linspace(-1, 1, CANDIDATE_COUNT)
    deltas = most_mm * ladder * np.abs(ladder)
    by_dip = {number: np.zeros(CANDIDATE_COUNT) for number in dip_effects}
    for target in curve.targets:
        own = curve.dip_of(target)
        if own is None:
            continue
        effect = dip_effects[own.number]
        margins = curve.after(target, deltas * effect.shift.mean, deltas * effect.depth.mean)
        by_dip[own.number] += curve.short(margins)
    total = np.sum(list(by_dip.values()), axis=0)
    best = int(np.argmin(total + 1e-3 * np.abs(ladder)))
    # the step is said to be for the dip whose bands it helps, not for what it moves besides
    still = CANDIDATE_COUNT // 2
    number = max(by_dip, key=lambda n: by_dip[n][still] - by_dip[n][best])
    shift = float(deltas[best] * dip_effects[number].shift.mean)
    return _Step(dimension, float(deltas[best]), number, shift, float(total[best]))


def _spoken(curve: Curve, effects: DimensionEffects, step: _Step, worst: Target) -> Advice:
    dimension, number = step.dimension, step.number
    effect = effects.effect(dimension.name, number)
    by_shift = abs(effect.shift.mean) > 1e-6 and abs(step.shift) > 1e-4
    estimate = effect.shift if by_shift else effect.depth
    slope, sd = abs(estimate.mean), estimate.sd
    sign = 1.0 if step.wanted_mm > 0 else -1.0
    size = abs(step.wanted_mm)
    unsure = slope < NORMAL_95_FACTOR * sd
    is_cut = dimension.cut and sign < 0
    share = 1 / (1 + NORMAL_95_FACTOR * sd / slope) if is_cut else slope**2 / (slope**2 + sd**2)
    delta = max(size * share, LEAST_MM)
    if unsure:
        delta = min(delta, (TRIED_STEPS if is_cut else LARGEST_TRIED_STEPS) * dimension.step_mm)
    low = size * slope / (slope + NORMAL_95_FACTOR * sd)
    high = size * slope / (slope - NORMAL_95_FACTOR * sd) if not unsure else np.inf
    verb = dimension.more if sign > 0 else dimension.less
    asides = []
    if unsure:
        what = "cut" if is_cut else "step"
        asides.append(f"A small first {what}, to learn how far the dip moves.")
    else:
        asides.append(f"Probably {millimetres(low)} to {millimetres(high)} mm in all.")
    if is_cut:
        asides.append("You can always cut more.")
    if dimension.cut and sign > 0:
        asides.append("It is too short: solder a piece on, or cut the next one longer.")
    asides += _also(curve, effects, dimension, sign * delta)
    return Advice(
        "try" if unsure else "bend",
        f"{verb} {dimension.label} by {millimetres(delta)} mm.",
        _why(curve, step, worst, by_shift=by_shift),
        " ".join(asides),
        dimension.name,
        sign * delta,
        sign * low,
        sign * high if np.isfinite(high) else None,
        number if by_shift else None,
        float(_dip(curve, number).frequency_hz * np.exp(step.shift)) if by_shift else None,
        expected_after(curve, effects, dimension.name, sign * delta),
        curve_after(curve, effects, dimension.name, sign * delta),
    )


def curve_after(
    curve: Curve, effects: DimensionEffects, dimension: str, delta_mm: float
) -> FloatArray:
    """The curve that a step is expected to make, shape (points, 2): frequency in Hz and |G|."""
    dips = {each.number: effects.effect(dimension, each.number) for each in curve.dips}
    return curve.moved(
        {
            number: (delta_mm * effect.shift.mean, delta_mm * effect.depth.mean)
            for number, effect in dips.items()
        }
    )


def expected_after(
    curve: Curve, effects: DimensionEffects, dimension: str, delta_mm: float
) -> tuple[Expected, ...]:
    """Where a step is expected to take every dip, with an interval of about 95 %."""
    found = []
    for each in curve.dips:
        shift = effects.effect(dimension, each.number).shift
        f, sd = each.dip.frequency_hz, shift.sd + 0.1 * abs(shift.mean)
        half_width = NORMAL_95_FACTOR * np.hypot(sd * delta_mm, 2 * each.dip.frequency_sd_hz / f)
        half_width *= _wider(effects, dimension)
        centre = shift.mean * delta_mm
        found.append(
            Expected(
                each.number,
                float(f * np.exp(centre)),
                float(f * np.exp(centre - half_width)),
                float(f * np.exp(centre + half_width)),
            )
        )
    return tuple(found)


def _wider(effects: DimensionEffects, dimension: str) -> float:
    """What a belief's own deviation leaves out: the other sign, and what is no straight line."""
    if effects.recipe.find(dimension).length_mm is None:
        return WIDER_UNSCALED
    return 1.0 if effects.has_learned(dimension) else WIDER_AT_FIRST


def _why(curve: Curve, step: _Step, worst: Target, *, by_shift: bool) -> str:
    """What is wrong with the dip that a step is for, by the band that the step helps."""
    dip = _dip(curve, step.number)
    mhz = dip.frequency_hz / 1e6
    if not by_shift:
        served = [t for t in curve.targets if (d := curve.dip_of(t)) and d.number == step.number]
        margins = {t: curve.margins[n] for n, t in enumerate(curve.targets)}
        band = worst if worst in served else min(served or [worst], key=lambda t: margins[t])
        ohms = resistance_at(curve, step.number)
        return f"The dip at {mhz:.0f} MHz is too shallow for {band_name(band)}.{ohms}"
    return needs_it(curve, step.number, step.shift)


def _also(
    curve: Curve, effects: DimensionEffects, dimension: Dimension, delta_mm: float
) -> list[str]:
    """What else a step moves, where that is known and no trifle."""
    moved = expected_after(curve, effects, dimension.name, delta_mm)
    main = max(moved, key=lambda each: abs(_moves(curve, each)))
    others = [e for e in moved if e.number != main.number and abs(_moves(curve, e)) > 3e6]
    return [
        f"The dip at {_dip(curve, each.number).frequency_hz / 1e6:.0f} MHz moves too, by about "
        f"{_moves(curve, each) / 1e6:+.0f} MHz."
        for each in others
    ]


def _moves(curve: Curve, each: Expected) -> float:
    return each.frequency_hz - _dip(curve, each.number).frequency_hz


def _dip(curve: Curve, number: int) -> Dip:
    return next(each.dip for each in curve.dips if each.number == number)


def _good(curve: Curve, effects: DimensionEffects, worst: int, margin_db: float) -> Advice:
    """Every band passes: is there anything left to gain?"""
    target = curve.targets[worst]
    best = margin_db
    own = curve.dip_of(target)
    for dimension in effects.recipe.dimensions:
        step = _best(curve, effects, dimension)
        if step is None or own is None:
            continue
        effect = effects.effect(dimension.name, own.number)
        delta = np.array([step.wanted_mm])
        after = curve.after(target, delta * effect.shift.mean, delta * effect.depth.mean)
        best = max(best, float(after[0]))
    limit = target.limit.reflection
    now, then = (limit * 10 ** (-margin / 20) for margin in (margin_db, best))
    gain = float(mismatch_loss_db(now) - mismatch_loss_db(then))
    left = (
        f"less than {GAINS_NOTHING_DB:g} dB"
        if gain < GAINS_NOTHING_DB
        else f"at most {gain:.2f} dB"
    )
    return Advice(
        "good",
        "Done. Every band passes.",
        f"The tightest, {band_name(target)}, has {spoken(margin_db)} after allowing for "
        "measurement error.",
        f"More tuning would gain {left}.",
    )


def _unknown(curve: Curve, effects: DimensionEffects, tracked: Tracked, worst: Target) -> Advice:
    """No known step helps: try a dimension nothing is known of, those that scale none first."""
    slides = np.linspace(-FURTHEST_SLIDE, FURTHEST_SLIDE, 4 * CANDIDATE_COUNT)
    still = np.zeros(slides.size)
    reached = min(
        float(curve.after(each, slides, still).max()) for each in curve.served_by(tracked)
    )
    mhz, short = tracked.dip.frequency_hz / 1e6, -curve.margins[curve.targets.index(worst)]
    reason = (
        f"The dip at {mhz:.0f} MHz is too shallow for {band_name(worst)}: "
        f"{tracked.dip.return_loss_db:.1f} dB at its bottom.{resistance_at(curve, tracked.number)}"
        if reached < 0
        else f"{capital(band_name(worst))} is {spoken(-short)}, and no step known would help."
    )
    untried = [each for each in effects.recipe.dimensions if not effects.has_learned(each.name)]
    if not untried:
        return Advice(
            "cannot",
            "Change something that is not in the recipe.",
            reason,
            "Every dimension of the recipe was tried.",
        )
    dimension = min(untried, key=lambda each: each.length_mm or 0.0)
    delta = TRIED_STEPS * dimension.step_mm
    return Advice(
        "try",
        f"{dimension.more} {dimension.label} by {millimetres(delta)} mm.",
        reason,
        "What it does is not known yet; either way teaches.",
        dimension.name,
        delta,
        expected=expected_after(curve, effects, dimension.name, delta),
    )
