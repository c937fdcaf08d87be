"""What a record's files tell, brought into one form for a catalogue.

A record tells its verdict in `verdict.json` and what was done in `record.json`. The catalogue
believes them, so that thousands of records are listed at once; whether the verdict follows from
the readings is for `acceptance.record.recheck` to say. Only that these files are as they were when
their sums were made is looked at here too, since that costs nothing.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta, timezone
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from acceptance.bands.band_table import Link
from acceptance.catalogue.record_summary import (
    BandResult,
    CatalogueEntry,
    ConditionResult,
    DipResult,
    Judged,
    RecordSummary,
)
from acceptance.errors import RecordError
from acceptance.limits.decision import State
from acceptance.limits.limit import Limit, Metric
from acceptance.record.acceptance_record import HEAD, RECIPE, VERDICT
from acceptance.record.checksums import CHECKSUMS, parse_checksums
from acceptance.record.layouts import FIRST, PRESENT, head_in_present_words, require_layout
from acquire.errors import BandwrightError

CATALOGUED_FILES = (HEAD, VERDICT, RECIPE, CHECKSUMS)
"""The files a catalogue reads of a record."""


ReadModel = TypeVar("ReadModel", bound=BaseModel)
_OPEN = ConfigDict(frozen=True, allow_inf_nan=False, protected_namespaces=())
_Line = Annotated[str, Field(max_length=10_000)]
_Text = Annotated[str, Field(max_length=200_000)]


class _Limit(BaseModel):
    model_config = _OPEN

    return_loss_db: float | None = None
    vswr: float | None = None

    def made(self) -> Limit:
        metric: Metric = "return_loss_db" if self.vswr is None else "vswr"
        return Limit(metric, (self.return_loss_db or 0.0) if self.vswr is None else self.vswr)


class _Band(BaseModel):
    model_config = _OPEN

    name: _Line
    link: Link
    state: State
    limit: _Limit
    worst_return_loss_db: float | None
    worst_frequency_hz: float | None
    margin_db: float | None
    better_than_db: float | None = None


class _Detail(BaseModel):
    model_config = _OPEN

    low_hz: float
    high_hz: float


class _Verdict(BaseModel):
    model_config = _OPEN

    overall: State
    bands: list[_Band]


class _Dip(BaseModel):
    model_config = _OPEN

    frequency_hz: float
    return_loss_db: float
    bandwidth_hz: float
    beyond: _Line = ""


class _Condition(BaseModel):
    model_config = _OPEN

    name: _Line
    label: _Line
    judged: bool
    words: _Line
    verdict: _Verdict
    details: list[_Detail]
    dips: list[_Dip]


class _VerdictFile(BaseModel):
    model_config = _OPEN

    overall: State
    words: _Line
    conditions: Annotated[list[_Condition], Field(min_length=1, max_length=100)]


class _Head(BaseModel):
    model_config = _OPEN

    version: Annotated[int, Field(strict=True)]
    kind: _Line
    software: _Line
    antenna: _Line
    operator: _Line
    note: _Text
    begun_at: datetime
    accepted_at: datetime | None
    utc_offset_minutes: Annotated[float, Field(gt=-1440, lt=1440)]
    recipe: _Line | None
    sizes_mm: dict[_Line, float]
    plan: _Line
    invented: bool

    @model_validator(mode="before")
    @classmethod
    def _in_present_words(cls, recorded: Any) -> Any:
        version = recorded.get("version") if isinstance(recorded, dict) else None
        if type(version) is not int or not FIRST <= version < PRESENT:
            return recorded
        try:
            return head_in_present_words(recorded, version)
        except (TypeError, AttributeError) as error:
            raise ValueError("something in it is of another kind than a record holds") from error


def summarise_record(
    files: Mapping[str, bytes], *, folder: str, bench: str = "", caveat: str = ""
) -> RecordSummary:
    """Make a card of what a record's files tell.

    files : content of those of TOLD that there are; head and verdict are needed. doubt : what
    `caveat_of` found. Raises RecordError, one sentence, where they do not tell what a record tells.
    """
    head = _read(_Head, files, HEAD, folder)
    require_layout(head.version, folder)
    recorded = _read(_VerdictFile, files, VERDICT, folder)
    try:
        conditions = tuple(map(_condition, recorded.conditions))
    except (ValueError, BandwrightError) as error:
        raise _unreadable(folder, str(error).rstrip(".")) from error
    at = head.accepted_at or head.begun_at
    at = at if at.tzinfo else at.replace(tzinfo=UTC)
    try:
        at = at.astimezone(timezone(timedelta(minutes=head.utc_offset_minutes)))
    except OverflowError as error:
        raise _unreadable(folder, f"no calendar has its time, {at}") from error
    decided = any(each.judged for each in conditions)
    if head.accepted_at is None:
        caveat = "; ".join(filter(None, ("not signed off", caveat)))
    least, at_band = _least(conditions)
    return RecordSummary(
        entry=CatalogueEntry(
            bench=bench,
            folder=folder,
            antenna=head.antenna,
            operator=head.operator,
            note=head.note,
            recipe=head.recipe or "",
            plan=head.plan,
            kind=head.kind,
            invented=head.invented,
            software=head.software,
            at=at,
            overall=recorded.overall if decided else State.NOT_MEASURED,
            words=recorded.words if decided else str(State.NOT_MEASURED),
            margin_or_bound_db=least,
            least_margin_band=at_band,
            caveat=caveat,
        ),
        conditions=conditions,
        sizes_mm=head.sizes_mm,
        recipe_checksum=hashlib.sha256(files[RECIPE]).hexdigest() if RECIPE in files else "",
    )


def caveat_of(files: Mapping[str, bytes]) -> str:
    """Which of the files read is not as it was; empty where all are, or there are no sums."""
    if CHECKSUMS not in files:
        return ""
    try:
        listed = parse_checksums(files[CHECKSUMS])
    except ValueError as error:
        return f"{CHECKSUMS} is damaged: {error}"
    changed = [
        name
        for name in (HEAD, VERDICT, RECIPE)
        if name in files and listed.get(name) != hashlib.sha256(files[name]).hexdigest()
    ]
    return f"changed since its sums were made: {', '.join(changed)}" if changed else ""


def digest_of(files: Mapping[str, bytes]) -> str:
    """One SHA-256 over files and their names."""
    total = hashlib.sha256()
    for name, content in sorted(files.items()):
        total.update(f"{name} {len(content)}\n".encode())
        total.update(content)
    return total.hexdigest()


def _read(model: type[ReadModel], files: Mapping[str, bytes], name: str, folder: str) -> ReadModel:
    try:
        return model.model_validate_json(files[name])
    except KeyError:
        raise _unreadable(folder, f"{name} is missing") from None
    except ValidationError as error:
        first = error.errors(include_url=False, include_context=False, include_input=False)[0]
        where = ".".join(map(str, first["loc"]))
        fault = f"{where}: {first['msg']}" if where else first["msg"]
        raise _unreadable(folder, f"{name}: {fault.rstrip('.')}") from None


def _unreadable(folder: str, why: str) -> RecordError:
    return RecordError(
        f"The record {folder} cannot be read: {why}. Take it from where it was copied."
    )


def _condition(recorded: _Condition) -> ConditionResult:
    if len(recorded.details) != len(recorded.verdict.bands):
        raise ValueError(f"{VERDICT} tells of other bands in details than in its verdict")
    return ConditionResult(
        recorded.name,
        recorded.label,
        recorded.judged,
        recorded.verdict.overall,
        recorded.words,
        tuple(map(_band, recorded.verdict.bands, recorded.details)),
        tuple(
            DipResult(each.frequency_hz, each.return_loss_db, each.bandwidth_hz, each.beyond)
            for each in sorted(recorded.dips, key=lambda each: each.frequency_hz)
        ),
    )


def _band(recorded: _Band, detail: _Detail) -> BandResult:
    limit = recorded.limit.made()
    margin_db, bound = recorded.margin_db, False
    if margin_db is None and recorded.better_than_db is not None:
        margin_db, bound = recorded.better_than_db - limit.return_loss_db, True
    return BandResult(
        Judged(recorded.name, recorded.link, detail.low_hz, detail.high_hz, limit),
        recorded.state,
        recorded.worst_return_loss_db,
        recorded.worst_frequency_hz,
        margin_db,
        bound,
    )


def _least(conditions: tuple[ConditionResult, ...]) -> tuple[float | None, str]:
    deciding = [each for each in conditions if each.judged]
    known = [
        (band.margin_or_bound_db, band.judged.title)
        for each in deciding
        for band in each.bands
        if band.margin_or_bound_db is not None
    ]
    return min(known, default=(None, ""))
