"""A plan made on the page: its text is the plan, and a form over it changes that text.

The page sends the text and what a person did; what comes back is the text after it, and what the
form shows of it. Nothing is kept here between two requests, and the bench is not touched: that is
done by the action "use plan" alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from acceptance.bands.band_table import Band, Link, Region, Span, System
from acceptance.bands.load import load_bands, load_regions, load_services
from acceptance.bands.search import Found, find_bands
from acceptance.errors import BandError, PlanError
from acceptance.limits.limit import Limit, Metric
from acceptance.plan import plan_editing
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_presets
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.plan_outline import Outline, OutlinedBand, WrittenLimit, outline
from acceptance.record.conditions import KNOWN_CONDITIONS, words_of
from acquire.errors import BandwrightError

ORIGIN = "The plan"
NEW_PLAN = 'name = "my plan"\n'
NO_BANDS = "Search for the bands that this antenna must serve, and tick them."
USUAL_LIMIT = Limit("return_loss_db", 10.0)
"""Of a first band, where no other has one [practice]."""
NAMELESS = "my plan"


def read_plan(text: str) -> Plan:
    """Read a plan typed on the page. Raises PlanError, one sentence."""
    return parse_plan(text, ORIGIN, load_bands(), load_presets())


def region_words(name: str) -> str:
    """A region as it is written: "Southeast Asia", "USA"."""
    return "USA" if name == "usa" else name.replace("-", " ").title()


def regions() -> list[dict[str, str]]:
    """The parts of the world there are suggestions for, as a list to choose from."""
    names = dict.fromkeys(region.name for region in load_regions())
    return [{"name": name, "label": region_words(name)} for name in names]


def bands_of_region(name: str) -> list[tuple[System, int]]:
    """Bands that a region is suggested to use; one that LTE and NR share stands once, as LTE.

    Raises BandError where there is no such region.
    """
    rows: list[Region] = [row for row in load_regions() if row.name == name]
    if not rows:
        raise BandError(f'There is no region "{name}". Choose one of the list.')
    found: dict[int, System] = {}
    for row in sorted(rows, key=lambda row: row.system):
        for number in row.numbers:
            found.setdefault(number, row.system)
    return [(system, number) for number, system in found.items()]


def search(typed: str) -> list[dict[str, Any]]:
    """Bands and services that may be meant, as the page lists them."""
    return [_found(each) for each in find_bands(typed[:80], load_bands(), load_services())]


def form_of(text: str) -> dict[str, Any]:
    """What the page shows of a text: the form, or why there is none; and what is wrong with it."""
    answer: dict[str, Any] = {
        "text": text,
        "form": None,
        "problem": "",
        "doubts": [],
        "usable": False,
    }
    try:
        shown = outline(text, load_bands(), load_presets())
    except PlanError as error:
        return answer | {"problem": _without_origin(error)}
    answer["form"] = _form(shown)
    try:
        plan = read_plan(text)
    except PlanError as error:
        mended_there = any(band.problem for band in shown.bands)
        words = "" if mended_there else _without_origin(error)
        return answer | {"problem": words if shown.bands else NO_BANDS}
    return answer | {"usable": True, "doubts": [each.doubt for each in plan.targets if each.doubt]}


def edited(text: str, change: Mapping[str, Any]) -> str:
    """The text after what a person did with the form.

    change : "edit" names one of EDITS; what it takes stands beside it. Raises PlanError, BandError,
    and KeyError, TypeError, ValueError for what no page of this version sends.
    """
    if not isinstance(plan_editing.table(text).get("name", NAMELESS), str):
        raise PlanError(plan_editing.BY_HAND)
    named = text if "name" in plan_editing.table(text) else plan_editing.use_name(text, NAMELESS)
    return EDITS[change["edit"]](named, change)


def _add(text: str, change: Mapping[str, Any]) -> str:
    key = str(change["key"])
    limit = outline(text, load_bands(), load_presets()).limit or _last_limit(text)
    if key.startswith("range "):
        name, low_mhz, high_mhz = key.removeprefix("range ").split("|")
        return plan_editing.add_range(text, name, _finite(low_mhz), _finite(high_mhz), limit)
    band = _band(key)
    return plan_editing.add_band(text, band.system, band.number, limit)


def _last_limit(text: str) -> Limit:
    """Where limits differ, another band is given the last one's."""
    for band in reversed(outline(text, load_bands(), load_presets()).bands):
        for each in band.limits:
            if each.value is not None:
                return _limit({"metric": each.metric, "value": each.value})
    return USUAL_LIMIT


