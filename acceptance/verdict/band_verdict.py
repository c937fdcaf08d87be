"""The verdict on one target, and its numbers as far as they are proven."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from acceptance.bands.band_table import Link
from acceptance.limits.decision import State
from acceptance.limits.limit import Limit


@dataclass(frozen=True, slots=True, kw_only=True)
class BandVerdict:
    """The verdict on one target. Numbers are None where they are not known, or not proven."""

    name: str
    link: Link
    low_hz: float
    high_hz: float
    state: State
    limit: Limit
    guarded: bool
    """True where a guard band of the reading's uncertainty was applied."""
    worst_frequency_hz: float | None = None
    """Where the deciding point lies."""
    worst_return_loss_db: float | None = None
    """At the deciding point; infinite where nothing at all came back; None beyond the floor."""
    margin_db: float | None = None
    """Worst return loss above the limit's, dB, for a VSWR limit too; negative where it fails."""
    average_return_loss_db: float | None = None
    """Of the power reflected across the band, weighed by frequency; None beyond the floor."""
    interval_db: tuple[float, float] | None = None
    """Least and greatest return loss that the deciding point may have, about 95 %; infinite
    where it may reflect nothing, and 0, never less, where it may reflect all."""
    trust_floor_db: float | None = None
    """The return loss at which a reading there is all uncertainty."""
    better_than_db: float | None = None
    """What is proven of the deciding point where its reading lies beyond the floor."""
    average_better_than_db: float | None = None
    """What is proven of the band's average where that lies beyond the floor."""
    false_pass_risk: float | None = None
    """Probability that any of the band's points lies beyond the limit in truth, if what was stated
    of the standards holds; for a band that passes, conditionally or not."""
    edge_error: float | None = None
    """Larger of the two edges' interpolation errors in |reflection|; counted in at that edge."""
    narrowest_seen_hz: float | None = None
    """The widest step across the band, Hz: of a resonance narrower than that the readings know
    nothing."""
    reason: str = ""
    """Why the band was not measured, with the cure; empty where it was."""
    note: str = ""
    """What limits the band's use, by country or by kind."""
    doubted: bool = False
    """True where it would pass, were it not for a doubt of the verdict's."""

    def in_doubt(self) -> BandVerdict:
        """The same where there is a doubt: a pass becomes a conditional one, else nothing does."""
        if self.state is not State.PASS:
            return self
        return replace(self, state=State.CONDITIONAL_PASS, doubted=True)

    @property
    def words(self) -> str:
        """The state as a person reads it: a pass without a guard band is unguarded."""
        if self.doubted:
            return f"{self.state} (in doubt)"
        if self.state is State.PASS and not self.guarded:
            return "pass (unguarded)"
        return str(self.state)

    @property
    def depth_db(self) -> float | None:
        """The return loss to draw and to compare by: as read, or what is proven of it."""
        if self.worst_return_loss_db is not None:
            return self.worst_return_loss_db
        return self.better_than_db

    @property
    def margin_or_bound_db(self) -> float | None:
        """Margin to compare by; where the reading lies beyond the floor, what is proven of it."""
        if self.margin_db is not None or self.better_than_db is None:
            return self.margin_db
        return self.better_than_db - self.limit.return_loss_db

    def as_json(self) -> dict[str, object]:
        """The entry of `bands` in the object that --json prints; a number not known is None."""
        low_db, high_db = self.interval_db or (None, None)
        return {
            "name": self.name,
            "link": self.link,
            "state": str(self.state),
            "limit": self.limit.as_json(),
            "worst_return_loss_db": known(self.worst_return_loss_db),
            "worst_frequency_hz": known(self.worst_frequency_hz),
            "margin_db": known(self.margin_db),
            "interval_db": None if self.interval_db is None else [known(low_db), known(high_db)],
            "trust_floor_db": known(self.trust_floor_db),
            "better_than_db": known(self.better_than_db),
            "false_pass_risk": known(self.false_pass_risk),
            "narrowest_seen_hz": known(self.narrowest_seen_hz),
        }


def known(value: float | None) -> float | None:
    """The value if it is a number, else None: JSON has neither infinity nor nan."""
    return value if value is not None and math.isfinite(value) else None
