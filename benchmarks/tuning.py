"""How well following the advice tunes: random antennas, hidden knobs, and a hand that errs.

    python -m benchmarks.tuning [antennas]

Each antenna is a bent strip whose dimensions, as they are spoken of, act on it by a hidden factor
(half to twice; one in ten with the other sign) that changes on the way, and on the others a little
too. Some want a depth they cannot reach. All data is invented; `replay.virtual_bench.antenna` is
the antenna.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field

import numpy as np
from rich.console import Console
from rich.table import Table
from scipy.optimize import minimize

from acceptance.bands.load import load_bands
from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import Recipe, parse_recipe
from acceptance.tuning.advice import Advice
from acceptance.tuning.dimension_effect import DimensionEffects, pairs_of
from acceptance.tuning.dip_tracking import DipTracker
from acceptance.tuning.dips import find_dips
from acceptance.tuning.shifted_curve import Curve
from acceptance.tuning.trim_advice import advise
from acquire.sweep import ComplexArray, FloatArray
from dashboard.demo.scenario import RECIPE
from replay.virtual_bench.antenna import BOUNDS_MM, GOOD_SETTING, BentStrip

PLAN = """
name = "gauge modem, Europe"
[[band]]
lte = 20
return_loss_db = {lte}
[[band]]
nr = 3
vswr = {nr}
"""
NAMES = tuple(BOUNDS_MM)
F = np.r_[np.linspace(0.56e9, 1.16e9, 181), np.linspace(1.25e9, 2.5e9, 211)]
"""As far around the bands as a bench looks that has not seen a dip yet."""
NOISE = 1e-3
UNSURE = 0.01
"""Half-width of the interval of |G| that a pass must keep clear of: about a 40 dB load's."""
MOST_STEPS = 15
ON_THE_WAY_MM = np.array([8.0, 4.0, 1.5, 4.0])
MOST_BENT = 0.15
TOLERANCE_MM = 0.1
"""What a hand may overshoot a cut by and nobody minds."""


@dataclass
class Antenna:
    """One antenna on the bench, its dimensions acting as nobody was told."""

    start: BentStrip
    warp: FloatArray
    """(spoken, true) mm per mm."""
    bend: FloatArray
    """How much more, or less, a dimension does once it was moved by its `ON_THE_WAY_MM`."""
    moved_mm: FloatArray = field(default_factory=lambda: np.zeros(len(NAMES)))

    def now(self, more_mm: FloatArray | float = 0.0) -> BentStrip:
        """The antenna as it is, or with so much more of each dimension; within its bounds."""
        moved = self.moved_mm + more_mm
        true = (moved * (1 + self.bend * np.abs(moved) / ON_THE_WAY_MM)) @ self.warp
        sizes = {
            f"{name}_mm": float(np.clip(size + delta, *BOUNDS_MM[name]))
            for (name, size), delta in zip(self.start.dimensions_mm.items(), true, strict=True)
        }
        return BentStrip(**sizes)

    def read(self, rng: np.random.Generator) -> ComplexArray:
        real, imaginary = rng.standard_normal((2, F.size)) * NOISE / np.sqrt(2)
        reading: ComplexArray = self.now().reflection(F) + real + 1j * imaginary
        return reading


@dataclass
class Outcome:
    """What became of one antenna."""

    reachable: bool
    passed: bool
    steps: int
    cuts: int
    overshot: int
    """Cuts after which the dip lies beyond where the advice wanted it, and beyond the hand."""
    wrong_way: int
    """Cuts that moved the dip away from where it was wanted."""
    wrong_way_mm: float
    """The longest of those."""
    predicted: int
    held: int
    """Predictions of where a step takes its dip, and those that it fell within."""
    last: Advice


def random_antenna(rng: np.random.Generator) -> Antenna:
    """An antenna off its good setting by up to 14 %, half of them with a shallow dip."""
    off = {
        "arm_a": rng.uniform(-10, 10),
        "arm_b": rng.uniform(-5, 5),
        "feed_gap": rng.choice([0.0, 0.0, -1.2, 2.0]) + rng.uniform(-0.3, 0.3),
        "height": rng.uniform(-3, 3),
    }
    good = GOOD_SETTING.dimensions_mm
    start = BentStrip(**{f"{name}_mm": good[name] + off[name] for name in NAMES})
    factor = 2 ** rng.uniform(-1, 1, len(NAMES)) * np.where(rng.uniform(size=4) < 0.1, -1, 1)
    warp = np.diag(factor) + rng.uniform(-0.08, 0.08, (4, 4)) * (1 - np.eye(4))
    return Antenna(start, warp, rng.uniform(-MOST_BENT, MOST_BENT, 4))


def plan_for(rng: np.random.Generator) -> Plan:
    """The river-watch plan, now and then with a limit out of reach."""
    hard = rng.uniform() < 0.15
    lte, nr = (22, 1.15) if hard else (rng.choice([9, 10, 10.5]), rng.choice([1.9, 2.0, 2.2]))
    return parse_plan(PLAN.format(lte=lte, nr=nr), "study", load_bands())


def worst(antenna: Antenna, plan: Plan, more_mm: FloatArray) -> float:
    """Worst margin over all bands in truth, guard counted, dB."""
    margins = []
    for target in plan.targets:
        f = np.linspace(target.low_hz, target.high_hz, 15)
        size = np.abs(antenna.now(more_mm).reflection(f)).max()
        margins.append(20 * np.log10((target.limit.reflection - UNSURE) / size))
    return float(min(margins))


