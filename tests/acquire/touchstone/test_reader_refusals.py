"""Touchstone text that cannot be read with certainty is refused, in a sentence with its line."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from acquire.errors import TouchstoneError
from acquire.touchstone.lines import sorted_out
from acquire.touchstone.reader import MOST_BYTES, parse_touchstone

HEAD = "# MHz S RI R 50\n"


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "no option line was found"),
        ("700 0.1 0\n800 0.1 0\n", "line 1: no option line was found"),
        ("700 0.1 0\n# MHz S RI R 50\n800 0.1 0\n", "line 2: the option line comes after numbers"),
        (HEAD, "line 1: no rows of data"),
        (HEAD + "! 700 0.1 0\n", "no rows of data"),
        ("# MHz S RI R\n700 0 0\n", "after R the option line gives nothing"),
        ("# GHz S RI R (10+10j)\n1 0 0\n", 'line 1: after R the option line gives "(10+10j)"'),
        ("# GHz S RI R 0\n1 0 0\n", "a reference of 0 ohm cannot be meant"),
        ("# GHz S RI R -50\n1 0 0\n", "a reference of -50 ohm cannot be meant"),
        ("# GHz S RI R nan\n1 0 0\n", "a reference of nan ohm cannot be meant"),
        ("# GHz S RI R 50 75\n1 0 0\n", "2 reference resistances for 1 port(s)"),
        ("# THz S RI R 50\n1 0 0\n", 'says "THz", which is no unit'),
        ("# MHz GHz S RI\n1 0 0\n", "gives its unit twice"),
        ("# MHz S RI R 50 R 50\n1 0 0\n", "gives its reference twice"),
        (HEAD + "700 0,1 0,2\n", 'line 2: "700 0,1 0,2" holds decimal commas'),
        (HEAD + "863,5 0 1\n", "holds decimal commas"),
        (HEAD + "863.5,0.1,0.2\n", "has commas or semicolons between its numbers"),
        (HEAD + "863.5; 0.1; 0.2\n", "has commas or semicolons between its numbers"),
        (HEAD + "700 0 0\n700 0 0\n", "line 3: 700 MHz repeats the frequency before it"),
        (HEAD + "700 0 0\n699 0 0\n", "line 3: 699 MHz does not rise above"),
        (HEAD + "-1 0 0\n700 0 0\n", "line 2: a frequency of -1 MHz cannot be"),
        (HEAD + "nan 0 0\n700 0 0\n", "line 2: a frequency of nan MHz cannot be"),
        (HEAD + "700 0 0\ninf 0 0\n", "line 3: a frequency of inf MHz cannot be"),
        (HEAD + "700 0 0\n800 0\n", "line 3: 2 numbers where a one-port file has 3"),
        (HEAD + "700 0 0\n800\n", "line 3: 1 numbers where a one-port file has 3"),
        (HEAD + "700 0 0\n800 0 0 0 0\n", "line 3: 5 numbers where a one-port file has 3"),
        (HEAD + "700 0\n", "line 2: 2 numbers. A row begins with a frequency"),
        (HEAD + "700 0 0 0 0 0 0 0 0\n800 0 0 0 0\n", "line 3: 5 numbers where a two-port file"),
        (HEAD + "700 0 0\nhalf a line\n800 0 0\n", "line 4: the data goes on after line 3"),
        (HEAD + "700 0 0\n7_50 0 0\n800 0 0\n", "line 4: the data goes on after line 3"),
        (HEAD + "700 0 0\n٧٥٠ 0 0\n800 0 0\n", "line 4: the data goes on after line 3"),
        ("# GHz S RI R 50\n700 0 0\n2700 0 0\n", "the highest frequency is 2700 GHz"),
        ("# Hz S RI R 50\n0.7 0 0\n2.7 0 0\n", "the highest frequency is 2.7 Hz"),
        (HEAD + "700 0 0\n800 -170 45\n", "line 3: a reflection of 175.9 cannot be meant"),
        ("# MHz S MA R 50\n700 -10 45\n", "line 2: a magnitude is below zero"),
        (HEAD + "700 0 0 0 0 0 0\n0 0 0 0 0 0\n0 0 0 0 0 0\n", "line 2: the file has 3 ports"),
    ],
)
def test_version_1_text_that_is_not_certain_is_refused(text, part):
    with pytest.raises(TouchstoneError) as refusal:
        parse_touchstone(text, "mast.s1p")
    message = str(refusal.value)
    assert message.startswith("mast.s1p")
    assert part in message
    assert message.endswith(".")
    assert "\n" not in message


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("[Version] 3.0\n", 'line 1: [Version] "3.0" is not known'),
        ("# GHz S RI R 50\n[Number of Ports] 1\n", "[Number of Ports] belongs to Touchstone 2"),
        ("# GHz S RI R 50\n[Version] 2.0\n", "[Version] must stand above the option line"),
        ("[Version] 2.0\n[Version] 2.0\n", "line 2: [Version] stands twice"),
        ("[Version] 2.0\n# GHz S RI R 50\n[Ports] 1\n", '"[Ports]" is no keyword'),
        ("[Version] 2.0\n# GHz S RI R 50\n[Network Data]\n", "[Network Data] stands above"),
        ("[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 1\n1 0 0\n", "before [Network Data]"),
        ("[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] one\n", "needs a whole number"),
        ("[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 0\n", "needs a whole number"),
        ("[Version] 2.0\n# GHz S RI R 50\n[Reference] 50\n", "above [Number of Ports]"),
        (
            "[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 2\n[Reference] 50\n[Network Data]\n",
            "gives fewer resistances",
        ),
        ("[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 1\n[Reference] 5+1j\n", '"5+1j"'),
        (
            "[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 1\n[Reference] 50 50\n",
            "2 resistances",
        ),
        ("[Version] 2.0\n# GHz S RI R 50\n[Matrix Format] Both\n", "full or lower or upper"),
        ("[Version] 2.0\n# GHz S RI R 50\n[Two-Port Data Order] 11_22\n", "12_21 or 21_12"),
        ("[Version] 2.0\n# GHz S RI R 50\n[Mixed-Mode Order] D2,1 C2,1\n", "mixed-mode data"),
        (
            "[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 1\n[Number of Frequencies] 3\n"
            "[Network Data]\n1 0 0\n2 0 0\n[End]\n",
            "line 7: [Number of Frequencies] says 3, but the data ends here after 2",
        ),
        (
            "[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 2\n[Network Data]\n1 0 0\n2 0 0\n",
            "3 numbers where a two-port file has 9",
        ),
        (
            "[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 4\n[Network Data]\n1 0 0\n",
            "the file has 4 ports",
        ),
        (
            "[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 1\n[Network Data]\n1 0 0\n[End]\n"
            "2 0 0\n",
            "line 7: the data goes on after line 6",
        ),
    ],
)
def test_version_2_text_that_is_not_certain_is_refused(text, part):
    with pytest.raises(TouchstoneError) as refusal:
        parse_touchstone(text, "mast.ts")
    assert part in str(refusal.value)


def test_a_file_too_large_to_be_meant_is_refused_before_it_is_read():
    with pytest.raises(TouchstoneError, match="64 MB"):
        parse_touchstone(b"!" * (MOST_BYTES + 1), "a.s1p")


def test_a_name_or_text_with_control_characters_cannot_reach_the_terminal():
    with pytest.raises(TouchstoneError) as refusal:
        parse_touchstone("# MHz S RI R \x1b[31mred\n1 0 0\n", "evil\x1b[2J\n.s1p")
    assert str(refusal.value).isprintable()


@pytest.mark.parametrize(
    "row", ["7x0 0.1 0", "700 O.1 0", "x00 0.1 0.2", "700 0.1.0", "7_50 0 0", "7\x0000 0.1 0"]
)
@pytest.mark.parametrize("before", ["", "freq re im\n", "600 0 0\n"], ids=["first", "head", "last"])
def test_a_damaged_row_passes_neither_for_preamble_nor_for_an_end(before: str, row: str) -> None:
    behind = "" if before.startswith("600") else "800 0.1 0\n"
    line = 2 + bool(before)
    with pytest.raises(TouchstoneError, match=rf"line {line}: .* is a row with something"):
        parse_touchstone(f"{HEAD}{before}{row}\n{behind}", "a.s1p")


def test_words_above_and_below_the_data_are_passed_over_as_before() -> None:
    for words in ("freq S11re S11im", "Sweep 1 of 3", "ch> ", "END"):
        file = parse_touchstone(f"{HEAD}{words}\n700 0 0\n{words}\n", "a.s1p")
        assert file.reading.reflection.tolist() == [0.0]


class CountedLines(list[str]):
    """Lines that count how often one of them was handed out."""

    handed_out = 0

    def __iter__(self) -> Iterator[str]:
        for line in super().__iter__():
            self.handed_out += 1
            yield line

    def __getitem__(self, at: Any) -> Any:
        found = super().__getitem__(at)
        self.handed_out += len(found) if isinstance(at, slice) else 1
        return found


@pytest.mark.parametrize("comments", [100, 2000])
@pytest.mark.parametrize("row", ["7e8 0 0", "7e8 0 0 ! a comment"])
def test_every_line_is_looked_at_a_few_times_however_many_there_are(
    comments: int, row: str
) -> None:
    lines = CountedLines(["! nothing", ""] * comments + ["# Hz S RI R 50", row, "8e8 0 0"])
    assert len(sorted_out(lines, "a.s1p").counts) == 2
    assert lines.handed_out <= 3 * len(lines)


def test_a_file_of_a_million_ports_is_refused_where_it_says_so() -> None:
    text = "[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 1000000\n[Reference]\n" + "50\n" * 9
    with pytest.raises(TouchstoneError, match="line 3: the file has 1000000 ports"):
        parse_touchstone(text, "a.ts")
