"""The record of one accepted antenna: what was done, and under what names it is written.

A record is a folder that stands on its own. What was done stands in `record.json`, in a folder of
raw sweeps for each condition, in the calibration with its own raw standards, and in the plan: from
these alone everything else follows (`acceptance.record.recheck`) and is written beside them for
those who do not have this program: verdict, corrected sweeps, report. No file is touched here.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any, Literal, get_args

from acceptance.errors import RecordError
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.plan_file import DEVICE_NAMES
from acceptance.plan.recipe import NO_RECIPE, Recipe
from acceptance.record.check_after_sweep import ChecksAfterSweep, StandardCheck
from acceptance.record.conditions import words_of
from acceptance.record.layouts import CHECKS, PIECE, PRESENT, RESERVED, STATION
from acceptance.tuning.touch_test import Touch
from acceptance.verdict.plan_verdict import MATCH_ONLY, source_as_json
from acquire.sweep import Plane, Reading, Source, Sweep, SweepRequest
from acquire.touchstone.stated_plane import OWN_CORRECTION
from acquire.touchstone.writer import format_touchstone
from calibration.files.line_file import LineToInspect
from calibration.files.plane_file import NOT_MOVED, PlaneText
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import CONNECTOR, ReferencePlane
from calibration.uncertainty.budget import Assumptions
from calibration.verification.check_piece import PieceReading

RECORD_FORMAT = "bandwright acceptance"

HEAD, VERDICT = "record.json", "verdict.json"
PLAN, RECIPE, CALIBRATION = "plan.toml", "recipe.toml", "calibration.json"
PLANE, PLANE_FILES = "plane.toml", "plane"
"""What lies between connector and feed, and the folder of the files that names; only where the
plane was moved."""
LINE = "line.toml"
"""The line that is looked along, if one is."""
CORRECTED, UNCERTAINTY_FILE, ALONG = "corrected.s1p", "trust.csv", "line.csv"

LONGEST_NAME_BYTES = 80

Kind = Literal["acceptance", "imported"]
KINDS: tuple[Kind, ...] = get_args(Kind)


@dataclass(frozen=True, slots=True, eq=False)
class Condition:
    """One state of the antenna, swept."""

    name: str
    raw: tuple[Sweep, ...]
    """The sweeps that agreed and are averaged, in the order taken. Of an imported file, the one
    reading it holds, at the plane it holds at."""
    sweeps_since_calibration: int = 0
    """Sweeps from the calibration, or its last check, to these; they count into drift."""
    doubts: tuple[str, ...] = ()
    """What says of an imported file that its data may be another one than was read."""

    @property
    def label(self) -> str:
        """The condition as it is said."""
        return words_of(self.name).label


@dataclass(frozen=True, slots=True, eq=False)
class Acceptance:
    """All that was done for one antenna; everything else is derived from it."""

    antenna: str
    """The name on the accepted antenna."""
    plan: Plan
    calibration: Calibration | None
    """None for an imported file, of whose calibration nothing is known."""
    assumptions: Assumptions
    """What the uncertainty rests on where nothing was measured or stated."""
    begun_at: datetime
    software: str
    """This program's name and version."""
    operator: str = ""
    note: str = ""
    conditions: tuple[Condition, ...] = ()
    """Those swept so far, in the order they are wanted."""
    touch_test: Touch | None = None
    """What a touch test showed of this antenna, if one was done."""
    recipe: Recipe = NO_RECIPE
    sizes_mm: Mapping[str, float] = field(default_factory=dict)
    """Finished sizes, by the recipe's names or any other (`acceptance.plan.size_names`)."""
    accepted_at: datetime | None = None
    """When it was signed off, in the bench's own time zone; None while it is not."""
    kind: Kind = "acceptance"
    plane: ReferencePlane = CONNECTOR
    """Where the verdicts hold."""
    declared: PlaneText = NOT_MOVED
    """What the plane was declared as; nothing at the connector."""
    line: LineToInspect | None = None
    """The cable to look along for faults; None: nobody asked."""
    check_piece: PieceReading | None = None
    """The latest reading of the bench's check piece; None where there was none."""
    after_sweep: ChecksAfterSweep | None = None
    """The checks after the sweep; None where nobody asked for any: an imported file, or a record
    of before there were any."""
    carried: Mapping[str, object] = field(default_factory=dict)
    """What stands in the places of `acceptance.record.layouts.RESERVED`, by their names: kept as it
    was read, and not looked into."""

    def __post_init__(self) -> None:
        if not self.antenna.strip():
            raise RecordError("An accepted antenna needs a name. Give it the one on its label.")
        for time in (self.begun_at, self.accepted_at):
            if time is not None and time.tzinfo is None:
                raise RecordError("The time of an acceptance must carry its time zone.")

    @property
    def missing(self) -> tuple[str, ...]:
        """Conditions that the plan wants and that were not swept yet, in order."""
        done = {each.name for each in self.conditions}
        return tuple(name for name in self.plan.conditions if name not in done)

    @property
    def source(self) -> Source:
        """Where the sweeps came from. Raises RecordError while there are none."""
        if not self.conditions:
            raise RecordError("Nothing was swept yet. Sweep the antenna first.")
        return self.conditions[-1].raw[-1].source

    @property
    def invented(self) -> bool:
        """True where any sweep came from the virtual bench."""
        return any(each.source.kind == "virtual" for one in self.conditions for each in one.raw)

    def with_condition(self, condition: Condition) -> Acceptance:
        """With a condition swept, in place of what was swept of it before."""
        if not condition.raw:
            raise RecordError(f"Nothing was swept of the antenna {words_of(condition.name).label}.")
        order = [*self.plan.conditions, *(c.name for c in self.conditions), condition.name]
        kept = [each for each in self.conditions if each.name != condition.name]
        kept = sorted([*kept, condition], key=lambda each: order.index(each.name))
        return replace(self, conditions=tuple(kept))

    def with_check(self, check: StandardCheck) -> Acceptance:
        """With a standard that was put back."""
        before = self.after_sweep or ChecksAfterSweep()
        return replace(self, after_sweep=replace(before, checks=(*before.checks, check)))


