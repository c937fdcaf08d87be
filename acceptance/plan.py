"""A plan: which bands an antenna must serve, and how good its match must be in each.

Written by a person as TOML:

    name = "gauge modem, Europe"

    [[band]]
    lte = 20                     # or nr, earfcn, nr_arfcn, or name with low_mhz and high_mhz
    return_loss_db = 10          # or vswr = 2.0, or limit = "strict" (a preset)
    uplink = { vswr = 1.8 }      # another limit on one link

`guard = "full"` beside the name, the default, lets a band pass only where its reading lies within
the limit by the whole of its uncertainty; "none", or a factor, says otherwise. For an acceptance
`sweeps = 4` are averaged, and the calibration must have been checked lately where
`verified_within_hours` (a known device measured back) or `drift_checked_within_hours` (one of its
own standards put back) says so. What else an acceptance asks for, each with its default:

    conditions = ["finished"]    # in which states the unit is swept, in this order
    judged = ["finished"]        # which of them decide; without it, the last one
    touch_test = false           # a hand on the cable must change nothing that matters
    warm_up_minutes = 0          # how long the unit must have been sweeping
    antennas = 1                 # with more, that isolation was not measured is said
"""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Literal, NoReturn

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from acceptance.bands import Band, BandTable, Link, Span, mhz
from acceptance.channels import lte_channel, nr_channel
from acceptance.errors import BandError, PlanError
from acceptance.limit import Limit, Preset

MOST_CHARACTERS = 1_000_000
MOST_BANDS = 200
NARROWEST_HZ = 1e3
DEFAULT_MARGIN_PERCENT = 5.0

FINISHED = "finished"
"""The one condition of a plan that names none."""
DEVICE_NAMES = {"con", "prn", "aux", "nul", *(f"{d}{n}" for d in ("com", "lpt") for n in range(10))}
"""What no file may be called on one system or another."""

Number = Annotated[float, Field(allow_inf_nan=False)]
Name = Annotated[str, Field(min_length=1, max_length=100)]
ConditionName = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]{0,29}$")]
"""A folder of its own in the record."""


@dataclass(frozen=True, slots=True)
class Target:
    """One range of frequencies to be judged against one limit."""

    name: str
    """"LTE 20", "NR n78", or the name the plan gives."""
    link: Link
    """"both" where the band has one range for both, or the plan does not tell them apart."""
    low_hz: float
    high_hz: float
    limit: Limit
    note: str = ""
    """What limits the band's use, by country or by kind."""


@dataclass(frozen=True, slots=True)
class Plan:
    """Targets, in the order the plan names them."""

    name: str
    targets: tuple[Target, ...]
    margin: float
    """How far beyond each target to sweep, as a fraction of its width on either side."""
    guard: float
    """Guard band as a multiple of the uncertainty: 1 for "full", 0 for "none"."""
    text: str
    """The TOML it was read from, for the record."""
    sweeps: int = 4
    """How many sweeps that agree an acceptance averages."""
    verified_within_hours: float | None = None
    """How young a known device's agreement must be for an acceptance; None: it need not be."""
    drift_checked_within_hours: float | None = None
    """How young a check for drift must be; a known device's agreement counts as one."""
    conditions: tuple[str, ...] = (FINISHED,)
    """States of the unit that an acceptance sweeps, in this order."""
    judged: tuple[str, ...] = (FINISHED,)
    """Those of them that decide; the others only show what changed."""
    touch_test: bool = False
    warm_up_minutes: float = 0.0
    """How long the analyzer must have been sweeping before an acceptance."""
    antennas: int = 1
    """How many antennas the unit has; one is swept at a time, and isolation never is."""

    @property
    def spans(self) -> tuple[Span, ...]:
        """(low_hz, high_hz) of every target: what a sweep must cover."""
        return tuple((target.low_hz, target.high_hz) for target in self.targets)


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class _LimitEntry(_Strict):
    return_loss_db: Number | None = None
    vswr: Number | None = None


class _BandEntry(_Strict):
    lte: int | None = None
    nr: int | None = None
    earfcn: int | None = None
    nr_arfcn: int | None = None
    name: Name | None = None
    low_mhz: Number | None = None
    high_mhz: Number | None = None
    return_loss_db: Number | None = None
    vswr: Number | None = None
    limit: str | None = None
    uplink: _LimitEntry | None = None
    downlink: _LimitEntry | None = None


