"""A batch of the river-watch group's gauges, to rehearse with: cut by hand, swept, recorded.

All of it is invented, and says so. Each gauge is a bent strip of the virtual bench with cutting
errors drawn from a seed. The group's jig wears: from the sixteenth gauge on arm A comes out longer
and longer. One gauge, "ford-3", was cut 3 mm short, failed, and got a new arm.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta, timezone
from functools import cache
from typing import Any

import numpy as np

from acceptance.bands.load import load_bands
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_presets
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import parse_recipe
from acceptance.record.acceptance_record import Acceptance, Condition, Record
from acceptance.record.examination import compose_record, examine
from acceptance.version import software
from acquire.sweep import ComplexArray, Plane, Source, Sweep, SweepRequest
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import ErrorTerms, embed
from calibration.files.calibration_file import calibration_text
from calibration.files.store import load_kit
from calibration.one_port_calibration import Calibration, calibrate
from calibration.uncertainty.budget import Assumptions
from dashboard.demo import scenario
from replay.virtual_bench.antenna import BentStrip

PASSES = (SweepRequest(700e6, 1000e6, 301), SweepRequest(1500e6, 2150e6, 131))
F = np.concatenate([each.grid_hz() for each in PASSES])
SOURCE = Source("virtual", "invented unit", "prompted-pairs", "virtual:prompted")
BEGUN = datetime(2026, 5, 2, 10, 0, tzinfo=timezone(timedelta(hours=2)))
INTENDED = BentStrip(arm_a_mm=85.5, arm_b_mm=36.0, feed_gap_mm=2.0, height_mm=19.0)
PLACES = ("weir", "mill-lane", "ford", "bridge")
BUILDERS = ("Ana", "Jo", "Mehmet")
JIG_WEARS_FROM, WEAR_MM = 15, 0.25
"""Counted from 0; so much longer with each gauge."""
CUT_SHORT, SHORT_MM = 10, 3.0
"""Which gauge was cut short, counted from 0, and by how much."""
COUNT = 24


@cache
def _calibration() -> Calibration:
    """Made with an ideal hand: a unit of known error terms, standards as their kit says."""
    terms = _terms()
    kit = replace(load_kit("3.5mm-plug-50"), load_return_loss_db=36.0)
    quiet = np.full(F.size, 1e-4)
    return calibrate(
        kit,
        [
            StandardReading(name, F, embed(terms, standard.reflection(F)), 8, quiet)
            for name, standard in kit.standards.items()
        ],
        source=SOURCE,
        request=PASSES,
        spans=tuple((each.start_hz, each.stop_hz) for each in PASSES),
        taken_at=BEGUN,
        software=software(),
    )


def calibration_for(number: int) -> Calibration:
    """The calibration of a gauge, made ten minutes before it was swept."""
    return replace(_calibration(), taken_at=_at(number) - timedelta(minutes=10))


@cache
def plan() -> Plan:
    """The group's own."""
    return parse_plan(scenario.PLAN, scenario.PLAN_NAME, load_bands(), load_presets())


def gauges(count: int = COUNT, seed: int = 5) -> Iterator[tuple[str, str, BentStrip]]:
    """Name, builder and radiator of each gauge, in the order they were built."""
    random = np.random.default_rng(seed)
    for number in range(count):
        name = f"{PLACES[number % len(PLACES)]}-{number // len(PLACES) + 1}"
        errors = random.normal(0.0, (0.5, 0.3, 0.05, 0.2))
        sizes = {
            dimension: round(size + float(error), 1)
            for (dimension, size), error in zip(INTENDED.dimensions_mm.items(), errors, strict=True)
        }
        sizes["arm_a"] = round(sizes["arm_a"] + WEAR_MM * max(0, number - JIG_WEARS_FROM + 1), 1)
        changed: dict[str, Any] = {f"{part}_mm": size for part, size in sizes.items()}
        built = replace(INTENDED, **changed)
        if number == CUT_SHORT:
            yield name, BUILDERS[number % 3], replace(built, arm_a_mm=built.arm_a_mm - SHORT_MM)
        yield name, BUILDERS[number % 3], built


def accepted(name: str, builder: str, built: BentStrip, number: int) -> Acceptance:
    """A gauge swept and signed off."""
    at = _at(number)
    random = np.random.default_rng(number)
    sweeps = []
    for count in range(4):
        noise = random.standard_normal((2, F.size)) * 2e-5
        raw = embed(_terms(), built.reflection(F))
        taken = at + timedelta(seconds=count)
        sweeps.append(
            Sweep(F, raw + noise[0] + 1j * noise[1], Plane.RAW, taken, count + 1, SOURCE, PASSES)
        )
    return Acceptance(
        name,
        plan(),
        calibration_for(number),
        Assumptions(),
        at,
        software(),
        operator=builder,
        note="for rehearsal; invented data",
        recipe=parse_recipe(scenario.RECIPE, scenario.RECIPE_NAME),
        sizes_mm=built.dimensions_mm,
        conditions=(Condition("finished", tuple(sweeps), 1),),
        accepted_at=at + timedelta(minutes=1),
    )


def records(count: int = COUNT) -> Iterator[Record]:
    """The record of each gauge."""
    for number, (name, builder, built) in enumerate(gauges(count)):
        acceptance = accepted(name, builder, built, number)
        yield compose_record(examine(acceptance), calibration_text(calibration_for(number)))


def _at(number: int) -> datetime:
    """When a gauge was swept: five a Saturday, an hour for each."""
    return BEGUN + timedelta(weeks=number // 5, hours=number % 5)


def _terms() -> ErrorTerms:
    turn: ComplexArray = np.exp(-2j * np.pi * F * 2e-9)
    return ErrorTerms(F, 0.05 * turn, 0.08 * turn, 0.8 * turn)
