"""The port of the virtual analyzer: a pigtail, standards to screw on to it, an antenna to bend.

The bench remembers what was on the port when, so that a sweep that was half done when the hand
moved sees both. Nothing here knows what a program does with the readings.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from acquire.clock import Clock, SystemClock
from acquire.sweep import ComplexArray, FloatArray
from replay.errors import BenchError
from replay.virtual_bench.antenna import ANTENNAS, BOUNDS_MM, BentStrip
from replay.virtual_bench.pigtails import BehindPigtail, pigtail_named
from replay.virtual_bench.standards import (
    KITS,
    LOAD_RETURN_LOSS_DB,
    MISMATCH_LOAD,
    OPEN_CONNECTOR,
    TWO_LOADS_ON_A_TEE,
    Device,
    hidden_load,
    second_load,
)
from replay.virtual_bench.surroundings import SURROUNDINGS, surrounding

OnPort = Literal[
    "nothing", "open", "short", "load", "antenna", "mismatch", "second load", "check piece"
]
ON_PORT: tuple[OnPort, ...] = (
    "nothing",
    "open",
    "short",
    "load",
    "antenna",
    "mismatch",
    "second load",
    "check piece",
)
BY_NAME: dict[str, OnPort] = {name: name for name in ON_PORT}

SCREWING_S = 1.5
"""How long readings wander while something is being screwed on, seconds."""
BENDING_S = 0.4
"""How long they wander while a hand is at the antenna, seconds."""
REMEMBERED_CHANGES = 200
"""Changes kept; the oldest is taken to have been so for ever."""

GRIP_LENGTH_FACTOR = 1.004
"""How much longer the antenna acts while a hand is round its cable."""
TRANSMITS_S = 1.0
BURST_S, BURST_EVERY_S = 0.004, 0.15
"""A transmitter nearby is heard for so long, in bursts of so long, so often; a phone's uplink is
as short and as sparse [practice]."""
TRANSMITTED_SIZE = 0.5
"""How far it throws a reading off, linear: a phone at arm's length."""

PIGTAIL_DELAY_S = 0.6e-9
PIGTAIL_LOSS_DB = 0.12
"""One way at 1 GHz; rises with the square root of frequency."""

CONTACT_INDUCTANCE_H = 5e-12
CONTACT_CAPACITANCE_F = 2e-15
"""Standard deviations of what one making of the connector differs from the next by; about
-60 dB at 1 GHz, as good connectors do [practice]."""


@dataclass(frozen=True, slots=True)
class BenchState:
    """What lies on the bench at one moment."""

    on_port: OnPort
    steady: bool
    """False while something is being screwed on or bent."""
    antenna_name: str
    dimensions_mm: Mapping[str, float]
    """The antenna's dimensions that can be bent."""
    bounds_mm: Mapping[str, tuple[float, float]]
    gripped: bool
    """True while a hand is round the antenna's cable."""
    changes: int
    """Counts what the hand did, from 0."""
    pigtail: str = "none"
    """What lies between the connector and what is on: a name of `replay.virtual_bench.pigtails`."""
    antennas: tuple[str, ...] = tuple(ANTENNAS)
    """What else lies on the bench, by name."""
    enclosed: bool = False
    """True while the antenna is in its enclosure."""
    wet: bool = False
    """True while it rains on it."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing the hand did, and how long it took."""

    number: int
    since_s: float
    lasts_s: float
    before: Device
    after: Device
    contact: tuple[float, float]
    """Series inductance, H, and shunt capacitance, F, of this making of the connector."""


