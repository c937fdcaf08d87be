"""The reference plane: moved exactly, and no more surely than what lies between is known."""

from __future__ import annotations

import dataclasses
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from acquire.errors import TouchstoneError
from acquire.sweep import ComplexArray, Plane, Reading, Source, Sweep
from acquire.touchstone.reader import TwoPortFile, parse_two_port
from acquire.touchstone.writer import format_touchstone
from calibration.cable.measured_line import BARE_ENDS, MeasuredLine
from calibration.calibration_budget import budget_of_file
from calibration.error_terms.one_port import ErrorTerms, correct, embed
from calibration.errors import PlaneError, RangeError
from calibration.files.store import load_cable_types, load_plane
from calibration.plane.fixture import Fixture
from calibration.plane.loss import LossLaw
from calibration.plane.reference_plane import (
    CONNECTOR,
    DeclaredLine,
    Joints,
    ReferencePlane,
    carried,
    one_way_loss_db,
    worst_floor_db,
)
from calibration.uncertainty.budget import Assumptions, Budget, Contribution
from calibration.uncertainty.interval import interval, radius
from tests.calibration.random_pigtails import HiddenPigtail

GRID = np.linspace(700e6, 2700e6, 201)
NOTHING_WRONG = Budget(GRID, ())
HALF = st.floats(0, 0.9)
TURN = st.floats(-np.pi, np.pi)


def line_network(delay_s: float, loss_db: float) -> skrf.Network:
    """A line as scikit-rf has it, by its propagation constant."""
    frequency = skrf.Frequency.from_f(GRID, unit="Hz")
    gamma = loss_db * np.log(10) / 20 * np.sqrt(GRID / 1e9) + 2j * np.pi * GRID * delay_s
    return skrf.media.DefinedGammaZ0(frequency, gamma=gamma, z0=50).line(1, "m")


def swept(reflection: ComplexArray, plane: Plane = Plane.CONNECTOR) -> Sweep:
    source = Source("virtual", "invented", "invented", "virtual:")
    return Sweep(GRID, reflection, plane, datetime(2026, 5, 1, tzinfo=UTC), 1, source, ())


# Section by section of the handbooks' rows: near end, loss one way, antenna itself, dB.
NEAR_AND_FAR = [
    (15.0, 6.0, 3.0),  # 3 dB behind 6 dB one way reads 15 dB: BRATS amateur course [read]
    (16.0, 3.0, 10.0),  # 10 dB through 3 dB reads 16 dB, VSWR 1.377 [derived]
    (13.0, 6.0, 1.0),  # a false pass: 1 dB behind 6 dB reads 13 dB [derived]
]


@pytest.mark.parametrize(("near_db", "loss_db", "far_db"), NEAR_AND_FAR)
def test_a_reading_is_the_antenna_and_the_cable_twice(
    near_db: float, loss_db: float, far_db: float
) -> None:
    line = DeclaredLine(words="line", delay_s=1e-9, loss=LossLaw(loss_db / np.sqrt(1800), 0))
    plane = ReferencePlane(Plane.ANTENNA, line)
    read = np.full(GRID.size, 10 ** (-near_db / 20) + 0j)
    at = int(np.searchsorted(GRID, 1800e6))
    moved = correct(line.moved(NOTHING_WRONG).terms, read)
    assert -20 * np.log10(abs(moved[at])) == pytest.approx(far_db, abs=1e-9)
    assert plane.words == "at the antenna's feed after line"


@given(HALF, TURN, st.floats(1e-12, 5e-9), st.floats(0, 6))
def test_a_line_is_undone_exactly(size: float, turn: float, delay_s: float, loss_db: float) -> None:
    """Against scikit-rf's cascade [run]."""
    antenna = np.full(GRID.size, size * np.exp(1j * turn))
    network = skrf.Network(frequency=skrf.Frequency.from_f(GRID, unit="Hz"), s=antenna, z0=50)
    seen = (line_network(delay_s, loss_db) ** network).s[:, 0, 0]
    line = DeclaredLine(words="line", delay_s=delay_s, loss=LossLaw(loss_db / np.sqrt(1000), 0))
    found = correct(line.moved(NOTHING_WRONG).terms, seen)
    assert np.abs(found - antenna).max() < 1e-12


