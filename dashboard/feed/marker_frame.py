"""What a page reads off the trace: the reading at each marker, and each dip by its figures.

All of it is words already, from the interval that the verdicts use.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from acceptance.pictures.sweep_pictures import MarkedPoint
from acceptance.tuning.dip_reading import read_dip
from acceptance.verdict.point_reading import PointReading, read_point
from acquire.sweep import Plane
from dashboard.bench.snapshot import Snapshot

NOT_SWEPT = "Nothing was swept here."
RAW = "Calibrate first: raw readings carry the analyzer's own errors."
DEEP = "The reading is deeper than the trust floor."
OPEN = "Too near an open circuit: a small error moves it without bound."


def marker_readings(now: Snapshot, markers_mhz: Sequence[float]) -> list[dict[str, Any]]:
    """The reading at each frequency, in the order asked for; None where nothing was swept."""
    return [{"mhz": mhz, **_reading(now, mhz)} for mhz in markers_mhz]


def marked_points(now: Snapshot, markers: Sequence[tuple[int, float]]) -> list[MarkedPoint]:
    """The same for a picture: number and frequency, MHz, of each marker; what was not swept is
    left out."""
    found = []
    for number, mhz in markers:
        read = _reading(now, mhz)
        if read["size"] is None:
            continue
        interval = f" ({read['interval']})" if read["interval"] else ""
        ohm = f", {read['impedance']}" if read["impedance"] else ""
        words = f"{mhz:g} MHz: {read['loss']}{interval}, VSWR {read['vswr']}{ohm}"
        value = complex(read["real"], read["imaginary"])
        found.append(MarkedPoint(number, mhz * 1e6, value, words))
    return found


def dip_readings(now: Snapshot) -> list[dict[str, Any]]:
    """Each dip in sight, in order of frequency; none before a verdict."""
    shown = now.shown
    if now.tuning is None or shown is None:
        return []
    found = []
    for tracked in now.tuning.dips:
        if tracked.dip.beyond:
            continue
        dip = read_dip(tracked.dip, shown.frequency_hz, shown.reflection, now.uncertainty)
        low_hz, high_hz = dip.low_hz, dip.high_hz
        found.append(
            {
                "number": tracked.number,
                "mhz": dip.frequency_hz / 1e6,
                "at": f"{dip.frequency_hz / 1e6:.1f} MHz",
                "depth": dip.depth_words,
                "bandwidth": dip.bandwidth_words,
                "q": dip.q_words,
                "range_mhz": None
                if low_hz is None or high_hz is None
                else [low_hz / 1e6, high_hz / 1e6],
            }
        )
    return sorted(found, key=lambda each: each["mhz"])


def _reading(now: Snapshot, mhz: float) -> dict[str, Any]:
    shown = now.shown
    found = (
        None
        if shown is None
        else read_point(shown.frequency_hz, shown.reflection, mhz * 1e6, now.uncertainty)
    )
    if shown is None or found is None:
        return {"size": None, "why": NOT_SWEPT}
    why = _why_no_impedance(now, found)
    return {
        "size": found.size,
        "real": found.reflection.real,
        "imaginary": found.reflection.imag,
        "loss": found.return_loss_words,
        "interval": found.interval_words,
        "vswr": found.vswr_words,
        "impedance": "" if why else found.impedance_words,
        "why": why,
    }


def _why_no_impedance(now: Snapshot, found: PointReading) -> str:
    """Why there is no R + jX to tell; empty where there is."""
    if now.shown is not None and now.shown.plane is Plane.RAW:
        return RAW
    if now.plane.problem:
        return f"The reference plane is not known: {now.plane.problem}"
    if found.beyond_floor:
        return DEEP
    return "" if found.impedance_words else OPEN
