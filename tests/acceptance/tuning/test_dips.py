"""Dips are found where an antenna has them, to a fraction of a step, and nowhere else."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from acceptance.tuning.cable_ripple import is_cable
from acceptance.tuning.dip_tracking import DipTracker, Tracked
from acceptance.tuning.dips import Dip, bandwidth_at, find_dips, zero_reactance
from acquire.sweep import ComplexArray, FloatArray
from replay.virtual_bench.antenna import GOOD_SETTING, BentStrip

F = np.linspace(0.7e9, 1.1e9, 161)  # 2.5 MHz a step


def series(f: FloatArray, f0: float, q: float, ohm: float = 50.0) -> ComplexArray:
    """A series RLC of its own Q."""
    z = ohm * (1 + 1j * q * (f / f0 - f0 / f))
    reflection: ComplexArray = (z - 50) / (z + 50)
    return reflection


def behind(f: FloatArray, g: ComplexArray, delay_s: float, loss_db: float = 0.0) -> ComplexArray:
    moved: ComplexArray = g * 10 ** (-2 * loss_db / 20) * np.exp(-4j * np.pi * f * delay_s)
    return moved


def noisy(g: ComplexArray, noise: float, seed: int = 1) -> ComplexArray:
    real, imaginary = np.random.default_rng(seed).standard_normal((2, g.size)) / np.sqrt(2)
    return g + noise * (real + 1j * imaginary)


@given(
    f0=st.floats(0.78e9, 1.02e9),
    q=st.floats(6, 60),
    ohm=st.floats(25, 110),
    delay_ns=st.floats(0, 8),
)
def test_one_resonance_is_one_dip_finer_than_the_grid(
    f0: float, q: float, ohm: float, delay_ns: float
) -> None:
    """A series circuit's |G| is least at its resonance, behind any lossless line [derived]."""
    (dip,) = find_dips(F, behind(F, series(F, f0, q, ohm), delay_ns * 1e-9))
    assert dip.frequency_hz == pytest.approx(f0, abs=0.05 * 2.5e6)
    assert dip.reflection == pytest.approx(abs(ohm - 50) / (ohm + 50), abs=0.01)


# Bandwidth of a matched series RLC: (S - 1)/(Q sqrt S) [run, exact].
YAGHJIAN = [(10, 2, 0.070711), (10, 3, 0.115470), (20, 1.5, 0.020412)]