@given(HALF, TURN, st.floats(0.01, 0.4), TURN)
def test_an_error_is_carried_through_a_two_port_as_the_derivative_says(
    size: float, turn: float, match: float, other: float
) -> None:
    """Against moving a reading that is a little off: the bilinear map itself."""
    one = np.ones(1)
    terms = ErrorTerms(
        1e9 * one,
        match * np.exp(1j * other) * one,
        0.7 * match * np.exp(-2j * other) * one,
        0.6 * np.exp(2j * other) * one,
    )
    coefficients = np.array([[0.02 + 0.01j], [0.05j], [-0.03 + 0j]])
    each = Contribution("c", "stated", "", True, coefficients)
    antenna = np.array([size * np.exp(1j * turn)])
    seen, tiny = embed(terms, antenna), 1e-6
    off = correct(terms, seen + tiny * each.at(seen)) - antenna
    assert off[0] == pytest.approx(tiny * carried(each, terms).at(antenna)[0], rel=1e-4, abs=1e-11)


def test_undoing_loss_lifts_the_floor_by_it_and_more() -> None:
    """A directivity of 0.01 behind 3 dB, there and back 6 dB: 40 dB becomes 34 dB [derived]; the
    joints' unknown 30 dB then take it further."""
    flat = np.zeros((3, GRID.size), dtype=complex)
    flat[0] = 0.01
    before = Budget(GRID, (Contribution("directivity", "stated", "", True, flat),))
    line = DeclaredLine(words="line", delay_s=1e-9, loss=LossLaw(3 / np.sqrt(2700), 0))
    none = np.zeros(GRID.size, dtype=complex)
    perfect = dataclasses.replace(line, joints=Joints(80, "stated"))
    moved = perfect.moved(before)
    floor_db = -20 * np.log10(interval(moved.budget, none).floor[-1])
    assert floor_db == pytest.approx(34.0, abs=0.15)
    assert worst_floor_db(before) == pytest.approx(40)
    there = ReferencePlane(Plane.ANTENNA, perfect).move(Reading(GRID, none), before)
    assert there.de_embedding is not None
    assert there.de_embedding.sentence == (
        "Undoing line, 1.5 to 3.0 dB one way, takes the trust floor from 40.0 to 33.9 dB."
    )
    worse = -20 * np.log10(interval(line.moved(before).budget, none).floor[-1])
    assert worse < 25


def test_a_delay_that_is_not_sure_moves_no_return_loss() -> None:
    """Only the complex value is less sure: 4 pi f 50 ps of 0.3 at 2.7 GHz is 0.51 [derived]."""
    sure = DeclaredLine(words="line", delay_s=1e-9)
    unsure = dataclasses.replace(sure, delay_tolerance_s=50e-12)
    read = np.full(GRID.size, 0.3 + 0j)
    told, moved = [], []
    for line in (sure, unsure):
        moved.append(line.moved(NOTHING_WRONG))
        told.append(interval(moved[-1].budget, correct(moved[-1].terms, read)))
    assert told[0].high.tolist() == told[1].high.tolist()
    assert told[0].low.tolist() == told[1].low.tolist()
    assert radius(moved[1].budget, read)[-1] == pytest.approx(0.51, rel=0.15)
    assert radius(moved[0].budget, read)[-1] < 0.1


def test_more_loss_than_a_cable_has_is_refused() -> None:
    line = DeclaredLine(words="line", delay_s=1e-9, loss=LossLaw.at_one(6, 1800, 0.9))
    sweep = swept(np.full(GRID.size, 0.5 + 0j))
    with pytest.raises(PlaneError, match=r"no antenna reflects more than all.*cable is not on"):
        ReferencePlane(Plane.ANTENNA, line).move(sweep, budget_of_file(GRID, Assumptions()))


