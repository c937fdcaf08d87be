"""What lies between the connector and the feed, as a table: in a TOML file, or typed in one line.

By a cable of the table of types, or by its own figures:

    format = 1
    cable = "ptfe-2.5mm"
    length_mm = 182

    velocity_factor = 0.70        # with length_mm; or delay_ps, one way, in place of both
    loss_db = 0.4                 # one way, at loss_at_mhz
    loss_at_mhz = 2600
    skin_share = 0.9              # part of that loss that goes with the root of frequency

By what it reads with its end open, shorted, or both; corrected at the connector, beside the file:

    format = 1
    open = "pigtail-open.s1p"
    short = "pigtail-short.s1p"

Or by a two-port file of it:

    format = 1
    fixture = "clamp.s2p"

Or by an adapter of the kit, put on after calibrating, or taken off:

    format = 1
    adapter = "n"
    removed = true

In one line the same keys: "cable=ptfe-2.5mm length_mm=182".
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel, ValidationError

from acquire.errors import BandwrightError
from acquire.files.doubtful_figure import doubtful_figures
from acquire.files.toml_file import MOST_WITH_DATA, first_fault, toml_table
from acquire.sweep import Plane, Reading
from acquire.touchstone.reader import TwoPortFile, parse_touchstone, parse_two_port
from calibration.cable.measured_line import BARE_ENDS, BARE_OFFSET_S, MeasuredLine
from calibration.errors import PlaneError
from calibration.files.plane_file_schema import (
    MOST_WORDS,
    AdaptedTable,
    EndedTable,
    FixtureTable,
    LineTable,
)
from calibration.plane.cable_type import CableType
from calibration.plane.fixture import ASSUMED_ERROR, Fixture
from calibration.plane.loss import LossLaw
from calibration.plane.reference_plane import (
    CONNECTOR,
    LOSS_TOLERANCE,
    DeclaredLine,
    Joints,
    ReferencePlane,
    TwoPortBetween,
    line_of_length,
)
from calibration.standards.kit import Kit

TYPED_VELOCITY_TOLERANCE = 0.01
TABLE_LOSS_TOLERANCE = 2 * LOSS_TOLERANCE
KIT_OFFSET_S = 0.5e-12
"""How far the plane of a kit's open or short may be off, as a calibration assumes it."""


NAMES_A_FILE = ("open", "short", "fixture")
"""Keys of a table whose value is a file beside it."""


@dataclass(frozen=True, slots=True)
class PlaneSources:
    """What a table may name: cables by type, files beside it, the kit, the calibration."""

    cables: Mapping[str, CableType]
    read_one_port: Callable[[str], Reading]
    read_two_port: Callable[[str], TwoPortFile]
    kit: Kit | None = None
    """Of the calibration that is used; None where there is none."""
    calibration: str = ""
    """When the calibration that is used was made, as `MeasuredLine` files tell it."""


@dataclass(frozen=True, slots=True)
class PlaneText:
    """A plane as it was declared, whole: what is needed to come to it again elsewhere."""

    toml: str = ""
    """Its table, one key a line; empty at the connector, where nothing lies between."""
    files: Mapping[str, bytes] = field(default_factory=dict)
    """The files that the table names, by those names: plain ones, without a folder."""


NOT_MOVED = PlaneText()
"""The connector's."""


def plane_text(table: Mapping[str, Any], read: Callable[[str], bytes]) -> PlaneText:
    """What a table declares, with the files it names read in.

    read : reads a file beside the table's own. Raises what that raises.
    """
    kept, files = dict(table), {}
    for key in NAMES_A_FILE:
        name = table.get(key)
        if isinstance(name, str) and name:
            plain = f"{key}{name[name.rfind('.') :].lower() if '.' in name else ''}"
            kept[key], files[plain] = plain, read(name)
    if "fixture" in table and not kept.get("words"):
        kept["words"] = f"the fixture of {table['fixture']}"[:MOST_WORDS]
    lines = [
        f"{json.dumps(key)} = {_as_toml(value)}"
        for key, value in kept.items()
        if isinstance(value, str | bool | int | float)
    ]
    return PlaneText("".join(f"{line}\n" for line in lines), files)


