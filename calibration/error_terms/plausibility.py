"""What would lie is refused here, before and after solving.

A solver is content with the open recorded twice: it returns terms near a thousand, and a true
6 dB antenna then reads 55 to 97 dB [run, scikit-rf 2.2.0 at 1e-3 noise]. So the raw readings
are compared before solving, and the sizes of the terms are held against what hardware can be.
Every refusal names one standard and asks for that one alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from acquire.coverage.spans import Span
from acquire.sweep import ComplexArray, FloatArray
from calibration.error_terms.one_port import ErrorTerms, correct, solve
from calibration.error_terms.tracking_phase import phases_at_zero_hz
from calibration.errors import CalibrationError, StandardError

LEAST_APART = 0.05
"""Two readings differ by at least this, times how far apart their standards truly are.

Tracking of 0.1 (a cable of 10 dB one way) still gives twice as much.
"""
COMPARABLE_DISTANCE = 0.2
"""Standards closer than this at a frequency need not be told apart there."""
LOAD_OR_NOT = 0.5
"""A raw reading beyond this is no load's: low-cost analyzers have directivity of 0.15 or less."""
MOST_DIRECTIVITY = 0.5
MOST_SOURCE_MATCH = 0.5
USUAL_DIRECTIVITY = 0.25
"""Beyond this it may be a poor analyzer with a long adapter, and may be a standard that is none."""
USUAL_SOURCE_MATCH = 0.3
TRACKING_RANGE = (0.05, 3.0)
"""Least: a cable of 13 dB one way. Most: an analyzer that does not scale its reading at all.

Raw low-cost hardware, 1 MHz to 4.4 GHz: directivity .02 to .15, source match .01 to .21,
tracking .63 to .91 (scikit-rf's own example data) [run].
"""
EXCHANGED_DEG = 105.0
"""Tracking's phase carried back to 0 Hz is near 0; beyond this it is nearer 180. Of honest benches
with ripple, over one band, 1 of 420 came beyond 100 and none beyond 110; with 1 degree of it none
of 180 beyond 105 [run]."""

MOST_INCONSISTENT = 0.3
"""With more than three standards, how far one may lie from what the others say it is."""

Values = Mapping[str, ComplexArray]
"""By standard, in the order measured; shape (points,), linear."""


def require_finite(name: str, frequency_hz: FloatArray, reflection: ComplexArray) -> None:
    """Refuse a reading with points that were not measured. Raises StandardError."""
    finite = np.isfinite(reflection)
    if not finite.all():
        at = frequency_hz[int(np.argmin(finite))]
        raise StandardError(
            f"The {name} was not measured at {_mhz(at)} ({int((~finite).sum())} of "
            f"{finite.size} points). Check cable and analyzer, then measure the {name} again.",
            name,
        )


def require_apart(frequency_hz: FloatArray, measured: Values, actual: Values) -> None:
    """Refuse two standards whose raw readings are alike though the standards are not.

    Needs no solution, so it works from the second standard on. Raises StandardError, naming
    the later of the two unless the reading shows which one it was.
    """
    names = list(measured)
    for later in range(1, len(names)):
        for earlier in range(later):
            _require_pair_apart(frequency_hz, names[earlier], names[later], measured, actual)


def _require_pair_apart(
    frequency_hz: FloatArray, first: str, second: str, measured: Values, actual: Values
) -> None:
    truly = np.abs(actual[first] - actual[second])
    read = np.abs(measured[first] - measured[second])
    ratio = np.where(
        truly >= COMPARABLE_DISTANCE, read / np.maximum(truly, COMPARABLE_DISTANCE), np.inf
    )
    at = int(np.argmin(ratio))
    if ratio[at] >= LEAST_APART:
        return
    culprit, cause = _culprit(first, second, measured, actual)
    raise StandardError(
        f"{first.capitalize()} and {second} read alike at {int((ratio < LEAST_APART).sum())} of "
        f"{ratio.size} frequencies (at {_mhz(frequency_hz[at])} they differ by {read[at]:.2g}, in "
        f"truth by {truly[at]:.2g}). {cause} Measure the {culprit} again.",
        culprit,
    )


def _culprit(first: str, second: str, measured: Values, actual: Values) -> tuple[str, str]:
    """Which of two standards that read alike is wrong, and what probably happened."""
    loads = [name for name in (first, second) if is_load(actual[name])]
    if len(loads) == 1:
        load = loads[0]
        other = second if load == first else first
        if float(np.median(np.abs(measured[load]))) > LOAD_OR_NOT:
            return load, f"The {load} was probably not screwed on."
        return other, f"The {load} was probably left on the port for the {other}."
    return second, "One was probably left on the port twice."


def is_load(actual: ComplexArray) -> bool:
    """True for a standard that reflects little."""
    return float(np.median(np.abs(actual))) < COMPARABLE_DISTANCE


def require_load_reads_low(measured: Values, actual: Values) -> None:
    """Refuse a load that reads like an open or a short. Raises StandardError."""
    for name, reading in measured.items():
        size = np.abs(reading)
        if is_load(actual[name]) and float(np.median(size)) > MOST_DIRECTIVITY:
            raise StandardError(
                f"The {name} reflects {float(np.median(size)):.2f} of what is sent, like an open "
                f"or a short (a load through a raw analyzer stays below {MOST_DIRECTIVITY:g}). It "
                f"was "
                f"probably not screwed on. Measure the {name} again.",
                name,
            )


