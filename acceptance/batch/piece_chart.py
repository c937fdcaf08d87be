"""The check piece over days: a control chart of its return loss, and whether the newest reading
is what it should be.

Two limits, of two kinds. What the piece should read, within what both readings may be off: that
finds a load or a kit that is wrong. And what is ordinary of this bench by its own scatter: that
finds a change long before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from acceptance.batch.charted_series import Charted, ChartedSeries
from acceptance.batch.control_chart import LEAST_VALUES, control_chart
from calibration.verification.check_piece import PieceReading, piece_difference

LEAST_LIMIT_DB = 0.1
"""A reading within so much of the mean is ordinary, however little the others scatter: joints made
by hand move 10 dB by as much [derived: .01 of .316, both ways]."""
MOST_CHARTED = 60


def piece_series(readings: Sequence[PieceReading]) -> ChartedSeries | None:
    """The chart of a piece's newest readings, the oldest first; None without any."""
    shown = sorted(readings, key=lambda each: each.taken_at)[-MOST_CHARTED:]
    if not shown:
        return None
    return ChartedSeries(
        shown[-1].piece,
        "dB",
        tuple(Charted(f"{each.taken_at:%m-%d}", each.taken_at) for each in shown),
        control_chart([each.mean_db for each in shown]),
        of="reading",
    )


def judged_piece(reading: PieceReading, before: Sequence[PieceReading]) -> PieceReading:
    """The reading, with whether it holds and why.

    before : the same piece's earlier readings. Those that did not hold are no measure of what is
    ordinary, but for the very first, which the piece is known by.
    """
    earlier = sorted((e for e in before if e.piece == reading.piece), key=lambda e: e.taken_at)
    first = earlier[0] if earlier else None
    difference = piece_difference(reading, first)
    ordinary = [each.mean_db for each in earlier if each.holds][-MOST_CHARTED:]
    read = f"The {reading.piece} reads {reading.mean_db:.2f} dB"
    if difference is not None and not difference.agrees:
        words = (
            f"{read}, and at {difference.at_hz / 1e6:.6g} MHz {difference.read_db:.2f} dB where "
            f"{difference.least_db:.2f} to {difference.most_db:.2f} dB are right. {_CURE}"
        )
        return replace(reading, holds=False, words=words)
    if len(ordinary) >= LEAST_VALUES:
        low, high = _limits(ordinary)
        within = low <= reading.mean_db <= high
        words = f"{read}; by its chart {low:.2f} to {high:.2f} dB are ordinary."
        return replace(reading, holds=within, words=words if within else f"{words} {_CURE}")
    if difference is None:
        words = f"{read}: the first reading, and what it should read from now on."
        return replace(reading, words=words)
    words = (
        f"{read}, as it should; with {len(ordinary) + 1} of {LEAST_VALUES} readings its chart has "
        "no limits yet."
    )
    return replace(reading, words=words)


_CURE = (
    "Tighten the joints and sweep it again; if it stays, calibrate anew, and then doubt the piece."
)


def _limits(values: Sequence[float]) -> tuple[float, float]:
    chart = control_chart(values)
    low, high = chart.low or chart.mean, chart.high or chart.mean
    return min(low, chart.mean - LEAST_LIMIT_DB), max(high, chart.mean + LEAST_LIMIT_DB)
