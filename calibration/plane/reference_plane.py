"""The reference plane: where along the cable a reflection holds, and how it is moved.

What lies between the connector and the antenna's feed is a two-port, and the reflection Ga behind
it is seen at the connector as

    Gc = S11 + S12 S21 Ga / (1 - S22 Ga)

which is the form of an analyzer's own errors, with S11 for directivity, S12 S21 for reflection
tracking and S22 for source match: so moving the plane is `one_port.correct`, and no second
formula [derived].

An error of a reading, e0 + e1 Gc + e2 Gc^2, is a quadratic in Ga too. With a = 1 - ES Ga and
b = ED a + ER Ga

    dGa = (e0 a^2 + e1 a b + e2 b^2) / ER                                                [derived]

so undoing loss lifts every uncertainty by as much as it lifts the reading, or more.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Generic, Protocol, TypeVar

import numpy as np

from acquire.sweep import ComplexArray, FloatArray, Plane, Reading, Sweep
from calibration.error_terms.one_port import ErrorTerms, correct
from calibration.errors import PlaneError
from calibration.plane.loss import M_PER_S, NO_LOSS, LossLaw
from calibration.uncertainty.budget import Budget, Contribution, Origin
from calibration.uncertainty.interval import interval
from calibration.uncertainty.sensitivity import through_terms

PIGTAIL_CAUSE = "the pigtail"
"""The cause of all that a pigtail adds: what would have to be better for it to be less."""
MATCH_DB = 30.0
"""What a pigtail's joints reflect at either end where nobody stated it [practice]."""
LOSS_TOLERANCE = 0.1
"""How far a typed loss may be off, as a part of it [practice]; a table's counts twice that."""
LEAST_LOSS_TOLERANCE_DB = 0.02
SKIN_SHARE = 0.9
"""Which part of a coax's loss goes with the root of frequency, about 1 GHz: RG-58's .92 [derived
from its table]."""

PLANE_WORDS = {
    Plane.RAW: "at the analyzer's own port, uncorrected",
    Plane.CONNECTOR: "at the end of the calibrated cable",
    Plane.ANTENNA: "at the antenna's feed",
}
"""Each plane as it is said where nothing more is known of it."""

Moveable = TypeVar("Moveable", Sweep, Reading)
"""A sweep stays a sweep, a file's reading a reading."""


@dataclass(frozen=True, slots=True, eq=False)
class Moved:
    """A two-port to be undone, and what can be wrong with a reading behind it."""

    terms: ErrorTerms
    """S11, S22 and S12 S21 of what lies between, as the three terms."""
    budget: Budget
    """At the far plane."""


@dataclass(frozen=True, slots=True)
class DeEmbedding:
    """What was undone to move a reading, and what that did to how far it can be trusted."""

    words: str
    """As "182 mm of PTFE coax"."""
    loss_db: tuple[float, float]
    """Least and most over the sweep, one way, dB."""
    floor_was_db: float
    """The trust floor at the connector, where it is worst, dB."""
    floor_db: float
    """The same at the feed."""

    @property
    def sentence(self) -> str:
        """In a sentence."""
        low, high = (f"{each:.1f}" for each in self.loss_db)
        much = low if low == high else f"{low} to {high}"
        was, now = f"{self.floor_was_db:.1f}", f"{self.floor_db:.1f}"
        begin = f"Undoing {self.words}, {much} dB one way,"
        if was == now:
            return f"{begin} leaves the trust floor at {was} dB."
        return f"{begin} takes the trust floor from {was} to {now} dB."

    def as_json(self) -> dict[str, object]:
        """What programs are told of it."""
        return {
            "words": self.words,
            "loss_db": list(self.loss_db),
            "trust_floor_at_connector_db": self.floor_was_db,
            "trust_floor_db": self.floor_db,
        }


@dataclass(frozen=True, slots=True, eq=False)
class AtPlane(Generic[Moveable]):
    """A reading at a declared plane."""

    reading: Moveable
    budget: Budget
    """What can be wrong with it there."""
    de_embedding: DeEmbedding | None
    """None where nothing lies between."""


class TwoPortBetween(Protocol):
    """What lies between the connector and the antenna's feed."""

    @property
    def words(self) -> str:
        """As "182 mm of PTFE coax"."""
        ...

    def moved(self, budget: Budget) -> Moved:
        """The two-port on the budget's grid, and the budget behind it.

        budget : of the reading at the connector. Raises PlaneError, RangeError.
        """
        ...


