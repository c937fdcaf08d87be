"""The reference plane that a Touchstone file names, in its comments or by its own name."""

from __future__ import annotations

import re
from dataclasses import dataclass

from acquire.sweep import Plane

OWN_CORRECTION = "the analyzer applied a correction of its own"
"""The comment of a sweep whose analyzer corrects itself: raw by plane, corrected all the same."""
_PLANE = re.compile(r"plane\s*[:=]\s*(\w+)\s*$", re.IGNORECASE)
_RAW = re.compile(
    r"(?<![a-z])(raw|uncalibrated|uncorrected|(no|without|not)\s+(calibrat|correct)\w*"
    r"|(calibration|correction)\s*[:=]?\s*(off|none|no))(?![a-z])",
    re.IGNORECASE,
)
_LONGEST_COMMENT = 1000


@dataclass(frozen=True, slots=True)
class StatedPlane:
    """What a file says of where its data holds."""

    plane: Plane | None
    """None where it says nothing."""
    why: str = ""
    """By what it says so, in a few words: "the comment in line 3"."""
    analyzer_corrected: bool = False
    """True where a comment says that the analyzer corrects its readings itself."""


def stated_plane(content: bytes, name: str = "") -> StatedPlane:
    """Say at which plane a file's data holds, by its own words.

    A comment "plane: connector", as this program writes it, says it for certain. Without one, a
    comment or a name with the word raw, uncalibrated or uncorrected says that it is raw: taken
    for corrected, such readings are wrong by many decibels, and who knows better may say so.
    """
    raw_by, plane, by, own = "", None, "", False
    for number, line in enumerate(content.splitlines(), 1):
        _, mark, comment = line[:_LONGEST_COMMENT].partition(b"!")
        if not mark:
            continue
        words = comment.decode("latin-1").strip(" \t!")
        own = own or words == OWN_CORRECTION
        found = _PLANE.fullmatch(words)
        if found and plane is None and found[1].lower() in list(Plane):
            plane, by = Plane(found[1].lower()), f"the comment in line {number}"
        elif not raw_by and _RAW.search(words):
            raw_by = f"the comment in line {number}"
    if not raw_by and _RAW.search(re.sub(r"[_\d.]+", " ", name)):
        raw_by = "its name"
    if plane is not None:
        return StatedPlane(plane, by, own)
    return StatedPlane(Plane.RAW if raw_by else None, raw_by, own)
