"""From a file's bytes to the verdict, uncertainty included; the interval against drawing the same
causes at random; and what a person is told for an antenna that fails."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np

from acceptance.bands.load import load_bands
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.plan_file import parse_plan
from acceptance.verdict.judged_sweep import corrected_file
from acceptance.verdict.plan_verdict import Verdict
from acquire.sweep import Plane, Source
from acquire.touchstone.reader import parse_touchstone
from benchmarks.false_passes import table as false_passes
from benchmarks.row import Goal, Row
from calibration.calibration_budget import budget_of_file
from calibration.plane.reference_plane import CONNECTOR
from calibration.uncertainty.budget import Assumptions, Budget
from calibration.uncertainty.interval import interval

DRAWS = 200
TWO_LINKS = (1, 2, 3, 4, 5, 7, 8, 12, 20, 28, 38, 40)
"""Twelve bands as they are; ten of them with an uplink and a downlink of their own."""
LOW_HZ, HIGH_HZ = 0.69e9, 2.71e9
SOURCE = Source("file", "", "", "")


def drawn(budget: Budget, reflection: Any, rng: Any) -> Any:
    """Quantiles of |reflection| from so many draws of every cause."""
    total = np.broadcast_to(reflection, (DRAWS, reflection.size)).copy()
    for each in budget.contributions:
        size = each.size(reflection)
        phase = np.exp(2j * np.pi * rng.uniform(size=(DRAWS, 1)))
        total += size * phase
    return np.quantile(np.abs(total), [0.025, 0.975], axis=0)


def plan_of(bands: Iterable[str]) -> Plan:
    """A plan of bands, each by the lines that name it."""
    listed = "".join(f"[[band]]\n{each}\nreturn_loss_db = 10\n" for each in bands)
    return parse_plan(f'name = "twelve bands"\n{listed}', "plan", load_bands())


def file_of(points: int) -> bytes:
    """A Touchstone file of so many points, six digits and more a number, as analyzers export
    them."""
    frequency = np.linspace(LOW_HZ, HIGH_HZ, points)
    reflection = 0.3 * np.exp(-2j * np.pi * frequency * 3e-9)
    rows = (
        f"{f:.0f} {g.real:.9f} {g.imag:.9f}\n" for f, g in zip(frequency, reflection, strict=True)
    )
    return ("# Hz S RI R 50\n" + "".join(rows)).encode()


def findings() -> list[tuple[str, tuple[str, ...], Iterator[tuple[str, ...]]]]:
    """What is told for an antenna that fails, as a table: its title, heads and rows."""
    return [(false_passes.TITLE, false_passes.HEADS, false_passes.rows())]


@contextmanager
def rows() -> Iterator[list[Row]]:
    """Yield the comparisons."""
    of_two = plan_of(f"lte = {number}" for number in TWO_LINKS)
    of_one = plan_of(
        f'name = "band {n}"\nlow_mhz = {700 + 150 * n}.0\nhigh_mhz = {760 + 150 * n}.0'
        for n in range(12)
    )

    def verdict_of(content: bytes, plan: Plan = of_one) -> Verdict:
        reading = parse_touchstone(content, "antenna.s1p").reading
        corrected = corrected_file(reading, Assumptions(), Plane.CONNECTOR, SOURCE)
        return corrected.judged(CONNECTOR, plan).decided

    usual, four = file_of(1601), file_of(4 * 1601)
    frequency = np.linspace(LOW_HZ, HIGH_HZ, 1601)
    reflection = 0.3 * np.exp(-2j * np.pi * frequency * 3e-9)
    budget = budget_of_file(frequency, Assumptions())
    rng = np.random.default_rng(1)
    yield [
        Row(
            "parse to verdict, 12 bands of one link, 1601 points, uncertainty included",
            lambda: verdict_of(usual),
            "",
            None,
            Goal(within_s=5e-3),
            100,
        ),
        Row(
            f"the same, 12 bands of up- and downlink ({len(of_two.targets)} links)",
            lambda: verdict_of(usual, of_two),
            "",
            None,
            Goal(within_s=5e-3),
            100,
        ),
        Row(
            "12 bands of one link, four times the points (linear is 4)",
            lambda: verdict_of(four),
            "1601 points",
            lambda: verdict_of(usual),
            Goal(share=4.0),
            30,
        ),
        Row(
            "interval, 1601 points",
            lambda: interval(budget, reflection),
            f"{DRAWS} random draws",
            lambda: drawn(budget, reflection, rng),
            Goal(times=10),
            30,
        ),
    ]