@dataclass(frozen=True, slots=True, eq=False)
class ReferencePlane:
    """Where along the cable a reflection holds, in a name and in words."""

    plane: Plane
    between: TwoPortBetween | None = None
    """What was undone to get there; None at the connector, and where a file merely says so."""
    warnings: tuple[str, ...] = ()
    """Which figures of what lies between are hardly what was meant; a sentence each."""

    @property
    def words(self) -> str:
        """As "at the antenna's feed after 182 mm of PTFE coax"."""
        return plane_words(self.plane, self.between)

    def of(self, budget: Budget) -> Budget:
        """The budget of a reading at this plane, of that at the connector. Raises as `move`."""
        return budget if self.between is None else self.between.moved(budget).budget

    def move(self, reading: Moveable, budget: Budget) -> AtPlane[Moveable]:
        """A reading at the connector, and its budget, taken to this plane.

        Both come back as they are where nothing lies between. Raises PlaneError where the reading
        is not at the connector, and where it would reflect more than it gets by more than its
        uncertainty: then the loss that was undone is not there. RangeError outside of what is
        known of the two-port.
        """
        if self.between is None:
            return AtPlane(reading, budget, None)
        moved = self.between.moved(budget)
        reflection = correct(moved.terms, reading.reflection)
        require_passive(moved, reflection)
        loss = np.maximum(one_way_loss_db(moved.terms), 0.0)
        de_embedding = DeEmbedding(
            self.between.words,
            (float(loss.min()), float(loss.max())),
            worst_floor_db(budget),
            worst_floor_db(moved.budget),
        )
        if isinstance(reading, Sweep):
            _require_connector(reading.plane)
            there = reading.with_reflection(reflection, self.plane)
        else:
            there = reading.with_reflection(reflection)
        return AtPlane(there, moved.budget, de_embedding)


def plane_words(plane: Plane, through: TwoPortBetween | DeEmbedding | None) -> str:
    """As "at the antenna's feed after 182 mm of PTFE coax"."""
    return PLANE_WORDS[plane] if through is None else f"{PLANE_WORDS[plane]} after {through.words}"


def _require_connector(plane: Plane) -> None:
    if plane is not Plane.CONNECTOR:
        raise PlaneError(
            f"Only a reading at the connector can be moved to the feed; this one is "
            f"{PLANE_WORDS[plane]}. Calibrate first."
        )


CONNECTOR = ReferencePlane(Plane.CONNECTOR)


def require_passive(moved: Moved, reflection: ComplexArray) -> None:
    """Raise PlaneError where a moved reading reflects more than it gets, and surely so.

    reflection : complex, shape (points,), at the far plane.
    """
    found = interval(moved.budget, reflection)
    beyond = np.nan_to_num(found.low - 1.0, nan=-1.0)
    at = int(np.argmax(beyond))
    if beyond[at] > 1e-3:
        loss_db = one_way_loss_db(moved.terms)[at]
        raise PlaneError(
            f"With {loss_db:.2g} dB of cable undone the antenna would reflect "
            f"{abs(reflection[at]):.2f} of what it gets at "
            f"{moved.terms.frequency_hz[at] / 1e6:.6g} MHz, and no antenna reflects more than all. "
            "Either the cable is not on, or it loses less than was stated: put it on, measure it, "
            "or judge at the connector."
        )


def one_way_loss_db(terms: ErrorTerms) -> FloatArray:
    """Loss of a two-port, one way, dB, positive, shape (points,): -10 log10 |S12 S21|."""
    with np.errstate(divide="ignore"):
        loss: FloatArray = -10 * np.log10(np.abs(terms.reflection_tracking))
    return loss


def carried(each: Contribution, terms: ErrorTerms) -> Contribution:
    """A contribution to a reading at the connector, as it acts behind a two-port."""
    e0, e1, e2 = each.coefficients
    ed, es, er = terms.directivity, terms.source_match, terms.reflection_tracking
    slope = er - ed * es  # b = ed + slope Ga, a = 1 - es Ga
    moved = np.array(
        [
            e0 + e1 * ed + e2 * ed**2,
            -2 * es * e0 + e1 * (slope - es * ed) + 2 * e2 * ed * slope,
            es**2 * e0 - e1 * es * slope + e2 * slope**2,
        ]
    )
    return replace(each, coefficients=moved / er)


