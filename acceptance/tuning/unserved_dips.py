"""Dips that serve none of the wanted bands, named beside the band that would need them."""

from __future__ import annotations

from collections.abc import Sequence

from acceptance.limits.decision import State
from acceptance.tuning.dips import Dip
from acceptance.verdict.band_verdict import BandVerdict
from acceptance.verdict.wording import band_title

MOST_NAMED = 3


def unserved_dips(bands: Sequence[BandVerdict], dips: Sequence[Dip]) -> tuple[str, ...]:
    """Name each dip that serves no band, where a band fails or has no dip; a sentence each.

    bands : the verdict's. A dip serves a band where the two overlap, the dip taken as wide as half
    of what is absorbed at its bottom is absorbed. Of one beyond the sweep nothing is said.
    """
    seen = [each for each in dips if not each.beyond]
    measured = [each for each in bands if each.state is not State.NOT_MEASURED]
    wanting = [
        band
        for band in measured
        if band.state in (State.FAIL, State.CONDITIONAL_FAIL)
        or not any(_serves(dip, band) for dip in dips)
    ]
    if not wanting:
        return ()
    idle = [dip for dip in seen if not any(_serves(dip, band) for band in bands)]
    deepest = sorted(idle, key=lambda dip: dip.reflection)[:MOST_NAMED]
    return tuple(
        _sentence(dip, min(wanting, key=lambda band: _away_hz(dip, band)))
        for dip in sorted(deepest, key=lambda dip: dip.frequency_hz)
    )


def _serves(dip: Dip, band: BandVerdict) -> bool:
    return dip.low_hz <= band.high_hz and band.low_hz <= dip.high_hz


def _away_hz(dip: Dip, band: BandVerdict) -> float:
    return max(band.low_hz - dip.frequency_hz, dip.frequency_hz - band.high_hz)


def _sentence(dip: Dip, band: BandVerdict) -> str:
    return (
        f"The dip at {dip.frequency_hz / 1e6:.0f} MHz ({dip.return_loss_db:.1f} dB) serves no "
        f"wanted band; the nearest that needs one is {band_title(band)}, "
        f"{band.low_hz / 1e6:g} to {band.high_hz / 1e6:g} MHz."
    )
