"""From what a person typed to a unit that is ready to sweep, and what it shall sweep."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, cast

from calibration.capture.averaging import Averaged, Averaging
from calibration.capture.movement import change_between
from dashboard import folders
from dashboard.errors import SetupError

if TYPE_CHECKING:
    from acceptance.plan.acceptance_plan import Plan
    from acquire.analyzer.connected_analyzer import Analyzer
    from acquire.analyzer.profile import Profile
    from acquire.clock import Clock
    from acquire.coverage import Coverage
    from acquire.port.transport import Opener, Transport
    from acquire.spans import Span
    from acquire.sweep import Sweep, SweepRequest
    from calibration.one_port_calibration import Calibration
    from replay.virtual_bench.simulated_bench import VirtualBench

RANGE = re.compile(r"\s*([0-9.]+)\s*(?:-|to)\s*([0-9.]+)\s*(?:MHz)?\s*", re.IGNORECASE)
PATIENCE = 4
"""Sweeps, in multiples of those wanted, in which a hand gets to let go."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What shall be swept."""

    spans: tuple[Span, ...]
    """(low_hz, high_hz) each."""
    margin: float
    """How far beyond, as a fraction of each span's width."""
    plan: Plan | None


def wanted(plan: Path | None, ranges: Sequence[str]) -> Wanted:
    """Read what shall be swept from a plan's file or from ranges such as "790-870" in MHz.

    Raises SetupError where neither or both are given, or a range is none; PlanError.
    """
    from acceptance.plan.load import load_plan

    if (plan is None) == (not ranges):
        raise SetupError(
            "Say what to sweep: either --plan FILE, or --range LOW-HIGH in MHz, such as "
            "--range 790-870. `bandwright bands --region europe --write plan.toml` writes a plan "
            "to start from."
        )
    if plan is not None:
        loaded = load_plan(plan)
        return Wanted(loaded.spans, loaded.margin, loaded)
    return Wanted(tuple(_span(each) for each in ranges), 0.0, None)


def _span(text: str) -> Span:
    match = RANGE.fullmatch(text)
    try:
        low_mhz, high_mhz = (float(match[1]), float(match[2])) if match else (0.0, 0.0)
    except ValueError:
        low_mhz = high_mhz = 0.0
    if not 0 < low_mhz < high_mhz:
        raise SetupError(
            f'"{text}" is no range. Write two frequencies in MHz, the lower one first, such as '
            "--range 790-870."
        )
    return (low_mhz * 1e6, high_mhz * 1e6)


def scheme_of(address: str) -> str:
    """Return what stands before an address's colon; the whole of one without."""
    return address.partition(":")[0]


@contextlib.contextmanager
def connected(
    address: str,
    *,
    profile: str | None,
    record: Path | None,
    bench: VirtualBench | None,
    clock: Clock,
) -> Iterator[Analyzer]:
    """Open the unit a person named, and let go of it at the end.

    profile : its name; None tries each in turn. record : a new file for every byte.
    bench : what is on a virtual unit's port. Raises whatever opening raises.
    """
    from acquire.analyzer.connected_analyzer import open_analyzer
    from acquire.analyzer.profile import load_profiles
    from replay.address_schemes import openers

    profiles = load_profiles(folders.profiles())
    analyzer = open_analyzer(
        address,
        profile=chosen(profile, profiles),
        profiles=profiles,
        openers=recorded(address, record, openers(bench, clock), clock),
        clock=clock,
    )
    try:
        yield analyzer
    finally:
        analyzer.close()


def chosen(name: str | None, profiles: dict[str, Profile]) -> Profile | None:
    """Return the profile of that name; raises SetupError, naming those there are."""
    if name is None or name in profiles:
        return None if name is None else profiles[name]
    raise SetupError(
        f'There is no profile "{name}". There are: {", ".join(profiles)}; one of your own goes '
        f"into {folders.profiles()}."
    )


def recorded(
    address: str, record: Path | None, openers: Mapping[str, Opener], clock: Clock
) -> Mapping[str, Opener]:
    """Return the openers, the address's own replaced by one that records, if a file is named.

    Each opening of the port after the first (a unit asked at another baud rate, or plugged in
    again) gets a file of its own, with its number behind the name.
    """
    if record is None:
        return openers
    from acquire.port.transport import open_port
    from replay.recording.port_recording import record_to

    opened = 0

    def open_recorded(address: str, baud_rate: int) -> Transport:
        nonlocal opened
        inner = open_port(address, baud_rate=baud_rate, openers=openers, clock=clock)
        opened += 1
        path = record if opened == 1 else record.with_stem(f"{record.stem}-{opened}")
        try:
            return cast("Transport", record_to(path, inner, clock))
        except BaseException:
            inner.close()
            raise

    return {**openers, scheme_of(address): open_recorded}


