"""A station at work: what proves the bench comes first, then serial by serial, one word each.

Every step waits for one key. What takes time, sweeping and writing, is done by a thread of its own,
so that the page goes on showing the bench meanwhile.
"""

from __future__ import annotations

import threading
import traceback
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from acceptance.catalogue.known_good_checks import Reference, readings_of, write_check
from acceptance.report.yes_no_ask import Answer, nothing_connected
from acceptance.version import software
from acquire.errors import BandwrightError
from dashboard.acceptance_run.recorded_antennas import last_sums, recorded_before
from dashboard.acceptance_run.station_file import Station
from dashboard.acceptance_run.station_session import (
    Job,
    Session,
    Trouble,
    details_of,
)
from dashboard.acceptance_run.station_state import Phase, StationState, Tested
from dashboard.acceptance_run.station_words import worded
from dashboard.bench.engine import Engine
from dashboard.bench.parts.acceptance import BenchAcceptance
from dashboard.bench.parts.calibration import BenchCalibration
from dashboard.bench.parts.check_piece import BenchCheckPiece
from dashboard.errors import NotNowError, VerdictTurnedError
from dashboard.files.defect_log import keep_defect

LONGEST_SERIAL = 60
LOCKED = ("plan", "kit", "recipe")
"""What a change of is asked about when a station starts."""


