"""Advice by plan, sweep and calibration, for those who write their own programs."""

from __future__ import annotations

from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.load import load_plan, load_recipe
from acceptance.plan.recipe import NO_RECIPE, Recipe
from acceptance.tuning.advice import Advice
from acceptance.tuning.dimension_effect import DimensionEffects
from acceptance.tuning.dip_tracking import DipTracker
from acceptance.tuning.shifted_curve import curve_of
from acceptance.tuning.trim_advice import advise
from acceptance.verdict.sweep_verdict import judged
from acquire.files.bounded_read import AnyPath
from acquire.sweep import Sweep
from calibration.files.portable_calibration import DEFAULT_ASSUMPTIONS
from calibration.one_port_calibration import Calibration
from calibration.uncertainty.budget import Assumptions


def advise_on_sweep(
    plan: Plan | AnyPath,
    sweep: Sweep,
    calibration: Calibration | None = None,
    *,
    recipe: Recipe | AnyPath = NO_RECIPE,
    plane: str | None = None,
    assumptions: Assumptions = DEFAULT_ASSUMPTIONS,
) -> Advice:
    """Say which way to trim, by how much, and how sure, from one sweep alone.

    recipe : which dimensions can be changed, or the path of its file; without one only how much
        longer or shorter whatever sets the dip wants to be can be said. What earlier bends taught
        is not in one sweep: the page learns from them.
    The rest, and what is raised, as `acceptance.verdict.sweep_verdict.judge_sweep`; RecipeError.
    """
    wanted = plan if isinstance(plan, Plan) else load_plan(plan)
    changed = recipe if isinstance(recipe, Recipe) else load_recipe(recipe)
    found = judged(wanted, sweep, calibration, plane, assumptions)
    curve = curve_of(found, DipTracker(), wanted.targets, at_feed=changed.feed_at_connector)
    return advise(curve, DimensionEffects(changed))
