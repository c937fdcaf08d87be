"""A cable's loss and delay from its end open and shorted; real long cables among them.

radiometer_antenna_2022 (see `test_measured_sets`): two readings of one long cable, 40 to 200 MHz,
its end open and shorted. Found [run]: 13.12 ns, 2.7 m at a velocity factor of .69; 0.23 dB one way
at 40 MHz and 0.53 at 200; joints of about 38 dB. Open and short differ by 16 ps and by up to
0.09 dB. The phase carried back to 0 Hz says that what the set calls open is the shorted end, and
the other way round; sizes and delays do not hang on that.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from acquire.sweep import Reading
from calibration.cable.loss_and_length import Cable, cable_of
from calibration.cable.measured_line import BARE_ENDS, MeasuredLine
from calibration.calibration_budget import budget_of, budget_of_file
from calibration.error_terms.one_port import correct
from calibration.plane.loss import LossLaw
from calibration.plane.reference_plane import Joints
from calibration.uncertainty.budget import Assumptions, Budget
from tests.calibration.random_pigtails import HiddenPigtail
from tests.calibration.test_measured_sets import NAMES, calibrated, measured, radiometer_kit, read

__all__ = ["measured"]
GRID = np.linspace(700e6, 2700e6, 401)


def line_of(pigtail: HiddenPigtail, names: tuple[str, ...] = ("open", "short")) -> MeasuredLine:
    ends = {
        name: Reading(GRID, pigtail.seen(BARE_ENDS[name].reflection(GRID), GRID)) for name in names
    }
    return MeasuredLine(words="it", ends=ends, standards={name: BARE_ENDS[name] for name in names})


def plain(loss_db: float, delay_s: float = 2e-9) -> HiddenPigtail:
    return HiddenPigtail(delay_s, LossLaw(loss_db / np.sqrt(1700), 0), 0j, 0j, 1.7e9)


def test_one_way_loss_is_a_quarter_of_both_return_losses() -> None:
    """3.2 and 3.0 dB -> 1.55 dB [derived], to the difference of a mean of dB and of sizes."""
    opened, shorted = (10 ** (-db / 20) for db in (3.2, 3.0))
    turn = np.exp(-4j * np.pi * GRID * 2e-9)
    ends = {"open": Reading(GRID, opened * turn), "short": Reading(GRID, -shorted * turn)}
    line = MeasuredLine(words="it", ends=ends, standards=BARE_ENDS)
    cable = cable_of(line, Budget(GRID, ()))
    assert cable.way.loss_db == pytest.approx(np.full(GRID.size, 1.55), abs=1e-3)
    assert cable.ends["open"].loss_db[0] == pytest.approx(1.6)
    assert cable.ends["short"].loss_db[0] == pytest.approx(1.5)


@pytest.mark.parametrize("names", [("open",), ("short",), ("open", "short")])
def test_delay_and_length_come_back_exactly_from_a_plain_line(names: tuple[str, ...]) -> None:
    cable = cable_of(line_of(plain(1.2), names), Budget(GRID, ()))
    assert cable.way.mean_delay_s == pytest.approx(2e-9, rel=1e-9)
    assert cable.way.loss_db[200] == pytest.approx(1.2, rel=1e-6)
    # 2 ns at .66 c: 395.7 mm [derived]
    assert cable.way.length_m(0.66) == pytest.approx(0.3957, abs=1e-4)
    assert not cable.exchanged


def test_an_open_taken_for_a_short_is_seen_by_its_phase_at_0_hz() -> None:
    right = line_of(plain(0.5))
    wrong = MeasuredLine(
        words="it",
        ends={"open": right.ends["short"], "short": right.ends["open"]},
        standards=BARE_ENDS,
    )
    found = cable_of(wrong, Budget(GRID, ()))
    assert found.exchanged
    assert found.way.mean_delay_s == pytest.approx(2e-9, rel=1e-6)


def test_a_bad_joint_is_told_at_its_size() -> None:
    """Joints of 20 dB at 1.7 GHz, so of 0.1 x 2.7/1.7 = 0.159 at 2.7 GHz [derived]."""
    bad = HiddenPigtail(2e-9, LossLaw(0, 0), 0.1j, -0.1j, 1.7e9)
    good = HiddenPigtail(2e-9, LossLaw(0, 0), 0.003j, -0.003j, 1.7e9)
    assert cable_of(line_of(bad), Budget(GRID, ())).mismatch == pytest.approx(0.159, rel=0.05)
    assert cable_of(line_of(good), Budget(GRID, ())).mismatch < 0.005


@pytest.mark.parametrize(("load_db", "linked"), [(60.0, True), (26.0, False)])
def test_turns_are_counted_across_a_gap_only_as_far_as_the_slope_foretells_them(
    load_db: float, linked: bool
) -> None:
    """Two narrow bands 1.8 GHz apart and 15 ns of cable: 54 turns lie between [derived]. With a
    good load they are counted; with one nobody stated they are not, and the delay says so."""
    low, high = np.linspace(790e6, 850e6, 61), np.linspace(2600e6, 2660e6, 61)
    grid = np.concatenate([low, high])
    pigtail = HiddenPigtail(15e-9, LossLaw.at_one(1.0, 1800, 0.9), 0j, 0j, 1.8e9)
    ends = {
        name: Reading(grid, pigtail.seen(BARE_ENDS[name].reflection(grid), grid))
        for name in BARE_ENDS
    }
    line = MeasuredLine(words="it", ends=ends, standards=BARE_ENDS, joints=Joints(60, "stated"))
    assumptions = Assumptions(
        load_db=load_db, connection=0.0 if linked else 0.02, cable=0.0,
        modelled_offset_ps=0.05 if linked else 5.0,
    )  # fmt: skip
    way = cable_of(line, budget_of_file(grid, assumptions)).way
    assert np.isfinite(way.begins_rad) == linked
    assert abs(way.mean_delay_s - 15e-9) <= way.mean_delay_uncertainty_s
    assert (way.mean_delay_uncertainty_s < 0.1e-9) == linked


SHIPPED = (Assumptions(), Joints())
LABORATORY = (Assumptions(load_db=46, connection=2e-4, cable=0.0), Joints(36, "stated"))
"""A laboratory's bench [practice], and joints a little worse than those found."""
BENCH = pytest.mark.parametrize("bench", [SHIPPED, LABORATORY], ids=["as shipped", "laboratory"])


