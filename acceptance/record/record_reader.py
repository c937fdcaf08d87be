"""A record's files made into the record again: bytes in, values out.

Every layout there ever was is read. What the files name and do not hold, bands, limits and cables
of the tables that come with the program, is given.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from typing import Any

from acceptance.bands.band_table import BandTable
from acceptance.errors import RecordError
from acceptance.limits.limit import Preset
from acceptance.plan.acceptance_plan import FINISHED, Plan
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import NO_RECIPE, Recipe, parse_recipe
from acceptance.record.acceptance_record import (
    CALIBRATION,
    CORRECTED,
    HEAD,
    KINDS,
    LINE,
    PLAN,
    PLANE,
    PLANE_FILES,
    RECIPE,
    UNCERTAINTY_FILE,
    VERDICT,
    Acceptance,
    Condition,
    check_name,
    raw_name,
    sweeps_of,
)
from acceptance.record.check_after_sweep import ChecksAfterSweep, StandardCheck
from acceptance.record.layouts import (
    CHECKS,
    PIECE,
    PRESENT,
    RESERVED,
    STATION,
    head_in_present_words,
    require_layout,
)
from acceptance.record.recheck import StoredRecord
from acceptance.record.uncertainty_table import parse_uncertainty_table
from acceptance.tuning.touch_test import Touch
from acquire.errors import BandwrightError
from acquire.sweep import Plane, Reading
from acquire.touchstone.reader import parse_touchstone
from calibration.files.calibration_file import parse_calibration
from calibration.files.line_file import parse_line
from calibration.files.plane_file import NOT_MOVED, PlaneText
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import ReferencePlane
from calibration.uncertainty.budget import Assumptions
from calibration.verification.check_piece import PieceReading


@dataclass(frozen=True, slots=True, eq=False)
class Shipped:
    """What a record's files name of what comes with the program."""

    bands: BandTable
    presets: Sequence[Preset]
    plane: Callable[[PlaneText, Calibration | None], ReferencePlane]
    """Makes a plane of what it was declared as; raises PlaneError."""


def read_record(files: Mapping[str, bytes], name: str, shipped: Shipped) -> StoredRecord:
    """Make a record of its files. Raises RecordError, one sentence, where that cannot be."""
    try:
        head = json.loads(files[HEAD if HEAD in files else VERDICT])
        version = head["version"]
        require_layout(version, name)
        recorded = head_in_present_words(head, version)
        if version == 1:
            return _first_layout(files, name, recorded, _object(files, VERDICT), shipped)
        return _present_layout(files, name, recorded, shipped)
    except RecordError:
        raise
    except KeyError as error:
        raise RecordError(
            f"The record {name} cannot be read: {error.args[0]} is missing. Take it from where it "
            "was copied."
        ) from error
    except (TypeError, AttributeError, ArithmeticError, RecursionError) as error:
        raise RecordError(
            f"The record {name} cannot be read: something in it is of another kind, or larger, "
            "than what a record holds. Take it from where it was copied."
        ) from error
    except (ValueError, BandwrightError) as error:
        raise RecordError(
            f"The record {name} cannot be read: {str(error).rstrip('.')}. Take it from where it "
            "was copied."
        ) from error


