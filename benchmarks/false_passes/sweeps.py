"""Mistakes after calibrating, and readings that are none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from acceptance.verdict.plan_verdict import Verdict
from acquire.sweep import ComplexArray, FloatArray, SweepRequest
from benchmarks.false_passes.bench import (
    SOURCE,
    TURNS,
    Antenna,
    Behind,
    Bench,
    Judging,
    Loose,
    Ohms,
)
from benchmarks.false_passes.cables import narrow
from benchmarks.false_passes.situation import Situation
from calibration.evidence import DriftCheck
from replay.virtual_bench.standards import OPEN_CONNECTOR, Device

NO_CHECK = (
    "what has changed since the calibration leaves no trace in a reading by itself; a standard put "
    "back, or a plan that wants one, finds it"
)

ACCEPTED = ", check after the sweep"


def cable_of(more_db: float) -> Callable[[Bench], None]:
    """The test cable exchanged for one that loses so much more."""

    def change(bench: Bench) -> None:
        bench.port.cable = replace(bench.port.cable, loss_db=bench.port.cable.loss_db + more_db)

    return change


def another_length(bench: Bench) -> None:
    """The test cable exchanged for a longer one of the same loss."""
    bench.port.cable = replace(bench.port.cable, delay_s=1.4e-9)


def drifted(bench: Bench) -> None:
    """Hours pass, in which tracking wanders by 8 %."""
    bench.now_s += 8 * 3600.0


def changed(change: Callable[[Bench], None], *, put_back: str = "") -> Callable[[Bench], Judging]:
    """Something changes after the calibration. put_back : the standard put back before judging."""

    def begin(bench: Bench) -> Judging:
        calibration = bench.calibration()
        change(bench)
        if put_back:
            reading = bench.captured(put_back, bench.truth[put_back])
            calibration = calibration.with_evidence(DriftCheck(put_back, reading, bench.now))
        return lambda antenna: bench.verdict(calibration, antenna)

    return begin


def checked_after(
    change: Callable[[Bench], None],
    *,
    put_back: str = "short",
    nut: Callable[[Device], Device] = lambda device: device,
) -> Callable[[Bench], Judging]:
    """Something changes after the calibration, and `accept` asks for a standard at its end.

    put_back : which one is put back. nut : what the change does to whatever is on.
    """

    def begin(bench: Bench) -> Judging:
        calibration = bench.calibration()
        change(bench)
        standard = nut(bench.truth[put_back])
        return lambda antenna: bench.accepted(calibration, nut(antenna), standard)

    return begin


def unchanged(bench: Bench) -> None:
    """Nothing of the bench itself changes."""
    del bench


def by_another_cable(bench: Bench) -> Judging:
    """The calibration is that of another cable, of the same analyzer."""
    calibration = bench.calibration()
    bench.port.cable = replace(bench.port.cable, loss_db=1.1, delay_s=1.1e-9)
    short = bench.truth["short"]
    return lambda antenna: bench.accepted(calibration, antenna, short)


def left_on(bench: Bench) -> Judging:
    """The antenna is still on when the standard is asked for."""
    calibration = bench.calibration()
    return lambda antenna: bench.accepted(calibration, antenna, antenna)


def only(device: Device) -> Callable[[Bench], Judging]:
    """Something else is on in place of the antenna."""

    def begin(bench: Bench) -> Judging:
        calibration = bench.calibration()

        def verdict_of(antenna: Antenna) -> Verdict:
            del antenna
            return bench.verdict(calibration, device)

        return verdict_of

    return begin


def load_on(bench: Bench) -> Judging:
    """The load is on in place of the antenna."""
    return only(bench.truth["load"])(bench)


def moving(bench: Bench) -> Judging:
    """The antenna moves between two states of opposite phase, and each of them fails."""
    calibration = bench.calibration()
    half = TURNS // 2
    return lambda antenna: bench.verdict(
        calibration, antenna, replace(antenna, turn=antenna.turn + half)
    )


def by_another_analyzer(bench: Bench) -> Judging:
    """The sweeps come from another analyzer than the calibration."""
    calibration = bench.calibration()
    other = replace(SOURCE, analyzer="another analyzer")
    return lambda antenna: bench.verdict(calibration, antenna, source=other)


def replayed(bench: Bench) -> Judging:
    """What is judged is a recording of another antenna, a good one."""
    calibration = bench.calibration()
    source = replace(SOURCE, kind="replay")
    return lambda antenna: bench.verdict(
        calibration, replace(antenna, worst_db=16.0), source=source
    )


def corrects_itself(bench: Bench) -> Judging:
    """The analyzer's own correction was off for the calibration, and is on now."""
    calibration = bench.calibration()
    return lambda antenna: bench.verdict(
        calibration, antenna, source=replace(SOURCE, analyzer_corrected=True)
    )


def calibrated_beside_the_band(bench: Bench) -> Judging:
    """The calibration ends within the band."""
    other = Bench(1, SweepRequest(2300e6, 2600e6, 151))
    calibration = other.calibration()
    return lambda antenna: bench.verdict(calibration, antenna)


