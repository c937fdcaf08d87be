"""Files that a person writes: what was wrong with one, as a sentence with field and cure."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Callable
from typing import Any

from pydantic import ValidationError

from acquire.files.toml_fault import faulty_line, likely_cause

MOST_CHARACTERS = 1_000_000
"""No file that holds no data needs more."""
MOST_WITH_DATA = 4 * MOST_CHARACTERS
"""Nor one with some 10,000 points written out."""

MOST_KEY_PARTS = 16
"""Parts of a dotted key or a table's name: tomllib takes time by their number squared."""

_NOT_BARE = re.compile(
    # strings first, for what stands in one is no key; each is taken to its end or not at all, and
    # one without an end to the end of its line or of the text, so that no letter is read twice
    r'"""(?:[^"\\]|\\.|"(?!""))*+(?:""")?|"(?:[^"\\\n]|\\.)*+"?'
    r"|'''(?:[^']|'(?!''))*+(?:''')?|'[^'\n]*+'?|#[^\n]*+",
    re.DOTALL,
)
_DEEP_KEY = re.compile(rf"(?<![\w-])(?:[\w-]++[ \t]*+\.[ \t]*+){{{MOST_KEY_PARTS}}}")
_MISSPELT = ("extra_forbidden", "unexpected_keyword_argument")


def toml_table(
    text: str, where: str, refused: Callable[[str], Exception], most: int = MOST_CHARACTERS
) -> dict[str, Any]:
    """What a TOML text holds.

    where : what to call the file, as "Kit bench.toml". most : characters it may have.
    Raises what `refused` makes of one sentence, where it is no TOML, or too much.
    """
    if len(text) > most:
        raise refused(
            f"{where}: {len(text)} characters are more than one can need. Choose the right file."
        )
    if key := _DEEP_KEY.search(_NOT_BARE.sub("s", text)):
        raise refused(
            f"{where}: the key {key[0][:24].strip()}... has more than {MOST_KEY_PARTS} parts, and "
            "no file needs so many. Correct it: text stands in quotes."
        )
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))
    except (ValueError, RecursionError) as error:
        if isinstance(error, tomllib.TOMLDecodeError):
            if cause := likely_cause(text, str(error)):
                raise refused(f"{where}: line {faulty_line(text, str(error))}: {cause}") from error
            detail = str(error).rstrip(".")
        else:  # Python's own limits, which its words explain to a programmer
            deep = isinstance(error, RecursionError)
            detail = "nested too deeply" if deep else "a number has more digits than one can need"
        raise refused(
            f"{where}: not TOML: {detail}. Correct that place: text stands in quotes, numbers "
            "take a point."
        ) from error


def first_fault(where: str, error: ValidationError, model: Any) -> str:
    """Pydantic's first complaint as one plain sentence with the field and the cure.

    where : what to call the file, and the part of it. model : what it was held against; what each
    of its fields wants is said by the field's description.
    """
    wants = _descriptions(model)
    faults = error.errors(include_url=False, include_context=False)
    # a misspelt key is also a missing one; its spelling is the better hint
    first = next((each for each in faults if each["type"] in _MISSPELT), faults[0])
    pydantics_own = ("[key]", "float", "list[float]")
    path = ".".join(str(part) for part in first["loc"] if part not in pydantics_own)
    named = [part for part in first["loc"] if isinstance(part, str) and part in wants]
    field = str(first["loc"][-1]) if first["loc"] else ""
    want = wants.get(named[-1], "") if named else ""
    match first["type"]:
        case "missing":
            return f"{where}: {path} is missing. Write {want}."
        case "extra_forbidden" | "unexpected_keyword_argument":
            known = difflib.get_close_matches(field, wants, n=1) or [", ".join(wants)]
            return f"{where}: {path} is not a field it knows. Did you mean {known[0]}?"
        case "value_error":
            return f"{where}: {first['msg'].removeprefix('Value error, ')}."
        case _:
            return f"{where}: {path} is {first['input']!r}. Write {want}."


def _descriptions(model: Any) -> dict[str, str]:
    """What each field of a model wants, in words, as its Field says."""
    fields = getattr(model, "model_fields", None) or model.__pydantic_fields__
    words: dict[str, str] = {}
    for name, field in fields.items():
        words[name] = field.description or next(
            (
                inner.description
                for part in getattr(field.annotation, "__args__", ())
                for inner in getattr(part, "__metadata__", ())
                if getattr(inner, "description", None)
            ),
            "",
        )
    return words
