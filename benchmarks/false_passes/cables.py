"""Mistakes with cables, planes and what hangs at their far end."""

from __future__ import annotations

from collections.abc import Callable

from acceptance.verdict.plan_verdict import Verdict
from acquire.sweep import SweepRequest
from benchmarks.false_passes.bench import Antenna, Behind, Bench, Judging, Loose
from benchmarks.false_passes.situation import Situation
from calibration.files.store import load_plane
from replay.virtual_bench.pigtails import PIGTAILS, BehindPigtail
from replay.virtual_bench.standards import Device

ONE_PORT = (
    "one port sees what comes back and nothing of what is lost on the way; a cable swept with its "
    "end open and shorted, or a calibration at its far end, shows it"
)
NARROW = SweepRequest(2450e6, 2740e6, 146)

Between = Callable[[Device], Device]


def narrow(seed: int) -> Bench:
    """A bench that sweeps little more than the band."""
    return Bench(seed, NARROW)


def between(what: Between, plane: str = "") -> Callable[[Bench], Judging]:
    """Something lies between the connector and the antenna. plane : what is said to lie there."""

    def begin(bench: Bench) -> Judging:
        calibration = bench.calibration()
        there = load_plane(plane, calibration) if plane else None

        def verdict_of(antenna: Antenna) -> Verdict:
            if there is None:
                return bench.verdict(calibration, what(antenna))
            return bench.verdict(calibration, what(antenna), plane=there)

        return verdict_of

    return begin


def pad(loss_db: float) -> Between:
    """An attenuator, flat and short."""
    return lambda device: Behind(device, loss_db, 30e-12, flat=True)


def coax(loss_db: float, metres: float) -> Between:
    """Matched PTFE coax."""
    return lambda device: Behind(device, loss_db, metres / (0.695 * 299_792_458.0))


def pigtail(name: str) -> Between:
    """One of the bench's pigtails."""
    return lambda device: BehindPigtail(PIGTAILS[name], device)


SITUATIONS = (
    Situation(
        "3.2 m of micro-coax that nobody named, 1 dB antenna", between(pigtail("lossy")), 1.0
    ),
    Situation("1 m of coax that nobody named, 3 dB of loss", between(coax(3.0, 1.0)), 7.0),
    Situation("0.5 m of coax that nobody named, 1.5 dB of loss", between(coax(1.5, 0.5)), 8.5),
    Situation("the same, swept no wider than the band", between(coax(1.5, 0.5)), 8.5, bench=narrow),
    Situation("75 ohm coax that nobody named", between(pigtail("wrong")), 9.2),
    Situation("a dry joint that nobody named", between(pigtail("bad-joint")), 5.0),
    Situation(
        "6.5 dB pad before a 2 dB antenna, wide sweep",
        between(pad(6.5)),
        2.0,
        note="Match alone cannot tell",
    ),
    Situation(
        "3 dB pad before a 5 dB antenna, no wider than the band",
        between(pad(3.0)),
        5.0,
        unseen=ONE_PORT,
        bench=narrow,
    ),
    Situation(
        "0.2 m of coax of 1.5 dB that nobody named",
        between(coax(1.5, 0.2)),
        8.5,
        unseen=ONE_PORT,
    ),
    Situation(
        "pigtail undone as 0.3 dB of loss, and it loses 3",
        between(coax(3.0, 0.3), "delay_ps=1440 loss_db=0.3 loss_at_mhz=2600"),
        8.0,
        unseen=ONE_PORT,
    ),
    Situation(
        "pigtail's length written in metres: 0.3 mm",
        between(coax(1.6, 0.3), "cable=ptfe-2.5mm length_mm=0.3"),
        9.2,
    ),
    Situation(
        "pigtail's delay written in seconds: 1.44e-9 ps",
        between(coax(2.0, 0.3), "delay_ps=1.44e-9 loss_db=0.3 loss_at_mhz=2600"),
        9.2,
    ),
    Situation(
        "pigtail undone that is not there",
        between(lambda device: device, "cable=ptfe-2.5mm length_mm=300"),
    ),
    Situation(
        "nut at the antenna loose by 0.8 nH",
        between(lambda device: Loose(device, 0.8e-9)),
        unseen="a loose nut at the antenna is part of what the port sees, as if the antenna were "
        "built so; tighten it and sweep again",
    ),
)