def test_only_a_reading_at_the_connector_is_moved() -> None:
    line = DeclaredLine(words="line", delay_s=1e-9)
    plane = ReferencePlane(Plane.ANTENNA, line)
    moved = plane.move(swept(np.full(GRID.size, 0.2 + 0j)), NOTHING_WRONG)
    assert moved.reading.plane is Plane.ANTENNA
    assert moved.budget.contributions
    with pytest.raises(PlaneError, match=r"uncorrected\. Calibrate first"):
        plane.move(swept(np.full(GRID.size, 0.2 + 0j), Plane.RAW), NOTHING_WRONG)
    same = swept(np.full(GRID.size, 0.2 + 0j))
    assert CONNECTOR.move(same, NOTHING_WRONG).reading is same
    assert CONNECTOR.words == "at the end of the calibrated cable"


# dB per 100 ft at 30 and 150 MHz: ARRL's correction to its General Class manual, Table 6-1 [read].
ARRL = {
    "rg-58": (2.47, 5.63),
    "rg-213": (1.08, 2.53),
    "rg-8x": (1.96, 4.53),
}
# RG-58 beyond that, dB/m, by K1 = .444 and K2 = .00126 per 100 ft: extrapolated [run].
RG58 = [(700, 0.414), (900, 0.474), (1800, 0.692), (2600, 0.850), (3500, 1.007)]


@pytest.mark.parametrize("name", ARRL)
def test_the_table_of_cables_gives_the_published_losses(name: str) -> None:
    cable = load_cable_types()[name]
    assert cable.loss.db(np.array([30e6, 150e6])) * 30.48 == pytest.approx(ARRL[name], rel=1e-6)
    assert "[read]" in cable.source


@pytest.mark.parametrize(("mhz", "db_per_m"), RG58)
def test_the_loss_law_carries_rg_58_to_the_cellular_bands(mhz: float, db_per_m: float) -> None:
    here = np.array([mhz * 1e6])
    assert LossLaw(0.444, 0.00126).times(1 / 30.48).db(here) == pytest.approx(db_per_m, abs=6e-4)
    assert load_cable_types()["rg-58"].loss.db(here) == pytest.approx(db_per_m, rel=5e-3)


# Velocity factors: a coax maker's sheet [read]; 1/sqrt(2.25), 1/sqrt(2.07) [derived].
@pytest.mark.parametrize(
    ("name", "least", "most"), [("rg-58", 0.655, 0.67), ("ptfe-2.5mm", 0.69, 0.70)]
)
def test_the_table_of_cables_gives_their_velocity(name: str, least: float, most: float) -> None:
    assert least <= load_cable_types()[name].velocity_factor <= most


def test_rg_174_is_carried_by_what_it_loses_at_a_gigahertz() -> None:
    """10.3 dB per 100 ft at 150 MHz [read, ARRL]; about 1.05 dB/m at 1 GHz [memory]. Carried on
    from 30 and 150 MHz alone it would be .90."""
    loss = load_cable_types()["rg-174"].loss
    assert loss.db(np.array([150e6, 1e9])) == pytest.approx([10.3 / 30.48, 1.05], rel=2e-3)


def test_rg_58_has_a_row_for_either_conductor() -> None:
    """Stranded about 0.67 dB/m at 1 GHz [memory], a third more than solid."""
    types, here = load_cable_types(), np.array([1e9])
    assert types["rg-58-stranded"].loss.db(here) == pytest.approx(0.67, rel=1e-6)
    assert types["rg-58"].loss.db(here) < 0.51


def test_a_cable_from_memory_says_so() -> None:
    types = load_cable_types()
    assert {name for name, each in types.items() if each.certainty == "read"} == set(ARRL)
    for each in types.values():
        marks = {"read": ["[read]"], "memory": ["[memory]"]}.get(each.certainty)
        assert all(mark in each.source for mark in marks or ["[read]", "[memory]"])


def test_foam_has_the_spread_of_its_makers() -> None:
    # a coax maker's sheet: foam PE .78 to .84 [read]
    assert load_cable_types()["foam-10mm"].velocity_words == "0.78 to 0.84"


