"""What to do next: the headline of the page, readable from two metres, for one moment.

What to do comes first and large; why comes beneath it and small.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from acceptance.limits.decision import State, most_severe
from acceptance.verdict.band_verdict import BandVerdict
from acceptance.verdict.undeclared_cable import usual_length_m
from acceptance.verdict.wording import (
    margin_doubt_db,
    margin_spoken,
    margin_with_doubt,
    worst_place,
    worst_words,
)
from acquire.port.port_errors import PLUG_IN
from calibration.capture.guided_captures import SessionState
from dashboard.bench.parts.calibration import NEEDED
from dashboard.bench.snapshot import Snapshot
from dashboard.feed.what_is_on import what_is_on

SET_PLANE = "Set the plane at the antenna's feed (key e), or calibrate at the far end of the cable."

CHOOSE_PORT = "Choose the port that your analyzer is on."
WHERE_PORTS_ARE = (
    "Plug the analyzer in: its port appears in the list by itself. If you have none, practise on "
    "the virtual bench."
)
CHOOSE_KIT = "Choose the calibration kit that you have."
WHY_KIT = "No open, short or load is perfect. The kit says how far yours are off."

Tone = Literal["wait", "ask", "lost", "pass", "fail", "unsure"]
Way = Literal["", "cable"]


@dataclass(frozen=True, slots=True)
class Sentence:
    """What to say."""

    text: str
    """What to do, or what is so."""
    aside: str
    """Why, smaller; may be empty."""
    tone: Tone
    mark: str
    """The state whose mark stands before it; "withheld" where nothing is decided."""
    way: Way = ""
    """Where to look further: "cable" for the view along the cable."""
    next_step: bool = False
    """True where the job's next step is the thing to do now, and may be loud."""


def sentence(now: Snapshot) -> Sentence:
    """Say what matters most at this moment."""
    if now.port.phase in {"unchosen", "lost", "refused"}:
        return _of_the_port(now)
    if now.sweep is None:
        waiting = now.port.message or f"Connecting to the analyzer at {now.port.address}."
        return Sentence(now.coverage_problem or waiting, "", "wait", "withheld")
    if now.calibration.session is not None:
        return _of_calibration(now.calibration.session, checking=now.calibration.checking)
    if now.plan is None:
        return Sentence(
            "Choose the bands this antenna must serve.",
            "Without a plan there is no limit to judge by.",
            "ask",
            "withheld",
            next_step=True,
        )
    if now.verdict is None or now.coverage_problem:
        return _of_no_verdict(now)
    return _of_touch(now) or _of_verdict(now.verdict.bands, now)


def _of_no_sweeps(now: Snapshot) -> str:
    """Why none come; an analyzer that was there is found again by the page itself."""
    what, plug_in, _ = now.port.message.partition(PLUG_IN)
    if plug_in and now.sweep is not None:
        return f"{what}Plug it in again; measuring resumes by itself."
    return now.port.message.replace("`", '"')


def _of_the_port(now: Snapshot) -> Sentence:
    """No sweeps come, for the sake of the port or of the analyzer there."""
    if now.port.phase == "unchosen":
        return Sentence(CHOOSE_PORT, WHERE_PORTS_ARE, "ask", "withheld", next_step=True)
    if now.port.phase == "lost" and now.port.choosable and now.sweep is None:
        return _of_wrong_port(now.port.message)
    return Sentence(_of_no_sweeps(now), _last_shown(now), "lost", "withheld")


def _of_wrong_port(message: str) -> Sentence:
    """What is wrong with a port at which nothing was ever measured, and that there are others."""
    what, stop, cure = message.replace("`", '"').partition(". ")
    cure = cure.partition(PLUG_IN)[0] + f"{PLUG_IN}." if PLUG_IN in cure else cure
    aside = f"{cure} Or choose another port from the list.".strip()
    return Sentence(what + stop.strip(), aside, "lost", "withheld", next_step=True)


def _of_no_verdict(now: Snapshot) -> Sentence:
    """There is a sweep and a plan, and yet nothing to decide by."""
    if now.coverage_problem:
        return Sentence(now.coverage_problem, "", "unsure", State.NOT_MEASURED, next_step=True)
    withheld = "so there is no pass or fail."
    if now.plane.problem:
        do = "Set the plane again."
        why = f"The plane cannot be there, {withheld} {now.plane.problem}"
    elif now.calibration.phase == "none" and not now.calibration.kit:
        do, why = CHOOSE_KIT, WHY_KIT
    elif now.calibration.phase == "misfit":
        do = "Calibrate again."
        why = f"The calibration does not fit, {withheld} {now.calibration.message}"
    else:
        do = "Calibrate with open, short and load."
        problem = now.calibration.message
        why = f"Not calibrated yet, {withheld} {'' if problem == NEEDED else problem}"
    return Sentence(do, why.strip(), "ask", "withheld", next_step=True)


