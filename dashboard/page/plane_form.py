"""The reference plane as a form on the page declares it."""

from __future__ import annotations

from calibration.files.plane_file import PlaneText
from calibration.files.store import load_cable_types, read_plane
from dashboard.errors import SetupError


def typed_of(
    cable: str | None,
    length_mm: float | None,
    velocity_factor: float | None,
    loss_db: float | None,
    loss_at_mhz: float | None,
) -> PlaneText:
    """What a form on the page declares; what is left out is the table's.

    Raises SetupError where there is no length, PlaneError where the rest does not go together.
    """
    if length_mm is None:
        raise SetupError("How long is the cable? Enter its length in millimetres.")
    figures = {
        "cable": cable or None,
        "length_mm": length_mm,
        "velocity_factor": velocity_factor,
        "loss_db": loss_db,
        "loss_at_mhz": loss_at_mhz,
    }
    plane_text = " ".join(f"{key}={value}" for key, value in figures.items() if value is not None)
    return read_plane(plane_text)


def cable_options() -> list[dict[str, str]]:
    """The table of cables, to choose from."""
    return [{"label": each.label, "value": name} for name, each in load_cable_types().items()]
