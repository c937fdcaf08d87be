"""Calibrations and kits on disk: the only module of this package that touches files.

A stored calibration is one JSON file. It holds the raw readings and the kit's whole definition;
the error terms are worked out again on loading, so a file can be checked by anyone. What was
measured of the calibration since (layout 2) stands in it as well, raw too.
"""

from __future__ import annotations

import dataclasses
import errno
import json
from datetime import UTC
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from acquire.beside import read_beside
from acquire.bounded import read_at_most
from acquire.durable import write_whole
from acquire.sweep import FloatArray, Reading, Source, SweepRequest
from acquire.touchstone import parse_touchstone, parse_two_port
from calibration.cable_type import CableType, parse_cable_types
from calibration.calibrated import Calibration, calibrate
from calibration.capture import StandardReading
from calibration.device_table import device_as_table, device_from_table, parse_device
from calibration.errors import (
    CalibrationError,
    DeviceError,
    KitError,
    PlaneError,
    StoredCalibrationError,
)
from calibration.evidence import DeviceCheck, Evidence, Makings, PutBack
from calibration.kit import Kit, ReadData, kit_as_table, kit_from_table, parse_kit
from calibration.known_device import KnownDevice
from calibration.plane import ReferencePlane
from calibration.plane_table import (
    Around,
    PlaneText,
    parse_plane,
    parse_table,
    parse_typed,
    plane_of,
    plane_text,
    typed_table,
)

SCHEMA_VERSION: Literal[2] = 2
"""1 has no `checks`."""
LARGEST_FILE = 64 * 2**20
LARGEST_TEXT = 4 * 2**20
"""Bytes; a calibration of ten standards at 10,000 points takes less than a tenth of it."""

_STRICT = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)
_Numbers = Annotated[list[float], Field(min_length=1, max_length=200_000)]


class _Source(BaseModel):
    model_config = _STRICT
    kind: Literal["port", "virtual", "replay", "file"]
    unit: str
    profile: str
    port: str
    unit_corrected: bool


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


class _File(BaseModel):
    model_config = _STRICT
    schema_version: Literal[1, 2]
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


def calibration_text(calibration: Calibration) -> str:
    """The JSON that `save_calibration` writes, for a record that carries its calibration along."""
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
    )
    return stored.model_dump_json() + "\n"


def save_calibration(calibration: Calibration, path: Path) -> None:
    """Write one JSON file, whole or not at all.

    Raises StoredCalibrationError if it cannot be written.
    """
    content = calibration_text(calibration).encode()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content)
    except OSError as error:
        raise StoredCalibrationError(
            f"The calibration cannot be written to {path} ({error.strerror or error}). Choose "
            f"another folder, or make room there."
        ) from error


def load_calibration(path: Path) -> Calibration:
    """Read a stored calibration, work its error terms out again, and check them as at first.

    Raises StoredCalibrationError, one sentence, for a file that cannot be read, is not a
    calibration, was written by a later version, is damaged, or holds readings that are refused.
    """
    return parse_calibration(_content(path), path.name)


def parse_calibration(content: bytes, name: str) -> Calibration:
    """Read a calibration's file from its content, as `load_calibration` does.

    name : what messages call it. Raises StoredCalibrationError.
    """
    stored = _validated(content, name)
    try:
        kit = kit_from_table(stored.kit, name, _no_files)
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
        )
        for each in stored.checks:
            calibration = calibration.with_evidence(_evidence(each, frequency))
    except (CalibrationError, ValueError) as error:
        raise StoredCalibrationError(
            f"The calibration in {name} cannot be used: {error} Otherwise calibrate anew."
        ) from error
    else:
        return calibration


def load_kit(name_or_path: str, user_folder: Path | None = None) -> Kit:
    """A kit by its name, the user's before a shipped one, or by the path of its TOML file.

    Raises KitError, with what can be had, if there is none or it cannot be used.
    """
    if name_or_path.endswith(".toml") or "/" in name_or_path or "\\" in name_or_path:
        return _kit_file(Path(name_or_path))
    kits = list_kits(user_folder)
    if name_or_path not in kits:
        raise KitError(
            f"There is no kit {name_or_path!r}. There are {', '.join(kits)}; a kit of your own is "
            f"given by the path of its .toml file."
        )
    return kits[name_or_path]


def list_kits(user_folder: Path | None = None) -> dict[str, Kit]:
    """Every kit by its name: those shipped, then the .toml files of the user's folder.

    Raises KitError, naming the file, for one that cannot be used.
    """
    kits: dict[str, Kit] = {}
    shipped = resources.files("calibration") / "kits"
    for entry in sorted(shipped.iterdir(), key=lambda entry: entry.name):
        if entry.name.endswith(".toml"):
            kit = parse_kit(entry.read_text(encoding="utf-8"), entry.name, _no_files)
            kits[kit.name] = kit
    if user_folder is not None and user_folder.is_dir():
        for path in sorted(user_folder.glob("*.toml")):
            kit = _kit_file(path)
            kits[kit.name] = kit
    return kits


