"""What a line's reflections mean, in words: loss, wrong impedance, a bad joint, shield current.

A reading that ripples evenly along frequency is two reflections at odds: what the line reflects on
its way, and what comes back from its end. Their distance apart is v / (2 period). Loss does not
ripple: it weakens what comes back. A current on the outside of the shield does neither by itself:
it makes the reading change when a hand grips the cable, which is the touch test [practice].
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from acceptance.tuning.cable_ripple import cable_ripple
from acceptance.tuning.touch_test import Touch
from acceptance.verdict.undeclared_cable import USUAL_VELOCITY, usual_length_m
from acquire.sweep import ComplexArray, FloatArray
from calibration.cable.distance_domain import Trace
from calibration.cable.distance_to_fault import Peak
from calibration.error_terms.interpolation import stretches

LEAST_REFLECTION = 0.03
"""30 dB: what reflects less ripples a 10 dB reading by less than a decibel [derived]."""
ALIKE_FACTOR = 2.0
"""Two reflections of like size, within such a factor, may be the two ends of one piece."""
LEAST_RIPPLE_DB = 0.5
MOST_FULL_RETURN = 1.1
LEAST_POINTS = 12

What = Literal["wrong impedance", "one place", "loss", "outer-shield current", "nothing"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a line does to readings, and what to do about it."""

    what: What
    text: str
    """A sentence or two."""
    distance_m: float | None = None
    """Where; of a piece, where it begins."""


def read_ripple(
    trace: Trace, peaks: Sequence[Peak], touch: Touch | None = None
) -> tuple[Finding, ...]:
    """Tell apart what spoils a reading.

    trace, peaks : by the line's own velocity factor (`calibration.cable.distance_domain`,
        `calibration.cable.distance_to_fault`).
    touch : what a touch test showed, if there was one; without it nothing is known of shield
    current.
    """
    found: list[Finding] = []
    end = max(peaks, key=lambda each: each.size, default=None)
    before = [each for each in peaks if end is not None and each.distance_m < end.distance_m]
    faults = [
        each for each in before if each.size >= LEAST_REFLECTION and each.kind != "not proven"
    ]
    if len(faults) == 1 and end is not None and _alike(faults[0], end):
        found.append(_piece(trace, faults[0], end))
    else:
        pairs = list(itertools.pairwise(faults))
        piece = next((pair for pair in pairs if _alike(*pair)), None)
        if piece is not None:
            found.append(_piece(trace, *piece))
        found += [_place(trace, each, end) for each in faults if piece is None or each not in piece]
    if end is not None and end.kind in ("end, open or short", "open end", "short"):
        lost_db = end.return_loss_db / 2
        if lost_db > LEAST_RIPPLE_DB:
            found.append(
                Finding(
                    "loss",
                    f"From its end at {end.distance_m:.2f} m comes back "
                    f"{end.return_loss_db:.1f} dB less than all: {lost_db:.1f} dB lost one way, "
                    "beyond the loss that was stated. It weakens every reading by twice that, "
                    "without any ripple.",
                    end.distance_m,
                )
            )
    if end is not None and end.size > MOST_FULL_RETURN:
        found.append(
            Finding(
                "loss",
                f"At {end.distance_m:.2f} m more than all would come back ({end.size:.2f}): the "
                "cable loses less than was stated, so sizes far along are too large.",
                end.distance_m,
            )
        )
    if touch is not None and touch.current in ("some", "strong"):
        found.append(Finding("outer-shield current", touch.text))
    if end is not None and end.kind == "at the connector" and end.size >= LEAST_REFLECTION:
        found.append(
            Finding(
                "one place",
                f"At the connector itself {end.size:.2f} is reflected "
                f"({end.return_loss_db:.0f} dB). If the antenna is on it, that is the antenna. If "
                "a cable is, its joint reflects more than all behind it: look there first.",
                end.distance_m,
            )
        )
    if not found:
        found.append(
            Finding(
                "nothing",
                "Nothing on the way reflects enough to matter (30 dB), so any ripple of the "
                "reading is the antenna's own.",
            )
        )
    if touch is not None and not touch.tells:
        found.append(Finding("outer-shield current", touch.text))
    if touch is None:
        found.append(
            Finding(
                "outer-shield current",
                "Whether the cable's shield carries current cannot be seen from here: grip the "
                "cable and see whether the reading moves (the touch test).",
            )
        )
    return tuple(found)


