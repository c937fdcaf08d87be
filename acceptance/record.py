"""The record of one accepted unit: what is written, and under what name. No file is touched here.

A record is a folder that stands on its own: the raw and the corrected sweep, the calibration
that leads from one to the other, the plan, and the verdict with all it rests on.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime

from acceptance.band_verdict import BandVerdict, known
from acceptance.errors import RecordError
from acceptance.plan import Plan
from acceptance.verdict import MATCH_ONLY, Verdict, source_as_json
from acquire.sweep import Reading, Sweep
from acquire.touchstone import format_touchstone
from calibration.budget import Assumptions

RECORD_FORMAT = "bandwright acceptance"
RECORD_VERSION = 1

LONGEST_NAME_BYTES = 80
_DEVICE_NAMES = {
    "con",
    "prn",
    "aux",
    "nul",
    *(f"{d}{n}" for d in ("com", "lpt") for n in range(10)),
}


@dataclass(frozen=True, slots=True)
class Record:
    """A record's folder before it is written."""

    folder: str
    """Its name: the unit and the time, safe on every system."""
    files: Mapping[str, bytes]
    """Content of each file by its name in the folder."""


def compose_record(
    *,
    unit: str,
    operator: str,
    note: str,
    accepted_at: datetime,
    raw: Sweep,
    corrected: Sweep,
    calibration: str | None,
    plan: Plan,
    verdict: Verdict,
    assumptions: Assumptions,
    software: str,
) -> Record:
    """Put a record together.

    unit : the name on the accepted antenna; operator, note : free text, may be empty.
    raw, corrected : the same sweep before and after correction.
    assumptions : what the uncertainty rests on where nothing was measured or stated.
    calibration : the calibration's own JSON text; None where the unit corrects by itself.
    software : this program's name and version.
    Raises RecordError where time zone or unit are missing, or the two sweeps are not the same.
    """
    if accepted_at.tzinfo is None:
        raise RecordError("The time of an acceptance must carry its time zone.")
    if not unit.strip():
        raise RecordError("An accepted antenna needs a name. Give it the one on its label.")
    if (raw.sequence, raw.taken_at) != (corrected.sequence, corrected.taken_at):
        raise RecordError(
            f"Raw sweep {raw.sequence} and corrected sweep {corrected.sequence} are not the same "
            "sweep. Take one sweep and correct that."
        )
    files = {
        "raw.s1p": _touchstone(raw, unit, software),
        "corrected.s1p": _touchstone(corrected, unit, software),
        "plan.toml": plan.text.encode(),
        "verdict.json": _json(
            {
                "format": RECORD_FORMAT,
                "version": RECORD_VERSION,
                "software": software,
                "unit": unit,
                "operator": operator,
                "note": note,
                "accepted_at": _utc(accepted_at),
                "taken_at": _utc(corrected.taken_at),
                "sweep": corrected.sequence,
                "statement": MATCH_ONLY,
                "source": source_as_json(corrected.source),
                "invented": corrected.source.kind == "virtual",
                "assumptions": asdict(assumptions),
                "verdict": verdict.as_json(),
                "words": verdict.words,
                "details": [_detail(band) for band in verdict.bands],
                "notes": list(verdict.notes),
            }
        ),
    }
    if calibration is not None:
        files["calibration.json"] = calibration.encode()
    return Record(f"{safe_name(unit)}_{accepted_at.astimezone(UTC):%Y-%m-%dT%H%M%SZ}", files)


def safe_name(text: str) -> str:
    """Return a part of a file name made of a text a person typed: never a path, nor a device.

    Letters and digits of any script, dots, dashes and underscores stay; all else becomes a
    dash. At most LONGEST_NAME_BYTES bytes, never empty, never beginning or ending in a dot.
    """
    plain = re.sub(r"[^\w.-]+", "-", unicodedata.normalize("NFKC", text))
    while len(plain.encode()) > LONGEST_NAME_BYTES:
        plain = plain[:-1]
    plain = re.sub(r"\.{2,}", ".", plain).strip("-._")
    if not plain:
        return "unit"
    return f"unit-{plain}" if plain.partition(".")[0].lower() in _DEVICE_NAMES else plain


def _touchstone(sweep: Sweep, unit: str, software: str) -> bytes:
    source = sweep.source
    comments = [
        f"unit: {unit}",
        f"plane: {sweep.plane}",
        f"taken at: {_utc(sweep.taken_at)}, sweep {sweep.sequence}",
        f"source: {source.kind} {source.port}, {source.unit}, profile {source.profile}",
        f"written by {software}",
    ]
    if source.unit_corrected:
        comments.append("the unit applied a correction of its own")
    if source.kind == "virtual":
        comments.append("invented data: it comes from the virtual unit")
    reading = Reading(sweep.frequency_hz, sweep.reflection)
    return format_touchstone(reading, comments).encode("ascii")


def _detail(band: BandVerdict) -> dict[str, object]:
    return {
        "name": band.name,
        "link": band.link,
        "low_hz": band.low_hz,
        "high_hz": band.high_hz,
        "words": band.words,
        "average_return_loss_db": known(band.average_return_loss_db),
        "average_better_than_db": known(band.average_better_than_db),
        "edge_error": band.edge_error,
        "reason": band.reason,
        "note": band.note,
    }


def _json(content: Mapping[str, object]) -> bytes:
    text = json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode(errors="backslashreplace")


def _utc(time: datetime) -> str:
    return time.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
