"""What to do where no dip of an antenna is in sight."""

from __future__ import annotations

from acceptance.tuning.advice import Advice
from acceptance.tuning.dips import Ripple
from acceptance.verdict.undeclared_cable import usual_length_m


def nothing_in_sight() -> Advice:
    return Advice(
        "no dip",
        "Check that the antenna is connected.",
        "No dip is in sight.",
        "If it is connected, its dip lies outside what is swept: widen the plan.",
    )


def through_ripple(ripple: Ripple) -> Advice:
    """Minima in even steps are a cable's, and hide whatever the antenna does."""
    return Advice(
        "cable",
        "Check the cable and its joints.",
        f"The trace ripples every {ripple.spacing_hz / 1e6:.0f} MHz, {ripple.count} times, as "
        f"{usual_length_m(ripple.delay_s):.1f} m of cable with a bad joint or of the wrong "
        "impedance does.",
        "No dip of an antenna can be told apart from it.",
    )
