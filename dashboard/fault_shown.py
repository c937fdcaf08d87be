"""Distance to fault in the terminal: what stands out, what it means, the sweep that shows it."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.terminal import number, say, show, show_json, table

if TYPE_CHECKING:
    from acceptance.ripple_reader import Finding
    from calibration.fault import Peak, Trace
    from calibration.fault_plan import FaultPlan
    from calibration.gate import Gated

Strips = list[tuple[str, float | None, float | None]]
"""Each band, its worst return loss as read, and without the section; None: not known."""


def show_plan(planned: FaultPlan, *, as_json: bool) -> None:
    """Offer a sweep."""
    if as_json:
        show_json(asdict(planned) | {"calibrate": planned.options})
        return
    say(planned.words)
    say(f"Calibrate for it: bandwright calibrate --port ADDRESS --kit NAME {planned.options}")
    say("Then: bandwright fault --port ADDRESS --calibration FILE, with the same cable.")


def show_fault(
    trace: Trace, found: tuple[Peak, ...], findings: tuple[Finding, ...], out: Path | None
) -> None:
    """Show what stands out, and what it means."""
    rows = table(number("at\nm"), number("reflects"), number("return loss\ndB"), "what")
    before = [each for each in found if each.kind != "behind it"]
    for each in before:
        rows.add_row(
            f"{each.distance_m:.3f}", f"{each.size:.3f}", f"{each.return_loss_db:.1f}", each.kind
        )
    if before:
        show(rows)
        say()
        behind = len(found) - len(before)
        more = f"; {behind} more behind it: the antenna's own, or to and fro" if behind else ""
        say(f"The largest, at {before[-1].distance_m:.3f} m, is taken for the line's end{more}.")
    else:
        say("Nothing stands out.")
    line = trace.line
    lossy = "as they arrive" if line.loss.k1 == line.loss.k2 == 0 else "the cable's loss undone"
    say(
        f"Velocity factor {line.velocity_factor:g}, sizes {lossy}. Two reflections closer than "
        f"{trace.resolution_m * 1e3:.0f} mm are one; up to {trace.range_m:.2f} m, beyond that they "
        "come back in front."
    )
    if not trace.signed:
        say(
            "Whether an end is open or short cannot be told from this sweep: it takes a grid whose "
            "every frequency is a multiple of the first, from its step upwards (--range-m)."
        )
    for finding in findings:
        say(finding.text)
    if out is not None:
        say(f"Written to {out}.")


def show_gated(gated: Gated, bands: Strips) -> None:
    """Show what a section gated out changes in each band of a plan."""
    say()
    if bands:
        rows = table("band", number("as read\nworst RL dB"), number("without it\nworst RL dB"))
        for name, was_db, now_db in bands:
            rows.add_row(
                name,
                "-" if was_db is None else f"{was_db:.1f}",
                "at the end" if now_db is None else f"{now_db:.1f}",
            )
        show(rows)
    say(gated.warning)
