"""What a sweep holds is checked once, where it enters, and carried from step to step."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
import skrf

from acquire.sweep import NOT_NAMED, UNKNOWN_TIME, Plane, Reading, Source, Sweep

F = np.array([700e6, 800e6, 900e6])
READING = Reading(F, np.array([0.1, 0.2j, -0.3]))
SWEEP = Sweep(
    F,
    READING.reflection,
    Plane.RAW,
    datetime(2026, 5, 1, tzinfo=UTC),
    7,
    Source("port", "weir-3", "prompted-pairs", "/dev/ttyACM0"),
    (),
)


@pytest.mark.parametrize("taken", [READING, SWEEP])
def test_another_reflection_stands_on_the_very_same_frequencies(taken: Reading | Sweep) -> None:
    other = np.array([0.5, np.nan, 0.5j])
    made = taken.with_reflection(other)
    assert type(made) is type(taken)
    assert made.frequency_hz is taken.frequency_hz
    np.testing.assert_array_equal(made.reflection, other)
    other[0] = 9.0
    assert made.reflection[0] == 0.5
    assert not made.reflection.flags.writeable
    assert taken.reflection[0] == 0.1


def test_a_sweep_keeps_all_else_and_says_at_which_plane_it_is_now() -> None:
    made = SWEEP.with_reflection(F * 0, Plane.CONNECTOR)
    assert made.plane is Plane.CONNECTOR
    assert SWEEP.with_reflection(F * 0).plane is Plane.RAW
    assert (made.taken_at, made.sequence, made.source, made.request) == (
        SWEEP.taken_at, 7, SWEEP.source, (),
    )  # fmt: skip


@pytest.mark.parametrize("taken", [READING, SWEEP])
def test_a_reflection_of_another_shape_is_refused(taken: Reading | Sweep) -> None:
    with pytest.raises(ValueError, match=r"one reflection a frequency: got shapes \(3,\) and"):
        taken.with_reflection(np.zeros(2))


@pytest.mark.parametrize(
    ("frequency", "words"),
    [
        ([], "a row of frequencies"),
        ([[1.0]], "a row of frequencies"),
        ([2.0, 1.0], "must rise: point 1"),
        ([-1.0, 1.0], "finite and not negative"),
        ([1.0, np.nan], "finite and not negative"),
    ],
)
def test_a_grid_that_is_none_does_not_enter(frequency: list[float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        Reading(np.array(frequency), np.zeros(np.shape(frequency)))


def test_a_sweep_goes_to_scikit_rf_and_comes_back() -> None:
    made = Sweep.from_network(
        SWEEP.to_network(), taken_at=SWEEP.taken_at, analyzer="weir-3", plane=Plane.CONNECTOR
    )
    np.testing.assert_array_equal(made.frequency_hz, SWEEP.frequency_hz)
    np.testing.assert_array_equal(made.reflection, SWEEP.reflection)
    assert (made.taken_at, made.plane) == (SWEEP.taken_at, Plane.CONNECTOR)
    assert (made.source.kind, made.source.analyzer) == ("file", "weir-3")


def test_what_a_network_does_not_tell_is_unknown() -> None:
    made = Sweep.from_network(SWEEP.to_network())
    assert (made.plane, made.taken_at) == (Plane.RAW, UNKNOWN_TIME)
    assert made.source == Source("file", NOT_NAMED, "", "")
    assert not made.source.measured


def test_a_network_of_two_ports_is_refused_with_the_cure() -> None:
    two = skrf.Network(f=F, s=np.zeros((3, 2, 2)), z0=50, f_unit="Hz")
    with pytest.raises(ValueError, match=r"network\.s11"):
        Sweep.from_network(two)
    assert Sweep.from_network(two.s11).points == 3


def test_a_network_in_75_ohm_is_refused_with_the_cure() -> None:
    other = skrf.Network(f=F, s=np.full(3, 0.2), z0=75, f_unit="Hz")
    with pytest.raises(ValueError, match=r"renormalize\(50\)"):
        Sweep.from_network(other)
    other.renormalize(50)
    # 75 (1 + 0.2) / (1 - 0.2) = 112.5 ohm; (112.5 - 50) / (112.5 + 50) [derived]
    np.testing.assert_allclose(Sweep.from_network(other).reflection, 62.5 / 162.5, rtol=1e-12)
