"""What a report says of a record, line by line, whatever it is printed on.

Everything follows from the record alone. A reader who was not there sees the verdict first, then
each band with its worst point and how far that can be trusted, then what it rests on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from acceptance.limits.decision import DECIDED, State
from acceptance.record import conditions
from acceptance.record.acceptance_record import as_utc
from acceptance.record.examination import Examined, ExaminedCondition
from acceptance.report.condition_changes import Changes
from acceptance.verdict import wording
from acceptance.verdict.band_verdict import BandVerdict, known
from acquire.printable_text import plain
from acquire.sweep import Plane
from calibration.one_port_calibration import Calibration
from calibration.plane.reference_plane import DeEmbedding, plane_words
from calibration.uncertainty.budget import DEFAULT_LOAD_DB
from calibration.verification.verified_budget import evidence_results

CAUTIONS = (
    "A match is no licence to transmit: keep to the licence of the band and to the limits of radio "
    "exposure. Masts, roofs, lightning protection and power lines are for those licensed for such "
    "work; local codes decide."
)
ACCEPTED = "Match of an antenna, accepted by its record; match only, not gain or pattern"
ON_RECORD = "Match of an antenna, on record; match only, not gain or pattern"
"""Of one that did not pass: it was swept and signed off, which makes it no better."""
MOVED_PLANE_WORDS = {
    Plane.RAW: "the analyzer's own errors are in every reading",
    Plane.CONNECTOR: "all beyond it, cable included, counts as the antenna",
    Plane.ANTENNA: "what lies between it and the calibration was undone",
}
SEVERITY = (*DECIDED[:3], State.NOT_MEASURED, State.FAIL)


@dataclass(frozen=True, slots=True)
class BandRow:
    """One band in the condition where it is worst."""

    band: BandVerdict
    condition: str
    """Empty where only one decides."""

    @property
    def cells(self) -> tuple[str, ...]:
        """Band, state, limit, worst point, its interval, margin, trust floor, in words."""
        counted = wording.BandWords.of(self.band)
        return (
            counted.title,
            counted.state,
            counted.limit,
            counted.worst,
            counted.interval,
            counted.margin,
            counted.floor,
        )


@dataclass(frozen=True, slots=True)
class ConditionRow:
    """One condition of several."""

    label: str
    state: State
    words: str
    """Its verdict."""
    dips: str
    """Where its dips lie."""
    worst: str
    """The band with the least margin, and that."""
    change: str
    """What it does against the first one; empty for that."""


@dataclass(frozen=True, slots=True)
class AlongLine:
    """What the cable reflects, and where."""

    title: str
    rows: tuple[tuple[str, ...], ...]
    """Number, distance, size, return loss, what it is."""
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A report's words."""

    antenna: str
    state: State
    words: str
    about: str
    """What it is a report of."""
    headline: str
    invented: bool
    facts: tuple[tuple[str, str], ...]
    """When, by whom, against what."""
    bands: tuple[BandRow, ...]
    deciding: str
    """Which condition the bands' rows are of; empty where there is only one."""
    conditions: tuple[ConditionRow, ...]
    """Empty where only one was swept."""
    changes: Changes | None
    """Margins and dips of all conditions side by side; None where only one was swept."""
    line: AlongLine | None
    """Along the cable; None where nobody asked."""
    basis: tuple[tuple[str, str], ...]
    """What the figures rest on: plane, trust, calibration, verification, touch test."""
    notes: tuple[str, ...]
    cautions: str
    recheck: tuple[str, ...]


def sheet(examined: Examined, folder: str) -> Sheet:
    """What to say of a record.

    folder : the record's own name, for whoever wants to check it.
    """
    acceptance = examined.acceptance
    shown = examined.shown
    rows = _band_rows(shown)
    several = len(examined.conditions) > 1
    return Sheet(
        antenna=acceptance.antenna,
        state=examined.overall,
        words=examined.words,
        about=ACCEPTED if examined.overall is State.PASS else ON_RECORD,
        headline=_headline(examined, rows),
        invented=acceptance.invented,
        facts=tuple((name, value) for name, value in _facts(examined) if value),
        bands=rows,
        deciding=" and ".join(each.condition.label for each in shown) if several else "",
        conditions=_condition_rows(examined) if several else (),
        changes=Changes.of(examined),
        line=_along_line(examined.worst),
        basis=tuple((name, value) for name, value in _basis(examined, rows) if value),
        notes=_notes(shown),
        cautions=CAUTIONS,
        recheck=(
            f"Record: {folder}. sha256sum -c SHA256SUMS shows whether a file was changed.",
            f"bandwright recheck {folder} works the verdict out anew from the raw readings.",
        ),
    )