def ripple_remarks(
    frequency_hz: FloatArray, reflection: ComplexArray, noise: float = 0.0
) -> tuple[str, ...]:
    """What a sweep's own ripple says of the cable, a sentence for each stretch that is one.

    frequency_hz, reflection : shape (points,); corrected; what is not finite was not measured.
    """
    sentences = []
    for part in stretches(frequency_hz):
        f, values = frequency_hz[part], reflection[part]
        if f.size < LEAST_POINTS or not np.isfinite(values).all():
            continue
        found = cable_ripple(f, values, noise)
        if found is None or min(found.near, found.far) < LEAST_REFLECTION:
            continue
        metres = usual_length_m(found.delay_s)
        sentences.append(
            f"From {f[0] / 1e6:.0f} to {f[-1] / 1e6:.0f} MHz the reading ripples every "
            f"{found.period_hz / 1e6:.1f} MHz, as {found.delay_s * 1e9:.1f} ns of cable do between "
            f"{found.near:.2f} reflected at the one end and {found.far:.2f} coming back from the "
            f"other ({metres:.1f} m at a velocity factor of {USUAL_VELOCITY:g}): a joint or an "
            "impedance is wrong there; `bandwright fault` shows where."
        )
    return tuple(sentences)


def _alike(one: Peak, other: Peak) -> bool:
    """Whether two reflections may be the two ends of one piece of wrong impedance."""
    ends = {"open end", "short", "end, open or short"}
    if one.kind in ends or other.kind in ends:
        return False
    return 1 / ALIKE_FACTOR < one.size / other.size < ALIKE_FACTOR and one.sign == -other.sign


def _ohm(size: float) -> tuple[float, float]:
    """What would reflect so much: below 50 ohm, and above."""
    return 50 * (1 - size) / (1 + size), 50 * (1 + size) / (1 - size)


def _piece(trace: Trace, near: Peak, far: Peak) -> Finding:
    apart = far.distance_m - near.distance_m
    low, high = _ohm(min(near.size, far.size))
    ohm = {
        1: f"about {high:.0f} ohm",
        -1: f"about {low:.0f} ohm",
        0: f"about {low:.0f} or {high:.0f} ohm",
    }[near.sign]
    period_mhz = trace.line.speed_m_per_s / (2 * apart) / 1e6
    return Finding(
        "wrong impedance",
        f"From {near.distance_m:.2f} to {far.distance_m:.2f} m the line looks like {ohm}: both "
        f"ends of that piece reflect alike ({near.size:.2f} and {far.size:.2f}), and "
        f"readings ripple every {period_mhz:.0f} MHz. Use 50 ohm cable and connectors throughout.",
        near.distance_m,
    )


def _place(trace: Trace, fault: Peak, end: Peak | None) -> Finding:
    where = (
        "The joint at the connector"
        if fault.kind == "at the connector"
        else f"Something at {fault.distance_m:.2f} m"
    )
    low, high = _ohm(fault.size)
    why = {
        1: "a gap, a lifted shield, a dry joint or a pin that does not meet; or from there on a "
        f"cable of about {high:.0f} ohm",
        -1: "a kink, a crushed spot, water or too much solder; or from there on a cable of about "
        f"{low:.0f} ohm",
        0: f"a joint, a kink, water, or from there on a cable of about {low:.0f} or {high:.0f} ohm",
    }[fault.sign]
    ripple = ""
    if end is not None and end.distance_m > fault.distance_m:
        period_mhz = trace.line.speed_m_per_s / (2 * (end.distance_m - fault.distance_m)) / 1e6
        ripple = f" Readings of what is at the end ripple every {period_mhz:.0f} MHz for it."
    return Finding(
        "one place",
        f"{where} reflects {fault.size:.2f} ({fault.return_loss_db:.0f} dB): {why}.{ripple} Look "
        "there first.",
        fault.distance_m,
    )
