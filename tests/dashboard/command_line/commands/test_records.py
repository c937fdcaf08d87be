"""The records listed: what a person reads, what a program reads, and what is refused."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from acceptance.catalogue.record_catalogue import CATALOGUE_FILE, Catalogue
from acceptance.record.record_folder import write_record
from dashboard.demo import example_batch
from tests.dashboard.command_line.commands.conftest import Bandwright
from tests.wording import missing_words


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The records of the first twelve gauges; the eleventh was accepted twice."""
    folder = tmp_path_factory.mktemp("made")
    for each in example_batch.records(12):
        write_record(each, folder)
    return folder


@pytest.fixture
def gauge_folder(made: Path, tmp_path: Path) -> Iterator[Path]:
    """The same, to be changed at will."""
    return shutil.copytree(made, tmp_path / "records")  # type: ignore[return-value]


def test_a_list_has_one_line_a_record_and_says_once_what_is_the_same(
    bandwright: Bandwright, gauge_folder: Path
) -> None:
    run = bandwright("records", "ford", "--folder", gauge_folder)
    assert run.status == 0
    lines = [line.rstrip() for line in run.out.splitlines()]
    assert lines[1].split() == ["signed", "off", "antenna", "verdict", "margin", "in", "by"]
    assert lines[3].split()[:3] == ["2026-05-16", "ford-3", "▲"]
    assert lines[4].split()[:4] == ["2026-05-16", "ford-3", "▼", "fail"]
    assert lines[4].endswith("LTE 20 downlink  Jo")
    assert lines[-3:] == [
        "4 records: 3 pass, 1 fail.",
        "The same for all of these: recipe bent strip.",
        "All of these come from the virtual bench: the data is invented.",
    ]
    assert max(map(len, lines)) <= 80
    assert run.err == ""


def test_json_tells_all_that_were_found(bandwright: Bandwright, gauge_folder: Path) -> None:
    (gauge_folder / "torn").mkdir()
    (gauge_folder / "torn" / "record.json").write_text("{")
    result = bandwright("records", "--folder", gauge_folder, "--most", "2", "--json").json
    assert result["total"] == 13
    assert result["states"] == {"pass": 12, "fail": 1}
    assert len(result["records"]) == 13
    first = result["records"][0]
    head = json.loads((gauge_folder / first["record"] / "record.json").read_text())
    assert first["antenna"] == head["antenna"]
    assert set(first) == {
        "record", "bench", "antenna", "signed_off_at", "overall", "words", "least_margin_db",
        "least_margin_at", "recipe", "plan", "operator", "note", "kind", "invented", "software",
        "caveat",
    }  # fmt: skip
    (broken,) = result["broken"]
    assert broken["folder"] == "torn"


def test_a_broken_folder_is_named_below_the_list(
    bandwright: Bandwright, gauge_folder: Path
) -> None:
    (gauge_folder / "torn").mkdir()
    (gauge_folder / "torn" / "record.json").write_text("{")
    run = bandwright("records", "--folder", gauge_folder)
    assert run.status == 0
    assert "13 records" in run.out
    assert "The record torn cannot be read: " in run.out


def test_what_was_changed_since_is_marked_and_told(
    bandwright: Bandwright, gauge_folder: Path
) -> None:
    folder = min(gauge_folder.glob("weir-1_*"))
    text = (folder / "record.json").read_text()
    (folder / "record.json").write_text(text.replace('"Ana"', '"Eve"'))
    out = bandwright("records", "--folder", gauge_folder, "--antenna", "weir-1").out
    assert "weir-1 *" in out
    assert not missing_words(out, "* weir-1", "changed", "record.json")


def test_a_long_list_says_what_it_leaves_out(bandwright: Bandwright, gauge_folder: Path) -> None:
    out = bandwright("records", "--folder", gauge_folder, "--most", "3").out
    assert not missing_words(out, "13 records: 12 pass, 1 fail", "newest 3", "--most 0")
    assert bandwright("records", "--folder", gauge_folder, "--most", "0").out.count("2026-05") == 13


def test_nothing_found_is_said(bandwright: Bandwright, gauge_folder: Path, tmp_path: Path) -> None:
    run = bandwright("records", "no-such-unit", "--folder", gauge_folder)
    assert (run.status, run.out) == (0, "No record is like that.\n")
    (tmp_path / "empty").mkdir()
    assert bandwright("records", "--folder", tmp_path / "empty").out == "There is no record yet.\n"


