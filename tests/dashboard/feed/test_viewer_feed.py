"""The feed: whole messages, the newest first, nobody held up by anybody."""

from __future__ import annotations

import asyncio
import json
import math
import struct
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.bench.composed_bench import Bench
from dashboard.feed import viewer_feed
from dashboard.feed.viewer_feed import (
    Encoder,
    Viewer,
    acknowledged,
    as_shown,
    encode,
    wanted_markers,
)
from tests.counts import PATIENCE_S
from tests.dashboard.conftest import finish, until


def read(message: bytes) -> tuple[dict[str, Any], dict[str, np.ndarray]]:
    """Read a message by its description alone, sharing nothing with the writer."""
    (length,) = struct.unpack_from("<I", message)
    assert length % 4 == 0
    head = json.loads(message[4 : 4 + length])
    offset = 4 + length
    parts = {}
    for part in head["parts"]:
        values = struct.unpack_from(f"<{part['count']}f", message, offset)
        parts[part["name"]] = np.array(values)
        offset += 4 * part["count"]
    assert offset == len(message)
    return head, parts


@given(
    text=st.text(),
    values=st.lists(st.floats(width=32, allow_nan=True, allow_infinity=True), max_size=50),
)
def test_what_is_encoded_can_be_read_back(text: str, values: list[float]) -> None:
    part = np.array(values, dtype="<f4")
    head, parts = read(encode({"said": text}, [("trace", None, part)]))
    assert head["said"] == text
    np.testing.assert_array_equal(parts["trace"], part)


@pytest.mark.slow
@given(st.recursive(st.text(), lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner)))
def test_no_text_in_a_header_can_turn_the_writing_round(header: Any) -> None:
    def texts(value: Any) -> list[str]:
        if isinstance(value, str):
            return [value]
        each = value.values() if isinstance(value, dict) else value
        return [text for inner in each for text in texts(inner)]

    assert all(text.isprintable() for text in texts(as_shown(header)))


def test_a_number_that_is_none_never_gets_into_a_header() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        encode({"margin": math.nan}, [])


def test_a_message_carries_the_sweep_and_the_grid_only_once(bench: Bench) -> None:
    first = until(bench, lambda now: now.sequence > 0)
    encoder = Encoder()
    head, parts = read(encoder.message(first, bench.clock.monotonic()))
    assert first.shown is not None
    np.testing.assert_allclose(parts["grid"], first.shown.frequency_hz / 1e6, rtol=1e-7)
    pairs = parts["trace"].reshape(-1, 2)
    np.testing.assert_allclose(pairs[:, 0] + 1j * pairs[:, 1], first.shown.reflection, atol=1e-7)
    assert head["sequence"] == first.sequence
    assert head["data"]["words"] == "Virtual bench: invented data"
    assert all(link["state"] == "withheld" for strip in head["strips"] for link in strip["links"])

    bench.holds.hold()
    second = until(bench, lambda now: now.sequence > first.sequence)
    head, parts = read(encoder.message(second, bench.clock.monotonic()))
    assert set(parts) == {"trace", "hold1"}
    assert head["hold"]["id"] is not None
    assert "name" not in head  # the bench's page has no viewer's name, whatever it holds
    _, parts = read(encoder.message(second, bench.clock.monotonic()))
    assert set(parts) == {"trace"}
    encoder.markers_mhz = (float(first.shown.frequency_hz[5]) / 1e6, 5000.0)
    head, _ = read(encoder.message(second, bench.clock.monotonic()))
    at, outside = head["markers"]
    assert second.shown is not None
    assert at["real"] + 1j * at["imaginary"] == pytest.approx(complex(second.shown.reflection[5]))
    assert at["impedance"] == ""
    assert "raw readings" in at["why"]
    assert outside["size"] is None


@pytest.mark.calibrated
def test_markers_and_dips_are_read_by_the_verdict_s_own_interval(bench: Bench) -> None:
    now = until(bench, lambda now: now.tuning is not None and len(now.tuning.dips) > 0)
    assert now.uncertainty is not None
    encoder = Encoder()
    encoder.markers_mhz = (float(now.uncertainty.frequency_hz[7]) / 1e6,)
    head, parts = read(encoder.message(now, bench.clock.monotonic()))
    ends = parts["interval"].reshape(-1, 2)
    np.testing.assert_allclose(ends[:, 0], now.uncertainty.low, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(ends[:, 1], now.uncertainty.high, rtol=1e-6)
    (found,) = head["markers"]
    least, greatest = (float(each[7]) for each in now.uncertainty.return_loss_db)
    assert found["interval"] == f"{least:.1f} to {greatest:.1f} dB"
    assert found["impedance"].endswith(" Ω")
    assert found["why"] == ""
    dip = head["dips"][0]
    assert dip["at"].endswith(" MHz")
    assert dip["depth"].endswith(" dB")
    assert dip["bandwidth"]
    assert dip["q"]


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        "[" * 500,
        '{"markers": 3}',
        '{"markers": ["x"]}',
        '{"markers": [[1]]}',
        '{"markers": [' + "1," * 400 + "1]}",
    ],
)
def test_what_is_no_list_of_markers_changes_nothing(text: str) -> None:
    assert wanted_markers(text) is None


