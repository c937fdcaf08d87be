"""The reference plane that a person asked for."""

from __future__ import annotations

from calibration.files.plane_file import NOT_MOVED, PlaneText
from calibration.files.store import load_cable_types, load_plane, read_plane
from calibration.one_port_calibration import Calibration
from calibration.plane.cable_type import CableType
from calibration.plane.reference_plane import CONNECTOR, ReferencePlane
from dashboard.errors import SetupError


def plane_of_option(option: str | None, calibration: Calibration | None) -> ReferencePlane:
    """What `--plane` of a command that sweeps means; the connector where nothing was said.

    Raises SetupError where there is no calibration, so no connector to move from, or where the
    antenna's feed is named without what lies before it; PlaneError.
    """
    if option is None or option == "connector":
        return CONNECTOR
    if option in ("raw", "antenna"):
        raise SetupError(
            f"--plane {option} says nothing of what lies between the connector and the feed. Name "
            'a .toml file that `cable` wrote, or type it: --plane "cable=ptfe-2.5mm length_mm=182".'
        )
    if calibration is None:
        raise SetupError(
            "The plane is moved from the connector, and without --calibration nothing is known "
            "there. Calibrate first."
        )
    return load_plane(option, calibration)


def plane_text_of_option(option: str | None) -> PlaneText:
    """What `--plane` was declared as, whole, for a record; nothing at the connector.

    Raises PlaneError, BesideError.
    """
    return NOT_MOVED if option is None or option == "connector" else read_plane(option)


def cable_of_type(name: str) -> CableType:
    """A cable of the table. Raises SetupError, with those there are."""
    types = load_cable_types()
    if name not in types:
        raise SetupError(f'The table has no cable "{name}". It has {", ".join(types)}.')
    return types[name]
