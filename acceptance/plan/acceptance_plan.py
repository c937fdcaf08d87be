"""A plan: which bands an antenna must serve, and how good its match must be in each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from acceptance.bands.band_table import Link, Span
from acceptance.limits.limit import Limit

LEAST_GUARD = 0.25
"""A guard band of less, as a multiple of the uncertainty, is called none: at a quarter a false pass
is a matter of two in five."""
LARGEST_GUARDED_RISK = 0.3
"""The same of a risk that a plan allows: a normal law runs 31 % at a quarter of its uncertainty."""
FINISHED = "finished"
"""The one condition of a plan that names none."""

CheckRule = Literal["each", "batch", "none"]
"""After which sweeps a standard is put back: every antenna's, those of a batch, or none."""


@dataclass(frozen=True, slots=True)
class Target:
    """One range of frequencies to be judged against one limit."""

    name: str
    """"LTE 20", "NR n78", or the name the plan gives."""
    link: Link
    """"both" where the band has one range for both, or the plan does not tell them apart."""
    low_hz: float
    high_hz: float
    limit: Limit
    note: str = ""
    """What limits the band's use, by country or by kind."""
    doubt: str = ""
    """Why its limit or its range is hardly what was meant; a sentence, empty where it may be."""


@dataclass(frozen=True, slots=True)
class Plan:
    """Targets, in the order the plan names them."""

    name: str
    targets: tuple[Target, ...]
    margin: float
    """How far beyond each target to sweep, as a fraction of its width on either side."""
    guard: float
    """Guard band as a multiple of the uncertainty: 1 for "full", 0 for "none". Where the plan
    wants a risk instead, 1: so far beyond the limit a fail is a fail."""
    text: str
    """The TOML it was read from, for the record."""
    sweeps: int = 4
    """How many sweeps that agree an acceptance averages."""
    verified_within_hours: float | None = None
    """How young a known device's agreement must be for an acceptance; None: it need not be."""
    drift_checked_within_hours: float | None = None
    """How young a check for drift must be; a known device's agreement counts as one."""
    conditions: tuple[str, ...] = (FINISHED,)
    """States of the antenna that an acceptance sweeps, in this order."""
    judged: tuple[str, ...] = (FINISHED,)
    """Those of them that decide; the others only show what changed."""
    touch_test: bool = False
    warm_up_minutes: float = 0.0
    """How long the analyzer must have been sweeping before an acceptance."""
    antennas: int = 1
    """How many antennas the finished device has; one is swept at a time, and isolation never is."""
    false_pass_risk: float | None = None
    """Largest risk of a false pass at which a band passes; None where the guard band decides."""
    check_after: CheckRule = "each"
    """When a standard is put back, to see that the calibration still held."""
    check_piece_within_hours: float | None = None
    """How young a reading of the bench's check piece must be; None: none need be."""

    @property
    def guards(self) -> bool:
        """True where a pass is called guarded: the one place that decides it."""
        if self.false_pass_risk is not None:
            return self.false_pass_risk <= LARGEST_GUARDED_RISK
        return self.guard >= LEAST_GUARD

    @property
    def guard_words(self) -> str:
        """What it asks of a pass, without a full stop."""
        if self.false_pass_risk is not None:
            return (
                "a band passes only where the risk that it does so falsely is at most "
                f"{100 * self.false_pass_risk:g} %"
            )
        if self.guard == 0:
            return "no guard band"
        if self.guard == 1:
            return (
                "a band passes only where its reading is within the limit by its whole uncertainty"
            )
        return f"guard band of {self.guard:g} times the uncertainty"

    @property
    def spans(self) -> tuple[Span, ...]:
        """(low_hz, high_hz) of every target: what a sweep must cover."""
        return tuple((target.low_hz, target.high_hz) for target in self.targets)