@dataclass(frozen=True, slots=True)
class Joints:
    """What the joints at a pigtail's two ends reflect: unknown but for its size."""

    return_loss_db: float = MATCH_DB
    """Of either joint by itself, at least, dB, positive."""
    origin: Origin = "assumed"

    def __post_init__(self) -> None:
        if not self.return_loss_db >= 6:
            raise PlaneError(
                f"A joint's return loss is 6 dB or more, not {self.return_loss_db:g}. Give it as "
                "a positive number."
            )

    @property
    def size(self) -> float:
        """Linear."""
        return float(10 ** (-self.return_loss_db / 20))

    def contributions(
        self, tracking: ComplexArray, by_directivity: ComplexArray, by_match: ComplexArray
    ) -> list[Contribution]:
        """What they do, each of unknown phase.

        tracking : S12 S21, shape (points,). by_directivity, by_match : what an error of 1 in S11
        and in S22 does, shape (3, points). Each joint is seen from both sides: S11 is the near one
        and, there and back, the far one; S22 the other way round. A joint that is short against
        the wavelength reflects alike from either side (a series inductance, a shunt capacitance, a
        short piece of wrong impedance), so it is one cause and not two [derived].
        """
        words = f"{self.return_loss_db:g} dB {self.origin} at either end, phase unknown"
        return [
            Contribution(name, self.origin, words, True, self.size * part, PIGTAIL_CAUSE)
            for name, part in (
                (f"{PIGTAIL_CAUSE}'s near joint", by_directivity + tracking * by_match),
                (f"{PIGTAIL_CAUSE}'s far joint", by_match + tracking * by_directivity),
            )
        ]


ASSUMED_JOINTS = Joints()


@dataclass(frozen=True, slots=True, kw_only=True)
class DeclaredLine:
    """A matched line of stated delay and loss: S12 S21 = 10^(-2 A/20) exp(-4j pi f delay).

    What its ends reflect is not known, and is in the uncertainty. An error of the delay turns the
    reflection and leaves its return loss; an error of the loss does the opposite.
    """

    words: str
    """As "182 mm of PTFE coax"."""
    delay_s: float
    """One way."""
    delay_tolerance_s: float = 0.0
    """How far that may be off."""
    loss: LossLaw = NO_LOSS
    """One way, of the whole line."""
    loss_tolerance: float = LOSS_TOLERANCE
    """How far the loss may be off, as a part of it; never less than 0.02 dB."""
    joints: Joints = ASSUMED_JOINTS
    removed: bool = False
    """True where it stood in the way while calibrating and is gone: it is put back in."""

    def __post_init__(self) -> None:
        tolerances = (self.delay_s, self.delay_tolerance_s, self.loss_tolerance)
        if min(tolerances) < 0:
            raise PlaneError(
                f"{self.words}: a delay and its tolerances are not negative. Correct that figure."
            )

    def two_port(self, frequency_hz: FloatArray) -> ErrorTerms:
        """The line by itself, at these frequencies; the other way round where it was removed."""
        turned = np.exp(-4j * np.pi * frequency_hz * self.delay_s)
        none = np.zeros(frequency_hz.shape, dtype=np.complex128)
        size = 10 ** (-2 * self.loss.db(frequency_hz) / 20)
        way = np.asarray(size * turned, np.complex128)
        return ErrorTerms(frequency_hz, none, none, 1 / way if self.removed else way)

    def moved(self, budget: Budget) -> Moved:
        """The line undone: what it reflects itself, loses and delays more or less, all count."""
        frequency = budget.frequency_hz
        terms = self.two_port(frequency)
        tolerance_db = np.maximum(
            self.loss.db(frequency) * self.loss_tolerance, LEAST_LOSS_TOLERANCE_DB
        )
        lossy, turned = (np.zeros((3, frequency.size), dtype=np.complex128) for _ in range(2))
        lossy[1] = 10 ** (2 * tolerance_db / 20) - 1
        turned[1] = 4j * np.pi * frequency * self.delay_tolerance_s
        by_directivity, _, by_match = through_terms(terms)
        sentence = f"{tolerance_db.max():.2g} dB one way at most"
        by = f"{self.delay_tolerance_s * 1e12:.3g} ps one way"
        added = (
            *self.joints.contributions(terms.reflection_tracking, by_directivity, by_match),
            Contribution(f"{PIGTAIL_CAUSE}'s loss", "stated", sentence, True, lossy, PIGTAIL_CAUSE),
            Contribution(
                f"{PIGTAIL_CAUSE}'s delay", "stated", by, True, turned, PIGTAIL_CAUSE, across=True
            ),
        )
        listed = tuple(carried(each, terms) for each in budget.contributions)
        return Moved(terms, replace(budget, contributions=(*listed, *added)))


def line_of_length(length_m: float, velocity_factor: float) -> float:
    """One-way delay of a line, s."""
    return length_m / (velocity_factor * M_PER_S)


def worst_floor_db(budget: Budget) -> float:
    """The trust floor where it is worst, dB; 180 where nothing at all is in doubt."""
    none = np.zeros(budget.frequency_hz.size, dtype=np.complex128)
    floor = interval(budget, none).floor if budget.contributions else np.zeros(1)
    return float(-20 * np.log10(max(float(floor.max()), 1e-9)))
