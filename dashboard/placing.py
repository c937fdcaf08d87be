"""The reference plane of what is shown: where it was declared to be, and what moving it did."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from acceptance.cable.verdict_through_cable import Wanted, check_cable
from acceptance.plan.acceptance_plan import Plan
from acceptance.record.acceptance_record import touchstone_of
from acceptance.version import software
from acquire.sweep import Sweep
from calibration.cable.measured_line import MeasuredLine
from calibration.error_terms.interpolation import same_grid
from calibration.errors import CalibrationError
from calibration.files.plane_file import NOT_MOVED, PlaneText, plane_text
from calibration.files.store import plane_again
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import CONNECTOR, AtPlane, ReferencePlane
from calibration.uncertainty.budget import Budget
from dashboard.errors import NotNowError

EndedBy = Literal["bare", "kit"]


@dataclass(frozen=True, slots=True)
class PlaneState:
    """How it stands with the plane."""

    words: str
    """As "at the antenna's feed after 182 mm of PTFE coax"."""
    moved: bool
    """True where something is undone."""
    effect: str
    """What that does to the trust floor; empty at the connector."""
    problem: str
    """Why it cannot be moved there; no verdict holds then. Else empty."""
    ends: tuple[str, ...] = ()
    """Which ends of a pigtail were swept: "open", "short"."""
    cable: tuple[str, ...] = ()
    """What a measured pigtail does to verdicts, a sentence or two each."""


class Placing:
    """Moves corrected readings to the declared plane. Its bench holds the lock."""

    def __init__(self, declared: PlaneText = NOT_MOVED) -> None:
        """declared : what lies between connector and feed, if anything."""
        self.declared = declared
        self._for: Calibration | None = None
        self._plane: ReferencePlane = CONNECTOR
        self._effect = self._problem = ""
        self._ends: dict[str, Sweep] = {}
        self._ends_by = ""
        self._cable: tuple[str, ...] = ()

    @property
    def plane(self) -> ReferencePlane:
        """Where readings are moved to."""
        return self._plane

    @property
    def state(self) -> PlaneState:
        """How it stands."""
        return PlaneState(
            self._plane.words,
            bool(self.declared.toml),
            self._effect,
            self._problem,
            tuple(sorted(self._ends)),
            self._cable,
        )

    def use(self, declared: PlaneText, calibration: Calibration | None) -> None:
        """Another plane from now on. Raises PlaneError; the one before it stays then."""
        self._plane = plane_again(declared, calibration)
        self.declared, self._for = declared, calibration
        self._effect = self._problem = ""
        self._cable = ()

    def move(
        self, corrected: Sweep, budget: Budget, calibration: Calibration
    ) -> AtPlane[Sweep] | None:
        """A corrected reading and its budget there; None where that cannot be."""
        try:
            if self._for is not calibration:
                self.use(self.declared, calibration)
            there = self._plane.move(corrected, budget)
        except CalibrationError as error:
            self._problem, self._effect = str(error), ""
            return None
        self.rest()
        self._effect = "" if there.undone is None else there.undone.said
        return there

    def take_end(self, name: str, corrected: Sweep, calibration: Calibration) -> None:
        """A pigtail was swept with its end open, or shorted.

        corrected : at the connector, by that calibration. What was taken by another calibration, or
        on another grid, goes: two ends tell one cable only together.
        """
        if self._ends_by != calibration.made:
            self._ends, self._ends_by = {}, calibration.made
        kept = {
            each: sweep
            for each, sweep in self._ends.items()
            if same_grid(sweep.frequency_hz, corrected.frequency_hz)
        }
        self._ends = {**kept, name: corrected}

    def measured(self, calibration: Calibration, ended_by: EndedBy) -> PlaneText:
        """What the ends declare. Raises NotNowError where none was swept.

        ended_by : "bare", an end left open or shorted by hand, or "kit", the kit's open and short.
        """
        if not self._ends or self._ends_by != calibration.made:
            raise NotNowError(
                "No end of the pigtail was swept yet. Leave its far end open and take it; then "
                "short it and take that too."
            )
        table = {
            **{name: f"{name}.s1p" for name in self._ends},
            "ended_by": ended_by,
            "calibration": calibration.made,
        }
        files = {
            f"{name}.s1p": touchstone_of(sweep, "", software())
            for name, sweep in self._ends.items()
        }
        return plane_text(table, files.__getitem__)

    def check(self, budget: Budget, plan: Plan | None) -> None:
        """Say what the measured pigtail does to verdicts; nothing of one that was not measured.

        budget : of readings at the connector.
        """
        line = self._plane.between
        if isinstance(line, MeasuredLine):
            wanted = () if plan is None else Wanted.of_plan(plan)
            found = check_cable(line, budget, wanted)
            bands = sorted(found.bands, key=lambda each: each.floor_far_db - each.wanted.limit_db)
            worst = [f"{each.wanted.name}: {each.words}" for each in bands[:1]]
            self._cable = (*found.sentences, *worst)

    def rest(self) -> None:
        """There is nothing to move, so nothing stands against it."""
        self._problem = ""
