"""A record of verdicts at the antenna's feed: it holds all that it takes to come to them again."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest

from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.acceptance_record import Acceptance, Condition
from acceptance.record.examination import examine
from acceptance.record.record_folder import parse_record, write_record
from acceptance.report.report_text import sheet
from acquire.sweep import Reading
from acquire.touchstone.writer import format_touchstone
from calibration.files.plane_file import PlaneText
from calibration.files.store import load_plane, read_plane
from dashboard.acceptance_run.running_acceptance import AntennaDetails, RunningAcceptance
from dashboard.errors import NotNowError
from tests.acceptance.made import BEGUN, F, accepted, record, sweeps
from tests.wording import missing_words

TYPED = "delay_ps=880 loss_db=0.3 loss_at_mhz=838"
LINE = 10 ** (-0.3 / 20) * np.exp(-2j * np.pi * F * 880e-12)


def at(said: str, acceptance: Acceptance | None = None) -> Acceptance:
    made = acceptance or accepted()
    plane = load_plane(said, made.calibration)
    return dataclasses.replace(made, plane=plane, declared=read_plane(said))


def plane_files(folder: Path) -> Path:
    """A pigtail read with its end open and shorted, and a file that says so."""
    (folder / "data").mkdir()
    for name, end in (("open", 1), ("short", -1)):
        text = format_touchstone(Reading(F, end * LINE**2), [])
        (folder / "data" / f"{name} end.S1P").write_text(text)
    path = folder / "pigtail.toml"
    path.write_text('open = "data/open end.S1P"\nshort = "data/short end.S1P"\n')
    return path


def fixture_file(folder: Path) -> Path:
    """A two-port of the same line."""
    rows = [
        f"{f:.0f} 0 0 {s.real:.12g} {s.imag:.12g} {s.real:.12g} {s.imag:.12g} 0 0"
        for f, s in zip(F, LINE, strict=True)
    ]
    (folder / "clamp.s2p").write_text("# Hz S RI R 50\n" + "\n".join(rows) + "\n")
    path = folder / "clamp.toml"
    path.write_text('fixture = "clamp.s2p"\n')
    return path


def test_a_typed_plane_is_kept_and_comes_to_the_same_verdict(tmp_path: Path) -> None:
    acceptance = at(TYPED)
    folder = write_record(record(acceptance), tmp_path)
    assert "loss_db" in (folder / "plane.toml").read_text()
    found = recheck_folder(folder)
    assert found.holds, found.lines
    assert found.examined is not None
    moved, still = found.examined.conditions[0], examine(accepted()).conditions[0]
    # 0.3 dB one way is 0.6 dB of return loss [derived]
    before_db, after_db = (each.verdict.bands[0].worst_return_loss_db for each in (still, moved))
    assert before_db is not None
    assert after_db is not None
    assert before_db - after_db == pytest.approx(0.6, abs=0.02)
    assert found.record.acceptance.plane.words == "at the antenna's feed after 880 ps of line"
    assert b"! undone: 880 ps of line" in (folder / "bare" / "corrected.s1p").read_bytes()


@pytest.mark.parametrize("make", [plane_files, fixture_file])
def test_the_files_that_a_plane_names_go_with_it(tmp_path: Path, make: object) -> None:
    beside = tmp_path / "beside"
    beside.mkdir()
    path = make(beside)  # type: ignore[operator]
    folder = write_record(record(at(str(path))), tmp_path / "records")
    assert all(each.is_file() for each in (folder / "plane").iterdir())
    for each in sorted(beside.rglob("*"), reverse=True):
        each.unlink() if each.is_file() else each.rmdir()
    found = recheck_folder(folder)
    assert found.holds, found.lines
    assert "after" in found.record.acceptance.plane.words


def test_a_changed_plane_is_found(tmp_path: Path) -> None:
    files: Mapping[str, bytes] = dict(record(at(TYPED)).files)
    changed = {**files, "plane.toml": files["plane.toml"].replace(b"0.3", b"0.2")}
    folder = tmp_path / "weir-3"
    for name, content in changed.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    found = recheck_folder(folder)
    assert not found.holds
    assert any("plane.toml" in line for line in found.checksum_differences)
    assert found.difference


def test_the_report_says_where_it_holds() -> None:
    said = dict(sheet(examine(at(TYPED)), "weir-3").basis)
    assert not missing_words(said["Reference plane"], "antenna's feed", "880 ps of line")


def test_what_was_declared_stays_what_it_was(tmp_path: Path) -> None:
    declared = read_plane(str(plane_files(tmp_path)))
    assert sorted(declared.files) == ["open.s1p", "short.s1p"]
    files = dict(record(at(str(tmp_path / "pigtail.toml"))).files)
    assert parse_record(files, "x").acceptance.declared == declared
    assert read_plane(TYPED) == PlaneText(
        '"delay_ps" = 880.0\n"loss_db" = 0.3\n"loss_at_mhz" = 838.0\n', {}
    )


def test_one_record_holds_one_plane(tmp_path: Path) -> None:
    running = RunningAcceptance(tmp_path)
    done = accepted()
    assert done.calibration is not None
    common = {
        "plan": done.plan,
        "calibration": done.calibration,
        "assumptions": done.assumptions,
        "at": BEGUN,
    }
    running.keep(Condition("bare", sweeps(838e6)), AntennaDetails("weir-3"), **common)  # type: ignore[arg-type]
    moved = AntennaDetails("weir-3", plane=at(TYPED).plane, declared=at(TYPED).declared)
    with pytest.raises(NotNowError, match="a record holds one plane"):
        running.keep(Condition("sealed", sweeps(820e6)), moved, **common)  # type: ignore[arg-type]