def _as_toml(value: str | bool | float) -> str:
    # JSON's strings are TOML's basic strings but for DEL
    return (json.dumps(value) if isinstance(value, str | bool) else repr(value)).replace(
        "\x7f", "\\u007f"
    )


def plane_of(
    declared: PlaneText, cables: Mapping[str, CableType], kit: Kit | None, calibration: str
) -> ReferencePlane:
    """The plane again from what was declared; the connector where nothing was.

    kit, calibration : as `PlaneSources` has them. Raises PlaneError.
    """
    if not declared.toml:
        return CONNECTOR

    def file(name: str) -> bytes:
        if name not in declared.files:
            raise PlaneError(f"The plane's file {name} is missing. Take it from where it was.")
        return declared.files[name]

    sources = PlaneSources(
        cables,
        lambda name: parse_touchstone(file(name), name).reading,
        lambda name: parse_two_port(file(name), name),
        kit,
        calibration,
    )
    return plane_from_table(parse_table(declared.toml, "plane.toml"), "The plane", sources)


def parse_table(text: str, origin: str) -> dict[str, Any]:
    """A plane file's table. Raises PlaneError where it is no TOML."""
    return toml_table(text, f"Plane {origin}", PlaneError, MOST_WITH_DATA)


def parse_plane(text: str, origin: str, sources: PlaneSources) -> ReferencePlane:
    """Read a plane file's text. Raises PlaneError, naming the field and the cure."""
    return plane_from_table(parse_table(text, origin), f"Plane {origin}", sources)


def parse_typed(text: str, sources: PlaneSources) -> ReferencePlane:
    """Read "cable=ptfe-2.5mm length_mm=182". Raises PlaneError, naming the field and the cure."""
    return plane_from_table(typed_table(text), "The plane", sources)


def typed_table(text: str) -> dict[str, object]:
    """The table that "cable=ptfe-2.5mm length_mm=182" stands for. Raises PlaneError."""
    table: dict[str, object] = {}
    for part in text.replace(",", " ").split():
        key, sign, value = part.partition("=")
        if not sign or not key or not value:
            raise PlaneError(
                f'"{text}" is no reference plane. Write raw, connector or antenna, the name of a '
                '.toml file, or what lies between as KEY=VALUE: "cable=ptfe-2.5mm length_mm=182", '
                '"delay_ps=880 loss_db=0.4 loss_at_mhz=2600".'
            )
        try:
            table[key] = float(value)
        except ValueError:
            table[key] = {"true": True, "false": False}.get(value, value)
    return table


def plane_from_table(table: Mapping[str, Any], where: str, sources: PlaneSources) -> ReferencePlane:
    """Build a plane from the table that a plane file holds. Raises PlaneError."""
    model: type[BaseModel]
    if "adapter" in table:
        model = AdaptedTable
    elif "fixture" in table:
        model = FixtureTable
    elif "open" in table or "short" in table:
        model = EndedTable
    else:
        model = LineTable
    try:
        between = _built(model.model_validate(dict(table)), sources)
    except ValidationError as error:
        raise PlaneError(first_fault(where, error, model)) from error
    except OSError as error:
        raise PlaneError(
            f"{where}: a file it names cannot be read ({error.strerror or error}). Put it beside "
            "the plane file."
        ) from error
    except PlaneError:
        raise
    except BandwrightError as error:
        raise PlaneError(f"{where}: {error}") from error
    return ReferencePlane(Plane.ANTENNA, between, doubtful_figures(table, "The plane"))


def _built(table: BaseModel, sources: PlaneSources) -> TwoPortBetween:
    match table:
        case FixtureTable():
            return Fixture(
                words=table.words or f"the fixture of {table.fixture}",
                data=sources.read_two_port(table.fixture),
                turned=table.turned,
                error=ASSUMED_ERROR if table.error is None else table.error,
                error_origin="assumed" if table.error is None else "stated",
            )
        case EndedTable():
            return _measured(table, sources)
        case AdaptedTable():
            return _adapter(table, sources)
        case LineTable():
            return _declared(table, sources)
        case _:
            raise PlaneError("A plane of this form is not known.")


