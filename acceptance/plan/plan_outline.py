"""What a form shows of a plan's text: read leniently, so that a plan half made can be finished.

`parse_plan` alone says whether it is a plan. Here each band is held against it by itself, so that
what is wrong stands beside the band that it is about.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import tomlkit

from acceptance.bands.band_table import BandTable, Link, Span, mhz
from acceptance.bands.search import own_range
from acceptance.errors import PlanError
from acceptance.limits.limit import Limit, Metric, Preset
from acceptance.plan.acceptance_plan import FINISHED, Target
from acceptance.plan.plan_editing import LINKS, METRICS, table
from acceptance.plan.plan_file import MOST_BANDS, parse_plan

_WHERE = re.compile(r"^one: (?:band 1(?: \(.*?\))?: )?")
_ONE = "one"


@dataclass(frozen=True, slots=True)
class WrittenLimit:
    """A limit as the text has it."""

    link: str
    """"uplink", "downlink", or empty for both."""
    metric: Metric
    value: float | None
    """None where none is written that is a number."""
    preset: str = ""
    """The name of the limit in common use that the text gives instead."""


@dataclass(frozen=True, slots=True)
class OutlinedBand:
    """One band of the plan."""

    at: int
    """Where it stands, from 0."""
    key: str
    """As the search names it; empty where it is none that the search finds."""
    title: str
    spans: tuple[tuple[Link, Span], ...]
    """Each link's range, Hz; () where that is not known."""
    limits: tuple[WrittenLimit, ...]
    """One, or one a link."""
    splits: bool
    """True where each link may have a limit of its own."""
    problem: str
    """What is wrong with it and the cure; empty where nothing is."""


@dataclass(frozen=True, slots=True)
class Outline:
    """A plan's text as a form shows it."""

    name: str
    bands: tuple[OutlinedBand, ...]
    limit: Limit | None
    """The one limit of all bands; None where they differ, or there are none."""
    conditions: tuple[str, ...]
    judged: tuple[str, ...]


def outline(text: str, bands: BandTable, presets: Sequence[Preset]) -> Outline:
    """What a form shows of a text. Raises PlanError where it is no TOML, or no plan can be so."""
    plan = table(text)
    entries: Any = plan.get("band", [])
    if not isinstance(entries, list) or not all(isinstance(each, dict) for each in entries):
        raise PlanError(
            'The plan: bands are a list. Write "[[band]]", with two brackets, above each.'
        )
    if len(entries) > MOST_BANDS:
        raise PlanError(
            f"The plan: {len(entries)} bands are more than the {MOST_BANDS} it may have."
        )
    keys = {band.name: f"{band.system} {band.number}" for band in bands}
    shown = tuple(_band(at, each, bands, presets, keys) for at, each in enumerate(entries))
    conditions = _names(plan.get("conditions")) or (FINISHED,)
    name = plan.get("name", "")
    return Outline(
        name if isinstance(name, str) else "",
        shown,
        _common(shown, presets),
        conditions,
        _names(plan.get("judged")) or conditions[-1:],
    )


def _band(
    at: int,
    entry: Mapping[str, Any],
    bands: BandTable,
    presets: Sequence[Preset],
    keys: Mapping[str, str],
) -> OutlinedBand:
    targets, problem = _targets(entry, bands, presets)
    limits = _limits(entry)
    if not targets:  # perhaps only its limit is missing
        bare = {
            key: value for key, value in entry.items() if key not in (*LINKS, "limit", *METRICS)
        }
        targets, _ = _targets({**bare, "vswr": 2.0}, bands, presets)
    title = targets[0].name if targets else _title(at, entry)
    spans: tuple[tuple[Link, Span], ...] = tuple(
        (each.link, (each.low_hz, each.high_hz)) for each in targets
    )
    splits = len(spans) == len(LINKS)
    return OutlinedBand(
        at, keys.get(title) or _own_key(entry), title, spans, limits, splits, problem
    )


def _targets(
    entry: Mapping[str, Any], bands: BandTable, presets: Sequence[Preset]
) -> tuple[tuple[Target, ...], str]:
    """What one band alone means; or why it means nothing."""
    text = tomlkit.dumps({"name": _ONE, "band": [dict(entry)]})
    try:
        return parse_plan(text, _ONE, bands, presets).targets, ""
    except PlanError as error:
        return (), _WHERE.sub("", str(error))


def _title(at: int, entry: Mapping[str, Any]) -> str:
    for key, words in (
        ("name", "{}"),
        ("lte", "LTE {}"),
        ("nr", "NR n{}"),
        ("earfcn", "EARFCN {}"),
    ):
        if key in entry:
            return words.format(entry[key])[:60]
    return f"Band {at + 1}"


def _own_key(entry: Mapping[str, Any]) -> str:
    try:
        edges = mhz(entry["low_mhz"]), mhz(entry["high_mhz"])
        return own_range(str(entry["name"]), *edges).key
    except (KeyError, TypeError, ValueError, OverflowError):
        return ""


def _limits(entry: Mapping[str, Any]) -> tuple[WrittenLimit, ...]:
    own = _written(entry, "")
    links = tuple(link for link in LINKS if isinstance(entry.get(link), Mapping))
    if not links:
        return (own,)
    return tuple(
        _written(entry[link], link)
        if link in links
        else WrittenLimit(link, own.metric, own.value, own.preset)
        for link in LINKS
    )


def _written(entry: Mapping[str, Any], link: str) -> WrittenLimit:
    for metric in METRICS:
        value = entry.get(metric)
        if isinstance(value, int | float) and not isinstance(value, bool):
            return WrittenLimit(link, metric, abs(value) if metric == METRICS[0] else value)
    preset = entry.get("limit")
    return WrittenLimit(link, METRICS[0], None, preset if isinstance(preset, str) else "")


def _common(shown: Sequence[OutlinedBand], presets: Sequence[Preset]) -> Limit | None:
    """The limit that all have; a preset counts as what it stands for where it is one for both."""
    meant = {each.name: each.limit for each in presets if each.link == "both"}
    found: set[Limit] = set()
    for limit in (limit for band in shown for limit in band.limits):
        try:
            one = meant.get(limit.preset)
            found.add(Limit(limit.metric, limit.value) if limit.value is not None else _known(one))
        except PlanError:
            return None
    return found.pop() if len(found) == 1 else None


def _known(limit: Limit | None) -> Limit:
    if limit is None:
        raise PlanError("There is no such limit.")
    return limit


def _names(written: Any) -> tuple[str, ...]:
    return tuple(str(each) for each in written) if isinstance(written, list) else ()
