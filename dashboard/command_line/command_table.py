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
        "Open the page with a virtual bench; no hardware needed.",
    ),
    "tour": Command(
        "dashboard.command_line.commands.tour",
        "tour",
        "See the whole job in seconds, on invented data.",
    ),
    "live": Command(
        "dashboard.command_line.commands.page",
        "live",
        "Open the page for your analyzer: calibrate, tune, accept.",
    ),
    "ports": Command(
        "dashboard.command_line.commands.ports",
        "ports",
        "List the serial ports, or identify the device on one.",
    ),
    "calibrate": Command(
        "dashboard.command_line.commands.calibrate",
        "calibrate",
        "Calibrate at the connector with open, short and load.",
    ),
    "morning": Command(
        "dashboard.command_line.commands.morning",
        "morning",
        "Sweep the check piece and chart it from day to day.",
    ),
    "verify": Command(
        "dashboard.command_line.commands.verify",
        "verify",
        "Check a calibration, and keep what the check shows.",
    ),
    "trust": Command(
        "dashboard.command_line.commands.trust",
        "trust",
        "Show how far to trust a reading, and what limits it.",
    ),
    "characterise": Command(
        "dashboard.command_line.commands.characterise",
        "characterise",
        "Measure home-made standards against a better kit.",
    ),
    "cable": Command(
        "dashboard.command_line.commands.cable",
        "cable",
        "Measure a cable's loss and delay with two sweeps.",
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
        "Judge a Touchstone file against a plan.",
    ),
    "accept": Command(
        "dashboard.command_line.commands.accept",
        "accept",
        "Sweep a finished antenna, judge it and write its record.",
    ),
    "finish": Command(
        "dashboard.command_line.commands.finish",
        "finish",
        "End a batch: check that its calibration still holds.",
    ),
    "recheck": Command(
        "dashboard.command_line.commands.recheck",
        "recheck",
        "Verify a record: its files, its dates and its verdict.",
    ),
    "report": Command(
        "dashboard.command_line.commands.report",
        "report",
        "Make a record's one-page report from its raw readings.",
    ),
    "records": Command(
        "dashboard.command_line.commands.records",
        "records",
        "List, search and filter the records, newest first.",
    ),
    "compare": Command(
        "dashboard.command_line.commands.compare",
        "compare",
        "Compare up to twelve antennas.",
    ),
    "batch": Command(
        "dashboard.command_line.commands.batch",
        "batch",
        "Show yield, spread and drift for one recipe.",
    ),
    "bands": Command(
        "dashboard.command_line.commands.bands",
        "bands",
        "Look up operating bands, and write a plan to start from.",
    ),
    "import": Command(
        "dashboard.command_line.commands.import_file",
        "import_file",
        "Turn a Touchstone file you have into a record.",
    ),
    "report-a-fault": Command(
        "dashboard.command_line.commands.fault_report",
        "fault_report",
        "Collect what a fault report needs into one file.",
    ),
}
