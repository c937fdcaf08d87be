"""`verify`: a calibration checked by a known device, by a standard put back, or by remaking the
connector."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any

import typer

from acceptance.plan.load import load_plan
from calibration.files.device_file import device_from_table
from calibration.files.store import (
    data_reader,
    load_device,
    save_calibration,
)
from calibration.guided.verification_session import (
    Check,
    MeasureDevice,
    Outcome,
    RemeasureStandard,
    RepeatConnection,
    captures_for,
    concluded,
    outcome,
)
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions
from calibration.verification.verified_budget import evidence_results
from dashboard.command_line.analyzer_options import CalibratedAnalyzerOptions, CaptureOptions
from dashboard.command_line.options import AssumptionOptions, CableInUse, Json, PlanFile
from dashboard.errors import SetupError
from dashboard.files.named_cable import calibration_of
from dashboard.terminal.output import say, show_json


@dataclass(frozen=True, slots=True)
class CheckOptions:
    """What to check a calibration by: exactly one of them."""

    second_load: Annotated[
        float | None,
        typer.Option(
            "--second-load",
            metavar="DB",
            help="Measure a second load of at least this return loss.",
        ),
    ] = None
    another: Annotated[
        bool,
        typer.Option(
            "--another",
            help="The second load is a different piece, though both read alike.",
        ),
    ] = False
    vswr: Annotated[
        float | None,
        typer.Option("--vswr", metavar="S", help="Measure a known mismatch of this VSWR."),
    ] = None
    tolerance: Annotated[
        float,
        typer.Option("--tolerance", metavar="S", help="Tolerance of that VSWR, plus or minus."),
    ] = 0.05
    certificate: Annotated[
        Path | None,
        typer.Option(
            "--certificate",
            metavar="FILE",
            help="Measure a device whose reflection is in this Touchstone file.",
        ),
    ] = None
    error: Annotated[
        float | None,
        typer.Option("--error", metavar="LINEAR", help="Uncertainty of those values (95 %)."),
    ] = None
    device: Annotated[
        Path | None,
        typer.Option(
            "--device",
            metavar="FILE",
            help="Measure a device that this TOML file describes.",
        ),
    ] = None
    put_back: Annotated[
        str | None,
        typer.Option(
            "--put-back",
            metavar="STANDARD",
            help="Connect a standard again, to see what has drifted.",
        ),
    ] = None
    remake: Annotated[
        str | None,
        typer.Option(
            "--remake",
            metavar="STANDARD",
            help="Disconnect and reconnect a standard, to see how well it repeats.",
        ),
    ] = None
    times: Annotated[
        int, typer.Option("--times", metavar="N", help="How many times to reconnect it.")
    ] = 5

    def check(self) -> Check:
        """The one check a person asked for. Raises SetupError, DeviceError."""
        ways = (
            self.second_load,
            self.vswr,
            self.certificate,
            self.device,
            self.put_back,
            self.remake,
        )
        if sum(each is not None for each in ways) != 1:
            raise SetupError(
                "Say with one option what to check by: --second-load DB, --vswr S, --certificate "
                "FILE or --device FILE for a known device; --put-back STANDARD for drift; --remake "
                "STANDARD for the connector."
            )
        if self.another and self.second_load is None:
            raise SetupError("--another tells of a second load. Name it with --second-load DB.")
        if self.put_back is not None:
            return RemeasureStandard(self.put_back)
        if self.remake is not None:
            return RepeatConnection(self.remake, self.times)
        if self.device is not None:
            return MeasureDevice(load_device(self.device))
        folder = Path() if self.certificate is None else self.certificate.parent
        device = device_from_table(self._table(), "named here", data_reader(folder))
        return MeasureDevice(device)

    def _table(self) -> dict[str, Any]:
        """The known device as a device file would describe it."""
        if self.second_load is not None:
            load = {"name": "second load", "form": "load", "return_loss_db": self.second_load}
            return load | {"another": self.another}
        if self.certificate is None:
            mismatch = {"name": "mismatch", "form": "vswr"}
            return mismatch | {"vswr": self.vswr, "tolerance": self.tolerance}
        if self.error is None:
            raise SetupError(
                "A certificate's values are off by something: say by how much with --error, "
                "linear, about 95 %, such as 0.004."
            )
        name, file = self.certificate.stem, self.certificate.name
        return {"name": name, "form": "certificate", "file": file, "error": self.error}


def verify(
    *,
    calibration: Annotated[
        Path,
        typer.Option("--calibration", metavar="FILE", help="The calibration to check."),
    ],
    cable: CableInUse = "",
    checks: CheckOptions,
    plan: PlanFile = None,
    capturing: CaptureOptions,
    assumed: AssumptionOptions,
    analyzer_options: CalibratedAnalyzerOptions,
    as_json: Json = False,
) -> None:
    """Check a calibration, and keep what the check shows.

    Connect nothing that transmits, and no DC, to the analyzer. Touch earthed metal before you touch
    a centre pin.
    """
    check = checks.check()
    before = calibration_of(calibration, cable)
    spans = None if plan is None else load_plan(plan).spans
    assumptions = assumed.assumptions
    captures = captures_for(before, check, wanted_sweeps=capturing.sweeps)
    capturing.lead_through(captures, before, analyzer_options)
    now = analyzer_options.clock.now()
    after = concluded(before, check, captures.readings(), now)
    save_calibration(after, calibration)
    found = outcome(before, after, check, assumptions, at=now, spans=spans)
    if as_json:
        show_json(as_object(after, check, found))
    else:
        for words in found.words:
            say(words)
        counts = "" if found.asks else ", and counts from now on"
        say(f"It is kept with the calibration in {calibration}{counts}.")
        if found.asks:
            say("If it is another piece, measure it once more with --another.")
        if after.source.kind == "virtual":
            say("It comes from the virtual bench: the data is invented.")
    raise typer.Exit(0 if found.agrees else 1)


def as_object(calibration: Calibration, check: Check, found: Outcome) -> dict[str, object]:
    """Return the object that `verify --json` prints."""
    evidence = evidence_results(calibration, Assumptions())
    result: dict[str, object] = {"agrees": found.agrees, "words": list(found.words)}
    match check:
        case MeasureDevice():
            one = evidence.devices[-1]
            result |= {
                "kind": "known device",
                "name": one.device.name,
                "share_inside": one.share_inside,
                "asks": one.asks,
                "worst_en": float(one.normalised[one.worst]),
                "worst_frequency_hz": float(one.frequency_hz[one.worst]),
            }
        case RemeasureStandard():
            result |= {"kind": "put back", "name": check.standard}
        case _:
            result |= {"kind": "remade", "name": check.standard, "times": check.times}
    return result