class BenchStation:
    """The work of one station. What a person does may be called from any thread."""

    def __init__(
        self,
        engine: Engine,
        station: Station,
        *,
        acceptance: BenchAcceptance,
        calibration: BenchCalibration,
        check_piece: BenchCheckPiece,
        virtual: bool,
    ) -> None:
        """virtual : whether the virtual bench's hand puts standards back by itself."""
        self.station = station
        self._engine = engine
        self._acceptance = acceptance
        self._calibration = calibration
        self._check_piece = check_piece
        self._virtual = virtual
        self._session = Session()
        self._job: Job | None = None
        self._twice = ""
        self._result: Tested | None = self._changed()
        self._trouble = Trouble()
        self._working = ""

    # ------------------------------------------------------ what a person does

    def next(self) -> None:
        """Go on by one step: the one key. Raises NotNowError where there is nothing to go on to."""
        with self._engine.changing():
            phase = self._phase()
            if phase == "sweeping":
                raise NotNowError("Wait until the sweep is done.")
            self._trouble = Trouble()
            if phase == "calibrate":
                if self._calibration.guided is None:
                    self._calibration.begin()
                else:
                    self._calibration.standard_is_on()
                return
            if phase == "result":
                self._result = None
                return
            work: dict[Phase, tuple[str, Callable[[], None]]] = {
                "standard": ("The standard is being checked.", self._check_standard),
                "piece": ("The check piece is being swept.", self._read_piece),
                "connect": ("The antenna is being swept.", self._sweep),
                "put back": ("The standard is being checked.", self._put_back),
            }
            if phase not in work:
                raise NotNowError(self.state().say)
            self._working, task = work[phase]
            if phase == "connect" and self._job is None:
                self._job = Job(self.station.known_good.antenna, known_good=True)
        threading.Thread(target=self._do, args=(task,), name="station", daemon=True).start()

    def take_serial(self, serial: str, *, again: bool = False) -> None:
        """Take the next antenna by its serial, as typed or scanned.

        again : the helper says that it is to be tested though it was before. Raises NotNowError
        where it is none, or another thing is to be done first.
        """
        serial = serial.strip()
        with self._engine.changing():
            if self._phase() not in ("serial", "twice"):
                raise NotNowError(self.state().say)
            if not serial or len(serial) > LONGEST_SERIAL or not serial.isprintable():
                raise NotNowError("Type the serial on the antenna, or scan it.")
            if serial == self.station.known_good.antenna:
                raise NotNowError("That is the known good antenna. Scan the next one.")
            if not self.station.fits(serial):
                raise NotNowError(f"{serial} is not written as a serial is here. Scan it again.")
            if not again and recorded_before(self.station.records, serial):
                self._twice = serial
                return
            self._twice, self._trouble = "", Trouble()
            self._job = Job(serial, again=again)

    def drop_serial(self) -> None:
        """Put the antenna in hand aside; nothing of it is kept."""
        with self._engine.changing():
            if self._working:
                raise NotNowError("Wait until the sweep is done.")
            self._twice, self._job, self._trouble = "", None, Trouble()
            self._acceptance.throw_unfinished_away()

    def finish(self) -> None:
        """End the work: the known good antenna and the standard once more."""
        with self._engine.changing():
            if self._working or self._job is not None:
                raise NotNowError("Finish the antenna in hand first.")
            self._session.finishing, self._twice = True, ""

    def go_on(self) -> None:
        """Test more after all."""
        with self._engine.changing():
            self._session.finishing = False

    def tested(self, record: str) -> Tested | None:
        """What was said of the antenna with that record; None where there is none."""
        with self._engine.locked():
            return next((each for each in self._session.tested if each.record == record), None)

    # ----------------------------------------------------------- under the lock

    def state(self) -> StationState:
        """How it stands; called under the lock."""
        phase, station, session = self._phase(), self.station, self._session
        state = StationState(
            station.name,
            station.contact,
            phase,
            say="",
            serial=self._twice or ("" if self._job is None else self._job.antenna),
            result=self._result,
            tested=tuple(session.tested),
            detail=self._trouble.detail,
            can_finish=phase == "serial" and bool(session.tested),
        )
        guided = self._calibration.guided
        return worded(
            state,
            station,
            session,
            job=self._job,
            trouble=self._trouble,
            working=self._working,
            guided=None if guided is None else guided.state,
        )

    def _phase(self) -> Phase:  # noqa: PLR0911 - one a thing to be done
        """What is to be done now."""
        session, made = self._session, self._calibration.made
        if self._working:
            return "sweeping"
        if self._result is not None:
            return "result"
        if self._calibration.guided is not None or made in ("", session.spoilt):
            return "calibrate"
        job, plan = self._job, self.station.plan
        if job is not None and self._awaits_standard(job):
            return "put back"
        if job is not None and not job.known_good:
            return "connect"
        if self.station.check_piece is not None and not session.piece_read:
            return "piece"
        if self._acceptance.state(plan).batch_due:
            return "standard"
        unproven = session.proven_by != made or len(session.since) >= self.station.every
        if job is not None or unproven or (session.finishing and session.since):
            return "connect"
        if session.finishing:
            return "standard" if session.unchecked and plan.check_after == "batch" else "done"
        return "twice" if self._twice else "serial"

    def _awaits_standard(self, job: Job) -> bool:
        wanted = self.station.plan.check_after == "each" and not job.checked
        return wanted and job.swept >= len(self.station.plan.conditions)

    # -------------------------------------------------------------- by a thread

    def _do(self, task: Callable[[], None]) -> None:
        """Do what takes time, and say what came of it."""
        trouble = Trouble()
        try:
            task()
        except (BandwrightError, OSError) as error:
            moves = "still moves" in str(error)
            words = "It is not steady yet. Take your hands away." if moves else "That did not work."
            trouble = Trouble(words, str(error))
        except Exception as error:  # noqa: BLE001 - a defect: the helper must not wait in vain
            keep_defect("".join(traceback.format_exception(error)), "working at a station")
            trouble = Trouble("That failed by a fault of this program.", str(error))
        with self._engine.changing():
            self._working = ""
            if trouble.say:
                self._trouble = trouble

    def _check_standard(self) -> None:
        """The standard that a batch wants put back."""
        found = self._acceptance.check_batch_by()
        with self._engine.changing():
            session = self._session
            covered, session.unchecked = session.unchecked, []
            if not found.holds:
                why = "The check of the standard failed, so what came since does not count."
                session.doubt(f"{why} {found.words}", covered)
                session.spoilt = self._calibration.made

    def _read_piece(self) -> None:
        if self.station.check_piece is None:
            return
        name, stated_db = self.station.check_piece
        reading, _ = self._check_piece.measure(name, stated_db)
        with self._engine.changing():
            self._session.piece_read = reading.holds
            if not reading.holds:
                why = "It does not read as it should. Nothing is tested until it does."
                self._result = self._shown(name, Answer("ASK", why, reading.words))

    def _sweep(self) -> None:
        """The antenna in hand, in the next condition of the plan."""
        job, session = self._job, self._session
        if job is None:
            return
        conditions = self.station.plan.conditions
        name = conditions[min(job.swept, len(conditions) - 1)]
        details = details_of(self.station, job)
        try:
            self._acceptance.sweep_condition(name, details)
        except VerdictTurnedError:  # nobody here looks at the verdict before the sweep
            self._acceptance.sweep_condition(name, details)
        examined = self._acceptance.examined()
        if examined is None:
            return
        found = next(each for each in examined.conditions if each.condition.name == name)
        odd = nothing_connected(found) or session.left_on(found.corrected, job)
        with self._engine.changing():
            if odd and not job.warned:
                job.warned, self._trouble = odd, Trouble(odd)
                return
            job.warned = odd
            job.swept += 1
            if job.swept < len(conditions):
                return
            session.last = found.corrected
            if self._awaits_standard(job) and not self._virtual:
                return
        if self._awaits_standard(job):
            self._put_back()
        else:
            self._conclude(job)

    def _put_back(self) -> None:
        """The standard that goes back after an antenna."""
        job = self._job
        if job is None:
            return
        found = self._acceptance.put_back_after()
        with self._engine.changing():
            job.checked = True
            if not found.holds:
                self._session.spoilt = self._calibration.made
        self._conclude(job)

    def _conclude(self, job: Job) -> None:
        """Write the antenna's record, with the word and its reason in it."""
        examined = self._acceptance.examined()
        if examined is None:
            return
        if job.known_good:
            self._conclude_known_good(job)
            return
        answer = self._session.answer(job, examined)
        signed = self._acceptance.sign_off(details_of(self.station, job, answer))
        with self._engine.changing():
            found = self._shown(job.antenna, answer, signed.path)
            self._session.tested.append(found)
            self._session.since.append(signed.path)
            self._session.unchecked.append(signed.path.name)
            self._result, self._job = found, None

    def _conclude_known_good(self, job: Job) -> None:
        station, session = self.station, self._session
        answer = Answer("YES", "It reads as its record says, so the bench is proven.")
        details = details_of(station, job, answer, role="known good")
        signed = self._acceptance.sign_off(details)
        check = write_check(
            station.records,
            station.known_good,
            signed.path,
            readings_of(signed.examined, station.plan),
            session.since,
            station=station.name,
            tolerance_db=station.tolerance_db,
            software=software(),
            at=self._engine.clock.now(),
        )
        with self._engine.changing():
            self._job = None
            covered, session.since = session.since, []
            session.unchecked.append(signed.path.name)
            if check.holds:
                session.proven_by = self._calibration.made
                answer = replace(answer, detail=check.words)
            else:
                session.proven_by = ""
                why = "The known good antenna does not read as its record says."
                names = [path.name for path in covered]
                session.doubt(f"{why} {check.words}", names)
                more = " Test the last antennas again." if covered else ""
                answer = Answer("ASK", f"{why}{more}", check.words)
            self._result = self._shown(job.antenna, answer, signed.path)

    def _changed(self) -> Tested | None:
        """What is locked otherwise than when this station last wrote a record; None: nothing."""
        before = last_sums(self.station.records, self.station.name)
        changed = [
            name for name in LOCKED if name in before and before[name] != self.station.sums[name]
        ]
        if not changed:
            return None
        what = " and ".join(changed)
        why = f"The {what} changed since this station was last used. Go on if that was meant."
        detail = "; ".join(f"{name} {before[name][:8]} then, {self.station.sums[name][:8]} now"
                           for name in changed)  # fmt: skip
        return self._shown(f"the {what}", Answer("ASK", why, f"Sums: {detail}."))

    def _shown(self, serial: str, answer: Answer, record: Path | None = None) -> Tested:
        return Tested(
            serial,
            answer,
            "" if record is None else record.name,
            "" if record is None else Reference.of(record).short,
            f"{self._engine.clock.now().astimezone():%Y-%m-%d %H:%M}",
        )
