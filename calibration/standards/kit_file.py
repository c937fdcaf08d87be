"""Kit files: a kit as TOML, read and written.

A kit file is TOML, version 1. A builder's own kit, whole:

    format = 1
    name = "workshop"
    label = "Workshop kit, SMA plugs"
    connector = "SMA plug"
    source = "own parts; open and short flush, load two 100 ohm resistors"

    [standard.open]
    form = "coefficients"
    kind = "open"
    c0_ff = 13.67

    [standard.short]
    form = "ideal"
    kind = "short"

    [standard.load]
    form = "data"
    kind = "load"
    file = "load.s1p"
    error = 0.006

    [adapter.n]
    near = "SMA plug"
    far = "type N socket"
    delay_ps = 130

`error` says how far the data may be off, linear, about 95 %: one figure, or a list of one a
point; `characterise` finds it. A load that is not given by data may state `return_loss_db`, from
14 dB, and `load_source`, where that is from; above 46 dB it must. Any standard may tell which piece
it is: `serial`, the `date` it was measured, and when that `expires`.
Every other key has a default; the fields of form "coefficients" stand at CoefficientStandard.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    StringConstraints,
    TypeAdapter,
    ValidationError,
)

from acquire.errors import BandwrightError
from acquire.files.toml_file import MOST_WITH_DATA, first_fault, toml_table
from acquire.sweep import FloatArray, Reading
from calibration.errors import CalibrationError, KitError
from calibration.plane.adapter import Adapter, gender
from calibration.standards.kit import Kit
from calibration.standards.papers import PAPER_KEYS, Papers
from calibration.standards.standard import (
    CoefficientStandard,
    DataStandard,
    IdealStandard,
    Kind,
    Standard,
)
from calibration.standards.stated_load import require_stated_load

FORMAT = 1
ReadData = Callable[[str], Reading]
"""Reads the Touchstone file a kit names; raises BandwrightError or OSError."""


class _File(BaseModel):
    """The top of a kit file."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    format: Literal[1] = Field(description="1, the only layout this version reads")
    name: Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9.\-]{0,39}$")] = Field(
        description="small letters, digits, dots and hyphens, at most 40"
    )
    label: Annotated[str, StringConstraints(min_length=1, max_length=100)] = Field(
        description="one line of text, at most 100 letters"
    )
    connector: Annotated[str, StringConstraints(min_length=1, max_length=60)] = Field(
        description="connector and gender of the standards, such as 'type N plug'"
    )
    source: Annotated[str, StringConstraints(min_length=1, max_length=1000)] = Field(
        description="where the definitions come from"
    )
    adapter: dict[
        Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9.\-]{0,29}$")], dict[str, Any]
    ] = Field(default={}, description="one table an adapter: [adapter.n-sma]")
    standard: dict[
        Annotated[str, StringConstraints(pattern=r"^[a-z][a-z0-9\-]{0,29}$")], dict[str, Any]
    ] = Field(
        description="one table a standard: [standard.open], [standard.short], [standard.load]"
    )


_Error = Annotated[
    float | list[float] | None,
    Field(description="how far the data may be off, linear, 0 to 1: one figure, or one a point"),
]


class _Named(BaseModel):
    """Data kept in a file of its own."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    kind: Kind = Field(description='"open", "short" or "load"')
    file: Annotated[str, StringConstraints(min_length=1, max_length=200)] = Field(
        description="the name of a Touchstone file beside the kit file"
    )
    error: _Error = None


class _Inline(BaseModel):
    """Data written out, as a stored calibration keeps it."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)

    kind: Kind = Field(description='"open", "short" or "load"')
    origin: str = Field(description="where the data came from")
    frequency_hz: list[float] = Field(description="a list of numbers, Hz")
    real: list[float] = Field(description="a list of numbers")
    imaginary: list[float] = Field(description="a list of numbers")
    error: _Error = None


_ReturnLoss = Annotated[float, Field(ge=6, le=80, allow_inf_nan=False, strict=True)]
_RETURN_LOSS = TypeAdapter(_ReturnLoss)


