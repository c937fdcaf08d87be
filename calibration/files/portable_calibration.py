"""A calibration to carry: from sweeps by the name of the standard, saved and loaded whole.

For those who write their own programs; the page and the commands use the parts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from datetime import timedelta
from itertools import pairwise

from acquire.coverage.spans import Span, continuous_spans
from acquire.files.bounded_read import AnyPath
from acquire.sweep import UNKNOWN_TIME, OnePortNetwork, Plane, Sweep
from calibration.capture.averaging import average
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.interpolation import stretches
from calibration.errors import CalibrationError, OtherAnalyzerError, StandardError
from calibration.files.store import load_calibration, load_kit, save_calibration
from calibration.one_port_calibration import Calibration, calibrate
from calibration.standards.kit import Kit
from calibration.standards.stated_load import require_stated_load
from calibration.uncertainty.budget import Assumptions, Budget
from calibration.uncertainty.interval import Interval, interval
from calibration.verification.reading_budget import ReadingBudget

Measured = Sweep | OnePortNetwork
"""A network is taken as raw, of an unknown time, and of an analyzer that was not named."""

ASSUMED_AGE = timedelta(hours=1)
"""Between calibrating and reading, where one of the times is not known: such a bench is calibrated
for the job at hand [practice]. It counts into drift."""

DEFAULT_ASSUMPTIONS = Assumptions()


class PortableCalibration(Calibration):
    """A calibration that corrects, tells how far to trust that, and is saved and loaded."""

    __slots__ = ()

    @classmethod
    def of(cls, calibration: Calibration) -> PortableCalibration:
        """The same calibration with these methods."""
        return cls(**{each.name: getattr(calibration, each.name) for each in fields(calibration)})

    @classmethod
    def load(cls, path: AnyPath) -> PortableCalibration:
        """Read a stored calibration; its error terms are worked out and checked anew.

        path : of a file that `save`, or `bandwright calibrate`, wrote. Raises
        StoredCalibrationError, one sentence, where it cannot be read or used.
        """
        return cls.of(load_calibration(path))

    def save(self, path: AnyPath) -> None:
        """Write one JSON file, whole or not at all: raw readings, kit, and what was checked since.

        Raises StoredCalibrationError where it cannot be written.
        """
        save_calibration(self, path)

    def correct(self, sweep: Measured) -> Sweep:
        """A raw sweep at the connector's plane; see `Calibration.correct` for what it raises."""
        return Calibration.correct(self, as_sweep(sweep))

    def uncertainty(
        self, sweep: Measured, assumptions: Assumptions = DEFAULT_ASSUMPTIONS
    ) -> Interval:
        """Where the true |reflection| lies at every point of a sweep, about 95 %, linear.

        sweep : raw, or corrected by this calibration. assumptions : what is taken to be so where
        nothing was measured or stated. Raises as `correct`.
        """
        corrected = at_connector(self, as_sweep(sweep))
        return interval(budget_at_connector(self, corrected, assumptions), corrected.reflection)


def calibrate_by_name(
    standards: Mapping[str, Measured | Sequence[Measured]],
    kit: Kit | AnyPath,
    *,
    load_db: float | None = None,
    load_source: str = "",
    range_steps_hz: Sequence[float] = (),
    software: str = "bandwright",
) -> PortableCalibration:
    """Calibrate from what was read of each standard.

    standards : by the standard's name in the kit, three or more: a raw sweep or a scikit-rf
        network of one port, or several of them, which are averaged; all on the same frequencies.
        Of several the noise is known; of one it is not, and is left out of the uncertainty.
    kit : what the standards really are; or its name, or its file's path, as `load_kit` takes it.
    load_db : the load's return loss as its maker states it, dB, positive; None leaves the kit's,
        and where that states none, 26 dB of unknown phase is assumed. From 14 dB; above 46 dB
        `load_source` must say where the figure is from, such as "certificate 123".
    range_steps_hz : where the analyzer switches range, which nothing is interpolated across;
        `analyzer.profile.limits.range_steps_hz` of an opened analyzer.
    software : name and version of the program that calibrates; kept with the calibration.
    Raises StandardError, naming the one standard to measure again; KitError; OtherUnitError where
    the standards were not read by one analyzer; RangeError where the kit does not describe a
    standard at these frequencies; CalibrationError where there is no solution.
    """
    chosen = kit if isinstance(kit, Kit) else load_kit(kit)
    require_stated_load(load_db, load_source)
    if load_db is not None:
        chosen = replace(chosen, load_return_loss_db=load_db, load_source=load_source)
    sweeps = {name: _sweeps(name, each) for name, each in standards.items()}
    every = [sweep for each in sweeps.values() for sweep in each]
    if not every:
        raise CalibrationError("Nothing has been measured yet. Measure the standards first.")
    first = every[0]
    for each in every:
        if why := each.source.differs_from(first.source):
            raise OtherAnalyzerError(
                f"The standards were not read by one analyzer: {why}. Measure all with the same."
            )
    readings = [_reading(name, each) for name, each in sweeps.items()]
    times = [each.taken_at for each in every]
    made = calibrate(
        chosen,
        readings,
        source=first.source,
        request=first.request,
        spans=_spans(first, range_steps_hz),
        taken_at=UNKNOWN_TIME if UNKNOWN_TIME in times else max(times),
        software=software,
    )
    return PortableCalibration.of(made)


