"""Whether a corrected reading could be a reflection: nothing comes back before it was sent.

What an antenna reflects may turn either way with frequency, near a deep match quickly. But whatever
it is made of, its answer in time begins at the reference plane and not before. A reply in reverse,
without its minus signs, or of a receiver that is stuck loses the turn that the way to the plane
gives every reading; the calibration puts that back, and what it then corrects to arrives too early
by that way. Where the way is short against what the swept band resolves, this cannot show.
"""

from __future__ import annotations

import itertools

import numpy as np

from acquire.sweep import ComplexArray, FloatArray

FEWEST_POINTS = 21
EARLY_RESOLUTIONS = 2.5
"""So many times 1 / (swept width) before the plane a Hann window's main lobe, 2 wide, is over."""
MOST_EARLY = 0.3
"""Share of the energy that may come earlier; of 4,000 drawn antennas none had more than 0.08."""
LEAST_SIZE = 0.1
"""Root mean square of a reflection that noise does not make up: half of what is noise is early."""
STEP_TOLERANCE = 0.01
EARLY_WORDS = (
    "{share:.0%} of what is reflected around {middle_mhz:.4g} MHz would come back before it was "
    "sent: the reading is reversed, stuck or without its signs, or the calibration is of another "
    "cable. Sweep again; if it stays so, calibrate again."
)


def without_early(
    frequency_hz: FloatArray, reflection: ComplexArray
) -> tuple[ComplexArray, tuple[str, ...]]:
    """A corrected reading without what can be no reflection, and a sentence for each such stretch.

    frequency_hz, reflection : shape (points,), at the plane of the calibration; points that are not
    finite count as nothing reflected. Returns the reflection, not a number in every even stretch
    that answers early: it is not measured. Source: causality; derived.
    """
    kept, doubts = reflection.copy(), []
    for at in _even_stretches(frequency_hz):
        share = early_share(reflection[at])
        if share > MOST_EARLY:
            kept[at] = complex(np.nan, np.nan)
            middle_mhz = float(frequency_hz[at].mean()) / 1e6
            doubts.append(EARLY_WORDS.format(share=share, middle_mhz=middle_mhz))
    return kept, tuple(doubts)


def early_share(reflection: ComplexArray) -> float:
    """The share of a reflection's energy that comes before time zero, by more than the resolution.

    reflection : complex, shape (points,), evenly spaced. 0 where it is too small, or has too few.
    """
    seen = np.where(np.isfinite(reflection), reflection, 0.0)
    size = seen.size
    if size < FEWEST_POINTS or np.sqrt(np.mean(np.abs(seen) ** 2)) < LEAST_SIZE:
        return 0.0
    energy = np.abs(np.fft.ifft(seen * np.hanning(size))) ** 2
    # bins are 1 / (swept width) apart; the upper half of them stands for times before zero
    early = energy[size - size // 2 : size - int(np.ceil(EARLY_RESOLUTIONS)) + 1]
    return float(early.sum() / energy.sum())


def _even_stretches(frequency_hz: FloatArray) -> list[slice]:
    """Where the points are one step apart."""
    steps = np.diff(frequency_hz)
    if steps.size == 0:
        return []
    breaks = np.flatnonzero(np.abs(np.diff(steps)) > STEP_TOLERANCE * steps[:-1]) + 1
    edges = [0, *breaks.tolist(), frequency_hz.size - 1]
    return [slice(first, last + 1) for first, last in itertools.pairwise(edges)]
