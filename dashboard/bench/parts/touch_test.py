"""The bench's touch test: begun, gone through and left from the page."""

from __future__ import annotations

from acceptance.tuning.touch_test import Touch
from dashboard.acceptance_run.touch_test import TouchState, TouchTest
from dashboard.bench.engine import Engine
from dashboard.bench.parts.tuning import Tuning
from dashboard.errors import NotNowError


class BenchTouchTest:
    """The touch test, each look at what the tuning sees at rest.

    What a person does takes the engine's lock itself and may be called from any thread; all else
    is called by the bench's other parts under it.
    """

    def __init__(self, engine: Engine, tuning: Tuning) -> None:
        self._engine = engine
        self._tuning = tuning
        self._test = TouchTest()

    # ------------------------------------------------------ what a person does

    def begin(self) -> None:
        """Start it. Raises NotNowError where there is no verdict to hold it against."""
        with self._engine.changing():
            if self._engine.snapshot().verdict is None:
                raise NotNowError("The touch test needs a calibration and a plan first.")
            self._test.begin()

    def next(self) -> None:
        """The hands are as it asked; what is asked for too early waits until the reading rests.

        Raises NotNowError where no test runs, or no sweeps come in.
        """
        with self._engine.changing():
            if not self._engine.snapshot().fresh:
                raise NotNowError("No sweeps come in, so there is nothing to look at.")
            self._test.next(self._tuning.resting())

    def leave(self) -> None:
        """Leave it; what the last one showed stays."""
        with self._engine.changing():
            self._test.leave()

    # ----------------------------------------------------------- under the lock

    def offer(self) -> None:
        """A reading came: where one is waited for and it rests, it is looked at."""
        self._test.offer(self._tuning.resting())

    @property
    def state(self) -> TouchState:
        """How it stands."""
        return self._test.state

    @property
    def result(self) -> Touch | None:
        """Of the last one that was finished."""
        return self._test.result

    def drop(self) -> None:
        """Leave it, for what it is held against is no more; the last result stays."""
        self._test.leave()

    def forget(self) -> None:
        """Leave it, and let go of the last result."""
        self._test.forget()

    def belongs_to(self, antenna: str) -> None:
        """What was found is written down with the antenna of that name."""
        self._test.belongs_to(antenna)

    def require(self, antenna: str) -> None:
        """Let go of the last result where it was written down with an antenna of another name."""
        self._test.require(antenna)
