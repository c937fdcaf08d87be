"""Verdicts: every point of every band judged by its own value, the most severe one deciding."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acceptance.band_curve import BandCurve, Gap, band_curve
from acceptance.bands import Link
from acceptance.decision import DECIDED, State, decide, most_severe
from acceptance.errors import VerdictError
from acceptance.limit import Limit
from acceptance.match import average_return_loss_db, reflection_from_return_loss, return_loss_db
from acceptance.plan import Plan, Target
from acquire.sweep import FloatArray, Plane, Reading, Source, Sweep

MATCH_ONLY = "match only, not gain or pattern"
"""What every record says: a match is not an antenna."""

FLAT_MATCH_DB = 14.0
"""A return loss better than this everywhere, over FLAT_MATCH_RATIO in frequency, is noted."""
FLAT_MATCH_RATIO = 1.5


@dataclass(frozen=True, slots=True)
class BandVerdict:
    """The verdict on one target. Numbers are None where the band was not measured."""

    name: str
    link: Link
    low_hz: float
    high_hz: float
    state: State
    limit: Limit
    worst_return_loss_db: float | None
    """At the deciding point; infinite where nothing at all came back."""
    worst_frequency_hz: float | None
    margin_db: float | None
    """Worst return loss above the limit's, dB, for a VSWR limit too; negative where it fails."""
    average_return_loss_db: float | None
    """Of the power reflected across the band, weighed by frequency."""
    edge_error: float | None
    """Larger of the two edges' interpolation errors in |reflection|; counted in at that edge."""
    reason: str
    """Why the band was not measured, with the cure; beside a fail, why the worst is not known to
    be the worst. Empty otherwise."""
    guarded: bool
    """False while no uncertainty is known."""
    note: str = ""
    """What limits the band's use, by country or by kind."""

    @property
    def words(self) -> str:
        """The state as a person reads it: a pass without uncertainty is unguarded."""
        if self.state is State.PASS and not self.guarded:
            return "pass (unguarded)"
        return str(self.state)

    def as_json(self) -> dict[str, object]:
        """The entry of `bands` in the object that --json prints; a number not known is None."""
        return {
            "name": self.name,
            "link": self.link,
            "state": str(self.state),
            "limit": self.limit.as_json(),
            "worst_return_loss_db": _known(self.worst_return_loss_db),
            "worst_frequency_hz": _known(self.worst_frequency_hz),
            "margin_db": _known(self.margin_db),
        }


@dataclass(frozen=True, slots=True)
class Verdict:
    """The verdict on a whole plan."""

    overall: State
    """Any fail fails it; else anything not measured leaves it not measured; else the worst."""
    plan: str
    plane: Plane
    source: Source
    bands: tuple[BandVerdict, ...]
    """In the plan's order."""
    guarded: bool
    notes: tuple[str, ...]
    """What the numbers alone do not say; one sentence each."""

    @property
    def words(self) -> str:
        """The overall state as a person reads it."""
        if self.overall is State.PASS and not self.guarded:
            return "pass (unguarded)"
        return str(self.overall)

    def as_json(self) -> dict[str, object]:
        """The object that `check --json` and `accept --json` print."""
        return {
            "overall": str(self.overall),
            "plan": self.plan,
            "plane": str(self.plane),
            "source": source_as_json(self.source),
            "bands": [band.as_json() for band in self.bands],
        }


def judge(
    plan: Plan,
    readings: Sweep | Reading,
    plane: Plane | None = None,
    source: Source | None = None,
    *,
    uncertainty: FloatArray | None = None,
    guard: float = 1.0,
) -> Verdict:
    """Judge every target of a plan.

    readings : a sweep, or a file's reading; of a Reading, plane and source must be given, of a
        Sweep its own are taken where they are not.
    uncertainty : expanded uncertainty (about 95 %) of |reflection| at every point, shape
        (points,), or None while it is not known: then no guard band is applied, and a pass is
        called unguarded.
    guard : guard band as a multiple of that uncertainty.
    Each point is decided by its own value and uncertainty, and the most severe one is the
    band's. At an edge between two points the reflection is interpolated with the delay taken
    out, and the error of that is added to it before it is judged. A grid too coarse to follow the
    reflection leaves a band not measured, unless a measured point fails it already.
    Raises VerdictError where plane or source are missing or the uncertainty does not fit.
    """
    plane, source = _origin(readings, plane, source)
    if uncertainty is not None and uncertainty.shape != readings.frequency_hz.shape:
        raise VerdictError(
            f"There are {uncertainty.size} uncertainties for {readings.frequency_hz.size} points; "
            "each point needs its own."
        )
    bands = tuple(_judge_target(target, readings, uncertainty, guard) for target in plan.targets)
    return Verdict(
        overall=most_severe(band.state for band in bands),
        plan=plan.name,
        plane=plane,
        source=source,
        bands=bands,
        guarded=uncertainty is not None,
        notes=tuple(_notes(readings, plane, source, guarded=uncertainty is not None)),
    )