@dataclass(frozen=True, slots=True)
class Record:
    """A record's folder before it is written."""

    folder: str
    """Its name: the antenna and the time, safe on every system."""
    files: Mapping[str, bytes]
    """Content of each file by its name in the folder, "/" between folder and file."""


def raw_files(acceptance: Acceptance, condition: Condition) -> dict[str, bytes]:
    """The raw sweeps of one condition, by their names in the record."""
    return {
        f"{condition.name}/{raw_name(number)}": touchstone_of(
            each, acceptance.antenna, acceptance.software
        )
        for number, each in enumerate(condition.raw, 1)
    }


def check_files(acceptance: Acceptance) -> dict[str, bytes]:
    """The raw sweeps of the checks after the sweep, by their names in the record."""
    after = acceptance.after_sweep or ChecksAfterSweep()
    return {
        check_name(at, number): touchstone_of(sweep, "", acceptance.software)
        for at, each in enumerate(after.checks, 1)
        for number, sweep in enumerate(each.raw, 1)
    }


def check_name(check: int, number: int) -> str:
    """The file of a raw sweep of a check, both counted from 1; no condition can be called so."""
    return f"put.back-{check:02}/{raw_name(number)}"


def done_files(acceptance: Acceptance, calibration: str | None) -> dict[str, bytes]:
    """The files that say what was done, and nothing that is derived, by their names.

    calibration : the calibration's own JSON text; None where there is none.
    """
    files = {HEAD: as_json(head_as_json(acceptance)), PLAN: acceptance.plan.text.encode()}
    if calibration is not None:
        files[CALIBRATION] = calibration.encode()
    if acceptance.recipe.text:
        files[RECIPE] = acceptance.recipe.text.encode()
    if acceptance.declared.toml:
        files[PLANE] = acceptance.declared.toml.encode()
        files |= {f"{PLANE_FILES}/{n}": each for n, each in acceptance.declared.files.items()}
    if acceptance.line is not None:
        files[LINE] = acceptance.line.toml.encode()
    for condition in acceptance.conditions:
        files |= raw_files(acceptance, condition)
    return {**files, **check_files(acceptance)}


def folder_name(acceptance: Acceptance) -> str:
    """The record's own name: the antenna's, and the time it was signed off, or begun."""
    at = acceptance.accepted_at or acceptance.begun_at
    return f"{safe_name(acceptance.antenna)}_{at.astimezone(UTC):%Y-%m-%dT%H%M%SZ}"


def raw_name(number: int) -> str:
    """The file of a raw sweep, counted from 1."""
    return f"raw-{number:02}.s1p"


def safe_name(text: str) -> str:
    """Return a part of a file name made of a text a person typed: never a path, nor a device.

    Letters and digits of any script, dots, dashes and underscores stay; all else becomes a
    dash. At most LONGEST_NAME_BYTES bytes, never empty, never beginning or ending in a dot.
    """
    plain = re.sub(r"[^\w.-]+", "-", unicodedata.normalize("NFKC", text))
    while len(plain.encode()) > LONGEST_NAME_BYTES:
        plain = plain[:-1]
    plain = re.sub(r"\.{2,}", ".", plain).strip("-._")
    if not plain:
        return "unit"
    return f"unit-{plain}" if plain.partition(".")[0].lower() in DEVICE_NAMES else plain


def touchstone_of(sweep: Sweep, antenna: str, software: str, de_embedding: str = "") -> bytes:
    """A sweep as Touchstone 1.1, with plane, antenna, time and source in its comments.

    undone : what lies between the connector and the feed, where the plane was moved.
    """
    source = sweep.source
    comments = [
        *([f"antenna: {antenna}"] if antenna else []),
        f"plane: {sweep.plane}",
        *([f"undone: {de_embedding}"] if de_embedding else []),
        f"taken at: {as_utc(sweep.taken_at)}, sweep {sweep.sequence}",
        f"source: {source.kind} {source.port}, {source.analyzer}, profile {source.profile}",
        f"written by {software}",
    ]
    if source.analyzer_corrected:
        comments.append(OWN_CORRECTION)
    if source.kind == "virtual":
        comments.append("invented data: it comes from the virtual bench")
    reading = Reading(sweep.frequency_hz, sweep.reflection)
    return format_touchstone(reading, comments).encode("ascii")


