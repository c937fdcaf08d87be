"""Why a TOML text cannot be read, in words for whoever typed it: the line, and the likely cause.

A parser says where it stopped, not what was meant. What people mistype in files such as ours is a
short list: a letter among digits, a comma in a number, text without quotes, a unit beside a number.
"""

from __future__ import annotations

import re

_PLACE = re.compile(r"\(at (?:line (\d+), column \d+|end of document)\)")
_ASSIGNED = re.compile(r"\s*([\w.-]+)\s*=\s*(.*?)\s*$")
_COMMENT = re.compile(r"""^((?:[^"'#]|"[^"]*"|'[^']*')*?)\s*#.*$""")
_NUMBER_OF_LETTERS = re.compile(r"[+-]?[\dOolI]*\.?[\dOolI]+")
_COMMA = re.compile(r"[+-]?\d+,\d+")
_UNIT = re.compile(r"([+-]?\d+(?:\.\d+)?)\s*([A-Za-z%:][\w:/%]*)")
_CURLY = re.compile("[\u201c\u201d\u201e\u00ab\u00bb\u2018\u2019]")
_DUPLICATE = re.compile(r"Cannot overwrite a value")
_DECLARED = re.compile(r"Cannot declare \('(\w+)'")


def faulty_line(text: str, complaint: str) -> int:
    """Which line a parser's complaint is about, counted from 1; 0 where it names none.

    complaint : as `tomllib` words it.
    """
    found = _PLACE.search(complaint)
    if found is None:
        return 0
    if found[1] is None:
        return max(1, len(text.rstrip().splitlines()))
    return min(int(found[1]), max(1, len(text.splitlines())))


def likely_cause(text: str, complaint: str) -> str:
    """What was probably mistyped, as a sentence or two; empty where nothing known fits.

    complaint : as `tomllib` words it.
    """
    lines = text.splitlines()
    at = faulty_line(text, complaint)
    if not 0 < at <= len(lines):
        return ""
    # An error of a line's end is sometimes noticed on the next line.
    written = next((lines[n - 1] for n in (at, at - 1) if n > 0 and lines[n - 1].strip()), "")
    line = _COMMENT.sub(r"\1", written).strip()
    declared = _DECLARED.search(complaint)
    if declared is not None:
        key = declared[1]
        return f'[{key}] stands twice. Write "[[{key}]]", with two brackets, above each.'
    if _CURLY.search(line):
        return 'It has curly quotation marks. Use straight ones, as in name = "my plan".'
    assigned = _ASSIGNED.fullmatch(line)
    if assigned is None:
        return _unassigned(line)
    key, value = assigned[1], assigned[2]
    if _DUPLICATE.search(complaint):
        return f"{key} stands twice in the same place. Remove one."
    return _of_value(key, value)


def _unassigned(line: str) -> str:
    if line.startswith("["):
        wanted = "]]" if line.startswith("[[") else "]"
        if not line.endswith(wanted):
            return f'The bracket is not closed. Write it as in "{line.rstrip("]")}{wanted}".'
        return ""
    if "=" not in line and line[:1].isalpha():
        return f"{line[:40]} has no value. Write a name, then =, then its value, as in lte = 20."
    return ""


def _of_value(key: str, value: str) -> str:  # noqa: PLR0911 - one a mistake
    if value == "":
        return f"{key} has no value. Write it after the =."
    if value[0] in "\"'":
        if value.count(value[0]) == 1:
            return f"The quotation mark is not closed. Write {key} = {value}{value[0]}."
        return ""
    if value[0] in "[{":
        closing = {"[": "]", "{": "}"}[value[0]]
        if not value.endswith(closing):
            return f'The "{value[0]}" is not closed. Put "{closing}" at its end.'
        comma = _COMMA.search(value) if closing == "}" else None
        return f"Numbers take a point. Did you mean {_pointed(comma[0])}?" if comma else ""
    if _COMMA.fullmatch(value):
        return f"Numbers take a point. Did you mean {_pointed(value)}?"
    if _NUMBER_OF_LETTERS.fullmatch(value) and any(letter.isdigit() for letter in value):
        mistyped = [letter for letter in value if letter in "OolI"]
        if mistyped:
            return f"{value} is not a number. Did you type the letter {mistyped[0]}?"
        return f"{value} is not a number here. Write a digit before and after the point."
    unit = _UNIT.fullmatch(value)
    if unit is not None:
        return f"{value} is not a number. Write the number alone: {key} = {unit[1]}."
    if value[0].isalpha() and value not in ("true", "false"):
        if value.lower() in ("true", "false"):
            return f"Write {value.lower()} in small letters."
        return f'Text stands in quotation marks. Write {key} = "{value}".'
    return ""


def _pointed(number: str) -> str:
    return number.replace(",", ".")