def as_sweep(measured: Measured) -> Sweep:
    """A sweep as it is, a network as `Sweep.from_network` takes it by itself."""
    return measured if isinstance(measured, Sweep) else Sweep.from_network(measured)


def at_connector(calibration: Calibration, sweep: Sweep) -> Sweep:
    """A raw sweep corrected; one that this calibration corrected before, as it is.

    Raises CalibrationError for a sweep at the feed, and as `Calibration.correct`.
    """
    if sweep.plane is Plane.CONNECTOR:
        calibration.fits(sweep.source, sweep.request)
        return sweep
    return calibration.correct(sweep)


def budget_at_connector(
    calibration: Calibration, corrected: Sweep, assumptions: Assumptions
) -> Budget:
    """What can be wrong with a corrected sweep at its time; `ASSUMED_AGE` where that is unknown."""
    if not ages_known(calibration, corrected):
        corrected = replace(corrected, taken_at=calibration.taken_at + ASSUMED_AGE)
    return ReadingBudget(assumptions).budget(calibration, corrected)


def ages_known(calibration: Calibration, sweep: Sweep) -> bool:
    """False where nobody gave the time of the calibration, or of the sweep."""
    return UNKNOWN_TIME not in (calibration.taken_at, sweep.taken_at)


def _sweeps(name: str, measured: Measured | Sequence[Measured]) -> list[Sweep]:
    """What was read of one standard, one or more, all raw."""
    each = measured if isinstance(measured, Sequence) else [measured]
    sweeps = [as_sweep(one) for one in each]
    for sweep in sweeps:
        if sweep.plane is not Plane.RAW:
            raise StandardError(
                f"A standard's readings are raw, and those of the {name} are at the "
                f"{sweep.plane.value} plane. Take what the analyzer sent; where that was read from "
                "a file, say plane=Plane.RAW.",
                name,
            )
    if not sweeps:
        raise StandardError(f"Nothing was read of the {name}. Measure the {name}.", name)
    return sweeps


def _reading(name: str, sweeps: Sequence[Sweep]) -> StandardReading:
    averaged = average(sweeps)
    if averaged is None:
        raise StandardError(
            f"The {len(sweeps)} sweeps of the {name} do not agree with each other. Tighten the "
            f"nut, let go of the cable, and measure the {name} again.",
            name,
        )
    frequency_hz, mean = averaged.sweep.frequency_hz, averaged.sweep.reflection
    return StandardReading(name, frequency_hz, mean, averaged.sweeps, averaged.noise)


def _spans(sweep: Sweep, range_steps_hz: Sequence[float]) -> tuple[Span, ...]:
    """Where error terms may be interpolated: by what was asked for, else by the grid's gaps."""
    if sweep.request:
        return continuous_spans(sweep.request, range_steps_hz)
    f, spans = sweep.frequency_hz, list[Span]()
    for part in stretches(f):
        low_hz, high_hz = float(f[part][0]), float(f[part][-1])
        steps = sorted(step for step in range_steps_hz if low_hz < step < high_hz)
        spans += pairwise([low_hz, *steps, high_hz])
    return tuple(spans)
