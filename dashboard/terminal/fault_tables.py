"""Distance to fault in the terminal: what stands out, what it means, the sweep that shows it."""

from __future__ import annotations

from dataclasses import asdict

from acceptance.cable.cable_faults import LineReflections
from calibration.cable.fault_sweep import FaultPlan
from dashboard.terminal.output import number, say, show, show_json, table


def show_plan(planned: FaultPlan, *, as_json: bool) -> None:
    """Offer a sweep."""
    if as_json:
        show_json(asdict(planned) | {"calibrate": planned.options})
        return
    say(planned.words)
    say(f"Calibrate for it: bandwright calibrate --port ADDRESS --kit NAME {planned.options}")
    say("Then: bandwright fault --port ADDRESS --calibration FILE, with the same cable.")


def show_fault(found: LineReflections) -> None:
    """Show what stands out, what it means, and what a section gated out changes in each band."""
    if found.shown:
        rows = table(number("at"), number("reflects"), number("return loss"), "what")
        for each in found.rows:
            rows.add_row(*each)
        show(rows)
        say()
    for sentence in found.sentences:
        say(sentence)
    if found.gated is None:
        return
    say()
    if found.bands:
        rows = table("band", number("as read\nworst RL"), number("without it\nworst RL"))
        for band in found.bands:
            rows.add_row(band.name, *band.cells)
        show(rows)
    say(found.gated.warning)