class _PlanFile(_Strict):
    name: Name
    band: Annotated[list[_BandEntry], Field(min_length=1, max_length=MOST_BANDS)]
    margin_percent: Annotated[Number, Field(ge=0, le=100)] = DEFAULT_MARGIN_PERCENT
    guard: Literal["full", "none"] | Annotated[Number, Field(ge=0, le=3)] = "full"
    sweeps: Annotated[int, Field(ge=2, le=100)] = 4
    verified_within_hours: Annotated[Number, Field(gt=0, le=10_000)] | None = None
    drift_checked_within_hours: Annotated[Number, Field(gt=0, le=10_000)] | None = None
    conditions: Annotated[list[ConditionName], Field(min_length=1, max_length=12)] = [FINISHED]
    judged: Annotated[list[ConditionName], Field(min_length=1, max_length=12)] | None = None
    touch_test: bool = False
    warm_up_minutes: Annotated[Number, Field(ge=0, le=600)] = 0.0
    antennas: Annotated[int, Field(ge=1, le=16)] = 1


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
    judged = _judged(file, origin)
    targets: list[Target] = []
    for at, entry in enumerate(file.band, 1):
        reader = _EntryReader(entry, f"{origin}: band {at}", bands, presets)
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


class _EntryReader:
    """One [[band]] of a plan, with what messages call it."""

    def __init__(
        self, entry: _BandEntry, where: str, bands: BandTable, presets: Sequence[Preset]
    ) -> None:
        self.entry = entry
        self.where = where
        self.bands = bands
        self.presets = presets

    def refuse(self, sentence: str) -> NoReturn:
        raise PlanError(f"{self.where}: {sentence}")

    def targets(self) -> list[Target]:
        entry = self.entry
        own = entry.low_mhz is not None or entry.high_mhz is not None or entry.name is not None
        numbered = [
            key for key in ("lte", "nr", "earfcn", "nr_arfcn") if getattr(entry, key) is not None
        ]
        if own and numbered:
            self.refuse(
                f"{numbered[0]} and a range of its own are both given. Keep {numbered[0]}, or "
                "name with low_mhz and high_mhz."
            )
        if own:
            return [self.own_target()]
        if not numbered:
            self.refuse(
                "it names no band. Write lte, nr, earfcn or nr_arfcn with a number, or name with "
                "low_mhz and high_mhz."
            )
        band = self.band(numbered)
        self.where += f" ({band.name})"
        if band.duplex == "TDD" and (entry.uplink or entry.downlink):
            self.refuse(
                "a TDD band has one range for both links. Give one limit, without uplink and "
                "downlink."
            )
        links = [link for link, _ in band.spans]
        for link in ("uplink", "downlink"):
            if getattr(entry, link) is not None and link not in links and band.duplex != "TDD":
                self.refuse(f"the band has no {link}. Remove the {link} limit.")
        return [
            Target(band.name, link, low_hz, high_hz, self.limit(link), band.note)
            for link, (low_hz, high_hz) in band.spans
        ]

    def own_target(self) -> Target:
        entry = self.entry
        if not (entry.name and entry.low_mhz is not None and entry.high_mhz is not None):
            self.refuse("a range of one's own needs name, low_mhz and high_mhz.")
        self.where += f" ({entry.name})"
        if entry.uplink or entry.downlink:
            self.refuse("a range of one's own has no uplink and downlink. Give one limit.")
        if not 0 < entry.low_mhz < entry.high_mhz <= 100_000:
            self.refuse(
                f"low_mhz = {entry.low_mhz:g} and high_mhz = {entry.high_mhz:g} are no range. The "
                "lower edge comes first, both in MHz, above 0 and at most 100000."
            )
        low_hz, high_hz = mhz(entry.low_mhz), mhz(entry.high_mhz)
        if high_hz - low_hz < NARROWEST_HZ:
            self.refuse(f"a range of {high_hz - low_hz:g} Hz is too narrow to be measured.")
        return Target(entry.name, "both", low_hz, high_hz, self.limit("both"))

    def band(self, numbered: list[str]) -> Band:
        entry = self.entry
        try:
            if numbered == ["lte"] and entry.lte is not None:
                return self.bands.find("lte", entry.lte)
            if numbered == ["nr"] and entry.nr is not None:
                return self.bands.find("nr", entry.nr)
            if numbered == ["earfcn"] and entry.earfcn is not None:
                return lte_channel(entry.earfcn, self.bands).bands[0][0]
            if "nr_arfcn" in numbered and numbered in (["nr_arfcn"], ["nr", "nr_arfcn"]):
                return self.band_of_nr_channel()
        except BandError as error:
            self.refuse(str(error))
        return self.refuse(f"{' and '.join(numbered)} are both given. Keep one.")

    def band_of_nr_channel(self) -> Band:
        entry = self.entry
        channel = nr_channel(entry.nr_arfcn or 0, self.bands)
        where = f"nr_arfcn = {channel.number} is {channel.frequency_hz / 1e6:.3f} MHz"
        if entry.nr is not None:
            band = self.bands.find("nr", entry.nr)
            if all(band is not candidate for candidate, _ in channel.bands):
                self.refuse(f"{where}, which is not in {band.name}. Remove one of the two.")
            return band
        if not channel.bands:
            self.refuse(f"{where}, which lies in no band of the table. Check the number.")
        # A modem reports the channel it hears, so a band's downlink comes first.
        heard = [band for band, link in channel.bands if link != "uplink"]
        if len(heard) > 1 or not heard:
            listed = ", ".join(f"n{band.number} ({link})" for band, link in channel.bands)
            self.refuse(
                f"{where}, which lies in {listed}. Say which the modem uses by a line such as "
                f"nr = {(heard or [channel.bands[0][0]])[0].number} beside it."
            )
        return heard[0]

    def limit(self, link: Link) -> Limit:
        """The limit for a link: its own, else the entry's."""
        entry = self.entry
        own = {"uplink": entry.uplink, "downlink": entry.downlink}.get(link)
        if own is not None:
            limit = self.written(own.return_loss_db, own.vswr, link)
            if limit is None:
                self.refuse(f"{link} = {{}} has no limit. Write {link} = {{ vswr = 1.8 }}.")
            return limit
        limit = self.written(entry.return_loss_db, entry.vswr, "")
        if entry.limit is not None:
            if limit is not None:
                self.refuse("a preset and a limit are both given. Keep one.")
            return self.preset(entry.limit, link)
        if limit is None:
            self.refuse(
                "it has no limit. Write return_loss_db = 10, or vswr = 2.0; the two are not the "
                "same."
            )
        return limit

    def written(self, level_db: float | None, ratio: float | None, link: str) -> Limit | None:
        place = f"{link}: " if link else ""
        if level_db is not None and ratio is not None:
            self.refuse(f"{place}return_loss_db and vswr are both given. Keep one.")
        try:
            if level_db is not None:
                return Limit.return_loss(level_db)
            if ratio is not None:
                return Limit("vswr", ratio)
        except PlanError as error:
            self.refuse(f"{place}{error}")
        return None

    def preset(self, name: str, link: Link) -> Limit:
        rows = [preset for preset in self.presets if preset.name == name]
        if not rows:
            try:
                float(name)
            except ValueError:
                known = ", ".join(dict.fromkeys(preset.name for preset in self.presets))
                self.refuse(f'limit = "{name}" is no preset. There are: {known or "none"}.')
            self.refuse(
                f'limit = "{name}" has no metric. Write return_loss_db = {name} or vswr = {name}.'
            )
        for preset in rows:
            if preset.link in ("both", link):
                return preset.limit
        return self.refuse(
            f'limit = "{name}" differs between uplink and downlink, but this range is both. Give '
            "return_loss_db or vswr."
        )


