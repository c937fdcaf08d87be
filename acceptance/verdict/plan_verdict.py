"""Verdicts: every point of every band judged by its own value and uncertainty, the most severe
one deciding."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from acceptance.errors import VerdictError
from acceptance.limits.decision import DECIDED, State, decide
from acceptance.limits.match import (
    average_return_loss_db,
    one_return_loss_db,
)
from acceptance.plan.acceptance_plan import Plan, Target
from acceptance.verdict.band_curve import BandCurve, Gap, band_curve
from acceptance.verdict.band_verdict import BandVerdict, known
from acceptance.verdict.false_pass import WithinLimit, overall_of, risk_notes, with_risks
from acceptance.verdict.no_reading import why_no_reading, why_raw
from acceptance.verdict.reading_doubts import flat_match, reading_doubts
from acceptance.verdict.undeclared_cable import cable_between
from acquire.sweep import FloatArray, Plane, Reading, Source, Sweep
from calibration.plane.reference_plane import DeEmbedding, plane_words
from calibration.uncertainty.interval import Interval

MATCH_ONLY = "match only, not gain or pattern"
"""What every record says: a match is not an antenna."""


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
    """What the numbers alone do not say, the doubts among it; one sentence each."""
    de_embedding: DeEmbedding | None = None
    """What the plane was moved through, if it was moved."""
    cable_s: float = 0.0
    """Delay, one way, of a cable that all of the reading is behind, s; 0 where none shows."""
    guard: float | None = 1.0
    """Guard band that was applied, as a multiple of the uncertainty; None where a risk decides."""
    false_pass_risk_wanted: float | None = None
    """Largest risk at which the plan lets a band pass; None where the guard band decides."""
    false_pass_risk: float | None = None
    """Probability that any of the bands read within its limit lies beyond it in truth, if what was
    stated of the standards holds; None where none was, or no uncertainty is known."""
    doubts: tuple[str, ...] = ()
    """What may make a pass of a fail; one sentence each. With any, nothing is better than a
    conditional pass."""

    @property
    def where(self) -> str:
        """The reference plane in words: "at the antenna's feed after 182 mm of PTFE coax"."""
        return plane_words(self.plane, self.de_embedding)

    @property
    def words(self) -> str:
        """The overall state as a person reads it."""
        if self.overall is State.PASS and not self.guarded:
            return "pass (unguarded)"
        return str(self.overall)

    def as_json(self) -> dict[str, object]:
        """What a record keeps of it beside its notes."""
        return {
            "overall": str(self.overall),
            "plan": self.plan,
            "plane": str(self.plane),
            **({} if self.de_embedding is None else {"de_embedding": self.de_embedding.as_json()}),
            "source": source_as_json(self.source),
            "bands": [band.as_json() for band in self.bands],
            "guard": self.guard,
            "false_pass_risk_wanted": self.false_pass_risk_wanted,
            "false_pass_risk": known(self.false_pass_risk),
            **({"doubts": list(self.doubts)} if self.doubts else {}),
        }

    def answer(self) -> dict[str, object]:
        """The object that commands print for programs: no warning is for people alone."""
        return {**self.as_json(), "notes": list(self.notes)}


def judge(
    plan: Plan,
    readings: Sweep | Reading,
    plane: Plane | None = None,
    source: Source | None = None,
    *,
    uncertainty: Interval | None = None,
    de_embedding: DeEmbedding | None = None,
    warnings: Sequence[str] = (),
    remarks: Sequence[str] = (),
) -> Verdict:
    """Judge every target of a plan.

    readings : a sweep, or a file's reading; of a Reading, plane and source must be given, of a
        Sweep its own are taken where they are not.
    trust : how far each point can be trusted, on the readings' grid; None while it is not known.
        Then, and where the plan wants no guard band, a pass is called unguarded.
    undone : what the readings were moved through, if they were. Where that lifts the uncertainty
        above the reading itself and past the limit, nothing is told: the band is not measured.
    warnings : what calibration and plane warn of, a sentence each: doubts of the verdict.
    remarks : what else is to be known of them, likewise: notes.
    Where there is a doubt, a band that would pass passes conditionally.
    Each point is decided by its own value and uncertainty, and the most severe one is the
    band's. At an edge between two points the reflection is interpolated with the delay taken
    out, and the error of that is added to it before it is judged. What may hide between two
    points is added to the upper side of the larger one, whole, whatever guard the plan wants. A
    grid too coarse to follow the reflection leaves a band not measured, unless a measured point
    fails it already. So does what is no reading of an antenna; raw readings leave all bands so.
    Raises VerdictError where plane or source are missing or `uncertainty` is for another grid.
    """
    plane, source = _origin(readings, plane, source)
    if uncertainty is not None and not np.array_equal(
        uncertainty.frequency_hz, readings.frequency_hz
    ):
        raise VerdictError(
            f"The uncertainty is for {uncertainty.frequency_hz.size} other points than the "
            f"{readings.frequency_hz.size} of the readings; each point needs its own."
        )
    refused = why_raw(plane, source)
    judged = [
        _judge_target(target, readings, uncertainty, plan, de_embedding, refused=refused)
        for target in plan.targets
    ]
    bands, risk = with_risks(judged, uncertainty, plan.false_pass_risk)
    raw = plane is Plane.RAW  # then there are the analyzer's own delay and the cable's
    cable_s = 0.0 if raw else cable_between(readings.frequency_hz, readings.reflection)
    general = (*reading_doubts(readings, cable_s), *warnings)
    bands = tuple(
        band.in_doubt() if general or target.doubt else band
        for target, band in zip(plan.targets, bands, strict=True)
    )
    doubts = (*(each.doubt for each in plan.targets if each.doubt), *general)
    return Verdict(
        overall=overall_of(bands, risk, plan.false_pass_risk),
        plan=plan.name,
        plane=plane,
        source=source,
        bands=bands,
        guarded=uncertainty is not None and plan.guards,
        notes=(
            *_notes(
                readings,
                plane,
                source,
                uncertainty,
                plan,
                de_embedding=de_embedding,
            ),
            *risk_notes(bands, risk, plan.false_pass_risk),
            *remarks,
            *doubts,
        ),
        de_embedding=de_embedding,
        cable_s=cable_s,
        guard=None if plan.false_pass_risk is not None else plan.guard,
        false_pass_risk_wanted=plan.false_pass_risk,
        false_pass_risk=risk,
        doubts=doubts,
    )


def source_as_json(source: Source) -> dict[str, object]:
    """Return a source's fields, and whether it was a real port in this run."""
    return {
        "kind": source.kind,
        "analyzer": source.analyzer,
        "profile": source.profile,
        "port": source.port,
        "analyzer_corrected": source.analyzer_corrected,
        "measured": source.measured,
    }


