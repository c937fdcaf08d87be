"""One quantity in the order of time, as a control chart shows it: of records, or of one piece."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from acceptance.batch.control_chart import ControlChart


@dataclass(frozen=True, slots=True)
class Charted:
    """Whose a value is."""

    label: str
    """What stands at its point: an antenna's name, or a day."""
    at: datetime
    folder: str = ""
    """The record's; empty where it is no record's."""


@dataclass(frozen=True, slots=True)
class ChartedSeries:
    """The values that there are, and what is ordinary among them."""

    name: str
    """What it is: "dip 1", "margin", or the name of a piece."""
    unit: str
    """What it is measured in: "MHz" or "dB"."""
    charted: tuple[Charted, ...]
    """Whose each value of the chart is."""
    chart: ControlChart
    missing: tuple[str, ...] = ()
    """Labels of what has no value."""
    of: str = "record"
    """What has a value each, in the singular."""
