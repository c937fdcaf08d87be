"""What is no reading of an antenna, though it has numbers: such a band is not judged."""

from __future__ import annotations

import numpy as np

from acceptance.limits.match import reflection_from_return_loss
from acceptance.verdict.band_curve import BandCurve
from acquire.sweep import Plane, Source

DEEPEST_READING_DB = 80.0
"""Deeper across a whole band nothing reads: connectors alone reflect more, and the noise of a
low-cost analyzer lies near 60 dB [practice]."""


def why_raw(plane: Plane, source: Source) -> str:
    """Why a reading at this plane is not judged, with the cure; empty where it may be.

    An analyzer that corrects its readings itself sends nothing raw, whatever the plane is called.
    """
    if plane is not Plane.RAW or source.analyzer_corrected:
        return ""
    return (
        "The readings are raw, and a raw reading is not judged: with the analyzer's own errors in "
        "it an antenna of 7 dB can read 15 dB. Calibrate and judge the corrected sweep; if this "
        "one is corrected, say at which plane it holds."
    )


def why_no_reading(curve: BandCurve) -> str:
    """Why a band's curve is no reading of an antenna, with the cure; empty where it may be one."""
    size = np.abs(curve.reflection)
    nothing = np.flatnonzero(size == 0)
    if nothing.size:
        return (
            f"Exactly nothing is read back at {curve.frequency_hz[nothing[0]] / 1e6:.6g} MHz, "
            "which no measurement gives: it was not measured there, or was written as 0. Export or "
            "measure it again."
        )
    if size.max() < float(reflection_from_return_loss(DEEPEST_READING_DB)):
        return (
            f"All of the band reads deeper than {DEEPEST_READING_DB:g} dB, which no antenna and no "
            "load does: one standard may have been measured twice, or the file holds something "
            "else. Measure it again."
        )
    return ""