def coverage_for(want: Wanted, profile: Profile, step_khz: float | None) -> Coverage:
    """Plan the passes that cover what is wanted; raises CoverageError where none can."""
    from acquire.coverage import cover

    return cover(
        want.spans,
        limits=profile.limits,
        step_hz=None if step_khz is None else step_khz * 1e3,
        margin=want.margin,
        seconds_per_point=profile.timing.seconds_per_point,
    )


def coverage_said(
    plan: Path | None, ranges: Sequence[str], even: str | None, step_khz: float | None
) -> Callable[[Profile], Coverage]:
    """How to cover what a person named: a plan, ranges, or one even grid.

    Raises SetupError where none or several are named; PlanError. What comes back raises
    CoverageError where the unit cannot.
    """
    if even is None:
        want = wanted(plan, ranges)
        return lambda profile: coverage_for(want, profile, step_khz)
    if plan is not None or ranges or step_khz is None:
        raise SetupError(
            "--even LOW-HIGH takes --step-khz and nothing else: one even grid. `bandwright fault "
            "--range-m` works both out."
        )
    span, step_hz = _span(even), step_khz * 1e3

    def covered(profile: Profile) -> Coverage:
        from acquire.coverage import even as even_grid

        seconds = profile.timing.seconds_per_point
        return even_grid(span, step_hz, limits=profile.limits, seconds_per_point=seconds)

    return covered


@dataclass(frozen=True, slots=True)
class Passes:
    """What a unit shall sweep, and in words."""

    requests: tuple[SweepRequest, ...]
    words: str


def passes_for(
    want: Wanted, unit: Analyzer, calibration: Calibration | None, step_khz: float | None
) -> Passes:
    """Plan what to sweep; what was calibrated, where that covers what is wanted.

    On the calibrated frequencies nothing needs to be interpolated, and a unit that corrects its
    readings itself can be trusted on no others. What lies around the wanted spans is swept as far
    as it was calibrated. Raises CoverageError, SetupError where a wanted span was not calibrated,
    and what `Calibration.fits` raises.
    """
    from dashboard.reach import covers, left_out, within

    if calibration is not None:
        calibration.fits(unit.source, calibration.request)
        if step_khz is None and covers(calibration, want.spans):
            count = len(calibration.request)
            points = sum(request.points for request in calibration.request)
            passes = f"{count} pass{'es' if count > 1 else ''}"
            return Passes(calibration.request, f"{points} points in {passes}, as calibrated")
        if words := left_out(calibration, want.plan, want.spans):
            raise SetupError(words)
    coverage = coverage_for(want, unit.profile, step_khz)
    if calibration is not None:
        per_point = unit.profile.timing.seconds_per_point
        coverage = within(coverage, calibration, unit.profile.limits, seconds_per_point=per_point)
        calibration.fits(unit.source, coverage.passes)
    return Passes(coverage.passes, coverage.words)


def agreeing_sweeps(take: Callable[[], Sweep], wanted: int) -> Averaged:
    """Sweep until so many sweeps in a row are alike but for noise, and return their average.

    Raises SetupError where they never are: a moving antenna is not accepted.
    """
    found = several_sweeps(take, wanted)
    if isinstance(found, Averaged):
        return found
    change = change_between(found[-2].reflection, found[-1].reflection)
    raise SetupError(
        f"The readings still move by {change.movement:.1g} after {PATIENCE * wanted} sweeps. "
        "Tighten the connector, let go of the antenna and the cable, and try again."
    )


def several_sweeps(take: Callable[[], Sweep], wanted: int) -> Averaged | tuple[Sweep, ...]:
    """Sweep until so many in a row are alike; where they never are, the last ones as they are."""
    averaging = Averaging(wanted)
    last: list[Sweep] = []
    for _ in range(PATIENCE * wanted):
        sweep = take()
        averaged = averaging.add(sweep)
        if averaged.sweeps == wanted:
            return averaged
        last = [*last, sweep][-wanted:]
    return tuple(last)


def require_new(path: Path | None) -> None:
    """Refuse a file that is there already, or whose folder is not: before the work, not after."""
    if path is None:
        return
    if path.exists() or path.is_symlink():
        raise SetupError(f"{path} is there already and is not written over: name another file.")
    if not path.absolute().parent.is_dir():
        raise SetupError(
            f"There is no folder {path.parent} to write {path.name} to: make it first."
        )
