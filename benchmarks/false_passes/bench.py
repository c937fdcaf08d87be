"""A bench where mistakes are made: the virtual analyzer's receiver, whatever is screwed on to it,
and the way from there to a verdict, which is the program's own."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np

from acceptance.bands.load import load_bands
from acceptance.plan.acceptance_plan import FINISHED, Plan
from acceptance.plan.load import load_presets
from acceptance.plan.plan_file import parse_plan
from acceptance.record.acceptance_record import Acceptance, Condition
from acceptance.record.check_after_sweep import ChecksAfterSweep, StandardCheck
from acceptance.record.examination import examine
from acceptance.record.plan_requirements import sign_off
from acceptance.verdict.judged_sweep import judged_sweep
from acceptance.verdict.plan_verdict import Verdict
from acquire.sweep import ComplexArray, FloatArray, Plane, Source, Sweep, SweepRequest
from calibration.capture.averaging import average
from calibration.capture.standard_capture import StandardCapture, StandardReading
from calibration.files.store import load_kit
from calibration.guided.calibration_session import CalibrationSession
from calibration.one_port_calibration import Calibration, calibrate
from calibration.plane.reference_plane import CONNECTOR, ReferencePlane
from calibration.standards.kit import Kit
from calibration.uncertainty.budget import Assumptions
from calibration.verification.check_piece import PieceReading
from calibration.verification.reading_budget import ReadingBudget
from replay.virtual_analyzer.receiver import Receiver, Sweeping
from replay.virtual_bench.standards import KITS, OPEN_CONNECTOR, Device, hidden_load

KIT = "3.5mm-plug-50"
STATED_LOAD_DB = 30.0
"""What the maker of the bench's load states, and what is so (`hidden_load`)."""
BAND = 'name = "gauge"\nlow_mhz = 2500\nhigh_mhz = 2690'
LIMIT_DB = 10.0
TRUE_DB = 9.2
"""Worst return loss of the antennas in the band: they fail, by so little that it does not show."""
TURNS = 12
"""Antennas of one size of reflection, told apart by its phase: whatever a mistake does to one
phase, one of them profits most."""
WIDE = SweepRequest(700e6, 2800e6, 421)
"""5 MHz a step."""
MOST_ASKED = 4
"""So often a person connects a standard that is refused, and then gives up."""
DEFAULT_ASSUMPTIONS = Assumptions()
SOURCE = Source("port", "analyzer of the benchmark", "prompted-pairs", "/dev/ttyACM0")
BEGUN = datetime(2026, 11, 30, 9, 0, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Antenna:
    """One resonance in the middle of the band, at the end of a lossless piece of feed."""

    worst_db: float
    """Return loss where it is worst in the band."""
    turn: int
    low_hz: float = 2500e6
    high_hz: float = 2690e6
    centre_hz: float = 2595e6

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """|G| rises with the distance from the middle, to the worst at the band's edge [derived].

        G = jx/(1 + jx) of a series circuit that is matched, x = Q (f/f0 - f0/f), beside a constant
        part, so that even the bottom is no good match.
        """
        worst = 10 ** (-self.worst_db / 20)
        bottom = 0.9 * worst
        edge = self.high_hz / self.centre_hz - self.centre_hz / self.high_hz
        slope = np.sqrt((worst**2 - bottom**2) / (1 - worst**2)) / edge
        x = slope * (frequency_hz / self.centre_hz - self.centre_hz / frequency_hz)
        delay_s = self.turn / TURNS / (2 * self.centre_hz)
        turned = np.exp(-4j * np.pi * (frequency_hz - self.centre_hz) * 60e-12)
        turned = turned * np.exp(-4j * np.pi * self.centre_hz * delay_s)
        result: ComplexArray = turned * (bottom + 1j * x) / (1 + 1j * x)
        return result


@dataclass(frozen=True, slots=True)
class Loose:
    """Something whose nut is loose: inductance and resistance in series."""

    device: Device
    henry: float = 0.0
    ohm: float = 0.0

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """z = (1 + G)/(1 - G) + (R + j w L)/50, and back [derived]."""
        inner = self.device.reflection(frequency_hz)
        more = (self.ohm + 2j * np.pi * frequency_hz * self.henry) / 50
        # in volts and amperes, so that an open stays finite
        volts, amperes = (1 + inner) + more * (1 - inner), 1 - inner
        result: ComplexArray = (volts - amperes) / (volts + amperes)
        return result


@dataclass(frozen=True, slots=True)
class Behind:
    """Something behind a matched piece of cable, or a pad."""

    device: Device
    loss_db: float
    """One way, at 2.6 GHz; rises with the root of frequency."""
    delay_s: float = 0.0
    flat: bool = False
    """True for a pad, whose loss is the same everywhere."""

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """There and back."""
        loss_db = self.loss_db * (1.0 if self.flat else np.sqrt(frequency_hz / 2.6e9))
        way = 10 ** (-2 * loss_db / 20) * np.exp(-4j * np.pi * frequency_hz * self.delay_s)
        result: ComplexArray = way * self.device.reflection(frequency_hz)
        return result


@dataclass(frozen=True, slots=True)
class Ohms:
    """A resistor, and nothing else."""

    ohm: float

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """(R - 50)/(R + 50)."""
        return np.full(frequency_hz.shape, (self.ohm - 50) / (self.ohm + 50), np.complex128)


class Port:
    """What the receiver sees: a test cable, and whatever hangs on it now."""

    def __init__(self) -> None:
        self.device: Device = OPEN_CONNECTOR
        self.cable = Behind(OPEN_CONNECTOR, 0.25, 0.6e-9)

    def port_reflection(self, frequency_hz: FloatArray, at_s: FloatArray) -> ComplexArray:
        """Through the cable."""
        del at_s
        return replace(self.cable, device=self.device).reflection(frequency_hz)


class Bench:
    """One analyzer, one test cable, one kit; the same seed gives the same bench."""

    def __init__(
        self,
        seed: int,
        request: SweepRequest = WIDE,
        *,
        drift_per_hour: float = 0.0,
    ) -> None:
        rng = np.random.default_rng([seed, 14])
        self.request = request
        self.port = Port()
        self.receiver = Receiver(self.port, seed=seed, noise=3e-4, drift_per_hour=drift_per_hour)
        self.truth: dict[str, Device] = {
            **{name: KITS[KIT][name].with_hidden_errors(rng) for name in ("open", "short")},
            "load": hidden_load(rng),
        }
        """The standards, as they really are."""
        self.now_s = 0.0
        self._budgets: dict[Assumptions, ReadingBudget] = {}
        self._numbers = itertools.count(1)

    @property
    def frequency_hz(self) -> FloatArray:
        """What is swept."""
        return self.request.grid_hz()

    @property
    def now(self) -> datetime:
        """The bench's time."""
        return BEGUN + timedelta(seconds=self.now_s)

    def sweeping(self, *devices: Device, source: Source = SOURCE) -> Iterator[Sweep]:
        """Sweep after sweep, of these things in turn."""
        f = self.frequency_hz
        for device in itertools.cycle(devices):
            self.port.device = device
            self.now_s += 1.0
            number = next(self._numbers)
            setting = Sweeping(number, f, self.now_s, 1.0 / f.size)
            read = self.receiver.read(setting, 0)
            yield Sweep(f, read, Plane.RAW, self.now, number, source, (self.request,))

    def captured(self, name: str, *devices: Device) -> StandardReading:
        """A standard, captured as the guide does. Raises StandardError where it never rests."""
        capture = StandardCapture(name, (self.request,))
        for sweep in itertools.islice(self.sweeping(*devices), 60):
            if capture.add(sweep).phase in {"done", "unsteady"}:
                break
        return capture.result()

    def kit(self, load_db: float | None = STATED_LOAD_DB, name: str = KIT) -> Kit:
        """The kit that is said to be used."""
        return replace(load_kit(name), load_return_loss_db=load_db)

    def calibration(
        self, kit: Kit | None = None, put_on: Mapping[str, Device] | None = None
    ) -> Calibration:
        """Calibrate. put_on : what was on where another standard was asked for.

        Raises CalibrationError where that is refused.
        """
        own = self.kit() if kit is None else kit
        pieces = {**self.truth, **(put_on or {})}
        readings = [self.captured(name, pieces[name]) for name in own.standards]
        return calibrate(
            own,
            readings,
            source=SOURCE,
            request=(self.request,),
            spans=((self.request.start_hz, self.request.stop_hz),),
            taken_at=self.now,
            software="benchmark",
        )

    def guided(
        self,
        put_on: Mapping[str, Sequence[Device]] | None = None,
        past: Sequence[Calibration] = (),
        *,
        kit: Kit | None = None,
        skips: bool = False,
    ) -> Calibration:
        """Calibrate as `calibrate` leads through it, held against what is kept of this bench.

        put_on : what was on each time a standard was asked for; the last one stays on for more.
        past : earlier calibrations. skips : what may be left out is left out.
        Raises CalibrationError where a standard is refused again and again.
        """
        own = self.kit() if kit is None else kit
        span = (self.request.start_hz, self.request.stop_hz)
        session = CalibrationSession(own, (self.request,), (span,), past=past)
        asked: Counter[str] = Counter()
        while (step := session.state.step) is not None:
            if step.optional and skips:
                session.skip()
                continue
            name = step.standard
            pieces = (put_on or {}).get(name) or (self.truth[name],)
            piece = pieces[min(asked[name], len(pieces) - 1)]
            asked[name] += 1
            session.begin()
            for sweep in itertools.islice(self.sweeping(piece), 60):
                if session.add(sweep).phase != "capturing":
                    break
            if session.refusal is not None and asked[name] > MOST_ASKED:
                raise session.refusal
        return session.finish(self.now, "benchmark")

    def verdict(
        self,
        calibration: Calibration,
        *devices: Device,
        plan: Plan | None = None,
        plane: ReferencePlane = CONNECTOR,
        assumptions: Assumptions = DEFAULT_ASSUMPTIONS,
        source: Source = SOURCE,
    ) -> Verdict:
        """Sweep what is on twice, and judge it, as `sweep` and `accept` do.

        devices : more than one where it moves. Raises CalibrationError where that is refused.
        """
        sweeps = tuple(itertools.islice(self.sweeping(*devices, source=source), 2))
        found = judged_sweep(
            average(sweeps) or sweeps,
            calibration,
            self._budgets.setdefault(assumptions, ReadingBudget(assumptions)),
            plane=plane,
            plan=wanted() if plan is None else plan,
        )
        return found.decided

    def accepted(
        self,
        calibration: Calibration,
        antenna: Device,
        put_back: Device,
        *,
        plan: Plan | None = None,
        piece: PieceReading | None = None,
    ) -> Verdict:
        """Sweep the antenna and put a standard back, as `accept` does, and sign it off.

        put_back : what is on when the standard is asked for. piece : the check piece's latest
        reading. Raises RecordError where that cannot be signed off, CalibrationError where what
        was put back is no standard.
        """
        asked = wanted() if plan is None else plan
        swept = tuple(itertools.islice(self.sweeping(antenna), asked.sweeps))
        checked = tuple(itertools.islice(self.sweeping(put_back), 2))
        acceptance = Acceptance(
            "benchmark",
            asked,
            calibration,
            DEFAULT_ASSUMPTIONS,
            swept[0].taken_at,
            "benchmark",
            conditions=(Condition(FINISHED, swept),),
            check_piece=piece,
            after_sweep=ChecksAfterSweep((StandardCheck(checked),)),
        )
        (found,) = examine(sign_off(acceptance, self.now)).conditions
        return found.verdict


Judging = Callable[[Antenna], Verdict]
"""From an antenna to what a person is told of it."""


def wanted(limit: str = f"return_loss_db = {LIMIT_DB:g}", band: str = BAND, head: str = "") -> Plan:
    """The plan: one band, one limit."""
    text = f'name = "benchmark"\n{head}\n[[band]]\n{band}\n{limit}\n'
    return parse_plan(text, "plan", load_bands(), load_presets())


def failing(worst_db: float = TRUE_DB, turns: int = TURNS) -> Sequence[Antenna]:
    """Antennas that fail, of every phase."""
    return [Antenna(worst_db, turn) for turn in range(turns)]