def _judge_target(
    target: Target,
    readings: Sweep | Reading,
    uncertainty: Interval | None,
    plan: Plan,
    de_embedding: DeEmbedding | None,
    *,
    refused: str,
) -> tuple[BandVerdict, WithinLimit | None]:
    """The verdict on a band, but for its risk; and its curve where that was read within the limit.
    Where the plan wants a risk, every such band passes at first."""
    blank = partial(
        BandVerdict,
        name=target.name,
        link=target.link,
        low_hz=target.low_hz,
        high_hz=target.high_hz,
        limit=target.limit,
        guarded=uncertainty is not None and plan.guards,
        note=target.note,
    )
    if refused:
        return blank(state=State.NOT_MEASURED, reason=refused), None
    found = band_curve(readings.frequency_hz, readings.reflection, (target.low_hz, target.high_hz))
    curve, reason = (found.measured, found.reason) if isinstance(found, Gap) else (found, "")
    if curve is None:
        return blank(state=State.NOT_MEASURED, reason=reason), None
    curve_uncertainty = _CurveUncertainty.along(curve, uncertainty)
    if not curve_uncertainty.known:
        reason = "The uncertainty is not known across the whole band. Calibrate for it."
        return blank(state=State.NOT_MEASURED, reason=reason), None
    size = np.abs(curve.reflection) + curve.error
    limit = target.limit.reflection
    upward, downward = curve_uncertainty.upward, curve_uncertainty.downward
    to_pass = plan.guard if plan.false_pass_risk is None else 0.0
    decided = decide(size, limit, to_pass * upward + curve.hidden, plan.guard * downward)
    worst = int(np.lexsort((size, decided))[-1])
    state = DECIDED[int(decided[worst])]
    reason = (  # of a reading that is none, a coarse grid is not the cause
        why_no_reading(curve)
        or reason
        or _why_nothing_is_known(curve, size, curve_uncertainty, limit, de_embedding)
    )
    if reason and state is not State.FAIL:
        return blank(state=State.NOT_MEASURED, reason=reason), None
    fields = curve_uncertainty.worst(size, worst, target.limit.return_loss_db)
    if not reason:
        fields |= curve_uncertainty.average(curve, size) | {"edge_error": float(curve.error.max())}
    at_hz = float(curve.frequency_hz[worst])
    band = blank(
        state=state,
        reason=reason,
        worst_frequency_hz=at_hz,
        narrowest_seen_hz=curve.step_hz,
        **fields,
    )
    if reason or state not in (State.PASS, State.CONDITIONAL_PASS):
        return band, None
    beside = size + curve.hidden
    return band, WithinLimit(curve.frequency_hz, curve.reflection, beside, upward, limit)


