"""The commands there are, in the order `--help` lists them; each is loaded once it is called."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Command:
    """Where a command stands, and what it does."""

    module: str
    function: str
    summary: str
    """The first line of its docstring, so that the command need not be loaded to be listed."""


COMMANDS: Mapping[str, Command] = {
    "demo": Command(
        "dashboard.command_line.commands.page",
        "demo",
        "Open the page over the virtual bench. No hardware needed; all data is invented.",
    ),
    "tour": Command(
        "dashboard.command_line.commands.tour",
        "tour",
        "See the whole job in a few seconds, without hardware. All its data is invented.",
    ),
    "live": Command(
        "dashboard.command_line.commands.page",
        "live",
        "Open the page over your analyzer: calibrate, bend, accept.",
    ),
    "ports": Command(
        "dashboard.command_line.commands.ports",
        "ports",
        "List the serial ports without touching any; ask one who it is.",
    ),
    "calibrate": Command(
        "dashboard.command_line.commands.calibrate",
        "calibrate",
        "Calibrate at the connector, guided: open, short, load.",
    ),
    "morning": Command(
        "dashboard.command_line.commands.morning",
        "morning",
        "Sweep the bench's check piece, once each morning, and chart it over days.",
    ),
    "verify": Command(
        "dashboard.command_line.commands.verify",
        "verify",
        "Check a calibration; what it shows is kept with it and counts from then on.",
    ),
    "trust": Command(
        "dashboard.command_line.commands.trust",
        "trust",
        "Say how far readings can be trusted, what costs most, and what would help. No hardware.",
    ),
    "characterise": Command(
        "dashboard.command_line.commands.characterise",
        "characterise",
        "Measure home-made standards against a better kit, and write a kit of them.",
    ),
    "cable": Command(
        "dashboard.command_line.commands.cable",
        "cable",
        "Sweep a cable with its end open and shorted: loss, delay, and what that does to verdicts.",
    ),
    "fault": Command(
        "dashboard.command_line.commands.fault", "fault", "Show what a cable reflects, and where."
    ),
    "sweep": Command(
        "dashboard.command_line.commands.sweep",
        "sweep",
        "Take one sweep; with a calibration and a plan, judge it.",
    ),
    "check": Command(
        "dashboard.command_line.commands.check",
        "check",
        "Judge a Touchstone file against a plan. Needs no hardware.",
    ),
    "accept": Command(
        "dashboard.command_line.commands.accept",
        "accept",
        "Sweep a finished antenna, judge it and write its record.",
    ),
    "finish": Command(
        "dashboard.command_line.commands.finish",
        "finish",
        "Put a standard back at a batch's end: does what was accepted since count?",
    ),
    "recheck": Command(
        "dashboard.command_line.commands.recheck",
        "recheck",
        "Check that a record is as it was written and that its verdict follows. Needs no hardware.",
    ),
    "report": Command(
        "dashboard.command_line.commands.report",
        "report",
        "Make a record's report from its raw readings: one page, the verdict first. No hardware.",
    ),
    "records": Command(
        "dashboard.command_line.commands.records",
        "records",
        "List, search and filter the records, the newest first. Needs no hardware.",
    ),
    "compare": Command(
        "dashboard.command_line.commands.compare",
        "compare",
        "Hold up to twelve antennas against each other. Needs no hardware.",
    ),
    "batch": Command(
        "dashboard.command_line.commands.batch",
        "batch",
        "Tell yield, spread and drift of what was built by one recipe, and what each size does.",
    ),
    "bands": Command(
        "dashboard.command_line.commands.bands",
        "bands",
        "Look operating bands up, and write a plan to start from.",
    ),
    "import": Command(
        "dashboard.command_line.commands.import_file",
        "import_file",
        "Take a Touchstone file of the past in as a record. Needs no hardware.",
    ),
    "report-a-fault": Command(
        "dashboard.command_line.commands.fault_report",
        "fault_report",
        "Put versions, profile and last bytes into one file to report a fault with. No hardware.",
    ),
}
