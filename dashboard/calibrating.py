"""The bench's calibration: the one that holds, and the one in progress."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from acceptance.store import software
from acquire.clock import Clock
from acquire.coverage import Span
from acquire.errors import BandwrightError
from acquire.sweep import Sweep, SweepRequest
from calibration.calibrated import Calibration
from calibration.kit import Kit
from calibration.session import CalibrationSession
from dashboard import calibrations
from dashboard.errors import NotNowError
from dashboard.snapshot import CalibrationState

SWEEPS_A_STANDARD = 8
NEEDED = "Calibrate with open, short and load: raw readings carry the unit's own errors."


class Calibrating:
    """What raw sweeps are corrected with. Not safe to share: its bench holds the lock."""

    def __init__(
        self,
        kit: Kit,
        held: Calibration | None,
        path: Path | None,
        *,
        folder: Path,
        clock: Clock,
    ) -> None:
        """Begin with a calibration made before, kept at `path`; or with none.

        folder : where new ones are kept.
        """
        self._kit = kit
        self._held = held
        self._path = path
        self._folder = folder
        self._clock = clock
        self._session: CalibrationSession | None = None
        self._problem = ""

    @property
    def running(self) -> bool:
        """True while a guided calibration is in progress."""
        return self._session is not None

    def use_kit(self, kit: Kit) -> None:
        """Take other standards next time. Raises NotNowError while a calibration runs."""
        if self._session is not None:
            raise NotNowError("The kit cannot be changed while a calibration runs. Leave it first.")
        self._kit = kit

    def begin(self, passes: Sequence[SweepRequest], spans: Sequence[Span]) -> None:
        """Start a guided calibration. Raises CalibrationError where the kit does not reach."""
        self._session = CalibrationSession(
            self._kit, passes, spans, wanted_sweeps=SWEEPS_A_STANDARD
        )

    def standard_is_on(self) -> None:
        """Capture the standard asked for. Raises NotNowError where none is."""
        self._in_progress().begin()

    def redo(self, standard: str) -> None:
        """Ask for one standard again. Raises NotNowError, CalibrationError."""
        self._in_progress().redo(standard)

    def leave(self) -> None:
        """Drop the calibration in progress; the one before it holds again."""
        self._session = None

    def take(self, sweep: Sweep) -> None:
        """Let a sweep count towards the calibration in progress; finish it with the last one."""
        session = self._session
        if session is None or session.add(sweep).phase != "complete":
            return
        try:
            self._held = session.finish(self._clock.now(), software())
        except BandwrightError as error:
            self._problem = str(error)
            return
        self._session, self._path, self._problem = None, None, ""
        try:
            self._path = calibrations.keep(self._held, self._folder)
        except BandwrightError as error:  # it holds for now, and the person is told
            self._problem = str(error)

    def corrected(self, sweep: Sweep | None) -> tuple[Sweep | None, CalibrationState]:
        """A raw sweep at the connector, where that can be had; and how things stand."""
        held = self._held
        state = CalibrationState("none", self._problem or NEEDED, self._kit.name, held, self._path)
        if self._session is not None:
            session = self._session.state
            return None, CalibrationState(
                "running", session.message, self._kit.name, held, self._path, session
            )
        if held is None:
            return None, state
        try:
            corrected = None if sweep is None else held.correct(sweep)
        except BandwrightError as error:
            return None, CalibrationState("misfit", str(error), self._kit.name, held, self._path)
        words = self._problem or calibrations.words(held, self._path)
        return corrected, CalibrationState("held", words, self._kit.name, held, self._path)

    def _in_progress(self) -> CalibrationSession:
        if self._session is None:
            raise NotNowError("No calibration is in progress. Start one first.")
        return self._session
