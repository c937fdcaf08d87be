"""A calibration as it is stored: one JSON text.

It holds the raw readings and the kit's whole definition; the error terms are worked out again on
reading, so a file can be checked by anyone. What was measured of the calibration since (layout 2)
stands in it as well, raw too, and what tells its analyzer from another of the same name (layout 3);
since layout 5 what speaks against it, which its own readings do not show, and the cable's name.
"""

from __future__ import annotations

import dataclasses
import json
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import AliasChoices, AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from acquire.sweep import FloatArray, Reading, Source, SweepRequest
from calibration.capture.standard_capture import StandardReading
from calibration.errors import CalibrationError, DeviceError, KitError, StoredCalibrationError
from calibration.evidence import (
    ConnectionRepeats,
    DeviceCheck,
    Doubt,
    DriftCheck,
    Evidence,
    Settling,
)
from calibration.files.device_file import device_as_table, device_from_table
from calibration.one_port_calibration import Calibration, calibrate
from calibration.standards.kit_file import kit_as_table, kit_from_table

SCHEMA_VERSION: Literal[5] = 5
"""1 has no `checks`, 2 no `usb_sum`; up to 3 the analyzer was called `unit`; 4 has no `doubts` and
no `cable`."""

LONGEST_CABLE_NAME = 60

_STRICT = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)
_Numbers = Annotated[list[float], Field(min_length=1, max_length=200_000)]


class _Source(BaseModel):
    model_config = _STRICT
    kind: Literal["port", "virtual", "replay", "file"]
    analyzer: Annotated[str, Field(validation_alias=AliasChoices("analyzer", "unit"))]
    """`unit` up to layout 3, and so below."""
    profile: str
    port: str
    analyzer_corrected: Annotated[
        bool, Field(validation_alias=AliasChoices("analyzer_corrected", "unit_corrected"))
    ]
    usb_sum: str = ""


class _Request(BaseModel):
    model_config = _STRICT
    start_hz: float
    stop_hz: float
    points: Annotated[int, Field(ge=2)]


class _Reading(BaseModel):
    model_config = _STRICT
    name: str
    sweeps: Annotated[int, Field(ge=1)]
    real: _Numbers
    imaginary: _Numbers
    noise: _Numbers | None


class _Check(BaseModel):
    model_config = _STRICT
    taken_at: AwareDatetime
    device: dict[str, Any] | None = None
    """A known device; else one of the calibration's own standards."""
    standard: str = ""
    takes: Annotated[list[_Reading], Field(min_length=1, max_length=1000)]
    """One, or one a making of the connector."""


class _Doubt(BaseModel):
    model_config = _STRICT
    cause: Annotated[str, Field(max_length=100)]
    words: Annotated[str, Field(max_length=2000)]
    standard: Annotated[str, Field(max_length=100)]
    settled_by: Settling


class _File(BaseModel):
    model_config = _STRICT
    schema_version: Literal[1, 2, 3, 4, 5]
    what: Literal["calibration"]
    software: str
    taken_at: AwareDatetime
    source: _Source
    request: list[_Request]
    spans: list[tuple[float, float]]
    kit: dict[str, Any]
    frequency_hz: _Numbers
    readings: list[_Reading]
    checks: Annotated[list[_Check], Field(max_length=1000)] = []
    doubts: Annotated[list[_Doubt], Field(max_length=20)] = []
    cable: Annotated[str, Field(max_length=LONGEST_CABLE_NAME)] = ""


def calibration_text(calibration: Calibration) -> str:
    """The JSON that is stored, and that a record carries along."""
    stored = _File(
        schema_version=SCHEMA_VERSION,
        what="calibration",
        software=calibration.software,
        taken_at=calibration.taken_at,
        source=_Source(**dataclasses.asdict(calibration.source)),
        request=[_Request(**dataclasses.asdict(each)) for each in calibration.request],
        spans=list(calibration.spans),
        kit=kit_as_table(calibration.kit),
        frequency_hz=calibration.frequency_hz.tolist(),
        readings=[_as_stored(reading) for reading in calibration.readings.values()],
        checks=_checks(calibration.evidence),
        doubts=[_Doubt(**dataclasses.asdict(each)) for each in calibration.doubts],
        cable=calibration.cable,
    )
    return stored.model_dump_json() + "\n"


