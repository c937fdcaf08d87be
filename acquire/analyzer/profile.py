"""A profile: how one family of analyzers talks, and what such an analyzer can do, as data.

A profile names no make; it is named by how the analyzer talks. docs/wiring-a-profile.md describes
every key. Reading is strict: what is not understood is refused by its name, with the cure.
"""

from __future__ import annotations

import difflib
from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, Field, ValidationError, model_validator
from pydantic_core import ErrorDetails

from acquire.coverage.sweep_limits import Limits
from acquire.dialect import Dialect
from acquire.dialect.command_templates import Table, Text, Timing
from acquire.dialect.prompted import PromptedDialect, PromptedWords
from acquire.dialect.registers import RegistersDialect, RegistersWords
from acquire.dialect.scpi import ScpiDialect, ScpiWords
from acquire.errors import ProfileError
from acquire.files.bounded_read import read_text
from acquire.files.toml_file import toml_table

FORMAT = 1
FORMER_KEYS = {"unit_corrected": "analyzer_corrected"}
"""What profiles of former versions call a key; they are read as they are."""

Mhz = Annotated[float, Field(ge=0, le=1e6)]


class LimitsTable(Table):
    """What the analyzer can sweep, as the file says it."""

    low_mhz: Mhz
    high_mhz: Mhz
    points: Annotated[int, Field(ge=2, le=100_001)]
    """Most points a pass."""
    fewest_points: Annotated[int, Field(ge=2)] = 2
    range_steps_mhz: Annotated[tuple[Mhz, ...], Field(strict=False)] = ()
    """Where the analyzer switches range."""

    @model_validator(mode="after")
    def _make_sense(self) -> Self:
        self.limits()
        return self

    def limits(self) -> Limits:
        """The same in whole hertz."""
        return Limits(
            float(round(self.low_mhz * 1e6)),
            float(round(self.high_mhz * 1e6)),
            self.points,
            tuple(float(round(mhz * 1e6)) for mhz in self.range_steps_mhz),
            self.fewest_points,
        )


class Profile(Table, ABC):
    """How one family of analyzers talks; made by `parse_profile`."""

    format: Literal[1]
    name: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9.-]{0,39}$")]
    family: Literal["prompted", "scpi", "registers"]
    """Decides which kind of profile it is, and so which words it has."""
    label: Text
    unproven: bool = True
    """True until someone has tried it on hardware."""
    analyzer_corrected: bool
    """True where the analyzer's readings already carry a correction of the analyzer's own."""
    baud_rate: Annotated[int, Field(ge=300, le=12_000_000)] = 115_200
    sweep_limits: LimitsTable = Field(alias="limits")
    timing: Timing

    @property
    def limits(self) -> Limits:
        """What the analyzer can sweep."""
        return self.sweep_limits.limits()

    @abstractmethod
    def dialect(self) -> Dialect:
        """How to talk to the analyzer."""


class PromptedProfile(Profile):
    """Of a text shell."""

    words: PromptedWords

    def dialect(self) -> Dialect:
        """How to talk to the analyzer."""
        return PromptedDialect(self.words, self.timing)


class ScpiProfile(Profile):
    """Of an analyzer that speaks SCPI."""

    words: ScpiWords

    def dialect(self) -> Dialect:
        """How to talk to the analyzer."""
        return ScpiDialect(self.words, self.timing)


class RegistersProfile(Profile):
    """Of an analyzer with registers and a queue."""

    words: RegistersWords

    def dialect(self) -> Dialect:
        """How to talk to the analyzer."""
        return RegistersDialect(self.words, self.timing)


FAMILIES: Mapping[str, type[Profile]] = MappingProxyType(
    {"registers": RegistersProfile, "scpi": ScpiProfile, "prompted": PromptedProfile}
)
"""In the order in which an unknown analyzer is asked: `registers` sends nothing a shell would obey,
`scpi` only questions, `prompted` whole command lines."""


