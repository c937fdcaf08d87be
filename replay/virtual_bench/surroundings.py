"""What lies round the virtual bench's antenna: an enclosure, rain, both or neither.

Figures are invented, in the sizes that such things have [practice]: a box of plastic lowers every
dip by 1 to 4 %, rain on it by about as much again, and water is lossy, which plastic hardly is.

How they act is derived. A strip's capacitance a metre rises with the effective permittivity e of
what its field goes through, its inductance a metre does not change. So the arm acts sqrt(e) times
longer and its line impedance falls by sqrt(e). Where the arm resonates it is then shorter against
the wave, and a short arm's radiation resistance goes with the square of that: it falls by e. What
the field loses in the dielectric is a resistance in series with each resonance, its reactance times
the loss tangent.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Surrounding = Literal["nothing", "enclosure", "rain", "enclosure in rain"]


@dataclass(frozen=True, slots=True)
class Loading:
    """What surroundings do to the field of an arm."""

    permittivity: float = 1.0
    """Effective, relative to air; 1 or more."""
    loss_tangent: float = 0.0
    """Effective; 0 or more."""


BARE = Loading()
SURROUNDINGS: Mapping[Surrounding, Loading] = MappingProxyType(
    {
        "nothing": BARE,
        "enclosure": Loading(1.05, 0.002),
        "rain": Loading(1.07, 0.03),
        "enclosure in rain": Loading(1.08, 0.02),
    }
)
"""By name. A lid keeps the water away from the strip: it detunes less there, and costs less."""


def surrounding(*, enclosed: bool, wet: bool) -> Surrounding:
    """The name of what lies round the antenna."""
    if enclosed:
        return "enclosure in rain" if wet else "enclosure"
    return "rain" if wet else "nothing"