def parse_calibration(content: bytes, name: str) -> Calibration:
    """Read a calibration, work its error terms out again, and check them as at first.

    name : what messages call it. Raises StoredCalibrationError, one sentence, for what is no
    calibration, was written by a later version, is damaged, or holds readings that are refused.
    """
    stored = _validated(content, name)
    try:
        kit = kit_from_table(stored.kit, name, no_files)
        frequency = np.array(stored.frequency_hz)
        readings = [_from_stored(each, frequency) for each in stored.readings]
        calibration = calibrate(
            kit,
            readings,
            source=Source(**stored.source.model_dump()),
            request=[SweepRequest(**each.model_dump()) for each in stored.request],
            spans=stored.spans,
            taken_at=stored.taken_at,
            software=stored.software,
            cable=stored.cable,
            stored=True,
        )
        for each in stored.checks:
            calibration = calibration.with_evidence(_evidence(each, frequency))
        calibration = calibration.with_doubts(
            [Doubt(**each.model_dump()) for each in stored.doubts]
        )
    except (CalibrationError, ValueError) as error:
        raise StoredCalibrationError(
            f"The calibration in {name} cannot be used: {error} Otherwise calibrate anew."
        ) from error
    else:
        return calibration


def no_files(name: str) -> Reading:
    """Where a kit stands by itself, its data must stand in it. Raises KitError."""
    raise KitError(f"the data file {name} is not at hand here; its points must be written out")


def _no_data(name: str) -> Reading:
    raise DeviceError(f"the data file {name} is not at hand here; its points must be written out")


def _validated(content: bytes, name: str) -> _File:
    try:
        raw = json.loads(content)
    except (ValueError, RecursionError) as error:  # bad UTF-8 is a ValueError too
        raise StoredCalibrationError(
            f"{name} is not whole JSON, so it is damaged or no calibration. Calibrate anew."
        ) from error
    version = raw.get("schema_version") if isinstance(raw, dict) else None
    if not isinstance(raw, dict) or raw.get("what") != "calibration" or type(version) is not int:
        raise StoredCalibrationError(f"{name} is no stored calibration. Choose another file.")
    if version > SCHEMA_VERSION:
        raise StoredCalibrationError(
            f"{name} was written by a later version (layout {version}, this one reads up to "
            f"{SCHEMA_VERSION}). Install the newer version, or calibrate anew."
        )
    try:
        return _File.model_validate_json(content)
    except ValidationError as error:
        first = error.errors(include_url=False, include_context=False)[0]
        where = ".".join(map(str, first["loc"]))
        raise StoredCalibrationError(
            f"{name} is damaged at {where}: {first['msg'].lower()}. Calibrate anew."
        ) from error


def _as_stored(reading: StandardReading) -> _Reading:
    return _Reading(
        name=reading.name,
        sweeps=reading.sweeps,
        real=reading.reflection.real.tolist(),
        imaginary=reading.reflection.imag.tolist(),
        noise=None if reading.noise is None else reading.noise.tolist(),
    )


def _checks(evidence: Evidence) -> list[_Check]:
    devices = [
        _Check(
            taken_at=each.taken_at,
            device=device_as_table(each.device),
            takes=[_as_stored(each.reading)],
        )
        for each in evidence.devices
    ]
    drift_checks = [
        _Check(taken_at=each.taken_at, standard=each.standard, takes=[_as_stored(each.reading)])
        for each in evidence.drift_checks
    ]
    connection_repeats = [
        _Check(
            taken_at=each.taken_at,
            standard=each.standard,
            takes=[_as_stored(take) for take in each.takes],
        )
        for each in evidence.connection_repeats
    ]
    return [*devices, *drift_checks, *connection_repeats]


def _evidence(
    stored: _Check, frequency_hz: FloatArray
) -> DeviceCheck | DriftCheck | ConnectionRepeats:
    takes = tuple(_from_stored(each, frequency_hz) for each in stored.takes)
    if stored.device is not None:
        device = device_from_table(stored.device, "of a check", _no_data)
        return DeviceCheck(device, takes[0], stored.taken_at)
    if len(takes) == 1:
        return DriftCheck(stored.standard, takes[0], stored.taken_at)
    return ConnectionRepeats(stored.standard, takes, stored.taken_at)


def _from_stored(stored: _Reading, frequency_hz: FloatArray) -> StandardReading:
    sizes = {len(stored.real), len(stored.imaginary), frequency_hz.size}
    if stored.noise is not None:
        sizes.add(len(stored.noise))
        if min(stored.noise) < 0:
            raise StoredCalibrationError(f"the {stored.name}'s noise is negative.")
    if len(sizes) != 1:
        raise StoredCalibrationError(
            f"the {stored.name} has not as many values as there are frequencies."
        )
    reading = Reading(frequency_hz, np.array(stored.real) + 1j * np.array(stored.imaginary))
    noise = None if stored.noise is None else np.array(stored.noise)
    return StandardReading(
        stored.name, reading.frequency_hz, reading.reflection, stored.sweeps, noise
    )
