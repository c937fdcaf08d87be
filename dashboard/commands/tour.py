"""`tour`: the whole job on the virtual bench."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def tour(
    folder: Annotated[
        Path,
        typer.Option(
            "--folder", metavar="FOLDER", help="Where calibration and record are left behind."
        ),
    ] = Path("bandwright-tour"),
) -> None:
    """See the whole job in a few seconds, without hardware. All its data is invented."""
    from dashboard.terminal import stdout
    from dashboard.tour import Tour

    verdict = Tour(folder, stdout()).run()
    raise typer.Exit(0 if verdict.overall == "pass" else 1)
