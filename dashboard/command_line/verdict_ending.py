"""How a command that judged something ends: the report, then the exit status."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NoReturn

import typer

from acceptance.verdict.plan_verdict import Verdict
from dashboard.terminal.output import say, show_json, show_verdict, stderr


def end_with(verdict: Verdict, *, as_json: bool, remarks: Sequence[str] = ()) -> NoReturn:
    """Report a verdict and end the command: 0 where every band passes, else 1.

    remarks : what a person should know of the data; with JSON they go to standard error.
    """
    if as_json:
        show_json(verdict.answer())
        for remark in remarks:
            say(remark, console=stderr())
    else:
        show_verdict(verdict, remarks)
    raise typer.Exit(0 if str(verdict.overall) == "pass" else 1)
