"""A known device as a table: in a TOML file that a person writes, or kept with a calibration.

    format = 1
    name = "brass mismatch"

    form = "vswr"               # or "load", "return loss", "certificate", "open", "short",
                                # "load behind a line"
    vswr = 2.0
    tolerance = 0.05

A certificate names a Touchstone file beside it, and how far its values may be off:

    form = "certificate"
    file = "mismatch.s1p"
    error = 0.004               # linear, about 95 %; or a list of one a point

An open or a short behind an offset, a long line or an attenuator:

    form = "short"
    delay_ps = 31.785
    plane_ps = 0.5
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from acquire.errors import BandwrightError
from acquire.files.toml_file import MOST_WITH_DATA, first_fault, toml_table
from acquire.sweep import Reading
from calibration.errors import DeviceError
from calibration.evidence import KnownDevice
from calibration.standards.kit_file import ReadData
from calibration.standards.standard import Kind
from calibration.verification.verification_device import (
    CertifiedDevice,
    EndedLine,
    LoadBehindLine,
    SmallLoad,
    StatedDevice,
)

_STRICT = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)
_Decibels = Annotated[float, Field(ge=0, le=100, description="dB, positive, 0 to 100")]
_Picoseconds = Annotated[float, Field(ge=0, le=1e6, description="one way, ps, not negative")]


class _Form(BaseModel):
    model_config = _STRICT

    format: Literal[1] = Field(1, description="1, the only layout this version reads")
    name: Annotated[str, Field(min_length=1, max_length=60)] = Field(
        description="what to call the device, at most 60 letters"
    )


class _Load(_Form):
    form: Literal["load"]
    return_loss_db: Annotated[
        float, Field(ge=6, le=80, description="at least this everywhere, dB, positive, 6 to 80")
    ]
    another: Annotated[
        bool,
        Field(description="true where it is another piece than the calibration's load"),
    ] = False


class _Vswr(_Form):
    form: Literal["vswr"]
    vswr: Annotated[float, Field(ge=1, le=100, description="1 to 100")]
    tolerance: Annotated[float, Field(ge=0, le=50, description="either way, not negative")]


class _ReturnLoss(_Form):
    form: Literal["return loss"]
    return_loss_db: _Decibels
    tolerance_db: Annotated[float, Field(ge=0, le=20, description="either way, dB, 0 to 20")]


class _Sizes(_Form):
    """A table of least and most, as a stored calibration keeps it."""

    form: Literal["sizes"]
    least: float
    most: float


_Error = Annotated[
    float | list[float],
    Field(description="how far the values may be off, linear, one figure or one a point"),
]


class _Certificate(_Form):
    form: Literal["certificate"]
    error: _Error
    kind: Annotated[Kind, Field(description='"open", "short" or "load"')] = "load"
    phase_known: bool = True
    file: Annotated[str, Field(max_length=200, description="a Touchstone file beside it")] = ""
    frequency_hz: list[float] | None = None
    real: list[float] = []
    imaginary: list[float] = []


class _Behind(_Form):
    form: Literal["load behind a line"]
    delay_ps: Annotated[float, Field(gt=0, le=1e6, description="one way, ps, above 0")]
    match_return_loss_db: Annotated[float, Field(ge=6, le=80, description="dB, 6 to 80")] = 46.0


class _Ended(_Form):
    form: Literal["open", "short"]
    delay_ps: _Picoseconds | None = None
    plane_ps: _Picoseconds = 1.0
    loss_db: _Decibels = 0.0
    loss_tolerance_db: _Decibels = 0.1
    match_return_loss_db: Annotated[float, Field(ge=6, le=80, description="dB, 6 to 80")] = 46.0


def _built(table: _Form, read_data: ReadData) -> KnownDevice:  # noqa: PLR0911 - one a form
    match table:
        case _Load():
            return SmallLoad(table.name, table.return_loss_db, table.another)
        case _Vswr():
            return StatedDevice.from_vswr(table.name, table.vswr, table.tolerance)
        case _ReturnLoss():
            stated = table.return_loss_db, table.tolerance_db
            return StatedDevice.from_return_loss(table.name, *stated)
        case _Sizes():
            return StatedDevice(table.name, table.least, table.most)
        case _Behind():
            return LoadBehindLine(
                name=table.name,
                delay_ps=table.delay_ps,
                match_return_loss_db=table.match_return_loss_db,
            )
        case _Ended():
            given = table.model_dump(exclude={"format", "form"})
            return EndedLine(kind=table.form, **given)
        case _Certificate():
            error = np.array(table.error) if isinstance(table.error, list) else table.error
            reading = _certified(table, read_data)
            return CertifiedDevice(table.name, reading, error, table.kind, table.phase_known)
        case _:
            raise DeviceError(f"{table.name}: a device of this form is not known.")


def _certified(table: _Certificate, read_data: ReadData) -> Reading:
    if table.frequency_hz is None:
        return read_data(table.file)
    values = np.array(table.real) + 1j * np.array(table.imaginary)
    return Reading(np.array(table.frequency_hz), values)


_FORMS: Mapping[str, type[_Form]] = {
    "load": _Load,
    "vswr": _Vswr,
    "return loss": _ReturnLoss,
    "sizes": _Sizes,
    "certificate": _Certificate,
    "load behind a line": _Behind,
    "open": _Ended,
    "short": _Ended,
}


def parse_device(text: str, origin: str, read_data: ReadData) -> KnownDevice:
    """Read a device file's text.

    text : TOML as in the module's docstring. origin : what to call it in messages.
    read_data : reads a certificate's Touchstone file by the name that stands in the text.
    Raises DeviceError, naming the field and the cure.
    """
    table = toml_table(text, f"Device {origin}", DeviceError, MOST_WITH_DATA)
    return device_from_table(table, origin, read_data)


def device_from_table(table: Mapping[str, object], origin: str, read_data: ReadData) -> KnownDevice:
    """Build a device from the table that a device file, or `device_as_table`, holds.

    Raises DeviceError, naming the field and the cure.
    """
    where = f"Device {origin}"
    form = table.get("form")
    model = _FORMS.get(form) if isinstance(form, str) else None
    if model is None:
        listed = ", ".join(f'"{name}"' for name in _FORMS if name != "sizes")
        raise DeviceError(f"{where}: form is {form!r}. Write one of {listed}.")
    try:
        return _built(model.model_validate(dict(table)), read_data)
    except ValidationError as error:
        raise DeviceError(first_fault(where, error, model)) from error
    except OSError as error:
        raise DeviceError(
            f"{where}: its data file cannot be read ({error.strerror or error}). Put it beside "
            "the device file."
        ) from error
    except (BandwrightError, ValueError) as error:
        raise DeviceError(f"{where}: {error}") from error


def device_as_table(device: KnownDevice) -> dict[str, Any]:
    """The device as the table that `device_from_table` reads back, measured data included."""
    rows: dict[str, Any] = {"name": device.name}
    match device:
        case SmallLoad():
            rows |= {"form": "load", "return_loss_db": device.return_loss_db}
            return rows | {"another": True} if device.another else rows
        case StatedDevice():
            return rows | {"form": "sizes", "least": device.least, "most": device.most}
        case LoadBehindLine():
            return rows | {
                "form": "load behind a line",
                "delay_ps": device.delay_ps,
                "match_return_loss_db": device.match_return_loss_db,
            }
        case EndedLine() if device.standard is None:
            rows |= {"form": device.kind, "plane_ps": device.plane_ps, "loss_db": device.loss_db}
            if device.delay_ps is not None:
                rows["delay_ps"] = device.delay_ps
            return rows | {
                "loss_tolerance_db": device.loss_tolerance_db,
                "match_return_loss_db": device.match_return_loss_db,
            }
        case CertifiedDevice():
            return rows | {
                "form": "certificate",
                "error": np.asarray(device.expanded, dtype=np.float64).tolist(),
                "kind": device.kind,
                "phase_known": device.phase_known,
                "frequency_hz": device.reading.frequency_hz.tolist(),
                "real": device.reading.reflection.real.tolist(),
                "imaginary": device.reading.reflection.imag.tolist(),
            }
        case _:
            raise DeviceError(f"{device.name}: a device of this kind cannot be written down.")
