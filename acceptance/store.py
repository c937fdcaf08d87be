"""The files of acceptance: tables and plans read, records written whole or not at all."""

from __future__ import annotations

import errno
import functools
import importlib.metadata
import importlib.resources
import os
import shutil
import tempfile
from pathlib import Path

from acceptance.bands import (
    BandTable,
    Region,
    Service,
    parse_bands,
    parse_regions,
    parse_services,
)
from acceptance.errors import PlanError, RecordError
from acceptance.limit import Preset, parse_presets
from acceptance.plan import MOST_CHARACTERS, Plan, parse_plan
from acceptance.record import Record
from acquire.durable import sync_folder

MOST_OF_ONE_NAME = 100


@functools.cache
def load_bands() -> BandTable:
    """Return the shipped band table."""
    return parse_bands(_shipped("bands.csv"))


@functools.cache
def load_regions() -> tuple[Region, ...]:
    """Return the shipped suggestions by region."""
    return parse_regions(_shipped("regions.csv"))


@functools.cache
def load_services() -> tuple[Service, ...]:
    """Return the shipped services other than cellular."""
    return parse_services(_shipped("services.csv"))


@functools.cache
def load_presets() -> tuple[Preset, ...]:
    """Return the shipped limits in common use."""
    return parse_presets(_shipped("limits.csv"))


def load_plan(path: Path) -> Plan:
    """Read a plan's file; raise PlanError where it cannot be read or used."""
    try:
        with path.open("rb") as file:
            content = file.read(4 * MOST_CHARACTERS + 1)
        text = content.decode("utf-8-sig")
    except OSError as error:
        raise PlanError(f"{path}: cannot be read: {error.strerror or error}.") from error
    except UnicodeDecodeError as error:
        raise PlanError(
            f"{path}: is no UTF-8 text at byte {error.start}. Save it as UTF-8."
        ) from error
    return parse_plan(text, str(path), load_bands(), load_presets())


def software() -> str:
    """Return this program's name and version, for records."""
    try:
        return f"bandwright {importlib.metadata.version('bandwright')}"
    except importlib.metadata.PackageNotFoundError:
        return "bandwright, not installed"


def write_record(record: Record, parent: Path) -> Path:
    """Write a record's folder below parent and return its path.

    The folder appears whole or not at all, and is on the disk when this returns. A folder of
    the same name is never touched: the new one gets "-2", "-3" and so on behind its name.
    Raises RecordError; nothing is left behind then.
    """
    try:
        parent.mkdir(parents=True, exist_ok=True)
        draft = Path(tempfile.mkdtemp(dir=parent, prefix=".draft-"))
        try:
            for name, content in record.files.items():
                with (draft / name).open("xb") as file:
                    file.write(content)
                    file.flush()
                    os.fsync(file.fileno())
            draft.chmod(0o755)
            sync_folder(draft)
            written = _rename(draft, parent, record.folder)
        except BaseException:
            shutil.rmtree(draft, ignore_errors=True)
            raise
        sync_folder(parent)
    except OSError as error:
        raise RecordError(
            f"The record {record.folder} could not be written to {parent}: "
            f"{error.strerror or error}. Nothing was kept; choose another folder or make room."
        ) from error
    return written


def _rename(draft: Path, parent: Path, name: str) -> Path:
    for number in range(1, MOST_OF_ONE_NAME + 1):
        target = parent / (name if number == 1 else f"{name}-{number}")
        if target.exists() or target.is_symlink():
            continue
        try:
            return draft.rename(target)
        except OSError as error:  # another program took the name just now
            if error.errno not in (errno.EEXIST, errno.ENOTEMPTY):
                raise
    raise OSError(errno.EEXIST, f"{MOST_OF_ONE_NAME} folders of that name exist already")


def _shipped(name: str) -> str:
    return importlib.resources.files("acceptance").joinpath(name).read_text(encoding="utf-8")
