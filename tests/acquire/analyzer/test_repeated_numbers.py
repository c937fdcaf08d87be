"""A piece that came twice is told at any distance, and a flat load is not taken for one."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.analyzer.outliers import ReferenceSweeps, Take, outliers
from acquire.analyzer.repeated_numbers import Repeat, repeats
from acquire.sweep import ComplexArray, Reading, SweepRequest
from tests.counts import LONG, QUICK

TIMES = 1000 if LONG else 3 if QUICK else 25


def noisy(rng: np.random.Generator, curve: ComplexArray, rms: float) -> np.ndarray:
    """The numbers of a curve with noise, real and imaginary parts in turn."""
    parts = rng.standard_normal((curve.size, 2)) * rms
    numbers: np.ndarray = curve.view(np.float64) + parts.ravel()
    return numbers


def curve(points: int, rad: float, size: float = 0.5) -> ComplexArray:
    """A line that turns so far over the whole sweep."""
    turned: ComplexArray = size * np.exp(-1j * rad * np.arange(points) / points)
    return turned


def as_doubles(numbers: np.ndarray) -> bytes:
    return numbers.astype(">f8").tobytes()


def as_singles(numbers: np.ndarray) -> bytes:
    return numbers.astype("<f4").tobytes()


def doubles(data: bytes) -> np.ndarray:
    return np.frombuffer(data, ">f8").astype(float)


def singles(data: bytes) -> np.ndarray:
    with np.errstate(invalid="ignore"):
        return np.frombuffer(data, "<f4").astype(float)


FORMS = {"doubles": (as_doubles, doubles), "singles": (as_singles, singles)}


@pytest.mark.slow
@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("piece", [64, 128, 512])
@pytest.mark.parametrize("points", [101, 401])
@pytest.mark.parametrize("rms", [0.0, 1e-5, 1e-3])
def test_a_piece_that_came_twice_in_place_of_the_next_is_told(
    form: str, piece: int, points: int, rms: float
) -> None:
    written, read = FORMS[form]
    rng = np.random.default_rng([piece, points])
    told = wrong = 0
    for _ in range(TIMES):
        data = written(noisy(rng, curve(points, rng.uniform(1, 40)), rms))
        if 2 * piece >= len(data):
            return
        at = int(rng.integers(len(data) - 2 * piece))
        came = read(data[: at + piece] + data[at : at + piece] + data[at + 2 * piece :])
        off = np.abs((came - read(data)).view(np.complex128))
        if not np.isfinite(came).all() or off.max() > 100 or off.max() < 2e-3:
            continue  # refused as no reflection, or nothing to speak of
        wrong += 1
        reflection = came.view(np.complex128)
        told += bool(repeats(reflection) or outliers(reflection))
    assert told == wrong > 0


@pytest.mark.parametrize("behind", [64, 90])
def test_a_piece_that_came_again_later_is_told_too(behind: int) -> None:
    numbers = noisy(np.random.default_rng(1), curve(101, 9), 1e-5)
    numbers[20 + behind : 40 + behind] = numbers[20:40]
    assert repeats(numbers.view(np.complex128)) == [Repeat(20, behind, 20)]


@pytest.mark.slow
@pytest.mark.parametrize("places", [4, 5, 6, 9])
@pytest.mark.parametrize("size", [0.0, 0.01, 0.3])
@pytest.mark.parametrize("rms", [1e-7, 3e-7, 1e-6, 3e-6, 1e-5, 1e-4])
def test_a_flat_load_in_few_decimals_is_not_doubted(places: int, size: float, rms: float) -> None:
    """Of 72 times as many replies as here none: at most one in a thousand may be asked again."""
    rng = np.random.default_rng([places, int(1e9 * rms)])
    replies = (np.round(noisy(rng, curve(101, 0.3, size), rms), places) for _ in range(TIMES))
    assert not any(repeats(each.view(np.complex128)) for each in replies)


@pytest.mark.slow
@pytest.mark.parametrize("rms", [1e-7, 5e-7, 1e-6, 1e-5])
def test_nor_are_ten_thousand_points_of_it(rms: float) -> None:
    rng = np.random.default_rng(int(1e9 * rms))
    for _ in range(max(TIMES // 25, 1)):
        numbers = np.round(noisy(rng, curve(10_001, 0.3, 0.01), rms), 6)
        assert not repeats(numbers.view(np.complex128))


def test_a_curve_that_is_the_same_again_after_a_period_is_not_doubted() -> None:
    at = np.arange(200)
    for places in (5, 9):
        turned = np.round((0.5 * np.exp(-2j * np.pi * at / 25)).view(np.float64), places)
        assert not repeats(turned.view(np.complex128))


def test_what_was_not_measured_repeats_nothing() -> None:
    numbers = noisy(np.random.default_rng(2), curve(101, 9), 1e-5)
    numbers[40:120] = np.nan
    assert repeats(numbers.view(np.complex128)) == []


def test_another_sweep_vouches_only_at_the_same_places() -> None:
    request = SweepRequest(700e6, 800e6, 101)
    rng = np.random.default_rng(3)

    def take(at: int) -> Take:
        numbers = noisy(rng, curve(101, 9), 1e-5)
        numbers[at + 16 : at + 32] = numbers[at : at + 16]
        return Take(Reading(request.grid_hz(), numbers.view(np.complex128)), 0.0, 1.0)

    references = ReferenceSweeps()
    assert {10, 18, 25} <= set(references.suspect(request, take(20))[1])
    assert {30, 38, 45} <= set(references.suspect(request, take(60))[1])
    assert references.suspect(request, take(60))[1]  # one of two
    references.give_up()
    assert references.suspect(request, take(60))[1]
    assert references.suspect(request, take(60)) == (False, [])


def test_one_point_told_for_all_is_doubted_as_a_whole() -> None:
    request = SweepRequest(700e6, 800e6, 101)
    stuck = np.full(101, 0.123456 + 0.2j)
    references = ReferenceSweeps()
    assert references.suspect(request, Take(Reading(request.grid_hz(), stuck), 0.0, 1.0))[0]


def test_two_pieces_that_came_twice_do_not_vouch_for_each_other() -> None:
    """Each makes numbers so far apart look as if they were often the same."""
    numbers = noisy(np.random.default_rng(4), curve(101, 9), 0.0)
    numbers[44:48], numbers[52:56] = numbers[40:44], numbers[48:52]
    found = repeats(numbers.view(np.complex128))
    assert [(each.begin, each.length) for each in found] == [(40, 4), (48, 4)]


def test_one_sweep_with_the_same_fault_does_not_outvote_one_without() -> None:
    request = SweepRequest(700e6, 800e6, 101)
    rng = np.random.default_rng(5)

    def take(*, spoilt: bool) -> Take:
        numbers = noisy(rng, curve(101, 9), 1e-5)
        if spoilt:
            numbers[36:52] = numbers[20:36]
        return Take(Reading(request.grid_hz(), numbers.view(np.complex128)), 0.0, 1.0)

    references = ReferenceSweeps()
    before = take(spoilt=False)
    assert references.suspect(request, before) == (False, [])
    references.accept(before.reading)
    doubted = [bool(references.suspect(request, take(spoilt=True))[1]) for _ in range(3)]
    assert doubted == [True, True, False]
