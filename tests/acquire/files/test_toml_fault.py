"""What was probably mistyped in a TOML text, and on which line."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.errors import BandwrightError
from acquire.files.toml_fault import faulty_line, likely_cause
from acquire.files.toml_file import toml_table
from tests.counts import examples

MISTYPED = {
    "lte = 2O": "2O is not a number. Did you type the letter O?",
    "lte = l8": "letter l",
    "vswr = 2,0  # two to one": "Did you mean 2.0?",
    "uplink = { vswr = 1,8 }": "Did you mean 1.8?",
    "vswr = 1.8:1": "Write the number alone: vswr = 1.8.",
    "return_loss_db = 10 dB": "Write the number alone: return_loss_db = 10.",
    "vswr = .5": "before and after the point",
    "name = my plan": 'Write name = "my plan".',
    "name = \u201cmine\u201d": "straight ones",
    'name = "mine': "The quotation mark is not closed",
    "touch_test = True": "Write true in small letters.",
    'conditions = ["bare"': 'The "[" is not closed.',
    "lte 20": "lte 20 has no value.",
    "vswr =": "vswr has no value.",
    "[[band]": 'Write it as in "[[band]]".',
}


@pytest.mark.parametrize("line", MISTYPED)
def test_what_was_mistyped_is_named_with_its_line(line: str) -> None:
    with pytest.raises(BandwrightError) as refusal:
        toml_table(f'first = "one"\n\n{line}\n', "The plan", BandwrightError)
    assert str(refusal.value).startswith("The plan: line 3: ")
    assert MISTYPED[line] in str(refusal.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lte = 3\nlte = 4\n", ("line 2", "lte stands twice")),
        ("[band]\nlte = 3\n[band]\nlte = 4\n", ("line 3", '"[[band]]"', "two brackets")),
        ("a = [\n1,\n", ("not TOML",)),
    ],
)
def test_what_stands_twice_is_said_and_what_nobody_knows_is_not_guessed(
    text: str, words: tuple[str, ...]
) -> None:
    with pytest.raises(BandwrightError) as refusal:
        toml_table(text, "The plan", BandwrightError)
    assert all(each in str(refusal.value) for each in words)


@examples(200)
@given(st.text(alphabet="ab=[]{}\"'#,.:0O1l \n\u201c", max_size=40))
def test_any_text_is_read_or_explained(text: str) -> None:
    complaint = _complaint(text)
    cause = likely_cause(text, complaint)
    assert cause == "" or (complaint and cause[-1] in ".?")
    assert 0 <= faulty_line(text, complaint) <= max(1, len(text.splitlines()))


def _complaint(text: str) -> str:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        return str(error)
    return ""
