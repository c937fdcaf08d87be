"""The sentence to work by: one line, readable from two metres, for the moment that is shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from acceptance.limits.decision import State, most_severe
from acceptance.verdict.band_verdict import BandVerdict
from acceptance.verdict.undeclared_cable import usual_length_m
from acceptance.verdict.wording import margin_spoken, worst_place, worst_words
from acquire.port.port_errors import PLUG_IN
from acquire.sweep import FloatArray
from calibration.capture.guided_captures import SessionState
from dashboard.bench.snapshot import Snapshot

MOST_OF_A_LOAD = 0.05
"""26 dB: what a usual load reflects at most [practice]."""
LEAST_OF_A_SHORT = 0.95
"""0.45 dB: what an open or a short reflects at least, behind a little cable that came since."""
NO_ANTENNA_RATIO = 1.2
"""Highest to lowest frequency: over so much no hand-built antenna is matched so [practice]."""
SET_PLANE = "What lies between is said beneath the curves (key e)."

Tone = Literal["wait", "ask", "lost", "pass", "fail", "unsure"]


@dataclass(frozen=True, slots=True)
class Sentence:
    """What to say."""

    text: str
    """The sentence itself."""
    aside: str
    """A second, smaller one; may be empty."""
    tone: Tone
    mark: str
    """The state whose mark stands before it; "withheld" where nothing is decided."""


def sentence(now: Snapshot) -> Sentence:
    """Say what matters most at this moment."""
    if now.port.phase in {"lost", "refused"}:
        return Sentence(_of_no_sweeps(now), _last_shown(now), "lost", "withheld")
    if now.sweep is None:
        waiting = now.port.message or f"Waiting for the analyzer at {now.port.address}."
        return Sentence(now.coverage_problem or waiting, "", "wait", "withheld")
    if now.calibration.session is not None:
        return _of_calibration(now.calibration.session, checking=now.calibration.checking)
    if now.plan is None:
        return Sentence(
            "Choose the bands this antenna must serve.",
            "Without a plan there is nothing to hold the match against.",
            "ask",
            "withheld",
        )
    if now.verdict is None or now.coverage_problem:
        return _of_no_verdict(now)
    return _of_touch(now) or _of_verdict(now.verdict.bands, now)


def _of_no_sweeps(now: Snapshot) -> str:
    """Why none come; an analyzer that was there is found again by the page itself."""
    what, plug_in, _ = now.port.message.partition(PLUG_IN)
    if plug_in and now.sweep is not None:
        return f"{what}Plug it in again; the page goes on by itself."
    return now.port.message.replace("`", '"')


def _of_no_verdict(now: Snapshot) -> Sentence:
    """There is a sweep and a plan, and yet nothing to decide by."""
    if now.coverage_problem:
        return Sentence(now.coverage_problem, "", "unsure", State.NOT_MEASURED)
    if now.plane.problem:
        headline, why = "The plane cannot be there", f"{now.plane.problem} {SET_PLANE}"
    elif now.calibration.phase == "misfit":
        headline, why = "The calibration does not fit", now.calibration.message
    else:
        headline, why = "Uncalibrated", now.calibration.message
    aside = why or "Calibrate with open, short and load first."
    return Sentence(f"{headline}: marks withheld.", aside, "ask", "withheld")


def _of_touch(now: Snapshot) -> Sentence | None:
    if now.touch.phase == "idle":
        return None
    return Sentence(now.touch.message, now.touch.aside, "ask", "withheld")


def _of_calibration(session: SessionState, *, checking: bool) -> Sentence:
    """What the hands should do now; the panel below says it at length."""
    what = "check" if checking else "calibration"
    aside = f"Marks are withheld until the {what} is complete."
    if session.step is None:
        return Sentence(session.message, aside, "wait", "withheld")
    standard = session.step.standard.replace("-", " ")
    match session.phase:
        case "refused":
            return Sentence(f"Refused: measure the {standard} again.", aside, "fail", "withheld")
        case "capturing":
            return Sentence(f"Capturing the {standard}. Keep still.", aside, "wait", "withheld")
        case _:
            return Sentence(f"Screw on the {standard}.", aside, "ask", "withheld")


def _of_verdict(bands: Sequence[BandVerdict], now: Snapshot) -> Sentence:
    between = _cable_between(now)
    aside = between or _first_doubt(now) or _count(bands)
    if _nothing_reflects(now):
        return Sentence(
            "What is on reflects next to nothing, as a load does. Screw the antenna on.",
            "If that is the antenna, see what lies before it.",
            "ask",
            "withheld",
        )
    if _all_reflects(now):
        return Sentence(
            "What is on reflects nearly everything, as an open or a short does. Screw the antenna "
            "on.",
            "If that is the antenna, look for a broken joint or a short at its feed.",
            "ask",
            "withheld",
        )
    return _of_advice(bands, now) or _of_states(bands, aside, through=bool(between))


def _nothing_reflects(now: Snapshot) -> bool:
    """True where a wide sweep has no point that reflects more than a load may."""
    size = _wide_sweep(now)
    return size is not None and float(np.nanmax(size, initial=0)) <= MOST_OF_A_LOAD


def _all_reflects(now: Snapshot) -> bool:
    """True where a wide sweep has no point that reflects less than an open or a short does."""
    size = _wide_sweep(now)
    return size is not None and float(np.nanmin(size, initial=1)) >= LEAST_OF_A_SHORT


def _wide_sweep(now: Snapshot) -> FloatArray | None:
    """|reflection|, shape (points,), of a sweep over which no hand-built antenna is all alike."""
    if now.corrected is None:
        return None
    f = now.corrected.frequency_hz
    wide = f[-1] >= NO_ANTENNA_RATIO * f[0]
    return np.abs(now.corrected.reflection) if wide else None


def _of_states(bands: Sequence[BandVerdict], aside: str, *, through: bool) -> Sentence:
    """The worst band, in words. through : a cable that nobody said lies between."""
    failing = [band for band in bands if band.state in (State.FAIL, State.CONDITIONAL_FAIL)]
    if failing:
        worst = min(failing, key=_margin)
        unsure = "" if worst.state is State.FAIL else ", within the uncertainty"
        return Sentence(
            f"{band_words(worst)} {_shortfall(worst)}{unsure}.", aside, "fail", worst.state
        )
    unknown = [band for band in bands if band.state is State.NOT_MEASURED]
    if unknown:
        first = unknown[0]
        reason = f" {first.reason}" if first.reason else ""
        return Sentence(
            f"{band_words(first)} is not measured.{reason}", aside, "unsure", first.state
        )
    conditional = [
        band for band in bands if band.state is State.CONDITIONAL_PASS and not band.doubted
    ]
    if conditional:
        nearest = min(conditional, key=_margin)
        nearby = margin_spoken(nearest).removesuffix(" to spare")
        return Sentence(
            f"{band_words(nearest)} passes by {nearby}{_where(nearest)}, less "
            "than the uncertainty.",
            aside,
            "unsure",
            State.CONDITIONAL_PASS,
        )
    tightest = min(bands, key=_margin)
    margin_words = (
        f"{band_words(tightest)} has {margin_spoken(tightest) or 'much to margin_words'}."
    )
    if through or any(band.doubted for band in bands):
        how = "through a cable" if through else "in doubt"
        return Sentence(
            f"Every band passes, {how}; {margin_words}", aside, "unsure", State.CONDITIONAL_PASS
        )
    return Sentence(f"Every band passes; {margin_words}", aside, "pass", State.PASS)


def _cable_between(now: Snapshot) -> str:
    """What to do about a cable that nobody said lies there; empty where none shows."""
    if now.verdict is None or not now.verdict.cable_s:
        return ""
    metres = usual_length_m(now.verdict.cable_s)
    return (
        f"Some {metres:.1f} m of cable lie between, and their loss makes every band read better. "
        f"{SET_PLANE} Or calibrate at their far end."
    )


def _first_doubt(now: Snapshot) -> str:
    """What may make a pass of a fail; empty where nothing does."""
    doubts = () if now.verdict is None else now.verdict.doubts
    more = f" (And {len(doubts) - 1} more below.)" if len(doubts) > 1 else ""
    return doubts[0] + more if doubts else ""


def _of_advice(bands: Sequence[BandVerdict], now: Snapshot) -> Sentence | None:
    """The advice line, where there is advice and every range was measured."""
    advice = None if now.tuning is None else now.tuning.advice
    severest = most_severe(band.state for band in bands)
    if advice is None or now.tuning is None or severest is State.NOT_MEASURED:
        return None
    if advice.kind == "good" and severest is not State.PASS:
        return None  # between two looks the verdict has moved on
    if advice.kind != "good" and all(each.doubted or each.state is State.PASS for each in bands):
        return None
    between = _cable_between(now)
    tone: Tone = "pass" if severest is State.PASS else "fail"
    if severest is State.CONDITIONAL_PASS or (between and severest is State.PASS):
        tone = "unsure"
    asides = (
        between,
        advice.aside,
        now.tuning.checked and f"({now.tuning.checked})",
    )
    aside = " ".join(part for part in asides if part)
    return Sentence(advice.text, aside or _count(bands), tone, severest)


def band_words(band: BandVerdict) -> str:
    """A band as one says it: "Band 20 uplink", "Band n78", "gauge backhaul"."""
    name = band.name.replace("LTE ", "Band ").replace("NR n", "Band n")
    return name if band.link == "both" else f"{name} {band.link}"


def _shortfall(band: BandVerdict) -> str:
    """How far it misses, in the metric its limit was written in."""
    if band.limit.metric == "vswr" and band.worst_return_loss_db is not None:
        return f"reaches {worst_words(band)}; at most {band.limit.value:g} is wanted"
    return f"falls {margin_spoken(band)}{_where(band)}"


def _where(band: BandVerdict) -> str:
    """As " at 832 MHz", finer where the band is narrow."""
    place = worst_place(band)
    return f" at {place}" if place else ""


def _margin(band: BandVerdict) -> float:
    return 0.0 if band.margin_or_bound_db is None else band.margin_or_bound_db


def _count(bands: Sequence[BandVerdict]) -> str:
    passing = sum(band.state is State.PASS for band in bands)
    guarded = all(band.guarded for band in bands)
    remark = "" if guarded else " Passes are unguarded."
    return f"{passing} of {len(bands)} ranges pass.{remark}"


def _last_shown(now: Snapshot) -> str:
    if now.sweep is None:
        return "Nothing has been measured yet."
    session = now.calibration.session
    if session is not None and session.step is not None:
        standard = session.step.standard.replace("-", " ")
        return (
            f"What was taken stays. The {standard} is captured at another press, once it is back."
        )
    return "What is shown is the last sweep before that; no verdict holds for now."