def _use_region(text: str, change: Mapping[str, Any]) -> str:
    region = str(change["region"])
    shown = outline(text, load_bands(), load_presets())
    made = plan_editing.use_bands(
        text, bands_of_region(region), shown.limit or USUAL_LIMIT, plan_editing.SUGGESTION
    )
    suggested = {NAMELESS, *(each["label"] for each in regions())}
    return plan_editing.use_name(made, region_words(region)) if shown.name in suggested else made


def _split(text: str, change: Mapping[str, Any]) -> str:
    """Give the uplink a limit of its own, the same as the band's to begin with."""
    at = int(change["at"])
    written = outline(text, load_bands(), load_presets()).bands[at].limits[0]
    limit = USUAL_LIMIT
    if written.value is not None:
        limit = Limit(written.metric, written.value)
    elif presets := [each for each in load_presets() if each.name == written.preset]:
        limit = presets[0].limit
    return plan_editing.use_limit_of(text, at, limit, "uplink")


def _use_conditions(text: str, change: Mapping[str, Any]) -> str:
    conditions = [str(name) for name in change["conditions"]]
    judged = [name for name in conditions if name in list(change["judged"])]
    # the last one decides by itself, and a plan of one state needs no line
    plain = judged == conditions[-1:]
    if conditions == ["finished"]:
        conditions = []
    return plan_editing.use_conditions(text, conditions, [] if plain else judged)


def _use_limit_of(text: str, change: Mapping[str, Any]) -> str:
    link = str(change.get("link", ""))
    if link not in ("", *plan_editing.LINKS):
        raise ValueError(link)
    return plan_editing.use_limit_of(text, int(change["at"]), _limit(change), link)


EDITS: Mapping[str, Callable[[str, Mapping[str, Any]], str]] = {
    "name": lambda text, change: plan_editing.use_name(text, str(change["name"]).strip()),
    "add": _add,
    "remove": lambda text, change: plan_editing.remove_band(text, int(change["at"])),
    "region": _use_region,
    "limit": lambda text, change: plan_editing.use_limit(text, _limit(change)),
    "limit of": _use_limit_of,
    "split": _split,
    "join": lambda text, change: plan_editing.join_links(text, int(change["at"])),
    "conditions": _use_conditions,
}
"""What a person can do with the form, by name."""


def _limit(change: Mapping[str, Any]) -> Limit:
    metrics: dict[str, Metric] = {each: each for each in plan_editing.METRICS}
    metric, value = metrics[change["metric"]], _finite(change["value"])
    return Limit.return_loss(value) if metric == "return_loss_db" else Limit(metric, value)


def _finite(value: Any) -> float:
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(value)
    return number


def _band(key: str) -> Band:
    system, _, number = key.partition(" ")
    systems: dict[str, System] = {"lte": "lte", "nr": "nr"}
    if system not in systems or not number.isdecimal():
        raise BandError(f'"{key}" names no band. Search for it again.')
    return load_bands().find(systems[system], int(number))


def _form(shown: Outline) -> dict[str, Any]:
    return {
        "name": shown.name,
        "bands": [_shown_band(each) for each in shown.bands],
        "limit": None if shown.limit is None else _limit_json(shown.limit),
        "conditions": [
            {"name": name, "label": words_of(name).label, "judged": name in shown.judged}
            for name in shown.conditions
        ],
        "known": [{"name": name, "label": words.label} for name, words in KNOWN_CONDITIONS.items()],
    }


def _limit_json(limit: Limit) -> dict[str, Any]:
    return {"metric": limit.metric, "value": limit.value}


def _shown_band(band: OutlinedBand) -> dict[str, Any]:
    return {
        "at": band.at,
        "key": band.key,
        "title": band.title,
        "ranges": _ranges(band.spans),
        "limits": [_written(each) for each in band.limits],
        "splits": band.splits,
        "problem": band.problem,
    }


def _written(limit: WrittenLimit) -> dict[str, Any]:
    return {
        "link": limit.link,
        "metric": limit.metric,
        "value": limit.value,
        "preset": limit.preset,
    }


def _found(found: Found) -> dict[str, Any]:
    return {
        "key": found.key,
        "title": found.title,
        "also": found.also,
        "ranges": _ranges(found.spans),
    }


def _ranges(spans: Sequence[tuple[Link, Span]]) -> list[dict[str, str]]:
    return [
        {"link": link, "words": f"{low_hz / 1e6:g} to {high_hz / 1e6:g}"}
        for link, (low_hz, high_hz) in spans
    ]


def _without_origin(error: BandwrightError) -> str:
    """A refusal as the page says it, beside the plan that it is about."""
    words = str(error).removeprefix(f"{ORIGIN}: ")
    return words[:1].upper() + words[1:]
