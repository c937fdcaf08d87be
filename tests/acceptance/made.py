"""An acceptance made of invented sweeps: a resonance behind a unit of known error terms."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, timezone

import numpy as np

from acceptance.bands.load import load_bands
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import Recipe, parse_recipe
from acceptance.record.acceptance_record import Acceptance, Condition, Record
from acceptance.record.examination import compose_record, examine
from acceptance.record.plan_requirements import sign_off
from acceptance.version import software
from acquire.sweep import ComplexArray, FloatArray, Plane, Source, Sweep, SweepRequest
from calibration.capture.standard_capture import StandardReading
from calibration.error_terms.one_port import ErrorTerms, embed
from calibration.files.calibration_file import calibration_text
from calibration.files.store import load_kit
from calibration.one_port_calibration import Calibration, calibrate
from calibration.uncertainty.budget import Assumptions

REQUEST = SweepRequest(760e6, 900e6, 57)
F = REQUEST.grid_hz()
SOURCE = Source("virtual", "invented unit", "prompted-pairs", "virtual:prompted")
BEGUN = datetime(2026, 5, 1, 14, 5, tzinfo=timezone(timedelta(hours=2)))
PLAN_TEXT = """
name = "river gauge"
conditions = ["bare", "sealed"]
sweeps = 2
[[band]]
lte = 20
return_loss_db = 8
"""
UNCHECKED_PLAN_TEXT = f"check_after = false{PLAN_TEXT}"
"""Of a plan that waives the check after the sweep."""
RECIPE_TEXT = 'name = "bent strip"\n[[dimension]]\nname = "arm_a"\nlength_mm = 85.0\n'


def terms_on(f: FloatArray) -> ErrorTerms:
    turn = np.exp(-2j * np.pi * f * 2e-9)
    return ErrorTerms(f, 0.05 * turn, 0.08 * turn, 0.8 * turn)


TERMS = terms_on(F)


def plan(text: str = PLAN_TEXT) -> Plan:
    return parse_plan(text, "plan.toml", load_bands())


def recipe() -> Recipe:
    return parse_recipe(RECIPE_TEXT, "recipe.toml")


def calibration(request: SweepRequest = REQUEST) -> Calibration:
    kit = load_kit("3.5mm-plug-50")
    terms = terms_on(request.grid_hz())
    f = terms.frequency_hz
    quiet = np.full(f.size, 1e-4)
    return calibrate(
        kit,
        [
            StandardReading(name, f, embed(terms, standard.reflection(f)), 8, quiet)
            for name, standard in kit.standards.items()
        ],
        source=SOURCE,
        request=(request,),
        spans=((request.start_hz, request.stop_hz),),
        taken_at=datetime(2026, 5, 1, 12, 0, tzinfo=UTC),
        software=software(),
    )


def resonance(f0_hz: float, q: float = 4.0, ohm: float = 45.0, f: FloatArray = F) -> ComplexArray:
    z = ohm * (1 + 1j * q * (f / f0_hz - f0_hz / f))
    reflection: ComplexArray = (z - 50) / (z + 50)
    return reflection


def sweeps(f0_hz: float, count: int = 2, seed: int = 1) -> tuple[Sweep, ...]:
    random = np.random.default_rng(seed)
    found = []
    for number in range(count):
        noise = random.standard_normal((2, F.size)) * 1e-5
        raw = embed(TERMS, resonance(f0_hz)) + noise[0] + 1j * noise[1]
        at = datetime(2026, 5, 1, 12, 10, number, 123456, tzinfo=UTC)
        found.append(Sweep(F, raw, Plane.RAW, at, number + 7, SOURCE, (REQUEST,)))
    return tuple(found)


def wide(bands: int = 24, unit: str = "weir-3", name: str = "gauge") -> Acceptance:
    """Many bands in five conditions, each shifting what is one antenna of many resonances."""
    request = SweepRequest(600e6, 2700e6, 1001)
    f = request.grid_hz()
    rows = [
        f'[[band]]\nname = "{name} {n}"\nlow_mhz = {640 + 80 * n}\nhigh_mhz = {665 + 80 * n}\n'
        f"{('vswr = 2.0', 'return_loss_db = 6')[n % 2]}\n"
        for n in range(bands)
    ]
    conditions = ("bare", "boxed", "sealed", "mast", "after-a-week-of-heavy-rain")
    judged = conditions[2:]
    head = f"name = {json.dumps(name)}\nconditions = {json.dumps(conditions)}\n"
    text = f"{head}judged = {json.dumps(judged)}\nsweeps = 2\nantennas = 2\n" + "".join(rows)
    made = Acceptance(
        unit,
        plan(text),
        calibration(request),
        Assumptions(),
        BEGUN,
        software(),
        operator=unit,
        note=f"{unit} {name}",
    )
    for at, each in enumerate(conditions):
        z = sum(
            1 / (45 * (1 + 5j * (f / f0 - f0 / f)))
            for f0 in (np.array([7.1e8, 9e8, 1.35e9, 1.8e9, 2.3e9]) - at * 9e6)
        )
        raw = embed(terms_on(f), (1 - 50 * z) / (1 + 50 * z))
        times = [datetime(2026, 5, 1, 12, 10 + at, n, tzinfo=UTC) for n in range(2)]
        swept = [Sweep(f, raw, Plane.RAW, t, n, SOURCE, (request,)) for n, t in enumerate(times)]
        made = made.with_condition(Condition(each, tuple(swept)))
    return sign_off(made, BEGUN + timedelta(minutes=30))


def begun(unit: str = "weir-3", wanted: Plan | None = None) -> Acceptance:
    return Acceptance(
        unit,
        wanted or plan(),
        calibration(),
        Assumptions(load_db=40.0),
        BEGUN,
        software(),
        operator="A. Volunteer",
        note="second attempt",
        recipe=recipe(),
        sizes_mm={"arm_a": 84.5},
    )


def accepted(
    unit: str = "weir-3", dips_hz: Sequence[float] = (838e6, 820e6), wanted: Plan | None = None
) -> Acceptance:
    """Signed off; one condition a dip, in the plan's order, swept as often as the plan asks."""
    acceptance = begun(unit, wanted)
    for name, f0_hz in zip(acceptance.plan.conditions, dips_hz, strict=True):
        swept = sweeps(f0_hz, acceptance.plan.sweeps)
        acceptance = acceptance.with_condition(Condition(name, swept, sweeps_since_calibration=12))
    return sign_off(acceptance, BEGUN + timedelta(minutes=9))


def record(acceptance: Acceptance | None = None) -> Record:
    acceptance = acceptance or accepted()
    assert acceptance.calibration is not None
    return compose_record(examine(acceptance), calibration_text(acceptance.calibration))
