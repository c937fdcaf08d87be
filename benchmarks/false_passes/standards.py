"""Mistakes with standards and kits."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from acquire.sweep import SweepRequest
from benchmarks.false_passes.bench import Bench, Judging, Loose, Ohms
from benchmarks.false_passes.situation import Situation
from calibration.evidence import DeviceCheck
from calibration.standards.kit import Kit
from calibration.standards.papers import Papers
from calibration.standards.standard import CoefficientStandard, IdealStandard
from calibration.verification.verification_device import SmallLoad
from replay.virtual_bench.standards import OPEN_CONNECTOR, Device, Resistive, second_load

THREE_ARE_MET = (
    "three standards are always met exactly, so one calibration by itself cannot tell a load from "
    "what it was taken for; a second load measured back, a fourth standard or an earlier "
    "calibration of the same bench can"
)

PutOn = Callable[[Bench], Mapping[str, Device]]


def with_pieces(
    put_on: PutOn, kit: Callable[[Bench], Kit] = Bench.kit
) -> Callable[[Bench], Judging]:
    """Calibrate with the wrong pieces, then judge the antenna."""

    def begin(bench: Bench) -> Judging:
        calibration = bench.calibration(kit(bench), put_on(bench))
        return lambda antenna: bench.verdict(calibration, antenna)

    return begin


def second_load_measured_back(put_on: PutOn) -> Callable[[Bench], Judging]:
    """Calibrate so, then measure a second load back, as `verify --second-load 40` does."""

    def begin(bench: Bench) -> Judging:
        calibration = bench.calibration(None, put_on(bench))
        other = second_load(np.random.default_rng(5))
        reading = bench.captured("second load", other)
        check = DeviceCheck(SmallLoad("second load", 40.0), reading, bench.now)
        checked = calibration.with_evidence(check)
        return lambda antenna: bench.verdict(checked, antenna)

    return begin


def nothing_else(bench: Bench) -> Mapping[str, Device]:
    """Every standard in its own place."""
    del bench
    return {}


def left_on(**pieces: str) -> PutOn:
    """Which standard was on where another was asked for."""
    return lambda bench: {asked: bench.truth[piece] for asked, piece in pieces.items()}


def other(**pieces: Device) -> PutOn:
    """Something that is no standard, where one was asked for."""

    def put_on(bench: Bench) -> Mapping[str, Device]:
        del bench
        return pieces

    return put_on


def loose(name: str, henry: float = 0.0, ohm: float = 0.0) -> PutOn:
    """A standard with something in series."""
    return lambda bench: {name: Loose(bench.truth[name], henry, ohm)}


def ideal_kit(bench: Bench) -> Kit:
    """The kit taken as one of flush parts."""
    return bench.kit(name="ideal")


def another_kit(bench: Bench) -> Kit:
    """The coefficients of another kit."""
    return bench.kit(name="n-plug-50")


def other_open(bench: Bench, **changes: object) -> Kit:
    """The kit with other figures for its open."""
    kit = bench.kit()
    opened = kit.standards["open"]
    if not isinstance(opened, CoefficientStandard):
        raise TypeError("the kit's open is not given by coefficients")
    return replace(kit, standards={**kit.standards, "open": replace(opened, **changes)})


def load_of(papers: Papers) -> Callable[[Bench], Kit]:
    """The kit, its load with these papers."""
    return lambda bench: replace(bench.kit(), papers={"load": papers})


def flush_open(bench: Bench) -> Kit:
    """A kit whose own open is said to be nothing but flush, in place of its offset."""
    kit = bench.kit()
    return replace(kit, standards={**kit.standards, "open": IdealStandard(kind="open")})


def intermittent(bench: Bench) -> Judging:
    """The load's contact comes and goes while it is captured."""
    load = bench.truth["load"]
    reading = bench.captured("load", load, Loose(load, ohm=8.0), load, OPEN_CONNECTOR)
    raise AssertionError(f"a load that comes and goes was taken: {reading.sweeps} sweeps")


exchanged = left_on(open="short", short="open")
poor_load = other(load=Resistive(0.126, 1.0, 8.0))
"""18 dB."""
CHECKED = ", second load measured back"

SITUATIONS = (
    Situation("open left on for the short", with_pieces(left_on(short="open"))),
    Situation("short left on for the load", with_pieces(left_on(load="short"))),
    Situation("load left on for the short", with_pieces(left_on(short="load"))),
    Situation("load forgotten: an empty port", with_pieces(other(load=OPEN_CONNECTOR))),
    Situation("short forgotten: an empty port", with_pieces(other(short=OPEN_CONNECTOR))),
    Situation("a 2:1 antenna in the place of the load", with_pieces(other(load=Ohms(100)))),
    Situation("open and short exchanged, wide sweep", with_pieces(exchanged), 9.9),
    Situation(
        "open and short exchanged, one narrow band",
        with_pieces(exchanged),
        9.9,
        bench=lambda seed: Bench(seed, SweepRequest(2495e6, 2695e6, 101)),
    ),
    Situation("short loose by 1 nH", with_pieces(loose("short", 1e-9)), 9.7),
    Situation("open loose by 1 nH", with_pieces(loose("open", 1e-9)), 9.7),
    Situation("short with 3 ohm of contact", with_pieces(loose("short", ohm=3.0)), 9.5),
    Situation("load whose contact comes and goes", intermittent),
    Situation(f"load loose by 0.8 nH{CHECKED}", second_load_measured_back(loose("load", 0.8e-9))),
    Situation(f"load loose by 1.5 nH{CHECKED}", second_load_measured_back(loose("load", 1.5e-9))),
    Situation(
        f"load with 6 ohm of contact{CHECKED}",
        second_load_measured_back(loose("load", ohm=6.0)),
        9.5,
    ),
    Situation(f"75 ohm load{CHECKED}", second_load_measured_back(other(load=Ohms(75.0)))),
    Situation("18 dB load said to be a 30 dB one", with_pieces(poor_load), unseen=THREE_ARE_MET),
    Situation(f"18 dB load said to be a 30 dB one{CHECKED}", second_load_measured_back(poor_load)),
    Situation(
        "18 dB load of which nothing is said, so 26 dB is assumed",
        with_pieces(poor_load, lambda bench: bench.kit(None)),
        unseen=THREE_ARE_MET,
    ),
    Situation("kit with an offset called ideal", with_pieces(nothing_else, ideal_kit), 9.5),
    Situation("coefficients of another kit", with_pieces(nothing_else, another_kit), 9.5),
    Situation("open of the kit said to be flush", with_pieces(nothing_else, flush_open), 9.5),
    Situation(
        "open's delay written in seconds: 2.9e-11 ps",
        with_pieces(nothing_else, lambda bench: other_open(bench, offset_delay_ps=2.9e-11)),
    ),
    Situation(
        "open's capacitance written in farad",
        with_pieces(nothing_else, lambda bench: other_open(bench, c0_ff=4.9433e-14)),
    ),
    Situation(
        "load out of date, and loose by 0.8 nH",
        with_pieces(
            loose("load", 0.8e-9),
            load_of(Papers(serial="4711", expires=datetime.date(2025, 3, 31))),
        ),
    ),
)
