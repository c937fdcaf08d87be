"""What takes bytes from outside: each ends in a value or in a sentence, whatever comes.

A target is given the bytes and must return, or raise one of our own errors. Seeds are sound
examples, from which a fuzzer finds its way further in than by chance.
"""

from __future__ import annotations

import contextlib
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from acceptance.bands.load import load_bands
from acceptance.catalogue.record_summary_reader import summarise_record
from acceptance.plan.load import load_presets
from acceptance.plan.plan_file import parse_plan
from acceptance.plan.recipe import parse_recipe
from acceptance.record.checksums import differences
from acceptance.record.record_folder import parse_record
from acquire.analyzer.connected_analyzer import cleaned
from acquire.analyzer.profile import load_profiles, parse_profile
from acquire.errors import BandwrightError
from acquire.port.transport import Line
from acquire.sweep import Reading, SweepRequest
from acquire.touchstone.reader import parse_touchstone
from calibration.errors import CalibrationError
from calibration.files.calibration_file import calibration_text, parse_calibration
from calibration.files.device_file import parse_device
from calibration.files.line_file import parse_typed_line
from calibration.files.store import load_cable_types
from calibration.standards.kit_file import parse_kit
from dashboard.demo import scenario
from dashboard.feed.viewer_feed import acknowledged
from replay.clock import AcceleratedClock
from replay.recording.recording_format import parse_recording
from replay.virtual_analyzer.hosting import InProcess
from replay.virtual_analyzer.simulated_analyzer import VirtualAnalyzer
from replay.virtual_bench.simulated_bench import VirtualBench
from tests.acceptance.made import calibration, record

REQUEST = SweepRequest(700e6, 800e6, 11)
DOCS = Path(__file__).parents[2] / "docs"


@dataclass(frozen=True)
class Target:
    """One reader."""

    reads: Callable[[bytes], object]
    seeds: Callable[[], Iterable[bytes]]

    def hold(self, data: bytes) -> bool:
        """True where the data was taken, False where it was refused in a sentence.

        Anything else that is raised is a defect, and so is a refusal of more than one line.
        """
        try:
            self.reads(data)
        except BandwrightError as refusal:
            sentence = str(refusal)
            assert sentence.endswith((".", "?", ")")), sentence[-80:]
            assert sentence.isprintable(), sentence
            return False
        return True


TURN = b"\x1e\x1e\x1e\x1e"
"""Between what a unit says before something is written to it and what it says then."""


class Scripted:
    """A transport on which these bytes arrive, turn by turn, some more at each read."""

    address, kind = "script", "port"

    def __init__(self, data: bytes, clock: AcceleratedClock) -> None:
        self._turns = deque(data.split(TURN))
        self._clock = clock
        self._arrived = b""
        self._step = 1

    def write(self, data: bytes) -> None:
        self._arrived += self._turns.popleft() if self._turns else b""

    def read(self, timeout_s: float) -> bytes:
        if not self._arrived:
            self._clock.advance(timeout_s)
        piece, self._arrived = self._arrived[: self._step], self._arrived[self._step :]
        self._step = 2 * self._step + 1
        return piece

    def discard(self) -> None:
        pass

    def close(self) -> None:
        pass


class Overheard(InProcess):
    """Keeps what a virtual analyzer sends, turn by turn."""

    def __init__(self, unit: VirtualAnalyzer, clock: AcceleratedClock) -> None:
        super().__init__(unit, clock)
        self.turns: list[bytes] = []

    def write(self, data: bytes) -> None:
        self.turns.append(b"")
        super().write(data)

    def read(self, timeout_s: float) -> bytes:
        piece = super().read(timeout_s)
        self.turns[-1] += piece
        return piece


def dialect(name: str, character: str) -> Target:
    """A sweep, by what a unit says; and whatever it says it is, as it may be shown."""
    profile = load_profiles()[name]

    def converse(data: bytes) -> Reading:
        clock = AcceleratedClock()
        with contextlib.suppress(BandwrightError):
            said = Line(Scripted(data, clock), clock).converse(profile.dialect().identify())
            assert cleaned(said).isprintable()
        reading = Line(Scripted(data, clock), clock).converse(profile.dialect().sweep(REQUEST))
        assert reading.frequency_hz.size == REQUEST.points
        return reading

    def said() -> Iterable[bytes]:
        clock = AcceleratedClock()
        unit = VirtualAnalyzer(VirtualBench(clock, on_port="load"), character)
        speaks = profile.dialect()
        conversations: list[Any] = [speaks.identify(), speaks.sweep(REQUEST)]
        for conversation in conversations:
            heard = Overheard(unit, clock)
            Line(heard, clock).converse(conversation)
            yield TURN.join(heard.turns)

    return Target(converse, said)


def text(parse: Callable[[str], object]) -> Callable[[bytes], object]:
    """A reader of files that a person writes: what is no UTF-8 is refused before."""

    def read(data: bytes) -> object:
        try:
            return parse(data.decode("utf-8-sig"))
        except UnicodeDecodeError:
            return None

    return read