def source_as_json(source: Source) -> dict[str, object]:
    """Return a source's fields, and whether it was a real port in this run."""
    return {
        "kind": source.kind,
        "unit": source.unit,
        "profile": source.profile,
        "port": source.port,
        "unit_corrected": source.unit_corrected,
        "measured": source.measured,
    }


def _judge_target(
    target: Target, readings: Sweep | Reading, uncertainty: FloatArray | None, guard: float
) -> BandVerdict:
    found = band_curve(readings.frequency_hz, readings.reflection, (target.low_hz, target.high_hz))
    guarded = uncertainty is not None
    curve, reason = (found.measured, found.reason) if isinstance(found, Gap) else (found, "")
    if curve is None:
        return _verdict(target, State.NOT_MEASURED, reason=reason, guarded=guarded)
    width = np.zeros(curve.frequency_hz.size)
    if uncertainty is not None:
        width = guard * np.interp(curve.frequency_hz, readings.frequency_hz, uncertainty)
    if not (np.isfinite(width) & (width >= 0)).all():
        reason = "The uncertainty is not known across the whole band. Calibrate for it."
        return _verdict(target, State.NOT_MEASURED, reason=reason, guarded=guarded)
    size = np.abs(curve.reflection) + curve.error
    decided = decide(size, target.limit.reflection, width)
    worst = int(np.lexsort((size, decided))[-1])
    state = DECIDED[int(decided[worst])]
    if reason and state is not State.FAIL:
        return _verdict(target, State.NOT_MEASURED, reason=reason, guarded=guarded)
    worst_db = float(return_loss_db(size[worst]))
    return _verdict(
        target,
        state,
        worst_return_loss_db=worst_db,
        worst_frequency_hz=float(curve.frequency_hz[worst]),
        margin_db=worst_db - target.limit.return_loss_db,
        average_return_loss_db=None if reason else _average_db(curve),
        edge_error=None if reason else float(curve.error.max()),
        reason=reason,
        guarded=guarded,
    )


def _average_db(curve: BandCurve) -> float:
    return average_return_loss_db(curve.frequency_hz, curve.reflection)


def _verdict(
    target: Target,
    state: State,
    *,
    guarded: bool,
    worst_return_loss_db: float | None = None,
    worst_frequency_hz: float | None = None,
    margin_db: float | None = None,
    average_return_loss_db: float | None = None,
    edge_error: float | None = None,
    reason: str = "",
) -> BandVerdict:
    return BandVerdict(
        name=target.name,
        link=target.link,
        low_hz=target.low_hz,
        high_hz=target.high_hz,
        state=state,
        limit=target.limit,
        worst_return_loss_db=worst_return_loss_db,
        worst_frequency_hz=worst_frequency_hz,
        margin_db=margin_db,
        average_return_loss_db=average_return_loss_db,
        edge_error=edge_error,
        reason=reason,
        guarded=guarded,
        note=target.note,
    )


def _origin(
    readings: Sweep | Reading, plane: Plane | None, source: Source | None
) -> tuple[Plane, Source]:
    if isinstance(readings, Sweep):
        plane, source = plane or readings.plane, source or readings.source
    if plane is None or source is None:
        raise VerdictError("A reading without a sweep needs its reference plane and its source.")
    return plane, source


def _notes(
    readings: Sweep | Reading, plane: Plane, source: Source, *, guarded: bool
) -> Sequence[str]:
    notes = [f"A verdict on the {MATCH_ONLY}."]
    if not guarded:
        notes.append("No uncertainty is known, so a pass is unguarded.")
    if plane is Plane.RAW:
        notes.append("The readings are raw: no calibration was applied to them.")
    if source.kind == "virtual":
        notes.append("The readings come from the virtual unit: the data is invented.")
    if source.kind == "replay":
        notes.append("The readings are the replay of a recording, not a measurement of this run.")
    if _is_flat(readings):
        notes.append(
            f"The return loss is better than {FLAT_MATCH_DB:g} dB at every point. Match alone "
            "cannot tell a wideband antenna from a load or a lossy cable: see what is connected."
        )
    return notes


def _is_flat(readings: Sweep | Reading) -> bool:
    size = np.abs(readings.reflection[np.isfinite(readings.reflection)])
    low_hz, high_hz = readings.frequency_hz[0], readings.frequency_hz[-1]
    return bool(
        size.size
        and high_hz >= FLAT_MATCH_RATIO * low_hz
        and size.max() <= reflection_from_return_loss(FLAT_MATCH_DB)
    )


def _known(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None
