"""What one reply cannot vouch for is found, and what the antenna does is not taken for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from acquire.analyzer.outliers import (
    FEWEST_POINTS,
    OUTLIER_FLOOR,
    ReferenceSweeps,
    Take,
    in_order,
    is_confirmed,
    outliers,
    without,
)
from acquire.analyzer.repeated_numbers import repeats
from acquire.dialect.reply_checks import LARGEST_REFLECTION, written_alike
from acquire.sweep import ComplexArray, Reading, SweepRequest

POINTS = 101
AT = np.arange(POINTS)
REQUEST = SweepRequest(700e6, 800e6, POINTS)


def cable(points: int = POINTS) -> ComplexArray:
    """A line turning a third of a radian each point, its size falling."""
    at = np.arange(points)
    reflection: ComplexArray = (0.9 - 0.2 * at / points) * np.exp(-0.3j * at)
    return reflection


def dip(half_width: float, centre: float) -> ComplexArray:
    """A resonance of so many points from its middle to half its depth, seen through a cable."""
    reflection: ComplexArray = np.exp(-0.1j * AT) * (
        0.9 - 0.8 / (1 + 1j * (AT - centre) / half_width)
    )
    return reflection


def noise(rng: np.random.Generator, rms: float, points: int = POINTS) -> ComplexArray:
    pairs = rng.standard_normal((points, 2)) @ np.array([1, 1j])
    scattered: ComplexArray = pairs * rms / np.sqrt(2)
    return scattered


@pytest.mark.parametrize("points", [FEWEST_POINTS, 21, 101, 1601])
@pytest.mark.parametrize("by", [0.03, -1j, 90.0])
def test_a_changed_number_is_found_at_any_point(points: int, by: complex) -> None:
    # a cubic through the neighbours misses a turn of a third of a radian by 8e-3 in the middle,
    # and at the ends, where it reaches out, by more [derived: 0.3^4, and 4 times that]
    smooth = 0.9 * np.exp(-0.05j * np.arange(points))
    for at in {0, 1, 2, points // 2, points - 2, points - 1}:
        changed = smooth.copy()
        changed[at] += by
        found = outliers(changed)
        assert [each.points for each in found] == [(at,)]
        assert found[0].by[0] == pytest.approx(by, rel=0.05)


@pytest.mark.parametrize("apart", [1, 2, 3, 4, 5, 30])
def test_two_changed_numbers_are_both_found(apart: int) -> None:
    changed = dip(8.0, 30.0)
    changed[50] += 0.3
    changed[50 + apart] -= 0.2j
    assert sorted(at for each in outliers(changed) for at in each.points) == [50, 50 + apart]


def test_a_change_below_the_floor_or_within_the_noise_is_none() -> None:
    changed = cable() * 0 + 0.3
    changed[40] += 0.9 * OUTLIER_FLOOR
    assert outliers(changed) == []
    noisy = cable() + noise(np.random.default_rng(1), 0.01)
    noisy[40] += 0.03
    assert outliers(noisy) == []


@pytest.mark.slow
@pytest.mark.parametrize("half_width", [0.7, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("rms", [0.0, 1e-3])
def test_a_dip_that_the_sweep_can_show_is_never_doubted(half_width: float, rms: float) -> None:
    rng = np.random.default_rng(2)
    for _ in range(60):
        assert outliers(dip(half_width, rng.uniform(3, 97)) + noise(rng, rms)) == []


def test_noise_alone_is_not_doubted() -> None:
    rng = np.random.default_rng(3)
    assert not any(outliers(cable() + noise(rng, 3e-3)) for _ in range(500))


def test_a_hand_that_moved_half_way_is_not_doubted() -> None:
    moved = cable()
    moved[60:] *= np.exp(0.5j)
    assert outliers(moved) == []


def test_points_not_measured_are_left_aside() -> None:
    reflection = dip(10.0, 40.0)
    reflection[[0, 39, 40, 77]] = complex(np.nan, np.nan)
    assert outliers(reflection) == []
    reflection[60] += 1.0
    assert [each.points for each in outliers(reflection)] == [(60,)]
    assert outliers(np.full(50, complex(np.nan, np.nan))) == []


def test_another_sweep_that_shows_the_same_vouches_for_it() -> None:
    sharp = dip(0.3, 50.0)
    found = outliers(sharp)
    assert found
    assert all(is_confirmed(each, 0.98 * sharp) for each in found)
    assert not any(is_confirmed(each, dip(0.3, 70.0)) for each in found)


def reading(reflection: ComplexArray, off_hz: float = 0.0) -> Reading:
    frequency_hz = REQUEST.grid_hz()
    frequency_hz[33] += off_hz
    return Reading(frequency_hz, reflection)


def test_what_was_believed_before_vouches_for_what_comes() -> None:
    references = ReferenceSweeps()
    sharp = reading(dip(0.3, 50.0))
    frequencies, points = references.suspect(REQUEST, Take(sharp, 0.0, 1.0))
    assert not frequencies
    assert points
    assert references.suspect(REQUEST, Take(sharp, 1.0, 2.0)) == (False, [])
    references.accept(sharp)
    assert references.suspect(REQUEST, Take(sharp, 2.0, 3.0)) == (False, [])
    references.give_up()
    odd = Take(reading(cable(), off_hz=3.0), 3.0, 4.0)
    assert references.suspect(REQUEST, odd)[0]
    assert not references.suspect(REQUEST, odd)[0]


@pytest.mark.parametrize(
    ("any_order", "began_s", "took_s", "suspect"),
    [
        (True, 1.0, 1.0, False),
        (False, 1.0, 1.0, True),
        (True, 9.0, 1.0, True),
        (True, 1.0, 9.0, True),
    ],
)
def test_points_taken_a_sweep_apart_are_not_doubted_while_all_of_them_move(
    any_order: bool, began_s: float, took_s: float, suspect: bool
) -> None:
    """A unit that sends points in any order mixes two sweeps where one ends and the next begins."""
    now, soon = dip(8.0, 50.0), 1.02 * dip(8.0, 50.0)
    mixed = soon.copy()
    mixed[[70, 76, 84]] = now[[70, 76, 84]]
    references = ReferenceSweeps(any_order=any_order)
    references.suspect(REQUEST, Take(reading(now), 0.0, 1.0))
    references.accept(reading(now))
    _, points = references.suspect(REQUEST, Take(reading(mixed), began_s, began_s + took_s))
    assert bool(points) == suspect


def test_frequencies_at_first_are_believed_in_whole_hertz_or_of_one_step() -> None:
    request = SweepRequest(700e6, 800e6, 7)
    assert in_order(request, np.rint(request.grid_hz()))
    assert in_order(request, 700e6 + 16_666_666.0 * np.arange(7))
    changed = np.rint(request.grid_hz())
    changed[3] += 1.0
    assert not in_order(request, changed)


def test_points_are_taken_out_of_a_reading() -> None:
    kept = without(reading(cable()), [3, 4])
    assert np.flatnonzero(~np.isfinite(kept.reflection)).tolist() == [3, 4]


def test_numbers_that_came_twice_are_told_where_others_were_lost() -> None:
    clean = dip(8.0, 50.0)
    assert not repeats(clean)
    for apart in (3, 8, 16):
        numbers = clean.view(np.float64)
        begin = 60
        shifted = np.concatenate([numbers[: begin + apart], numbers[begin:-apart]])
        assert shifted.size == numbers.size
        assert repeats(shifted.view(np.complex128))
    coarse = np.round(clean.view(np.float64), 2).view(np.complex128)
    assert not repeats(coarse)


@pytest.mark.slow
@pytest.mark.parametrize("form", ["{:.9f}", "{:.12E}", "{:+.6e}", "{: .5f}"])
def test_bytes_that_came_twice_where_as_many_were_lost_are_told(form: str) -> None:
    rng = np.random.default_rng(7)
    clean = dip(8.0, 50.0)
    text = ",".join(form.format(number) for number in clean.view(np.float64))
    assert written_alike(text)
    clean = np.array(text.split(","), dtype=np.float64).view(np.complex128)
    untold = passed = 0
    for _ in range(3000):
        size = int(rng.choice([1, 2, 7, 64]))
        twice, lost = rng.integers(len(text) - size, size=2).tolist()
        came = text[: twice + size] + text[twice:]
        came = came[: lost + size * (lost > twice)] + came[lost + size * (1 + (lost > twice)) :]
        try:
            numbers = np.array(came.split(","), dtype=np.float64)
        except ValueError:
            continue
        if numbers.size != 2 * POINTS or (np.abs(numbers) > LARGEST_REFLECTION).any():
            continue
        reflection = numbers.view(np.complex128)
        if np.abs(reflection - clean).max() < 2 * OUTLIER_FLOOR:
            continue
        passed += 1
        untold += written_alike(came) and not repeats(reflection) and not outliers(reflection)
    assert passed > 100
    assert untold == 0


def test_numbers_not_written_alike_are_believed_of_a_unit_that_always_writes_so() -> None:
    references = ReferenceSweeps()
    alike, unlike = reading(cable()), replace(reading(cable()), alike=False)
    told = [
        references.suspect(REQUEST, Take(each, 0.0, 1.0))[0]
        for each in (alike, unlike, alike, unlike, unlike, unlike, unlike, alike, unlike)
    ]
    assert told == [False, True, False, True, True, False, False, False, True]


def test_what_is_not_measured_has_no_form() -> None:
    assert written_alike("0.25,-0.50,nan,nan")
    assert not written_alike("0.25,-0.5,nan,nan")


def test_a_port_that_reflects_the_same_everywhere_is_believed_the_second_time() -> None:
    references = ReferenceSweeps()
    constant = Take(reading(np.full(POINTS, 0.123456789 + 0.1j)), 0.0, 1.0)
    assert references.suspect(REQUEST, constant)[0]
    assert not references.suspect(REQUEST, constant)[0]