def test_markers_are_bounded() -> None:
    assert wanted_markers('{"markers": [824.5, -1, 0, 1e9, NaN, 900]}') == (824.5, 900.0)
    many = json.dumps({"drawn": 1, "markers": list(range(1, 30))})
    assert wanted_markers(many) == tuple(float(each) for each in range(1, 13))


class Page:
    """A page that draws as fast as the test lets it."""

    def __init__(self) -> None:
        self.messages: list[bytes] = []
        self.beats = 0
        self.arrived = asyncio.Event()
        self.incoming: asyncio.Queue[str] = asyncio.Queue()

    async def send_bytes(self, data: bytes) -> None:
        self.messages.append(data)
        self.arrived.set()

    async def send_text(self, data: str) -> None:
        self.beats += 1
        self.arrived.set()

    async def receive_text(self) -> str:
        return await self.incoming.get()

    async def until_messages(self, count: int) -> None:
        while len(self.messages) < count:
            self.arrived.clear()
            await asyncio.wait_for(self.arrived.wait(), PATIENCE_S)


def test_a_slow_page_skips_sweeps_and_gets_the_newest(bench: Bench) -> None:
    async def run() -> None:
        page = Page()
        following = asyncio.create_task(Viewer(bench, page).follow())
        await page.until_messages(viewer_feed.WINDOW)
        last, _ = read(page.messages[-1])
        # It draws nothing while many sweeps come: nothing more is sent, nothing piles up.
        await asyncio.to_thread(until, bench, lambda now: now.version > last["version"] + 20)
        assert len(page.messages) == viewer_feed.WINDOW
        page.incoming.put_nowait(json.dumps({"drawn": 1}))
        await page.until_messages(viewer_feed.WINDOW + 1)
        newest, _ = read(page.messages[-1])
        assert newest["version"] > last["version"] + 15
        following.cancel()

    finish(run())


def test_a_frozen_page_is_dropped_and_others_go_on(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(viewer_feed, "STALLED_S", 0.2)
    monkeypatch.setattr(viewer_feed, "HEARTBEAT_S", 0.05)

    async def run() -> None:
        frozen, lively = Page(), Page()

        async def draw() -> None:
            drawn = 0
            while True:
                await lively.until_messages(drawn + 1)
                drawn = len(lively.messages)
                lively.incoming.put_nowait(json.dumps({"drawn": drawn}))

        tasks = [asyncio.create_task(Viewer(bench, lively).follow()), asyncio.create_task(draw())]
        with pytest.raises(BaseExceptionGroup) as caught:
            await Viewer(bench, frozen).follow()
        assert caught.group_contains(TimeoutError)
        seen = len(lively.messages)
        await lively.until_messages(seen + 5)
        for task in tasks:
            task.cancel()

    finish(run())


def test_a_silent_bench_still_sends_heartbeats(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(viewer_feed, "HEARTBEAT_S", 0.02)
    until(bench, lambda now: now.sequence > 0)
    bench.close()

    async def run() -> None:
        page = Page()
        following = asyncio.create_task(Viewer(bench, page).follow())
        while page.beats < 2:
            page.arrived.clear()
            await asyncio.wait_for(page.arrived.wait(), PATIENCE_S)
            if page.messages:
                page.incoming.put_nowait(json.dumps({"drawn": len(page.messages)}))
        following.cancel()

    finish(run())


@given(st.text())
def test_whatever_a_page_says_is_an_acknowledgement_or_nothing(text: str) -> None:
    assert acknowledged(text) is None or '"drawn"' in text


@pytest.mark.parametrize(
    "text",
    ["", "[]", "3", '{"drawn": "1"}', '{"drawn": true}', '{"drawn": 1e3}', "[" * 100_000, "{" * 99],
)
def test_nonsense_acknowledges_nothing(text: str) -> None:
    assert acknowledged(text) is None


def test_an_acknowledgement_is_understood() -> None:
    assert acknowledged('{"drawn": 7}') == 7
