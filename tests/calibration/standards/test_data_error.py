"""What a standard's data says of its own error, and what becomes of it."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from acquire.sweep import Reading
from calibration.calibration_budget import budget_of
from calibration.errors import KitError
from calibration.files.store import load_calibration, load_kit, save_calibration
from calibration.standards.kit import Kit
from calibration.standards.kit_file import kit_as_table, kit_from_table, parse_kit
from calibration.standards.standard import DataStandard
from calibration.uncertainty.budget import Assumptions, Budget
from tests.calibration.conftest import WORKSHOP_KIT, WORKSHOP_LOAD
from tests.calibration.random_benches import FREQUENCY_HZ, Faults, HiddenBench

WHOLE = WORKSHOP_KIT.replace("return_loss_db = 32", "error = 0.006")


def parse(text: str) -> Kit:
    return parse_kit(text, "workshop.toml", lambda _: WORKSHOP_LOAD)


def load_of(kit: Kit) -> DataStandard:
    load = kit.standards["load"]
    assert isinstance(load, DataStandard)
    return load


def test_one_figure_holds_at_every_frequency() -> None:
    found = load_of(parse(WHOLE)).error_at(np.array([0.0, 1.5e9, 6e9]))
    assert found is not None
    np.testing.assert_array_equal(found, 0.006)


def test_one_figure_a_point_is_read_and_is_linear_between_the_points() -> None:
    kit = parse(WHOLE.replace("0.006", "[0.002, 0.004, 0.010]"))
    found = load_of(kit).error_at(np.array([1.5e9, 3e9, 4.5e9]))
    np.testing.assert_allclose(found, [0.003, 0.004, 0.007], rtol=1e-14)


def test_data_that_states_nothing_stays_unknown() -> None:
    assert load_of(parse(WHOLE.replace("error = 0.006\n", ""))).error_at(FREQUENCY_HZ) is None


@pytest.mark.parametrize("error", ["0.006", "[0.002, 0.004, 0.010]"])
def test_a_kit_written_out_keeps_the_error(error: str) -> None:
    kit = parse(WHOLE.replace("0.006", error))
    again = kit_from_table(kit_as_table(kit), "again", lambda _: WORKSHOP_LOAD)
    assert kit_as_table(again) == kit_as_table(kit)
    assert "error" in kit_as_table(again)["standard"]["load"]


@pytest.mark.parametrize(
    ("error", "words"),
    [
        ("-0.1", "0 to 1"),
        ("2.0", "0 to 1"),
        ("nan", "0 to 1"),
        ('"small"', "error is 'small'"),
        ("[0.002, -1.0, 0.01]", "0 to 1"),
        ("[0.002, 0.004]", "2 values for 3 points"),
    ],
)
def test_an_error_that_cannot_be_is_named_with_its_cure(error: str, words: str) -> None:
    with pytest.raises(KitError) as caught:
        parse(WHOLE.replace("0.006", error))
    assert words in str(caught.value)
    assert str(caught.value).endswith(".")


def data_kit(error: float | None) -> Kit:
    """The published 3.5 mm kit written out as data, its load's error stated or not."""
    model = load_kit("3.5mm-plug-50")
    standards = {
        name: DataStandard(
            each.kind, Reading(FREQUENCY_HZ, each.reflection(FREQUENCY_HZ)), "data", error
        )
        for name, each in model.standards.items()
    }
    return dataclasses.replace(model, standards=standards)


def definitions(budget: Budget) -> dict[str, tuple[str, float]]:
    """Origin and size at no reflection of each standard's definition."""
    none = np.zeros(FREQUENCY_HZ.size, dtype=complex)
    return {
        each.name: (each.origin, float(each.size(none).max()))
        for each in budget.contributions
        if each.name.endswith("definition")
    }


def test_a_stated_error_takes_the_place_of_the_assumed_one() -> None:
    found = {}
    for error in (None, 0.002):
        bench = HiddenBench(data_kit(error), Faults(0.002), np.random.default_rng(3))
        found[error] = definitions(budget_of(bench.calibration, Assumptions()))
    origin, size = found[None]["the load's definition"]
    assert (origin, size) == ("assumed", pytest.approx(0.005, rel=0.05))
    origin, size = found[0.002]["the load's definition"]
    assert (origin, size) == ("stated", pytest.approx(0.002, rel=0.05))


def test_a_stored_calibration_keeps_the_error(tmp_path: Path) -> None:
    bench = HiddenBench(data_kit(0.002), Faults(0.002), np.random.default_rng(3))
    save_calibration(bench.calibration, tmp_path / "c.json")
    again = load_calibration(tmp_path / "c.json")
    assert load_of(again.kit).error == 0.002
