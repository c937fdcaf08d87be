"""What a plane file may say, field by field; `calibration.files.plane_file` reads it."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from calibration.plane.reference_plane import SKIN_SHARE

_STRICT = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)
_Joints = Annotated[
    float | None,
    Field(
        ge=6, le=80, description="what either joint reflects at most, as return loss, 6 to 80 dB"
    ),
]
LENGTH_TOLERANCE_MM = 2.0
"""How well a length is told with a ruler along a bent pigtail [practice]."""


MOST_WORDS = 60
"""Letters of what a plane is called."""


class LineTable(BaseModel):
    """A line by its type, or by its own figures."""

    model_config = _STRICT

    format: Literal[1] = Field(1, description="1, the only layout this version reads")
    words: Annotated[str, Field(max_length=MOST_WORDS, description="what to call it")] = ""
    cable: Annotated[str, Field(max_length=40, description="a name of the table of cables")] = ""
    length_mm: Annotated[
        float | None, Field(gt=0, le=200_000, description="length, mm, above 0")
    ] = None
    velocity_factor: Annotated[
        float | None, Field(ge=0.3, le=1, description="speed over that of light, 0.3 to 1")
    ] = None
    delay_ps: Annotated[
        float | None, Field(ge=0, le=1e6, description="one way, ps, 0 to 1000000")
    ] = None
    length_tolerance_mm: Annotated[float, Field(ge=0, description="mm, not negative")] = (
        LENGTH_TOLERANCE_MM
    )
    delay_tolerance_ps: Annotated[
        float | None, Field(ge=0, description="one way, ps, not negative")
    ] = None
    loss_db: Annotated[float | None, Field(ge=0, le=40, description="one way, dB, 0 to 40")] = None
    loss_at_mhz: Annotated[
        float | None, Field(gt=0, le=1e6, description="where loss_db holds, MHz")
    ] = None
    skin_share: Annotated[
        float, Field(ge=0, le=1, description="part of the loss by skin effect, 0 to 1")
    ] = SKIN_SHARE
    loss_tolerance_percent: Annotated[
        float | None, Field(ge=0, le=100, description="how far the loss may be off, 0 to 100 %")
    ] = None
    joints_db: _Joints = None

    @model_validator(mode="after")
    def _goes_together(self) -> Self:
        if (self.loss_db is None) != (self.loss_at_mhz is None):
            raise ValueError("loss_db and loss_at_mhz go together; give both")
        if self.delay_ps is not None and self.length_mm is not None:
            raise ValueError("give delay_ps or length_mm, not both")
        if self.delay_ps is None and self.length_mm is None:
            raise ValueError("give length_mm with a cable or a velocity_factor, or delay_ps")
        if self.cable and self.length_mm is None:
            raise ValueError("a cable of the table needs its length_mm")
        if self.length_mm is not None and not (self.cable or self.velocity_factor):
            raise ValueError("length_mm needs a velocity_factor, or a cable of the table")
        return self


class EndedTable(BaseModel):
    """A line by what it reads with its end open, shorted, or both."""

    model_config = _STRICT

    format: Literal[1] = Field(1, description="1, the only layout this version reads")
    words: Annotated[str, Field(max_length=MOST_WORDS, description="what to call it")] = ""
    open: Annotated[str, Field(max_length=200, description="a Touchstone file beside it")] = ""
    short: Annotated[str, Field(max_length=200, description="a Touchstone file beside it")] = ""
    ended_by: Annotated[
        Literal["bare", "kit"],
        Field(description='"bare" (a bare end, a soldered short) or "kit" (the kit\'s own)'),
    ] = "bare"
    offset_ps: Annotated[
        float | None, Field(ge=0, le=1000, description="how far their plane may be off, ps")
    ] = None
    calibration: Annotated[
        str, Field(max_length=100, description="when the calibration was made they were read with")
    ] = ""
    joints_db: _Joints = None


class FixtureTable(BaseModel):
    """A two-port by its file."""

    model_config = _STRICT

    format: Literal[1] = Field(1, description="1, the only layout this version reads")
    words: Annotated[str, Field(max_length=MOST_WORDS, description="what to call it")] = ""
    fixture: Annotated[
        str, Field(min_length=1, max_length=200, description="a two-port Touchstone file beside it")
    ]
    turned: Annotated[bool, Field(description="true where port 2 is at the connector")] = False
    error: Annotated[
        float | None, Field(ge=0, le=0.2, description="how far its values may be off, linear")
    ] = None


NAMES_A_FILE = ("open", "short", "fixture")
"""Keys of a table whose value is a file beside it."""


class AdaptedTable(BaseModel):
    """An adapter of the kit."""

    model_config = _STRICT

    format: Literal[1] = Field(1, description="1, the only layout this version reads")
    adapter: Annotated[
        str, Field(min_length=1, max_length=30, description="the name of one in the kit")
    ]
    removed: Annotated[
        bool, Field(description="true where it was on while calibrating and is off now")
    ] = False
