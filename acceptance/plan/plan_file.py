"""A plan as a person writes it, in TOML:

    name = "gauge modem, Europe"

    [[band]]
    lte = 20                     # or nr, earfcn, nr_arfcn, or name with low_mhz and high_mhz
    return_loss_db = 10          # or vswr = 2.0, or limit = "strict" (a preset)
    uplink = { vswr = 1.8 }      # another limit on one link

`guard = "full"` beside the name, the default, lets a band pass only where its reading lies within
the limit by the whole of its uncertainty; "none", or a factor, says otherwise. In its place
`false_pass_risk = 0.025` lets a band pass only where the risk of a false pass is no larger. For an
acceptance `sweeps = 4` are averaged, and the calibration must have been checked lately where
`verified_within_hours` (a known device measured back) or `drift_checked_within_hours` (its own open
or short put back) says so. What else an acceptance asks for, each with its default:

    conditions = ["finished"]    # in which states the antenna is swept, in this order
    judged = ["finished"]        # which of them decide; without it, the last one
    touch_test = false           # a hand on the cable first; what it changes is told
    warm_up_minutes = 0          # how long the analyzer must have been sweeping
    antennas = 1                 # with more, that isolation was not measured is said
    check_after = "each"         # put a standard back after every antenna; "batch" at a batch's
                                 # start, every tenth and its end; false never
    check_piece_within_hours = 24  # how young a reading of the bench's check piece must be
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Sequence
from typing import Annotated, Literal

from pydantic import BaseModel, Field, ValidationError

from acceptance.bands.band_table import BandTable
from acceptance.errors import PlanError
from acceptance.limits.limit import Preset
from acceptance.plan.acceptance_plan import FINISHED, CheckRule, Plan, Target
from acceptance.plan.band_entry import BandEntry, EntryReader, LimitEntry, Name, Number, Strict
from acquire.files.toml_file import toml_table

MOST_BANDS = 200
WHAT_TO_WRITE = {
    "false_pass_risk": "a risk above 0 and below 0.5, such as 0.025 for one in forty",
    "sweeps": "a whole number from 2 to 100",
    "warm_up_minutes": "minutes from 0 to 600",
    "antennas": "a whole number from 1 to 16",
}
"""By key: what a plan may say there."""
DEFAULT_MARGIN_PERCENT = 5.0
DEVICE_NAMES = {"con", "prn", "aux", "nul", *(f"{d}{n}" for d in ("com", "lpt") for n in range(10))}
"""What no file may be called on one system or another."""

ConditionName = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,29}$")]
"""A folder of its own in the record."""


class _PlanFile(Strict):
    name: Name
    band: Annotated[list[BandEntry], Field(min_length=1, max_length=MOST_BANDS)]
    margin_percent: Annotated[Number, Field(ge=0, le=100)] = DEFAULT_MARGIN_PERCENT
    guard: Literal["full", "none"] | Annotated[Number, Field(ge=0, le=3)] | None = None
    false_pass_risk: Annotated[Number, Field(gt=0, lt=0.5)] | None = None
    sweeps: Annotated[int, Field(ge=2, le=100)] = 4
    verified_within_hours: Annotated[Number, Field(gt=0, le=10_000)] | None = None
    drift_checked_within_hours: Annotated[Number, Field(gt=0, le=10_000)] | None = None
    conditions: Annotated[
        list[ConditionName],
        Field(min_length=1, max_length=12, default_factory=lambda: [FINISHED]),
    ]
    judged: Annotated[list[ConditionName], Field(min_length=1, max_length=12)] | None = None
    touch_test: bool = False
    warm_up_minutes: Annotated[Number, Field(ge=0, le=600)] = 0.0
    antennas: Annotated[int, Field(ge=1, le=16)] = 1
    check_after: Literal["each", "batch"] | bool = "each"
    check_piece_within_hours: Annotated[Number, Field(gt=0, le=10_000)] | None = None


def parse_plan(text: str, origin: str, bands: BandTable, presets: Sequence[Preset] = ()) -> Plan:
    """Read a plan.

    text : the TOML; origin : its file's name, for messages; bands : the table to look bands up
    in; presets : the limits that `limit = "..."` may name.
    Raises PlanError, one sentence with file, entry, field and cure.
    """
    file = _validated(text, origin)
    for name in (file.name, *(entry.name or "" for entry in file.band)):
        if not name.isprintable():
            raise PlanError(f"{origin}: the name {name!r} holds control characters. Remove them.")
    if file.guard is not None and file.false_pass_risk is not None:
        raise PlanError(
            f"{origin}: guard and false_pass_risk are two ways to say when a band passes. "
            "Remove one."
        )
    judged = _judged(file, origin)
    targets: list[Target] = []
    for at, entry in enumerate(file.band, 1):
        reader = EntryReader(entry, f"{origin}: band {at}", bands, presets)
        for target in reader.targets():
            twin = next(
                (t for t in targets if (t.name, t.link) == (target.name, target.link)), None
            )
            if twin is not None:
                raise PlanError(f"{origin}: band {at} ({target.name}) stands twice. Remove one.")
            targets.append(target)
    return Plan(
        file.name,
        tuple(targets),
        file.margin_percent / 100,
        _guard(file.guard),
        text,
        file.sweeps,
        file.verified_within_hours,
        file.drift_checked_within_hours,
        tuple(file.conditions),
        judged,
        file.touch_test,
        file.warm_up_minutes,
        file.antennas,
        file.false_pass_risk,
        _check_rule(file.check_after),
        file.check_piece_within_hours,
    )


def _judged(file: _PlanFile, origin: str) -> tuple[str, ...]:
    """Which conditions decide: those named, else the last one."""
    for key, names in (("conditions", file.conditions), ("judged", file.judged or [])):
        for name in names:
            if name in DEVICE_NAMES:
                raise PlanError(f'{origin}: {key} names "{name}", which no folder may be called.')
            if names.count(name) > 1:
                raise PlanError(f'{origin}: {key} names "{name}" twice. Remove one.')
    for name in file.judged or []:
        if name not in file.conditions:
            known = ", ".join(file.conditions)
            raise PlanError(
                f'{origin}: judged names "{name}", which is none of the conditions. There are: '
                f"{known}."
            )
    return tuple(file.judged or file.conditions[-1:])


def _guard(written: Literal["full", "none"] | float | None) -> float:
    """The guard band as a multiple of the uncertainty; the whole of it where none is written."""
    if written is None:
        return 1.0
    if isinstance(written, str):
        return {"full": 1.0, "none": 0.0}[written]
    return float(written)


def _check_rule(written: Literal["each", "batch"] | bool) -> CheckRule:
    if isinstance(written, str):
        return written
    return "each" if written else "none"


def _validated(text: str, origin: str) -> _PlanFile:
    table = toml_table(text, origin, PlanError)
    try:
        return _PlanFile.model_validate(table)
    except ValidationError as error:
        raise PlanError(_sentence(error, origin)) from None


def _sentence(error: ValidationError, origin: str) -> str:  # noqa: PLR0911 - one a complaint
    """Turn pydantic's first complaint into one sentence with entry, field and cure."""
    first = error.errors(include_url=False)[0]
    path: tuple[int | str, ...] = first["loc"]
    where = origin
    if len(path) > 1 and path[0] == "band" and isinstance(path[1], int):
        where = f"{origin}: band {path[1] + 1}"
    field = str(path[-1]) if path else "plan"
    value = first.get("input")
    if first["type"] == "extra_forbidden":
        models: dict[int, type[BaseModel]] = {3: BandEntry, 4: LimitEntry}
        model = models.get(len(path), _PlanFile)
        near = difflib.get_close_matches(field, model.model_fields, n=1)
        known = ", ".join(model.model_fields)
        hint = f"Did you mean {near[0]}?" if near else f"There are: {known}."
        return f"{where}: {field} is not known. {hint}"
    if first["type"] == "missing":
        cure = (
            'Write name = "..." above the bands.'
            if field == "name"
            else 'Write at least one "[[band]]" with a band and a limit.'
        )
        return f"{origin}: {field} is missing. {cure}"
    if field == "limit" and isinstance(value, int | float) and not isinstance(value, bool):
        return (
            f"{where}: limit = {value} has no metric. Write return_loss_db = {value} or vswr = "
            f"{value}; the two are not the same."
        )
    if "guard" in path:
        return f'{origin}: guard is {value!r}. Write "full", "none", or a factor from 0 to 3.'
    if field in WHAT_TO_WRITE:
        return f"{origin}: {field} is {value!r}. Write {WHAT_TO_WRITE[field]}."
    if path and path[0] in ("conditions", "judged"):
        return (
            f"{origin}: {path[0]} holds {value!r}. Write a list of one to twelve names of small "
            'letters, digits and dashes, such as ["bare", "sealed"].'
        )
    if "check_after" in path:
        return (
            f'{origin}: check_after is {value!r}. Write "each", "batch", or false where no '
            "standard shall be put back."
        )
    if field.endswith("_within_hours"):
        return f"{origin}: {field} is {value!r}. Write hours above 0, or leave it out."
    if field == "band":
        return f'{origin}: bands are a list. Write "[[band]]", with two brackets, above each.'
    shown = repr(value) if isinstance(value, str | int | float | bool) else "that"
    if isinstance(value, float) and not math.isfinite(value):
        return f"{where}: {field} = {value} is no number to judge by. Write a finite one."
    return f"{where}: {field} cannot be {shown[:60]}. {first['msg']}."