def _kit_file(path: Path) -> Kit:
    try:
        text = _text(path)
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "it is not text"
        raise KitError(f"The kit file {path} cannot be read ({why}). Check its name.") from error
    return parse_kit(text, path.name, read_data_beside(path.parent))


def _text(path: Path) -> str:
    """Of a file that a person writes."""
    if path.exists() and not path.is_file():
        raise OSError(errno.EINVAL, "it is no file", str(path))
    return read_at_most(path, LARGEST_TEXT).decode("utf-8")


def _no_files(name: str) -> Reading:
    raise KitError(f"the data file {name} is not at hand here; its points must be written out")


def load_cable_types() -> dict[str, CableType]:
    """The shipped table of cables, by name."""
    table = resources.files("calibration") / "cables.toml"
    return parse_cable_types(table.read_text(encoding="utf-8"), "cables.toml")


def load_plane(said: str, calibration: Calibration | None = None) -> ReferencePlane:
    """A reference plane as a person names it: a .toml file's path, or what lies between.

    said : such as "pigtail.toml", or "cable=ptfe-2.5mm length_mm=182".
    calibration : the one that readings are corrected with, if there is one.
    Raises PlaneError where it cannot be used.
    """
    path = Path(said)
    from_file = said.endswith(".toml")
    folder = path.parent if from_file else Path()
    around = Around(
        load_cable_types(),
        read_data_beside(folder),
        lambda name: parse_two_port(read_beside(folder, name), name),
        None if calibration is None else calibration.kit,
        "" if calibration is None else when_made(calibration),
    )
    if not from_file:
        return parse_typed(said, around)
    return parse_plane(_plane_file(path), path.name, around)


def read_plane(said: str) -> PlaneText:
    """What a plane is declared as, whole, to be kept. Raises as `load_plane`, BesideError."""
    if not said.endswith(".toml"):
        return plane_text(typed_table(said), lambda name: read_beside(Path(), name))
    path = Path(said)
    table = parse_table(_plane_file(path), path.name)
    return plane_text(table, lambda name: read_beside(path.parent, name))


def plane_again(declared: PlaneText, calibration: Calibration | None) -> ReferencePlane:
    """The plane of what was kept. Raises PlaneError."""
    return plane_of(
        declared,
        load_cable_types(),
        None if calibration is None else calibration.kit,
        "" if calibration is None else when_made(calibration),
    )


def _plane_file(path: Path) -> str:
    try:
        return _text(path)
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "it is not text"
        raise PlaneError(f"The plane file {path} cannot be read ({why}). Check it.") from error


def when_made(calibration: Calibration) -> str:
    """When a calibration was made, to the last digit: as good as its name."""
    return calibration.taken_at.astimezone(UTC).isoformat()


def load_device(path: Path) -> KnownDevice:
    """A known device by its TOML file. Raises DeviceError where it cannot be used."""
    try:
        text = _text(path)
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "it is not text"
        raise DeviceError(f"The device file {path} cannot be read ({why}). Check it.") from error
    return parse_device(text, path.name, read_data_beside(path.parent))


def read_data_beside(folder: Path) -> ReadData:
    """What reads the Touchstone files named in a kit's or a device's file of that folder."""

    def read_data(name: str) -> Reading:
        return parse_touchstone(read_beside(folder, name), name).reading

    return read_data


def _no_data(name: str) -> Reading:
    raise DeviceError(f"the data file {name} is not at hand here; its points must be written out")


def _content(path: Path) -> bytes:
    try:
        return read_at_most(path, LARGEST_FILE)
    except OSError as error:
        raise StoredCalibrationError(
            f"The calibration {path} cannot be read ({error.strerror or error}). Check its name, "
            f"or calibrate anew."
        ) from error


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
    put_back = [
        _Check(taken_at=each.taken_at, standard=each.standard, takes=[_as_stored(each.reading)])
        for each in evidence.put_back
    ]
    makings = [
        _Check(
            taken_at=each.taken_at,
            standard=each.standard,
            takes=[_as_stored(take) for take in each.takes],
        )
        for each in evidence.makings
    ]
    return [*devices, *put_back, *makings]


def _evidence(stored: _Check, frequency_hz: FloatArray) -> DeviceCheck | PutBack | Makings:
    takes = tuple(_from_stored(each, frequency_hz) for each in stored.takes)
    if stored.device is not None:
        device = device_from_table(stored.device, "of a check", _no_data)
        return DeviceCheck(device, takes[0], stored.taken_at)
    if len(takes) == 1:
        return PutBack(stored.standard, takes[0], stored.taken_at)
    return Makings(stored.standard, takes, stored.taken_at)


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
