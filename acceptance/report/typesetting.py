"""Pages and pictures set by typst: PDF/A-2b for what must be read in many years, and PNG.

PDF/A refuses a letter that no font at hand has, and that is how it is found.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import typst

LETTERS = "#set document(date: auto)\n#sys.inputs.letters"
"""A page that sets some letters and nothing else."""
PICTURE = '#set page(width: auto, height: auto, margin: 0pt)\n#image("picture.svg")'
FIRST_UNUSUAL_LETTER = "\u0180"
"""The first letter that not every font of Latin letters has."""
_NOT_SHOWN = re.compile(r'the text `"(.+?)"` could not be displayed')
_CODE = re.compile(r"\\u\{([0-9a-f]+)\}")

TypesettingError = typst.TypstError
_compile: Any = typst.compile  # its own types know no files by name


def pdf(files: Mapping[str, str], **inputs: str) -> bytes:
    """Set "main.typ" as PDF/A-2b.

    files : it and what it names, by name. told : what it reads as `sys.inputs`.
    Raises TypesettingError, among others for a letter that no font has.
    """
    made: bytes = _compile(_encoded(files), format="pdf", pdf_standards="a-2b", sys_inputs=inputs)
    return made


def png(svg: str, dots_per_inch: float = 192.0) -> bytes:
    """A picture as PNG. Raises TypesettingError."""
    files = {"main.typ": PICTURE, "picture.svg": svg}
    made: bytes = _compile(_encoded(files), format="png", ppi=dots_per_inch)
    return made


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


def _encoded(files: Mapping[str, str]) -> dict[str, bytes]:
    return {name: text.encode() for name, text in files.items()}
