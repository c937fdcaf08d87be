"""A band's verdict in words: one wording for page, terminal, report, pictures and sentences.

A number beyond the trust floor is never written: what is proven is, as "better than".
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from acceptance.limits.limit import Limit
from acceptance.limits.match import reflection_from_return_loss, vswr
from acceptance.verdict.band_verdict import BandVerdict, known
from acceptance.verdict.false_pass import CONDITION

DEEPEST_DB = 60.0
"""A return loss beyond this is not written as a number: no analyzer at hand knows it."""
NARROW_HZ = 10e6
"""A band narrower than this has its worst point told to a tenth of a megahertz."""
HIGHEST_VSWR = 100.0


@dataclass(frozen=True, slots=True)
class BandWords:
    """One band in words, as any table shows it; empty where a thing is not known."""

    title: str
    """As "LTE 20 uplink"."""
    state: str
    limit: str
    """In the metric that it was written in."""
    worst: str
    """The worst point, and where: "9.8 dB at 832 MHz"."""
    interval: str
    """Where the worst point may lie, 95 %."""
    margin: str
    average: str
    floor: str
    """The trust floor."""

    @classmethod
    def of(cls, band: BandVerdict) -> BandWords:
        """Word a band."""
        floor_db = known(band.trust_floor_db)
        return cls(
            band_title(band),
            band.words,
            short_limit(band.limit),
            worst_words(band),
            interval_words(band),
            margin(band),
            average(band),
            "" if floor_db is None else f"{floor_db:.1f} dB",
        )


def short_limit(limit: Limit) -> str:
    """The limit in its own metric, short: "VSWR ≤ 2", "≥ 10 dB"."""
    return f"VSWR ≤ {limit.value:g}" if limit.metric == "vswr" else f"≥ {limit.value:g} dB"


def worst_value(band: BandVerdict) -> str:
    """The worst point in the metric of its limit; beyond the floor, what is proven of it.

    Empty where it is not known.
    """
    depth_db = band.depth_db
    if depth_db is None or band.worst_frequency_hz is None:
        return ""
    beyond = "better than " if band.better_than_db is not None else ""
    if band.limit.metric == "vswr":
        ratio = float(vswr(reflection_from_return_loss(depth_db)))
        if ratio < HIGHEST_VSWR:
            return f"{beyond}VSWR {ratio:.2f}"
        return f"VSWR above {HIGHEST_VSWR:g}"
    return (
        f"better than {DEEPEST_DB:g} dB" if depth_db >= DEEPEST_DB else f"{beyond}{depth_db:.1f} dB"
    )


def worst_place(band: BandVerdict) -> str:
    """Where the worst point lies, MHz; empty where it is not known."""
    if band.worst_frequency_hz is None:
        return ""
    digits = 1 if band.high_hz - band.low_hz < NARROW_HZ else 0
    return f"{band.worst_frequency_hz / 1e6:.{digits}f} MHz"


def worst_words(band: BandVerdict) -> str:
    """The worst point and where it lies, "9.8 dB at 832 MHz"; empty where it is not known."""
    value, place = worst_value(band), worst_place(band)
    return f"{value} at {place}" if value and place else ""


def margin(band: BandVerdict) -> str:
    """As "+1.6 dB" to spare, "−2.7 dB" short, ">+3.1 dB" proven; empty where it is not known."""
    return margin_of(band.margin_or_bound_db, margin_is_bound=band.margin_db is None)


def margin_with_doubt(band: BandVerdict) -> str:
    """The same with how far it may be off, where no interval stands beside it: "+1.6 ± 0.9 dB".

    Where the margin is larger than what stands after ±, uncertainty does not change the verdict.
    """
    words, doubt_db = margin(band), margin_doubt_db(band)
    if not words or doubt_db is None:
        return words
    return f"{words.removesuffix(' dB')} ± {_tenths(doubt_db)} dB"


def margin_doubt_db(band: BandVerdict) -> float | None:
    """How far the margin may be off, 95 %, towards the limit: downwards where the band passes,
    upwards where it fails. None where that is not known, or the margin itself is only a bound.
    """
    if band.interval_db is None or band.margin_db is None or band.worst_return_loss_db is None:
        return None
    low_db, high_db = band.interval_db
    side_db = low_db if band.margin_db >= 0 else high_db
    return known(abs(side_db - band.worst_return_loss_db))


def margin_of(margin_or_bound_db: float | None, *, margin_is_bound: bool = False) -> str:
    """The same of a margin alone. margin_is_bound : the reading lies beyond the trust floor."""
    if known(margin_or_bound_db) is None or margin_or_bound_db is None:
        return ""
    more = ">" if margin_is_bound else ""
    digits = _tenths(margin_or_bound_db)
    sign = "+" if margin_or_bound_db >= 0 or float(digits) == 0 else "−"
    return f"{more}{sign}{digits} dB"


def _tenths(decibels: float) -> str:
    """The size to a tenth; what would read as nothing, finer: nobody is told "−0.0"."""
    rough = f"{abs(decibels):.1f}"
    return rough if float(rough) != 0 or decibels == 0 else f"{abs(decibels):.2f}"


def margin_spoken(band: BandVerdict) -> str:
    """As "1.6 dB to spare", "2.7 dB short"; empty where it is not known."""
    return spoken(band.margin_or_bound_db)


def spoken(margin_or_bound_db: float | None) -> str:
    """The same of a margin alone."""
    if known(margin_or_bound_db) is None or margin_or_bound_db is None:
        return ""
    return f"{_tenths(margin_or_bound_db)} dB {'to spare' if margin_or_bound_db >= 0 else 'short'}"


def average(band: BandVerdict) -> str:
    """The band's average return loss, or what is proven of it; empty where it is not known."""
    if band.average_return_loss_db is None and band.average_better_than_db is not None:
        return f"better than {band.average_better_than_db:.1f} dB"
    average_db = known(band.average_return_loss_db)
    return "" if average_db is None else f"{average_db:.1f} dB"