def test_a_law_that_no_coax_obeys_is_refused() -> None:
    with pytest.raises(PlaneError, match="loss rises faster"):
        LossLaw.through((100, 1000), (2.0, 2.1))


@pytest.mark.parametrize(
    ("typed", "words", "delay_ps", "loss_db"),
    [
        ("cable=rg-58 length_mm=1000", "1 m of RG-58", 5054.0, 0.692),
        ("length_mm=182 velocity_factor=0.70", "182 mm of line", 867.3, 0.0),
        ("delay_ps=900 loss_db=0.5 loss_at_mhz=1800", "900 ps of line", 900.0, 0.5),
        ("delay_ps=900,words=feed", "feed", 900.0, 0.0),
    ],
)
def test_a_plane_is_typed_in_one_line(
    typed: str, words: str, delay_ps: float, loss_db: float
) -> None:
    """1 m at .66 c is 5054 ps; 182 mm at .70 c is 867.3 ps [derived]."""
    plane = load_plane(typed)
    assert plane.words == f"at the antenna's feed after {words}"
    line = plane.between
    assert isinstance(line, DeclaredLine)
    assert line.delay_s * 1e12 == pytest.approx(delay_ps, rel=1e-4)
    assert line.loss.db(np.array([1800e6]))[0] == pytest.approx(loss_db, rel=5e-3, abs=1e-9)


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("mast", "is no reference plane"),
        ("cable=copper length_mm=3", 'has no cable "copper". It has rg-58'),
        ("cable=rg-58", "needs its length_mm|give length_mm"),
        ("length_mm=100", "needs a velocity_factor"),
        ("delay_ps=3 length_mm=2 velocity_factor=0.7", "not both"),
        ("delay_ps=900 loss_db=3", "go together"),
        ("delay_ps=900 lenght_mm=3", "lenght_mm is not a field it knows. Did you mean length_mm"),
        ("delay_ps=-1", "delay_ps is -1.0"),
        ("delay_ps=900 joints_db=2", "joints_db is 2.0"),
        ("fixture=none.s2p", "cannot be read"),
        ("open=../x.s1p", "in the same folder"),
        ("open=x.s1p ended_by=glue", "ended_by is 'glue'"),
    ],
)
def test_a_plane_that_cannot_be_used_is_refused_with_the_cure(typed: str, why: str) -> None:
    with pytest.raises(PlaneError, match=why):
        load_plane(typed)


def two_port(delay_s: float = 0.3e-9, loss_db: float = 0.5) -> ComplexArray:
    """A lossy line between two mismatches, by scikit-rf."""
    frequency = skrf.Frequency.from_f(GRID, unit="Hz")
    media = skrf.media.DefinedGammaZ0(frequency, gamma=1j * np.ones(GRID.size), z0=50)
    step = media.shunt_capacitor(0.2e-12) ** media.inductor(0.4e-9)
    return np.asarray((step ** line_network(delay_s, loss_db) ** media.inductor(0.3e-9)).s)


@pytest.mark.parametrize("turned", [False, True])
def test_a_fixture_is_undone_as_scikit_rf_does(turned: bool) -> None:
    matrix = two_port()
    frequency = skrf.Frequency.from_f(GRID, unit="Hz")
    antenna = 0.4 * np.exp(2j * np.pi * GRID * 1e-9)
    network = skrf.Network(frequency=frequency, s=matrix, z0=50)
    seen = (
        (network.flipped() if turned else network)
        ** skrf.Network(frequency=frequency, s=antenna, z0=50)
    ).s[:, 0, 0]
    fixture = Fixture(words="clamp", data=TwoPortFile(GRID, matrix), turned=turned)
    moved = fixture.moved(NOTHING_WRONG)
    assert np.abs(correct(moved.terms, seen) - antenna).max() < 1e-9
    assert one_way_loss_db(moved.terms)[60] == pytest.approx(0.5 * np.sqrt(1.3), abs=0.1)
    assert {each.name for each in moved.budget.contributions} == {
        f"the fixture's {name}" for name in ("S11", "S21", "S22")
    }


