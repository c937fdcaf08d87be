"""What reaches a terminal is text: nothing from a file or a unit can steer it."""

from __future__ import annotations

import io
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from acceptance.limits.decision import State
from acquire.printable_text import plain
from dashboard.terminal.output import (
    MARKS,
    mark,
    say,
    show_json,
    table,
)


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("weir-3 µ Ω ≥", "weir-3 µ Ω ≥"),
        ("\x1b[31mred", "\\x1b[31mred"),
        ("a\nb\r", "a\\nb\\r"),
        ("\u202eturned", "\\u202eturned"),
        ("\x9b2J", "\\x9b2J"),
        ("\udc80", "\\udc80"),
    ],
)
def test_what_is_not_printable_is_written_out(given: str, shown: str) -> None:
    assert plain(given) == shown


@given(st.text())
def test_whatever_is_shown_is_printable_and_letters_stay_as_they_are(text: str) -> None:
    assert plain(text).isprintable()
    assert text.isprintable() == (plain(text) == text)


def test_a_table_s_cells_are_plain_line_by_line() -> None:
    screen = io.StringIO()
    rows = table("name\x1b[2J", title="\x1b]0;title\x07")
    rows.add_row("\x1b[31mred\nsecond [bold]line[/bold] \u202e")
    Console(file=screen, width=80, markup=False).print(rows)
    shown = screen.getvalue()
    assert "\x1b" not in shown
    assert "\u202e" not in shown
    assert "\\x1b[31mred" in shown
    assert "second [bold]line[/bold]" in shown


def test_markup_is_only_text() -> None:
    screen = io.StringIO()
    say("[red]x[/red] :smile:", console=Console(file=screen, width=80))
    assert screen.getvalue() == "[red]x[/red] :smile:\n"


def test_a_sentence_is_one_line_for_a_program_and_wrapped_on_a_terminal() -> None:
    sentence = "word " * 40
    piped = io.StringIO()
    say(sentence, console=Console(file=piped, width=80))
    assert piped.getvalue().count("\n") == 1
    terminal = io.StringIO()
    say(sentence, console=Console(file=terminal, width=80, force_terminal=True))
    assert terminal.getvalue().count("\n") == 3


def test_every_state_has_a_shape_of_its_own_in_letters_too() -> None:
    assert set(MARKS) == {str(state) for state in State}
    assert len({shape for shape, _, _ in MARKS.values()}) == len(State)
    assert len({letters for _, letters, _ in MARKS.values()}) == len(State)
    assert all(letters.isascii() for _, letters, _ in MARKS.values())
    assert str(mark(State.FAIL, "fail")) == "▼ fail"
    assert str(mark(State.FAIL, "fail", ascii_only=True)) == "- fail"


def test_colour_is_left_out_where_nobody_wants_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    screen = io.StringIO()
    console = Console(file=screen, force_terminal=True)
    console.print(mark(State.FAIL, "fail"))
    assert "31m" not in screen.getvalue()


def test_json_is_ascii_and_knows_no_nan(capsys: pytest.CaptureFixture[str]) -> None:
    show_json({"name": "weir-3 \u202e µ"})
    out = capsys.readouterr().out
    assert out.isascii()
    assert json.loads(out) == {"name": "weir-3 \u202e µ"}
    with pytest.raises(ValueError, match="JSON"):
        show_json({"worst": float("nan")})
