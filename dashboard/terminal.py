"""What a person sees in a terminal: sentences, tables, marks and progress.

Text that came from files and units is made plain before it is shown, so that nothing in it can
move the cursor, colour the screen or turn the writing round. Colour appears only on a terminal,
and never where NO_COLOR is set; no meaning hangs on it.
"""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.padding import Padding
from rich.status import Status
from rich.table import Column, Table
from rich.text import Text

if TYPE_CHECKING:
    from acceptance.band_verdict import BandVerdict
    from acceptance.decision import State
    from acceptance.limit import Limit
    from acceptance.verdict import Verdict

MARKS = {
    "pass": ("▲", "+", "green"),
    "conditional pass": ("△", "+?", "yellow"),
    "conditional fail": ("▽", "-?", "yellow"),
    "fail": ("▼", "-", "red"),
    "not measured": ("□", "?", "magenta"),
}
"""Shape, the same in ASCII, and colour: above the limit or below, filled where that is sure."""


def stdout() -> Console:
    """Return the console that reports go to."""
    return _console(stderr=False)


def stderr() -> Console:
    """Return the console for progress, and for why something could not be done."""
    return _console(stderr=True)


def _console(*, stderr: bool) -> Console:
    return Console(stderr=stderr, markup=False, highlight=False, emoji=False)


def write_what_can_be_written() -> None:
    """Let a terminal of few letters show "?" for the others, in place of an error."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def plain(text: object) -> str:
    """Return text with everything that is no printable letter written out, line ends included."""
    return "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape", "replace").decode()
        for letter in str(text)
    )


def say(
    text: object = "", *, style: str = "", indent: int = 0, console: Console | None = None
) -> None:
    """Show one paragraph; wrapped on a terminal, one line where a program reads it."""
    there = stdout() if console is None else console
    words = Text(plain(text), style=style)
    if there.is_terminal:
        there.print(Padding.indent(words, indent))
    else:
        there.print(Text(" " * indent) + words, soft_wrap=True)


@contextlib.contextmanager
def working(words: str) -> Iterator[None]:
    """Show on standard error that something takes a while; nothing where that is no terminal."""
    console = stderr()
    if console.is_terminal:
        with Status(Text(plain(words)), console=console):
            yield
    else:
        yield


def show(renderable: Table | Text) -> None:
    """Show a table or prepared text."""
    stdout().print(renderable)


def show_json(content: object) -> None:
    """Show one JSON object; a number that is not finite is a defect, and is refused."""
    sys.stdout.write(json.dumps(content, indent=2, ensure_ascii=True, allow_nan=False) + "\n")


def table(*columns: str | Column, title: str = "") -> Table:
    """Return an empty table in the house's look."""
    heads = [Column(header=each) if isinstance(each, str) else each for each in columns]
    return Table(
        *heads,
        title=Text(plain(title), style="bold") if title else None,
        title_justify="left",
        box=SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1, 0, 0),
        show_edge=False,
    )


def number(header: str) -> Column:
    """Return a column for numbers: to the right, never cut."""
    return Column(header=header, justify="right", no_wrap=True)


def mark(state: State, words: str, *, ascii_only: bool = False) -> Text:
    """Return a state as shape and word; colour only repeats them."""
    shape, letters, colour = MARKS[str(state)]
    return Text(f"{letters if ascii_only else shape} {words}", style=colour)


def show_verdict(
    verdict: Verdict, remarks: Sequence[str] = (), console: Console | None = None
) -> None:
    """Show a verdict: one row a band and link, what the numbers do not say, the whole."""
    console = stdout() if console is None else console
    ascii_only = not console.encoding.lower().startswith("utf")
    rows = table(
        Column(header="band", overflow="fold"),
        Column(header="state", no_wrap=True),
        Column(header="limit", no_wrap=True),
        number("worst\nRL dB"),
        number("at\nMHz"),
        number("margin\ndB"),
        number("average\nRL dB"),
    )
    for band in verdict.bands:
        rows.add_row(
            Text(plain(band_title(band))),
            mark(band.state, band.words, ascii_only=ascii_only),
            Text(short_limit(band.limit, ascii_only=ascii_only)),
            decibels(band.worst_return_loss_db),
            megahertz(band.worst_frequency_hz),
            decibels(band.margin_db, sign=True),
            decibels(band.average_return_loss_db),
        )
    console.print(rows)
    console.print()
    for band in verdict.bands:
        if band.reason:
            say(f"{band_title(band)}: {band.reason}", console=console)
    noted = dict.fromkeys((band.name, band.note) for band in verdict.bands if band.note)
    for name, note in noted:
        say(f"{name}: {note}", console=console)
    for remark in (*remarks, *verdict.notes):
        say(remark, console=console)
    whole = Text.assemble(
        (plain(verdict.plan), "bold"),
        ": ",
        mark(verdict.overall, verdict.words, ascii_only=ascii_only),
        f", at the {verdict.plane} plane" if str(verdict.plane) != "raw" else ", raw readings",
    )
    console.print(whole)


def band_title(band: BandVerdict) -> str:
    """Return a band's name, with the link where it has two."""
    return band.name if band.link == "both" else f"{band.name} {band.link}"


def short_limit(limit: Limit, *, ascii_only: bool = False) -> str:
    """Return a limit in its own metric, short enough for a column."""
    if limit.metric == "vswr":
        return f"VSWR {'<=' if ascii_only else '≤'} {limit.value:g}"
    return f"RL {'>=' if ascii_only else '≥'} {limit.value:g} dB"


def decibels(value: float | None, *, sign: bool = False) -> str:
    """Return dB to a tenth, as hobby analyzers know it; a dash where it is not known."""
    if value is None:
        return "-"
    if value == float("inf"):
        return "inf"
    return f"{value:+.1f}" if sign else f"{value:.1f}"


def megahertz(frequency_hz: float | None) -> str:
    """Return MHz to a tenth; a dash where it is not known."""
    return "-" if frequency_hz is None else f"{frequency_hz / 1e6:.1f}"