@dataclass(frozen=True, slots=True, eq=False)
class _CurveUncertainty:
    """How far the truth may lie from a band's curve, linear, at each of its points; all 0 while
    that is not known."""

    upward: FloatArray
    downward: FloatArray
    floor: FloatArray
    hidden: FloatArray
    """What may rise above each point before the next; it is no cause that a guard is a part of."""
    stated: bool
    """False while no uncertainty is known at all."""

    @classmethod
    def along(cls, curve: BandCurve, uncertainty: Interval | None) -> _CurveUncertainty:
        """Between two points the uncertainty runs straight: it hardly changes over a step."""
        if uncertainty is None:
            none = np.zeros(curve.frequency_hz.size)
            return cls(none, none, none, curve.hidden, stated=False)
        near = np.searchsorted(uncertainty.frequency_hz, curve.frequency_hz[[0, -1]])
        neighbours = slice(max(int(near[0]) - 1, 0), int(near[1]) + 1)
        grid, read = uncertainty.frequency_hz[neighbours], uncertainty.reflection[neighbours]
        upward, downward, floor = (
            np.interp(curve.frequency_hz, grid, part)
            for part in (
                uncertainty.high[neighbours] - read,
                read - uncertainty.low[neighbours],
                uncertainty.floor[neighbours],
            )
        )
        return cls(upward, downward, floor, curve.hidden, stated=True)

    @property
    def known(self) -> bool:
        """True where every point has an uncertainty."""
        return all(
            part.min() >= 0 and bool(np.isfinite(part.max()))
            for part in (self.upward, self.downward)
        )

    def worst(self, size: FloatArray, at: int, limit_db: float) -> dict[str, Any]:
        """What is known of the deciding point, by the names of `BandVerdict`."""
        largest = size[at] + self.upward[at] + self.hidden[at]
        least = max(size[at] - self.downward[at], 0.0)
        sizes = (size[at], largest, least, self.floor[at])
        read_db, low_db, high_db, floor_db = map(one_return_loss_db, sizes)
        low_db, high_db = max(low_db, 0.0), max(high_db, 0.0)  # it is passive
        if not self.stated:
            return {"worst_return_loss_db": read_db, "margin_db": read_db - limit_db}
        fields: dict[str, Any] = {"interval_db": (low_db, high_db), "trust_floor_db": floor_db}
        if size[at] <= self.floor[at]:
            return fields | {"better_than_db": low_db}
        return fields | {"worst_return_loss_db": read_db, "margin_db": read_db - limit_db}

    def average(self, curve: BandCurve, size: FloatArray) -> dict[str, Any]:
        """What is known of the band's average, by the names of `BandVerdict`."""
        read_db = average_return_loss_db(curve.frequency_hz, curve.reflection)
        above = bool((np.abs(curve.reflection) > self.floor).all())
        if (
            self.stated
            and not above
            and read_db >= average_return_loss_db(curve.frequency_hz, self.floor)
        ):
            average_bound_db = average_return_loss_db(curve.frequency_hz, size + self.upward)
            return {"average_better_than_db": average_bound_db}
        return {"average_return_loss_db": read_db}


def _why_nothing_is_known(
    curve: BandCurve,
    size: FloatArray,
    curve_uncertainty: _CurveUncertainty,
    limit: float,
    de_embedding: DeEmbedding | None,
) -> str:
    """Why a moved reading tells nothing, with the cure; empty where it does, or was not moved.

    A point tells nothing where its uncertainty exceeds the reading itself, so that it might be
    nothing at all, and reaches past the limit, so that it might be a fail as well.
    """
    if de_embedding is None:
        return ""
    lost = (curve_uncertainty.downward >= size) & (size + curve_uncertainty.upward > limit)
    if not lost.any():
        return ""
    at = int(np.argmax(np.where(lost, size + curve_uncertainty.upward, 0.0)))
    return (
        f"Undoing {de_embedding.words} lifts the uncertainty at "
        f"{curve.frequency_hz[at] / 1e6:.6g} MHz to {curve_uncertainty.upward[at]:.2f}, "
        f"above the {size[at]:.2f} that is read and past the limit's "
        f"{limit:.2f}: through it nothing can be told. Calibrate at its far end, or measure it "
        "with `bandwright cable`."
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
    readings: Sweep | Reading,
    plane: Plane,
    source: Source,
    uncertainty: Interval | None,
    plan: Plan,
    *,
    de_embedding: DeEmbedding | None,
) -> Sequence[str]:
    notes = [f"A verdict on the {MATCH_ONLY}."]
    if de_embedding is not None:
        notes.append(de_embedding.sentence)
    if plan.antennas > 1:
        notes.append(
            f"Isolation was not measured: there are {plan.antennas} antennas, and the match of "
            "one says nothing of what it couples into its neighbour."
        )
    if uncertainty is None:
        notes.append("No uncertainty is known, so a pass is unguarded.")
    elif not plan.guards:
        asks = plan.guard_words if plan.guard else "the plan wants no guard band"
        notes.append(f"{asks[0].upper()}{asks[1:]}, so a pass is unguarded.")
    if plane is Plane.RAW:
        own = " but the analyzer's own" if source.analyzer_corrected else ""
        notes.append(f"The readings are raw: no calibration{own} was applied to them.")
    if source.kind == "virtual":
        notes.append("The readings come from the virtual bench: the data is invented.")
    if source.kind == "replay":
        notes.append("The readings are the replay of a recording, not a measurement of this run.")
    return [*notes, *flat_match(plan, readings)]
