"""The values all else is built on: what was asked of an analyzer, and what it answered."""

from __future__ import annotations

import math
from collections.abc import Mapping
from copy import copy
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from typing import Any, Literal, Protocol

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

UNKNOWN_TIME = datetime(1970, 1, 1, tzinfo=UTC)
"""Stands for the time of readings that nobody gave: files and networks carry none."""
NOT_NAMED = "an analyzer that was not named"
"""Stands for the analyzer of files and networks, where nobody said which one it was."""
SYSTEM_OHM = 50.0
"""The impedance every reflection of this program is referred to."""


class Plane(StrEnum):
    """Where along the cable a reflection holds."""

    RAW = "raw"
    """As the analyzer sent it: its own errors are still in it."""
    CONNECTOR = "connector"
    """At the connector the standards were screwed on to."""
    ANTENNA = "antenna"
    """Moved from the connector to the antenna's feed."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where a reading came from, so that nobody mistakes a rehearsal for a measurement."""

    kind: Literal["port", "virtual", "replay", "file"]
    analyzer: str
    """What the analyzer says it is, control characters removed; for a file, its name."""
    profile: str
    """Name of the profile the analyzer was spoken to with; empty for a file."""
    port: str
    """The port's address, or the file's path."""
    analyzer_corrected: bool = False
    """True where the analyzer's readings already carry a correction of the analyzer's own."""
    usb_sum: str = ""
    """What tells two analyzers of one name apart, where USB tells a serial number: a short sum of
    it (`acquire.port.port_list.usb_sum`), which does not give the number away; else empty."""

    @property
    def measured(self) -> bool:
        """True only for readings taken from a real port in this run."""
        return self.kind == "port"

    def differs_from(self, before: Source) -> str:
        """What tells this analyzer, as it is, from the one before; empty where nothing does.

        A clause such as "'weir-3' then, 'mill-lane-7' now". The port may be another one: analyzers
        are plugged in elsewhere. What holds for the one need not hold for the other.
        """
        if self.analyzer != before.analyzer:
            return f"{before.analyzer!r} then, {self.analyzer!r} now"
        if (self.kind == "virtual") != (before.kind == "virtual"):
            return f"{_KINDS[before.kind]} then, {_KINDS[self.kind]} now"
        if self.profile != before.profile:
            return f"spoken to with the profile {before.profile!r} then, with {self.profile!r} now"
        if self.analyzer_corrected != before.analyzer_corrected:
            own = ("without the analyzer's own correction", "with the analyzer's own correction")
            return f"{own[before.analyzer_corrected]} then, {own[self.analyzer_corrected]} now"
        if self.usb_sum and before.usb_sum and self.usb_sum != before.usb_sum:
            return (
                "the same name, and by USB another serial number now than then, of the analyzer or "
                "of "
                "the adapter in its cable"
            )
        return ""


_KINDS: Mapping[str, str] = {
    "port": "an analyzer at a port",
    "virtual": "the virtual bench",
    "replay": "a replay",
    "file": "a file",
}


@dataclass(frozen=True, slots=True)
class SweepRequest:
    """One pass of an analyzer: equally spaced points, both ends included."""

    start_hz: float
    stop_hz: float
    points: int

    def __post_init__(self) -> None:
        if not (math.isfinite(self.start_hz) and math.isfinite(self.stop_hz)):
            raise ValueError("A sweep's start and stop must be finite frequencies in Hz.")
        if self.points < 2:
            raise ValueError(f"A sweep needs at least 2 points, not {self.points}.")
        if not 0 <= self.start_hz < self.stop_hz:
            raise ValueError(
                f"A sweep runs upwards: start {self.start_hz:.0f} Hz must lie below "
                f"stop {self.stop_hz:.0f} Hz and not below zero."
            )

    @property
    def step_hz(self) -> float:
        """Spacing of the points, Hz."""
        return (self.stop_hz - self.start_hz) / (self.points - 1)

    def grid_hz(self) -> FloatArray:
        """The frequencies asked for, Hz, shape (points,)."""
        return np.linspace(self.start_hz, self.stop_hz, self.points)


def read_only(frequency_hz: object, reflection: object) -> tuple[FloatArray, ComplexArray]:
    """Check a pair of arrays and return copies that cannot be written to.

    frequency_hz : real, shape (points,), Hz, finite, not negative, strictly increasing.
    reflection : complex, shape (points,), linear. A value that is not finite means that
        the point was not measured; it is kept, and never judged.
    Raises ValueError, with the first offending index, if they are anything else.
    """
    frequency = np.array(frequency_hz, dtype=np.float64)
    if frequency.ndim != 1 or frequency.size == 0:
        raise ValueError(f"A sweep needs a row of frequencies: got shape {frequency.shape}.")
    values = _one_a_frequency(reflection, frequency)
    if not np.isfinite(frequency).all() or frequency[0] < 0:
        raise ValueError("A sweep's frequencies must be finite and not negative.")
    steps = np.diff(frequency)
    if steps.size and steps.min() <= 0:
        at = int(np.argmin(steps > 0)) + 1
        raise ValueError(
            f"A sweep's frequencies must rise: point {at} at {frequency[at]:.0f} Hz follows "
            f"{frequency[at - 1]:.0f} Hz."
        )
    frequency.flags.writeable = False
    return frequency, values