def plane_sentence(plane: Plane, de_embedding: DeEmbedding | None = None) -> str:
    """Where a reading holds, and what that means for it."""
    words = plane_words(plane, de_embedding)
    return f"{words[0].upper()}{words[1:]}: {MOVED_PLANE_WORDS[plane]}."


def _headline(examined: Examined, rows: Sequence[BandRow]) -> str:
    """How many of the bands are what, the worst first."""
    if examined.unswept:
        labels = " and ".join(conditions.words_of(name).label for name in examined.unswept)
        return f"the plan decides by the antenna {labels}, and it was not swept so"
    counts = [(state, sum(row.band.state is state for row in rows)) for state in reversed(SEVERITY)]
    counted = [(state, count) for state, count in counts if count]
    if len(counted) == 1:
        state, count = counted[0]
        return f"{'every band' if count > 1 else 'the one band'}: {state}"
    return ", ".join(f"{count} {state}" for state, count in counted) + f"; of {len(rows)}"


def _facts(examined: Examined) -> list[tuple[str, str]]:
    acceptance = examined.acceptance
    at = acceptance.accepted_at
    names = {each.name: each.label for each in acceptance.recipe.dimensions}
    sizes = ", ".join(
        f"{names.get(name, name)} {size:g} mm" for name, size in acceptance.sizes_mm.items()
    )
    recipe = acceptance.recipe.name if acceptance.recipe.text else ""
    return [
        (
            "Accepted" if examined.overall is State.PASS else "Recorded",
            record_time(at) if at is not None else "not signed off",
        ),
        ("By", acceptance.operator),
        ("Plan", f"{acceptance.plan.name}; {acceptance.plan.guard_words}"),
        ("Recipe", recipe),
        ("Sizes", sizes),
        ("Note", acceptance.note),
    ]


def _band_rows(shown: Sequence[ExaminedCondition]) -> tuple[BandRow, ...]:
    rows = []
    for at in range(len(shown[0].verdict.bands)):
        seen = [(each.verdict.bands[at], each.condition.label) for each in shown]
        band, label = max(seen, key=lambda pair: _badness(pair[0]))
        rows.append(BandRow(band, label if len(shown) > 1 else ""))
    return tuple(rows)


def _badness(band: BandVerdict) -> tuple[int, float]:
    margin_or_bound_db = known(band.margin_or_bound_db)
    return SEVERITY.index(band.state), 0.0 if margin_or_bound_db is None else -margin_or_bound_db


def _condition_rows(examined: Examined) -> tuple[ConditionRow, ...]:
    change = {each.after: each.words for each in examined.condition_comparisons}
    rows = []
    for result in examined.conditions:
        bands = [
            each for each in result.verdict.bands if known(each.margin_or_bound_db) is not None
        ]
        worst = max(bands, key=_badness, default=None)
        dips = [f"{each.frequency_hz / 1e6:.0f}" for each in result.dips if not each.beyond]
        rows.append(
            ConditionRow(
                label=result.condition.label + ("" if result.judged else " (for comparison)"),
                state=result.verdict.overall,
                words=result.verdict.words,
                dips=f"{', '.join(dips)} MHz" if dips else "none",
                worst=(
                    "" if worst is None else f"{wording.band_title(worst)} {wording.margin(worst)}"
                ),
                change=change.get(result.condition.name, ""),
            )
        )
    return tuple(rows)


