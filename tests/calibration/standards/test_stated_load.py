"""Which loads may be stated, where, and what stays of what was said."""

from __future__ import annotations

from pathlib import Path

import pytest

from acceptance.errors import VerdictError
from calibration.errors import CalibrationError, KitError
from calibration.files.store import load_kit
from calibration.standards.kit_file import kit_as_table, kit_from_table, parse_kit
from calibration.standards.stated_load import require_stated_load
from tests.calibration.made_kits import IDEAL_KIT, no_file
from tests.wording import missing_words


@pytest.mark.parametrize(
    ("decibels", "source"),
    [(None, ""), (14.0, ""), (26.0, "its maker"), (46.0, ""), (50.0, "certificate 123")],
)
def test_a_load_may_be_stated_from_14_db_and_above_46_db_with_where_that_is_from(
    decibels: float | None, source: str
) -> None:
    require_stated_load(decibels, source)


@pytest.mark.parametrize(
    ("decibels", "source", "words"),
    [
        (13.9, "", ("14 dB", "better load")),
        (8.0, "certificate 123", ("no interval holds",)),
        (-30.0, "", ("positive number",)),
        (float("nan"), "", ("positive number",)),
        (90.0, "certificate 123", ("80 dB",)),
        (46.1, "", ("where is the figure from?", "--load-source")),
        (50.0, "  ", ("where is the figure from?",)),
        (50.0, "a\nb", ("one line",)),
        (None, "certificate 123", ("return loss too",)),
    ],
)
def test_any_other_is_refused_with_the_cure(
    decibels: float | None, source: str, words: tuple[str, ...]
) -> None:
    with pytest.raises(CalibrationError) as caught:
        require_stated_load(decibels, source)
    assert not missing_words(str(caught.value), *words)


def test_a_kit_file_says_where_its_figure_is_from_and_keeps_it() -> None:
    stated = IDEAL_KIT + 'return_loss_db = 50\nload_source = "certificate 123"\n'
    kit = parse_kit(stated, "own.toml", no_file)
    assert (kit.load_return_loss_db, kit.load_source) == (50.0, "certificate 123")
    assert kit_from_table(kit_as_table(kit), "again", no_file).load_source == "certificate 123"
    for bad in ("return_loss_db = 50\n", "return_loss_db = 10\n", "load_source = 5\n"):
        with pytest.raises(KitError, match="load"):
            parse_kit(IDEAL_KIT + bad, "own.toml", no_file)


def test_a_calibration_of_former_days_keeps_its_kit_whatever_that_states() -> None:
    table = kit_as_table(load_kit("ideal"))
    table["standard"]["load"]["return_loss_db"] = 10.0
    assert kit_from_table(table, "stored", no_file).load_return_loss_db == 10.0


def test_python_users_are_asked_too(tmp_path: Path) -> None:
    import bandwright

    path = tmp_path / "a.s1p"
    path.write_text("# MHz S MA R 50\n800 0.1 10\n801 0.1 11\n802 0.1 12\n")
    with pytest.warns(UserWarning, match="plane"):
        sweep = bandwright.read_touchstone(path)
    plan = tmp_path / "plan.toml"
    plan.write_text('name = "x"\n[[band]]\nname = "b"\nlow_mhz = 800\nhigh_mhz = 802\nvswr = 2\n')
    with pytest.raises((CalibrationError, VerdictError), match="14 dB"):
        bandwright.judge(plan, sweep, assumptions=bandwright.Assumptions(load_db=8))
    with pytest.raises(CalibrationError, match="14 dB"):
        bandwright.calibrate({}, "ideal", load_db=8)
