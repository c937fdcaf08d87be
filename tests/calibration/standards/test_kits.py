"""Kit files: what is shipped, what a builder may write, what is refused and how."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from acquire.errors import TouchstoneError
from acquire.sweep import Reading
from calibration.errors import KitError
from calibration.files.store import list_kits, load_kit
from calibration.standards.kit_file import kit_as_table, kit_from_table, parse_kit
from calibration.standards.standard import CoefficientStandard, DataStandard
from tests.calibration.conftest import WORKSHOP_KIT, WORKSHOP_LOAD


def no_files(name: str) -> Reading:
    raise FileNotFoundError(2, "No such file or directory", name)


def load_data(name: str) -> Reading:
    assert name == "load.s1p"
    return WORKSHOP_LOAD


def parse(text: str) -> object:
    return parse_kit(text, "workshop.toml", load_data)


def test_three_kits_are_shipped_and_named_by_connector_and_gender() -> None:
    kits = list_kits()
    assert set(kits) == {"ideal", "n-plug-50", "3.5mm-plug-50"}
    for kit in kits.values():
        assert list(kit.standards) == ["open", "short", "load"]
        assert kit.source
        assert kit.load_return_loss_db is None, "nothing is stated, and unknown is not zero"
    assert "plug" in kits["n-plug-50"].connector


def test_a_builders_own_kit_is_read_whole() -> None:
    kit = parse_kit(WORKSHOP_KIT, "workshop.toml", load_data)
    assert (kit.name, kit.connector, kit.load_return_loss_db) == ("workshop", "SMA plug", 32.0)
    opened, load = kit.standards["open"], kit.standards["load"]
    assert isinstance(opened, CoefficientStandard)
    assert (opened.offset_delay_ps, opened.c0_ff) == (17.5, 13.67)
    assert isinstance(load, DataStandard)
    assert load.origin == "load.s1p"


@pytest.mark.parametrize("name", ["ideal", "n-plug-50", "3.5mm-plug-50", "workshop"])
def test_a_kit_written_out_is_the_same_kit(name: str) -> None:
    kit = parse_kit(WORKSHOP_KIT, "w", load_data) if name == "workshop" else load_kit(name)
    again = kit_from_table(kit_as_table(kit), "again", no_files)
    assert kit_as_table(again) == kit_as_table(kit)
    f = np.linspace(0, 6e9, 31)
    for standard, other in zip(kit.standards.values(), again.standards.values(), strict=True):
        np.testing.assert_array_equal(standard.reflection(f), other.reflection(f))


def test_further_standards_may_stand_in_a_kit() -> None:
    more = WORKSHOP_KIT + '[standard.offset-short]\nform = "coefficients"\nkind = "short"\n'
    kit = parse_kit(more, "w", load_data)
    assert list(kit.standards) == ["open", "short", "load", "offset-short"]


@pytest.mark.parametrize(
    ("before", "after", "words"),
    [
        ("offset_delay_ps = 17.5", "offset_delay_ps = 30020", ["offset_delay_ps is 30020", "1000"]),
        (
            "offset_delay_ps = 17.5",
            "offset_length_mm = 9000\nvelocity_factor = 1.0",  # 9 m
            ["standard.open: offset_length_mm is 9000", "0 to 300 mm"],
        ),
        ("offset_delay_ps = 17.5", "offset_length_mm = 9.0", ["velocity_factor", "give both"]),
        (
            "offset_delay_ps = 17.5",
            "offset_delay_ps = 1\noffset_length_mm = 9.0\nvelocity_factor = 0.7",
            ["not by both"],
        ),
        ("offset_delay_ps = 17.5", "offset_delay_ps = -1", ["offset_delay_ps is -1"]),
        ("offset_delay_ps = 17.5", "offset_delay_ps = nan", ["offset_delay_ps is nan"]),
        ("offset_delay_ps = 17.5", 'offset_delay_ps = "17"', ["offset_delay_ps is '17'"]),
        ("offset_delay_ps = 17.5", "offset_delay = 17.5", ["Did you mean offset_delay_ps?"]),
        ("c0_ff = 13.67", "l0_ph = 13.67", ["l0_ph says nothing about a standard of kind open"]),
        ("c0_ff = 13.67", "resistance_ohm = 49", ["resistance_ohm belongs to a load"]),
        ("c0_ff = 13.67", "offset_impedance_ohm = 0", ["offset_impedance_ohm is 0", "5 to 500"]),
        ('kind = "open"', 'kind = "opened"', ["kind is 'opened'", '"open", "short" or "load"']),
        ('kind = "short"', 'kind = "load"', ["standard.short", "must be of kind 'short'"]),
        ('form = "ideal"', 'form = "perfect"', ["form is 'perfect'", '"ideal"']),
        ('form = "ideal"\n', "", ["form is None"]),
        ('file = "load.s1p"\n', "", ["file is missing", "Touchstone"]),
        ("return_loss_db = 32", "return_loss_db = -32", ["return_loss_db is -32", "positive"]),
        ("c0_ff = 13.67", "return_loss_db = 30", ["belongs to [standard.load]"]),
        ("format = 1", "format = 2", ["format is 2", "only layout this version reads"]),
        ('name = "workshop"', 'name = "Work shop"', ["name is 'Work shop'", "small letters"]),
        ('label = "Workshop kit, SMA plugs"\n', "", ["label is missing"]),
        ("[standard.short]", "[standard.shirt]", ["has no [standard.short]"]),
        ("[standard.short]", "[standard.Short]", ["Short"]),
        ("[standard.load]", "[standard.load", ["not closed", "line"]),
    ],
)
def test_a_mistake_in_a_kit_is_named_with_its_field_and_cure(
    before: str, after: str, words: list[str]
) -> None:
    assert before in WORKSHOP_KIT
    with pytest.raises(KitError) as caught:
        parse(WORKSHOP_KIT.replace(before, after, 1))
    message = str(caught.value)
    assert message.startswith("Kit workshop.toml")
    for word in words:
        assert word in message
    assert message.endswith((".", "?"))
    assert "\n" not in message


def test_a_data_file_that_is_not_there_or_not_legal_is_named() -> None:
    with pytest.raises(KitError, match=r"standard\.load: the file load\.s1p cannot be read"):
        parse_kit(WORKSHOP_KIT, "workshop.toml", no_files)

    def damaged(name: str) -> Reading:
        raise TouchstoneError(f"{name}, line 3: no number.")

    with pytest.raises(KitError, match=r"standard\.load: load\.s1p, line 3"):
        parse_kit(WORKSHOP_KIT, "workshop.toml", damaged)


def test_a_kit_file_reads_its_data_from_beside_itself(tmp_path: Path) -> None:
    (tmp_path / "load.s1p").write_text("# GHz S RI R 50\n0 0.01 0\n3 0 0.02\n6 -0.03 0\n")
    path = tmp_path / "workshop.toml"
    path.write_text(WORKSHOP_KIT)
    kit = load_kit(str(path))
    assert abs(kit.standards["load"].reflection(np.array([3e9]))[0] - 0.02j) < 1e-12
    assert load_kit("workshop", tmp_path).label == kit.label


def test_a_users_kit_goes_before_a_shipped_one_of_the_same_name(tmp_path: Path) -> None:
    own = WORKSHOP_KIT.replace('"workshop"', '"ideal"').replace('form = "data"', 'form = "ideal"')
    (tmp_path / "mine.toml").write_text(own.replace('file = "load.s1p"\n', ""))
    assert load_kit("ideal", tmp_path).label == "Workshop kit, SMA plugs"
    assert load_kit("ideal").label == "Ideal standards"


def test_a_kit_that_does_not_exist_is_answered_with_those_that_do(tmp_path: Path) -> None:
    with pytest.raises(KitError, match=r"no kit 'n-plug'\. There are 3\.5mm-plug-50, ideal, n-p"):
        load_kit("n-plug")
    with pytest.raises(KitError, match="cannot be read"):
        load_kit(str(tmp_path / "none.toml"))
    (tmp_path / "odd.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(KitError, match="no UTF-8 text"):
        load_kit(str(tmp_path / "odd.toml"))
