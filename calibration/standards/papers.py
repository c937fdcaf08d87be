"""Which very piece a standard is: its number, when it was measured, and for how long that holds."""

from __future__ import annotations

import datetime
from typing import Annotated, Any, Self

from pydantic import BeforeValidator, ConfigDict, Field, model_validator
from pydantic.dataclasses import dataclass


def _day(written: object) -> object:
    """A day as JSON writes it; TOML has dates of its own."""
    return datetime.date.fromisoformat(written) if isinstance(written, str) else written


_OnDay = Annotated[
    datetime.date | None, BeforeValidator(_day), Field(description="a day, such as 2026-03-31")
]
PAPER_KEYS = ("serial", "date", "expires")


@dataclass(frozen=True, slots=True, kw_only=True, config=ConfigDict(extra="forbid", strict=True))
class Papers:
    """What tells one piece from another of its kind; all of it may be unknown."""

    serial: Annotated[str, Field(max_length=60, description="the number on it, as text")] = ""
    date: _OnDay = None
    """When it was last measured, or made."""
    expires: _OnDay = None
    """The last day on which that counts."""

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.date is not None and self.expires is not None and self.expires < self.date:
            raise ValueError(f"it expires {self.expires}, before its date {self.date}")
        return self

    def expired(self, name: str, on: datetime.date) -> str:
        """What is wrong with its dates on a day; a sentence, empty where nothing is."""
        piece = f"The {name}{f' no. {self.serial}' if self.serial else ''}"
        if self.expires is not None and on > self.expires:
            return (
                f"{piece} was out of date when it was used: its figures count up to "
                f"{self.expires}, and it was {on}. Have it measured, or measure a known device "
                "back, before you trust a pass."
            )
        if self.date is not None and on < self.date:
            return (
                f"{piece} was used on {on}, before the {self.date} on which it was measured. "
                "Look at the kit's dates and at this machine's clock."
            )
        return ""

    @property
    def words(self) -> str:
        """As "no. 4711, of 2026-03-31, up to 2027-03-31"."""
        parts = (
            self.serial and f"no. {self.serial}",
            "" if self.date is None else f"of {self.date}",
            "" if self.expires is None else f"up to {self.expires}",
        )
        return ", ".join(each for each in parts if each)

    def as_table(self) -> dict[str, Any]:
        """The keys that a kit file has it under."""
        found = {"serial": self.serial, "date": self.date, "expires": self.expires}
        return {key: str(value) for key, value in found.items() if value}