def test_the_days_named_are_both_included(bandwright: Bandwright, gauge_folder: Path) -> None:
    result = bandwright(
        "records",
        "--folder",
        gauge_folder,
        "--since",
        "2026-05-09",
        "--until",
        "2026-05-09",
        "--json",
    ).json
    assert {each["signed_off_at"][:10] for each in result["records"]} == {"2026-05-09"}
    assert result["total"] == 5


def test_a_record_s_words_steer_no_terminal(bandwright: Bandwright, gauge_folder: Path) -> None:
    folder = min(gauge_folder.glob("weir-1_*"))
    head = json.loads((folder / "record.json").read_text())
    head |= {"antenna": "\x1b[2Jweir", "operator": "Ana\u202e", "recipe": "a\nb"}
    (folder / "record.json").write_text(json.dumps(head))
    run = bandwright("records", "--folder", gauge_folder)
    assert "\\x1b[2Jweir" in run.out.replace("\n", "")
    assert "\x1b" not in run.out + run.err
    assert "\u202e" not in run.out


def test_made_anew_it_says_of_how_many(bandwright: Bandwright, gauge_folder: Path) -> None:
    bandwright("records", "--folder", gauge_folder)
    (gauge_folder / "torn").mkdir()
    (gauge_folder / "torn" / "record.json").write_text("{")
    run = bandwright("records", "--folder", gauge_folder, "--rebuild")
    assert not missing_words(run.err, "anew", "13 records", "1 folder cannot be read")


def test_stopped_by_hand_it_says_that_nothing_has_changed(
    bandwright: Bandwright, gauge_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bandwright("records", "--folder", gauge_folder)

    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Catalogue, "take_in", stopped)
    run = bandwright("records", "--folder", gauge_folder, "--rebuild")
    assert run.status == 130
    assert not missing_words(run.err, "as it was before", "Stopped.\n")


def test_a_shared_catalogue_names_the_benches(
    bandwright: Bandwright, gauge_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    url = f"sqlite:///{tmp_path / 'shared.sqlite'}"
    other = tmp_path / "other"
    for each in list(gauge_folder.glob("*Z"))[:2]:
        each.rename(other.joinpath(each.name) if other.is_dir() else _made(other) / each.name)
    bandwright("records", "--folder", gauge_folder, "--catalogue", url, "--bench", "kitchen")
    monkeypatch.setenv("BANDWRIGHT_CATALOGUE", url)
    monkeypatch.setenv("BANDWRIGHT_BENCH", "boathouse")
    result = bandwright("records", "--folder", other, "--json").json
    assert result["total"] == 13
    assert {each["bench"] for each in result["records"]} == {"kitchen", "boathouse"}
    assert "boathouse" in bandwright("records", "--folder", other).out
    assert not (gauge_folder / CATALOGUE_FILE).exists()


def _made(folder: Path) -> Path:
    folder.mkdir()
    return folder


def test_kept_in_memory_it_writes_nothing(bandwright: Bandwright, gauge_folder: Path) -> None:
    run = bandwright("records", "--folder", gauge_folder, "--catalogue", "sqlite://")
    assert "13 records" in run.out
    assert "bench" not in run.out.replace("virtual bench", "")
    assert not (gauge_folder / CATALOGUE_FILE).exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--folder", "NOWHERE"], "There are no records in .*NOWHERE yet. `bandwright accept`"),
        (["--folder", "NOWHERE", "--catalogue", "sqlite://"], "There is no folder NOWHERE."),
        (["--since", "yesterday"], '--since "yesterday" is no day.* 2026-05-01'),
        (["--until", "9999-12-31"], '--until "9999-12-31" is no day.'),
        (
            ["--verdict", "splendid"],
            '"splendid" is no verdict. There are: pass, conditional pass, ',
        ),
        (["--catalogue", "nonsense"], '"nonsense..." is no address'),
    ],
)
def test_what_cannot_be_listed_is_refused_in_a_sentence(
    bandwright: Bandwright, arguments: list[str], words: str
) -> None:
    assert re.search(words, bandwright("records", *arguments).refused())