def radiometer(folder: Path, bench: tuple[Assumptions, Joints] = SHIPPED) -> Cable:
    here = folder / "radiometer_antenna_2022"
    raw = {name: read(here / f"raw_{name[0].upper()}.s1p") for name in NAMES}
    calibration = calibrated(radiometer_kit(), raw)
    # as the phase at 0 Hz says: see above
    files = {"open": "raw_short.s1p", "short": "raw_open.s1p"}
    ends = {}
    for name, file in files.items():
        reading = read(here / file)
        fixed = correct(calibration.terms, reading.reflection)
        ends[name] = Reading(reading.frequency_hz, fixed)
    assumptions, joints = bench
    line = MeasuredLine(words="long cable", ends=ends, standards=BARE_ENDS, joints=joints)
    return cable_of(line, budget_of(calibration, assumptions))


@BENCH
def test_open_and_short_of_a_real_cable_agree_within_what_is_stated(
    measured: Path, bench: tuple[Assumptions, Joints]
) -> None:
    cable = radiometer(measured, bench)
    opened, shorted = cable.ends["open"], cable.ends["short"]
    apart_s = abs(opened.mean_delay_s - shorted.mean_delay_s)
    apart_db = np.abs(opened.loss_db - shorted.loss_db)
    print(
        f"delay {cable.way.mean_delay_s * 1e9:.3f} ns, ends apart by {apart_s * 1e12:.1f} ps "
        f"(+/- {opened.mean_delay_uncertainty_s * 1e12:.1f}, "
        f"{shorted.mean_delay_uncertainty_s * 1e12:.1f}); "
        f"loss {cable.way.loss_db[0]:.3f} to {cable.way.loss_db[-1]:.3f} dB, ends apart by at most "
        f"{apart_db.max():.3f} dB; joints {-20 * np.log10(cable.mismatch):.1f} dB"
    )
    assert not cable.exchanged
    assert cable.agree
    low = np.maximum(opened.loss_low_db, shorted.loss_low_db)
    high = np.minimum(opened.loss_high_db, shorted.loss_high_db)
    assert (low <= high).mean() == 1.0
    assert cable.way.mean_delay_s == pytest.approx(13.12e-9, abs=0.03e-9)
    if bench is LABORATORY:
        width = opened.loss_high_db - opened.loss_low_db
        assert (apart_db / width).max() > 0.2, "a statement this wide says nothing"


def test_a_real_cable_s_loss_follows_the_law(measured: Path) -> None:
    """k1 sqrt(f) + k2 f through two of its points stays within what is stated of all of them."""
    way = radiometer(measured, LABORATORY).way
    law = LossLaw.through(
        (45.0, 190.0), tuple(np.interp([45e6, 190e6], way.frequency_hz, way.loss_db))
    )
    inside = (way.loss_low_db <= law.db(way.frequency_hz)) & (
        law.db(way.frequency_hz) <= way.loss_high_db
    )
    assert inside.mean() > 0.95


def test_the_radiometer_set_s_own_names_are_found_exchanged(measured: Path) -> None:
    cable = radiometer(measured)
    again = MeasuredLine(
        words="as named",
        ends={
            "open": Reading(cable.way.frequency_hz, -cable.ends["short"].tracking),
            "short": Reading(cable.way.frequency_hz, cable.ends["open"].tracking),
        },
        standards=BARE_ENDS,
    )
    assert cable_of(again, Budget(cable.way.frequency_hz, ())).exchanged