@pytest.mark.parametrize(("q", "vswr", "bandwidth"), YAGHJIAN)
def test_bandwidth_and_q_are_the_textbook_s(q: float, vswr: float, bandwidth: float) -> None:
    fine = np.linspace(0.8e9, 1.0e9, 4001)
    g = series(fine, 0.9e9, q)
    wide = bandwidth_at(np.abs(g), fine, (vswr - 1) / (vswr + 1))
    assert wide / 0.9e9 == pytest.approx(bandwidth, rel=2e-3)
    (dip,) = find_dips(fine, g)
    assert dip.q == pytest.approx(q, rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("noise", [1e-3, 5e-3])
def test_the_position_is_as_sure_as_it_is_said_to_be(noise: float) -> None:
    """Over 200 sweeps: the scatter is the stated deviation, within a third."""
    true = series(F, 0.9013e9, 15, 60)
    found = [find_dips(F, noisy(true, noise, seed), noise)[0] for seed in range(200)]
    spread = np.std([dip.frequency_hz for dip in found])
    stated = np.median([dip.frequency_sd_hz for dip in found])
    assert 0.66 < spread / stated < 1.5
    assert abs(np.mean([dip.frequency_hz for dip in found]) - 0.9013e9) < 0.2e6


def test_noise_alone_has_no_dips() -> None:
    for seed in range(100):
        assert find_dips(F, noisy(np.full(F.size, 0.9 + 0j), 5e-3, seed), 5e-3) == []


@given(
    length=st.floats(0.3, 15),
    loss_db=st.floats(0, 6),
    ohm=st.sampled_from([48.0, 52.0]),
    end=st.sampled_from([1.0, -1.0, 0.05]),
)
def test_the_ripple_of_a_cable_has_no_dips(
    length: float, loss_db: float, ohm: float, end: float
) -> None:
    """A cable of 48 or 52 ohm, its end open, shorted or loaded: ripple of up to .04 [derived]."""
    turn = np.exp(-4j * np.pi * F * length / (0.7 * 299792458)) * 10 ** (-2 * loss_db / 20)
    own = (ohm - 50) / (ohm + 50)
    g = (own + end * turn) / (1 + own * end * turn)
    assert find_dips(F, g, 1e-3) == []


def test_evenly_spaced_deep_ripple_of_a_wrong_cable_has_no_dips() -> None:
    """3 m of 75 ohm cable with a 50 ohm load: |G| runs from 0 to .38 every 35 MHz [derived]."""
    turn = np.exp(-4j * np.pi * F * 3.0 / (0.7 * 299792458))
    z = 75 * (1 - 0.2 * turn) / (1 + 0.2 * turn)
    assert find_dips(F, (z - 50) / (z + 50)) == []


@pytest.mark.slow
@pytest.mark.parametrize("mismatch", [0.03, 0.06, 0.1])
@pytest.mark.parametrize("end", [1.0, -1.0, 0.2, 0.05])
def test_a_lossy_cable_behind_a_poor_connector_has_no_dips(mismatch: float, end: float) -> None:
    """0.3 to 20 m, .444 sqrt(f) + .00126 f dB per 100 ft (f in MHz), velocity .66 [read: ARRL].

    The connector's own reflection adds to what comes back through it [derived: lossless junction].
    At most 3 in 100 are mistaken: where less than a whole turn lies in the sweep.
    """
    rng = np.random.default_rng(7)
    f = np.r_[np.linspace(0.673e9, 0.991e9, 130), np.linspace(1.45e9, 2.16e9, 160)]
    mhz = f / 1e6
    mistaken = 0
    for seed in range(100):
        length = np.exp(rng.uniform(np.log(0.3), np.log(20)))
        loss_db = (0.444 * np.sqrt(mhz) + 0.00126 * mhz) * length / 30.48
        there = np.exp(-4j * np.pi * f * length / (0.66 * 299792458))
        back = end * 10 ** (-loss_db / 10) * there
        r = mismatch * np.exp(2j * np.pi * rng.uniform())
        g = r + (1 - abs(r) ** 2) * back / (1 + np.conj(r) * back)
        mistaken += bool(find_dips(f, noisy(g, 1e-3, seed), 1e-3))
    assert mistaken <= 3


@given(
    ohm=st.floats(8, 300),
    q=st.floats(5, 40),
    f0=st.floats(0.82e9, 0.98e9),
    metres=st.sampled_from([0.0, 1.0, 3.0, 8.0]),
)
def test_an_antenna_s_dip_is_not_taken_for_a_cable_s(
    ohm: float, q: float, f0: float, metres: float
) -> None:
    g = behind(F, series(F, f0, q, ohm), metres / (0.66 * 299792458))
    assume(np.ptp(np.abs(g)) > 0.15)
    assert not is_cable(F, g, 1e-3)


def test_a_dip_that_stands_out_of_ripple_is_found() -> None:
    turn = np.exp(-4j * np.pi * F * 4.0 / (0.7 * 299792458))
    g = series(F, 0.9e9, 15) * turn
    rippled = (g + 0.05) / (1 + 0.05 * g)
    found = find_dips(F, rippled, 1e-3)
    assert [round(dip.frequency_hz / 1e6) for dip in found] == pytest.approx([900], abs=4)


def test_measured_cables_have_no_dips() -> None:
    """Two long cables, one open and one shorted, 40 to 200 MHz: the radiometer set's answers."""
    folder = os.environ.get("BANDWRIGHT_MEASURED", "")
    if not Path(folder or "nowhere").is_dir():
        pytest.skip("BANDWRIGHT_MEASURED is not set: published in edges-collab/edges-analysis")
    for name in ("open", "short"):
        path = Path(folder) / "radiometer_antenna_2022" / f"answer_{name}.csv"
        rows = [row for row in path.read_text().splitlines() if row[:1].isdigit()]
        f, real, imaginary = np.array([row.split(",") for row in rows], dtype=float).T
        assert find_dips(1e6 * f, real + 1j * imaginary, 1e-3) == []


def test_both_arms_of_the_bent_strip_are_found_and_gaps_are_not_looked_across() -> None:
    f = np.r_[np.linspace(0.69e9, 1.0e9, 120), np.linspace(1.45e9, 2.2e9, 200)]
    found = find_dips(f, GOOD_SETTING.reflection(f), 1e-3)
    assert len(found) == 2
    assert 0.75e9 < found[0].frequency_hz < 0.9e9
    assert 1.6e9 < found[1].frequency_hz < 1.9e9
    assert [dip.beyond for dip in found] == ["", ""]


def test_a_curve_that_still_falls_where_the_sweep_ends_has_its_dip_beyond() -> None:
    f = np.linspace(0.69e9, 1.0e9, 120)
    g = GOOD_SETTING.reflection(f)
    (above,) = find_dips(f[:40], g[:40], 1e-3)
    assert (above.beyond, above.frequency_hz) == ("above", f[39])
    (below,) = find_dips(f[65:], g[65:], 1e-3)
    assert (below.beyond, below.frequency_hz) == ("below", f[65])
    flat = np.linspace(1.1e9, 1.4e9, 120)
    assert find_dips(flat, GOOD_SETTING.reflection(flat), 1e-3) == [], "far beside both dips"


def test_a_finer_grid_in_the_middle_parts_nothing() -> None:
    f = np.unique(np.r_[F, np.linspace(0.868e9, 0.870e9, 41)])
    (dip,) = find_dips(f, series(f, 0.9e9, 8))
    assert dip.frequency_hz == pytest.approx(0.9e9, rel=1e-4)
    assert dip.beyond == ""


def test_points_that_were_not_measured_part_what_was() -> None:
    g = series(F, 0.9e9, 15)
    g[75:85] = np.nan
    for dip in find_dips(F, g):
        assert not F[75] <= dip.frequency_hz <= F[84]
    assert find_dips(F, np.full(F.size, np.nan + 0j)) == []


def test_the_reactance_is_zero_where_a_series_circuit_resonates() -> None:
    ((hz, ohm),) = zero_reactance(F, series(F, 0.9013e9, 15, 36.5))
    assert hz == pytest.approx(0.9013e9, rel=1e-5)
    assert ohm == pytest.approx(36.5, rel=1e-3)


def test_lowest_vswr_is_not_zero_reactance() -> None:
    """With 3 nH of feed in series, both are where they are [derived: X = 0 against least |G|]."""
    detuning = F / 0.9e9 - 0.9e9 / F
    z = 36.0 * (1 + 12j * detuning) + 2j * np.pi * F * 3e-9
    g = (z - 50) / (z + 50)
    (dip,) = find_dips(F, g)
    ((hz, ohm),) = zero_reactance(F, g)
    assert ohm == pytest.approx(36.0, rel=0.01)
    assert dip.return_loss_db < 17  # VSWR 1.4
    assert hz == pytest.approx(float(F[np.argmin(np.abs(z.imag))]), abs=2.5e6)


def dip_at(mhz: float, reflection: float = 0.2) -> Dip:
    return Dip(mhz * 1e6, 1e4, reflection, mhz * 0.98e6, mhz * 1.02e6)


def test_a_dip_keeps_its_number_through_noise_and_bends() -> None:
    tracker, rng = DipTracker(), np.random.default_rng(1)
    first = tracker.add([dip_at(820), dip_at(1750)])
    assert [each.number for each in first] == [1, 2]
    for step in range(40):
        low = 820 + 2 * step + rng.normal()
        seen = tracker.add([dip_at(low), dip_at(1750 + rng.normal())])
        assert [each.number for each in seen] == [1, 2]


def test_a_dip_that_vanishes_for_some_sweeps_comes_back_as_itself() -> None:
    tracker = DipTracker()
    tracker.add([dip_at(820), dip_at(1750)])
    for _ in range(5):
        assert [each.number for each in tracker.add([dip_at(1750)])] == [2]
    assert [each.number for each in tracker.add([dip_at(815), dip_at(1750)])] == [1, 2]
    for _ in range(20):
        tracker.add([dip_at(1750)])
    assert [each.number for each in tracker.add([dip_at(815), dip_at(1750)])] == [3, 2]


def test_two_dips_that_cross_keep_their_numbers() -> None:
    """One moves up by 6 MHz a look, the other stays; they merge for a while and part again."""
    tracker = DipTracker()
    for step in range(40):
        moving, still = 820 + 6 * step, 940.0
        if abs(moving - still) < 15:
            dips = [dip_at((moving + still) / 2, 0.15)]
        else:
            dips = sorted(
                [dip_at(moving, 0.1), dip_at(still, 0.4)], key=lambda dip: dip.frequency_hz
            )
        seen = {each.number: each.dip for each in tracker.add(dips)}
    assert seen[1].reflection == pytest.approx(0.1)
    assert seen[2].reflection == pytest.approx(0.4)


@pytest.mark.parametrize("apart", [0.1, 0.2, 0.3])
def test_dips_keep_their_numbers_however_slowly_they_cross(apart: float) -> None:
    """They stay merged for up to 60 looks: as deep as before, each is known again."""
    rng = np.random.default_rng(3)
    for speed in (1.0, -2.0, 4.0, -8.0, 15.0):
        for merged_mhz in (0, 10, 20, 30):
            tracker, seen, shallow = DipTracker(), list[Tracked](), 0
            for step in range(int(300 / abs(speed))):
                moving = 940 - 150 * np.sign(speed) + speed * step
                if abs(moving - 940) < merged_mhz:
                    dips = [dip_at((moving + 940) / 2, 0.2)]
                else:
                    depth = 0.2 + 0.01 * rng.standard_normal(2)
                    both = [dip_at(moving, depth[0]), dip_at(940, depth[1] + apart)]
                    dips = sorted(both, key=lambda dip: dip.frequency_hz)
                seen = tracker.add(dips)
                if step == 0:
                    shallow = max(seen, key=lambda each: each.dip.reflection).number
            assert {each.number for each in seen} == {1, 2}
            assert max(seen, key=lambda each: each.dip.reflection).number == shallow


def test_a_dip_that_jumps_as_far_as_a_bend_moves_it_is_the_same() -> None:
    tracker = DipTracker()
    tracker.add([dip_at(740), dip_at(1750)])
    assert [each.number for each in tracker.add([dip_at(860), dip_at(1750)])] == [1, 2]


def test_a_bent_strip_s_dips_are_followed_through_a_whole_tuning() -> None:
    f = np.r_[np.linspace(0.69e9, 1.05e9, 145), np.linspace(1.4e9, 2.3e9, 200)]
    tracker = DipTracker()
    antenna = BentStrip(arm_a_mm=80.5, arm_b_mm=39.0, feed_gap_mm=2.0, height_mm=19.0)
    for step in range(20):
        bent = antenna.bent("arm_a", 0.3 * step).bent("arm_b", -0.15 * step)
        seen = tracker.add(find_dips(f, noisy(bent.reflection(f), 1e-3, step), 1e-3))
        assert [each.number for each in seen] == [1, 2]
