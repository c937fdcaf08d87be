"""The demo's bench: a fast virtual analyzer, its kit, and an antenna to bend."""

from __future__ import annotations

from pathlib import Path

from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.recipe import parse_recipe
from acquire.clock import Clock
from dashboard.bench.composed_bench import Bench
from dashboard.bench.make_bench import DEMO_KIT, live_bench
from dashboard.demo import scenario
from dashboard.sweeping.analyzer_ports import Practice
from replay.bench_profile import bench_profile

DEMO_SPEED = 10
"""The demo's analyzer sweeps so many times faster than analyzers do: bend, and see."""


def practice() -> Practice:
    """Return the demo's analyzer, to practise on from a page that measures."""
    own = bench_profile()
    quick = own.timing.model_copy(
        update={"seconds_per_point": own.timing.seconds_per_point / DEMO_SPEED}
    )
    return Practice(
        f"virtual:?speed={DEMO_SPEED}",
        own.model_copy(update={"timing": quick}),
        DEMO_KIT,
    )


def demo_bench(
    plan: Plan,
    *,
    calibration: Path | None = None,
    records_folder: Path | None = None,
    calibrations_folder: Path | None = None,
    learned_folder: Path | None = None,
    check_pieces_folder: Path | None = None,
    recent_folder: Path | None = None,
    clock: Clock | None = None,
) -> Bench:
    """Return the demo's bench: a fast virtual analyzer, its kit, and an antenna to bend.

    calibration : the file of one made before; without it the first step is to calibrate.
    """
    demo = practice()
    return live_bench(
        demo.address,
        plan=plan,
        profile=demo.profile,
        calibration=calibration,
        records_folder=records_folder,
        calibrations_folder=calibrations_folder,
        recipe=parse_recipe(scenario.RECIPE, scenario.RECIPE_NAME),
        learned_folder=learned_folder,
        check_pieces_folder=check_pieces_folder,
        recent_folder=recent_folder,
        clock=clock,
    )