def parse_kit(text: str, origin: str, read_data: ReadData) -> Kit:
    """Read a kit file's text.

    text : TOML as in the module's docstring.
    origin : what to call it in messages.
    read_data : reads a standard's data file by the name that stands in the kit.
    Raises KitError, naming the field and the cure; so it does for a load that no interval can be
    built on, which a calibration of former days may hold.
    """
    table = toml_table(text, f"Kit {origin}", KitError, MOST_WITH_DATA)
    kit = kit_from_table(table, origin, read_data)
    try:
        require_stated_load(kit.load_return_loss_db, kit.load_source)
    except CalibrationError as error:
        raise KitError(f"Kit {origin}, standard.load: {error}") from error
    return kit


def kit_from_table(table: Mapping[str, object], origin: str, read_data: ReadData) -> Kit:
    """Build a kit from the nested table that a kit file, or `kit_as_table`, holds.

    Raises KitError, naming the field and the cure.
    """
    try:
        top = _File.model_validate(dict(table))
    except ValidationError as error:
        raise KitError(first_fault(f"Kit {origin}", error, _File)) from error
    if missing := [name for name in ("open", "short", "load") if name not in top.standard]:
        raise KitError(
            f"Kit {origin} has no [standard.{missing[0]}]; a kit needs an open, a short and a load."
        )
    standards: dict[str, Standard] = {}
    papers: dict[str, Papers] = {}
    stated: float | None = None
    load_source = ""
    for name, rows in top.standard.items():
        where = f"Kit {origin}, standard.{name}"
        fields = dict(rows)
        if "return_loss_db" in fields:
            stated = _return_loss(fields.pop("return_loss_db"), name, where)
        if "load_source" in fields:
            load_source = _load_source(fields.pop("load_source"), name, where)
        written = {key: fields.pop(key) for key in PAPER_KEYS if key in fields}
        if written:
            papers[name] = _papers(written, where)
        standards[name] = _standard(fields, where, read_data)
        if name in ("open", "short", "load") and standards[name].kind != name:
            raise KitError(
                f"{where}: kind is {standards[name].kind!r}; the standard called {name} must be of "
                f"kind {name!r}. Rename the table or correct the kind."
            )
    adapters = {
        name: _adapter(rows, top.connector, f"Kit {origin}, adapter.{name}")
        for name, rows in top.adapter.items()
    }
    return Kit(
        top.name,
        top.label,
        top.connector,
        top.source,
        standards,
        load_return_loss_db=stated,
        adapters=adapters,
        papers=papers,
        load_source=load_source,
    )


def kit_as_table(kit: Kit) -> dict[str, Any]:
    """The kit as the nested table that `kit_from_table` reads back, measured data included."""
    tables: dict[str, Any] = {}
    for name, standard in kit.standards.items():
        match standard:
            case IdealStandard():
                rows: dict[str, Any] = {"form": "ideal", "kind": standard.kind}
            case CoefficientStandard():
                rows = {"form": "coefficients"} | {
                    key: value
                    for key, value in dataclasses.asdict(standard).items()
                    if value is not None
                }
            case DataStandard():
                rows = {
                    "form": "data",
                    "kind": standard.kind,
                    "origin": standard.origin,
                    "frequency_hz": standard.reading.frequency_hz.tolist(),
                    "real": standard.reading.reflection.real.tolist(),
                    "imaginary": standard.reading.reflection.imag.tolist(),
                }
                if standard.error is not None:
                    rows["error"] = np.asarray(standard.error, dtype=np.float64).tolist()
            case _:
                raise KitError(
                    f"Kit {kit.name}, standard.{name}: this form cannot be written down."
                )
        if name == "load" and kit.load_return_loss_db is not None:
            rows["return_loss_db"] = kit.load_return_loss_db
            if kit.load_source:
                rows["load_source"] = kit.load_source
        if name in kit.papers:
            rows |= kit.papers[name].as_table()
        tables[name] = rows
    table: dict[str, Any] = {
        "format": FORMAT,
        "name": kit.name,
        "label": kit.label,
        "connector": kit.connector,
        "source": kit.source,
        "standard": tables,
    }
    if kit.adapters:
        table["adapter"] = {
            name: {
                key: value for key, value in dataclasses.asdict(each).items() if value is not None
            }
            for name, each in kit.adapters.items()
        }
    return table


