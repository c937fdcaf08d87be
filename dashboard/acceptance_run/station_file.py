"""A station's file: what a helper may not change, and the known good antenna that proves the bench.

    name = "River watch, Saturday"
    plan = "plan.toml"
    kit = "n-plug-50"
    recipe = "bent-strip.toml"
    contact = "Ana"

    [known_good]
    record = "records/weir-1_2026-11-28T101500Z"
    tolerance_db = 0.5
    every = 10

Files are named from the station file's own folder, and lie in it or below it. docs/station.md
describes every key.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from acceptance.catalogue.known_good_checks import KnownGood, known_good_of
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_plan, load_recipe
from acceptance.plan.recipe import NO_RECIPE, Recipe
from acquire.errors import NamedFileError
from acquire.files.bounded_read import read_text
from acquire.files.named_file import in_folder
from acquire.files.toml_file import first_fault, toml_table
from calibration.files.store import load_kit
from calibration.standards.kit import Kit
from calibration.standards.kit_file import kit_as_table
from dashboard.errors import SetupError
from dashboard.files import user_folders

MOST_BETWEEN = 100
LONGEST_TEXT = 80
_STRICT = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)
Text = Annotated[str, Field(min_length=1, max_length=LONGEST_TEXT, pattern=r"^[^\x00-\x1f]+$")]


class _KnownGoodTable(BaseModel):
    model_config = _STRICT
    record: Text = Field(
        description='the folder of its record, as in record = "records/weir-1_..."'
    )
    tolerance_db: float = Field(
        0.5, ge=0, le=3, description="how far it may be off beyond both intervals, 0 to 3 dB"
    )
    every: int = Field(
        10, ge=1, le=MOST_BETWEEN, description="after how many antennas it is swept again, 1 to 100"
    )


class _CheckPieceTable(BaseModel):
    model_config = _STRICT
    name: Text = Field("check piece", description="what the check piece is called")
    return_loss_db: float = Field(
        ge=1, le=30, description="what it reads near the limit, 1 to 30 dB, as in 9.54"
    )


class StationFile(BaseModel):
    """What a station's file says; what it names is not read yet."""

    model_config = _STRICT
    name: Text = Field(description='what the station is called, as in name = "Saturday"')
    plan: Text = Field(description='the plan\'s file, as in plan = "plan.toml"')
    kit: Text = Field(description='a kit\'s name, or its file, as in kit = "n-plug-50"')
    known_good: _KnownGoodTable = Field(
        description="a table [known_good] with the record of an antenna that passes"
    )
    recipe: Text | None = Field(None, description="the recipe's file")
    records: Text | None = Field(None, description="the folder for the records")
    contact: Text = Field("whoever set this up", description="who is asked where the word is ASK")
    load_db: float | None = Field(
        None, gt=0, le=60, description="the return loss of the load, dB, if its maker states it"
    )
    serial: Text | None = Field(
        None, description="a pattern that every serial has, as in serial = 'GW-[0-9]{4}'"
    )
    check_piece: _CheckPieceTable | None = Field(
        None, description="a table [check_piece] with name and return_loss_db"
    )

    @model_validator(mode="after")
    def _pattern_can_be_used(self) -> Self:
        try:
            re.compile(self.serial or "")
        except re.error as error:
            raise ValueError(
                f"serial is no pattern: {error}. Write one as in serial = 'GW-[0-9]{{4}}'"
            ) from error
        return self


_TABLES: Mapping[str, type[BaseModel]] = {
    "known_good": _KnownGoodTable,
    "check_piece": _CheckPieceTable,
}


@dataclass(frozen=True, slots=True, eq=False)
class Station:
    """A station, read, with all that it locks."""

    name: str
    contact: str
    plan: Plan
    kit: Kit
    recipe: Recipe
    records: Path
    known_good: KnownGood
    tolerance_db: float
    every: int
    """So many antennas between two checks of the known good one."""
    serial: str
    """A pattern that a serial must match whole; empty for any."""
    load_db: float | None
    check_piece: tuple[str, float] | None
    """Its name, and what it should read, dB; None where there is none."""
    sums: Mapping[str, str]
    """SHA-256 of what is locked, by what it is: "station", "plan", "kit", "recipe"."""

    def fits(self, serial: str) -> bool:
        """True where a serial is written as the station wants it."""
        return self.serial == "" or re.fullmatch(self.serial, serial) is not None


def parse_station(text: str, where: str) -> StationFile:
    """Read a station's text; nothing that it names is looked at.

    where : what to call it. Raises SetupError, one sentence with the key and the cure.
    """
    try:
        return StationFile.model_validate(toml_table(text, where, SetupError))
    except ValidationError as error:
        place = error.errors(include_url=False)[0]["loc"]
        model = _TABLES.get(str(place[0]), StationFile) if len(place) > 1 else StationFile
        raise SetupError(first_fault(where, error, model)) from error


def load_station(path: Path) -> Station:
    """Read a station's file and all that it names.

    Raises SetupError, one sentence with the key and the cure, or what reading a file that it names
    raises.
    """
    where = f"The station {path.name}"
    text = read_text(path, "The station", SetupError)
    file = parse_station(text, where)
    plan = load_plan(_named(path, "plan", file.plan))
    if plan.touch_test:
        raise SetupError(
            f"{where}: its plan wants a touch test, which takes a person who knows it. Use a plan "
            "without touch_test."
        )
    is_file = file.kit.endswith(".toml")
    kit = load_kit(_named(path, "kit", file.kit) if is_file else file.kit, user_folders.kits())
    recipe = NO_RECIPE if file.recipe is None else load_recipe(_named(path, "recipe", file.recipe))
    records = (
        user_folders.records() if file.records is None else _named(path, "records", file.records)
    )
    known_good = known_good_of(_named(path, "known_good.record", file.known_good.record), plan)
    piece = file.check_piece
    return Station(
        name=file.name,
        contact=file.contact,
        plan=plan,
        kit=kit,
        recipe=recipe,
        records=records,
        known_good=known_good,
        tolerance_db=file.known_good.tolerance_db,
        every=file.known_good.every,
        serial=file.serial or "",
        load_db=file.load_db,
        check_piece=None if piece is None else (piece.name, piece.return_loss_db),
        sums={
            "station": _sum(text),
            "plan": _sum(plan.text),
            "kit": _sum(json.dumps(kit_as_table(kit), sort_keys=True, default=str)),
            "recipe": _sum(recipe.text),
        },
    )


def _named(station: Path, key: str, name: str) -> Path:
    """A file or folder that the station names. Raises SetupError where it leads elsewhere."""
    try:
        return in_folder(station.parent, name)
    except NamedFileError as error:
        raise SetupError(f"The station {station.name}: {key}: {error}") from error


def _sum(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
