"""The plan's bands and links as the page receives them, each with its state and its numbers."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

from acceptance.limits.decision import State, most_severe
from acceptance.limits.match import reflection_from_return_loss
from acceptance.plan.acceptance_plan import Target
from acceptance.verdict.band_verdict import BandVerdict, known
from acceptance.verdict.false_pass import CONDITION
from acceptance.verdict.wording import (
    average,
    interval_words,
    margin,
    margin_doubt_db,
    margin_spoken,
    margin_with_doubt,
    risk_words,
    short_limit,
    worst_words,
)
from dashboard.bench.snapshot import Snapshot
from dashboard.feed.what_is_on import NO_ANTENNA, what_is_on

WITHHELD = "withheld"
NOT_JUDGED = "not judged yet"
OUT_OF_RANGE = "outside the analyzer's range"


def strips(now: Snapshot, clock_s: float) -> list[dict[str, Any]]:
    """One strip a band, with its links in the plan's order."""
    if now.plan is None:
        return []
    no_antenna = what_is_on(now) is not None
    judged = now.verdict is not None and not no_antenna
    bands: Sequence[BandVerdict | None] = (
        now.verdict.bands if judged and now.verdict else [None] * len(now.plan.targets)
    )
    instead = NO_ANTENNA if no_antenna else NOT_JUDGED
    pairs = list(zip(now.plan.targets, bands, strict=True))
    strips = []
    for name, group in groupby(pairs, key=lambda pair: pair[0].name):
        links = list(group)
        known_bands = [band for _, band in links if band is not None]
        state = most_severe(band.state for band in known_bands) if known_bands else None
        strips.append(
            {
                "name": name,
                "note": links[0][0].note,
                "state": WITHHELD if state is None else str(state),
                "words": instead if state is None else _state_words(state, known_bands),
                "age_s": _age(now, [target for target, _ in links], clock_s),
                "links": [
                    band_frame(target, band, OUT_OF_RANGE if _beyond(now, target) else instead)
                    for target, band in links
                ],
            }
        )
    return strips


def _beyond(now: Snapshot, target: Target) -> bool:
    """True where the analyzer cannot sweep a band."""
    spans = () if now.coverage is None else now.coverage.beyond
    return any(low <= target.low_hz and target.high_hz <= high for low, high in spans)


def _age(now: Snapshot, targets: Sequence[Target], clock_s: float) -> float | None:
    """How old what a strip shows is, seconds: its oldest point."""
    watched = None if now.watched is None else now.watched.span
    inside = watched is not None and all(
        watched[0] <= each.low_hz and each.high_hz <= watched[1] for each in targets
    )
    at_s = now.seen_at_s if inside else now.whole_at_s
    return None if at_s is None else round(max(clock_s - at_s, 0.0), 1)


def _state_words(state: State, judged: Sequence[BandVerdict]) -> str:
    return next((band.words for band in judged if band.state is state), str(state))


def band_frame(
    target: Target, band: BandVerdict | None, instead: str = NOT_JUDGED
) -> dict[str, Any]:
    """What the page is told of one range: None of its verdict where it is not judged.

    instead : what stands in place of its numbers where it has none.
    """
    return {
        "link": target.link,
        "low_mhz": target.low_hz / 1e6,
        "high_mhz": target.high_hz / 1e6,
        "limit": {
            "reflection": target.limit.reflection,
            "short": short_limit(target.limit),
            "words": target.limit.words,
        },
        "state": WITHHELD if band is None else str(band.state),
        "words": instead if band is None else band.words,
        "instead": instead,
        "worst": None if band is None else _worst(band),
        "margin_db": None if band is None else known(band.margin_or_bound_db),
        "margin": None if band is None else margin(band) or None,
        "margin_with_doubt": None if band is None else margin_with_doubt(band) or None,
        "doubt_db": None if band is None else margin_doubt_db(band),
        "margin_words": None if band is None else margin_spoken(band) or None,
        "average": None if band is None else average(band) or None,
        "trust": None if band is None else _trust_words(band),
        "reason": "" if band is None else band.reason,
    }


def _worst(band: BandVerdict) -> dict[str, Any] | None:
    """The worst point, in the metric of its limit; beyond the floor, what is proven of it."""
    if band.depth_db is None or band.worst_frequency_hz is None:
        return None
    return {
        "mhz": band.worst_frequency_hz / 1e6,
        "reflection": float(reflection_from_return_loss(band.depth_db)),
        "words": worst_words(band),
    }


def _trust_words(band: BandVerdict) -> str | None:
    """Where the worst point may lie, and what a pass risks."""
    if band.interval_db is None:
        return None
    metric = "VSWR " if band.limit.metric == "vswr" else ""
    words = f"95 %: {metric}{interval_words(band)}"
    if band.false_pass_risk is not None:
        words += f"; risk of a false pass {risk_words(band.false_pass_risk)}, {CONDITION}"
    return words