def kit_text(kit: Kit, files: Mapping[str, str]) -> str:
    """The kit as the text of a kit file.

    files : by standard, the name of the Touchstone file that its data is written to beside it.
    Raises KitError for data without a file of its own.
    """
    table = kit_as_table(kit)
    lines = [
        f"{key} = {_toml(table[key])}"
        for key in _File.model_fields
        if key not in ("standard", "adapter")
    ]
    for name, rows in table["standard"].items():
        lines += ["", f"[standard.{name}]"]
        written = dict(rows)
        if written["form"] == "data":
            if name not in files:
                raise KitError(f"Kit {kit.name}: the {name}'s data has no file to stand in.")
            for key in ("origin", "frequency_hz", "real", "imaginary"):
                written.pop(key)
            written["file"] = files[name]
            if "error" in written:  # micro-units are fine enough, and rounded up it stays true
                written["error"] = (np.ceil(np.asarray(written["error"]) * 1e6) / 1e6).tolist()
        lines += [f"{key} = {_toml(value)}" for key, value in written.items()]
    for name, rows in table.get("adapter", {}).items():
        lines += ["", f"[adapter.{name}]"]
        lines += [f"{key} = {_toml(value)}" for key, value in rows.items()]
    return "\n".join(lines) + "\n"


def _toml(value: object) -> str:
    """A string, a number or a list of numbers as TOML; JSON's strings are TOML's too."""
    return json.dumps(value, ensure_ascii=False)


def _standard(fields: dict[str, Any], where: str, read_data: ReadData) -> Standard:
    form = fields.pop("form", None)
    try:
        if form == "ideal":
            return IdealStandard(**fields)
        if form == "coefficients":
            return CoefficientStandard(**fields)
        if form == "data":
            return _data(fields, where, read_data)
    except ValidationError as error:
        model: Any = {"ideal": IdealStandard, "coefficients": CoefficientStandard}.get(
            str(form), _Named if "file" in fields or "frequency_hz" not in fields else _Inline
        )
        raise KitError(first_fault(where, error, model)) from error
    raise KitError(f'{where}: form is {form!r}. Write form = "ideal", "coefficients" or "data".')


def _papers(rows: dict[str, Any], where: str) -> Papers:
    try:
        return Papers(**rows)
    except ValidationError as error:
        raise KitError(first_fault(where, error, Papers)) from error


def _adapter(rows: dict[str, Any], connector: str, where: str) -> Adapter:
    try:
        made = Adapter(**rows)
    except ValidationError as error:
        raise KitError(first_fault(where, error, Adapter)) from error
    wanted, found = gender(connector), gender(made.near)
    if wanted is not None and wanted != found:
        raise KitError(
            f"{where}: its near end is a {made.near}, and the standards are of {connector}: it "
            "cannot be screwed on where they were. Turn near and far round, or correct the gender."
        )
    return made


def _data(fields: dict[str, Any], where: str, read_data: ReadData) -> DataStandard:
    if "frequency_hz" in fields and "file" not in fields:
        points = _Inline.model_validate(fields)
        if not len(points.frequency_hz) == len(points.real) == len(points.imaginary):
            raise KitError(f"{where}: frequency_hz, real and imaginary differ in length.")
        frequency = np.array(points.frequency_hz)
        values = np.array(points.real) + 1j * np.array(points.imaginary)
        try:
            reading = Reading(frequency, values)
            return DataStandard(points.kind, reading, points.origin, _stated(points.error))
        except ValueError as error:
            raise KitError(f"{where}: {error}") from error
    named = _Named.model_validate(fields)
    try:
        reading = read_data(named.file)
    except OSError as error:
        raise KitError(
            f"{where}: the file {named.file} cannot be read ({error.strerror or error}). Put it "
            f"beside the kit file."
        ) from error
    except BandwrightError as error:
        raise KitError(f"{where}: {error}") from error
    return DataStandard(named.kind, reading, named.file, _stated(named.error))


def _stated(error: float | list[float] | None) -> float | FloatArray | None:
    return np.array(error) if isinstance(error, list) else error


def _load_source(value: object, name: str, where: str) -> str:
    if name != "load" or not isinstance(value, str):
        raise KitError(
            f"{where}: load_source is a line of text in [standard.load]: where its return_loss_db "
            "is from."
        )
    return value


def _return_loss(value: object, name: str, where: str) -> float:
    if name != "load":
        raise KitError(f"{where}: return_loss_db belongs to [standard.load]; leave it out here.")
    try:
        return _RETURN_LOSS.validate_python(value)
    except ValidationError as error:
        raise KitError(
            f"{where}: return_loss_db is {value!r}. Write the load's return loss as a positive "
            f"number from 14 to 80 dB, or leave it out if it is not known."
        ) from error
