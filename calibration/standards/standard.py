"""What a calibration standard reflects: ideal, by coefficients, or by data."""

from __future__ import annotations

import dataclasses
from typing import Annotated, Literal, Protocol, Self

import numpy as np
from pydantic import ConfigDict, Field, model_validator
from pydantic.dataclasses import dataclass

from acquire.sweep import ComplexArray, FloatArray, Reading
from calibration.error_terms.interpolation import (
    LARGEST_TURN_DEG,
    complex_cubic,
    largest_turn,
    polar_cubic,
    tolerance_hz,
)
from calibration.errors import KitError, RangeError
from calibration.plane.loss import M_PER_S

Kind = Literal["open", "short", "load"]

_CONFIG = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


class Standard(Protocol):
    """One piece of a kit: how it ends, and what it reflects."""

    @property
    def kind(self) -> Kind:
        """How it ends."""
        ...

    def reflection(self, frequency_hz: FloatArray, reference_ohm: float = 50.0) -> ComplexArray:
        """Linear reflection at its connector's plane, referred to reference_ohm.

        frequency_hz : real, shape (points,), Hz. Returns complex, same shape.
        Raises RangeError where it is not known.
        """
        ...


@dataclass(frozen=True, slots=True, kw_only=True, config=_CONFIG)
class IdealStandard:
    """Exactly +1, -1 or 0 at every frequency: right only for flush parts at low frequencies."""

    kind: Kind = Field(description='"open", "short" or "load"')

    def reflection(self, frequency_hz: FloatArray, reference_ohm: float = 50.0) -> ComplexArray:
        """+1, -1 or 0, whatever the reference impedance."""
        del reference_ohm
        value = {"open": 1.0, "short": -1.0, "load": 0.0}[self.kind]
        return np.full(np.shape(frequency_hz), value, dtype=np.complex128)


_Delay = Annotated[
    float,
    Field(
        ge=0, le=1000, description="the one-way delay of the offset, 0 to 1000 ps (0.3 m of air)"
    ),
]
_Length = Annotated[float, Field(ge=0, le=300, description="the length of the offset, 0 to 300 mm")]
_Velocity = Annotated[
    float, Field(ge=0.3, le=1, description="speed over that of light, 0.3 to 1 (air 1, PTFE 0.7)")
]
_Loss = Annotated[
    float,
    Field(ge=0, le=1000, description="the offset's loss at 1 GHz, 0 to 1000 gigaohm per second"),
]
_Impedance = Annotated[
    float, Field(ge=5, le=500, description="the offset's impedance without loss, 5 to 500 ohm")
]
_Resistance = Annotated[
    float, Field(gt=0, le=10_000, description="the load's resistance, above 0 to 10000 ohm")
]
_C0 = Annotated[float, Field(ge=-1000, le=1000, description="-1000 to 1000 fF (1e-15 F)")]
_C1 = Annotated[float, Field(ge=-1e6, le=1e6, description="-1e6 to 1e6 aF/GHz (1e-27 F/Hz)")]
_C2 = Annotated[float, Field(ge=-1e6, le=1e6, description="-1e6 to 1e6 aF/GHz2 (1e-36 F/Hz2)")]
_C3 = Annotated[float, Field(ge=-1e6, le=1e6, description="-1e6 to 1e6 aF/GHz3 (1e-45 F/Hz3)")]
_L0 = Annotated[float, Field(ge=-1000, le=1000, description="-1000 to 1000 pH (1e-12 H)")]
_L1 = Annotated[float, Field(ge=-1e6, le=1e6, description="-1e6 to 1e6 fH/GHz (1e-24 H/Hz)")]
_L2 = Annotated[float, Field(ge=-1e6, le=1e6, description="-1e6 to 1e6 fH/GHz2 (1e-33 H/Hz2)")]
_L3 = Annotated[float, Field(ge=-1e6, le=1e6, description="-1e6 to 1e6 fH/GHz3 (1e-42 H/Hz3)")]


