"""Verdicts: the worst point decides, nothing passes by absence, and the JSON is as documented."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.bands.load import load_bands
from acceptance.errors import VerdictError
from acceptance.limits.decision import State
from acceptance.plan.plan_file import parse_plan
from acceptance.verdict.plan_verdict import judge
from acceptance.verdict.wording import uncertainty_sentences
from acquire.sweep import Plane, Reading, Source, Sweep, SweepRequest
from calibration.uncertainty.interval import Interval
from tests.counts import examples
from tests.wording import missing_words

FILE = Source("file", "mill-lane-7.s1p", "", "mill-lane-7.s1p")


def plan(*entries: str, guard: str | float = "full"):
    written = f'"{guard}"' if isinstance(guard, str) else guard
    text = f'name = "gauge modem"\nguard = {written}\n' + "".join(
        f"[[band]]\n{entry}\n" for entry in entries
    )
    return parse_plan(text, "plan.toml", load_bands())


BAND_8 = plan("lte = 8\nreturn_loss_db = 10")
OWN = plan('name = "own"\nlow_mhz = 832\nhigh_mhz = 862\nreturn_loss_db = 10')
GRID = np.linspace(822e6, 872e6, 51)  # 1 MHz: both edges of OWN lie on it


def verdict(reflection, plan_=OWN, frequency=GRID, **more):
    return judge(plan_, Reading(frequency, reflection), Plane.CONNECTOR, FILE, **more)


def only(reflection, plan_=OWN, **more):
    (band,) = verdict(reflection, plan_, **more).bands
    return band


def within(reflection, uncertainty, frequency=GRID):
    """An interval of the same width on either side."""
    size, wide = np.abs(reflection), np.broadcast_to(uncertainty, reflection.shape)
    low = np.where(size > wide, size - wide, 0.0)
    return Interval(frequency, size, low, size + wide, np.array(wide))


def flat(level_db: float):
    return np.full(GRID.size, 10 ** (-level_db / 20) + 0j)


@pytest.mark.parametrize(
    ("level_db", "state"), [(10.01, State.PASS), (10.0, State.PASS), (9.99, State.FAIL)]
)
def test_a_match_at_its_limit_passes_and_just_beyond_it_fails(level_db, state):
    assert only(flat(level_db)).state is state


def test_the_worst_point_decides_with_its_margin_and_frequency():
    # A parabola of |reflection| from .2 at the edges to .3548 (9 dB) at 847 MHz; the mean of its
    # square is .0942 [derived].
    sag = 10 ** (-9 / 20) - 0.2
    band = only(0.2 + sag * (1 - ((GRID - 847e6) / 15e6) ** 2) + 0j)
    assert band.state is State.FAIL
    assert band.worst_frequency_hz == 847e6
    assert band.worst_return_loss_db == pytest.approx(9)
    assert band.margin_db == pytest.approx(-1)
    mean = 0.04 + 0.4 * sag * 2 / 3 + sag**2 * 8 / 15
    assert band.average_return_loss_db == pytest.approx(-10 * np.log10(mean), abs=0.005)


def test_one_bad_reading_fails_a_band_though_the_grid_is_too_coarse_to_follow_it():
    reflection = flat(20)
    reflection[20] = 10 ** (-9 / 20) * 1j
    band = only(reflection)
    assert band.state is State.FAIL
    assert band.worst_frequency_hz == 842e6
    assert band.margin_db == pytest.approx(-1)
    assert band.average_return_loss_db is None
    assert "Too coarse" in band.reason
    reflection[20] = 10 ** (-12 / 20) * 1j  # as rough, but within the limit: no pass either
    assert only(reflection).state is State.NOT_MEASURED


def test_the_margin_of_a_vswr_limit_is_in_decibels_too():
    # 2:1 is 9.5424 dB of return loss [derived].
    band = only(flat(12), plan('name = "own"\nlow_mhz = 832\nhigh_mhz = 862\nvswr = 2.0'))
    assert band.margin_db == pytest.approx(12 - 9.5424, abs=1e-4)
    assert band.limit.as_json() == {"vswr": 2.0}


def test_uplink_and_downlink_are_judged_apart_each_by_its_own_limit():
    frequency = np.linspace(1690e6, 1900e6, 211)
    apart = plan("nr = 3\nvswr = 2.0\nuplink = { vswr = 1.5 }")
    bands = verdict(np.full(211, 0.25 + 0j), apart, frequency).bands  # VSWR 1.667
    assert [(band.link, band.state) for band in bands] == [
        ("uplink", State.FAIL),
        ("downlink", State.PASS),
    ]


def test_a_band_between_the_grid_points_is_judged_at_its_very_edges():
    # |reflection| rises through the limit .3162 between two points: the last point in the band
    # passes, the edge does not.
    frequency = np.linspace(825e6, 870e6, 46) + 0.5e6
    reflection = (0.3155 + 0.001 * (frequency - 861.5e6) / 0.5e6) * np.exp(-2e-8j * frequency)
    band = only(np.asarray(reflection), frequency=frequency)
    assert abs(reflection[frequency == 861.5e6][0]) < 10**-0.5
    assert band.state is State.FAIL
    assert band.worst_frequency_hz == 862e6


def test_the_error_of_an_interpolated_edge_is_counted_in():
    # A bend next to the edge makes interpolation uncertain; the edge is judged by the worse end.
    frequency = np.linspace(825e6, 870e6, 46) + 0.5e6
    reflection = np.full(46, 0.30 + 0j)
    reflection[37] = 0.31  # the first point above the edge at 862 MHz
    band = only(reflection, frequency=frequency)
    assert band.edge_error == pytest.approx(0.000625, rel=1e-6)  # Neville, third difference / 16
    assert band.worst_frequency_hz == 862e6


def test_a_band_the_sweep_does_not_cover_is_not_measured_and_says_why():
    result = verdict(flat(20), BAND_8)
    assert result.overall is State.NOT_MEASURED
    assert "not covered: the readings run from 822 to 872 MHz" in result.bands[0].reason


@pytest.mark.parametrize("value", [complex("nan"), complex("inf")])
def test_a_missing_reading_is_neither_pass_nor_fail(value):
    reflection = flat(20)
    reflection[25] = value
    band = only(reflection)
    assert band.state is State.NOT_MEASURED
    assert band.worst_return_loss_db is None
    assert "No reading at 847 MHz" in band.reason


def test_a_fail_anywhere_fails_the_whole_and_a_gap_without_a_fail_is_no_pass():
    both = plan(
        'name = "own"\nlow_mhz = 832\nhigh_mhz = 862\nreturn_loss_db = 10',
        "lte = 8\nreturn_loss_db = 10",
    )
    assert verdict(flat(20), both).overall is State.NOT_MEASURED
    assert verdict(flat(5), both).overall is State.FAIL


def test_a_pass_without_uncertainty_is_called_unguarded():
    result = verdict(flat(20))
    assert result.overall is State.PASS
    assert result.words == result.bands[0].words == "pass (unguarded)"
    assert str(result.overall) == "pass"


def test_with_an_uncertainty_the_guarded_states_follow_point_by_point():
    # Limit .3162: with U = .05, .25 passes, .30 conditionally, .33 fails conditionally [derived].
    for size, state in (
        (0.25, State.PASS),
        (0.30, State.CONDITIONAL_PASS),
        (0.33, State.CONDITIONAL_FAIL),
        (0.37, State.FAIL),
    ):
        reflection = np.full(GRID.size, size + 0j)
        result = verdict(reflection, uncertainty=within(reflection, 0.05))
        assert result.overall is state
        assert result.words == str(state)
    reflection = np.full(GRID.size, 0.30 + 0j)
    unguarded = plan(
        'name = "own"\nlow_mhz = 832\nhigh_mhz = 862\nreturn_loss_db = 10', guard="none"
    )
    result = verdict(reflection, unguarded, uncertainty=within(reflection, 0.05))
    assert result.words == "pass (unguarded)"
    half = plan('name = "own"\nlow_mhz = 832\nhigh_mhz = 862\nreturn_loss_db = 10', guard=0.25)
    assert verdict(reflection, half, uncertainty=within(reflection, 0.05)).overall is State.PASS


def test_each_side_is_guarded_by_its_own_uncertainty():
    # Limit .3162; the truth may lie .09 lower but only .01 higher [derived].
    for size, state in ((0.31, State.CONDITIONAL_PASS), (0.40, State.CONDITIONAL_FAIL)):
        reflection = np.full(GRID.size, size + 0j)
        read = np.abs(reflection)
        uncertainty = Interval(GRID, read, read - 0.09, read + 0.01, np.full(GRID.size, 0.05))
        assert verdict(reflection, uncertainty=uncertainty).overall is state


def test_a_reading_beyond_the_trust_floor_gets_no_number_of_its_own():
    """A 30 dB load reads 54 dB: better than 29.5 dB is proven, no more [derived]."""
    reflection = flat(54)
    band = only(reflection, uncertainty=within(reflection, 10 ** (-30 / 20)))
    assert band.state is State.PASS
    assert (band.worst_return_loss_db, band.margin_db, band.average_return_loss_db) == (None,) * 3
    assert band.better_than_db == pytest.approx(29.47, abs=0.01)
    assert band.average_better_than_db == pytest.approx(29.47, abs=0.01)
    assert band.trust_floor_db == pytest.approx(30)
    written = band.as_json()
    assert written["worst_return_loss_db"] is None
    assert written["better_than_db"] == pytest.approx(29.47, abs=0.01)
    assert written["interval_db"] == [pytest.approx(29.47, abs=0.01), None]


# Guard band w as a multiple of U = 2u, and the risk at the acceptance limit [run]; with u =
# U / 1.96 in place of U / 2 the same figures move by less than a twentieth of themselves.
@pytest.mark.parametrize(("w", "risk"), [(0.0, 0.5), (0.83, 0.0485), (1.0, 0.0228), (1.5, 0.00135)])
def test_the_risk_of_a_false_pass_is_the_textbook_s(w, risk):
    """P(conform) = Phi((TL - y) / u): JCGM 106, clause 7 [memory]."""
    uncertainty = 0.02 * 1.959964 / 2
    reflection = np.full(GRID.size, 10**-0.5 - w * 0.02 + 0j)
    band = only(reflection, uncertainty=within(reflection, uncertainty))
    assert band.false_pass_risk == pytest.approx(risk, rel=0.01)


def test_a_band_that_fails_has_no_risk_of_a_false_pass():
    reflection = flat(5)
    assert only(reflection, uncertainty=within(reflection, 0.05)).false_pass_risk is None


@given(
    size=st.floats(0.01, 0.9),
    narrow=st.floats(0, 0.4),
    more=st.floats(0, 0.4),
)
@examples(60)
def test_a_larger_uncertainty_never_moves_a_band_across_its_limit(size, narrow, more):
    reflection = np.full(GRID.size, size + 0j)
    sides = {State.PASS: 0, State.CONDITIONAL_PASS: 0, State.CONDITIONAL_FAIL: 1, State.FAIL: 1}
    before = only(reflection, uncertainty=within(reflection, narrow)).state
    after = only(reflection, uncertainty=within(reflection, narrow + more)).state
    assert sides[before] == sides[after]
    certain = (State.PASS, State.FAIL)
    assert not (after in certain and before not in certain)


def test_the_most_severe_state_decides_though_another_point_reflects_more():
    reflection, uncertainty = np.full(GRID.size, 0.26 + 0j), np.full(GRID.size, 0.01)
    reflection[20], uncertainty[20] = 0.25, 0.09  # less reflection, but far less certain
    band = only(reflection, uncertainty=within(reflection, uncertainty))
    assert band.state is State.CONDITIONAL_PASS
    assert band.worst_frequency_hz == 842e6


def test_an_uncertainty_that_is_not_known_across_the_band_leaves_it_not_measured():
    uncertainty = np.full(GRID.size, 0.01)
    uncertainty[30] = np.nan
    assert only(flat(20), uncertainty=within(flat(20), uncertainty)).state is State.NOT_MEASURED


def test_uncertainties_of_another_grid_are_refused():
    other = within(flat(20)[:50], 0.01, GRID[:50])
    with pytest.raises(VerdictError, match="for 50 other points than the 51"):
        verdict(flat(20), uncertainty=other)


def test_a_reading_without_its_origin_is_refused():
    with pytest.raises(VerdictError, match="needs its reference plane and its source"):
        judge(OWN, Reading(GRID, flat(20)))


def test_a_sweep_brings_its_own_plane_and_source():
    virtual = Source("virtual", "virtual analyzer", "prompted", "virtual:")
    sweep = Sweep(
        GRID,
        flat(20),
        Plane.RAW,
        datetime(2025, 5, 1, tzinfo=UTC),
        1,
        virtual,
        (SweepRequest(822e6, 872e6, 51),),
    )
    result = judge(OWN, sweep)
    assert (result.plane, result.source) == (Plane.RAW, virtual)
    notes = " ".join(result.notes)
    assert "no calibration was applied" in notes
    assert "the data is invented" in notes


def test_every_verdict_says_that_a_match_is_not_an_antenna():
    assert "match only, not gain or pattern" in verdict(flat(5)).notes[0]


def test_a_good_match_everywhere_is_noted_as_perhaps_no_antenna_at_all():
    frequency = np.linspace(600e6, 2700e6, 2101)
    note = "Match alone cannot tell a wideband antenna from a load"
    load = verdict(np.full(2101, 0.02 + 0j), OWN, frequency)
    lossy = verdict(np.full(2101, 10 ** (-12.1 / 20) + 0j), OWN, frequency)
    passing = verdict(np.full(2101, 10 ** (-11.9 / 20) + 0j), OWN, frequency)
    antenna = verdict(np.where(np.abs(frequency - 850e6) < 50e6, 0.02 + 0j, 0.6), OWN, frequency)
    assert note in " ".join(load.doubts)  # better than 20 dB: no hand-built antenna's
    assert load.overall is State.CONDITIONAL_PASS
    assert note in " ".join(lossy.notes)
    assert lossy.overall is State.PASS
    assert note not in " ".join((*antenna.notes, *passing.notes))
    two = plan(
        'name = "low"\nlow_mhz = 840\nhigh_mhz = 860\nreturn_loss_db = 10',
        'name = "high"\nlow_mhz = 1790\nhigh_mhz = 1810\nreturn_loss_db = 10',
    )
    dips = (np.abs(frequency - 850e6) < 30e6) | (np.abs(frequency - 1800e6) < 30e6)
    of_two = verdict(np.where(dips, 0.02 + 0j, 0.6), two, frequency)
    assert of_two.overall is State.PASS  # as good as a load in both its bands, and none
    assert note in " ".join(of_two.notes)
    assert note not in " ".join(verdict(flat(34)).notes)  # a narrow sweep shows no "everywhere"


def test_the_json_has_the_documented_keys_and_nothing_that_is_no_number():
    both = plan(
        'name = "own"\nlow_mhz = 832\nhigh_mhz = 862\nreturn_loss_db = -10',
        "lte = 8\nvswr = 2",
    )
    written = verdict(flat(40), both).as_json()
    assert list(written) == [
        "overall",
        "plan",
        "plane",
        "source",
        "bands",
        "guard",
        "false_pass_risk_wanted",
        "false_pass_risk",
    ]
    assert (written["guard"], written["false_pass_risk"]) == (1.0, None)
    assert written["source"]["kind"] == "file"
    own, uplink, downlink = written["bands"]
    assert own == {
        "name": "own",
        "link": "both",
        "state": "pass",
        "limit": {"return_loss_db": 10.0},
        "worst_return_loss_db": own["worst_return_loss_db"],
        "worst_frequency_hz": own["worst_frequency_hz"],
        "margin_db": own["margin_db"],
        "interval_db": None,
        "trust_floor_db": None,
        "better_than_db": None,
        "false_pass_risk": None,
        "narrowest_seen_hz": pytest.approx(float(np.diff(GRID).max())),
    }
    assert own["worst_return_loss_db"] == pytest.approx(40)
    assert own["margin_db"] == pytest.approx(30)
    assert 832e6 <= own["worst_frequency_hz"] <= 862e6
    assert uplink["state"] == downlink["state"] == "not measured"
    assert uplink["worst_return_loss_db"] is None
    json.dumps(written, allow_nan=False)
    answer = verdict(flat(40), both).answer()
    assert {key: answer[key] for key in written} == written
    assert answer["notes"] == list(verdict(flat(40), both).notes)


SEVERITY = [State.PASS, State.NOT_MEASURED, State.FAIL]


@examples(150)
@given(
    sizes=st.lists(st.floats(0, 0.34), min_size=GRID.size, max_size=GRID.size),
    at=st.integers(0, GRID.size - 1),
    worse=st.floats(1.0, 4.0),
)
def test_worsening_one_point_never_turns_fail_into_pass(sizes, at, worse):
    # Smoothed, as readings are: rough ones are refused as too coarse.
    smooth = np.convolve(np.pad(sizes, 8, mode="edge"), np.full(17, 1 / 17), mode="valid")
    before = only(smooth + 0j).state
    smooth[at] *= worse
    after = only(smooth + 0j).state
    assert SEVERITY.index(after) >= SEVERITY.index(before)


@examples(50)
@given(scale=st.floats(0.3, 1.6), below=st.integers(0, 40), above=st.integers(0, 40))
def test_points_added_outside_a_band_change_nothing(scale, below, above):
    reflection = scale * 0.2 * np.exp(-2j * np.pi * GRID * 5e-9) + 0.05
    wide = np.concatenate(
        (
            GRID[0] - 1e6 * np.arange(below, 0, -1),
            GRID,
            GRID[-1] + 1e6 * np.arange(1, above + 1),
        )
    )
    padded = np.pad(reflection, (below, above), constant_values=0.99)
    # the more points, the better a cable shows: but for that doubt
    assert only(padded, frequency=wide).in_doubt() == only(reflection).in_doubt()


@examples(50)
@given(delay=st.floats(0, 30e-9), phase=st.floats(0, 6.3))
def test_a_length_of_lossless_line_changes_no_verdict(delay, phase):
    frequency = GRID + 0.37e6
    reflection = 0.28 + 0.02 * np.exp(2j * np.pi * (frequency - 850e6) / 80e6)
    turned = reflection * np.exp(1j * phase - 2j * np.pi * frequency * delay)
    before, after = (only(np.asarray(r), frequency=frequency) for r in (reflection, turned))
    assert before.in_doubt().state is after.in_doubt().state  # but for the doubt of a cable
    assert after.worst_return_loss_db == pytest.approx(before.worst_return_loss_db, abs=1e-6)


def test_a_cable_that_nobody_said_lies_between_is_noted_and_a_raw_reading_s_is_not():
    turned = flat(12) * np.exp(-4j * np.pi * GRID * 15e-9)
    (note,) = [each for each in verdict(turned).notes if "turns as behind" in each]
    assert "15.0 ns of cable (some 3.1 m)" in note
    assert note in verdict(turned).doubts
    assert verdict(turned).cable_s == pytest.approx(15e-9)
    raw = judge(OWN, Reading(GRID, turned), Plane.RAW, FILE)
    assert raw.cable_s == 0
    assert not [each for each in raw.notes if "turns as behind" in each]
    assert not [each for each in verdict(flat(12)).notes if "turns as behind" in each]


def test_a_flat_match_is_noted_by_the_wanted_bands_whatever_lies_around_them():
    """The page sweeps around the bands too, where no antenna is matched."""
    wide = plan(
        'name = "low"\nlow_mhz = 700\nhigh_mhz = 800\nreturn_loss_db = 10',
        'name = "high"\nlow_mhz = 1700\nhigh_mhz = 1800\nreturn_loss_db = 10',
    )
    f = np.linspace(600e6, 1900e6, 651)
    size = np.where((f < 690e6) | (f > 1810e6) | ((f > 810e6) & (f < 1690e6)), 0.6, 0.15)
    noted = [each for each in verdict(size + 0j, wide, f).notes if "over a wide range" in each]
    assert len(noted) == 1
    size[np.argmin(np.abs(f - 750e6))] = 0.3
    assert not [each for each in verdict(size + 0j, wide, f).notes if "over a wide range" in each]


def test_a_doubt_takes_the_pass_away_and_stands_in_notes_and_json():
    doubt = "The short no. 12 was out of date."
    doubted = verdict(flat(20), warnings=(doubt,))
    assert doubted.overall is State.CONDITIONAL_PASS
    assert doubted.words == "conditional pass"
    assert doubted.bands[0].words == "conditional pass (in doubt)"
    assert doubted.bands[0].margin_db == pytest.approx(10)
    assert doubted.doubts == (doubt,)
    assert doubt in doubted.notes
    assert doubted.as_json()["doubts"] == [doubt]
    assert "doubts" not in verdict(flat(20)).as_json()
    assert verdict(flat(5), warnings=(doubt,)).overall is State.FAIL  # nothing gets better


def test_a_remark_is_a_note_and_takes_nothing_away():
    remarked = verdict(flat(20), remarks=("A remark.",))
    assert remarked.overall is State.PASS
    assert "A remark." in remarked.notes
    assert remarked.doubts == ()


@pytest.mark.parametrize(
    ("limit", "meant"),
    [
        ("vswr = 10", "return_loss_db = 10"),
        ("vswr = 6", "return_loss_db = 6"),
        ("return_loss_db = 1.5", "vswr = 1.5"),
        ("return_loss_db = -2", "vswr = 2"),
        ("return_loss_db = 0.3162", "return_loss_db = 10.0"),
        ("vswr = 3.5", ""),
        ("return_loss_db = 6", ""),
    ],
)
def test_a_limit_that_nobody_wants_is_a_doubt_of_its_band_with_what_was_meant(limit, meant):
    wanted = f'name = "own"\nlow_mhz = 832\nhigh_mhz = 862\n{limit}'
    other = 'name = "other"\nlow_mhz = 835\nhigh_mhz = 860\nreturn_loss_db = 10'
    found = verdict(flat(20), plan(wanted, other))
    assert found.bands[1].state is State.PASS
    if not meant:
        assert found.doubts == ()
        return
    assert found.bands[0].state is State.CONDITIONAL_PASS
    assert found.overall is State.CONDITIONAL_PASS
    assert not missing_words(found.doubts[0], "own", limit.split()[0], "did you mean", meant)


def test_a_band_in_gigahertz_is_a_doubt():
    frequency = np.linspace(1e6, 3e6, 201)
    wanted = plan('name = "own"\nlow_mhz = 1.71\nhigh_mhz = 1.785\nreturn_loss_db = 10')
    found = verdict(np.full(201, 0.1 + 0j), wanted, frequency)
    assert not missing_words(" ".join(found.doubts), "low_mhz = 1.71", "1710 MHz, given in GHz")


def test_no_interval_reaches_below_0_db():
    found = only(flat(0.5), uncertainty=within(flat(0.5), 0.2))
    assert found.interval_db is not None
    assert found.interval_db[0] == 0.0
    assert found.interval_db[1] > 0
    assert not missing_words(" ".join(uncertainty_sentences([found])), "0 dB", "passive")
    above = only(flat(-1), uncertainty=within(flat(-1), 0.01))
    assert above.interval_db == (0.0, 0.0)
