"""What the uncertainty costs: which cause dominates, and what would help most.

Each cause is made better by itself, the way a person could, and the budget is added up again: so
"a 36 dB load would lift the trust floor from 26 to 34 dB" is worked out and not guessed.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from acquire.coverage.spans import Span
from acquire.sweep import ComplexArray, FloatArray
from calibration.uncertainty.budget import Budget, Contribution
from calibration.uncertainty.interval import Interval, interval, residuals

BETTER_LOAD_DB = 10.0
"""How much better the next load to buy is [practice]."""
DOMINATING_SHARE = 0.5
LEAST_GAIN_LISTED = 0.05
"""An improvement of less than this part of the interval is not offered."""

CURES_BY_CAUSE: Mapping[str, tuple[str, float]] = {
    "the load": ("", 10 ** (-BETTER_LOAD_DB / 20)),
    "open and short": (
        "an open and a short known twice as well (a kit with coefficients)",
        DOMINATING_SHARE,
    ),
    "the connector": (
        "a connector that repeats twice as well (clean faces, torque)",
        DOMINATING_SHARE,
    ),
    "noise": ("four times as many sweeps", DOMINATING_SHARE),
    "drift": ("calibrating anew", 0.0),
    "the cable": ("a cable that is taped down", DOMINATING_SHARE),
    "the pigtail": (
        "a pigtail known twice as well (its end open and shorted by the kit)",
        DOMINATING_SHARE,
    ),
    "interpolation": ("calibrating at the frequencies that are swept", 0.0),
}
"""By cause: what a person could do, and what would be left of it."""


@dataclass(frozen=True, slots=True)
class SensitivityRanking:
    """One stretch of frequencies: what is in doubt there, and by what."""

    span: Span
    floor_db: float
    """The trust floor where it is worst, dB."""
    interval_db: tuple[float, float]
    """What a reading right at the limit may truly be, where that is widest, dB."""
    source_match_db: float
    tracking_db: float
    """What the calibration leaves of source match, as a return loss, and of tracking, as the dB a
    full reflection may be off, where they are worst. Of directivity it leaves the trust floor."""
    shares: tuple[tuple[str, float], ...]
    """Every cause and its share of the variance at the limit, largest first; they sum to 1."""
    cures: tuple[Cure, ...]
    """What would help, most helpful first; what helps hardly is left out."""

    @property
    def dominating(self) -> str:
        """The cause with the largest share."""
        return self.shares[0][0]


@dataclass(frozen=True, slots=True)
class Cure:
    """One cause made better by itself."""

    cause: str
    words: str
    """What a person could do."""
    was_db: float
    """The trust floor now, dB."""
    floor_db: float
    """The trust floor then, dB."""
    gain: float
    """How much narrower the interval at the limit would be, as a part of it."""
    next: str
    """What would dominate then."""

    @property
    def sentence(self) -> str:
        """What it would bring, in a sentence."""
        was, then = f"{self.was_db:.1f}", f"{self.floor_db:.1f}"
        lift = (
            f"lift the trust floor from {was} to {then} dB"
            if was != then
            else f"narrow the interval at the limit by {self.gain:.0%}"
        )
        after = f"{self.next} still counts most" if self.next == self.cause else self.next
        after += "" if self.next == self.cause else " would count most then"
        return f"{self.words[0].upper()}{self.words[1:]} would {lift}; {after}."


def rank_sensitivities(
    budget: Budget, stretches: Sequence[tuple[Span, float]]
) -> tuple[SensitivityRanking, ...]:
    """Work out what the uncertainty costs in each stretch.

    stretches : (low_hz, high_hz) and the limit there, |reflection|. Those that the budget's
        frequencies do not reach are left out.
    """
    found = []
    for span, limit in stretches:
        inside = (budget.frequency_hz >= span[0]) & (budget.frequency_hz <= span[1])
        if inside.any():
            found.append(_ranked_span(_within(budget, inside), span, limit))
    return tuple(found)


def advice(found: Sequence[SensitivityRanking]) -> str:
    """What would help most where the trust floor is worst, in a sentence."""
    if not found:
        return "Nothing of what is wanted was calibrated."
    worst = min(found, key=lambda each: each.floor_db)
    if not worst.cures:
        return "Nothing by itself would help much: every cause has a small share."
    return worst.cures[0].sentence


def assumed_words(budget: Budget) -> str:
    """What is neither measured nor stated, in a sentence; empty where all is."""
    sentence = dict.fromkeys(
        f"{_cause(each)}: {each.words}" for each in budget.contributions if each.origin == "assumed"
    )
    return f"Assumed, not measured nor stated: {'; '.join(sentence)}." if sentence else ""


def _within(budget: Budget, inside: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Budget:
    kept = tuple(
        dataclasses.replace(each, coefficients=each.coefficients[:, inside])
        for each in budget.contributions
    )
    return dataclasses.replace(budget, frequency_hz=budget.frequency_hz[inside], contributions=kept)


def _ranked_span(budget: Budget, span: Span, limit: float) -> SensitivityRanking:
    reading = np.full(budget.frequency_hz.size, limit, dtype=np.complex128)
    now = interval(budget, reading)
    widest = int(np.argmax(now.upward + now.downward))
    shares = _shares(budget, reading, widest)
    left_over = residuals(budget)
    cures = []
    for cause, _ in shares:
        cure, left = CURES_BY_CAUSE.get(cause, ("", 1.0))
        if left == 1.0:
            continue
        better = _improved(budget, cause, left)
        then = interval(better, reading)
        words = cure or _load_words(budget, left)
        dominating = _shares(better, reading, widest)[0][0]
        gain = 1 - float((then.upward[widest]) / max(now.upward[widest], 1e-300))
        cures.append(Cure(cause, words, _floor_db(now), _floor_db(then), gain, dominating))
    helpful = [each for each in cures if each.gain >= LEAST_GAIN_LISTED]
    return SensitivityRanking(
        span,
        _floor_db(now),
        (max(_decibels(now.high[widest]), 0.0), _decibels(now.low[widest])),
        _decibels(left_over.source_match.max()),
        float(20 * np.log10(1 + left_over.tracking.max())),
        shares,
        tuple(sorted(helpful, key=lambda each: -each.gain)),
    )


def _shares(budget: Budget, reading: ComplexArray, at: int) -> tuple[tuple[str, float], ...]:
    variance: dict[str, float] = {}
    for each in budget.contributions:
        size = float(each.size(reading)[at])
        part = size**2 * (0.5 if each.bounded else 1.0)
        variance[_cause(each)] = variance.get(_cause(each), 0.0) + part
    total = sum(variance.values()) or 1.0
    ranked = sorted(variance.items(), key=lambda pair: -pair[1])
    return tuple((cause, part / total) for cause, part in ranked)


def _improved(budget: Budget, cause: str, left: float) -> Budget:
    listed = tuple(
        dataclasses.replace(each, coefficients=left * each.coefficients)
        if _cause(each) == cause
        else each
        for each in budget.contributions
    )
    return dataclasses.replace(budget, contributions=listed)


def _cause(each: Contribution) -> str:
    return each.cause or each.name


def _load_words(budget: Budget, left: float) -> str:
    size = max(
        (np.abs(each.coefficients[0]).max() for each in budget.contributions
         if _cause(each) == "the load"),
        default=1.0,
    )  # fmt: skip
    return f"a {_decibels(float(size) * left):.0f} dB load"


def _floor_db(found: Interval) -> float:
    return _decibels(float(found.floor.max()))


def _decibels(size: float | FloatArray) -> float:
    value = float(size)
    return float(-20 * np.log10(value)) if value > 0 else float("inf")
