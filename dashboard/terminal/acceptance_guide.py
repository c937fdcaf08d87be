"""An acceptance led through in the terminal: warm-up, touch test, condition after condition."""

from __future__ import annotations

from collections.abc import Callable

from rich.console import Console
from rich.status import Status

from acceptance.plan.acceptance_plan import Plan
from acceptance.record.conditions import words_of
from acceptance.tuning.dip_tracking import DipTracker
from acceptance.tuning.shifted_curve import Curve, curve_of
from acceptance.tuning.touch_test import Touch
from acceptance.verdict.judged_sweep import judged_sweep
from acquire.clock import Clock
from acquire.sweep import Sweep
from calibration.capture.averaging import Averaged
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import ReferencePlane
from calibration.uncertainty.budget import Assumptions
from calibration.verification.reading_budget import ReadingBudget
from dashboard.acceptance_run.touch_test import ASIDES, ORDER, WORDS, TouchTest
from dashboard.errors import SetupError, UnattendedError
from dashboard.sweeping.agreeing_sweeps import agreeing_sweeps
from dashboard.terminal.output import say

TOUCHES = 3
"""So often a touch test that does not repeat is done over."""


class AcceptanceGuide:
    """Tells a person what to do next, and waits for it."""

    def __init__(
        self,
        plan: Plan,
        calibration: Calibration,
        assumptions: Assumptions,
        *,
        plane: ReferencePlane,
        sweep: Callable[[], Sweep],
        clock: Clock,
        console: Console,
    ) -> None:
        """plane : where the touch test is judged, as all else is.

        sweep : takes the next raw sweep of what is to be accepted.
        """
        self._plan = plan
        self._calibration = calibration
        self._reading_budget = ReadingBudget(assumptions)
        self._plane = plane
        self._sweep = sweep
        self._clock = clock
        self._console = console

    def agreeing(self) -> Averaged:
        """As many sweeps as the plan wants, that agree. Raises SetupError where they do not."""
        return agreeing_sweeps(self._sweep, self._plan.sweeps)

    def wait_until(self, condition: str) -> None:
        """Say what condition the unit is to be brought into, and wait for Enter."""
        words = words_of(condition)
        say(f"{words.label[0].upper()}{words.label[1:]}.", style="bold", console=self._console)
        self._enter(words.instruction, " or sweep one condition at a time with --condition.")

    def warm_up(self) -> None:
        """Let the unit sweep for as long as the plan wants it warmed up."""
        seconds = 60 * self._plan.warm_up_minutes
        begun_s = self._clock.monotonic()
        if seconds <= 0:
            return
        with Status("    Warming up.", console=self._console) as status:
            while (left := seconds - (self._clock.monotonic() - begun_s)) > 0:
                status.update(f"    Warming up: {left / 60:.0f} min left, as the plan wants it.")
                self._sweep()

    def touch_test_that_tells(self) -> Touch:
        """The same, again where it does not repeat. Raises SetupError where it never does."""
        for _ in range(TOUCHES):
            found = self.touch_test()
            if found.tells:
                return found
        raise SetupError(
            f"The touch test told nothing {TOUCHES} times, and the plan wants one. Tighten the "
            "connector, hold cable and antenna where they cannot move by themselves, and accept "
            "again."
        )

    def touch_test(self) -> Touch:
        """Hands off, grip the cable, let go; each look once the reading rests."""
        test, tracker = TouchTest(), DipTracker()
        test.begin()
        for phase in ORDER:
            words = WORDS[phase].replace("; then next", "").replace(", then next", "")
            self._enter(f"{words} {ASIDES[phase]}", " or go without the touch test.")
            test.look(self._curve(self.agreeing(), tracker))
        result = test.result
        if result is None:
            raise UnattendedError("The touch test was not finished. Do it again.")
        say(result.text, console=self._console)
        return result

    def _curve(self, raw: Averaged, tracker: DipTracker) -> Curve:
        judged = judged_sweep(
            raw, self._calibration, self._reading_budget, plane=self._plane, plan=self._plan
        )
        return curve_of(judged, tracker, self._plan.targets)

    def _enter(self, instruction: str, or_else: str) -> None:
        """Say what to do and wait for Enter; or_else : what serves where nobody can press it."""
        say(instruction, indent=4, console=self._console)
        try:
            self._console.input("    Press Enter once it is so, hands off: ")
        except EOFError:
            raise UnattendedError(
                "This plan needs someone at the unit, who presses Enter, and there is no terminal "
                f"to press it at. Run it in a terminal,{or_else}"
            ) from None