def test_a_fixture_that_gives_power_or_is_not_the_same_both_ways_is_refused() -> None:
    with pytest.raises(PlaneError, match="more comes out than goes in"):
        Fixture(words="clamp", data=TwoPortFile(GRID, 1.02 * two_port(loss_db=0)))
    isolator = two_port()
    isolator[:, 0, 1] *= 0.5
    with pytest.raises(PlaneError, match="not the same both ways"):
        Fixture(words="clamp", data=TwoPortFile(GRID, isolator))
    with pytest.raises(PlaneError, match="nothing can be told"):
        Fixture(words="clamp", data=TwoPortFile(GRID, 0.05 * two_port()))
    with pytest.raises(RangeError, match="is known from 700 to 2700 MHz"):
        Fixture(words="clamp", data=TwoPortFile(GRID, two_port())).two_port(GRID * 1.1)


def test_a_two_port_file_is_read_whole() -> None:
    rows = "# MHz S MA R 50\n700 0.1 0 0.9 -90 0.9 -90 0.2 180\n800 0.1 0 0.8 -90 0.8 -90 0.2 180\n"
    found = parse_two_port(rows, "clamp.s2p")
    assert found.frequency_hz.tolist() == [700e6, 800e6]
    assert found.matrix[1, 0, 1] == pytest.approx(-0.8j)
    assert found.matrix[0, 1, 1] == pytest.approx(-0.2)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("# MHz S MA R 75\n700 0.1 0 0.9 -90 0.9 -90 0.2 180\n", "referred to 75 ohm"),
        ("# MHz S MA R 50\n700 0.1 0\n", r"1 port\(s\)"),
        ("# MHz Z MA R 50\n700 0.1 0 0.9 -90 0.9 -90 0.2 180\n", "Z parameters"),
        ("# MHz S MA R 50\n700 0.1 0 nan -90 0.9 -90 0.2 180\n", "not a number"),
    ],
)
def test_what_is_no_fixture_is_refused(text: str, why: str) -> None:
    with pytest.raises(TouchstoneError, match=why):
        parse_two_port(text, "clamp")


def measured_pigtail() -> tuple[HiddenPigtail, dict[str, Reading]]:
    pigtail = HiddenPigtail(1.2e-9, LossLaw.at_one(1.0, 1800, 0.9), 0.02j, -0.015j, 1.8e9)
    ends = {
        name: Reading(GRID, pigtail.seen(standard.reflection(GRID), GRID))
        for name, standard in BARE_ENDS.items()
    }
    return pigtail, ends


def test_a_pigtail_s_files_are_read_beside_its_own(tmp_path: Path) -> None:
    pigtail, ends = measured_pigtail()
    for name, reading in ends.items():
        (tmp_path / f"{name}.s1p").write_text(format_touchstone(reading))
    path = tmp_path / "pigtail.toml"
    path.write_text('format = 1\nopen = "open.s1p"\nshort = "short.s1p"\n')
    plane = load_plane(str(path))
    assert (
        plane.words
        == "at the antenna's feed after the pigtail measured with its end open and shorted"
    )
    antenna = 0.3 * np.exp(-2j * np.pi * GRID * 0.5e-9)
    read = Reading(GRID, pigtail.seen(antenna, GRID))
    moved = plane.move(read, budget_of_file(GRID, Assumptions(load_db=40)))
    found = interval(moved.budget, moved.reading.reflection)
    assert ((found.low <= 0.3) & (found.high >= 0.3)).all()
    assert np.abs(moved.reading.reflection - antenna).max() < 0.035
    path.write_text('format = 1\nopen = "open.s1p"\nended_by = "kit"\n')
    with pytest.raises(PlaneError, match="no calibration says which kit"):
        load_plane(str(path))


