"""What a cable does to verdicts on an antenna at its far end, band by band.

Return loss at the near end is that of the antenna and twice the cable's loss. So a lossy cable
passes whatever hangs on it; undoing the loss lifts the uncertainty as much as the reading; and
beyond some loss no verdict at the far end can be honest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from acceptance.limits.match import return_loss_db
from acceptance.plan.acceptance_plan import Plan
from acceptance.verdict.band_verdict import known
from acceptance.verdict.reading_doubts import FLAT_MATCH_DB, FLAT_MATCH_RATIO
from acquire.coverage.spans import Span, span_words
from acquire.sweep import FloatArray
from calibration.cable.loss_and_length import Cable, Way, cable_of
from calibration.cable.measured_line import MeasuredLine
from calibration.uncertainty.budget import Budget
from calibration.uncertainty.interval import interval

BAD_ANTENNA_DB = 1.0
"""An antenna that returns nearly all of its power: 80 %."""
GOOD_JOINT_DB = 20.0
"""Joints of less than this return loss are worth looking at [practice]."""

FarEndValidity = Literal["yes", "when undone", "no"]


@dataclass(frozen=True, slots=True)
class Wanted:
    """One band, and the limit an antenna at the far end shall keep."""

    name: str
    span: Span
    limit_db: float
    """Return loss, dB."""

    @classmethod
    def of_plan(cls, plan: Plan) -> tuple[Wanted, ...]:
        """Every target of a plan."""
        return tuple(
            cls(
                each.name if each.link == "both" else f"{each.name} {each.link}",
                (each.low_hz, each.high_hz),
                each.limit.return_loss_db,
            )
            for each in plan.targets
        )

    @classmethod
    def of_spans(cls, spans: Sequence[Span], limit_db: float = 10.0) -> tuple[Wanted, ...]:
        """Stretches without a plan, at one limit."""
        return tuple(cls(span_words(span), span, limit_db) for span in spans)


@dataclass(frozen=True, slots=True)
class ThroughCable:
    """One band, seen through the cable."""

    wanted: Wanted
    loss_db: tuple[float, float]
    """One way, least and most in the band, dB."""
    uncertain_db: float
    """How far that may be off, dB, where it is worst."""
    bad_antenna_reads_db: float
    """What an antenna of 1 dB reads at the near end, where it loses most."""
    nothing_reads_db: float
    """What the cable reads with nothing at its end."""
    floor_near_db: float
    """The trust floor at the connector, where it is worst."""
    floor_far_db: float
    """The trust floor at the far end, the cable undone."""
    far_end_valid: FarEndValidity
    """Whether a verdict on an antenna at the far end can be: as it is read; once the cable is
    undone; not at all."""

    @property
    def words(self) -> str:
        """What a person should know of it."""
        limit = self.wanted.limit_db
        fools = f"what reads {self.bad_antenna_reads_db:.1f} dB can be an antenna of 1 dB"
        if self.far_end_valid == "no":
            return (
                f"No verdict at the far end can be honest: {fools}, and with the cable undone "
                f"nothing better than {max(self.floor_far_db, 0.0):.1f} dB is proven, where "
                f"{limit:g} is wanted. Calibrate at its far end, or take a shorter cable."
            )
        if self.far_end_valid == "when undone":
            even = (
                f" With nothing at its end it reads {self.nothing_reads_db:.1f} dB: whatever hangs "
                "there passes."
                if self.nothing_reads_db >= limit
                else ""
            )
            return (
                f"Only with the cable undone (--plane): {fools}.{even} At the far end up to "
                f"{self.floor_far_db:.1f} dB can be told."
            )
        return (
            f"It changes little: {fools}, and up to {self.floor_far_db:.1f} dB can be told at the "
            "far end."
        )

    def as_json(self) -> dict[str, object]:
        """The entry of `bands` in the object that `cable --json` prints."""
        return {
            "name": self.wanted.name,
            "low_hz": self.wanted.span[0],
            "high_hz": self.wanted.span[1],
            "limit_db": self.wanted.limit_db,
            "loss_db": list(self.loss_db),
            "loss_uncertainty_db": known(self.uncertain_db),
            "antenna_of_1_db_reads_db": self.bad_antenna_reads_db,
            "nothing_at_its_end_reads_db": self.nothing_reads_db,
            "trust_floor_at_connector_db": known(self.floor_near_db),
            "trust_floor_db": known(self.floor_far_db),
            "far_end_valid": self.far_end_valid,
        }


LEAST_LOSS_DB = 1.0
"""A cable that shifts a reading by less is not worth undoing: half of it one way."""


@dataclass(frozen=True, slots=True, eq=False)
class CableCheck:
    """All that a cable check found."""

    cable: Cable
    velocity_factor: float | None
    """As stated; None leaves the length open."""
    bands: tuple[ThroughCable, ...]

    @property
    def far_end_valid(self) -> bool:
        """True where a verdict at the far end can be honest in every band."""
        return all(each.far_end_valid != "no" for each in self.bands)

    @property
    def sentences(self) -> tuple[str, ...]:
        """What holds of the whole cable, a sentence or two each."""
        way = self.cable.way
        ns, unsure = way.mean_delay_s * 1e9, way.mean_delay_uncertainty_s * 1e9
        sentences = [f"Delay one way: {ns:.3f} ns (+/- {unsure:.3f})."]
        if self.velocity_factor is not None:
            length = way.length_m(self.velocity_factor)
            sentences.append(
                f"That is {_metres(length)} of a cable of velocity factor {self.velocity_factor:g}."
            )
        sentences += _of_the_ends(self.cable)
        if self.cable.mismatch > 10 ** (-GOOD_JOINT_DB / 20):
            sentences.append(
                f"Its joints, or its impedance, reflect as much as "
                f"{float(return_loss_db(self.cable.mismatch)):.0f} dB of return loss: look at both "
                "joints, and whether it is 50 ohm cable; `bandwright fault` says where."
            )
        if _reads_like_a_load(way):
            sentences.append(
                "With its end open it reads like a good match over an octave or more. Match alone "
                "cannot tell that from a load or an antenna."
            )
        return tuple(sentences)

    def as_json(self) -> dict[str, object]:
        """The object that `cable --json` prints, but for where it was written."""
        way = self.cable.way
        return {
            "delay_s": way.mean_delay_s,
            "delay_uncertainty_s": way.mean_delay_uncertainty_s,
            "velocity_factor": self.velocity_factor,
            "length_m": (
                None if self.velocity_factor is None else way.length_m(self.velocity_factor)
            ),
            "ends": list(self.cable.ends),
            "ends_agree": self.cable.agree,
            "ends_exchanged": self.cable.exchanged,
            "joints_return_loss_db": (
                None
                if not np.isfinite(self.cable.mismatch)
                else known(float(return_loss_db(self.cable.mismatch)))
            ),
            "far_end_valid": self.far_end_valid,
            "bands": [each.as_json() for each in self.bands],
        }


def check_cable(
    line: MeasuredLine,
    budget: Budget,
    wanted: Sequence[Wanted],
    velocity_factor: float | None = None,
) -> CableCheck:
    """Say what a cable loses and what that does to verdicts.

    line : the cable's ends, corrected at the connector. budget : of those readings.
    Raises PlaneError, RangeError where the ends say nothing.
    """
    cable = cable_of(line, budget)
    none = np.zeros(budget.frequency_hz.size, dtype=np.complex128)
    near = interval(budget, none).floor
    moved = line.moved(budget)
    far = interval(moved.budget, none).floor
    bands = tuple(_through(each, cable.way, near, far) for each in wanted)
    return CableCheck(cable, velocity_factor, bands)


def _through(wanted: Wanted, way: Way, near: FloatArray, far: FloatArray) -> ThroughCable:
    here = way.inside(wanted.span)
    low_db, high_db = float(way.loss_db[here].min()), float(way.loss_db[here].max())
    unsure = np.maximum(
        way.loss_high_db[here] - way.loss_db[here], way.loss_db[here] - way.loss_low_db[here]
    )
    near_db, far_db = (
        float(return_loss_db(np.maximum(each[here], 1e-9)).min()) for each in (near, far)
    )
    far_end_valid: FarEndValidity = "yes" if 2 * high_db < LEAST_LOSS_DB else "when undone"
    if far_db <= wanted.limit_db:
        far_end_valid = "no"
    return ThroughCable(
        wanted,
        (low_db, high_db),
        float(unsure.max()),
        BAD_ANTENNA_DB + 2 * high_db,
        2 * low_db,
        near_db,
        far_db,
        far_end_valid,
    )


def _of_the_ends(cable: Cable) -> list[str]:
    if len(cable.ends) < 2:
        (name,) = cable.ends
        other = "short" if name == "open" else "open"
        return [
            f"Only the {name} end was swept: all that the joints may reflect is in the loss. Sweep "
            f"its end {other} too; together they tell it far better."
        ]
    opened, shorted = (each.mean_delay_s * 1e9 for each in cable.ends.values())
    if cable.exchanged:
        return [
            "Open and short look exchanged: carried back to 0 Hz, the open's phase is a short's. "
            "Loss and delay stand; undo the cable only after sweeping both again, rightly named."
        ]
    if not cable.agree:
        return [
            f"Open and short do not agree ({opened:.3f} and {shorted:.3f} ns): something moved, or "
            "a joint is bad. Tighten both joints and sweep both again."
        ]
    return ["Open and short agree within what is stated of them."]


def _reads_like_a_load(way: Way) -> bool:
    wide = way.frequency_hz[-1] >= FLAT_MATCH_RATIO * way.frequency_hz[0]
    return bool(wide and 2 * way.loss_db.min() >= FLAT_MATCH_DB)


def _metres(length_m: float) -> str:
    return f"{length_m * 1e3:.0f} mm" if length_m < 1 else f"{length_m:.2f} m"