@dataclass(frozen=True, slots=True)
class Notched:
    """A good antenna with one narrow failure inside the band: half the power comes back."""

    q: float
    centre_hz: float = 2602.3e6

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """0.2 but at the notch, where a resonance of that Q takes it to 0.8 [derived]."""
        x = self.q * (frequency_hz / self.centre_hz - self.centre_hz / frequency_hz)
        result: ComplexArray = 0.2 + 0.6 / (1 + 1j * x)
        return result


def notched(q: float) -> Callable[[Bench], Judging]:
    """The antenna fails at one place that a point of the sweep may miss."""
    return only(Notched(q))


def dead_points(bench: Bench) -> Judging:
    """The receiver sees nothing at some points of the band."""
    calibration = bench.calibration()

    def verdict_of(antenna: Antenna) -> Verdict:
        f = bench.frequency_hz
        bench.receiver.dead = frozenset(np.flatnonzero(np.abs(f - 2600e6) < 30e6).tolist())
        return bench.verdict(calibration, antenna)

    return verdict_of


def too_short(bench: Bench) -> Judging:
    """The sweep ends 20 MHz before the band does."""
    short = Bench(2, SweepRequest(2400e6, 2670e6, 136))
    calibration = short.calibration()
    del bench
    return lambda antenna: short.verdict(calibration, antenna)


SITUATIONS = (
    Situation(
        "test cable exchanged, 0.7 dB lossier; open put back",
        changed(cable_of(0.7), put_back="open"),
        9.4,
    ),
    Situation(
        "test cable exchanged, 2.7 dB lossier; open put back",
        changed(cable_of(2.7), put_back="open"),
        7.0,
    ),
    Situation(
        "test cable exchanged, longer; short put back", changed(another_length, put_back="short")
    ),
    Situation(
        "tracking drifted by 8 % in 8 hours; open put back",
        changed(drifted, put_back="open"),
        bench=lambda seed: Bench(seed, drift_per_hour=0.01),
    ),
    Situation(
        "tracking drifted by 8 % in 8 hours, nothing put back",
        changed(drifted),
        bench=lambda seed: Bench(seed, drift_per_hour=0.01),
    ),
    Situation(
        "test cable exchanged, 0.7 dB lossier, nothing put back",
        changed(cable_of(0.7)),
        9.4,
        unseen=NO_CHECK,
    ),
    Situation(
        "test cable exchanged, 2.7 dB lossier, nothing put back",
        changed(cable_of(2.7)),
        7.0,
        unseen=NO_CHECK,
    ),
    Situation(f"test cable exchanged, 0.7 dB lossier{ACCEPTED}", checked_after(cable_of(0.7)), 9.4),
    Situation(f"test cable exchanged, 2.7 dB lossier{ACCEPTED}", checked_after(cable_of(2.7)), 7.0),
    Situation(
        f"test cable exchanged, 0.7 dB lossier{ACCEPTED}, by the open",
        checked_after(cable_of(0.7), put_back="open"),
        9.4,
    ),
    Situation(
        f"nut at the test cable's far end loose by 0.8 nH since{ACCEPTED}",
        checked_after(unchanged, nut=lambda device: Loose(device, 0.8e-9)),
    ),
    Situation(
        f"tracking drifted by 8 % in 8 hours{ACCEPTED}",
        checked_after(drifted),
        bench=lambda seed: Bench(seed, drift_per_hour=0.01),
    ),
    Situation(f"calibration of another cable{ACCEPTED}", by_another_cable, 9.4),
    Situation(
        f"load put back in the short's place, cable 2.7 dB lossier{ACCEPTED}",
        checked_after(cable_of(2.7), put_back="load"),
        7.0,
    ),
    Situation(f"antenna left on when the short is asked for{ACCEPTED}", left_on),
    Situation("calibration of another analyzer", by_another_analyzer),
    Situation("the analyzer's own correction switched on since", corrects_itself),
    Situation("a recording played in place of the port", replayed, note="replay of a recording"),
    Situation("calibration that ends within the band", calibrated_beside_the_band),
    Situation("sweep that ends within the band", too_short),
    Situation("points that were not measured", dead_points),
    Situation(
        "antenna that moves between two states, each failing",
        moving,
    ),
    Situation("narrow failure of Q 50, 5 MHz a step", notched(50.0)),
    Situation("narrow failure of Q 200, 5 MHz a step", notched(200.0)),
    Situation(
        "failure a twentieth of a step wide (Q 10000), 5 MHz a step",
        notched(10_000.0),
        unseen="what is narrower than a step of the sweep has no point of its own; a smaller step "
        "shows it",
    ),
    Situation("load on in place of the antenna, wide sweep", load_on),
    Situation(
        "load on in place of the antenna, no wider than the band",
        load_on,
        unseen="over one narrow band a load reads like an antenna that is tuned there; a wide "
        "sweep tells them apart",
        bench=narrow,
    ),
    Situation("55 ohm resistor on in place of the antenna, wide sweep", only(Ohms(55.0))),
    Situation(
        "70 ohm resistor on in place of the antenna, wide sweep",
        only(Ohms(70.0)),
        note="Match alone cannot tell",
    ),
    Situation(
        "nothing on, at the end of 8 dB of pad",
        only(Behind(OPEN_CONNECTOR, 8.0, 30e-12, flat=True)),
        note="Match alone cannot tell",
    ),
)