def _along_line(result: ExaminedCondition) -> AlongLine | None:
    seen = result.line
    if seen is None:
        refused = result.line_refused
        return AlongLine("Along the cable", (), (refused,)) if refused else None
    rows = tuple((str(number), *each) for number, each in enumerate(seen.rows, 1))
    sentences = seen.sentences
    if seen.gated is not None and seen.inspected.gate_m is not None:
        low, high = seen.inspected.gate_m
        changed = ", ".join(
            f"{each.name} {each.cells[0]} to {each.cells[1]}"
            for each in seen.bands
            if each.now_db is not None
        )
        sentences = (
            *sentences,
            f"Without {low:g} to {high:g} m the worst return loss would go: {changed}."
            if changed
            else f"What {low:g} to {high:g} m do to the bands lies at the end of the sweep.",
            seen.gated.warning,
        )
    return AlongLine(f"Along the cable ({seen.inspected.words})", rows, sentences)


def _basis(examined: Examined, rows: Sequence[BandRow]) -> list[tuple[str, str]]:
    acceptance = examined.acceptance
    result = examined.worst
    calibration = acceptance.calibration
    sweeps = len(result.condition.raw)
    bands = [row.band for row in rows]
    return [
        ("Reference plane", plane_sentence(result.verdict.plane, result.verdict.de_embedding)),
        (
            "Trust",
            " ".join(
                [
                    *wording.uncertainty_sentences(bands, result.verdict.false_pass_risk),
                    wording.unseen_sentence(bands),
                ]
            ),
        ),
        (
            "Sweep",
            f"{sweeps} agreeing sweep{'s' if sweeps > 1 else ''} of {result.corrected.points} "
            f"points averaged, {record_time(result.corrected.taken_at)}; "
            f"{acceptance.source.analyzer}, profile {acceptance.source.profile or 'none'}.",
        ),
        ("Calibration", _calibration(calibration, examined)),
        (
            "Verification",
            "" if calibration is None else _verification(calibration, examined),
        ),
        ("Touch test", "" if acceptance.touch_test is None else acceptance.touch_test.text),
        ("Software", acceptance.software),
    ]


def _calibration(calibration: Calibration | None, examined: Examined) -> str:
    if calibration is None:
        return "Not known: an imported file."
    assumptions, kit = examined.acceptance.assumptions, calibration.kit
    stated, made = assumptions.load_db, kit.load_return_loss_db
    source = assumptions.load_source if stated is not None else kit.load_source
    by = f", by {plain(source)}" if source else ""
    load = (
        f"load stated as {stated:g} dB{by}"
        if stated is not None
        else f"load of {made:g} dB by its kit{by}"
        if made is not None
        else f"load assumed as {DEFAULT_LOAD_DB:g} dB, neither stated nor measured"
    )
    papers = calibration.kit.papers
    pieces = [f"{name} {each.words}" for name, each in papers.items() if each.words]
    which = f" ({'; '.join(pieces)})" if pieces else ""
    return f"{record_time(calibration.taken_at)}, {calibration.kit.label}{which}; {load}."


def _verification(calibration: Calibration, examined: Examined) -> str:
    found = evidence_results(calibration, examined.acceptance.assumptions)
    shown = list(found.contradictions)
    shown += sorted(found.devices, key=lambda each: each.taken_at)[-1:]
    shown += sorted(found.drifts, key=lambda each: each.taken_at)[-1:]
    counted = dict.fromkeys(each.words.partition("\n")[0] for each in shown)
    return " ".join(counted) or "No known device was measured back, so the load is taken on trust."


def _notes(shown: Sequence[ExaminedCondition]) -> tuple[str, ...]:
    bands = [band for each in shown for band in each.verdict.bands]
    counted = [note for each in shown for note in each.verdict.notes]
    reasons: dict[str, list[str]] = {}
    for band in bands:
        if band.reason:
            reasons.setdefault(band.reason, []).append(wording.band_title(band))
    counted += [f"{', '.join(dict.fromkeys(names))}: {why}" for why, names in reasons.items()]
    counted += [f"{band.name}: {band.note}" for band in bands if band.note]
    return tuple(dict.fromkeys(counted))


def record_time(at: datetime) -> str:
    """A time as a report tells it: where it was, and by UTC."""
    return (
        f"{at:%Y-%m-%d %H:%M %z} ({as_utc(at)[11:16]} UTC)"
        if at.utcoffset()
        else (f"{at:%Y-%m-%d %H:%M} UTC")
    )
