"""One moment of the work, whole: what curve, strips and sentence are all drawn from."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.recipe import Recipe
from acceptance.tuning.advice import Advice
from acceptance.tuning.dip_tracking import Tracked
from acceptance.verdict.plan_verdict import Verdict
from acquire.coverage.sweep_coverage import Coverage
from acquire.sweep import FloatArray, Sweep
from calibration.capture.averaging import Averaged, Burst
from calibration.capture.guided_captures import SessionState
from calibration.guided.verification_session import Outcome
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions, Budget
from calibration.uncertainty.interval import Interval
from calibration.verification.check_piece import PieceReading
from calibration.verification.verified_budget import EvidenceResults
from dashboard.acceptance_run.running_acceptance import AcceptanceState
from dashboard.acceptance_run.station_state import StationState
from dashboard.acceptance_run.touch_test import TouchState
from dashboard.bench.focus import Focus
from replay.virtual_bench.simulated_bench import BenchState

PortPhase = Literal["unchosen", "connecting", "sweeping", "refused", "lost", "stopped"]
CalibrationPhase = Literal["none", "running", "held", "misfit"]


@dataclass(frozen=True, slots=True)
class PortState:
    """How it stands with the analyzer."""

    phase: PortPhase
    address: str
    message: str
    """What happened and what to do, where something happened; else empty."""
    analyzer: str = ""
    """What the analyzer says it is; empty until it has said so."""
    profile: str = ""
    unproven: bool = False
    """True where nobody has tried the profile on hardware."""
    trouble: str = ""
    """What went wrong on the line and was put right, in a sentence; else empty."""
    choosable: bool = False
    """True where another port may be chosen while the bench runs."""


@dataclass(frozen=True, slots=True, eq=False)
class CalibrationState:
    """How it stands with the calibration."""

    phase: CalibrationPhase
    message: str
    """One sentence."""
    kit: str
    """Name of the kit in use, or to be used; empty while none is chosen."""
    calibration: Calibration | None = None
    path: Path | None = None
    """Where it is kept; None while it is not."""
    session: SessionState | None = None
    """The calibration or check in progress, if one is."""
    checking: bool = False
    """True where what is in progress is a check of the calibration that holds."""
    evidence_results: EvidenceResults | None = None
    """What was measured of the calibration since."""
    outcome: Outcome | None = None
    """What the last check showed."""
    kit_words: str = ""
    """Where what is known of the kit comes from."""
    cable: str = ""
    """The test cable in use, by its name; empty where it has none."""
    pace: str = ""
    """Why fewer sweeps a standard are averaged than usual; empty where they are not."""


@dataclass(frozen=True, slots=True, eq=False)
class Hold:
    """A trace kept to compare with."""

    number: int
    """Counts the holds of one bench, from 1."""
    sweep: Sweep
    """As it was shown: corrected where there was a calibration, else raw."""
    name: str = ""
    """What the person calls it; else empty."""
    margins: tuple[float | None, ...] = ()
    """What each range of the plan had to spare then, dB."""
    dips: tuple[Tracked, ...] = ()
    shown: bool = True
    """True where it is drawn."""


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


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that was done."""

    at_s: float
    words: str


@dataclass(frozen=True, slots=True)
class Best:
    """The best state so far."""

    worst_db: float
    since: tuple[str, ...]
    """What was done since then; empty where it is the present state."""


@dataclass(frozen=True, slots=True, eq=False)
class TuningState:
    """What a page shows of the tuning."""

    advice: Advice | None
    checked: str
    """How right the last prediction was; empty where there is none."""
    dips: tuple[Tracked, ...]
    best: Best | None
    history: FloatArray
    """Shape (n, 2): seconds on the bench's clock, and the worst margin then, dB."""
    marks: tuple[Mark, ...]
    waiting: str
    """What was said and is waited for; else empty."""
    step: str = ""
    """The last step that was learned from; else empty."""


@dataclass(frozen=True, slots=True)
class Obstacle:
    """One thing that speaks against accepting what is shown."""

    words: str
    mended_at: str = ""
    """"plan", "plane", "calibrate", "touch" or "batch"; empty where waiting helps, or hands on the
    bench."""


@dataclass(frozen=True, slots=True, eq=False)
class Snapshot:
    """Everything that is shown, as of one moment; never changed afterwards.

    All of it belongs to `sweep`: the correction, the verdict and what is said of it.
    """

    version: int
    """Counts the snapshots of one bench, from 1: also those between two sweeps."""
    sweep: Sweep | None
    """The newest raw sweep, averaged with those before it while they are alike; None before the
    first."""
    averaged: Averaged | None
    """How `sweep` came about."""
    burst: Burst | None
    """What was lately left out of it, to be told."""
    whole_at_s: float | None
    """When the last whole sweep came, on the bench's monotonic clock."""
    watched: Focus | None
    """The part of `sweep` that is newer than that, where there is one."""
    swept: int
    """Sweeps taken since the calibration, or since it was last checked."""
    corrected: Sweep | None
    """The same at the plane; at the connector where it cannot be moved there. None without a
    calibration that fits."""
    assumptions: Assumptions
    """What is taken to be so where nothing was measured."""
    uncertainty: Interval | None
    """How far each point of `corrected` can be trusted."""
    budget: Budget | None
    """What that rests on."""
    verdict: Verdict | None
    """On `corrected`, `uncertainty` and `plan`; never on raw readings."""
    tuning: TuningState | None
    """How the tuning stands; None without a verdict."""
    check_piece: PieceReading | None
    """The latest reading of the bench's check piece; None where there is none."""
    acceptance: AcceptanceState
    """How the present antenna's acceptance stands."""
    sweeping_since_s: float | None
    """Since when the analyzer sweeps without a break, on the bench's monotonic clock."""
    touch: TouchState
    """How the touch test stands, and what the last one showed."""
    recipe: Recipe
    plan: Plan | None
    plane: PlaneState
    """Where `corrected`, `uncertainty` and `verdict` hold."""
    coverage: Coverage | None
    """None until the analyzer's limits are known."""
    coverage_problem: str
    """Why the plan cannot be swept by this analyzer; else empty."""
    port: PortState
    calibration: CalibrationState
    holds: tuple[Hold, ...]
    """In the order drawn last; the last one that is shown is compared with."""
    bench: BenchState | None
    """The virtual bench, in a demo."""
    seen_at_s: float | None
    """When `sweep` came, on the bench's monotonic clock."""
    station: StationState | None = None
    """How the station for helpers stands, where this is one."""
    obstacle: Obstacle | None = None
    """What speaks against accepting it, the age of the last check included; None where nothing
    does. It and the next are worked out as the moment is shown; see `dashboard.bench.obstacles`."""
    touch_wanted: Obstacle | None = None
    """The touch test that the plan wants before it is signed off; None where none is missing."""

    @property
    def stated_load_db(self) -> float | None:
        """The load's return loss, as a person stated it; None: not stated."""
        return self.assumptions.load_db

    @property
    def sequence(self) -> int:
        """The one number that curve, strips and sentence share; 0 before the first sweep."""
        return 0 if self.sweep is None else self.sweep.sequence

    @property
    def shown(self) -> Sweep | None:
        """The sweep to draw: corrected, else raw."""
        return self.sweep if self.corrected is None else self.corrected

    @property
    def held(self) -> Hold | None:
        """The held trace that the live one is compared with; None where none is drawn."""
        return next((each for each in reversed(self.holds) if each.shown), None)

    @property
    def fresh(self) -> bool:
        """True while sweeps come in."""
        return self.port.phase == "sweeping"
