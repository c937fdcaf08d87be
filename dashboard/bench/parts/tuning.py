"""Tuning on the bench: states the antenna has come to rest in, what was done between them, and
what to do next.

What a person says was done ("arm A -0.5 mm") is matched to the change of state it belongs to: the
one just seen, or, where it is said beforehand, the next one. The advice changes only when it would
say something else.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from acceptance.plan.acceptance_plan import Plan
from acceptance.plan.recipe import Dimension, Recipe
from acceptance.tuning.advice import Advice, how_right
from acceptance.tuning.dimension_effect import DimensionEffects, pairs_of
from acceptance.tuning.dip_tracking import DipTracker
from acceptance.tuning.shifted_curve import Curve, curve_of
from acceptance.tuning.trim_advice import advise
from acceptance.verdict.judged_sweep import JudgedReading
from acceptance.verdict.plan_verdict import Verdict
from acquire.coverage.spans import Span
from acquire.sweep import Sweep
from calibration.capture.averaging import Averaged
from dashboard.bench import learned_effects
from dashboard.bench.engine import Engine
from dashboard.bench.snapshot import Best, Mark, TuningState
from dashboard.errors import NotNowError

RESTED = 3
"""Sweeps alike that make a state."""
MOST_STATES = 200
MINUTES_KEPT = 10
EVERY_S = 0.5
"""How often a point of the margin's history is kept."""
AT_REST_S = 4.0
"""How often a state at rest is looked at again: what moves is looked at at once."""
QUIETER = 1.5
"""And where its average is of so many times as many sweeps as when it was looked at last."""
REPORT_COUNTS_S = 60.0
"""What was said to be done counts for the next change within so long."""
MOVED = 3.0
"""A dip has moved where it is so many deviations from where it was; or a quarter of a percent."""
OTHERWISE = 0.25
"""Advice of another amount by so much is another advice."""


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """The antenna at rest."""

    curve: Curve
    worst_db: float
    """Its worst margin over all bands, dB, guard counted."""
    since_s: float
    """When it was first seen."""


def change_words(dimension: Dimension, delta_mm: float) -> str:
    """A change as one says it: "arm A +0.5 mm"."""
    return f"{dimension.label} {round(delta_mm, 3):+g} mm".replace("-", "−")