class VirtualBench:
    """Standards of one kit, a known mismatch and an antenna, one of them on the port.

    Safe to drive from several threads: a page bends while the stream reads.
    """

    def __init__(
        self,
        clock: Clock | None = None,
        *,
        seed: int = 1,
        antenna: str = "weir-3",
        kit: str = "3.5mm-plug-50",
        on_port: OnPort = "nothing",
    ) -> None:
        if kit not in KITS:
            raise BenchError(f"The bench has no kit {kit!r}: choose one of {', '.join(KITS)}.")
        self._clock = SystemClock() if clock is None else clock
        self._seed = seed
        self._lock = threading.RLock()
        self._antenna_name, self._antenna = antenna, delivered(antenna)
        self.kit_name = kit
        """The shipped kit whose standards these are said to be."""
        self.load_return_loss_db = LOAD_RETURN_LOSS_DB
        """What the load's maker states, dB."""
        rng = np.random.default_rng([seed, 0])
        self._devices: dict[OnPort, Device] = {
            "nothing": OPEN_CONNECTOR,
            **{name: KITS[kit][name].with_hidden_errors(rng) for name in ("open", "short")},
            "load": hidden_load(rng),
            "mismatch": MISMATCH_LOAD,
            "second load": second_load(rng),
            "check piece": TWO_LOADS_ON_A_TEE,
        }
        self._gripped = False
        self._enclosed = self._wet = False
        self._pigtail = "none"
        self._on_port: OnPort = on_port
        device = self._device(on_port)
        self._bursts: tuple[float, ...] = ()
        self._history: tuple[Change, ...] = (Change(0, -np.inf, 0.0, device, device, (0.0, 0.0)),)

    @property
    def on_port(self) -> OnPort:
        """What is screwed on now."""
        with self._lock:
            return self._on_port

    @property
    def antenna(self) -> BentStrip:
        """The antenna as it is bent now."""
        with self._lock:
            return self._antenna

    def state(self) -> BenchState:
        """Return what lies on the bench now."""
        with self._lock:
            last = self._history[-1]
            return BenchState(
                on_port=self._on_port,
                steady=self._clock.monotonic() >= last.since_s + last.lasts_s,
                antenna_name=self._antenna_name,
                dimensions_mm=self._antenna.dimensions_mm,
                bounds_mm=BOUNDS_MM,
                gripped=self._gripped,
                changes=last.number,
                pigtail=self._pigtail,
                enclosed=self._enclosed,
                wet=self._wet,
            )

    def screw_on(self, name: str) -> BenchState:
        """Take off what is on the port and screw on something else, or the same once more.

        Raises BenchError if there is no such thing on the bench.
        """
        with self._lock:
            if name not in BY_NAME:
                raise BenchError(
                    f"There is no {name!r} on the bench: screw on one of {', '.join(ON_PORT)}."
                )
            self._on_port = BY_NAME[name]
            self._change(OPEN_CONNECTOR, self._device(self._on_port), SCREWING_S, new_contact=True)
            return self.state()

    def lay(self, pigtail: str) -> BenchState:
        """Lay a pigtail between the connector and whatever is on; "none" takes it away.

        Raises BenchError if there is no such pigtail on the bench.
        """
        with self._lock:
            pigtail_named(pigtail)
            self._pigtail = pigtail
            self._change(OPEN_CONNECTOR, self._device(self._on_port), SCREWING_S, new_contact=True)
            return self.state()

    def bend(self, name: str, delta_mm: float) -> BenchState:
        """Make one dimension of the antenna so much longer (negative: shorter), mm.

        Raises BenchError if it has no such dimension or cannot be bent so far.
        """
        with self._lock:
            before = self._device("antenna")
            self._antenna = self._antenna.bent(name, delta_mm)
            if self._on_port == "antenna":
                self._change(before, self._device("antenna"), BENDING_S, new_contact=False)
            return self.state()

    def grip(self, *, gripped: bool) -> BenchState:
        """Close a hand round the antenna's cable, or let go: its shield carries some current."""
        with self._lock:
            before = self._device("antenna")
            self._gripped = gripped
            if self._on_port == "antenna":
                self._change(before, self._device("antenna"), BENDING_S, new_contact=False)
            return self.state()

    def surround(self, *, enclosed: bool | None = None, wet: bool | None = None) -> BenchState:
        """Put the antenna into its enclosure or take it out, let it rain on it or dry it.

        What is None stays as it is.
        """
        with self._lock:
            before = self._device("antenna")
            self._enclosed = self._enclosed if enclosed is None else enclosed
            self._wet = self._wet if wet is None else wet
            if self._on_port == "antenna":
                self._change(before, self._device("antenna"), BENDING_S, new_contact=False)
            return self.state()

    def transmit_nearby(self) -> None:
        """Let a transmitter be heard for a moment, by whatever points are measured just then."""
        with self._lock:
            self._bursts = (*self._bursts[-REMEMBERED_CHANGES + 1 :], self._clock.monotonic())

    def fetch(self, antenna: str) -> BenchState:
        """Fetch another antenna as it was delivered, bare and dry; raises BenchError if unknown."""
        with self._lock:
            self._enclosed = self._wet = False
            self._antenna_name, self._antenna = antenna, delivered(antenna)
            if self._on_port == "antenna":
                self._change(OPEN_CONNECTOR, self._device("antenna"), SCREWING_S, new_contact=True)
            return self.state()

    def true_reflection(self, frequency_hz: FloatArray) -> ComplexArray:
        """What a perfect laboratory would measure at the connector now, linear.

        Same shape as frequency_hz. No analyzer, no test cable, no contact in it; what is laid
        behind the connector is, and so are a standard's definition errors.
        """
        with self._lock:
            device = self._device(self._on_port)
        return device.reflection(frequency_hz)

    def port_reflection(self, frequency_hz: FloatArray, at_s: FloatArray) -> ComplexArray:
        """What the analyzer's own port sees, through the pigtail, linear, shape (points,).

        frequency_hz, at_s : shape (points,); when each point was measured, on the bench's
            clock, up to now.
        """
        with self._lock:
            history, bursts = self._history, self._bursts
        starts = np.array([change.since_s for change in history])
        which = np.maximum(np.searchsorted(starts, at_s, side="right") - 1, 0)
        at_connector = np.empty(np.shape(frequency_hz), dtype=np.complex128)
        for index in np.unique(which):
            seen = which == index
            at_connector[seen] = self._seen(history[index], frequency_hz[seen], at_s[seen])
        loss_db = PIGTAIL_LOSS_DB * np.sqrt(frequency_hz / 1e9)
        there_and_back = 10.0 ** (-2.0 * loss_db / 20.0) * np.exp(
            -4j * np.pi * frequency_hz * PIGTAIL_DELAY_S
        )
        result: ComplexArray = there_and_back * at_connector
        for number, begun_s in enumerate(bursts):
            since_s = at_s - begun_s
            heard = (since_s >= 0) & (since_s < TRANSMITS_S) & (since_s % BURST_EVERY_S < BURST_S)
            if not heard.any():
                continue
            phase = np.random.default_rng([self._seed, 5, number]).uniform(size=at_s.size)
            result = result + heard * TRANSMITTED_SIZE * np.exp(2j * np.pi * phase)
        return result

    def _seen(self, change: Change, frequency_hz: FloatArray, at_s: FloatArray) -> ComplexArray:
        """Reflection at the connector during one change and after it."""
        after = through_contact(change.after.reflection(frequency_hz), frequency_hz, change.contact)
        elapsed_s = at_s - change.since_s
        moving = elapsed_s < change.lasts_s
        if not moving.any():
            return after
        before = change.before.reflection(frequency_hz)
        # The hand: a mixture of before and after that changes every 20 ms, so it is passive
        # and the same for the same seed.
        hand = np.random.default_rng([self._seed, 1, change.number]).uniform(size=128)
        done = hand[(np.where(moving, elapsed_s, 0.0) / 0.02).astype(int) % hand.size]
        return np.where(moving, before + done * (after - before), after)

    def _device(self, name: OnPort) -> Device:
        """What the connector sees: a device, behind the pigtail if one is laid."""
        pigtail = pigtail_named(self._pigtail)
        device = self._without_pigtail(name)
        return device if pigtail is None else BehindPigtail(pigtail, device)

    def _without_pigtail(self, name: OnPort) -> Device:
        if name != "antenna":
            return self._devices[name]
        strip = replace(
            self._antenna,
            loading=SURROUNDINGS[surrounding(enclosed=self._enclosed, wet=self._wet)],
        )
        if not self._gripped:
            return strip
        # The hand makes the cable's end of the antenna a little longer and lossier: invented.
        return replace(
            strip,
            arm_a_mm=strip.arm_a_mm * GRIP_LENGTH_FACTOR,
            arm_b_mm=strip.arm_b_mm * GRIP_LENGTH_FACTOR,
            feed_gap_mm=strip.feed_gap_mm * GRIP_LENGTH_FACTOR,
        )

    def _change(self, before: Device, after: Device, lasts_s: float, *, new_contact: bool) -> None:
        last = self._history[-1]
        number = last.number + 1
        contact = last.contact
        if new_contact:
            draw = np.random.default_rng([self._seed, 2, number]).standard_normal(2)
            contact = (CONTACT_INDUCTANCE_H * draw[0], CONTACT_CAPACITANCE_F * draw[1])
        now_s = self._clock.monotonic()
        change = Change(number, now_s, lasts_s, before, after, contact)
        self._history = (*self._history[-REMEMBERED_CHANGES + 1 :], change)


def delivered(antenna: str) -> BentStrip:
    """Return an antenna as it comes to the bench; raises BenchError if it is unknown."""
    if antenna not in ANTENNAS:
        raise BenchError(
            f"There is no antenna {antenna!r} on the bench: take one of {', '.join(ANTENNAS)}."
        )
    return ANTENNAS[antenna]


def through_contact(
    reflection: ComplexArray, frequency_hz: FloatArray, contact: tuple[float, float]
) -> ComplexArray:
    """See a reflection through a contact's series inductance and shunt capacitance."""
    inductance_h, capacitance_f = contact
    series = 2j * np.pi * frequency_hz * inductance_h / 50.0
    shunt = 2j * np.pi * frequency_hz * capacitance_f * 50.0
    # volts and amperes, normalised, from the device outwards: shunt first, then series
    volts = 1.0 + reflection
    amperes = (1.0 - reflection) + shunt * volts
    volts = volts + series * amperes
    result: ComplexArray = (volts - amperes) / (volts + amperes)
    return result
