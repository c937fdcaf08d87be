"""Mistakes in files: of sweeps from elsewhere, of plans, of what is assumed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from acceptance.plan.acceptance_plan import FINISHED, Plan
from acceptance.record.acceptance_record import Acceptance, Condition
from acceptance.record.examination import examine
from acceptance.verdict.judged_sweep import corrected_file
from acceptance.verdict.plan_verdict import Verdict
from acquire.sweep import ComplexArray, FloatArray, Plane, Source, Sweep
from acquire.touchstone.reader import parse_touchstone
from benchmarks.false_passes.bench import DEFAULT_ASSUMPTIONS, Antenna, Bench, Judging, wanted
from benchmarks.false_passes.cables import narrow
from benchmarks.false_passes.situation import Situation
from calibration.plane.reference_plane import CONNECTOR
from calibration.standards.stated_load import require_stated_load
from calibration.uncertainty.budget import Assumptions
from replay.virtual_bench.standards import Device

FILE = Source("file", "antenna.s1p", "", "antenna.s1p")

Writing = Callable[[Bench, ComplexArray], str]
"""From a truth on the bench's frequencies to the text of a file."""


def rows(frequency: object, one: object, other: object) -> str:
    """Three columns."""
    table = np.stack(np.broadcast_arrays(frequency, one, other), axis=1)
    return "".join(f"{f:.0f} {a:.9f} {b:.9f}\n" for f, a, b in table)


def ri(bench: Bench, reflection: ComplexArray, head: str = "# Hz S RI R 50\n") -> str:
    """Real and imaginary part, as they should be."""
    return head + rows(bench.frequency_hz, reflection.real, reflection.imag)


def file_of(
    writing: Writing,
    device: Callable[[Antenna], Device] = lambda antenna: antenna,
    *,
    plane: Plane = Plane.CONNECTOR,
    assumptions: Assumptions = DEFAULT_ASSUMPTIONS,
    plan: Callable[[], Plan] = wanted,
) -> Callable[[Bench], Judging]:
    """Judge a file as `check` does."""

    def begin(bench: Bench) -> Judging:
        def verdict_of(antenna: Antenna) -> Verdict:
            text = writing(bench, device(antenna).reflection(bench.frequency_hz))
            data = parse_touchstone(text.encode(), "antenna.s1p")
            require_stated_load(assumptions.load_db, assumptions.load_source)
            return (
                corrected_file(data.reading, assumptions, plane, FILE, data.doubts)
                .judged(CONNECTOR, plan())
                .decided
            )

        return verdict_of

    return begin


def imported(writing: Writing, plane: Plane = Plane.CONNECTOR) -> Callable[[Bench], Judging]:
    """Take a file in as a record, as `import` does."""

    def begin(bench: Bench) -> Judging:
        def verdict_of(antenna: Antenna) -> Verdict:
            text = writing(bench, antenna.reflection(bench.frequency_hz))
            data = parse_touchstone(text.encode(), "antenna.s1p")
            reading = data.reading
            sweep = Sweep(reading.frequency_hz, reading.reflection, plane, bench.now, 1, FILE, ())
            acceptance = Acceptance(
                "benchmark",
                wanted(),
                None,
                DEFAULT_ASSUMPTIONS,
                bench.now,
                "benchmark",
                conditions=(Condition(FINISHED, (sweep,), doubts=data.doubts),),
                accepted_at=bench.now,
                kind="imported",
            )
            return examine(acceptance).conditions[0].verdict

        return verdict_of

    return begin


def raw(bench: Bench, reflection: ComplexArray) -> str:
    """The analyzer's own reading, never corrected."""
    errors = bench.receiver.errors(bench.frequency_hz)
    read = errors.directivity + errors.reflection_tracking * reflection / (
        1 - errors.source_match * reflection
    )
    return ri(bench, np.asarray(read))


def decibels_called_linear(bench: Bench, reflection: ComplexArray) -> str:
    """Decibels and degrees under a header that says linear magnitude."""
    level = 20 * np.log10(np.abs(reflection))
    return "# Hz S MA R 50\n" + rows(bench.frequency_hz, level, np.degrees(np.angle(reflection)))


def parts_called_angles(bench: Bench, reflection: ComplexArray) -> str:
    """Real and imaginary parts under a header that says magnitude and angle."""
    return ri(bench, reflection, "# Hz S MA R 50\n")


def by_a_load(size: float) -> Writing:
    """Corrected with a load of so much reflection that was taken for nothing: (G - GL)/(1 - GL G),
    with a perfect open and short [derived]."""
    load = size * np.exp(2j)
    return lambda bench, g: ri(bench, np.asarray((g - load) / (1 - load * g)))


def in_gigahertz(bench: Bench, reflection: ComplexArray) -> str:
    """Frequencies in Hz under a header that says MHz."""
    return ri(bench, reflection, "# MHz S RI R 50\n")


def of_75_ohm(bench: Bench, reflection: ComplexArray) -> str:
    """Referred to 75 ohm, and said so."""
    ratio = (75 - 50) / (75 + 50)
    there = (reflection - ratio) / (1 - ratio * reflection)
    return ri(bench, np.asarray(there), "# Hz S RI R 75\n")


def cut_short(bench: Bench, reflection: ComplexArray) -> str:
    """The file ends in the middle of a row."""
    whole = ri(bench, reflection)
    return whole[: int(len(whole) * 0.9)]


def all_zero(bench: Bench, reflection: ComplexArray) -> str:
    """Nothing but zeros, as an analyzer writes that was not read."""
    return ri(bench, np.zeros_like(reflection))


