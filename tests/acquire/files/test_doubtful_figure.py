"""Figures that fit their unit badly: what was probably meant is said."""

from __future__ import annotations

import pytest

from acquire.files.doubtful_figure import USUAL, doubtful_figure, doubtful_figures
from tests.wording import missing_words


@pytest.mark.parametrize(
    ("field", "value", "meant"),
    [
        ("length_mm", 0.009, ("9 mm", "given in m")),
        ("length_mm", 0.182, ("182 mm", "given in m")),
        ("offset_delay_ps", 3e-11, ("30 ps", "given in s")),
        ("offset_delay_ps", 0.0293, ("29.3 ps", "given in ns")),
        ("delay_ps", 0.88, ("880 ps", "given in ns")),
        ("ideal_offset_ps", 1e-11, ("10 ps", "given in s")),
        ("low_mhz", 1.71, ("1710 MHz", "given in GHz")),
        ("loss_at_mhz", 2.6e9, ("2600 MHz", "given in Hz")),
        ("c0_ff", 4.9433e-14, ("49.433 fF", "given in F")),
        ("l0_ph", -0.0034, ("-3.4 pH", "given in nH")),
    ],
)
def test_what_was_probably_meant_is_said(field: str, value: float, meant: tuple[str, ...]) -> None:
    assert not missing_words(doubtful_figure(field, value), field, "did you mean", *meant)


@pytest.mark.parametrize("field", USUAL)
def test_usual_figures_and_nought_draw_no_word(field: str) -> None:
    usual = USUAL[field]
    for value in (usual.least, usual.most, -usual.least, 0.0):
        assert doubtful_figure(field, value) == ""


def test_a_figure_that_no_unit_explains_is_to_be_looked_at_again() -> None:
    assert not missing_words(doubtful_figure("size_mm", 1e9, "The size arm_a"), "arm_a", "again")


def test_of_a_table_only_known_figures_are_looked_at() -> None:
    table = {"length_mm": 0.009, "words": "x", "format": 1, "removed": True, "delay_ps": None}
    (found,) = doubtful_figures(table, "The plane")
    assert found.startswith("The plane: length_mm")
