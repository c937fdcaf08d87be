"""A plan made on the page: a region's bands as a suggestion, some of them chosen, one limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acceptance.bands.band_table import Band, System
from acceptance.bands.load import load_bands, load_regions
from acceptance.errors import BandError
from acceptance.limits.limit import Limit, Metric
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_presets
from acceptance.plan.plan_file import parse_plan

SUGGESTION = "# A suggestion to edit, not a statement of what is licensed where."
DEFAULT_LIMITS: dict[Metric, float] = {"return_loss_db": 10.0, "vswr": 2.0}


@dataclass(frozen=True, slots=True)
class Choice:
    """One band on offer."""

    key: str
    """As "lte 20"."""
    words: str
    """As "LTE 20, 791 to 862 MHz"."""
    common_name: str


def region_names() -> list[str]:
    """The parts of the world there are suggestions for."""
    return list(dict.fromkeys(region.name for region in load_regions()))


def region_words(name: str) -> str:
    """A region as it is written: "Southeast Asia", "USA"."""
    return "USA" if name == "usa" else name.replace("-", " ").title()


def suggested(region: str) -> tuple[Choice, ...]:
    """Bands a region is suggested to use; one that LTE and NR share stands once, as LTE.

    Raises BandError where there is no such region.
    """
    rows = [row for row in load_regions() if row.name == region]
    if not rows:
        raise BandError(f'There is no region "{region}". Choose one of the list.')
    found: dict[int, Choice] = {}
    for row in sorted(rows, key=lambda row: row.system):
        for number in row.numbers:
            found.setdefault(number, _choice(load_bands().find(row.system, number)))
    return tuple(found.values())


def plan_text(name: str, keys: Sequence[str], metric: Metric, value: float) -> str:
    """Write a plan's TOML for chosen bands and one limit.

    Raises BandError for a key that names no band, PlanError for a limit that cannot be meant.
    """
    limit = Limit.return_loss(value) if metric == "return_loss_db" else Limit(metric, value)
    lines = [SUGGESTION, f'name = "{_quotable(name)}"']
    for key in keys:
        band = _band(key)
        lines += ["", "[[band]]", f"{band.system} = {band.number}"]
        lines.append(f"{limit.metric} = {limit.value:g}")
    return "\n".join(lines) + "\n"


def read_plan(text: str) -> Plan:
    """Read a plan typed on the page. Raises PlanError, one sentence."""
    return parse_plan(text, "The plan", load_bands(), load_presets())


def _choice(band: Band) -> Choice:
    low = min(low_hz for _, (low_hz, _) in band.spans) / 1e6
    high = max(high_hz for _, (_, high_hz) in band.spans) / 1e6
    words = f"{band.name}, {low:g} to {high:g} MHz"
    return Choice(f"{band.system} {band.number}", words, band.common_name)


def _band(key: str) -> Band:
    system, _, number = key.partition(" ")
    systems: dict[str, System] = {"lte": "lte", "nr": "nr"}
    if system not in systems or not number.isdecimal():
        raise BandError(f'"{key}" names no band.')
    return load_bands().find(systems[system], int(number))


def _quotable(name: str) -> str:
    return "".join(letter for letter in name if letter.isprintable() and letter not in '"\\')
