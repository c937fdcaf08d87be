"""Calibrations made before that may still serve: how old each is, and what it covers."""

from __future__ import annotations

import contextlib
import functools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from acceptance.plan.acceptance_plan import Plan
from acceptance.record.acceptance_record import safe_name
from calibration.errors import StoredCalibrationError
from calibration.files.store import load_calibration
from calibration.one_port_calibration import Calibration
from dashboard.sweeping.calibrated_range import covers

MOST_OFFERED = 6


@dataclass(frozen=True, slots=True, eq=False)
class KeptCalibration:
    """One of them."""

    path: Path
    calibration: Calibration

    def today(self, now: datetime) -> bool:
        """True where it was made on this machine's present day."""
        made, here = self.calibration.taken_at.astimezone(), now.astimezone()
        return made.date() == here.date()

    def age_words(self, now: datetime) -> str:
        """As "12 min old", "3 h old" or "5 days old"."""
        minutes = max(0.0, (now - self.calibration.taken_at).total_seconds() / 60)
        if minutes < 60:
            return f"{minutes:.0f} min old"
        if minutes < 48 * 60:
            return f"{minutes / 60:.0f} h old"
        return f"{minutes / 60 / 24:.0f} days old"

    def covered_words(self, plan: Plan | None) -> str:
        """What of the plan it covers; without a plan its range."""
        if plan is None:
            low_hz, high_hz = self.calibration.frequency_hz[0], self.calibration.frequency_hz[-1]
            return f"{low_hz / 1e6:.0f} to {high_hz / 1e6:.0f} MHz"
        missing = self._missing(plan)
        names = list(dict.fromkeys(each.name for each in plan.targets))
        if not missing:
            return f"covers all {len(names)} bands" if len(names) > 1 else "covers the band"
        listed = ", ".join(missing[:3]) + (
            f" and {len(missing) - 3} more" if len(missing) > 3 else ""
        )
        return f"covers {len(names) - len(missing)} of {len(names)} bands, not {listed}"

    def whole(self, plan: Plan | None) -> bool:
        """True where it covers all of the plan."""
        return plan is None or not self._missing(plan)

    def _missing(self, plan: Plan) -> list[str]:
        beyond = [
            each.name
            for each in plan.targets
            if not covers(self.calibration, [(each.low_hz, each.high_hz)])
        ]
        return list(dict.fromkeys(beyond))


def kept_calibrations(
    folder: Path, recent: Sequence[Path], analyzer: str, now: datetime
) -> list[KeptCalibration]:
    """Those of an analyzer, the newest first: of the folder, and of files used lately.

    What cannot be read is left aside, and what was made later than now.
    """
    own = sorted(folder.glob(f"{safe_name(analyzer)}_*.json"), reverse=True)[:MOST_OFFERED]
    found: dict[str, KeptCalibration] = {}
    for path in dict.fromkeys([*own, *recent]):
        with contextlib.suppress(StoredCalibrationError, OSError):
            kept = _loaded(path, path.stat().st_mtime_ns)
            if kept.source.analyzer == analyzer and kept.taken_at <= now:
                found.setdefault(kept.made, KeptCalibration(path, kept))
    newest = sorted(found.values(), key=lambda each: each.calibration.taken_at, reverse=True)
    return newest[:MOST_OFFERED]


@functools.lru_cache(maxsize=2 * MOST_OFFERED)
def _loaded(path: Path, _changed_ns: int) -> Calibration:
    """A calibration's file, read once for as long as it does not change."""
    return load_calibration(path)
