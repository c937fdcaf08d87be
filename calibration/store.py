"""Calibrations and kits on disk: the only module of this package that touches files.

A stored calibration is one JSON file. It holds the raw readings and the kit's whole definition;
the error terms are worked out again on loading, so a file can be checked by anyone.
"""

from __future__ import annotations

import dataclasses
import json
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError

from acquire.durable import write_whole
from acquire.sweep import FloatArray, Reading, Source, SweepRequest
from acquire.touchstone import parse_touchstone
from calibration.calibrated import Calibration, calibrate
from calibration.capture import StandardReading
from calibration.errors import CalibrationError, KitError, StoredCalibrationError
from calibration.kit import Kit, kit_as_table, kit_from_table, parse_kit

SCHEMA_VERSION = 1
LARGEST_FILE = 64 * 2**20
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


class _File(BaseModel):
    model_config = _STRICT
    schema_version: Literal[1]
    what: Literal["calibration"]
    software: str
    taken_at: AwareDatetime
    source: _Source
    request: list[_Request]
    spans: list[tuple[float, float]]
    kit: dict[str, Any]
    frequency_hz: _Numbers
    readings: list[_Reading]


def calibration_text(calibration: Calibration) -> str:
    """The JSON that `save_calibration` writes, for a record that carries its calibration along."""
    stored = _File(
        schema_version=1,
        what="calibration",
        software=calibration.software,
        taken_at=calibration.taken_at,
        source=_Source(**dataclasses.asdict(calibration.source)),
        request=[_Request(**dataclasses.asdict(each)) for each in calibration.request],
        spans=list(calibration.spans),
        kit=kit_as_table(calibration.kit),
        frequency_hz=calibration.frequency_hz.tolist(),
        readings=[_as_stored(reading) for reading in calibration.readings.values()],
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
    stored = _validated(_content(path), path.name)
    try:
        kit = kit_from_table(stored.kit, path.name, _no_files)
        frequency = np.array(stored.frequency_hz)
        readings = [_from_stored(each, frequency) for each in stored.readings]
        return calibrate(
            kit,
            readings,
            source=Source(**stored.source.model_dump()),
            request=[SweepRequest(**each.model_dump()) for each in stored.request],
            spans=stored.spans,
            taken_at=stored.taken_at,
            software=stored.software,
        )
    except (CalibrationError, ValueError) as error:
        raise StoredCalibrationError(
            f"The calibration in {path.name} cannot be used: {error} Otherwise calibrate anew."
        ) from error


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
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "it is not text"
        raise KitError(f"The kit file {path} cannot be read ({why}). Check its name.") from error

    def read_data(name: str) -> Reading:
        return parse_touchstone((path.parent / name).read_bytes(), name).reading

    return parse_kit(text, path.name, read_data)


def _no_files(name: str) -> Reading:
    raise KitError(f"the data file {name} is not at hand here; its points must be written out")


def _content(path: Path) -> bytes:
    try:
        if (size := path.stat().st_size) > LARGEST_FILE:
            raise StoredCalibrationError(
                f"{path.name} has {size / 2**20:.0f} MB and is no calibration. Choose another file."
            )
        return path.read_bytes()
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