def _guard(written: Literal["full", "none"] | float) -> float:
    """The guard band as a multiple of the uncertainty."""
    if isinstance(written, str):
        return {"full": 1.0, "none": 0.0}[written]
    return float(written)


def _validated(text: str, origin: str) -> _PlanFile:
    if len(text) > MOST_CHARACTERS:
        raise PlanError(f"{origin}: {len(text)} characters are more than a plan can need.")
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError: also integers of 5000 digits
        detail = str(error).rstrip(".") or "nested too deeply"
        raise PlanError(
            f"{origin}: not TOML: {detail}. Text stands in quotes, numbers take a point."
        ) from error
    try:
        return _PlanFile.model_validate(raw)
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
        models: dict[int, type[BaseModel]] = {3: _BandEntry, 4: _LimitEntry}
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
    if field == "sweeps":
        return f"{origin}: sweeps is {value!r}. Write a whole number from 2 to 100."
    if path and path[0] in ("conditions", "judged"):
        return (
            f"{origin}: {path[0]} holds {value!r}. Write a list of one to twelve names of small "
            'letters, digits and dashes, such as ["bare", "sealed"].'
        )
    if field == "warm_up_minutes":
        return f"{origin}: warm_up_minutes is {value!r}. Write minutes from 0 to 600."
    if field == "antennas":
        return f"{origin}: antennas is {value!r}. Write a whole number from 1 to 16."
    if field.endswith("_within_hours"):
        return f"{origin}: {field} is {value!r}. Write hours above 0, or leave it out."
    if field == "band":
        return f'{origin}: bands are a list. Write "[[band]]", with two brackets, above each.'
    shown = repr(value) if isinstance(value, str | int | float | bool) else "that"
    if isinstance(value, float) and not math.isfinite(value):
        return f"{where}: {field} = {value} is no number to judge by. Write a finite one."
    return f"{where}: {field} cannot be {shown[:60]}. {first['msg']}."
