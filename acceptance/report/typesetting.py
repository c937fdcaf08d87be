"""Pages and pictures set by typst: PDF/A-2b for what must be read in many years, and PNG.

The engine is compiled, and there is none for some systems (Windows on ARM); then nothing can be
set, and that is said when it is asked for. PDF/A refuses a letter that no font has, and that
is how it is found.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from acceptance.errors import RecordError

LETTERS = "#set document(date: auto)\n#sys.inputs.letters"
"""A page that sets some letters and nothing else."""
PICTURE = '#set page(width: auto, height: auto, margin: 0pt)\n#image("picture.svg")'
FIRST_UNUSUAL_LETTER = "\u0180"
"""The first letter that not every font of Latin letters has."""
_NOT_SHOWN = re.compile(r'the text `"(.+?)"` could not be displayed')
_CODE = re.compile(r"\\u\{([0-9a-f]+)\}")

NO_ENGINE = (
    "This machine has no engine that sets pages (the package typst, which is not there for every "
    "system), so no PDF and no PNG can be made. Print report.html, which says the same."
)


class TypesettingError(Exception):
    """What the engine says of what it cannot set."""


def _compile(files: Mapping[str, str], **how: Any) -> bytes:
    """Have the engine set some files. Raises TypesettingError; RecordError where there is none."""
    try:
        import typst  # noqa: PLC0415 - it may be missing, and nothing else hangs on it
    except ImportError as error:
        raise RecordError(NO_ENGINE) from error
    compile_: Any = typst.compile  # its own types know no files by name
    try:
        made: bytes = compile_({name: text.encode() for name, text in files.items()}, **how)
    except typst.TypstError as error:
        raise TypesettingError(str(error)) from error
    return made


def pdf(files: Mapping[str, str], **inputs: str) -> bytes:
    """Set "main.typ" as PDF/A-2b.

    files : it and what it names, by name. told : what it reads as `sys.inputs`.
    Raises TypesettingError, among others for a letter that no font has, and RecordError where there
    is no engine.
    """
    return _compile(files, format="pdf", pdf_standards="a-2b", sys_inputs=inputs)


def png(svg: str, dots_per_inch: float = 192.0) -> bytes:
    """A picture as PNG. Raises TypesettingError, and RecordError where there is no engine."""
    files = {"main.typ": PICTURE, "picture.svg": svg}
    return _compile(files, format="png", ppi=dots_per_inch)


def not_in_fonts(text: str) -> frozenset[str]:
    """Letters that no font at hand has: what refuses to be set is left out until all is set."""
    every = frozenset(each for each in text if not each.isascii())
    left = every
    while left:
        try:
            pdf({"main.typ": LETTERS}, letters=" ".join(sorted(left)))
        except TypesettingError as error:
            inputs = "".join(_NOT_SHOWN.findall(str(error)))
            named = {*inputs, *(chr(int(each, 16)) for each in _CODE.findall(inputs))}
            # where it is not told which, none that is unusual is trusted
            left -= left & named or {each for each in left if each >= FIRST_UNUSUAL_LETTER} or left
        else:
            break
    return every - left
