"""`import`: a file of the past as a record that says what is not known of it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from acceptance.recheck.recheck_folder import recheck_folder

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


def test_without_a_stated_load_it_passes_behind_the_default_and_says_so(
    bandwright: Any, files: tuple[Path, Path], tmp_path: Path
) -> None:
    file, plan = files
    common = ("import", file, "--plan", plan, "--name", "weir-1", "--json")
    note = "a load of 26 dB of unknown phase is assumed"
    for parent, options, noted in (("a", (), True), ("b", ("--load-db", "36"), False)):
        run = bandwright(*common, *options, "--folder", tmp_path / parent)
        assert (run.status, run.json["overall"]) == (0, "pass")
        assert any(note in each for each in run.json["notes"]) is noted
        (folder,) = (each for each in (tmp_path / parent).iterdir() if each.is_dir())
        found = recheck_folder(folder)
        assert found.holds, found.lines
        assert found.examined is not None
        assert found.examined.words == "pass"
        told = json.loads((folder / "verdict.json").read_text(encoding="utf-8"))
        assert any(note in each for each in told["conditions"][0]["notes"]) is noted
        assert (folder / "finished" / "original.s1p").read_text(encoding="ascii") == OLD
        done = json.loads((folder / "record.json").read_text(encoding="utf-8"))
        assert done["kind"] == "imported"
        assert done["source"]["kind"] == "file"


def test_the_record_keeps_where_the_load_s_figure_is_from(
    bandwright: Any, files: tuple[Path, Path], tmp_path: Path
) -> None:
    file, plan = files
    load = ("--load-db", "50", "--load-source", "certificate 123")
    common = ("import", file, "--plan", plan, "--name", "weir-1", *load)
    assert bandwright(*common, "--folder", tmp_path / "a").status == 0
    (folder,) = (each for each in (tmp_path / "a").iterdir() if each.is_dir())
    told = json.loads((folder / "record.json").read_text(encoding="utf-8"))["assumptions"]
    assert (told["load_db"], told["load_source"]) == (50, "certificate 123")
    assert recheck_folder(folder).holds


RI_ROWS = "".join(f"{mhz} {0.15 + (mhz - 785) * 1e-4:.4f} -0.2\n" for mhz in range(785, 875))
ONE_FILE = {
    "plain": (OLD, (), "pass", "match only"),
    "a load of 36 dB": (OLD, ("--load-db", "36"), "pass", "match only"),
    "a comment says raw": ("! plane: raw\n" + OLD, (), "not measured", "are raw"),
    "raw by word": ("! Uncalibrated data\n" + OLD, (), "not measured", "are raw"),
    "the option says raw": (OLD, ("--plane", "raw"), "not measured", "are raw"),
    "an analyzer of its own correction": (
        "! plane: raw\n! the analyzer applied a correction of its own\n" + OLD,
        (),
        "pass",
        "no calibration but the analyzer's own",
    ),
    "zeros": (OLD.replace(" 0.05 10", " 0 0"), (), "not measured", "match only"),
    "one zero": (OLD.replace("\n840 0.05 10", "\n840 0 0"), (), "not measured", "match only"),
    "86 dB": (OLD.replace(" 0.05 10", " 0.00005 10"), (), "not measured", "match only"),
    "RI below MA": ("# MHz S MA R 50\n" + RI_ROWS, (), "conditional pass", "write RI"),
    "the same below RI": ("# MHz S RI R 50\n" + RI_ROWS, (), "pass", "match only"),
    "too far from its limit": (OLD.replace(" 0.05 10", " 0.5 10"), (), "fail", "match only"),
}


@pytest.mark.slow
@pytest.mark.parametrize("kind", ONE_FILE)
def test_one_file_gets_one_verdict_by_check_and_import(
    bandwright: Any, files: tuple[Path, Path], kind: str
) -> None:
    file, plan = files
    content, options, overall, note = ONE_FILE[kind]
    file.write_text(content, encoding="ascii")
    shared = (file, "--plan", plan, *options)
    folder = ("--name", "weir-1", "--folder", plan.parent / "records")
    by_check, by_import = bandwright("check", *shared), bandwright("import", *shared, *folder)
    assert by_check.out == by_import.out
    assert by_check.status == by_import.status == (0 if overall == "pass" else 1)
    told = bandwright("check", *shared, "--json").json
    assert told == bandwright("import", *shared, *folder, "--json").json
    assert told["overall"] == overall
    assert note in " ".join(told["notes"])
    for record in (plan.parent / "records").glob("weir-1_*"):
        assert recheck_folder(record).holds


def test_why_a_file_is_taken_as_raw_is_said_and_who_knows_better_may_say_so(
    bandwright: Any, files: tuple[Path, Path]
) -> None:
    file, plan = files
    named = file.with_name("tower raw 3.s1p")
    file.rename(named)
    run = bandwright("check", named, "--plan", plan)
    assert "Raw by its name" in run.out
    assert run.status == 1
    assert bandwright("check", named, "--plan", plan, "--plane", "connector").status == 0


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
