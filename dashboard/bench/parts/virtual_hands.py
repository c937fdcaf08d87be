"""The hands on a virtual bench: they screw on, lay, bend and grip what no real hand can reach."""

from __future__ import annotations

import contextlib

from acceptance.errors import RecipeError
from dashboard.bench.engine import Engine
from dashboard.bench.parts.tuning import Tuning
from dashboard.errors import NotNowError
from replay.virtual_bench.simulated_bench import BenchState, VirtualBench


class VirtualHands:
    """What the demo's hands do. Each takes the engine's lock; any thread may call."""

    def __init__(self, engine: Engine, tuning: Tuning, virtual: VirtualBench | None) -> None:
        """virtual : what is on a virtual analyzer's port; None at a real one."""
        self._engine = engine
        self._tuning = tuning
        self._virtual = virtual

    @property
    def virtual(self) -> VirtualBench | None:
        """What they work on; None at a real port."""
        return self._virtual

    def drive(self, virtual: VirtualBench | None) -> None:
        """Be the hands on another virtual bench, or on none; under the lock."""
        self._virtual = virtual

    def screw_on(self, name: str) -> None:
        """Screw something on to the virtual bench's port. Raises BenchError, NotNowError."""
        with self._engine.changing():
            self._bench().screw_on(name)

    def lay(self, pigtail: str) -> None:
        """Lay a pigtail on the virtual bench, or none. Raises BenchError, NotNowError."""
        with self._engine.changing():
            self._bench().lay(pigtail)

    def bend(self, dimension: str, delta_mm: float) -> None:
        """Bend the virtual antenna. Raises BenchError, NotNowError."""
        with self._engine.changing():
            virtual = self._bench()
            virtual.bend(dimension, delta_mm)
            if virtual.on_port == "antenna" and self._engine.snapshot().verdict is not None:
                with contextlib.suppress(RecipeError):  # the demo's hand says what it does
                    self._tuning.note_change(dimension, delta_mm, beforehand=True)

    def fetch(self, antenna: str) -> None:
        """Fetch another antenna; what was tuned was the last one's. Raises BenchError,
        NotNowError."""
        with self._engine.changing():
            self._bench().fetch(antenna)
            self._tuning.begin_anew()

    def surround(self, *, enclosed: bool | None, wet: bool | None) -> None:
        """Put the virtual antenna into its enclosure, let it rain on it, or undo either; None
        leaves it. Raises NotNowError."""
        with self._engine.changing():
            self._bench().surround(enclosed=enclosed, wet=wet)

    def grip(self, *, gripped: bool) -> None:
        """Grip the virtual antenna's cable, or let go of it. Raises NotNowError."""
        with self._engine.changing():
            self._bench().grip(gripped=gripped)

    def transmit_nearby(self) -> None:
        """Let a transmitter be heard on the virtual bench for a moment. Raises NotNowError."""
        with self._engine.changing():
            self._bench().transmit_nearby()

    def state(self) -> BenchState | None:
        """How the virtual bench stands; None at a real port. Under the lock."""
        return None if self._virtual is None else self._virtual.state()

    def _bench(self) -> VirtualBench:
        if self._virtual is None:
            raise NotNowError("There is no virtual bench here: this is a real port.")
        return self._virtual