def interval_words(band: BandVerdict) -> str:
    """Where the worst point may lie, 95 %, in the metric of its limit; empty where not known."""
    if band.interval_db is None:
        return ""
    low_db, high_db = band.interval_db
    bounded = band.better_than_db is None and math.isfinite(high_db) and high_db < DEEPEST_DB
    if band.limit.metric == "vswr":
        worse, better = (float(vswr(reflection_from_return_loss(db))) for db in band.interval_db)
        highest = f"{worse:.2f}" if worse < HIGHEST_VSWR else f"above {HIGHEST_VSWR:g}"
        return f"{better:.2f} to {highest}" if bounded else f"{highest} or less"
    return f"{low_db:.1f} to {high_db:.1f} dB" if bounded else f"{low_db:.1f} dB or more"


def band_title(band: BandVerdict) -> str:
    """A band's name, with the link where it has two."""
    return band.name if band.link == "both" else f"{band.name} {band.link}"


def uncertainty_sentences(
    bands: Sequence[BandVerdict], overall_risk: float | None = None
) -> list[str]:
    """How far the readings can be trusted, and what a pass still risks.

    overall_risk : that any of the bands read within its limit was so falsely, if it is known.
    """
    floors = [each.trust_floor_db for each in bands if each.trust_floor_db is not None]
    risks = [each.false_pass_risk for each in bands if each.false_pass_risk is not None]
    cut = any(each.interval_db is not None and each.interval_db[0] <= 0 for each in bands)
    sentences = []
    if floors:
        low, high = f"{min(floors):.1f}", f"{max(floors):.1f}"
        sentences.append(
            f"Trust floor: {low if low == high else f'{low} to {high}'} dB; a reading deeper than "
            "that is all uncertainty."
        )
    if cut:
        sentences.append(
            "An interval that reaches 0 dB is cut there: an antenna is passive, and sends back no "
            "more than it gets."
        )
    if risks:
        any_band = (
            f" for one band, {risk_words(overall_risk)} for any of them"
            if overall_risk is not None and len(risks) > 1
            else ""
        )
        sentences.append(f"Risk of a false pass, {CONDITION}: {risk_words(max(risks))}{any_band}.")
    return sentences


def unseen_sentence(bands: Sequence[BandVerdict]) -> str:
    """What is too narrow for the steps between the points; empty where nothing was measured."""
    steps = [each.narrowest_seen_hz for each in bands if each.narrowest_seen_hz is not None]
    if not steps:
        return ""
    return (
        f"A resonance narrower than {max(steps) / 1e6:.2g} MHz cannot be seen at "
        f"{'this step' if len(set(steps)) == 1 else 'these steps'}."
    )


def risk_words(risk: float) -> str:
    """A risk of a false pass: "0.4 %", "below 0.1 %"."""
    return "below 0.1 %" if risk < 0.001 else f"{100 * risk:.1f} %"
