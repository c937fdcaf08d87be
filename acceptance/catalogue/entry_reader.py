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
from acceptance.catalogue.entry import BandResult, Card, ConditionResult, DipResult, Entry, Judged
from acceptance.errors import RecordError
from acceptance.limits.decision import State
from acceptance.limits.limit import Limit, Metric
from acceptance.record.acceptance_record import HEAD, RECIPE, VERDICT
from acceptance.record.checksums import SUMS, parse_sums
from acceptance.record.layouts import FIRST, PRESENT, head_in_present_words, require_layout
from acquire.errors import BandwrightError

TOLD = (HEAD, VERDICT, RECIPE, SUMS)
"""The files a catalogue reads of a record."""


Told = TypeVar("Told", bound=BaseModel)
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
    def _in_present_words(cls, told: Any) -> Any:
        version = told.get("version") if isinstance(told, dict) else None
        if type(version) is not int or not FIRST <= version < PRESENT:
            return told
        try:
            return head_in_present_words(told, version)
        except (TypeError, AttributeError) as error:
            raise ValueError("something in it is of another kind than a record holds") from error


def card_of(files: Mapping[str, bytes], *, folder: str, bench: str = "", doubt: str = "") -> Card:
    """Make a card of what a record's files tell.

    files : content of those of TOLD that there are; head and verdict are needed. doubt : what
    `doubt_of` found. Raises RecordError, one sentence, where they do not tell what a record tells.
    """
    head = _read(_Head, files, HEAD, folder)
    require_layout(head.version, folder)
    told = _read(_VerdictFile, files, VERDICT, folder)
    try:
        conditions = tuple(map(_condition, told.conditions))
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
        doubt = "; ".join(filter(None, ("not signed off", doubt)))
    least, at_band = _least(conditions)
    return Card(
        entry=Entry(
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
            overall=told.overall if decided else State.NOT_MEASURED,
            words=told.words if decided else str(State.NOT_MEASURED),
            spare_db=least,
            spare_at=at_band,
            doubt=doubt,
        ),
        conditions=conditions,
        sizes_mm=head.sizes_mm,
        recipe_sum=hashlib.sha256(files[RECIPE]).hexdigest() if RECIPE in files else "",
    )


def doubt_of(files: Mapping[str, bytes]) -> str:
    """Which of the files read is not as it was; empty where all are, or there are no sums."""
    if SUMS not in files:
        return ""
    try:
        listed = parse_sums(files[SUMS])
    except ValueError as error:
        return f"{SUMS} is damaged: {error}"
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


def _read(model: type[Told], files: Mapping[str, bytes], name: str, folder: str) -> Told:
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


def _condition(told: _Condition) -> ConditionResult:
    if len(told.details) != len(told.verdict.bands):
        raise ValueError(f"{VERDICT} tells of other bands in details than in its verdict")
    return ConditionResult(
        told.name,
        told.label,
        told.judged,
        told.verdict.overall,
        told.words,
        tuple(map(_band, told.verdict.bands, told.details)),
        tuple(
            DipResult(each.frequency_hz, each.return_loss_db, each.bandwidth_hz, each.beyond)
            for each in sorted(told.dips, key=lambda each: each.frequency_hz)
        ),
    )


def _band(told: _Band, detail: _Detail) -> BandResult:
    limit = told.limit.made()
    spare, bound = told.margin_db, False
    if spare is None and told.better_than_db is not None:
        spare, bound = told.better_than_db - limit.return_loss_db, True
    return BandResult(
        Judged(told.name, told.link, detail.low_hz, detail.high_hz, limit),
        told.state,
        told.worst_return_loss_db,
        told.worst_frequency_hz,
        spare,
        bound,
    )


def _least(conditions: tuple[ConditionResult, ...]) -> tuple[float | None, str]:
    deciding = [each for each in conditions if each.judged]
    known = [
        (band.spare_db, band.judged.title)
        for each in deciding
        for band in each.bands
        if band.spare_db is not None
    ]
    return min(known, default=(None, ""))
