"""`import`: a file of the past as a record that says what is not known of it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from acceptance.record.record_folder import recheck_folder

# |reflection| 0.05 everywhere: 26 dB [derived].
OLD = "! measured in the past\n# MHz S MA R 50\n" + "".join(
    f"{megahertz} 0.05 10\n" for megahertz in range(785, 875)
)
PLAN = 'name = "one band"\n[[band]]\nlte = 20\nreturn_loss_db = 10\n'


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """A file and a plan."""
    file, plan = tmp_path / "weir-1 old.s1p", tmp_path / "plan.toml"
    file.write_text(OLD, encoding="ascii")
    plan.write_text(PLAN, encoding="utf-8")
    return file, plan


def test_it_is_no_better_than_a_conditional_pass_until_the_load_is_stated(
    bandwright: Any, files: tuple[Path, Path], tmp_path: Path
) -> None:
    file, plan = files
    common = ("import", file, "--plan", plan, "--name", "weir-1", "--json")
    unknown = bandwright(*common, "--folder", tmp_path / "a")
    assert unknown.status == 1
    assert unknown.json["overall"] == "conditional pass"
    stated = bandwright(*common, "--load-db", "36", "--folder", tmp_path / "b")
    assert stated.status == 0
    assert stated.json["overall"] == "pass"
    for parent, words in (("a", "conditional pass"), ("b", "pass")):
        (folder,) = (tmp_path / parent).iterdir()
        found = recheck_folder(folder)
        assert found.holds, found.lines
        assert found.examined is not None
        assert found.examined.words == words
        assert (folder / "finished" / "original.s1p").read_text(encoding="ascii") == OLD
        done = json.loads((folder / "record.json").read_text(encoding="utf-8"))
        assert done["kind"] == "imported"
        assert done["source"]["kind"] == "file"


def test_the_unknown_calibration_is_said(bandwright: Any, files: tuple[Path, Path]) -> None:
    file, plan = files
    folder = plan.parent / "records"
    run = bandwright("import", file, "--plan", plan, "--name", "weir-1", "--folder", folder)
    assert "nothing is known of its calibration" in " ".join(run.out.split())
    assert "conditional pass" in run.out


def test_a_file_that_is_none_is_one_sentence_and_leaves_nothing(
    bandwright: Any, files: tuple[Path, Path]
) -> None:
    file, plan = files
    file.write_text("no data\n", encoding="ascii")
    folder = plan.parent / "records"
    run = bandwright("import", file, "--plan", plan, "--name", "weir-1", "--folder", folder)
    assert run.status == 2
    assert len(run.err.splitlines()) == 1
    assert not folder.exists()