def as_json(content: Mapping[str, object]) -> bytes:
    """A JSON file's content, for people to read too."""
    text = json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode(errors="backslashreplace")


def as_utc(time: datetime) -> str:
    """To a millisecond, as in "2026-05-01T12:00:00.000Z"."""
    return time.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def head_as_json(acceptance: Acceptance) -> dict[str, object]:
    """What `record.json` tells."""
    at, recipe = acceptance.accepted_at, acceptance.recipe
    offset = (at or acceptance.begun_at).utcoffset() or timedelta()
    return {
        "format": RECORD_FORMAT,
        "version": PRESENT,
        "kind": acceptance.kind,
        "software": acceptance.software,
        "antenna": acceptance.antenna,
        "operator": acceptance.operator,
        "note": acceptance.note,
        "begun_at": _exact(acceptance.begun_at),
        "accepted_at": None if at is None else _exact(at),
        "utc_offset_minutes": offset.total_seconds() / 60,
        "recipe": recipe.name if recipe.text else None,
        "sizes_mm": dict(acceptance.sizes_mm),
        "plan": acceptance.plan.name,
        "source": source_as_json(acceptance.source) if acceptance.conditions else None,
        "invented": acceptance.invented,
        "reference_plane": acceptance.plane.words,
        "assumptions": _assumptions(acceptance.assumptions),
        "touch_test": None if acceptance.touch_test is None else asdict(acceptance.touch_test),
        "conditions": [_condition(each) for each in acceptance.conditions],
        **{place: acceptance.carried.get(place) for place in RESERVED},
        CHECKS: _checks(acceptance),
        **_check_piece(acceptance),
        **({STATION: acceptance.carried[STATION]} if STATION in acceptance.carried else {}),
        "statement": MATCH_ONLY,
    }


def _assumptions(assumptions: Assumptions) -> dict[str, object]:
    """Where the load's figure is from only where somebody said."""
    listed = asdict(assumptions)
    return (
        listed if assumptions.load_source else {k: listed[k] for k in listed if k != "load_source"}
    )


def _condition(condition: Condition) -> dict[str, object]:
    return {
        "name": condition.name,
        "label": condition.label,
        **sweeps_as_json(condition.raw, condition.sweeps_since_calibration),
        **({"doubts": list(condition.doubts)} if condition.doubts else {}),
    }


def _check_piece(acceptance: Acceptance) -> dict[str, object]:
    """Only where there was one: older records have no place for it."""
    return {} if acceptance.check_piece is None else {PIECE: acceptance.check_piece.as_json()}


def _checks(acceptance: Acceptance) -> dict[str, object] | None:
    after = acceptance.after_sweep
    if after is None:
        return None
    return {
        "rule": acceptance.plan.check_after,
        "checks": [
            sweeps_as_json(each.raw, each.sweeps_since_calibration) for each in after.checks
        ],
        "batch_check": after.batch_check or None,
    }


def sweeps_as_json(raw: Sequence[Sweep], since_calibration: int) -> dict[str, object]:
    """What is told of raw sweeps beside their files; `sweeps_of` makes them of it again."""
    return {
        "plane": str(raw[-1].plane),
        "source": _source(raw[-1].source),
        "sweeps_since_calibration": since_calibration,
        "request": [asdict(each) for each in raw[-1].request],
        "sweeps": [{"number": each.sequence, "taken_at": _exact(each.taken_at)} for each in raw],
    }


def _source(source: Source) -> dict[str, object]:
    """Of the analyzer's USB device only where there is one."""
    recorded = source_as_json(source)
    return {**recorded, "usb_sum": source.usb_sum} if source.usb_sum else recorded


def _exact(time: datetime) -> str:
    """To the last digit: an uncertainty grows with age, and is worked out again from this."""
    return time.astimezone(UTC).isoformat()


SOURCE_KEYS = ("kind", "analyzer", "profile", "port", "analyzer_corrected")


def sweeps_of(recorded: Mapping[str, Any], readings: Sequence[Reading]) -> tuple[Sweep, ...]:
    """Sweeps of one condition again, from what `record.json` tells of it and what was read.

    Raises KeyError, TypeError or ValueError where something is not as it should be.
    """
    source = Source(
        **{key: recorded["source"][key] for key in SOURCE_KEYS},
        usb_sum=recorded["source"].get("usb_sum", ""),
    )
    return tuple(
        Sweep(
            one.frequency_hz,
            one.reflection,
            Plane(recorded["plane"]),
            datetime.fromisoformat(sweep["taken_at"]),
            sweep["number"],
            source,
            tuple(SweepRequest(**each) for each in recorded.get("request", ())),
        )
        for sweep, one in zip(recorded["sweeps"], readings, strict=True)
    )