@pytest.mark.parametrize("names", [("open",), ("short",), ("open", "short")])
@pytest.mark.parametrize("shape", [(1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 0, -1)])
@pytest.mark.parametrize("phase", [1, 1j, np.exp(0.7j)])
def test_an_error_that_all_readings_share_moves_the_antenna_as_it_is_said_to(
    names: tuple[str, ...], shape: tuple[int, int, int], phase: complex
) -> None:
    """Against ends and antenna really read with the error in them; the first order, sign and phase
    included, so that what cancels is known to cancel. (1, 0, -1) is a wrong load's."""
    delta = 1e-5
    coefficients = delta * np.outer(shape, np.ones(GRID.size)).astype(complex)
    each = Contribution("shared", "stated", "", True, coefficients)
    pigtail = HiddenPigtail(1.1e-9, LossLaw.at_one(1.5, 1800, 0.9), 0j, 0j, 1.8e9)

    def read(reflection: ComplexArray) -> ComplexArray:
        seen = pigtail.seen(reflection, GRID)
        return seen + phase * each.at(seen)

    ends = {name: Reading(GRID, read(BARE_ENDS[name].reflection(GRID))) for name in names}
    line = MeasuredLine(words="p", ends=ends, standards={name: BARE_ENDS[name] for name in names})
    moved = line.moved(Budget(GRID, (each,)))
    (carried_there,) = (one for one in moved.budget.contributions if one.name == "shared")
    for antenna in (0.0 + 0j, 0.4 - 0.3j, -0.9 + 0j):
        true = np.full(GRID.size, antenna)
        off = correct(moved.terms, read(true)) - true
        assert np.abs(off - phase * carried_there.at(true)).max() < 0.02 * delta


def test_another_grid_than_the_ends_costs_what_interpolation_may_miss() -> None:
    """The truth between the points of a coarse sweep of the ends stays inside what is stated."""
    pigtail, _ = measured_pigtail()
    coarse = GRID[::4]
    ends = {
        name: Reading(coarse, pigtail.seen(standard.reflection(coarse), coarse))
        for name, standard in BARE_ENDS.items()
    }
    line = MeasuredLine(words="p", ends=ends, standards=BARE_ENDS)
    between = GRID[2:-2:4]
    moved = line.moved(Budget(between, ()))
    named = [each for each in moved.budget.contributions if each.name.startswith("interpolating")]
    assert len(named) == 2
    exact = {
        name: Reading(between, pigtail.seen(standard.reflection(between), between))
        for name, standard in BARE_ENDS.items()
    }
    right = MeasuredLine(words="p", ends=exact, standards=BARE_ENDS).moved(Budget(between, ()))
    for antenna in (0.3 + 0j, -0.8j):
        seen = embed(right.terms, np.full(between.size, antenna))
        off = np.abs(correct(moved.terms, seen) - antenna)
        stated = sum(each.size(np.full(between.size, antenna)) for each in named)
        assert (off <= stated + 1e-4).all()
        assert stated.max() < 0.05
    assert not any(each.name.startswith("interpolating") for each in right.budget.contributions)


def test_ends_that_say_nothing_are_refused() -> None:
    _, ends = measured_pigtail()
    opened = ends["open"]

    def line(**others: Reading) -> MeasuredLine:
        return MeasuredLine(words="p", ends={"open": opened} | others, standards=BARE_ENDS)

    with pytest.raises(PlaneError, match="One of them was swept twice"):
        line(short=opened)
    with pytest.raises(PlaneError, match="nothing reflects more than all"):
        line(short=Reading(GRID, 1.5 * ends["short"].reflection))
    with pytest.raises(PlaneError, match="its end was not short"):
        line(short=Reading(GRID, 0.02 * ends["short"].reflection))
    with pytest.raises(PlaneError, match="at different frequencies"):
        line(short=Reading(GRID[:-1], ends["short"].reflection[:-1]))
    with pytest.raises(PlaneError, match="Sweep with a finer step"):
        line(open=Reading(GRID[::20], opened.reflection[::20]))
    with pytest.raises(PlaneError, match="not measured"):
        line(open=Reading(GRID, np.where(GRID > 1e9, opened.reflection, np.nan)))
    with pytest.raises(PlaneError, match="open, shorted, or both"):
        MeasuredLine(words="p", ends={}, standards=BARE_ENDS)
    with pytest.raises(RangeError, match="was not measured at 27"):
        line().at(GRID * 1.1)
