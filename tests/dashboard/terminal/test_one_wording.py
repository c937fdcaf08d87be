"""For any verdict, terminal, report and page say the same words of a band."""

from __future__ import annotations

import io
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console
from rich.text import Text

from acceptance.limits.decision import State
from acceptance.limits.limit import Limit
from acceptance.plan.acceptance_plan import Target
from acceptance.report.report_text import BandRow
from acceptance.verdict.band_verdict import BandVerdict
from acceptance.verdict.plan_verdict import Verdict
from acquire.sweep import Plane, Source
from dashboard.feed.strip_frame import band_frame
from dashboard.terminal.output import IN_ASCII, UNKNOWN, verdict_table

LIMITS = st.one_of(
    st.builds(Limit, st.just("return_loss_db"), st.floats(3.0, 30.0)),
    st.builds(Limit, st.just("vswr"), st.floats(1.1, 5.0)),
)
DEPTHS = st.one_of(st.floats(0.0, 90.0), st.just(float("inf")))
WIDE, NARROW = 400, 80
"""Letters of a terminal with room for all, and of a usual one."""


@st.composite
def bands(draw: st.DrawFn) -> BandVerdict:
    """Of any state, known in part or not at all."""
    limit, low_hz = draw(LIMITS), draw(st.floats(400e6, 3e9))
    low_db, read_db, high_db = sorted(draw(st.tuples(DEPTHS, DEPTHS, DEPTHS)))
    known: dict[str, Any] = {}
    match draw(st.sampled_from(["nothing", "bare", "read", "proven"])):
        case "bare":
            known = {"worst_return_loss_db": read_db}
        case "read":
            known = {"worst_return_loss_db": read_db, "interval_db": (low_db, high_db)}
        case "proven":
            known = {"better_than_db": low_db, "interval_db": (low_db, high_db)}
    if "worst_return_loss_db" in known:
        known |= {"margin_db": read_db - limit.return_loss_db, "average_return_loss_db": read_db}
    if "better_than_db" in known:
        known |= {"average_better_than_db": low_db}
    return BandVerdict(
        name=draw(st.sampled_from(["LTE 20", "NR n78", "gauge backhaul"])),
        link=draw(st.sampled_from(["both", "uplink", "downlink"])),
        low_hz=low_hz,
        high_hz=low_hz + draw(st.sampled_from([2e6, 30e6])),
        state=draw(st.sampled_from(list(State))),
        limit=limit,
        guarded=draw(st.booleans()),
        worst_frequency_hz=low_hz + 1e6 if known else None,
        trust_floor_db=draw(st.one_of(st.none(), st.floats(10.0, 50.0))),
        **known,
    )


def in_the_terminal(band: BandVerdict, width: int, *, ascii_only: bool) -> list[str]:
    """The cells of a band's row, their lines joined."""
    source = Source("virtual", "invented", "invented", "virtual:")
    verdict = Verdict(band.state, "plan", Plane.CONNECTOR, source, (band,), band.guarded, ())
    console = Console(file=io.StringIO(), width=width)
    rows = verdict_table(verdict, console, ascii_only=ascii_only)
    cells = [next(iter(column.cells)) for column in rows.columns]
    assert all(isinstance(each, Text) for each in cells)
    return [" ".join(str(each).split()) for each in cells]


@settings(max_examples=60)
@given(bands(), st.sampled_from([WIDE, NARROW]), st.booleans())
def test_terminal_report_and_page_say_the_same(
    band: BandVerdict, width: int, ascii_only: bool
) -> None:
    title, state, limit, worst, interval, margin, _floor = BandRow(band, "").cells
    shown = in_the_terminal(band, width, ascii_only=ascii_only)
    wanted = [limit, f"{worst} ({interval})" if interval else worst, margin]
    if ascii_only:
        wanted = [each.translate(IN_ASCII) for each in wanted]
        assert all(each.isascii() for each in wanted)
    assert shown[0] == title
    assert shown[1].split(" ", 1)[1] == state
    assert shown[2:5] == [each or UNKNOWN for each in wanted]
    target = Target(band.name, band.link, band.low_hz, band.high_hz, band.limit, "")
    page = band_frame(target, band)
    assert page["words"] == state
    assert page["limit"]["short"] == limit
    assert (page["worst"] or {"words": ""})["words"] == worst
    assert (page["margin"] or "") == margin
    assert (page["average"] or UNKNOWN) in (*shown[5:], *([page["average"]] * (len(shown) < 6)))
    assert interval in (page["trust"] or "")