def shipped(package: str, folder: str) -> Iterable[bytes]:
    """Every TOML file of a folder of a package."""
    for file in resources.files(package).joinpath(folder).iterdir():
        if file.name.endswith(".toml"):
            yield file.read_bytes()


def shown(mark: str) -> Iterable[bytes]:
    """Every TOML file that the documentation shows and that holds a mark."""
    for page in DOCS.glob("*.md"):
        for block in page.read_text(encoding="utf-8").split("```toml\n")[1:]:
            if mark in (content := block.partition("```")[0]):
                yield content.encode()


def no_data(name: str) -> Reading:
    """A kit's data file, none of which is at hand."""
    raise CalibrationError(f"There is no file {name!r}.")


RAW = "raw-01.s1p"


def raw() -> str:
    """The name of a record's first raw sweep."""
    return next(name for name in files() if name.endswith(RAW))


@cache
def files() -> dict[str, bytes]:
    """Those of a record."""
    return dict(record().files)


def with_file(name: str) -> Callable[[bytes], object]:
    """A record in which one file is this."""
    return lambda data: parse_record({**files(), name: data}, "record")


def card_with(name: str) -> Callable[[bytes], object]:
    """What a list of records reads of one in which a file is this."""
    return lambda data: summarise_record({**files(), name: data}, folder="record")


TARGETS: dict[str, Target] = {
    "prompted-pairs": dialect("prompted-pairs", "prompted"),
    "prompted-scan": dialect("prompted-scan", "scan"),
    "scpi-ascii": dialect("scpi-ascii", "scpi"),
    "scpi-real32": dialect("scpi-real32-swapped", "scpi"),
    "scpi-real64": dialect("scpi-real64", "scpi"),
    "registers": dialect("registers-queue", "registers"),
    "touchstone": Target(
        lambda data: parse_touchstone(data, "antenna.s1p"),
        lambda: [
            files()[raw()],
            b"# MHz S DB R 75\n! two\n700 -3 10\n800 -4 20 ! end\n",
            b"[Version] 2.0\n# MHz S RI\n[Number of Ports] 1\n[Number of Frequencies] 2\n"
            b"[Reference] 50\n[Network Data]\n1 .1 .2\n2 .1 .2\n[End]\n",
        ],
    ),
    "plan": Target(
        text(lambda words: parse_plan(words, "plan.toml", load_bands(), load_presets())),
        lambda: shown("[[band]]"),
    ),
    "recipe": Target(
        text(lambda words: parse_recipe(words, "recipe.toml")), lambda: [scenario.RECIPE.encode()]
    ),
    "kit": Target(
        text(lambda words: parse_kit(words, "kit.toml", no_data)),
        lambda: shipped("calibration.standards", "kits"),
    ),
    "device": Target(
        text(lambda words: parse_device(words, "device.toml", no_data)),
        lambda: shown('form = "short"'),
    ),
    "profile": Target(
        text(lambda words: parse_profile(words, "profile.toml")),
        lambda: shipped("acquire.analyzer", "profiles"),
    ),
    "calibration": Target(
        lambda data: parse_calibration(data, "calibration.json"),
        lambda: [calibration_text(calibration()).encode()],
    ),
    "record": Target(with_file("record.json"), lambda: [files()["record.json"]]),
    "record's plan": Target(with_file("plan.toml"), lambda: [files()["plan.toml"]]),
    "record's plane": Target(
        with_file("plane.toml"),
        lambda: [b'"delay_ps" = 880.0\n"loss_db" = 0.3\n"loss_at_mhz" = 838.0\n'],
    ),
    "record's line": Target(
        with_file("line.toml"),
        lambda: [parse_typed_line("ptfe-2.5mm", load_cable_types(), gate="0.5-1.5").toml.encode()],
    ),
    "record's sweep": Target(
        lambda data: parse_record({**files(), raw(): data}, "record"), lambda: [files()[raw()]]
    ),
    "card's head": Target(card_with("record.json"), lambda: [files()["record.json"]]),
    "card's verdict": Target(card_with("verdict.json"), lambda: [files()["verdict.json"]]),
    "sums": Target(
        lambda data: differences({**files(), "SHA256SUMS": data}), lambda: [files()["SHA256SUMS"]]
    ),
    "recording": Target(
        lambda data: parse_recording(data, "session.jsonl"),
        lambda: [
            b'{"recording": 1, "address": "virtual:", "kind": "virtual", '
            b'"begun": "2026-01-31T12:00:00+00:00"}\n{"dir": "out", "t": 0.5, "b64": "aW5mbw0="}\n'
        ],
    ),
    "feed": Target(
        lambda data: acknowledged(data.decode("utf-8", "replace")), lambda: [b'{"drawn": 12}']
    ),
}