def _of_touch(now: Snapshot) -> Sentence | None:
    if now.touch.phase == "idle":
        return None
    return Sentence(now.touch.message, now.touch.aside, "ask", "withheld", next_step=True)


def _of_calibration(session: SessionState, *, checking: bool) -> Sentence:
    """What the hands should do now; the panel below says it at length."""
    what = "check" if checking else "calibration"
    aside = f"There is no pass or fail until the {what} is complete."
    if session.step is None:
        return Sentence(session.message, aside, "wait", "withheld")
    standard = session.step.standard.replace("-", " ")
    match session.phase:
        case "refused":
            again = f"Measure the {standard} again."
            return Sentence(again, f"It was refused. {aside}", "fail", "withheld")
        case "capturing":
            return Sentence(f"Keep still: measuring the {standard}.", aside, "wait", "withheld")
        case _:
            connect = f"Connect the {standard} standard."
            return Sentence(connect, aside, "ask", "withheld", next_step=True)


def _of_verdict(bands: Sequence[BandVerdict], now: Snapshot) -> Sentence:
    on = what_is_on(now)
    if on is not None:
        return Sentence("Connect the antenna.", on.words, "ask", "withheld")
    return (
        _of_cable(bands, now)
        or _of_advice(bands, now)
        or _of_states(bands, _first_doubt(now) or _count(bands))
    )


def _of_cable(bands: Sequence[BandVerdict], now: Snapshot) -> Sentence | None:
    """A cable that nobody said makes a pass of anything: it comes before every pass."""
    severest = most_severe(band.state for band in bands)
    between = _cable_between(now)
    if not between or severest not in (State.PASS, State.CONDITIONAL_PASS):
        return None
    return Sentence(
        "Account for the cable first.",
        f"{between} No pass holds through it. {SET_PLANE}",
        "unsure",
        severest,
        way="cable",
    )


def _of_states(bands: Sequence[BandVerdict], aside: str) -> Sentence:
    """The worst band, in words."""
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
        why = f"{first.reason} {aside}".strip()
        return Sentence(f"{band_words(first)} is not measured.", why, "unsure", first.state)
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
    if any(band.doubted for band in bands):
        return Sentence(
            "Every band passes, but it is in doubt.",
            f"{aside} {_tightest(bands)}",
            "unsure",
            State.CONDITIONAL_PASS,
            next_step=True,
        )
    return Sentence(
        "Every band passes.", f"{_tightest(bands)} {aside}", "pass", State.PASS, next_step=True
    )


def _tightest(bands: Sequence[BandVerdict]) -> str:
    """The band with least to spare, its uncertainty counted, by its numbers of this moment."""
    tightest = min(bands, key=lambda band: _margin(band) - (margin_doubt_db(band) or 0.0))
    numbers = margin_with_doubt(tightest)
    if not numbers:
        return f"The tightest is {_within(tightest)}."
    return f"The tightest is {_within(tightest)}: {numbers}{_where(tightest)}."


def _cable_between(now: Snapshot) -> str:
    """That a cable lies there that nobody said; empty where none shows."""
    if now.verdict is None or not now.verdict.cable_s:
        return ""
    metres = usual_length_m(now.verdict.cable_s)
    return (
        f"About {metres:.1f} m of cable lie before the antenna, and their loss makes every band "
        "read better than it is."
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
    if advice.kind == "good":
        if severest is not State.PASS:
            return None  # between two looks the verdict has moved on
        # by the numbers of this moment: the advice itself stays while the reading drifts
        why = f"{_tightest(bands)} {advice.aside}"
        return Sentence(advice.action, why, "pass", severest, next_step=True)
    if all(each.doubted or each.state is State.PASS for each in bands):
        return None
    unsure = severest is State.CONDITIONAL_PASS or advice.kind == "cable"
    between = _cable_between(now)
    parts = (advice.reason, between, advice.aside)
    return Sentence(
        advice.action,
        " ".join(part for part in parts if part) or _count(bands),
        "unsure" if unsure else "fail",
        severest,
        way="cable" if between or advice.kind == "cable" else "",
    )


def band_words(band: BandVerdict) -> str:
    """A band as one says it: "Band 20 uplink", "Band n78", "gauge backhaul"."""
    name = band.name.replace("LTE ", "Band ").replace("NR n", "Band n")
    return name if band.link == "both" else f"{name} {band.link}"


def _within(band: BandVerdict) -> str:
    """The same within a sentence."""
    words = band_words(band)
    return words[0].lower() + words[1:] if words.startswith("Band ") else words


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
            f"What was measured is kept. Press again for the {standard} once the analyzer is back."
        )
    return "You see the last sweep before that. There is no pass or fail for now."
