"""`recheck`: a record checked by someone who was not there."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, NoReturn

import typer

from acceptance.catalogue.batch_checks import batch_words
from acceptance.catalogue.known_good_checks import known_good_words
from acceptance.chain.chain_folder import chain_of
from acceptance.plan.load import load_plan
from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.recheck.wanted_plan import easier_than
from acceptance.record.examination import verdict_as_json
from acceptance.record.recheck import Recheck
from dashboard.command_line.options import Json, clock_of
from dashboard.errors import SetupError
from dashboard.files.signing import signature_words
from dashboard.terminal.output import say, show_json, show_verdict, stdout


def recheck(
    context: typer.Context,
    record: Annotated[
        Path | None, typer.Argument(metavar="RECORD", help="The folder that `accept` wrote.")
    ] = None,
    *,
    chain: Annotated[
        Path | None,
        typer.Option(
            "--chain", metavar="FOLDER", help="Check a folder of records for missing ones."
        ),
    ] = None,
    signers: Annotated[
        Path | None,
        typer.Option(
            "--signers",
            metavar="FILE",
            help="Require a signature by one of these people (allowed signers).",
        ),
    ] = None,
    signed_by: Annotated[
        str | None,
        typer.Option("--signed-by", metavar="NAME", help="Require the signature of this person."),
    ] = None,
    wanted: Annotated[
        Path | None,
        typer.Option(
            "--plan",
            metavar="FILE",
            help="The plan that was ordered; a record of an easier one fails.",
        ),
    ] = None,
    as_json: Json = False,
) -> None:
    """Verify a record: its files, its dates and its verdict.

    Needs no hardware. Exit status: 0 if the record holds and every band passes, 1 if not.
    """
    if record is None or chain is not None:
        if record is not None or chain is None:
            raise SetupError("Name a record, or a folder of records: --chain FOLDER.")
        _recheck_chain(chain, as_json=as_json)
    found = recheck_folder(record, clock_of(context).now())
    signed, signature = signature_words(record, signers, signed_by)
    counts, by_batch = batch_words(found.record, record)
    unspoilt, by_known_good = known_good_words(record)
    by_batch = " ".join(each for each in (by_batch, by_known_good) if each)
    easier = () if wanted is None else easier_than(load_plan(wanted), found.record.acceptance.plan)
    holds = found.holds and signed and counts and unspoilt and not easier
    if as_json:
        held = {**as_object(found, signature, holds=holds), "batch": by_batch or None}
        show_json(held if wanted is None else {**held, "easier": list(easier)})
    else:
        acceptance = found.record.acceptance
        at = acceptance.accepted_at
        when = "not signed off" if at is None else f"accepted {at:%Y-%m-%d %H:%M %z}"
        say(f"{acceptance.antenna}, {when}, by {acceptance.software}.", style="bold")
        for line in (*found.lines, *([by_batch] if by_batch else ()), signature):
            say(line, indent=2)
        if wanted is not None:
            for line in _of_the_order(easier):
                say(line, indent=2)
        say(
            "Nothing in a folder shows that the readings are of that antenna, or that its clock "
            "was "
            "right.",
            indent=2,
        )
        if found.examined is not None:
            for look in found.examined.deciding:
                say()
                say(f"{look.condition.label[0].upper()}{look.condition.label[1:]}:")
                show_verdict(look.verdict, console=stdout())
            for comparison in found.examined.condition_comparisons:
                say(comparison.words)
        say()
        say("The record holds." if holds else "The record does not hold.", style="bold")
    passed = found.examined is not None and str(found.examined.overall) == "pass"
    raise typer.Exit(0 if holds and passed else 1)


def _recheck_chain(folder: Path, *, as_json: bool) -> NoReturn:
    """Say whether a record of a folder was withheld, rolled back or put in, and end."""
    found = chain_of(folder)
    if as_json:
        show_json(
            {
                "holds": found.holds,
                "linked": found.linked,
                "faults": dict(found.faults),
                "remarks": list(found.remarks),
            }
        )
    else:
        for line in found.lines:
            say(line)
        say("The chain holds." if found.holds else "The chain does not hold.", style="bold")
    raise typer.Exit(0 if found.holds else 1)


def _of_the_order(easier: tuple[str, ...]) -> tuple[str, ...]:
    if not easier:
        return ("It was judged by a plan no easier than the one that was ordered.",)
    return tuple(f"It was judged by an easier plan than was ordered. {each}" for each in easier)


def as_object(found: Recheck, signature: str, *, holds: bool) -> dict[str, object]:
    """Return the object that `recheck --json` prints."""
    return {
        "record": found.record.name,
        "holds": holds,
        "signed_off": found.signed_off,
        "unmet": list(found.unmet),
        "times": list(found.times),
        "reports": [*found.report_faults, *found.report_remarks],
        "changed": list(found.checksum_differences),
        "difference": found.difference or None,
        "by_method": found.by_method,
        "method_difference": found.method_difference or None,
        "problem": found.problem or None,
        "signature": signature,
        "recorded_by": found.record.acceptance.software,
        "recomputed_by": found.software,
        "verdict": None if found.examined is None else verdict_as_json(found.examined),
    }
