"""The analyzer a command speaks to, and standards captured at it, as values of options."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field

import typer
from rich.console import Console

from acquire.analyzer.connected_analyzer import Analyzer
from acquire.analyzer.profile import Profile
from acquire.clock import Clock
from calibration.capture.guided_captures import Captures
from calibration.one_port_calibration import Calibration
from dashboard.command_line.named_profile import named_profile
from dashboard.command_line.options import (
    Port,
    PortIfKnown,
    ProfileName,
    Record,
    StepKhz,
    Sweeps,
    TrustProfile,
    Unattended,
    clock_of,
)
from dashboard.errors import SetupError
from dashboard.sweeping.connection import connected, scheme_of
from dashboard.terminal.acceptance_guide import BenchPutsBack
from dashboard.terminal.calibration_guide import BenchHand, Hand, Nobody, Person, guide
from dashboard.terminal.output import say, stderr
from replay.virtual_bench.simulated_bench import VirtualBench


@dataclass(frozen=True, slots=True)
class TalkingOptions:
    """How an analyzer talks, how finely it sweeps, and what records its bytes."""

    context: typer.Context
    profile: ProfileName = None
    step_khz: StepKhz = None
    record: Record = None
    trust_profile: TrustProfile = False

    @property
    def clock(self) -> Clock:
        """The clock that the program was started with."""
        return clock_of(self.context)

    @property
    def named_profile(self) -> Profile | None:
        """As the person named it; raises SetupError as `named_profile` does."""
        return named_profile(self.profile, trust=self.trust_profile)


@dataclass(frozen=True, slots=True)
class PageAnalyzerOptions(TalkingOptions):
    """The same, and where the analyzer is, if that is known before the page is open."""

    port: PortIfKnown = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyzerOptions(TalkingOptions):
    """The same, and where the analyzer is."""

    port: Port

    @property
    def invented(self) -> bool:
        """True where the port is a virtual one."""
        return scheme_of(self.port) == "virtual"

    def connected(self, bench: VirtualBench | None = None) -> AbstractContextManager[Analyzer]:
        """Open it, and let go of it at the end.

        bench : what is on a virtual analyzer's port. Raises whatever opening raises.
        """
        return connected(
            self.port, profile=self.named_profile, record=self.record, bench=bench, clock=self.clock
        )

    def putting_back(
        self, console: Console
    ) -> tuple[VirtualBench | None, Callable[[str], None] | None]:
        """Return the virtual bench, if that is what the port is, and whose hand puts things on it.

        None: a person's, who presses Enter. In a recording, what was put on then is on now.
        """
        match scheme_of(self.port):
            case "virtual":
                bench = VirtualBench(self.clock, on_port="antenna")
                return bench, BenchPutsBack(bench, console)
            case "replay":
                return None, lambda _: None
            case _:
                return None, None


@dataclass(frozen=True, slots=True)
class CalibratedAnalyzerOptions(AnalyzerOptions):
    """The same for a command that sweeps what was calibrated, so at no step of its own."""

    step_khz: None = field(default=None, init=False)


@dataclass(frozen=True, slots=True)
class CaptureOptions:
    """How standards are captured: averaged over how many sweeps, and by whose hand."""

    sweeps: Sweeps = 8
    unattended: Unattended = False

    def hand(
        self, analyzer_options: AnalyzerOptions, console: Console
    ) -> tuple[VirtualBench | None, Hand]:
        """Return the virtual bench, if that is what the port is, and the hand that screws.

        Raises SetupError where nobody is wanted at a real port.
        """
        match scheme_of(analyzer_options.port):
            case "virtual":
                bench = VirtualBench(analyzer_options.clock)
                person = None if self.unattended else Person(console)
                return bench, BenchHand(bench, person, console)
            case "replay":
                return None, Nobody()
            case _ if self.unattended:
                raise SetupError(
                    "--unattended is for virtual: and replay: alone; on a real port someone must "
                    "screw the standards on. Leave it out."
                )
            case _:
                return None, Person(console)

    def lead_through(
        self,
        captures: Captures,
        calibration: Calibration,
        analyzer_options: AnalyzerOptions,
        *remarks: str,
    ) -> None:
        """Lead through captures by the passes of a calibration, until all are taken.

        remarks : said once it is known who the analyzer is. Raises whatever opening, sweeping and
        the captures raise, and what `Calibration.fits` does.
        """
        console = stderr()
        bench, hand = self.hand(analyzer_options, console)
        with analyzer_options.connected(bench) as analyzer:
            calibration.fits(analyzer.source, captures.request)
            for words in (
                f"Analyzer: {analyzer.identity}, profile {analyzer.profile.name}.",
                *remarks,
            ):
                say(words, console=console)
            guide(captures, lambda: analyzer.sweep(captures.request), hand, console)