def _one_a_frequency(reflection: object, frequency_hz: FloatArray) -> ComplexArray:
    """Return a copy that cannot be written to; raise ValueError for another shape."""
    values = np.array(reflection, dtype=np.complex128)
    if values.shape != frequency_hz.shape:
        raise ValueError(
            f"A sweep needs one reflection a frequency: got shapes {frequency_hz.shape} "
            f"and {values.shape}."
        )
    values.flags.writeable = False
    return values


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """What one pass of an analyzer, or one file, said: frequencies and linear reflection."""

    frequency_hz: FloatArray
    """Shape (points,), strictly increasing."""
    reflection: ComplexArray
    """Shape (points,), linear; not finite where a point was not measured."""
    alike: bool = True
    """False where it came as numbers in text, and not all of them with as many digits."""

    def __post_init__(self) -> None:
        frequency, values = read_only(self.frequency_hz, self.reflection)
        object.__setattr__(self, "frequency_hz", frequency)
        object.__setattr__(self, "reflection", values)

    def with_reflection(self, reflection: object) -> Reading:
        """The same frequencies, which are not checked again, and what is read there now.

        reflection : complex, shape (points,). Raises ValueError for another shape.
        """
        made = copy(self)
        object.__setattr__(made, "reflection", _one_a_frequency(reflection, self.frequency_hz))
        return made


class OnePortNetwork(Protocol):
    """What scikit-rf's `Network` shows of a measurement; the library itself is not needed."""

    @property
    def f(self) -> Any:
        """Frequencies, Hz, shape (points,)."""
        ...

    @property
    def s(self) -> Any:
        """Scattering parameters, linear, shape (points, ports, ports)."""
        ...

    @property
    def z0(self) -> Any:
        """What they are referred to, ohm, shape (points, ports)."""
        ...

    @property
    def name(self) -> Any:
        """What it is called, or None."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """One complete set of readings over all passes, stamped; never changed afterwards."""

    frequency_hz: FloatArray
    """Shape (points,), strictly increasing."""
    reflection: ComplexArray
    """Shape (points,), linear, at the plane named by `plane`."""
    plane: Plane
    taken_at: datetime
    """When the last pass ended; carries its time zone."""
    sequence: int
    """Counts the sweeps of one session, from 1."""
    source: Source
    request: tuple[SweepRequest, ...]
    """The passes that were asked for, in order; empty for a file."""
    doubts: tuple[str, ...] = ()
    """What says of a file that its data may be another one than was read; a sentence each."""

    def __post_init__(self) -> None:
        frequency, values = read_only(self.frequency_hz, self.reflection)
        object.__setattr__(self, "frequency_hz", frequency)
        object.__setattr__(self, "reflection", values)
        if self.taken_at.tzinfo is None:
            raise ValueError("A sweep's time must carry its time zone.")

    @property
    def points(self) -> int:
        """How many points the sweep has."""
        return int(self.frequency_hz.size)

    def with_reflection(self, reflection: object, plane: Plane | None = None) -> Sweep:
        """The same sweep, its frequencies not checked again, and what it comes to there.

        reflection : complex, shape (points,). plane : where that holds; None: where it did.
        Raises ValueError for another shape.
        """
        made = copy(self)
        object.__setattr__(made, "reflection", _one_a_frequency(reflection, self.frequency_hz))
        object.__setattr__(made, "plane", self.plane if plane is None else plane)
        return made

    @classmethod
    def from_network(
        cls,
        network: OnePortNetwork,
        *,
        plane: Plane = Plane.RAW,
        taken_at: datetime = UNKNOWN_TIME,
        analyzer: str = NOT_NAMED,
    ) -> Sweep:
        """A scikit-rf network of one port as a sweep.

        network : frequencies in Hz, shape (points,), strictly increasing; s of shape (points, 1,
            1), linear, referred to 50 ohm.
        plane : where it holds; raw where nothing was corrected yet.
        taken_at : when it was measured, with its time zone. A network does not tell; give the time
            to all that belongs together, or to none.
        analyzer : which one took it: a calibration serves sweeps of the same one alone.
        Raises ValueError for another number of ports, another reference than 50 ohm, frequencies
        that do not rise, and a time without its zone.
        """
        scattering = np.asarray(network.s)
        if scattering.ndim != 3 or scattering.shape[1:] != (1, 1):
            raise ValueError(
                f"A sweep is of one port, and the network's s has the shape {scattering.shape}. "
                "Take one port of it, such as network.s11."
            )
        reference = np.asarray(network.z0)
        if not np.all(np.abs(reference - SYSTEM_OHM) <= 1e-6 * SYSTEM_OHM):
            raise ValueError(
                f"A sweep is referred to {SYSTEM_OHM:g} ohm, and the network to "
                f"{reference.flat[0]:g} ohm. Call network.renormalize({SYSTEM_OHM:g}) first."
            )
        return cls(
            frequency_hz=np.asarray(network.f, dtype=np.float64),
            reflection=scattering[:, 0, 0],
            plane=plane,
            taken_at=taken_at,
            sequence=1,
            source=Source("file", analyzer, "", str(network.name or "")),
            request=(),
        )

    def to_network(self) -> Any:
        """The sweep as scikit-rf's one-port Network in 50 ohm, for all that library can do.

        A point that was not measured is nan. scikit-rf is loaded only here.
        """
        import skrf  # noqa: PLC0415 - slow to import, and most who sweep never ask for it

        frequency = skrf.Frequency.from_f(self.frequency_hz, unit="Hz")
        return skrf.Network(frequency=frequency, s=self.reflection[:, None, None], z0=SYSTEM_OHM)
