"""What was printed and written, as text that is the same on every machine.

Numbers of more digits than `DECIMALS` are rounded: processors and their libraries for matrices
differ in the last one or two of seventeen. Long runs of numbers (arrays, curves in pictures)
become their count, a sum of them and the ends. Sums of files hang on all digits, so they become
their numbers in the order a command meets them in. JSON in one line is laid out, to be read in a
difference.
"""

from __future__ import annotations

import hashlib
import io
import json
import math
import re

import numpy as np

DIGITS, DECIMALS = 10, 8
"""Significant digits kept of a number in a text, and decimals at most."""
PART_DECIMALS = 6
"""Decimals kept of the numbers that a page draws."""
OFF_TIES = 1 + 1.2345e-11
"""Nothing that was measured lies just between two rounded numbers; what was typed may."""
LONG = 300
"""Letters from which on a run of numbers is told by its count and sum."""

NUMBER = re.compile(r"(?<![\w.])[-+]?\d+\.\d+(?:[eE][-+]?\d+)?(?![\w.])|(?<![\w.])\d+e-?\d+(?!\w)")
RUN = re.compile(rf"[-+\d](?:[-+\d.,eE\s\[\]MLHVCZmlhvcz]|\\r(?=\n)){{{LONG},}}")
SUM = re.compile(r"\b[0-9a-f]{64}\b")


def rounded(text: str) -> str:
    """Round every number of many digits in a text."""

    def shorter(found: re.Match[str]) -> str:
        token = found[0]
        mantissa = re.split("[eE]", token)[0]
        few = sum(letter.isdigit() for letter in mantissa) <= DECIMALS
        if few and "e" not in token.lower():
            return token
        value = float(token) * OFF_TIES
        if value == 0 or not math.isfinite(value):
            return "0.0"
        places = DIGITS - 1 - math.floor(math.log10(abs(value)))
        return repr(round(value, min(places, DECIMALS)) + 0.0)

    return NUMBER.sub(shorter, text)


def shortened(text: str) -> str:
    """Tell long runs of numbers by their count, sum and ends."""

    def summarize(found: re.Match[str]) -> str:
        run = found[0].rstrip()
        words = re.findall(r"[-+]?[\d.]+(?:e[-+]?\d+)?", run)
        ends = f"{' '.join(words[:4])} ... {' '.join(words[-4:])}"
        return f"<{len(words)} numbers {sum_of(run)}: {ends}>{found[0][len(run) :]}"

    return RUN.sub(summarize, text)


def sum_of(text: str) -> str:
    """A short sum of a text."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]


class Plain:
    """Makes the texts of one session plain."""

    def __init__(self, scratch: str) -> None:
        self._scratch = scratch
        self._digests: dict[str, int] = {}

    def begin(self) -> None:
        """Another command: its sums are counted from 1."""
        self._digests.clear()

    def text(self, text: str) -> str:
        """A text as it is kept."""
        text = text.replace(self._scratch, "<scratch>").replace("\r\n", "\\r\n")
        text = SUM.sub(lambda found: f"<sum {self._number(found[0])}>", text)
        return shortened(rounded(text))

    def _number(self, digest: str) -> int:
        return self._digests.setdefault(digest, len(self._digests) + 1)

    def file(self, name: str, content: bytes) -> str:
        """A file's content as it is kept."""
        if name.endswith(".pdf"):
            return self.text(pdf_text(content))
        try:
            text = content.decode("utf-8")
        except UnicodeDecodeError:
            return "(no text; not kept)\n"
        if name.endswith(".json") and text.count("\n") <= 1:
            make_with_pigtail = json.dumps(json.loads(text), indent=1, ensure_ascii=False)
            return (
                f"(laid out here; {text.count(chr(10))} line end)\n{self.text(make_with_pigtail)}\n"
            )
        return self.text(text)


def pdf_text(content: bytes) -> str:
    """What can be read on the pages of a PDF."""
    from pypdf import PdfReader

    pages = PdfReader(io.BytesIO(content)).pages
    return "".join(f"(page {at})\n{page.extract_text()}\n" for at, page in enumerate(pages, 1))


def part_summary(values: np.ndarray) -> str:
    """A part of what a page draws: its count, sum and ends."""
    words = [f"{value:.{PART_DECIMALS}f}" for value in np.float64(values) * OFF_TIES]
    words = [word.removeprefix("-") if not word.strip("-0.") else word for word in words]
    ends = f"{' '.join(words[:4])} ... {' '.join(words[-4:])}"
    return f"{len(words)} numbers {sum_of(' '.join(words))}: {ends}"


class Names:
    """Ids that are made of sums become their kind and number, in the order they are met in."""

    def __init__(self) -> None:
        self._known: dict[str, str] = {}

    def __call__(self, identity: str) -> str:
        kind = identity[0]
        same = sum(each[0] == kind for each in self._known)
        return self._known.setdefault(identity, f"{kind}<{same + 1}>")