def _joints(decibels: float | None) -> Joints:
    return Joints() if decibels is None else Joints(decibels, "stated")


def _measured(table: EndedTable, sources: PlaneSources) -> MeasuredLine:
    names = {"open": table.open, "short": table.short}
    ends = {name: sources.read_one_port(file) for name, file in names.items() if file}
    bare = table.ended_by == "bare"
    if not bare and sources.kit is None:
        raise PlaneError(
            "The pigtail was ended by the kit's own open and short, and no calibration says which "
            'kit that is. Name the calibration, or write ended_by = "bare".'
        )
    standards = BARE_ENDS if bare or sources.kit is None else sources.kit.standards
    offset_s = BARE_OFFSET_S if bare else KIT_OFFSET_S
    both = " and ".join({"open": "open", "short": "shorted"}[name] for name in ends)
    return MeasuredLine(
        words=table.words or f"the pigtail measured with its end {both}",
        ends=ends,
        standards={name: standards[name] for name in ends},
        offset_s=offset_s if table.offset_ps is None else table.offset_ps * 1e-12,
        joints=_joints(table.joints_db),
        same_calibration=bool(table.calibration) and table.calibration == sources.calibration,
    )


def _adapter(table: AdaptedTable, sources: PlaneSources) -> DeclaredLine:
    known = {} if sources.kit is None else sources.kit.adapters
    if table.adapter not in known:
        listed = ", ".join(known) or "none; a kit file describes them as [adapter.NAME]"
        raise PlaneError(
            f'The kit of this calibration has no adapter "{table.adapter}". It has: {listed}.'
        )
    return known[table.adapter].line(removed=table.removed)


def _declared(table: LineTable, sources: PlaneSources) -> DeclaredLine:
    cable = _cable(table.cable, sources) if table.cable else None
    velocity, tolerance = table.velocity_factor, TYPED_VELOCITY_TOLERANCE
    if velocity is None and cable is not None:
        velocity, tolerance = cable.velocity_factor, cable.velocity_tolerance
    delay_tolerance_s = (table.delay_tolerance_ps or 0.0) * 1e-12
    if table.length_mm is not None and velocity is not None:
        delay_s = line_of_length(table.length_mm / 1e3, velocity)
        if table.delay_tolerance_ps is None:
            by_length = line_of_length(table.length_tolerance_mm / 1e3, velocity)
            delay_tolerance_s = by_length + delay_s * tolerance / velocity
    else:
        delay_s = (table.delay_ps or 0.0) * 1e-12
    loss, part = LossLaw(0.0, 0.0), LOSS_TOLERANCE
    if table.loss_db is not None and table.loss_at_mhz is not None:
        loss = LossLaw.at_one(table.loss_db, table.loss_at_mhz, table.skin_share)
    elif cable is not None:
        loss, part = cable.loss.times((table.length_mm or 0.0) / 1e3), TABLE_LOSS_TOLERANCE
    if table.loss_tolerance_percent is not None:
        part = table.loss_tolerance_percent / 100
    return DeclaredLine(
        words=table.words or _length_words(table, cable),
        delay_s=delay_s,
        delay_tolerance_s=delay_tolerance_s,
        loss=loss,
        loss_tolerance=part,
        joints=_joints(table.joints_db),
    )


def _length_words(table: LineTable, cable: CableType | None) -> str:
    if table.length_mm is None:
        return f"{table.delay_ps:g} ps of line"
    length_words = (
        f"{table.length_mm:g} mm" if table.length_mm < 1000 else f"{table.length_mm / 1e3:g} m"
    )
    return f"{length_words} of {'line' if cable is None else cable.words}"


def _cable(name: str, sources: PlaneSources) -> CableType:
    if name not in sources.cables:
        raise PlaneError(
            f'The table has no cable "{name}". It has {", ".join(sources.cables)}; of any other '
            "give length_mm, velocity_factor, loss_db and loss_at_mhz."
        )
    return sources.cables[name]
