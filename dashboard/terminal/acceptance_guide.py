"""An acceptance led through in the terminal: warm-up, touch test, condition after condition."""

from __future__ import annotations

from collections.abc import Callable

from rich.console import Console
from rich.status import Status

from acceptance.catalogue.batch_checks import BatchChecks
from acceptance.plan.acceptance_plan import Plan
from acceptance.record.check_after_sweep import StandardCheck
from acceptance.record.conditions import words_of
from acceptance.tuning.dip_tracking import DipTracker
from acceptance.tuning.shifted_curve import Curve, curve_of
from acceptance.tuning.touch_test import Touch
from acceptance.verdict.judged_sweep import judged_sweep
from acceptance.version import software
from acquire.clock import Clock
from acquire.sweep import Sweep
from calibration.capture.averaging import Averaged
from calibration.errors import CalibrationError
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import ReferencePlane
from calibration.uncertainty.budget import Assumptions
from calibration.verification.put_back import PutBack, asked, spoken, standards_to_put_back
from calibration.verification.reading_budget import ReadingBudget
from dashboard.acceptance_run.running_acceptance import PUT_BACK_PATIENCE, PUT_BACK_SWEEPS
from dashboard.acceptance_run.touch_test import ASIDES, ORDER, WORDS, TouchTest
from dashboard.errors import SetupError, UnattendedError
from dashboard.sweeping.agreeing_sweeps import CountedSweeps, agreeing_sweeps
from dashboard.terminal.output import say
from replay.virtual_bench.simulated_bench import VirtualBench

ANTENNA = "antenna"
PUT_BACK_TRIES = 3
"""So often a person may forget to put the standard on."""
TOUCHES = 3
"""So often a touch test that does not repeat is done over."""


class BenchPutsBack:
    """The virtual bench's own hand, which puts a standard back."""

    def __init__(self, bench: VirtualBench, console: Console) -> None:
        self._bench = bench
        self._console = console
        self._pigtail = "none"

    def __call__(self, standard: str) -> None:
        """Put it on the connector, where it was while calibrating: no pigtail between."""
        if standard == ANTENNA:
            self._bench.lay(self._pigtail)
        elif self._bench.on_port == ANTENNA:
            self._pigtail = self._bench.state().pigtail
            self._bench.lay("none")
        self._bench.screw_on(standard)
        words = f"(The virtual bench puts its {spoken(standard)} on.)"
        say(words, style="dim", indent=4, console=self._console)


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
        hand: Callable[[str], None] | None = None,
    ) -> None:
        """plane : where the touch test is judged, as all else is.

        sweep : takes the next raw sweep of what is to be accepted.
        hand : puts the standard of that name on; None where a person does, and presses Enter.
        """
        self._plan = plan
        self._calibration = calibration
        self._reading_budget = ReadingBudget(assumptions)
        self._plane = plane
        self._sweep = CountedSweeps(sweep)
        self._clock = clock
        self._console = console
        self._hand = hand

    @property
    def swept(self) -> int:
        """Sweeps taken so far."""
        return self._sweep.swept

    def agreeing(self) -> Averaged:
        """As many sweeps as the plan wants, that agree. Raises SetupError where they do not."""
        return agreeing_sweeps(self._sweep, self._plan.sweeps)

    def put_back(self, take: Callable[[StandardCheck], PutBack]) -> PutBack:
        """Ask for a standard, sweep it, and say what it shows.

        take : judges it and writes it down. What is no open and no short is asked for again;
        raises CalibrationError where it still is none.
        """
        say(asked(self._calibration), style="bold", console=self._console)
        name = standards_to_put_back(self._calibration)[0]
        for left in reversed(range(PUT_BACK_TRIES)):
            self._put_on(name)
            try:
                raw = agreeing_sweeps(self._sweep, PUT_BACK_SWEEPS, PUT_BACK_PATIENCE)
                found = take(StandardCheck(raw.of, self.swept))
            except CalibrationError as error:
                if not left:
                    raise
                say(str(error), style="red", indent=4, console=self._console)
                continue
            say(found.words, style="green" if found.holds else "red", console=self._console)
            return found
        raise AssertionError("the last try raises")

    def check_batch(self, batch: BatchChecks, assumptions: Assumptions) -> None:
        """Put a standard back where the batch wants one now, and the antenna on after it.

        Raises SetupError where the batch's last check failed.
        """
        if batch.due and not batch.failed:
            say(batch.due, console=self._console)
            self.put_back(
                lambda check: batch.check(check, assumptions, self._plan.spans, software())
            )
            if not batch.failed:
                self.antenna_on()
        if batch.failed:
            raise SetupError(batch.failed)

    def antenna_on(self) -> None:
        """Wait until the antenna is on, where a standard was before."""
        if self._hand is None:
            self._enter("Screw the antenna on, as it will be used.", "")
        else:
            self._hand(ANTENNA)
        agreeing_sweeps(
            self._sweep, PUT_BACK_SWEEPS, PUT_BACK_PATIENCE
        )  # it rests before it counts

    def _put_on(self, name: str) -> None:
        """Wait until the standard is on: a person presses Enter, the virtual bench's hand acts."""
        if self._hand is None:
            self._enter("It takes a moment.", " or let the plan say check_after = false.")
        else:
            self._hand(name)

    def wait_until(self, condition: str) -> None:
        """Say what condition the antenna is to be brought into, and wait for Enter."""
        words = words_of(condition)
        say(f"{words.label[0].upper()}{words.label[1:]}.", style="bold", console=self._console)
        self._enter(words.instruction, " or sweep one condition at a time with --condition.")

    def warm_up(self) -> None:
        """Let the analyzer sweep for as long as the plan wants it warmed up."""
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
            test.next(self._curve(self.agreeing(), tracker))
        result = test.result
        if result is None:
            raise UnattendedError("The touch test was not finished. Do it again.")
        say(result.text, console=self._console)
        return result

    def _curve(self, raw: Averaged, tracker: DipTracker) -> Curve:
        judged = judged_sweep(
            raw,
            self._calibration,
            self._reading_budget,
            plane=self._plane,
            plan=self._plan,
            swept=self.swept,
        )
        return curve_of(judged, tracker, self._plan.targets)

    def _enter(self, instruction: str, or_else: str) -> None:
        """Say what to do and wait for Enter; or_else : what serves where nobody can press it."""
        say(instruction, indent=4, console=self._console)
        try:
            self._console.input("    Press Enter once it is so, hands off: ")
        except EOFError:
            raise UnattendedError(
                "This plan needs someone at the analyzer, who presses Enter, and there is no "
                "terminal "
                f"to press it at. Run it in a terminal,{or_else}"
            ) from None