def parse_profile(text: str, origin: str) -> Profile:
    """Make a profile of a file's text.

    origin : the file's name, for messages.
    Raises ProfileError, one sentence with the file, the key and the cure.
    """
    data = toml_table(text, f'Profile "{origin}"', ProfileError)
    version = data.get("format")
    if type(version) is not int:
        raise _fault(origin, "format", f"is not given as a number; write format = {FORMAT}")
    if version != FORMAT:
        raise _fault(
            origin,
            "format",
            f"is {version}, and this program reads {FORMAT}; use a newer program, or write the "
            f"profile in format {FORMAT}",
        )
    family = data.get("family")
    model = FAMILIES.get(family) if isinstance(family, str) else None
    if model is None:
        raise _fault(
            origin, "family", f"is {family!r}; write one of {_listed(FAMILIES)} for how it talks"
        )
    try:
        return model.model_validate({FORMER_KEYS.get(key, key): data[key] for key in data})
    except ValidationError as fault:
        # A misspelt key is also a missing one; its spelling is the better hint.
        faults = fault.errors(include_url=False)
        first = next((each for each in faults if each["type"] == "extra_forbidden"), faults[0])
        key = ".".join(str(part) for part in first["loc"])
        raise _fault(origin, key, _complaint(first, model)) from fault


def load_profiles(user_folder: Path | None = None) -> dict[str, Profile]:
    """Read the shipped profiles and those in the user's folder, by name.

    A folder that is not there holds none. Raises ProfileError, naming the file, where one
    cannot be read or used, has the name of a shipped one, or two of the user's share a name.
    """
    shipped = sorted(
        (file for file in resources.files("acquire.analyzer").joinpath("profiles").iterdir()),
        key=lambda file: file.name,
    )
    profiles = {
        profile.name: profile
        for profile in (
            parse_profile(file.read_text(encoding="utf-8"), file.name)
            for file in shipped
            if file.name.endswith(".toml")
        )
    }
    found: dict[str, Path] = {}
    shipped_names = frozenset(profiles)
    for path, profile in _of_user(user_folder):
        if profile.name in shipped_names:
            raise _fault(
                str(path),
                "name",
                f"is {profile.name!r} as a shipped one; choose another",
            )
        if profile.name in found:
            raise _fault(
                str(path), "name", f"is {profile.name!r} as in {found[profile.name]}; rename one"
            )
        found[profile.name] = path
        profiles[profile.name] = profile
    return profiles


def _of_user(folder: Path | None) -> Iterator[tuple[Path, Profile]]:
    if folder is None:
        return
    for path in sorted(folder.glob("*.toml")):
        if not path.is_file():
            raise _fault(str(path), "", "is no file; remove it")
        yield path, parse_profile(read_text(path, "The profile", ProfileError), str(path))


def _fault(origin: str, key: str, complaint: str) -> ProfileError:
    return ProfileError(
        f'Profile "{origin}"{", " if key else " "}{key + ": " if key else ""}{complaint}.'
    )


def _complaint(fault: ErrorDetails, model: type[BaseModel]) -> str:
    """What is wrong with a key, and the cure."""
    key = str(fault["loc"][-1]) if fault["loc"] else ""
    match fault["type"]:
        case "missing":
            table = ".".join(str(part) for part in fault["loc"][:-1])
            return f"is missing; write {key} and its value" + (f" under [{table}]" if table else "")
        case "extra_forbidden":
            known = _sibling_keys(fault["loc"], model)
            near = difflib.get_close_matches(key, known, n=1)
            cure = f"write {near[0]}" if near else f"there are {_listed(known)}"
            return f"is no key; {cure}"
        case "value_error":
            return fault["msg"].removeprefix("Value error, ").rstrip(".")
        case "literal_error":
            return f"is {fault['input']!r}; write {fault.get('ctx', {}).get('expected')}"
        case "string_pattern_mismatch" if key == "name":
            return f"is {fault['input']!r}; write small letters, digits, dots and hyphens"
        case _:
            wanted = fault["msg"].replace("Input should be", "it must be")
            return f"is {fault['input']!r}; {wanted}"


def _sibling_keys(loc: tuple[int | str, ...], model: type[BaseModel]) -> list[str]:
    """The keys that the table around a faulty one may have."""
    for part in loc[:-1]:
        inner = {field.alias or name: field for name, field in model.model_fields.items()}[
            str(part)
        ]
        if not (isinstance(inner.annotation, type) and issubclass(inner.annotation, BaseModel)):
            return []
        model = inner.annotation
    return [field.alias or name for name, field in model.model_fields.items()]


def _listed(names: Any) -> str:
    return ", ".join(names)
