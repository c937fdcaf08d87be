"""Every byte with its time, written and played; and what a bad recording is told."""

from __future__ import annotations

import errno
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.errors import PortError
from replay.clock import AcceleratedClock
from replay.errors import RecordingEndError, RecordingError
from replay.recording.port_recording import (
    RecordingTransport,
    ReplayTransport,
    open_replay,
    record_to,
)
from replay.recording.recording_format import parse_recording
from replay.virtual_analyzer.hosting import InProcess
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.counts import examples
from tests.wording import missing_words

HEADER = (
    b'{"recording": 1, "address": "virtual:", "kind": "virtual", '
    b'"begun": "2026-01-31T12:00:00+00:00"}\n'
)
INFO_OUT = b'{"dir": "out", "t": 0.5, "b64": "aW5mbw0="}\n'  # info CR
INFO_IN = b'{"dir": "in", "t": 0.75, "b64": "aW5mbw0K"}\n'  # info CR LF


def ask(transport: Any, command: bytes) -> bytes:
    transport.write(command)
    heard = b""
    while not heard.endswith(b"ch> "):
        piece = transport.read(5.0)
        assert piece
        heard += piece
    return heard


def session(transport: Any) -> list[bytes]:
    """A conversation with everything in it: a discard, a timeout, several sweeps."""
    transport.write(b"\r")
    transport.discard()
    said = [ask(transport, b"sweep 700000000 900000000 11\r")]
    assert transport.read(0.2) == b""
    said += [ask(transport, b"data 0\r") for _ in range(4)]
    return said


@pytest.fixture
def clock() -> AcceleratedClock:
    return AcceleratedClock()


@pytest.fixture
def recorded(tmp_path: Path, clock: AcceleratedClock) -> tuple[Path, list[bytes]]:
    clock.advance(100.0)
    path = tmp_path / "session.jsonl"
    analyzer = VirtualAnalyzer(VirtualBench(clock, on_port="antenna"), "prompted")
    transport = record_to(path, InProcess(analyzer, clock), clock)
    said = session(transport)
    transport.close()
    return path, said


@pytest.mark.parametrize("speed", ["true", "full"])
def test_a_replay_says_what_the_unit_said(recorded, clock: AcceleratedClock, speed) -> None:
    path, said = recorded
    replay = open_replay(path, speed=speed, clock=clock)
    assert session(replay) == said
    assert replay.ended
    assert replay.kind == "replay"
    assert replay.address == f"replay:{path}"
    assert (replay.recording.kind, replay.recording.address) == ("virtual", "virtual:")


def test_at_true_speed_it_takes_as_long_as_it_took(recorded, clock: AcceleratedClock) -> None:
    path, _ = recorded
    took_s = parse_recording(path.read_bytes(), "session").entries[-1].t_s
    began_s = clock.monotonic()
    session(open_replay(path, speed="true", clock=clock))
    # times are kept to a microsecond
    assert clock.monotonic() - began_s == pytest.approx(took_s, abs=1e-4)


def test_at_full_speed_only_timeouts_take_time(recorded, clock: AcceleratedClock) -> None:
    path, _ = recorded
    began_s = clock.monotonic()
    session(open_replay(path, speed="full", clock=clock))
    assert clock.monotonic() - began_s == pytest.approx(0.2)


def test_a_reply_that_was_late_is_late_again(clock: AcceleratedClock) -> None:
    replay = ReplayTransport(parse_recording(HEADER + INFO_OUT + INFO_IN, "r"), clock=clock)
    replay.write(b"info\r")
    assert replay.read(0.2) == b""
    assert replay.read(0.2) == b"info\r\n"
    assert clock.monotonic() == pytest.approx(0.25)


def test_what_is_written_may_be_cut_otherwise_than_when_it_was_recorded(
    recorded, clock: AcceleratedClock
) -> None:
    path, said = recorded
    replay = open_replay(path, speed="full", clock=clock)

    class ByteByByte:
        def __getattr__(self, name: str) -> Any:
            return getattr(replay, name)

        def write(self, data: bytes) -> None:
            for byte in data:
                replay.write(bytes([byte]))

    assert session(ByteByByte()) == said


