"""`characterise`: home-made standards measured against a better kit become a kit of their own."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from acceptance.version import software
from acquire.files.atomic_write import write_whole
from acquire.touchstone.writer import format_touchstone
from calibration.capture.guided_captures import Captures, Wanted
from calibration.files.store import load_calibration
from calibration.standards.kit import Kit
from calibration.standards.kit_file import kit_text
from calibration.standards.standard import DataStandard, Kind
from calibration.verification.characterisation import characterise as characterised
from calibration.verification.characterisation import error_words, kit_of
from calibration.verification.verified_budget import verified_budget
from dashboard.command_line.analyzer_options import CalibratedAnalyzerOptions, CaptureOptions
from dashboard.command_line.options import AssumptionOptions
from dashboard.errors import SetupError
from dashboard.files.new_file import require_new
from dashboard.terminal.output import say


@dataclass(frozen=True, slots=True)
class PartOptions:
    """The home-made parts, each in a few words."""

    open_part: Annotated[
        str | None,
        typer.Option("--open", metavar="WORDS", help='Your open standard, such as "bare socket".'),
    ] = None
    short_part: Annotated[
        str | None,
        typer.Option(
            "--short", metavar="WORDS", help='Your short standard, such as "soldered bridge".'
        ),
    ] = None
    load_part: Annotated[
        str | None,
        typer.Option("--load", metavar="WORDS", help='Your load, such as "50 ohm resistor".'),
    ] = None

    @property
    def words(self) -> dict[Kind, str]:
        """Those that were named, by what they serve as. Raises SetupError for none, or alike."""
        named: dict[Kind, str | None] = {
            "open": self.open_part,
            "short": self.short_part,
            "load": self.load_part,
        }
        parts: dict[Kind, str] = {kind: words for kind, words in named.items() if words is not None}
        if not parts:
            raise SetupError(
                "Say which parts to characterise: --open, --short, --load, each with a few words."
            )
        if len(set(parts.values())) < len(parts):
            raise SetupError("Two parts have the same name. Call each by its own.")
        return parts


def characterise(
    *,
    calibration: Annotated[
        Path,
        typer.Option(
            "--calibration", metavar="FILE", help="Calibration just made with the better kit."
        ),
    ],
    name: Annotated[str, typer.Option("--name", metavar="NAME", help="Name of the new kit.")],
    out: Annotated[
        Path,
        typer.Option(
            "--out", metavar="FILE", help="Kit file to write; its data files go beside it."
        ),
    ],
    named: PartOptions,
    capturing: CaptureOptions,
    assumed: AssumptionOptions,
    analyzer_options: CalibratedAnalyzerOptions,
) -> None:
    """Measure home-made standards against a better kit.

    Writes a kit of them; what you do not name stays as in the better kit. Connect nothing that
    transmits, and no DC, to the analyzer.
    """
    parts = named.words
    files: dict[str, Path] = {kind: out.with_name(f"{out.stem}-{kind}.s1p") for kind in parts}
    for path in (out, *files.values()):
        require_new(path)
    better = load_calibration(calibration)
    captures = Captures(
        [
            Wanted(words, f"Screw the {words} on, as the {kind} it will be.", kind)
            for kind, words in parts.items()
        ],
        better.request,
        lambda sweep: better.fits(sweep.source, sweep.request),
        wanted_sweeps=capturing.sweeps,
    )
    capturing.lead_through(
        captures, better, analyzer_options, f"The better kit: {better.kit.label}."
    )
    budget = verified_budget(
        better, assumed.assumptions, analyzer_options.clock.now(), sweeps=capturing.sweeps
    )
    standards: dict[str, DataStandard] = {}
    for reading in captures.readings():
        kind: Kind = next(kind for kind, words in parts.items() if words == reading.name)
        standards[kind] = characterised(better, budget, reading, kind)
        say(error_words(standards[kind]))
    write_kit(kit_of(better.kit, name, standards), out, files)
    say(f"The kit is in {out}; calibrate with --kit {out}.")
    if better.source.kind == "virtual":
        say("It comes from the virtual bench: the data is invented.")


def write_kit(kit: Kit, out: Path, files: dict[str, Path]) -> None:
    """Write a kit file and, beside it, the data of the standards that were measured."""
    for kind, path in files.items():
        standard = kit.standards[kind]
        if isinstance(standard, DataStandard):
            comments = [standard.origin, kit.source, "plane: connector", f"written by {software()}"]
            text = format_touchstone(standard.reading, comments)
            write_whole(path, text.encode("ascii", "replace"))
    write_whole(out, kit_text(kit, {kind: path.name for kind, path in files.items()}).encode())
