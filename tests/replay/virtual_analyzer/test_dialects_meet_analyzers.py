"""Each shipped profile's dialect against the virtual analyzer that talks so.

The two are written apart, both from docs/wiring-a-profile.md, so each checks the other: what
the dialect makes of the bytes must be what the unit's receiver read.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from acquire.analyzer.connected_analyzer import Analyzer, open_analyzer
from acquire.analyzer.profile import Profile, load_profiles, parse_profile
from acquire.clock import Clock, SystemClock
from acquire.errors import PortError, ReplyError
from acquire.port.transport import Transport, open_port
from acquire.sweep import ComplexArray, FloatArray, SweepRequest
from replay.address_schemes import openers
from replay.clock import AcceleratedClock, FastClock
from replay.recording.port_recording import open_replay, record_to
from replay.virtual_analyzer.hosting import InProcess, on_pty, on_socket
from replay.virtual_analyzer.prompted import PromptedWords
from replay.virtual_analyzer.registers import RegistersWire, RegisterWords
from replay.virtual_analyzer.scpi import ScpiWords, header_pattern
from replay.virtual_analyzer.simulated_analyzer import BENCH, CHARACTERS, VirtualAnalyzer, describe
from replay.virtual_bench.simulated_bench import VirtualBench

PROFILES: Mapping[str, Profile] = load_profiles()
TALKS_LIKE = {
    "prompted-pairs": "prompted",
    "prompted-scan": "scan",
    "scpi-ascii": "scpi",
    "scpi-real64": "scpi",
    "scpi-real32-swapped": "scpi",
    "registers-queue": "registers",
}
EXACT_TO = {
    # Nine decimals of a fraction; 3e7 counts of a receiver; single precision, which rounds the
    # frequencies too, to 256 Hz at 2.5 GHz [derived].
    "prompted-pairs": 1e-9,
    "prompted-scan": 1e-9,
    "scpi-ascii": 1e-11,
    "scpi-real64": 1e-14,
    "scpi-real32-swapped": 3e-6,
    "registers-queue": 3e-7,
}
PASSES = (
    SweepRequest(780e6, 880e6, 101),
    SweepRequest(1_700_000_000.0, 1_890_000_000.0, 39),
    SweepRequest(2_400_000_000.0, 2_500_000_007.0, 8),
)
each_profile = pytest.mark.parametrize("name", TALKS_LIKE)


def what_the_receiver_reads(
    virtual_analyzer: VirtualAnalyzer, bench: VirtualBench, frequency_hz: FloatArray, clock: Clock
) -> ComplexArray:
    """By the unit's error terms and what the bench's port shows, without any wire."""
    errors = virtual_analyzer.receiver.errors(frequency_hz)
    now_s = np.full(frequency_hz.shape, clock.monotonic())
    seen = bench.port_reflection(frequency_hz, now_s)
    reading: ComplexArray = errors.directivity + errors.reflection_tracking * seen / (
        1.0 - errors.source_match * seen
    )
    return reading


def steady_bench(clock: Clock) -> VirtualBench:
    return VirtualBench(clock, on_port="antenna")


@contextlib.contextmanager
def met(transport: Transport, name: str, clock: Clock) -> Iterator[Analyzer]:
    analyzer = Analyzer(transport, PROFILES[name], clock)
    try:
        yield analyzer
    finally:
        analyzer.close()


def test_every_shipped_profile_has_a_virtual_unit_that_talks_so() -> None:
    assert set(PROFILES) == set(TALKS_LIKE)
    assert {*TALKS_LIKE.values(), BENCH} == set(CHARACTERS)


@each_profile
def test_profile_and_unit_tell_the_same_limits(name: str) -> None:
    profile, virtual_analyzer = PROFILES[name], describe(TALKS_LIKE[name])
    assert (profile.limits.low_hz, profile.limits.high_hz) == (
        virtual_analyzer.low_hz,
        virtual_analyzer.high_hz,
    )
    assert profile.limits.points == virtual_analyzer.points
    assert profile.limits.range_steps_hz == virtual_analyzer.range_steps_hz
    assert profile.timing.seconds_per_point == virtual_analyzer.seconds_per_point


@each_profile
def test_profile_and_unit_tell_the_same_words(name: str) -> None:
    said, heard = PROFILES[name].words, describe(TALKS_LIKE[name]).words
    match heard:
        case PromptedWords():
            for word in ("prompt", "echo", "identify"):
                assert getattr(said, word) == getattr(heard, word)
            for word in ("set_sweep", "frequencies", "reflection", "all_at_once"):
                assert (getattr(said, word) or "") == getattr(heard, word)
            assert said.line_end in {"CR", "CR LF"}
        case ScpiWords():
            for word in ("start", "stop", "points"):
                header = getattr(said, word).split()[0]
                assert header_pattern(getattr(heard, word)).fullmatch(header)
            assert header_pattern(heard.initiate).fullmatch(said.trigger)
            for word in ("frequencies", "reflection"):
                query = getattr(said, word).upper().replace("?", "")
                assert header_pattern(getattr(heard, word)).fullmatch(query)
        case RegisterWords():
            for word in ("nothing", "who", "answer", "read_queue"):
                assert getattr(said, word) == getattr(heard, word)
            for word in ("queue", "start", "step", "points", "values"):
                assert getattr(said, word) == getattr(heard, f"{word}_address")
            assert {size: getattr(said, f"write_{size}") for size in (1, 2, 8)}.items() <= (
                heard.write.items()
            )
            assert said.record.bytes == heard.record_bytes
            for place in ("reference_at", "reflected_at", "point_at"):
                assert getattr(said.record, place) == getattr(heard, place)
            assert said.record.check == (heard.check or "none")
            assert said.discard_records >= heard.leftover_records


@each_profile
def test_a_dialect_reads_in_process_exactly_what_the_receiver_read(name: str) -> None:
    clock = AcceleratedClock()
    bench = steady_bench(clock)
    virtual_analyzer = VirtualAnalyzer(bench, TALKS_LIKE[name], noise=0.0)
    with met(InProcess(virtual_analyzer, clock), name, clock) as analyzer:
        assert "virtual" in analyzer.identity or PROFILES[name].family == "registers"
        for _ in range(3):
            sweep = analyzer.sweep(PASSES)
            truth = what_the_receiver_reads(virtual_analyzer, bench, sweep.frequency_hz, clock)
            assert sweep.points == sum(request.points for request in PASSES)
            assert np.abs(sweep.reflection - truth).max() < EXACT_TO[name]
        assert (analyzer.counters.retries, analyzer.counters.sweeps) == (0, 3)
        assert analyzer.source.kind == "virtual"


@each_profile
@pytest.mark.parametrize("host", [on_pty, on_socket])
def test_a_dialect_reads_through_the_operating_system_what_the_receiver_read(
    name: str, host
) -> None:
    if host is on_pty and os.name != "posix":
        pytest.skip("pseudo-terminals are POSIX only")
    # The unit hurries; the dialect's deadlines are real ones, as a loaded machine needs.
    hurried = FastClock(20.0)
    bench = steady_bench(hurried)
    virtual_analyzer = VirtualAnalyzer(bench, TALKS_LIKE[name], noise=0.0)
    passes = (SweepRequest(780e6, 880e6, 26), SweepRequest(1710e6, 1880e6, 9))
    with (
        host(virtual_analyzer, hurried) as address,
        met(open_port(address), name, SystemClock()) as analyzer,
    ):
        sweep = analyzer.sweep(passes)
        truth = what_the_receiver_reads(virtual_analyzer, bench, sweep.frequency_hz, hurried)
        assert np.abs(sweep.reflection - truth).max() < EXACT_TO[name]
        assert analyzer.source.kind == "port"


@each_profile
def test_noise_on_the_wire_has_the_size_it_has_at_the_receiver(name: str) -> None:
    clock = AcceleratedClock()
    bench = steady_bench(clock)
    virtual_analyzer = VirtualAnalyzer(bench, TALKS_LIKE[name], noise=1e-3)
    with met(InProcess(virtual_analyzer, clock), name, clock) as analyzer:
        sweeps = [analyzer.sweep(PASSES[:1]) for _ in range(4)]
    truth = what_the_receiver_reads(virtual_analyzer, bench, sweeps[0].frequency_hz, clock)
    noise = np.concatenate([sweep.reflection - truth for sweep in sweeps])
    # 404 draws know their rms to 3.5 % [derived], four of that are allowed
    assert np.sqrt(np.mean(np.abs(noise) ** 2)) == pytest.approx(1e-3, rel=0.14)


@each_profile
def test_no_sweep_shows_what_was_on_the_port_before_it_was_asked_for(name: str) -> None:
    clock = AcceleratedClock()
    bench = steady_bench(clock)
    virtual_analyzer = VirtualAnalyzer(bench, TALKS_LIKE[name], noise=0.0)
    with met(InProcess(virtual_analyzer, clock), name, clock) as analyzer:
        for device in ("short", "open", "load", "antenna"):
            analyzer.sweep(PASSES[:1])
            bench.screw_on(device)
            clock.advance(2.0)  # it is tight
            sweep = analyzer.sweep(PASSES[:1])
            truth = what_the_receiver_reads(virtual_analyzer, bench, sweep.frequency_hz, clock)
            assert np.abs(sweep.reflection - truth).max() < EXACT_TO[name]


@pytest.mark.parametrize("character", sorted(set(CHARACTERS) - {BENCH}))
def test_without_a_profile_the_right_family_is_found(character: str) -> None:
    clock = AcceleratedClock()
    # one and the same unit hears all the questions that are not meant for it
    virtual_analyzer = VirtualAnalyzer(steady_bench(clock), character)
    analyzer = open_analyzer(
        "virtual:",
        profiles=PROFILES,
        openers={"virtual": lambda _address, _baud_rate: InProcess(virtual_analyzer, clock)},
        clock=clock,
    )
    assert TALKS_LIKE[analyzer.profile.name] == character
    assert analyzer.sweep(PASSES[:1]).points == 101
    analyzer.close()


def test_the_shipped_openers_lead_to_a_unit_that_sweeps() -> None:
    clock = AcceleratedClock()
    analyzer = open_analyzer(
        "virtual:scpi?seed=7&noise=0",
        profile=PROFILES["scpi-real64"],
        profiles=PROFILES,
        openers=openers(steady_bench(clock), clock),
        clock=clock,
    )
    assert analyzer.sweep(PASSES[:1]).source.port == "virtual:scpi?seed=7&noise=0"
    analyzer.close()


@each_profile
def test_a_recorded_session_replays_to_the_same_sweeps(name: str, tmp_path: Path) -> None:
    clock = AcceleratedClock()
    path = tmp_path / "session.jsonl"
    inner = InProcess(VirtualAnalyzer(steady_bench(clock), TALKS_LIKE[name]), clock)
    with met(record_to(path, inner, clock), name, clock) as analyzer:
        recorded = [analyzer.sweep(PASSES) for _ in range(2)]
    for speed in ("true", "full"):
        with met(open_replay(path, speed=speed, clock=clock), name, clock) as analyzer:
            for before in recorded:
                again = analyzer.sweep(PASSES)
                assert np.array_equal(again.reflection, before.reflection)
                assert np.array_equal(again.frequency_hz, before.frequency_hz)
            assert analyzer.source.kind == "replay"
            with pytest.raises(PortError, match="ends here"):
                analyzer.sweep(PASSES)


def test_a_check_byte_on_every_record_is_understood_alike_on_both_sides() -> None:
    clock = AcceleratedClock()
    bench = steady_bench(clock)
    virtual_analyzer = VirtualAnalyzer(bench, "registers", noise=0.0)
    words = describe("registers").words
    assert isinstance(words, RegisterWords)
    checked = replace(words, check="xor", check_start=0x5A)
    virtual_analyzer._wire = RegistersWire(
        virtual_analyzer.receiver, virtual_analyzer.description, checked
    )
    folder = Path(__file__).parents[3] / "acquire" / "analyzer" / "profiles"
    text = (folder / "registers-queue.toml").read_text(encoding="utf-8")
    profile = parse_profile(
        text.replace('check = "none"', 'check = "xor"\ncheck_start = 0x5a'), "checked.toml"
    )
    analyzer = Analyzer(InProcess(virtual_analyzer, clock), profile, clock)
    sweep = analyzer.sweep(PASSES)
    truth = what_the_receiver_reads(virtual_analyzer, bench, sweep.frequency_hz, clock)
    assert np.abs(sweep.reflection - truth).max() < EXACT_TO["registers-queue"]
    assert analyzer.counters.retries == 0


@each_profile
def test_a_unit_with_fewer_points_than_its_profile_says_is_refused_not_misread(name: str) -> None:
    clock = AcceleratedClock()
    virtual_analyzer = VirtualAnalyzer(steady_bench(clock), TALKS_LIKE[name], points=51)
    with met(InProcess(virtual_analyzer, clock), name, clock) as analyzer:
        with pytest.raises(ReplyError):
            analyzer.sweep(PASSES[:1])
        assert analyzer.counters.retries > 0
        assert analyzer.sweep([SweepRequest(800e6, 900e6, 51)]).points == 51


def test_a_unit_unplugged_in_the_middle_of_a_sweep_is_a_lost_port() -> None:
    """After the first bytes of the first sweep; another thread's hand is tested with the host."""
    clock = AcceleratedClock()
    virtual_analyzer = VirtualAnalyzer(VirtualBench(clock, on_port="load"), "prompted")
    transport = InProcess(virtual_analyzer, clock)
    analyzer = Analyzer(transport, PROFILES["prompted-pairs"], clock)
    read, heard = transport.read, b""

    def heard_once(timeout_s: float) -> bytes:
        nonlocal heard
        if heard:
            transport.unplug()
        heard += read(timeout_s)
        return heard

    transport.read = heard_once  # type: ignore[method-assign]
    with pytest.raises(PortError, match="went away"):
        analyzer.sweep(PASSES)
    assert heard
