"""The guided calibration in a terminal: what to screw on, how steady it is, what was wrong."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from rich.console import Console
from rich.status import Status

from acquire.printable_text import plain
from acquire.sweep import Sweep
from calibration.capture.guided_captures import Guided, SessionState, Step
from calibration.capture.standard_capture import CaptureState
from dashboard.errors import UnattendedError
from dashboard.terminal.output import say
from replay.virtual_bench.simulated_bench import VirtualBench

MOST_REFUSALS_IN_A_ROW = 3
"""Without a person, the same mistake is made again and again: enough is enough."""


INDENT = 4
SKIP = "skip"
"""What a person types to leave out what may be left out."""


class Hand(Protocol):
    """Whoever screws things on."""

    attended: bool
    """True where a person can put a mistake right."""

    def put_on(self, step: Step) -> str:
        """Come back once the standard is on; return the name of another one to take instead,
        or an empty string."""
        ...


class Person:
    """Someone at the terminal, who presses Enter."""

    attended = True

    def __init__(self, console: Console) -> None:
        self._console = console

    def put_on(self, step: Step) -> str:
        """Wait for Enter; another standard's name goes back to that one."""
        try:
            return self._console.input(
                f"    Press Enter once the {spoken(step.standard)} is on: "
            ).strip()
        except EOFError:
            raise UnattendedError(
                "A calibration needs someone to screw the standards on and press Enter, and there "
                "is no terminal to press it at. Run it in a terminal."
            ) from None


class BenchHand:
    """The virtual bench's own hand, behind a person's Enter or without one."""

    def __init__(self, bench: VirtualBench, person: Person | None, console: Console) -> None:
        self.attended = person is not None
        self._bench = bench
        self._person = person
        self._console = console

    def put_on(self, step: Step) -> str:
        """Screw the virtual standard on."""
        other = "" if self._person is None else self._person.put_on(step)
        if not other:
            self._bench.screw_on(step.standard)
            say(
                f"The virtual bench screws its {spoken(step.standard)} on (invented data).",
                style="dim",
                indent=INDENT,
                console=self._console,
            )
        return other


class Nobody:
    """A recording: what was screwed on then is on now."""

    attended = False

    def put_on(self, step: Step) -> str:
        """Go on at once."""
        del step
        return ""


def guide(
    session: Guided,
    sweep: Callable[[], Sweep],
    hand: Hand,
    console: Console,
) -> None:
    """Lead through a calibration until every standard is taken.

    sweep : takes the next raw sweep of the session's request.
    Raises the refusal itself where nobody is there to put it right, and whatever the analyzer
    raises.
    """
    cautions_shown = False
    refused = 0
    while (step := session.state.step) is not None:
        say(f"{step.number} of {step.of}. {step.instruction}", style="bold", console=console)
        if not cautions_shown:
            for caution in step.cautions:
                say(caution, indent=INDENT, console=console)
            cautions_shown = True
        if step.optional and hand.attended:
            say(f"Type {SKIP} to leave it out.", indent=INDENT, console=console)
        other = hand.put_on(step)
        if other:
            _go_back(session, other, console)
            continue
        state = _capture(session, sweep, console)
        if session.refusal is None:
            refused = 0
            continue
        refused += 1
        say(state.message, style="red", indent=INDENT, console=console)
        if not hand.attended and refused >= MOST_REFUSALS_IN_A_ROW:
            raise session.refusal


def _capture(session: Guided, sweep: Callable[[], Sweep], console: Console) -> SessionState:
    """Feed sweeps until the standard is taken or refused, and show how steady it is."""
    taken = session.state.taken
    state = session.begin()
    shown = state.capture
    with Status("    Waiting for the first sweep.", console=console) as status:
        while state.phase == "capturing":
            state = session.add(sweep())
            if state.capture is not None:
                shown = state.capture
            if shown is not None:
                status.update(f"    {plain(steadiness(shown))}")
    for name in state.taken:
        if name not in taken:
            noise = "" if shown is None or shown.noise is None else f", noise {shown.noise:.1g}"
            say(
                f"The {spoken(name)} is taken: {0 if shown is None else shown.wanted} steady "
                f"sweeps averaged{noise}.",
                style="green",
                indent=INDENT,
                console=console,
            )
    return state


def _go_back(session: Guided, answer: str, console: Console) -> None:
    """Take another standard first, as the person typed; say which there are where it is none."""
    state = session.state
    known = (*state.taken, *state.remaining)
    name = answer.lower().replace(" ", "-")
    if name == SKIP and state.step is not None and state.step.optional:
        session.skip()
    elif name in known:
        session.redo(name)
    else:
        say(
            f'"{answer}" is no standard of this kit. Press Enter alone, or type one of: '
            f"{', '.join(known)}.",
            style="red",
            indent=INDENT,
            console=console,
        )


def steadiness(state: CaptureState) -> str:
    """Return how far a capture is, as a bar, numbers and a sentence."""
    bar = "■" * state.sweeps + "·" * max(state.wanted - state.sweeps, 0)
    moves = "" if state.movement is None else f"  moves by {100 * state.movement:.2f} %"
    return f"{bar}{moves}  {state.message}"


def spoken(standard: str) -> str:
    """Return a standard's name as it is said."""
    return standard.replace("-", " ")