def zero_here_and_there(bench: Bench, reflection: ComplexArray) -> str:
    """Points that were not read are written as 0."""
    f = bench.frequency_hz
    return ri(bench, np.where(np.abs(f - 2600e6) < 20e6, 0, reflection))


def next_to_nothing(bench: Bench, reflection: ComplexArray) -> str:
    """90 dB everywhere: one standard was measured twice, and what was on was that one."""
    return ri(bench, np.full_like(reflection, 10 ** (-90 / 20)))


def twice(bench: Bench, reflection: ComplexArray) -> str:
    """Two sweeps one after the other in one file."""
    whole = ri(bench, reflection)
    return whole + whole.partition("\n")[2]


def with_plan(limit: str = "return_loss_db = 10", **more: str) -> Callable[[Bench], Judging]:
    """Judge the antenna by a plan that is not what was meant."""

    def begin(bench: Bench) -> Judging:
        calibration, plan = bench.calibration(), wanted(limit, **more)
        return lambda antenna: bench.verdict(calibration, antenna, plan=plan)

    return begin


@dataclass(frozen=True, slots=True)
class Beside:
    """An antenna of Q 5 that is tuned to 2350 MHz, and fails in the band it was to serve."""

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """jx/(1 + jx) [derived]."""
        x = 5 * (frequency_hz / 2350e6 - 2350e6 / frequency_hz)
        result: ComplexArray = 1j * x / (1 + 1j * x)
        return result


def beside_its_band(bench: Bench) -> Judging:
    """The plan names band 40 where band 7 was meant."""
    calibration, plan = bench.calibration(), wanted(band="lte = 40")

    def verdict_of(antenna: Antenna) -> Verdict:
        del antenna
        return bench.verdict(calibration, Beside(), plan=plan)

    return verdict_of


def assuming(**figures: float) -> Callable[[Bench], Judging]:
    """Judge the antenna by other assumptions than were meant, with a kit called ideal."""

    def begin(bench: Bench) -> Judging:
        calibration = bench.calibration(bench.kit(name="ideal"))
        assumptions = Assumptions(**figures)
        return lambda antenna: bench.verdict(calibration, antenna, assumptions=assumptions)

    return begin


SITUATIONS = (
    Situation(
        "a file of raw readings that says so",
        file_of(raw, plane=Plane.RAW),
    ),
    Situation(
        "a file of raw readings that says so, taken in as a record", imported(raw, Plane.RAW)
    ),
    Situation("a file of real and imaginary parts called angles", file_of(parts_called_angles)),
    Situation(
        "a file of real and imaginary parts called angles, taken in as a record",
        imported(parts_called_angles),
    ),
    Situation("a file of decibels called linear", file_of(decibels_called_linear)),
    Situation("a file in Hz that says MHz", file_of(in_gigahertz)),
    Situation("a file referred to 75 ohm", file_of(of_75_ohm)),
    Situation("a file cut short in the middle of a row", file_of(cut_short)),
    Situation("a file of nothing but zeros, wide", file_of(all_zero)),
    Situation(
        "a file of nothing but zeros, no wider than the band", file_of(all_zero), bench=narrow
    ),
    Situation("a file with zeros for points not read", file_of(zero_here_and_there)),
    Situation(
        "a file of 90 dB everywhere, no wider than the band",
        file_of(next_to_nothing),
        bench=narrow,
    ),
    Situation("a file that holds its sweep twice", file_of(twice)),
    Situation(
        "a file corrected with an 18 dB load, behind the 26 dB that is assumed",
        file_of(
            lambda b, g: ri(b, np.asarray((g - 0.126 * np.exp(2j)) / (1 - 0.126 * g * np.exp(2j))))
        ),
        unseen="nothing in a file tells of the load it was made with; the verdict says which is "
        "assumed, and --load-db says another",
    ),
    Situation(
        "a file corrected with a 14 dB load that is said to be a 40 dB one",
        file_of(by_a_load(0.2), assumptions=Assumptions(load_db=40.0)),
        unseen="whether what is stated is true, no reading shows; a known device measured back "
        "does",
    ),
    Situation(
        "a file whose load is stated as 8 dB",
        file_of(by_a_load(0.398), assumptions=Assumptions(load_db=8.0)),
        8.0,
    ),
    Situation(
        "a file whose load is stated as 60 dB, from nowhere",
        file_of(by_a_load(0.05), assumptions=Assumptions(load_db=60.0)),
        9.5,
    ),
    Situation("a plan with vswr = 10 for a return loss of 10 dB", with_plan("vswr = 10"), 5.0),
    Situation(
        "a plan with return_loss_db = 1.5 for a VSWR of 1.5", with_plan("return_loss_db = 1.5"), 5.0
    ),
    Situation(
        "a plan with a limit of 0.316, a reflection", with_plan("return_loss_db = 0.316"), 5.0
    ),
    Situation(
        "a plan without a guard band, 9.85 dB antenna",
        with_plan(head='guard = "none"'),
        9.85,
        note="a pass is unguarded",
    ),
    Situation(
        "a plan with a guard band of 0.2, 9.85 dB antenna",
        with_plan(head="guard = 0.2"),
        9.85,
        note="a pass is unguarded",
    ),
    Situation(
        "a plan whose band is written in GHz",
        with_plan(band='name = "gauge"\nlow_mhz = 2.5\nhigh_mhz = 2.69'),
    ),
    Situation(
        "a plan with the wrong band",
        beside_its_band,
        unseen="which band an antenna is for, only its builder knows; the record and the page name "
        "the band that was judged",
    ),
    Situation("the plane's doubt written in seconds: 1e-11 ps", assuming(ideal_offset_ps=1e-11)),
)
