"""A Touchstone file read as a sweep."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from acquire.errors import TouchstoneError
from acquire.files.touchstone_file import read_touchstone
from acquire.sweep import NOT_NAMED, UNKNOWN_TIME, Plane

ROWS = "# MHz S RI R 50\n700 0.5 -0.25\n710 0.25 0.125\n"


def test_a_file_is_a_sweep_at_the_plane_it_names(tmp_path: Path) -> None:
    (tmp_path / "a.s1p").write_text("! plane: raw\n" + ROWS, encoding="ascii")
    sweep = read_touchstone(tmp_path / "a.s1p")
    assert sweep.frequency_hz.tolist() == [700e6, 710e6]
    assert np.array_equal(sweep.reflection, [0.5 - 0.25j, 0.25 + 0.125j])
    assert (sweep.plane, sweep.taken_at, sweep.request) == (Plane.RAW, UNKNOWN_TIME, ())
    assert (sweep.source.kind, sweep.source.analyzer) == ("file", NOT_NAMED)
    assert not sweep.source.measured


def test_where_the_file_names_no_plane_the_connector_is_assumed_and_said(tmp_path: Path) -> None:
    (tmp_path / "a.s1p").write_text(ROWS, encoding="ascii")
    with pytest.warns(UserWarning, match="connector is assumed"):
        assert read_touchstone(str(tmp_path / "a.s1p")).plane is Plane.CONNECTOR


def test_what_a_person_knows_of_the_file_is_taken(tmp_path: Path) -> None:
    (tmp_path / "a.s1p").write_text("! plane: raw\n" + ROWS, encoding="ascii")
    at = datetime(2026, 5, 1, 14, 5, tzinfo=UTC)
    sweep = read_touchstone(tmp_path / "a.s1p", plane=Plane.ANTENNA, taken_at=at, analyzer="weir-3")
    assert (sweep.plane, sweep.taken_at, sweep.source.analyzer) == (Plane.ANTENNA, at, "weir-3")


def test_what_is_odd_in_the_file_is_warned_of(tmp_path: Path) -> None:
    rows = ROWS.replace("0.5 -0.25", "1.5 -0.25")
    (tmp_path / "a.s1p").write_text("! plane: raw\n" + rows, encoding="ascii")
    with pytest.warns(UserWarning, match=r"a\.s1p: "):
        read_touchstone(tmp_path / "a.s1p")


def test_a_file_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(TouchstoneError, match=r"nothing\.s1p cannot be read"):
        read_touchstone(tmp_path / "nothing.s1p")