def reachable(antenna: Antenna, plan: Plan) -> bool:
    """True where some setting passes, by a search from the antenna and from the good setting."""
    start_mm = antenna.start.dimensions_mm
    good = [GOOD_SETTING.dimensions_mm[n] - start_mm[n] for n in NAMES]
    for begin in (np.array(good) @ np.linalg.inv(antenna.warp), np.zeros(4)):
        found = minimize(
            lambda x: -worst(antenna, plan, x),
            begin,
            method="Nelder-Mead",
            options={"maxfev": 400, "xatol": 1e-2, "fatol": 1e-3},
        )
        if found.fun <= 0:
            return True
    return False


def tune(seed: int, recipe: Recipe) -> Outcome:
    """Tune one random antenna by following the advice."""
    rng = np.random.default_rng(seed)
    plan = plan_for(rng)
    antenna = random_antenna(rng)
    while worst(antenna, plan, np.zeros(4)) >= 0:  # one that passes already teaches nothing
        antenna = random_antenna(rng)
    can = reachable(antenna, plan)
    effects, tracker = DimensionEffects(recipe), DipTracker()
    steps = cuts = overshot = wrong_way = predicted = held = 0
    wrong_way_mm = 0.0

    def look() -> Curve:
        reading = antenna.read(rng)
        dips = tracker.add(find_dips(F, reading, NOISE))
        return Curve.of(F, reading, np.full(F.size, UNSURE), plan.targets, dips)

    curve = look()
    while True:
        advice = advise(curve, effects)
        done = advice.dimension is None or advice.delta_mm is None
        if done or steps == MOST_STEPS:
            passed = worst(antenna, plan, np.zeros(4)) >= -0.05
            return Outcome(
                can,
                passed,
                steps,
                cuts,
                overshot,
                wrong_way,
                wrong_way_mm,
                predicted,
                held,
                advice,
            )
        dimension = recipe.find(str(advice.dimension))
        spoken = round(float(advice.delta_mm or 0), 1)
        hand = spoken * rng.normal(1, 0.05)
        antenna.moved_mm[NAMES.index(dimension.name)] += hand
        steps += 1
        before, curve = curve, look()
        if dimension.cut and spoken < 0:
            cuts += 1
            overshot += went_too_far(advice, before, curve, spoken)
            if went_wrong(advice, before, curve):
                wrong_way += 1
                wrong_way_mm = max(wrong_way_mm, -spoken)
        now = {each.number: each.dip for each in curve.dips if not each.dip.beyond}
        for each in advice.expected:
            if each.number == advice.target_dip and each.number in now:
                predicted += 1
                held += each.low_hz <= now[each.number].frequency_hz <= each.high_hz
        effects.learn(dimension.name, spoken, pairs_of(before.dips, curve.dips))


def went_too_far(advice: Advice, before: Curve, after: Curve, spoken_mm: float) -> bool:
    """True where a cut took the dip beyond where it was wanted, by more than the hand's tenth."""
    moved = moved_and_wanted(advice, before, after)
    if moved is None:
        return False
    went, wanted = moved
    slack = abs(went / spoken_mm) * TOLERANCE_MM
    return bool(np.sign(wanted) * (went - wanted) > slack)


def went_wrong(advice: Advice, before: Curve, after: Curve) -> bool:
    """True where a cut took the dip away from where it was wanted."""
    moved = moved_and_wanted(advice, before, after)
    return moved is not None and moved[0] * moved[1] < 0


def moved_and_wanted(advice: Advice, before: Curve, after: Curve) -> tuple[float, float] | None:
    """How far the dip that the advice was about went, and was wanted to go, d ln(frequency)."""
    was, now = (
        next((e.dip.frequency_hz for e in curve.dips if e.number == advice.target_dip), None)
        for curve in (before, after)
    )
    if advice.target_hz is None or was is None or now is None:
        return None
    return float(np.log(now / was)), float(np.log(advice.target_hz / was))


def study(antennas: int, first_seed: int = 1) -> list[Outcome]:
    """Tune so many antennas."""
    recipe = parse_recipe(RECIPE, "the study's recipe")
    return [tune(seed, recipe) for seed in range(first_seed, first_seed + antennas)]


def table(outcomes: list[Outcome]) -> Table:
    """The study's figures."""
    can = [each for each in outcomes if each.reachable]
    cannot = [each for each in outcomes if not each.reachable]
    reached = [each for each in can if each.passed]
    steps = np.array([each.steps if each.passed else MOST_STEPS for each in can])
    cuts = sum(each.cuts for each in outcomes)
    overshot = sum(each.overshot for each in outcomes)
    rows = Table("of all antennas", "figure", title=f"{len(outcomes)} random antennas (invented)")
    rows.add_row("a passing setting exists", str(len(can)))
    rows.add_row("of these reached", f"{len(reached)} ({len(reached) / max(len(can), 1):.0%})")
    rows.add_row("steps to it, median", f"{np.median(steps):g}")
    rows.add_row("steps to it, 90 %", f"{np.quantile(steps, 0.9):g}")
    rows.add_row("cuts advised", str(cuts))
    rows.add_row("of these not too far", f"{1 - overshot / max(cuts, 1):.1%}")
    wrong = sum(each.wrong_way for each in outcomes)
    longest = max((each.wrong_way_mm for each in outcomes), default=0.0)
    rows.add_row("cuts the wrong way, and the longest", f"{wrong}, {longest:g} mm")
    predicted = sum(each.predicted for each in outcomes)
    held = sum(each.held for each in outcomes)
    rows.add_row("dip found where it was predicted", f"{held / max(predicted, 1):.0%}")
    refusals = sum(each.last.kind == "cannot" for each in cannot)
    rows.add_row("no passing setting, and told so", f"{refusals} of {len(cannot)}")
    return rows


if __name__ == "__main__":
    Console().print(table(study(int(sys.argv[1]) if len(sys.argv) > 1 else 200)))