def require_possible(terms: ErrorTerms, measured: Values, actual: Values) -> None:
    """Refuse error terms that no analyzer with its cable can have. Raises StandardError."""
    f = terms.frequency_hz
    directivity = np.abs(terms.directivity)
    if (at := _first(~(directivity <= MOST_DIRECTIVITY))) is not None:
        load = next((name for name in measured if is_load(actual[name])), list(measured)[-1])
        raise StandardError(
            f"Directivity comes out as {directivity[at]:.2g} at {_mhz(f[at])}; a working analyzer "
            f"stays below {MOST_DIRECTIVITY:g}. The {load} was probably not the load, or its "
            f"contact is bad. Measure the {load} again.",
            load,
        )
    match, tracking = np.abs(terms.source_match), np.abs(terms.reflection_tracking)
    for size, least, most, words in (
        (match, 0.0, MOST_SOURCE_MATCH, "Source match"),
        (tracking, *TRACKING_RANGE, "Tracking"),
    ):
        if (at := _first(~((size >= least) & (size <= most)))) is not None:
            culprit = _odd_one_out(f, measured, actual)
            raise StandardError(
                f"{words} comes out as {size[at]:.2g} at {_mhz(f[at])}; a working analyzer and "
                f"cable "
                f"lie between {least:g} and {most:g}. One standard was probably confused with "
                f"another or did not touch; most likely the {culprit}. Measure the {culprit} "
                f"again.",
                culprit,
            )


def require_consistent(terms: ErrorTerms, measured: Values, actual: Values) -> None:
    """Refuse one of four or more standards that contradicts the others. Raises StandardError.

    Three standards are always met exactly, so with three this finds nothing.
    """
    misses = {
        name: np.abs(correct(terms, reading) - actual[name]) for name, reading in measured.items()
    }
    culprit = max(misses, key=lambda name: float(misses[name].max()))
    at = int(np.argmax(misses[culprit]))
    if (worst := float(misses[culprit][at])) > MOST_INCONSISTENT:
        raise StandardError(
            f"The {culprit} lies {worst:.2g} from what the other standards make of it at "
            f"{_mhz(terms.frequency_hz[at])}. It was probably confused or did not touch. Measure "
            f"the {culprit} again.",
            culprit,
        )


def _first(bad: NDArray[np.bool_]) -> int | None:
    return int(np.argmax(bad)) if bad.any() else None


def _odd_one_out(frequency_hz: FloatArray, measured: Values, actual: Values) -> str:
    """The reflecting standard that was most likely not on the port.

    Each in turn is supposed to have been an empty port, G = 1. Where that is what happened the
    terms come out as an analyzer's, else they get worse still: the smaller source match tells.
    """
    supposed: dict[str, float] = {}
    for name in measured:
        if is_load(actual[name]):
            continue
        empty = dict(actual) | {name: np.ones_like(actual[name])}
        try:
            terms = solve(frequency_hz, list(measured.values()), list(empty.values()))
        except CalibrationError:  # then it was no empty port
            continue
        supposed[name] = float(np.median(np.abs(terms.source_match)))
    return min(supposed, key=lambda name: supposed[name], default=list(measured)[-1])


def warn_if_exchanged(terms: ErrorTerms, spans: Sequence[Span]) -> tuple[str, ...]:
    """One warning if open and short look exchanged, none if they do not or nobody can tell.

    Exchanged, they turn tracking by 180 degrees: return loss stays right to 0.5 dB, impedance
    is wrong (60 ohm reads as 42 ohm) [run].
    """
    phases = phases_at_zero_hz(terms.frequency_hz, terms.reflection_tracking, spans)
    if not phases or min(map(abs, phases)) < EXCHANGED_DEG:
        return ()
    return (
        f"Open and short look exchanged: tracking's phase, carried back to 0 Hz, is "
        f"{phases[0]:.0f} degrees and should be near 0. Return loss would stay right, impedance "
        f"and a moved plane would not. If you are not sure which was which, measure both again.",
    )


def say_if_exchange_untold(terms: ErrorTerms, spans: Sequence[Span]) -> tuple[str, ...]:
    """One sentence where the phase cannot tell whether open and short were exchanged, else none."""
    phases = phases_at_zero_hz(terms.frequency_hz, terms.reflection_tracking, spans)
    turned = [abs(each) for each in phases]
    if turned and (min(turned) >= EXCHANGED_DEG or max(turned) <= 180 - EXCHANGED_DEG):
        return ()
    return (
        "Whether open and short were exchanged, the phase does not tell on these frequencies: "
        "exchanged, they would leave the return loss right to half a decibel or so, and turn the "
        "impedance and a moved plane into something else. See that each was on when it was "
        "asked for; a wider span tells.",
    )


def warn_if_unusual(terms: ErrorTerms) -> tuple[str, ...]:
    """A warning for each error term that an analyzer can have, and few do.

    A 2:1 device on for the load solves to terms within what is possible on most benches, and
    an antenna may then read 20 dB better than it is [run].
    """
    warnings = []
    for size, usual, words, suspect in (
        (
            np.abs(terms.directivity),
            USUAL_DIRECTIVITY,
            "Directivity comes out as {size:.2g} at {place}; most analyzers stay below 0.15.",
            "load",
        ),
        (
            np.abs(terms.source_match),
            USUAL_SOURCE_MATCH,
            "Source match comes out as {size:.2g} at {place}; most analyzers stay below 0.21.",
            "open and short",
        ),
    ):
        at = int(np.argmax(size))
        if size[at] > usual:
            warnings.append(
                f"{words.format(size=size[at], place=_mhz(terms.frequency_hz[at]))} A poor "
                f"{suspect}, or a loose nut, looks like this, and an antenna would then read "
                f"better than it is. Measure the {suspect} again; if it stays, measure a known "
                "device back before you trust a pass."
            )
    return tuple(warnings)


def _mhz(frequency_hz: float) -> str:
    return f"{frequency_hz / 1e6:.1f} MHz"
