"""The readings of check pieces on disk: only added to, bounded, and no damage hides the rest."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acceptance.errors import RecordError
from dashboard.files import check_pieces
from dashboard.files.check_pieces import (
    FILE,
    PUT_ASIDE,
    add_reading,
    latest_reading,
    piece_readings,
)
from tests.acceptance.batch.test_piece_chart import DAY, reading


def test_every_reading_is_a_line_and_the_newest_is_found(tmp_path: Path) -> None:
    assert latest_reading(tmp_path / "none") is None
    for day in range(3):
        add_reading(tmp_path, reading(9.5, day))
    assert [each.taken_at for each in piece_readings(tmp_path)] == [
        DAY + timedelta(days=n) for n in range(3)
    ]
    latest = latest_reading(tmp_path)
    assert latest is not None
    assert latest.taken_at == DAY + timedelta(days=2)


@given(st.binary(max_size=200))
def test_no_damage_hides_another_reading(
    tmp_path_factory: pytest.TempPathFactory, damage: bytes
) -> None:
    folder = tmp_path_factory.mktemp("pieces")
    add_reading(folder, reading(9.5, 0))
    with (folder / FILE).open("ab") as file:
        file.write(damage)
    add_reading(folder, reading(9.6, 1))
    assert len(piece_readings(folder)) == 2


def test_a_line_that_a_power_cut_left_half_is_passed_over(tmp_path: Path) -> None:
    add_reading(tmp_path, reading(9.5, 0))
    add_reading(tmp_path, reading(9.6, 1))
    whole = (tmp_path / FILE).read_bytes()
    (tmp_path / FILE).write_bytes(whole[:-40])
    add_reading(tmp_path, reading(9.7, 2))
    assert [each.taken_at.day for each in piece_readings(tmp_path)] == [1, 3]


def test_the_file_is_bounded_and_the_one_before_still_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(check_pieces, "LARGEST_FILE", 4000)
    for day in range(12):
        add_reading(tmp_path, reading(9.5, day))
    sizes = [(tmp_path / name).stat().st_size for name in (FILE, PUT_ASIDE)]
    assert max(sizes) <= 4000 + 4
    kept = piece_readings(tmp_path)
    assert kept[-1].taken_at == DAY + timedelta(days=11)
    assert 2 <= len(kept) < 12


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "a file").write_text("in the way")
    with pytest.raises(RecordError, match="could not be kept"):
        add_reading(tmp_path / "a file", reading(9.5))
