"""Adapters of a kit: put on after calibrating, or taken off, and what they cost in certainty."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.sweep import Reading
from calibration.calibration_budget import budget_of
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import correct, embed
from calibration.errors import KitError, PlaneError
from calibration.files.store import load_plane
from calibration.one_port_calibration import calibrate
from calibration.plane.loss import LossLaw
from calibration.plane.reference_plane import DeclaredLine
from calibration.standards.kit import Kit
from calibration.standards.kit_file import kit_as_table, kit_from_table, kit_text, parse_kit
from calibration.uncertainty.budget import Assumptions
from calibration.uncertainty.interval import interval, radius
from tests.calibration.conftest import Unit
from tests.calibration.made_kits import IDEAL_KIT
from tests.calibration.random_pigtails import HiddenPigtail

KIT = f"""{IDEAL_KIT}return_loss_db = 40

[adapter.n]
near = "SMA plug"
far = "type N socket"
delay_ps = 130.0
loss_db = 0.04
joints_db = 34
"""


def kit(text: str = KIT) -> Kit:
    return parse_kit(text, "kit.toml", lambda _: pytest.fail("no file is needed"))


def test_a_kit_keeps_its_adapters_through_every_form() -> None:
    made = kit()
    for again in (
        kit_from_table(kit_as_table(made), "again", lambda _: pytest.fail("no file")),
        kit(kit_text(made, {})),
    ):
        assert again.adapters == made.adapters
    assert "adapter" not in kit_as_table(kit(KIT.partition("[adapter.")[0]))


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ('near = "SMA plug"', 'near = "SMA socket"', "cannot be screwed on where they were"),
        ('far = "type N socket"', 'far = "type N"', "far names no gender"),
        ("delay_ps = 130.0", "delay_ps = -1.0", r"delay_ps is -1\.0"),
        ("delay_ps = 130.0", "", "delay_ps is missing"),
        ("loss_db = 0.04", "loss = 0.04", "not a field it knows. Did you mean loss_db"),
    ],
)
def test_an_adapter_that_cannot_be_is_refused(old: str, new: str, why: str) -> None:
    with pytest.raises(KitError, match=why):
        kit(KIT.replace(old, new))


def bench(unit: Unit, through: HiddenPigtail | None) -> dict[str, StandardReading]:
    """Standards read through an adapter that stands in the way, or directly."""
    found = {}
    for name, value in (("open", 1.0), ("short", -1.0), ("load", 0.0)):
        there = np.full(unit.frequency_hz.size, value, dtype=complex)
        if through is not None:
            there = through.seen(there, unit.frequency_hz)
        raw = embed(unit.terms, there)
        found[name] = StandardReading(name, unit.frequency_hz, raw, 8, None)
    return found


@pytest.mark.parametrize("removed", [False, True])
def test_a_calibration_on_one_connector_serves_the_other(unit: Unit, removed: bool) -> None:
    """A real adapter, with joints within its 34 dB, put on after calibrating or taken off: the
    antenna comes back inside what is stated, which is wider than without an adapter."""
    made, f = kit(), unit.frequency_hz
    real = HiddenPigtail(132e-12, LossLaw.at_one(0.06, 1000, 0.9), 0.012j, -0.012j, 2.7e9)
    readings = bench(unit, real if removed else None)
    sweep = unit.sweep(0.0)
    calibration = calibrate(
        made, list(readings.values()), source=unit.source, request=unit.request,
        spans=((f[0], f[-1]),), taken_at=sweep.taken_at, software="test",
    )  # fmt: skip
    antenna = 0.25 * np.exp(-2j * np.pi * f * 0.7e-9)
    seen = antenna if removed else real.seen(antenna, f)
    read = Reading(f, correct(calibration.terms, embed(unit.terms, seen)))
    budget = budget_of(calibration, Assumptions(connection=0.0, cable=0.0))
    plane = load_plane(f"adapter=n removed={'true' if removed else 'false'}", calibration)
    there = plane.move(read, budget)
    told = interval(there.budget, there.reading.reflection)
    assert ((told.low <= 0.25) & (told.high >= 0.25)).all()
    off = np.abs(there.reading.reflection - antenna)
    assert (off <= radius(there.budget, there.reading.reflection)).all()
    assert np.abs(read.reflection - antenna).max() > 5 * off.max()
    assert (told.floor > interval(budget, antenna).floor).all()
    wanted = "after the taken-off adapter" if removed else "after the adapter"
    assert f"{wanted} SMA plug to type N socket" in plane.words


def test_an_adapter_that_the_kit_has_not_is_refused_with_those_it_has(unit: Unit) -> None:
    line = kit().adapters["n"].line(removed=False)
    assert isinstance(line, DeclaredLine)
    assert line.joints.return_loss_db == 34
    with pytest.raises(PlaneError, match="It has: none; a kit file describes them"):
        load_plane("adapter=n")
