"""The addresses that are no ports: `virtual:` with its options, and `replay:FILE`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from replay.address_schemes import make_virtual_analyzer, openers
from replay.clock import AcceleratedClock
from replay.errors import RecordingError, VirtualAnalyzerError
from replay.virtual_analyzer.simulated_analyzer import describe, parse_description
from replay.virtual_bench.simulated_bench import VirtualBench

BENCH = VirtualBench(AcceleratedClock(), on_port="load")
GRID_HZ = np.linspace(700e6, 900e6, 3)


@pytest.mark.parametrize(
    ("address", "character"),
    [
        ("virtual:", "bench"),
        ("virtual://", "bench"),
        ("virtual:prompted", "prompted"),
        ("virtual:?seed=3", "bench"),
        ("virtual://scan", "scan"),
        ("virtual://scan/", "scan"),
        ("virtual:scpi?seed=7", "scpi"),
        ("virtual://registers?seed=7&noise=0", "registers"),
    ],
)
def test_an_address_names_a_unit(address: str, character: str) -> None:
    assert make_virtual_analyzer(address, BENCH).description.character == character


def test_options_reach_the_unit() -> None:
    analyzer = make_virtual_analyzer("virtual:scan?points=51&speed=4", BENCH)
    assert analyzer.description.points == 51
    assert analyzer.description.seconds_per_point == describe("scan").seconds_per_point / 4

    def directivity(seed: int) -> complex:
        errors = make_virtual_analyzer(f"virtual:?seed={seed}", BENCH).receiver.errors(GRID_HZ)
        return complex(errors.directivity[0])

    assert directivity(1) == directivity(1)
    assert directivity(1) != directivity(2)


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("virtual:teletype", "no virtual analyzer 'teletype': choose one of bench, prompted"),
        ("virtual:?colour=red", "no option 'colour'. It has seed, noise"),
        ("virtual:?seed=blue", "seed=blue is no number. Write for example seed=1"),
        ("virtual:?seed", "seed= is no number"),
        ("virtual:?seed=-1", "cannot have seed -1"),
        ("virtual:?noise=nan", "cannot have .* noise nan"),
        ("virtual:?noise=-1e-3", "noise are 0 or more"),
        ("virtual:?points=1", "points 2 to 65535"),
        ("virtual:?speed=0", "speed above 0"),
    ],
)
def test_an_address_that_names_none_is_refused_in_a_sentence(address: str, said: str) -> None:
    with pytest.raises(VirtualAnalyzerError, match=said):
        make_virtual_analyzer(address, BENCH)


def test_a_description_of_a_newer_format_is_refused() -> None:
    with pytest.raises(VirtualAnalyzerError, match="format 2, and this program knows format 1"):
        parse_description("format = 2", "later")


def test_an_opener_gives_a_transport_to_the_given_bench() -> None:
    clock = AcceleratedClock()
    transport = openers(BENCH, clock)["virtual"]("virtual:scpi", 115200)
    assert (transport.kind, transport.address) == ("virtual", "virtual:scpi")
    transport.write(b"*IDN?\n")
    assert b"not hardware" in transport.read(1.0)


def test_without_a_bench_an_antenna_is_on_the_port() -> None:
    transport = openers(clock=AcceleratedClock())["virtual"]("virtual:prompted?noise=0", 115200)
    transport.write(b"data 0\r")
    heard = b""
    while not heard.endswith(b"ch> "):
        heard += transport.read(5.0)
    reading = np.array([complex(*map(float, x.split())) for x in heard.split(b"\r\n")[1:-1]])
    assert np.ptp(np.abs(reading)) > 0.5


@pytest.mark.parametrize("form", ["replay:{}", "replay://{}"])
def test_a_recording_opens_by_its_path(tmp_path: Path, form: str) -> None:
    path = tmp_path / "what? odd & name.jsonl"
    path.write_text(
        '{"recording": 1, "address": "a", "kind": "port", "begun": "2026-01-31T12:00:00+00:00"}\n',
        encoding="utf-8",
    )
    transport = openers(BENCH)["replay"](form.format(path), 115200)
    assert (transport.kind, transport.address) == ("replay", f"replay:{path}")


def test_a_recording_that_is_not_there_is_said_to_be_missing(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="cannot be read"):
        openers(BENCH)["replay"](f"replay:{tmp_path / 'none.jsonl'}", 115200)