class Tuning:
    """One antenna's tuning.

    What a person does (`report_change`, `undo`) takes the engine's lock itself and may be called
    from any thread; all else is called by the bench's other parts under it.
    """

    def __init__(self, engine: Engine, recipe: Recipe, folder: Path | None) -> None:
        """recipe : what can be changed. folder : where what was learned is kept; None keeps none.

        Raises OSError or ValueError never: what cannot be read of earlier builds is forgotten.
        """
        self.recipe = recipe
        self._engine = engine
        self._folder = folder
        self._effects = DimensionEffects(recipe, learned_effects.load(folder, recipe))
        self._tracker = DipTracker()
        self._states: deque[State] = deque(maxlen=MOST_STATES)
        self._moved = True
        self._accounted = 0
        self._count = 0
        self._pending: tuple[str, float | None, float] | None = None
        self._expected: Advice | None = None
        self._shown: Advice | None = None
        self._looked_at_s, self._looked_at_sweeps = 0.0, 0
        self._checked, self._step = "", ""
        self._history: deque[tuple[float, float]] = deque(maxlen=int(60 * MINUTES_KEPT / EVERY_S))
        self._marks: deque[Mark] = deque(maxlen=50)
        self._best: tuple[float, int] | None = None
        self._done: list[tuple[int, str]] = []

    def learn_in(self, folder: Path | None) -> None:
        """Keep what is learned in another folder from now on; under the lock."""
        self._folder = folder
        self._effects = DimensionEffects(self.recipe, learned_effects.load(folder, self.recipe))

    def use(self, recipe: Recipe) -> None:
        """Another kind of antenna: what was learned of its sizes before counts again."""
        self.recipe = recipe
        self._effects = DimensionEffects(recipe, learned_effects.load(self._folder, recipe))
        self.begin_anew()

    def begin_anew(self) -> None:
        """Another antenna, or another plan: what was learned stays, states and history go."""
        self._tracker = DipTracker()
        self._states.clear()
        self._history.clear()
        self._marks.clear()
        self._moved, self._pending, self._expected, self._shown = True, None, None, None
        self._accounted = self._count = 0
        self._best, self._done, self._checked, self._step = None, [], "", ""

    def take(
        self,
        judged: JudgedReading[Sweep],
        averaged: Averaged,
        *,
        plan: Plan,
        now_s: float,
    ) -> None:
        """Look at the newest reading, judged by the plan, and at the average it came of."""
        self._remember(judged.decided, now_s)
        if not averaged.steady:
            self._moved = True
        if averaged.sweeps < RESTED or self._known_already(averaged, now_s):
            return
        self._looked_at_s, self._looked_at_sweeps = now_s, averaged.sweeps
        at_feed = self.recipe.feed_at_connector
        curve = curve_of(judged, self._tracker, plan.targets, at_feed=at_feed)
        worst = min(curve.margins.values(), default=0.0)
        state = State(curve, worst, now_s)
        last = self._states[-1] if self._states else None
        if last is not None and not (self._moved and _differ(last.curve, curve)):
            self._states[-1] = State(curve, worst, last.since_s)
        else:
            self._states.append(state)
            self._count += 1
            self._expected = self._shown  # what was advised in the state before
            self._settle_pending(now_s)
        self._moved = False
        if curve.dips and curve.margins and (self._best is None or worst > self._best[0]):
            self._best = (worst, self._count)
        self._advise(curve)

    def _known_already(self, averaged: Averaged, now_s: float) -> bool:
        """True where a state at rest was looked at lately, in an average about as quiet."""
        return (
            self._shown is not None  # else something was learned since
            and not self._moved
            and averaged.sweeps < QUIETER * self._looked_at_sweeps
            and now_s - self._looked_at_s < AT_REST_S
        )

    def report_change(
        self, dimension: str, delta_mm: float | None, *, beforehand: bool = False
    ) -> str:
        """The person says what was done; None mm: bent, nobody knows by how much.

        beforehand : it is said before it can be seen, whatever was seen last.
        Returns it in words. Raises RecipeError, NotNowError.
        """
        with self._engine.changing():
            return self.note_change(dimension, delta_mm, beforehand=beforehand)

    def undo(self) -> str:
        """Take back what was said last, where it was not learned from yet; returns it.

        Raises NotNowError where nothing of the kind is waiting.
        """
        with self._engine.changing():
            if self._pending is None:
                raise NotNowError(
                    "Nothing that was said is waiting. What was learned stays learned."
                )
            self._pending = None
            mark = self._marks.pop()
            self._done.pop()
            return mark.words

    def note_change(self, dimension: str, delta_mm: float | None, *, beforehand: bool) -> str:
        """Take in what was done; as `report_change`, but under the lock; nothing is shown yet."""
        now_s = self._engine.clock.monotonic()
        if delta_mm is None:
            words = "just bent it"
        else:
            one = self.recipe.find(dimension)
            if not np.isfinite(delta_mm) or delta_mm == 0 or abs(delta_mm) > 1000:
                raise NotNowError("Say by how many millimetres, plus or minus.")
            words = change_words(one, delta_mm)
        self._marks.append(Mark(now_s, words))
        self._done.append((self._count, words))
        change_is_new = (
            not beforehand
            and self._pending is None
            and self._count - 1 > self._accounted
            and len(self._states) > 1
            # an antenna screwed on is no change of the antenna
            and bool(pairs_of(self._states[-2].curve.dips, self._states[-1].curve.dips))
            and now_s - self._states[-1].since_s < REPORT_COUNTS_S
        )
        self._pending = self._together(dimension, delta_mm, now_s)
        if change_is_new:
            self._settle_pending(now_s)
        return words

    def _together(
        self, dimension: str, delta_mm: float | None, now_s: float
    ) -> tuple[str, float | None, float]:
        """What was said, with what is still waited for: one dimension adds up, two are a muddle."""
        if self._pending is None:
            return dimension, delta_mm, now_s
        before, so_far, _ = self._pending
        if before != dimension or so_far is None or delta_mm is None:
            return dimension, None, now_s
        return dimension, so_far + delta_mm, now_s

    def watched(self) -> tuple[Span, ...]:
        """The bands to watch closely, and their dip: those the advice is about; () for none."""
        if not self._states:
            return ()
        curve = self._states[-1].curve
        if self._shown is None or self._shown.kind == "good" or not curve.targets:
            return ()
        margins = curve.margins
        worst = curve.targets[min(margins, key=lambda n: margins[n])]
        own = curve.dip_of(worst)
        if own is None or own.dip.beyond:
            return ((worst.low_hz, worst.high_hz),)
        return tuple((each.low_hz, each.high_hz) for each in curve.served_by(own))

    def resting(self) -> Curve | None:
        """The present state's curve; None while it moves."""
        return self._states[-1].curve if self._states and not self._moved else None

    def shown(self) -> TuningState:
        """What a page shows."""
        best = None
        if self._best is not None and self._states:
            since = tuple(words for at, words in self._done if at >= self._best[1])
            best = Best(self._best[0], since)
        return TuningState(
            self._shown,
            self._checked,
            self._states[-1].curve.dips if self._states else (),
            best,
            np.array(self._history, dtype=np.float64).reshape(-1, 2),
            tuple(self._marks),
            self._waiting,
            self._step,
        )

    @property
    def _waiting(self) -> str:
        """What was said and is waited for, all of it together; empty where nothing is."""
        if self._pending is None:
            return ""
        dimension, delta_mm, _ = self._pending
        if delta_mm is None:
            return self._marks[-1].words
        return change_words(self.recipe.find(dimension), delta_mm)

    def _remember(self, verdict: Verdict, now_s: float) -> None:
        margins = [
            band.margin_or_bound_db for band in verdict.bands if band.margin_or_bound_db is not None
        ]
        if margins and (not self._history or now_s - self._history[-1][0] >= EVERY_S):
            self._history.append((now_s, min(margins)))

    def _settle_pending(self, now_s: float) -> None:
        """Learn from the newest change of state, if somebody said what it was."""
        pending = self._pending
        if pending is None or len(self._states) < 2:
            return
        dimension, delta_mm, reported_s = pending
        self._pending, self._accounted = None, self._count - 1
        if delta_mm is None or now_s - reported_s > REPORT_COUNTS_S:
            return
        before, after = self._states[-2].curve, self._states[-1].curve
        self._effects.learn(dimension, delta_mm, pairs_of(before.dips, after.dips))
        learned_effects.keep(self._folder, self.recipe, self._effects.learned)
        expected = self._expected
        self._checked, self._step = "", self._marks[-1].words
        if (
            expected is not None
            and expected.dimension == dimension
            and expected.delta_mm
            and abs(delta_mm / expected.delta_mm - 1) < OTHERWISE
        ):
            meant = [one for one in expected.expected if one.number == expected.target_dip]
            self._checked = how_right(meant, after.dips)
        self._shown = None

    def _advise(self, curve: Curve) -> None:
        new = advise(curve, self._effects)
        if self._shown is None or _says_otherwise(self._shown, new):
            self._shown = new


def _differ(before: Curve, after: Curve) -> bool:
    """True where dips have come, gone or moved."""
    one = {each.number: each.dip for each in before.dips}
    two = {each.number: each.dip for each in after.dips}
    if set(one) != set(two):
        return True
    return any(
        abs(two[n].frequency_hz - one[n].frequency_hz)
        > max(
            MOVED * np.hypot(one[n].frequency_sd_hz, two[n].frequency_sd_hz),
            0.0008 * one[n].frequency_hz,
        )
        or abs(two[n].reflection - one[n].reflection) > 0.02
        for n in one
    )


def _says_otherwise(shown: Advice, new: Advice) -> bool:
    """True where the new advice would send the hands elsewhere."""
    if (shown.kind, shown.dimension, shown.target_dip) != (new.kind, new.dimension, new.target_dip):
        return True
    if shown.delta_mm and new.delta_mm:
        ratio = new.delta_mm / shown.delta_mm
        return not 1 / (1 + OTHERWISE) < ratio < 1 + OTHERWISE
    return _rounded(shown.text) != _rounded(new.text)


def _rounded(text: str) -> str:
    """The words without the digits that race."""
    return "".join(letter for letter in text if not letter.isdigit() and letter != ".")
