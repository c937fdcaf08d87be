"""The bench's check piece: what is on the port taken for it, once each morning."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from acceptance.verdict.judged_sweep import judged_sweep
from calibration.verification.check_piece import PieceReading
from dashboard.bench.engine import Engine
from dashboard.bench.parts.calibration import BenchCalibration
from dashboard.bench.parts.recent_sweeps import RecentSweeps
from dashboard.bench.snapshot import Snapshot
from dashboard.bench.steady_reading import standard_at_rest
from dashboard.errors import NotNowError
from dashboard.files.check_pieces import changed_at, latest_reading
from dashboard.files.kept_check_piece import VIRTUAL_PIECE, keep_reading, require_figures
from replay.virtual_bench.simulated_bench import VirtualBench


class BenchCheckPiece:
    """Its readings. What a person does takes the engine's lock itself."""

    def __init__(
        self,
        engine: Engine,
        *,
        recent: RecentSweeps,
        calibration: BenchCalibration,
        folder: Path | None,
        virtual: VirtualBench | None,
    ) -> None:
        """folder : where readings are kept; None keeps none, and there is no check piece.

        virtual : whose hand puts it on; None where a person does.
        """
        self._engine = engine
        self._recent = recent
        self._calibration = calibration
        self._folder = folder
        self._virtual = virtual
        self._latest: PieceReading | None = None
        self._as_of = -1

    def move(self, folder: Path | None, virtual: VirtualBench | None) -> None:
        """Keep readings elsewhere from now on, of another bench; under the lock."""
        self._folder, self._virtual = folder, virtual
        self._latest, self._as_of = None, -1

    @property
    def latest(self) -> PieceReading | None:
        """The newest reading; None where there is none."""
        if self._folder is None:
            return None
        as_of = changed_at(self._folder)
        if as_of != self._as_of:  # the terminal adds to them as well
            self._as_of, self._latest = as_of, latest_reading(self._folder)
        return self._latest

    def measure(
        self, piece: str, stated_db: float | None
    ) -> tuple[PieceReading, Sequence[PieceReading]]:
        """Take what is on for the check piece; returns its reading, and all of it so far.

        Raises NotNowError while there is no calibration or nothing rests, SetupError for figures
        that are none, RecordError where it cannot be kept.
        """
        require_figures(piece, stated_db, None)
        if self._folder is None:
            raise NotNowError("This bench keeps no readings of check pieces. Start the page anew.")
        moment = self._moment()
        calibration, raw = moment.calibration.calibration, moment.averaged
        if calibration is None or moment.corrected is None or raw is None:
            raise NotNowError("A check piece is read by a calibration. Calibrate first.")
        with self._engine.changing():
            budget = self._calibration.reading_budget
            swept = judged_sweep(raw, calibration, budget, swept=moment.swept)
        return keep_reading(self._folder, piece, swept, calibration, stated_db=stated_db)

    def _moment(self) -> Snapshot:
        """The next moment at which it rests; the virtual bench's hand puts it on, and back off."""
        virtual = self._virtual
        if virtual is None:
            return self._resting()
        before = virtual.state()
        with self._engine.changing():
            virtual.lay("none")
            virtual.screw_on(VIRTUAL_PIECE)
        try:
            return self._resting()
        finally:
            with self._engine.changing():
                virtual.lay(before.pigtail)
                virtual.screw_on(before.on_port)

    def _resting(self) -> Snapshot:
        with self._recent.whole_alone():
            return standard_at_rest(self._engine.snapshot(), self._engine.after)
