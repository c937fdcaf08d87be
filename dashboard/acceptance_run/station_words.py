"""What a station tells its helper: one thing to do, in words that a child can follow.

No number that must be read stands in them. Figures go into the record and to whoever set it up.
"""

from __future__ import annotations

from dataclasses import replace

from acceptance.record.conditions import words_of
from calibration.capture.guided_captures import SessionState
from dashboard.acceptance_run.station_file import Station
from dashboard.acceptance_run.station_session import Job, Session, Trouble
from dashboard.acceptance_run.station_state import StationState

HANDS_OFF = "Take your hands away and wait."


def worded(
    state: StationState,
    station: Station,
    session: Session,
    *,
    job: Job | None,
    trouble: Trouble,
    working: str,
    guided: SessionState | None,
) -> StationState:
    """The same state with what to say, which picture to show, and what the one key does.

    guided : how the calibration in progress stands; None while none is.
    """
    known_good = station.known_good.antenna
    found = state
    match state.phase:
        case "sweeping":
            found = replace(state, say=HANDS_OFF, why=working, picture="sweep")
        case "calibrate":
            found = _calibrating(state, guided, spoilt=session.spoilt != "")
        case "standard":
            found = replace(
                state,
                say="Connect the short.",
                why="It shows that the bench still measures as it did. The open will do too.",
                thing="short",
                next="It is connected",
            )
        case "piece":
            name = "check piece" if station.check_piece is None else station.check_piece[0]
            found = replace(
                state,
                say=f"Connect the {name}.",
                why="It is measured once, before any antenna.",
                thing="check piece",
                next="It is connected",
            )
        case "connect" if job is None or job.known_good:
            found = replace(
                state,
                say=f"Connect the known good antenna, {known_good}.",
                why="It proves the bench before any other antenna is tested.",
                thing="known good",
                serial=known_good,
                next="It is connected",
            )
        case "connect" if job is not None:
            found = _connecting(state, station, job)
        case "put back":
            found = replace(
                state,
                say="Take the antenna off and connect the short.",
                why="It shows that nothing moved. The open will do too.",
                thing="short",
                next="It is connected",
            )
        case "serial":
            found = replace(
                state,
                say="Scan or type the serial on the next antenna.",
                why="Then press Enter.",
                thing="antenna",
            )
        case "twice":
            found = replace(
                state,
                say=f"{state.serial} was tested before. Test it again?",
                why="If you picked up the wrong antenna, put it back and scan the next one.",
                thing="antenna",
            )
        case "result":
            found = _result(state, station)
        case "done":
            found = replace(
                state,
                say="Finished. Thank you.",
                why=_doubted(session) or "Put the known good antenna and the standards away.",
                picture="result",
            )
    if trouble.say and state.phase not in ("sweeping", "result"):
        found = replace(found, say=trouble.say, why=_after_trouble(state, station, job))
    return found


def _after_trouble(state: StationState, station: Station, job: Job | None) -> str:
    if state.phase == "connect":
        antenna = station.known_good.antenna if job is None else job.antenna
        return f"Connect {antenna} firmly, then press Space."
    return "Then press Space."


def _calibrating(state: StationState, guided: SessionState | None, *, spoilt: bool) -> StationState:
    if guided is None:
        first = "The bench must be calibrated again." if spoilt else "First, calibrate the bench."
        return replace(
            state,
            say=first,
            why="You connect three standards, one after the other.",
            thing="open",
            next="Start",
        )
    if guided.phase == "capturing" or guided.step is None:
        return replace(state, say=HANDS_OFF, why="The standard is being measured.", picture="sweep")
    standard = guided.step.standard
    thing = standard.partition(",")[0].split("-")[0]
    once_more = "once more" in standard.replace("-", " ")
    say = (
        f"Take the {thing} off, then connect it again."
        if once_more
        else f"Connect the {standard.replace('-', ' ')}."
    )
    if guided.phase == "refused":
        return replace(
            state,
            say=f"That was not right. Connect the {thing} and tighten it.",
            why="Check that it is the right standard.",
            detail=guided.message,
            thing=thing,
            next="It is connected",
        )
    return replace(state, say=say, why="Tighten the nut.", thing=thing, next="It is connected")


def _connecting(state: StationState, station: Station, job: Job) -> StationState:
    conditions = station.plan.conditions
    if len(conditions) == 1:
        return replace(
            state,
            say=f"Connect {job.antenna}.",
            why="Tighten the nut, then take your hands away.",
            thing="antenna",
            next="It is connected",
        )
    words = words_of(conditions[min(job.swept, len(conditions) - 1)])
    return replace(
        state,
        say=f"{job.antenna}: {words.instruction}",
        why="",
        thing="antenna",
        next="It is done",
    )


def _result(state: StationState, station: Station) -> StationState:
    found = state.result
    if found is None:
        return state
    proof = found.serial == station.known_good.antenna
    say = {
        "YES": "The bench is right." if proof else f"{found.serial} passes.",
        "NO": f"{found.serial} does not pass.",
        "ASK": f"Ask {station.contact} about {'the bench' if proof else found.serial}.",
    }[found.answer.word]
    more = "" if found.answer.word == "ASK" or proof else " Put the label on it."
    why = f"{found.answer.why}{more}"
    return replace(state, say=say, why=why, picture="result", next="Go on")


def _doubted(session: Session) -> str:
    doubted = [each.serial for each in session.tested if each.doubt]
    return f"Test these again: {', '.join(doubted)}." if doubted else ""