def test_a_program_that_writes_something_else_is_told_what_and_where(
    recorded, clock: AcceleratedClock
) -> None:
    path, _ = recorded
    replay = open_replay(path, speed="full", clock=clock)
    replay.write(b"\r")
    replay.discard()
    with pytest.raises(RecordingError) as caught:
        replay.write(b"sweep 800000000 900000000 11\r")
    assert "line 4" in str(caught.value)
    assert r"b'sweep 800000000" in str(caught.value)
    assert r"b'sweep 700000000" in str(caught.value)
    assert "Replay it with the plan and the profile" in str(caught.value)


def test_a_recording_played_to_its_end_is_like_a_unit_that_left(clock: AcceleratedClock) -> None:
    replay = ReplayTransport(parse_recording(HEADER + INFO_OUT + INFO_IN, "r"), clock=clock)
    replay.write(b"info\r")
    replay.read(1.0)
    assert replay.read(1.0) == b""
    with pytest.raises(PortError, match="The recording r ends here: 2 entries have been played"):
        replay.write(b"info\r")
    assert issubclass(RecordingEndError, RecordingError)


def test_what_was_left_unread_before_the_next_command_arrives_with_it(
    clock: AcceleratedClock,
) -> None:
    content = HEADER + INFO_OUT + INFO_IN + INFO_OUT.replace(b"0.5", b"0.8")
    replay = ReplayTransport(parse_recording(content, "r"), speed="full", clock=clock)
    replay.write(b"info\r")
    replay.write(b"info\r")
    assert replay.read(1.0) == b"info\r\n"


def test_a_recording_cut_anywhere_plays_what_is_whole_of_it(recorded) -> None:
    path, _ = recorded
    content = path.read_bytes()
    whole = parse_recording(content, "session")
    header_end = content.index(b"\n") + 1
    assert whole.remark == ""
    for cut in range(header_end, len(content), 7):
        part = parse_recording(content[:cut], "session")
        lines = content[:cut].count(b"\n")
        assert part.entries == whole.entries[: lines - 1]
        torn = not content[:cut].endswith(b"\n")
        assert bool(part.remark) is torn
        assert not torn or not missing_words(part.remark, f"Line {lines + 1}", "cut short")


def test_every_line_is_in_the_file_before_the_next_byte_is_handled(
    tmp_path: Path, clock: AcceleratedClock
) -> None:
    path = tmp_path / "killed.jsonl"
    analyzer = VirtualAnalyzer(VirtualBench(clock, on_port="load"), "prompted")
    transport = record_to(path, InProcess(analyzer, clock), clock)
    transport.write(b"info\r")
    piece = transport.read(1.0)
    # read while it is still open, as after a kill
    entries = parse_recording(path.read_bytes(), "killed").entries
    assert [(entry.direction, entry.data) for entry in entries] == [
        ("out", b"info\r"),
        ("in", piece),
    ]
    transport.close()


