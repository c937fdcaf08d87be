"""The two addresses that are no ports: `virtual:` and `replay:FILE`.

virtual:                          the virtual bench, which speaks words of its own
virtual:?seed=7&noise=0           the same, with options
virtual:scpi                      an analyzer that speaks as a shipped profile says
virtual://scan                    another one, with slashes, as in a URL
replay:session.jsonl              a recording, at true speed
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

from acquire.clock import Clock, SystemClock
from replay.errors import VirtualAnalyzerError
from replay.recording.port_recording import ReplayTransport, Speed, open_replay
from replay.virtual_analyzer.hosting import InProcess
from replay.virtual_analyzer.receiver import Port
from replay.virtual_analyzer.simulated_analyzer import BENCH, VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench

OPTIONS: Mapping[str, Callable[[str], float]] = {
    "seed": int,
    "noise": float,
    "points": int,
    "speed": float,
    "drift_per_hour": float,
}
"""What may stand behind the question mark of a virtual address."""
PIGTAIL = "pigtail"
"""And this, which is the bench's: what is laid between its connector and what is on."""


def openers(
    bench: Port | None = None,
    clock: Clock | None = None,
    *,
    replay_speed: Speed = "true",
) -> dict[str, Callable[[str, int], InProcess | ReplayTransport]]:
    """Return the openers of both schemes, as `acquire.port.transport.open_port` takes them.

    bench : what is on the virtual analyzer's port; without one, an antenna as delivered.
    """
    clock = SystemClock() if clock is None else clock
    bench = VirtualBench(clock, on_port="antenna") if bench is None else bench

    def open_virtual(address: str, _baud_rate: int) -> InProcess:
        return InProcess(make_with_pigtail(address, bench, clock.monotonic()), clock, address)

    def open_recording(address: str, _baud_rate: int) -> ReplayTransport:
        return open_replay(Path(behind_scheme(address)), speed=replay_speed, clock=clock)

    return {"virtual": open_virtual, "replay": open_recording}


def make_with_pigtail(address: str, port: Port, powered_s: float = 0.0) -> VirtualAnalyzer:
    """Make the analyzer that an address names, its pigtail laid. Raises UnitError, BenchError."""
    analyzer = make_virtual_analyzer(address, port, powered_s)
    pigtail = dict(options_of(address)).get(PIGTAIL)
    if pigtail is not None and isinstance(port, VirtualBench):
        port.lay(pigtail)
    return analyzer


def make_virtual_analyzer(address: str, port: Port, powered_s: float = 0.0) -> VirtualAnalyzer:
    """Make the analyzer that an address names, switched on at that time of the port's clock.

    Raises UnitError if there is no such analyzer, or it has no such option.
    """
    options: dict[str, Any] = {}
    for name, value in options_of(address):
        if name == PIGTAIL:
            continue
        if name not in OPTIONS:
            raise VirtualAnalyzerError(
                f"{address}: a virtual analyzer has no option {name!r}. It has "
                f"{', '.join(OPTIONS)} "
                f"and {PIGTAIL}."
            )
        try:
            options[name] = OPTIONS[name](value)
        except ValueError:
            raise VirtualAnalyzerError(
                f"{address}: {name}={value} is no number. Write for example {name}=1."
            ) from None
    return VirtualAnalyzer(port, character_of(address), powered_s=powered_s, **options)


def character_of(address: str) -> str:
    """Which virtual analyzer an address names; the virtual bench's own where it names none."""
    return behind_scheme(address).partition("?")[0].strip("/") or BENCH


def options_of(address: str) -> list[tuple[str, str]]:
    """What stands behind an address's question mark, name by name."""
    return parse_qsl(behind_scheme(address).partition("?")[2], keep_blank_values=True)


def behind_scheme(address: str) -> str:
    """What an address says behind `virtual:`, `virtual://`, `replay:` and the like."""
    return address.partition(":")[2].removeprefix("//")