@dataclass(frozen=True, slots=True, kw_only=True, config=_CONFIG)
class CoefficientStandard:
    """An offset line of stated delay, loss and impedance, ended by a C, an L or a resistor.

    The numbers are those of a kit's coefficient sheet, unchanged: what a sheet gives in units
    of 1e-15 F, 1e-27 F/Hz, 1e-36 F/Hz2, 1e-45 F/Hz3 are fF, aF/GHz, aF/GHz2, aF/GHz3, and
    1e-12 H, 1e-24 H/Hz, 1e-33 H/Hz2, 1e-42 H/Hz3 are pH, fH/GHz, fH/GHz2, fH/GHz3.

    Model, with w = 2 pi f, r = sqrt(f / 1 GHz), Z0 the offset's impedance, Zr the reference:

        C(f) = C0 + C1 f + C2 f^2 + C3 f^3 (open);  L(f) likewise (short)
        GT = (ZT - Zr) / (ZT + Zr),  ZT = 1/(j w C), j w L or the load's resistance
        al = loss delay r / (2 Z0);  bl = w delay + al;  e = exp(-2 (al + j bl))
        Zc = Z0 + (1 - j) loss r / (4 pi f);  G1 = (Zc - Zr) / (Zc + Zr)
        G = [G1 (1 - e - G1 GT) + e GT] / [1 - G1 (e G1 + GT (1 - e))]

    At 0 Hz, where Zc has no value, the offset is left out: it is then a wire.
    Source: scikit-rf's notebook "SOLT Calibration Standards Creation" [read], which cites
    application note 1287-11 (2009), equations 2B.2, 2B.4, 36 and 37.
    """

    kind: Kind = Field(description='"open", "short" or "load"')
    offset_delay_ps: _Delay | None = None
    offset_length_mm: _Length | None = None
    velocity_factor: _Velocity | None = None
    offset_loss_gohm_per_s: _Loss = 0.0
    offset_impedance_ohm: _Impedance = 50.0
    c0_ff: _C0 = 0.0
    c1_af_per_ghz: _C1 = 0.0
    c2_af_per_ghz2: _C2 = 0.0
    c3_af_per_ghz3: _C3 = 0.0
    l0_ph: _L0 = 0.0
    l1_fh_per_ghz: _L1 = 0.0
    l2_fh_per_ghz2: _L2 = 0.0
    l3_fh_per_ghz3: _L3 = 0.0
    resistance_ohm: _Resistance | None = None

    @model_validator(mode="after")
    def _fields_fit_the_kind(self) -> Self:
        belongs = {"open": "c", "short": "l", "load": ""}[self.kind]
        for field in dataclasses.fields(self):
            letter, digit = field.name[0], field.name[1]
            if digit.isdigit() and letter != belongs and getattr(self, field.name) != 0.0:
                raise ValueError(
                    f"{field.name} says nothing about a standard of kind {self.kind}; leave it out"
                )
        if self.resistance_ohm is not None and self.kind != "load":
            raise ValueError(f"resistance_ohm belongs to a load, not to a {self.kind}")
        if (self.offset_length_mm is None) != (self.velocity_factor is None):
            raise ValueError("offset_length_mm and velocity_factor go together; give both")
        if self.offset_length_mm is not None and self.offset_delay_ps is not None:
            raise ValueError("give the offset by offset_delay_ps or by its length, not by both")
        return self

    @property
    def delay_s(self) -> float:
        """One-way delay of the offset, s, from whichever way it was given."""
        if self.offset_length_mm is not None and self.velocity_factor is not None:
            return self.offset_length_mm / 1e3 / self.velocity_factor / M_PER_S
        return (self.offset_delay_ps or 0.0) * 1e-12

    def reflection(self, frequency_hz: FloatArray, reference_ohm: float = 50.0) -> ComplexArray:
        """Linear reflection by the model above, shape as frequency_hz."""
        f = np.asarray(frequency_hz, dtype=np.float64)
        termination = self._termination(f, reference_ohm)
        if self.delay_s == 0.0:
            return termination
        line = np.where(f > 0, f, 1.0)
        r = np.sqrt(line / 1e9)
        loss = self.offset_loss_gohm_per_s * 1e9
        al = loss * self.delay_s * r / (2 * self.offset_impedance_ohm)
        bl = 2 * np.pi * line * self.delay_s + al
        zc = self.offset_impedance_ohm + (1 - 1j) * loss * r / (4 * np.pi * line)
        g1 = (zc - reference_ohm) / (zc + reference_ohm)
        e = np.exp(-2 * (al + 1j * bl))
        offset = (g1 * (1 - e - g1 * termination) + e * termination) / (
            1 - g1 * (e * g1 + termination * (1 - e))
        )
        result: ComplexArray = np.where(f > 0, offset, termination)
        return result

    def _termination(self, f: FloatArray, reference_ohm: float) -> ComplexArray:
        """GT, written so that neither an open without C nor a short without L divides by 0."""
        w = 2 * np.pi * f
        if self.kind == "open":
            farad = (
                self.c0_ff * 1e-15
                + self.c1_af_per_ghz * 1e-27 * f
                + self.c2_af_per_ghz2 * 1e-36 * f**2
                + self.c3_af_per_ghz3 * 1e-45 * f**3
            )
            y = 1j * w * farad * reference_ohm
            return (1 - y) / (1 + y)
        if self.kind == "short":
            henry = (
                self.l0_ph * 1e-12
                + self.l1_fh_per_ghz * 1e-24 * f
                + self.l2_fh_per_ghz2 * 1e-33 * f**2
                + self.l3_fh_per_ghz3 * 1e-42 * f**3
            )
            z = 1j * w * henry / reference_ohm
            return (z - 1) / (z + 1)
        ohm = 50.0 if self.resistance_ohm is None else self.resistance_ohm
        return np.full(f.shape, (ohm - reference_ohm) / (ohm + reference_ohm), np.complex128)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class DataStandard:
    """A standard whose reflection was measured, referred to 50 ohm.

    Between its points an open or a short is interpolated as magnitude and unwrapped phase, a
    load, which passes near zero, as a complex number; both by cubic splines.
    """

    kind: Kind
    reading: Reading
    origin: str
    """Where the data came from: a file's name."""
    error: float | FloatArray | None = None
    """How far the data may be off, linear, about 95 % of the complex value: one figure for all
    points, or shape (points,). None is unknown."""

    def __post_init__(self) -> None:
        frequency, values = self.reading.frequency_hz, self.reading.reflection
        self._require_sensible_error()
        if frequency.size < 2:
            raise KitError(f"{self.origin}: a standard's data needs two points or more.")
        if not np.isfinite(values).all():
            at = int(np.argmin(np.isfinite(values)))
            raise KitError(
                f"{self.origin}: the value at {frequency[at] / 1e6:.6g} MHz is not a number. "
                f"Remove that point or measure the standard again."
            )
        if (worst := float(np.abs(values).max())) > 1.1:
            raise KitError(
                f"{self.origin}: a passive standard reflects at most 1, this data {worst:.3g}. "
                f"Check the file's format (dB or linear)."
            )
        turn, at = largest_turn(values)
        if self.kind != "load" and turn > LARGEST_TURN_DEG:
            raise KitError(
                f"{self.origin}: the phase turns {turn:.0f} degrees from point {at + 1} to the "
                f"next, more than {LARGEST_TURN_DEG:.0f}. The data is too coarse to interpolate; "
                f"take it with more points."
            )

    def _require_sensible_error(self) -> None:
        if self.error is None:
            return
        stated = np.asarray(self.error, dtype=np.float64)
        if stated.shape not in {(), self.reading.frequency_hz.shape}:
            raise KitError(
                f"{self.origin}: error has {stated.size} values for "
                f"{self.reading.frequency_hz.size} points. Write one figure, or one a point."
            )
        if not ((stated >= 0) & (stated <= 1)).all():
            raise KitError(
                f"{self.origin}: error is a linear figure from 0 to 1, such as 0.004 for 48 dB; "
                f"correct it, or leave it out if it is not known."
            )

    def error_at(self, frequency_hz: FloatArray) -> FloatArray | None:
        """The stated error at other frequencies, linear between points; None if none is stated."""
        if self.error is None:
            return None
        stated = np.broadcast_to(self.error, self.reading.frequency_hz.shape)
        found: FloatArray = np.interp(frequency_hz, self.reading.frequency_hz, stated)
        return found

    def reflection(self, frequency_hz: FloatArray, reference_ohm: float = 50.0) -> ComplexArray:
        """Interpolated reflection, shape as frequency_hz; RangeError outside the data."""
        known = self.reading.frequency_hz
        wanted = np.asarray(frequency_hz, dtype=np.float64)
        slack = tolerance_hz(wanted)
        outside = (wanted < known[0] - slack) | (wanted > known[-1] + slack)
        if outside.any():
            raise RangeError(
                f"{self.origin} describes the {self.kind} from {known[0] / 1e6:.6g} to "
                f"{known[-1] / 1e6:.6g} MHz, and {wanted[outside][0] / 1e6:.6g} MHz lies outside. "
                f"Calibrate inside that range or use another kit."
            )
        at = np.clip(wanted, known[0], known[-1])
        curve = complex_cubic if self.kind == "load" else polar_cubic
        g = curve(known, self.reading.reflection, at)
        r = (reference_ohm - 50.0) / (reference_ohm + 50.0)
        return (g - r) / (1 - r * g)