@given(
    events=st.lists(
        st.tuples(st.sampled_from(["out", "in"]), st.binary(min_size=1, max_size=20)), max_size=30
    )
)
@examples(60)
def test_recording_and_playing_is_the_identity(
    tmp_path_factory: pytest.TempPathFactory, events: list[tuple[str, bytes]]
) -> None:
    clock = AcceleratedClock()
    path = tmp_path_factory.mktemp("recording") / "r.jsonl"

    class Scripted:
        address, kind = "scripted", "virtual"

        def __init__(self) -> None:
            self.answers = [data for direction, data in events if direction == "in"]

        def write(self, data: bytes) -> None: ...
        def discard(self) -> None: ...
        def close(self) -> None: ...
        def read(self, timeout_s: float) -> bytes:
            return self.answers.pop(0)

    def play(transport: Any) -> None:
        for direction, data in events:
            if direction == "out":
                transport.write(data)
            else:
                assert transport.read(1.0) == data

    recording = record_to(path, Scripted(), clock)  # type: ignore[arg-type]
    play(recording)
    recording.close()
    play(open_replay(path, clock=clock))


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "no whole first line"),
        (b"{}", "no whole first line"),
        (b"{}\n", "line 1: no recording begins so"),
        (b"# Hz S RI R 50\n", "line 1: no recording begins so"),
        (b"\xff\xfe\n", "line 1: no recording begins so"),
        (b'[{"recording": 1}]\n', "line 1: no recording begins so"),
        (b'{"recording": "1"}\n', "line 1: no recording begins so"),
        (b'{"recording": 2}\n', "version 2, and this program knows versions up to 1"),
        (b'{"recording": 1}\n', "line 1: the header lacks"),
        (HEADER.replace(b"2026-01-31T", b"noon "), "line 1: the header lacks"),
        (HEADER + b"\n", "line 2: not a line of a recording"),
        (HEADER + INFO_OUT + b"nonsense\n", "line 3: not a line of a recording"),
        (HEADER + INFO_OUT.replace(b"aW5", b"?"), "line 2: not a line of a recording"),
        (HEADER + INFO_OUT.replace(b'"aW5mbw0="', b"null"), "line 2: not a line"),
        (HEADER + INFO_OUT.replace(b"out", b"up"), "line 2: not a line of a recording"),
        (HEADER + INFO_OUT.replace(b"0.5", b"NaN"), "line 2: not a line of a recording"),
        (HEADER + INFO_OUT.replace(b"0.5", b"true"), "line 2: not a line of a recording"),
        (HEADER + INFO_IN + INFO_OUT, "line 3: time runs backwards, from 0.75 s to 0.5 s"),
    ],
)
def test_a_file_that_is_no_sound_recording_is_refused_with_its_line(
    content: bytes, said: str
) -> None:
    with pytest.raises(RecordingError, match=said):
        parse_recording(content, "file")


def test_a_recording_is_never_written_over(recorded, clock: AcceleratedClock) -> None:
    path, _ = recorded
    before = path.read_bytes()
    with pytest.raises(RecordingError, match="already exists"):
        record_to(path, InProcess(VirtualAnalyzer(VirtualBench(clock)), clock))
    assert path.read_bytes() == before


def test_a_recording_that_cannot_be_opened_is_said_to_be(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="cannot be read: No such file"):
        open_replay(tmp_path / "nowhere.jsonl")
    with pytest.raises(RecordingError, match="cannot be written"):
        record_to(tmp_path / "no folder" / "r.jsonl", InProcess(VirtualAnalyzer(VirtualBench())))


def test_the_header_says_what_was_recorded_and_when(recorded) -> None:
    path, _ = recorded
    header = json.loads(path.read_text(encoding="utf-8").splitlines()[0])
    assert header["recording"] == 1
    assert header["kind"] == "virtual"
    assert parse_recording(path.read_bytes(), "r").begun.tzinfo is not None


class FullDisk:
    """A file of which so many lines can still be written."""

    def __init__(self, lines: int) -> None:
        self.lines, self.closed = lines, False

    def write(self, _text: str) -> int:
        self.lines -= 1
        if self.lines < 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        return 0

    def flush(self) -> None:
        pass

    def close(self) -> None:
        self.closed = True
        raise OSError(errno.ENOSPC, "No space left on device")


def test_a_full_disk_is_told_as_such_and_not_as_a_port_that_went_away(
    clock: AcceleratedClock,
) -> None:
    analyzer = VirtualAnalyzer(VirtualBench(clock, on_port="antenna"), "prompted")
    file: Any = FullDisk(lines=2)
    transport = RecordingTransport(InProcess(analyzer, clock), file, clock)
    transport.write(b"info\r")
    with pytest.raises(RecordingError, match=r"No space left on device\. What is in it"):
        transport.read(1.0)
    transport.close()
    assert file.closed


def test_a_recording_that_cannot_be_begun_leaves_no_empty_file(
    tmp_path: Path, clock: AcceleratedClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise RecordingError("full")

    monkeypatch.setattr(RecordingTransport, "_put", full)
    analyzer = VirtualAnalyzer(VirtualBench(clock, on_port="antenna"), "prompted")
    with pytest.raises(RecordingError):
        record_to(tmp_path / "session.jsonl", InProcess(analyzer, clock), clock)
    assert list(tmp_path.iterdir()) == []
