"""What was used lately: the newest few, nothing that is gone, and nothing that fails by it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from dashboard.bench.recent_files import MOST_KEPT, RecentFiles
from replay.clock import AcceleratedClock


class Day(AcceleratedClock):
    """A clock that is moved by hand."""

    at = datetime(2026, 11, 30, 8, tzinfo=UTC).timestamp()

    def now(self) -> datetime:
        return datetime.fromtimestamp(self.at, UTC)


def test_the_last_used_comes_first_and_only_a_few_are_kept(tmp_path: Path) -> None:
    clock = Day()
    recent = RecentFiles(tmp_path / "recent", clock)
    for number in range(MOST_KEPT + 3):
        clock.at += 60
        recent.used("plan", f'name = "{number}"\n')
    clock.at += 60
    recent.used("plan", 'name = "5"\n')
    kept = [each.text.split('"')[1] for each in recent.newest("plan")]
    assert kept[:2] == ["5", str(MOST_KEPT + 2)]
    assert len(kept) == len(set(kept)) == MOST_KEPT
    assert len(list((tmp_path / "recent").iterdir())) == MOST_KEPT
    assert recent.newest("recipe") == []


def test_a_calibration_that_is_gone_is_offered_no_more(tmp_path: Path) -> None:
    recent = RecentFiles(tmp_path / "recent", Day())
    files = [tmp_path / "one.json", tmp_path / "two.json"]
    for file in files:
        file.write_text("{}")
        recent.used_file(file)
    files[0].unlink()
    assert [each.text for each in recent.newest("calibration")] == [str(files[1])]


def test_nothing_fails_by_a_folder_that_cannot_be_written_or_a_damaged_file(tmp_path: Path) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("not a folder")
    recent = RecentFiles(in_the_way, Day())
    recent.used("plan", "x")
    assert recent.newest("plan") == []
    assert RecentFiles(None, Day()).newest("plan") == []
    folder = tmp_path / "recent"
    folder.mkdir()
    (folder / "plan-0.toml").write_bytes(b"\xff\xfe")
    (folder / "plan-1.toml").mkdir()
    assert RecentFiles(folder, Day()).newest("plan") == []
