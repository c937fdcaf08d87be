"""Devices whose reflection is known without this calibration, to judge it by.

Each says what it reflects and how far that may be off. Where the figure comes from decides what
it can prove: a certificate gives the complex value; a stated VSWR gives the size and no phase; a
short on a known offset gives the complex value to how well its plane and its loss are known.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from acquire.sweep import ComplexArray, FloatArray, Reading
from calibration.error_terms.one_port import correct
from calibration.errors import CalibrationError
from calibration.one_port_calibration import Calibration
from calibration.standards.standard import DataStandard, IdealStandard, Kind, Standard

RADIAL_95 = float(np.sqrt(-2 * np.log(0.05)))
"""Standard deviations of one component that hold 95 % of a complex difference, 2.45: k = 2 holds
only 86 % [derived: Rayleigh's law]."""


@dataclass(frozen=True, slots=True, eq=False)
class CertifiedDevice:
    """A device with a certificate: a complex reflection by frequency, with its uncertainty.

    Use `from_covariance` where the certificate gives variances.
    """

    name: str
    reading: Reading
    expanded: float | FloatArray
    """Expanded uncertainty of the complex value, linear, about 95 %: one figure, or shape
    (points,) of the reading."""
    kind: Kind = "load"
    """How it is interpolated: "load" as a complex number, else as magnitude and phase."""
    phase_known: bool = True

    def __post_init__(self) -> None:
        stated = np.asarray(self.expanded, dtype=np.float64)
        if not (np.isfinite(stated) & (stated >= 0)).all():
            raise CalibrationError(
                f"{self.name}: an uncertainty is a linear figure, zero or more. Correct the "
                f"certificate's figures."
            )
        if stated.shape not in {(), self.reading.frequency_hz.shape}:
            raise CalibrationError(
                f"{self.name}: the certificate has {self.reading.frequency_hz.size} reflections "
                f"and {stated.size} uncertainties. Give one figure, or one a frequency."
            )
        self._data()  # refuses data that cannot be interpolated before it is needed

    @classmethod
    def from_covariance(
        cls, name: str, reading: Reading, variance: FloatArray, kind: Kind = "load"
    ) -> CertifiedDevice:
        """From variances of real and imaginary part, shape (2, points), linear squared.

        The larger of the two counts for both, times 2.45 squared: never too small.
        """
        return cls(name, reading, RADIAL_95 * np.sqrt(np.max(variance, axis=0)), kind)

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """The certificate's value; RangeError outside of it."""
        return self._data().reflection(frequency_hz)

    def uncertainty(self, frequency_hz: FloatArray) -> FloatArray:
        """The certificate's figure, linear between its points."""
        known = np.broadcast_to(self.expanded, self.reading.frequency_hz.shape)
        found: FloatArray = np.interp(frequency_hz, self.reading.frequency_hz, known)
        return found

    def _data(self) -> DataStandard:
        return DataStandard(self.kind, self.reading, self.name)


@dataclass(frozen=True, slots=True)
class StatedDevice:
    """A device of which only the size of the reflection is stated, by VSWR or return loss."""

    name: str
    least: float
    """Smallest size of its reflection, linear."""
    most: float
    """Largest size of its reflection, linear."""
    phase_known: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.least <= self.most <= 1:
            raise CalibrationError(
                f"{self.name}: it cannot reflect between {self.least:g} and {self.most:g} of what "
                f"it gets. State a VSWR of 1 or more, or a positive return loss, and a tolerance "
                f"smaller than it."
            )

    @classmethod
    def from_vswr(cls, name: str, vswr: float, tolerance: float) -> StatedDevice:
        """A mismatch of nominal VSWR; |G| = (S - 1)/(S + 1), the tolerance either way."""
        least, most = max(vswr - tolerance, 1.0), vswr + tolerance
        if vswr < 1 or tolerance < 0:
            raise CalibrationError(f"{name}: a VSWR is 1 or more, its tolerance not negative.")
        return cls(name, (least - 1) / (least + 1), (most - 1) / (most + 1))

    @classmethod
    def from_return_loss(cls, name: str, decibels: float, tolerance_db: float) -> StatedDevice:
        """A device of nominal return loss, dB, positive; the tolerance either way."""
        if tolerance_db < 0:
            raise CalibrationError(f"{name}: a tolerance is not negative.")
        least, most = (10 ** (-(decibels + sign * tolerance_db) / 20) for sign in (1, -1))
        return cls(name, least, most)

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """The middle of what is stated, a size and no phase."""
        return np.full(frequency_hz.shape, (self.least + self.most) / 2, dtype=np.complex128)

    def uncertainty(self, frequency_hz: FloatArray) -> FloatArray:
        """Half of what is stated between smallest and largest."""
        return np.full(frequency_hz.shape, (self.most - self.least) / 2)


@dataclass(frozen=True, slots=True)
class SmallLoad:
    """A second load: it reflects so little, of unknown phase, that it is as good as nothing."""

    name: str
    return_loss_db: float
    """At least this, dB, positive, at every frequency."""
    another: bool = False
    """True where a person said that it is another piece than the calibration's load, though the two
    differ by no more than the connector's makings do."""
    phase_known: bool = True
    """Nothing has no phase: what it may reflect is all in its uncertainty."""

    def __post_init__(self) -> None:
        if not self.return_loss_db >= 6:
            raise CalibrationError(
                f"{self.name}: a load's return loss is 6 dB or more, not {self.return_loss_db:g}. "
                f"Give it as a positive number; for anything smaller state a VSWR."
            )

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """Nothing."""
        return np.zeros(frequency_hz.shape, dtype=np.complex128)

    def uncertainty(self, frequency_hz: FloatArray) -> FloatArray:
        """All that it may reflect."""
        return np.full(frequency_hz.shape, 10 ** (-self.return_loss_db / 20))


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadBehindLine:
    """A small load behind a long line: its reading circles once a turn, and the swing of its size
    tells directivity without a certificate; see `calibration.verification.ripple_method`.

    The load may be anything that reflects more than the directivity sought. What the line itself
    reflects, `match_return_loss_db`, cannot be told from directivity.
    """

    name: str
    delay_ps: float
    """Of the line, one way."""
    match_return_loss_db: float = 46.0
    """Return loss of the line by itself; the default is a VSWR of 1.01."""
    phase_known: bool = True
    """Nothing is compared but the swing, which stands for a complex error."""

    def __post_init__(self) -> None:
        if not self.delay_ps > 0 or self.match_return_loss_db < 6:
            raise CalibrationError(
                f"{self.name}: give the line's delay, one way, above zero, and a return loss of "
                f"6 dB or more."
            )

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """Nothing: with directivity gone the swing is none."""
        return np.zeros(frequency_hz.shape, dtype=np.complex128)

    def uncertainty(self, frequency_hz: FloatArray) -> FloatArray:
        """What the line reflects by itself, at the connector and, a little less, at its end."""
        return np.full(frequency_hz.shape, 10 ** (-self.match_return_loss_db / 20))


@dataclass(frozen=True, slots=True, kw_only=True)
class EndedLine:
    """A short or an open behind an offset, a long line or an attenuator.

    G = +/-exp(-4j pi f delay) 10^(-2 A/20), A the loss one way. Uncertain are: the plane, by
    `plane_ps` one way; the loss, by `loss_tolerance_db` one way; and what the line or the
    attenuator reflects by itself at either end, `match_return_loss_db`, which adds to the reading
    r (1 + |G|) and, going round again, r |G|^2 [derived: the signal flow of a two-port, to first
    order in r].
    """

    name: str
    kind: Kind
    """ "open" or "short"."""
    delay_ps: float | None
    """One way; None is not known: then only the size of the reflection is."""
    plane_ps: float = 1.0
    """How well the delay is known, one way."""
    loss_db: float = 0.0
    """One way, dB, positive."""
    loss_tolerance_db: float = 0.1
    """How well the loss is known, one way, dB."""
    match_return_loss_db: float = 46.0
    """Return loss of line or attenuator by itself; the default is a VSWR of 1.01."""
    standard: Standard | None = None
    """What stands at the end, if it is not a plain open or short: one of a kit."""

    def __post_init__(self) -> None:
        tolerances = (self.plane_ps, self.loss_db, self.loss_tolerance_db)
        if self.kind == "load" or min(tolerances) < 0 or self.match_return_loss_db < 6:
            raise CalibrationError(
                f"{self.name}: give an open or a short, a loss and tolerances that are not "
                f"negative, and a return loss of 6 dB or more."
            )

    @property
    def phase_known(self) -> bool:
        """Whether the delay is."""
        return self.delay_ps is not None

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """By the equation above."""
        end = (self.standard or IdealStandard(kind=self.kind)).reflection(frequency_hz)
        end = end * 10 ** (-2 * self.loss_db / 20)
        if self.delay_ps is None:
            return np.abs(end).astype(np.complex128)
        turned: ComplexArray = end * np.exp(-4j * np.pi * frequency_hz * self.delay_ps * 1e-12)
        return turned

    def uncertainty(self, frequency_hz: FloatArray) -> FloatArray:
        """The parts above: plane and loss move the value across and along, the match adds."""
        size = np.abs(self.reflection(frequency_hz))
        along = size * (10 ** (2 * self.loss_tolerance_db / 20) - 1)
        across = size * 2 * np.sin(np.minimum(2 * np.pi * frequency_hz * self.plane_ps * 1e-12, 1))
        across = across if self.phase_known else np.zeros_like(size)
        own = 10 ** (-self.match_return_loss_db / 20)
        result: FloatArray = np.hypot(along, across) + own * (1 + size + size**2)
        return result


@dataclass(frozen=True, slots=True, eq=False)
class OwnStandard:
    """One of the standards the calibration was made with, put back.

    It reads what it read, whatever it truly reflects, so it says how far things have drifted and
    how well it can be connected, and nothing of its definition.
    """

    name: str
    captured: Callable[[FloatArray], ComplexArray]
    phase_known: bool = True

    @classmethod
    def of(cls, calibration: Calibration, name: str) -> OwnStandard:
        """Standard `name` of the calibration's kit, as it read when it was captured.

        Raises CalibrationError, with the names there are, if it was not measured.
        """
        if name not in calibration.readings:
            raise CalibrationError(
                f"The calibration has no {name} to compare with. It was made with: "
                f"{', '.join(calibration.readings)}."
            )
        standard, grid = calibration.kit.standards[name], calibration.frequency_hz
        read = correct(calibration.terms, calibration.readings[name].reflection)
        apart = read - standard.reflection(grid)  # nothing with three standards, little with more

        def captured(frequency_hz: FloatArray) -> ComplexArray:
            moved: ComplexArray = np.interp(frequency_hz, grid, apart)
            return standard.reflection(frequency_hz) + moved

        return cls(name, captured)

    def reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """What it read, corrected, when it was captured."""
        return self.captured(frequency_hz)

    def uncertainty(self, frequency_hz: FloatArray) -> FloatArray:
        """Nothing: it is compared with itself; noise and connection stand in the budget."""
        return np.zeros(frequency_hz.shape)
