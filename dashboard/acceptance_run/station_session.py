"""What came about at a station since it was started, and what its records tell of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from acceptance.record.examination import Examined
from acceptance.report.yes_no_ask import Answer, answer_of
from acquire.sweep import Sweep
from dashboard.acceptance_run.running_acceptance import AntennaDetails
from dashboard.acceptance_run.station_file import Station
from dashboard.acceptance_run.station_state import Tested

SAME_REFLECTION = 2e-3
"""Two sweeps that differ by less, rms and linear, are of one antenna that was never taken off: what
a connector made anew changes, and what no two hands build alike, is more [practice]."""
LEFT_ON = "It reads exactly as the last one did. Was the antenna changed?"


@dataclass(slots=True)
class Job:
    """One antenna in hand."""

    antenna: str
    known_good: bool = False
    swept: int = 0
    """How many of the plan's conditions are done."""
    warned: str = ""
    """What was odd about the last sweep, and was said; another such sweep is kept."""
    checked: bool = False
    """True once a standard was put back after it."""
    again: bool = False
    """True where it was tested before, and the helper said so."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """What went wrong with the last step."""

    say: str = ""
    detail: str = ""


@dataclass(slots=True)
class Session:
    """All since the station was started. Not safe to share: its owner holds the lock."""

    tested: list[Tested] = field(default_factory=list)
    since: list[Path] = field(default_factory=list)
    """Records since the known good antenna was last swept."""
    unchecked: list[str] = field(default_factory=list)
    """Records since a standard was last put back for the batch, by folder."""
    proven_by: str = ""
    """The calibration under which the known good antenna last read as it should."""
    spoilt: str = ""
    """A calibration that a check has shown to hold no more."""
    piece_read: bool = False
    finishing: bool = False
    last: Sweep | None = None
    """The last antenna's reading."""

    def doubt(self, why: str, records: Sequence[str]) -> None:
        """Put what was said of some antennas in doubt."""
        self.tested[:] = [
            replace(each, doubt=each.doubt or why) if each.record in records else each
            for each in self.tested
        ]

    def left_on(self, now: Sweep, job: Job) -> str:
        """Why it seems that the last antenna was never taken off; empty where it does not."""
        last = self.last
        if last is None or job.known_good or job.swept > 0:
            return ""
        if not np.array_equal(now.frequency_hz, last.frequency_hz):
            return ""
        apart = float(np.sqrt(np.nanmean(np.abs(now.reflection - last.reflection) ** 2)))
        return LEFT_ON if apart < SAME_REFLECTION else ""

    def answer(self, job: Job, examined: Examined) -> Answer:
        """The word on a serial, with what speaks against taking it so."""
        found = answer_of(examined)
        if job.warned == LEFT_ON:
            return Answer("ASK", "It reads exactly as the antenna before it.", found.detail)
        before = [each for each in self.tested if each.serial == job.antenna]
        if before and before[-1].answer.word != found.word:
            why = f"It was {before[-1].answer.word} before, and is {found.word} now."
            return Answer("ASK", why, found.detail)
        return found


def details_of(
    station: Station, job: Job, answer: Answer | None = None, role: str = "serial"
) -> AntennaDetails:
    """What goes into the record of an antenna.

    answer : the word on it and the reason; None while it is not known.
    """
    note = f"Station: {station.name}"
    if answer is None:
        return AntennaDetails(job.antenna, note=note)
    reference = station.known_good.reference
    noted = {
        "name": station.name,
        "contact": station.contact,
        "role": role,
        **answer.as_json(),
        "tested_again": job.again,
        "sums": dict(station.sums),
        "known_good": {"folder": reference.folder, "checksum": reference.checksum},
    }
    return AntennaDetails(job.antenna, note=note, station=noted)
