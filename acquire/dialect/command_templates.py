"""What the words of every family share: strict tables, commands with places, timing."""

from __future__ import annotations

import string
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from acquire.sweep import SweepRequest

PLACES = ("start_hz", "stop_hz", "points")
"""What a command may leave a place for, in braces; written in as whole numbers."""


class Table(BaseModel):
    """A table of a profile: every key known, every value of its own type, no changes."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class Timing(Table):
    """How long an analyzer takes."""

    seconds_per_point: Annotated[float, Field(gt=0, le=10)]
    reply_s: Annotated[float, Field(gt=0, le=600)] = 3.0
    """Longest wait for a reply, beyond the sweep itself."""
    seconds_per_pass: Annotated[float, Field(ge=0, le=60)] = 0.05
    """What setting a pass and asking for it costs."""

    def sweep_s(self, points: int) -> float:
        """How long one sweep of so many points takes."""
        return points * self.seconds_per_point

    def deadline_s(self, points: int) -> float:
        """How long to wait for a reply that comes after a sweep, perhaps one in progress."""
        return self.reply_s + self.busy_s(points)

    def busy_s(self, points: int) -> float:
        """How long an analyzer may be at work on a sweep, the one in progress included."""
        return 2 * self.sweep_s(points)


def printable(text: str) -> str:
    """Refuse what would not be one line on the wire."""
    if not (text.isascii() and text.isprintable()):
        raise ValueError("has characters that no command has; write plain ASCII, without line ends")
    return text


def without_places(text: str) -> str:
    """Refuse places in braces, where a command takes nothing."""
    if _places(text):
        raise ValueError("takes no {places}; write the command as it is sent")
    return text


def with_every_place(text: str) -> str:
    """Refuse a command that leaves no place for what it must say."""
    missing = [place for place in PLACES if place not in known_places(text)]
    if text and missing:
        raise ValueError(
            f"needs {{{'} and {'.join(missing)}}}; write the command with {{start_hz}}, "
            "{stop_hz} and {points} where the numbers go"
        )
    return text


def known_places(text: str) -> list[str]:
    """The places in a command; raises ValueError if one of them cannot be filled."""
    places = _places(text)
    for place in places:
        if place not in PLACES:
            raise ValueError(
                f"has no value for {{{place}}}; the places are {{start_hz}}, {{stop_hz}} and "
                "{points}"
            )
    return places


def _places(text: str) -> list[str]:
    try:
        parts = list(string.Formatter().parse(text))
    except ValueError:
        raise ValueError("has an unpaired brace; write {start_hz}, or {{ for a brace") from None
    if any(spec or conversion for _, _, spec, conversion in parts):
        raise ValueError("takes places as {start_hz}, without anything behind the name")
    return [name for _, name, _, _ in parts if name is not None]


def with_one_place(text: str) -> str:
    """Refuse a command that does not say exactly one thing."""
    if len(known_places(text)) != 1:
        raise ValueError("needs one place, such as {start_hz}, where the number goes")
    return text


one_line = AfterValidator(printable)
Text = Annotated[str, one_line]
Command = Annotated[Text, AfterValidator(without_places)]
SweepCommand = Annotated[Text, AfterValidator(with_every_place)]
PlacedCommand = Annotated[Text, AfterValidator(with_one_place)]


def filled(template: str, request: SweepRequest) -> str:
    """A command with its places filled from the request, whole hertz."""
    return template.format(
        start_hz=round(request.start_hz), stop_hz=round(request.stop_hz), points=request.points
    )
