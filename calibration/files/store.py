"""Calibrations, kits, cables, planes and devices on disk: the only module of this package that
touches files."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from acquire.files.atomic_write import write_whole
from acquire.files.bounded_read import AnyPath, read_at_most, read_text
from acquire.files.named_file import read_in_folder
from acquire.sweep import Reading
from acquire.touchstone.reader import parse_touchstone, parse_two_port
from calibration.errors import (
    DeviceError,
    KitError,
    PlaneError,
    StoredCalibrationError,
)
from calibration.evidence import KnownDevice
from calibration.files.calibration_file import calibration_text, no_files, parse_calibration
from calibration.files.device_file import parse_device
from calibration.files.plane_file import (
    PlaneSources,
    PlaneText,
    parse_plane,
    parse_table,
    parse_typed,
    plane_of,
    plane_text,
    typed_table,
)
from calibration.one_port_calibration import Calibration
from calibration.plane.cable_type import CableType, parse_cable_types
from calibration.plane.reference_plane import ReferencePlane
from calibration.standards.kit import Kit
from calibration.standards.kit_file import ReadData, parse_kit

LARGEST_FILE = 64 * 2**20
"""Bytes: a calibration of ten standards at 10,000 points takes less than a tenth of it."""


def save_calibration(calibration: Calibration, path: AnyPath) -> None:
    """Write one JSON file, whole or not at all.

    Raises StoredCalibrationError if it cannot be written.
    """
    path, content = Path(path), calibration_text(calibration).encode()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content)
    except OSError as error:
        raise StoredCalibrationError(
            f"The calibration cannot be written to {path} ({error.strerror or error}). Choose "
            f"another folder, or make room there."
        ) from error


def load_calibration(path: AnyPath) -> Calibration:
    """Read a stored calibration, as `parse_calibration` does.

    Raises StoredCalibrationError, one sentence, also for a file that cannot be read.
    """
    path = Path(path)
    return parse_calibration(_content(path), path.name)


def load_kit(name_or_path: AnyPath, user_folder: Path | None = None) -> Kit:
    """A kit by its name, the user's before a shipped one, or by the path of its TOML file.

    Raises KitError, with what can be had, if there is none or it cannot be used.
    """
    name_or_path = str(name_or_path)
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
    shipped = resources.files("calibration.standards") / "kits"
    for entry in sorted(shipped.iterdir(), key=lambda entry: entry.name):
        if entry.name.endswith(".toml"):
            kit = parse_kit(entry.read_text(encoding="utf-8"), entry.name, no_files)
            kits[kit.name] = kit
    if user_folder is not None and user_folder.is_dir():
        for path in sorted(user_folder.glob("*.toml")):
            kit = _kit_file(path)
            kits[kit.name] = kit
    return kits


def _kit_file(path: Path) -> Kit:
    text = read_text(path, "The kit", KitError)
    return parse_kit(text, path.name, data_reader(path.parent))


def load_cable_types() -> dict[str, CableType]:
    """The shipped table of cables, by name."""
    table = resources.files("calibration.plane") / "cables.toml"
    return parse_cable_types(table.read_text(encoding="utf-8"), "cables.toml")


def load_plane(typed: str, calibration: Calibration | None = None) -> ReferencePlane:
    """A reference plane as a person names it: a .toml file's path, or what lies between.

    said : such as "pigtail.toml", or "cable=ptfe-2.5mm length_mm=182".
    calibration : the one that readings are corrected with, if there is one.
    Raises PlaneError where it cannot be used.
    """
    path = Path(typed)
    from_file = typed.endswith(".toml")
    folder = path.parent if from_file else Path()
    sources = PlaneSources(
        load_cable_types(),
        data_reader(folder),
        lambda name: parse_two_port(read_in_folder(folder, name), name),
        None if calibration is None else calibration.kit,
        "" if calibration is None else calibration.made,
    )
    if not from_file:
        return parse_typed(typed, sources)
    return parse_plane(read_text(path, "The plane", PlaneError), path.name, sources)


def read_plane(typed: str) -> PlaneText:
    """What a plane is declared as, whole, to be kept. Raises as `load_plane`, BesideError."""
    if not typed.endswith(".toml"):
        return plane_text(typed_table(typed), lambda name: read_in_folder(Path(), name))
    path = Path(typed)
    table = parse_table(read_text(path, "The plane", PlaneError), path.name)
    return plane_text(table, lambda name: read_in_folder(path.parent, name))


def plane_again(declared: PlaneText, calibration: Calibration | None) -> ReferencePlane:
    """The plane of what was kept. Raises PlaneError."""
    return plane_of(
        declared,
        load_cable_types(),
        None if calibration is None else calibration.kit,
        "" if calibration is None else calibration.made,
    )


def load_device(path: Path) -> KnownDevice:
    """A known device by its TOML file. Raises DeviceError where it cannot be used."""
    text = read_text(path, "The device", DeviceError)
    return parse_device(text, path.name, data_reader(path.parent))


def data_reader(folder: Path) -> ReadData:
    """What reads the Touchstone files named in a kit's or a device's file of that folder."""

    def read_data(name: str) -> Reading:
        return parse_touchstone(read_in_folder(folder, name), name).reading

    return read_data


def _content(path: Path) -> bytes:
    try:
        return read_at_most(path, LARGEST_FILE)
    except OSError as error:
        raise StoredCalibrationError(
            f"The calibration {path} cannot be read ({error.strerror or error}). Check its name, "
            f"or calibrate anew."
        ) from error