def _present_layout(
    files: Mapping[str, bytes], name: str, head: Mapping[str, Any], shipped: Shipped
) -> StoredRecord:
    zone = timezone(timedelta(minutes=head["utc_offset_minutes"]))
    plan = _plan(files, shipped)
    conditions = tuple(
        Condition(
            each["name"],
            sweeps_of(
                each,
                [
                    _reading(files, f"{each['name']}/{raw_name(number)}")
                    for number in range(1, len(each["sweeps"]) + 1)
                ],
            ),
            each["sweeps_since_calibration"],
            tuple(map(str, each.get("doubts", ()))),
        )
        for each in head["conditions"]
    )
    calibration = (
        parse_calibration(files[CALIBRATION], CALIBRATION) if CALIBRATION in files else None
    )
    declared = _declared(files)
    acceptance = Acceptance(
        antenna=head["antenna"],
        plan=plan,
        calibration=calibration,
        assumptions=Assumptions(**head["assumptions"]),
        begun_at=datetime.fromisoformat(head["begun_at"]),
        software=head["software"],
        operator=head["operator"],
        note=head["note"],
        conditions=conditions,
        touch_test=None if head["touch_test"] is None else Touch(**head["touch_test"]),
        recipe=_recipe(files, head["version"]),
        sizes_mm=dict(head["sizes_mm"]),
        accepted_at=(
            None
            if head["accepted_at"] is None
            else datetime.fromisoformat(head["accepted_at"]).astimezone(zone)
        ),
        kind=head["kind"],
        plane=shipped.plane(declared, calibration),
        declared=declared,
        line=parse_line(_text(files, LINE), LINE) if LINE in files else None,
        check_piece=None if head.get(PIECE) is None else PieceReading.from_json(head[PIECE]),
        after_sweep=_checks(files, head.get(CHECKS)),
        carried={
            place: head[place]
            for place in (*RESERVED, STATION)
            if place != CHECKS and head.get(place) is not None
        },
    )
    if acceptance.kind not in KINDS:
        raise ValueError(f"it is of no kind that there is, {str(acceptance.kind)[:40]!r}")
    if acceptance.kind == "acceptance" and acceptance.calibration is None:
        raise RecordError(f"The record {name} cannot be read: {CALIBRATION} is missing.")
    if acceptance.kind == "imported" and acceptance.calibration is not None:
        raise ValueError(f"an imported file has no {CALIBRATION}")
    return StoredRecord(
        name,
        head["version"],
        acceptance,
        _object(files, VERDICT) if VERDICT in files else None,
        {
            each.name: _reading(files, f"{each.name}/{CORRECTED}")
            for each in conditions
            if f"{each.name}/{CORRECTED}" in files
        },
        {
            each.name: parse_uncertainty_table(files[f"{each.name}/{UNCERTAINTY_FILE}"])
            for each in conditions
            if f"{each.name}/{UNCERTAINTY_FILE}" in files
        },
    )


def _checks(
    files: Mapping[str, bytes], recorded: Mapping[str, Any] | None
) -> ChecksAfterSweep | None:
    if recorded is None:
        return None
    checks = [
        StandardCheck(
            sweeps_of(
                each,
                [
                    _reading(files, check_name(at, number))
                    for number in range(1, len(each["sweeps"]) + 1)
                ],
            ),
            each["sweeps_since_calibration"],
        )
        for at, each in enumerate(recorded["checks"], 1)
    ]
    return ChecksAfterSweep(tuple(checks), recorded["batch_check"] or "")


def _first_layout(
    files: Mapping[str, bytes],
    name: str,
    head: Mapping[str, Any],
    recorded: Mapping[str, Any],
    shipped: Shipped,
) -> StoredRecord:
    """One condition, its files at the top, and all that is known of it in verdict.json."""
    readings = [_reading(files, raw_name(n)) for n in range(1, len(head["sweeps"]) + 1)]
    raw = sweeps_of({**head, "plane": Plane.RAW, "request": ()}, readings)
    accepted_at = datetime.fromisoformat(head["accepted_at"])
    acceptance = Acceptance(
        antenna=head["antenna"],
        plan=_plan(files, shipped),
        calibration=parse_calibration(files[CALIBRATION], CALIBRATION),
        assumptions=Assumptions(**head["assumptions"]),
        begun_at=accepted_at,
        software=head["software"],
        operator=head["operator"],
        note=head["note"],
        conditions=(Condition(FINISHED, raw, head["sweeps_since_calibration"]),),
        touch_test=None if head.get("touch_test") is None else Touch(**head["touch_test"]),
        accepted_at=accepted_at,
    )
    corrected = {FINISHED: _reading(files, CORRECTED)} if CORRECTED in files else {}
    return StoredRecord(name, 1, acceptance, recorded, corrected)


def _plan(files: Mapping[str, bytes], shipped: Shipped) -> Plan:
    return parse_plan(_text(files, PLAN), PLAN, shipped.bands, shipped.presets)


def _recipe(files: Mapping[str, bytes], version: int) -> Recipe:
    if RECIPE not in files:
        return NO_RECIPE
    return parse_recipe(_text(files, RECIPE), RECIPE, kept=version < PRESENT)


def _declared(files: Mapping[str, bytes]) -> PlaneText:
    """What the plane was declared as; nothing where it was not moved."""
    if PLANE not in files:
        return NOT_MOVED
    beside_it = f"{PLANE_FILES}/"
    return PlaneText(
        _text(files, PLANE),
        {n.removeprefix(beside_it): each for n, each in files.items() if n.startswith(beside_it)},
    )


def _object(files: Mapping[str, bytes], name: str) -> Mapping[str, Any]:
    value = json.loads(files[name])
    if not isinstance(value, dict):
        raise TypeError(f"{name} holds no object")
    return value


def _reading(files: Mapping[str, bytes], name: str) -> Reading:
    return parse_touchstone(files[name], name).reading


def _text(files: Mapping[str, bytes], name: str) -> str:
    return files[name].decode()
