"""The steps from plugging the analyzer in to the first verdict, and where the bench stands."""

from __future__ import annotations

from typing import Any

from dashboard.bench.snapshot import Snapshot
from dashboard.feed.sentence import Sentence

STEPS = (
    ("port", "Connect the analyzer"),
    ("plan", "Choose the bands"),
    ("kit", "Choose the kit"),
    ("calibrate", "Calibrate"),
    ("antenna", "Connect the antenna"),
)
"""Each step, and how it is called; the verdict follows from the last."""


def guide(now: Snapshot, headline: Sentence) -> dict[str, Any]:
    """Every step with its state, "done", "now" or "to come"; and which one is now.

    headline : what is said of this moment. `now` is empty once there is a verdict on an antenna.
    """
    done = _done(now, headline)
    current = next((name for name, _ in STEPS if not done[name]), "")
    return {
        "now": current,
        "practice": now.bench is not None,
        "steps": [
            {
                "name": name,
                "words": words,
                "state": "now" if name == current else "done" if done[name] else "to come",
            }
            for name, words in STEPS
        ],
    }


def _done(now: Snapshot, headline: Sentence) -> dict[str, bool]:
    """Which steps are done; none is that rests on one that is not."""
    calibrated = now.calibration.phase == "held"
    return {
        "port": now.fresh and now.sweep is not None,
        "plan": now.plan is not None and not now.coverage_problem,
        "kit": calibrated or now.calibration.kit != "",
        "calibrate": calibrated,
        # a mark is given to an antenna alone: not to a standard, nor to an open port
        "antenna": now.verdict is not None and headline.mark != "withheld",
    }
