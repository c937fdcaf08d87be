"""What a person sees in a terminal: sentences, tables, marks and progress.

Text that came from files and analyzers is made plain before it is shown, so that nothing in it can
move the cursor, colour the screen or turn the writing round. Colour appears only on a terminal,
and never where NO_COLOR is set; no meaning hangs on it.
"""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Iterator, Sequence
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.measure import Measurement
from rich.padding import Padding
from rich.status import Status
from rich.table import Column, Table
from rich.text import Text

from acceptance.limits.decision import State
from acceptance.verdict.plan_verdict import Verdict
from acceptance.verdict.wording import BandWords, band_title, uncertainty_sentences
from acquire.printable_text import plain

MARKS = {
    "pass": ("▲", "+", "green"),
    "conditional pass": ("△", "+?", "yellow"),
    "conditional fail": ("▽", "-?", "yellow"),
    "fail": ("▼", "-", "red"),
    "not measured": ("□", "?", "magenta"),
}
"""Shape, the same in ASCII, and colour: above the limit or below, filled where that is sure."""
IN_ASCII = str.maketrans({"≥": ">=", "≤": "<=", "−": "-", "±": "+/-"})
"""How the signs in a band's words are spelt where a terminal has none but ASCII."""
UNKNOWN = "-"
"""What a cell shows where a thing is not known."""
LONG = 22
"""Letters of the worst point that stand on one line."""
WIDEST = 10_000
"""More letters than any table's line needs: room to ask how many it does."""
BETWEEN = 2
"""Letters between two columns of a table."""


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


def table(*columns: str | Column, title: str = "") -> PlainTable:
    """Return an empty table in the house's look."""
    heads = [Column(header=plain(each)) if isinstance(each, str) else each for each in columns]
    return PlainTable(
        *heads,
        title=Text(plain(title), style="bold") if title else None,
        title_justify="left",
        box=SIMPLE_HEAD,
        pad_edge=False,
        padding=(0, 1, 0, 0),
        show_edge=False,
    )


class PlainTable(Table):
    """A table whose cells show text as it is: lines, and nothing that steers the terminal.

    Where there is room for the longest word of every column, no word is folded.
    """

    def add_row(self, *cells: RenderableType | None, **style: Any) -> None:
        """Add a row; text is made plain, line by line."""
        shown = (
            Text("\n".join(map(plain, cell.split("\n")))) if isinstance(cell, str) else cell
            for cell in cells
        )
        super().add_row(*shown, **style)

    def fits(self, console: Console) -> bool:
        """Whether every word has room on one line."""
        return self._least(console) <= console.width

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Lay the table out; no column gets narrower than it must be while there is room."""
        if self._least(console) <= options.max_width:
            for column in self.columns:
                column.min_width = _least(column, console)
        yield from super().__rich_console__(console, options)

    def _least(self, console: Console) -> int:
        return sum(_least(column, console) + BETWEEN for column in self.columns) - BETWEEN


def _least(column: Column, console: Console) -> int:
    """The longest word of a column that may wrap, the longest line of one that may not."""
    wide = console.options.update_width(WIDEST)
    widths = [Measurement.get(console, wide, cell) for cell in (column.header, *column.cells)]
    return max(each.maximum if column.no_wrap else each.minimum for each in widths)


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
    there = stdout() if console is None else console
    ascii_only = not there.encoding.lower().startswith("utf")
    there.print(verdict_table(verdict, there, ascii_only=ascii_only))
    there.print()
    for band in verdict.bands:
        if band.reason:
            say(f"{band_title(band)}: {band.reason}", console=there)
    noted = dict.fromkeys((band.name, band.note) for band in verdict.bands if band.note)
    for name, note in noted:
        say(f"{name}: {note}", console=there)
    for sentence in (
        *uncertainty_sentences(verdict.bands, verdict.false_pass_risk),
        *remarks,
        *verdict.notes,
    ):
        say(sentence, console=there)
    whole = Text.assemble(
        (plain(verdict.plan), "bold"),
        ": ",
        mark(verdict.overall, verdict.words, ascii_only=ascii_only),
        f", {plain(verdict.where)}",
    )
    there.print(whole)


def verdict_table(verdict: Verdict, console: Console, *, ascii_only: bool) -> PlainTable:
    """Lay the bands out; where there is little room, a state takes two lines, then the average
    is left out: it decides nothing."""
    for state_apart, average in ((False, True), (True, True), (True, False)):
        rows = table(
            Column(header="band", overflow="fold"),
            Column(header="state", no_wrap=True),
            Column(header="limit", no_wrap=True),
            number("worst\n(95 %)"),
            number("margin"),
            *([number("average")] if average else []),
        )
        for band in verdict.bands:
            worded = BandWords.of(band)
            state = worded.state.replace(" ", "\n  ", 1) if state_apart else worded.state
            cells = (worded.limit, worst_cell(worded), worded.margin, *([worded.average] * average))
            rows.add_row(
                Text(plain(band.name) + ("" if band.link == "both" else f"\n{band.link}")),
                mark(band.state, state, ascii_only=ascii_only),
                *(spelt(each or UNKNOWN, ascii_only=ascii_only) for each in cells),
            )
        if rows.fits(console):
            break
    return rows


def worst_cell(worded: BandWords) -> str:
    """The worst point and its interval, a line each; what is long takes two lines."""
    worst, interval = worded.worst, worded.interval
    if len(worst) > LONG:
        worst = worst.replace(" at ", "\nat ")
    return f"{worst}\n({interval})" if interval else worst


def spelt(words: str, *, ascii_only: bool) -> str:
    """The same words in the letters that a terminal has."""
    return words.translate(IN_ASCII) if ascii_only else words
