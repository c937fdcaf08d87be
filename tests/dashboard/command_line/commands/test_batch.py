"""A batch in the terminal: what a builder reads of it, and what a program does."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from tests.dashboard.command_line.commands.conftest import Bandwright
from tests.wording import missing_words


def lines_of(text: str) -> list[str]:
    return [line.rstrip() for line in text.splitlines()]


@pytest.mark.slow
def test_yield_charts_and_sizes_are_told_in_eighty_columns(
    bandwright: Bandwright, gauge_records: Path
) -> None:
    run = bandwright("batch", "--folder", gauge_records)
    assert run.status == 0
    lines = lines_of(run.out)
    assert lines[0] == "bent strip: 25 records of 24 antennas, 2026-05-02 to 2026-05-30."
    assert lines[1] == (
        "Pass the first time: 20 of 24, which stands for 64 to 93 % of antennas built so (95 %). "
        "Pass now: 21 of 24."
    )
    (row,) = [line for line in lines if line.startswith("gauge backhaul")]
    assert row.split()[2:] == [
        "≥", "12", "dB", "21", "of", "24", "21", "of", "24", "1△", "1▽", "1▼", "−0.7", "dB",
        "ford-6",
    ]  # fmt: skip
    assert "Out of the ordinary: ford-3 (2026-05-16), 859.0 MHz, 26.5 above the mean." in lines
    assert any(line.startswith("A run: 11 in a row, mill-lane-4") for line in lines)
    assert "Nothing is out of the ordinary." in lines
    drawn = [line for line in lines if "│" in line]
    assert len(drawn) == 3 * 9
    assert sum(line.count("●") + line.count("◆") for line in drawn) >= 3 * 25 - 3
    tables = [line for line in lines if not line.endswith((".", "there."))]
    assert max(map(len, tables)) <= 80


def test_the_next_cut_is_told_with_its_interval_and_drawn(
    bandwright: Bandwright, gauge_records: Path
) -> None:
    run = bandwright("batch", "--folder", gauge_records, "--dimension", "arm_a", "--target", "836")
    assert run.status == 0
    (text,) = [line for line in lines_of(run.out) if line.startswith("For a dip at 836.0 MHz")]
    assert text.startswith("For a dip at 836.0 MHz: arm A 85.5 mm (85.4 to 85.5). The next antenna")
    assert "Cut metal does not come back: leave 85.6 mm first" in text
    assert "Pass the first time" not in run.out  # that size alone
    drawn = [line for line in lines_of(run.out) if "│" in line]
    assert len(drawn) == 12
    assert sum(line.count("◆") for line in drawn) == 1
    assert any(line.startswith("836.0 │┄") for line in drawn)


def test_a_target_alone_suggests_every_size_that_moves_the_dip_nearest_to_it(
    bandwright: Bandwright, gauge_records: Path
) -> None:
    result = bandwright("batch", "--folder", gauge_records, "--target", "1800", "--json").json
    (only,) = result["next"]
    assert (only["dimension"], only["dip"]) == ("arm_b", 2)
    low, high = only["size_interval_mm"]
    assert low < only["size_mm"] < high < only["leave_mm"]
    assert only["lands_mhz"][0] < 1800 < only["lands_mhz"][1]


def test_a_size_that_does_nothing_sure_is_not_suggested(
    bandwright: Bandwright, gauge_records: Path
) -> None:
    run = bandwright("batch", "--folder", gauge_records, "--dimension", "height", "--target", "836")
    assert run.status == 0
    assert run.out.count("does not follow this size surely") == 1
    assert "So no next cut is suggested." in run.out
    result = bandwright(
        "batch", "--folder", gauge_records, "--dimension", "height", "--target", "836", "--json"
    ).json
    assert result["next"][0]["size_mm"] is None
    assert "does not follow" in result["next"][0]["why_not"]


def test_json_tells_all_of_it(bandwright: Bandwright, gauge_records: Path) -> None:
    result = bandwright("batch", "bent strip", "--folder", gauge_records, "--json").json
    assert (result["recipe"], result["records"], result["antennas"]) == ("bent strip", 25, 24)
    assert result["first_time"]["passed"] == 20
    assert [each["name"] for each in result["charts"]] == ["dip 1", "dip 2", "margin"]
    low = result["charts"][0]
    assert len(low["values"]) == 25
    assert low["limits"][0] < low["mean"] < low["limits"][1]
    assert low["outliers"][0].startswith("ford-3_")
    assert [each["dimension"] for each in result["size_effects"]] == [
        "arm_a", "arm_b", "feed_gap", "height",
    ]  # fmt: skip
    assert result["size_effects"][0]["why_not"] is None
    assert result["next"] == []


def test_the_first_three_gauges_say_how_little_they_can_tell(
    bandwright: Bandwright, gauge_records: Path
) -> None:
    run = bandwright(
        "batch", "--folder", gauge_records, "--until", "2026-05-02", "--operator", "Jo"
    )
    assert run.out.startswith(
        "bent strip: 2 records of 2 antennas, 2026-05-02.\nPass: 2 of 2, which stands for 34"
    )
    assert not missing_words(run.out, "2 records cannot tell", "from 5 on", "control chart")
    assert "Nothing is out of the ordinary." not in run.out
    assert "┄" not in run.out
    assert "Arm A: 2 records tell both the size and the dip; it takes 5" in run.out
    result = bandwright(
        "batch", "--folder", gauge_records, "--until", "2026-05-02", "--target", "836", "--json"
    ).json
    assert result["next"][0]["size_mm"] is not None  # five records, five sizes


def test_one_record_is_a_batch_too(
    bandwright: Bandwright, gauge_records: Path, tmp_path: Path
) -> None:
    first = min(gauge_records.glob("weir-1_*"))
    shutil.copytree(first, tmp_path / "one" / first.name)
    out = bandwright("batch", "--folder", tmp_path / "one").out
    assert out.startswith(
        "bent strip: 1 record, 2026-05-02.\nPass: 1 of 1, which stands for 21 to 100 %"
    )
    assert "of one record alone." in out


def test_a_recipe_s_words_steer_no_terminal(
    bandwright: Bandwright, gauge_records: Path, tmp_path: Path
) -> None:
    for each in list(gauge_records.glob("weir-*"))[:3]:
        folder = tmp_path / "hostile" / each.name
        shutil.copytree(each, folder)
        head = json.loads((folder / "record.json").read_text())
        sizes = {"\x1b[2Jarm": 85.0, "[bold]x": 3.0}
        head |= {"recipe": "\x1b[31mred", "antenna": f"\u202e{each.name}", "sizes_mm": sizes}
        (folder / "record.json").write_text(json.dumps(head))
    run = bandwright("batch", "--folder", tmp_path / "hostile")
    assert run.status == 0
    assert "\x1b" not in run.out
    assert "\u202e" not in run.out
    assert "\\x1b[31mred: 3 records" in run.out
    assert "[bold]x" in run.out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["whip"], 'no record | recipe "whip" | bent strip (25)'),
        (["--dip", "1"], "--dip goes with --dimension"),
        (["--dimension", "leg"], 'no record | dimension "leg" | arm_a, arm_b'),
        (["--dimension", "arm_a", "--dip", "9"], "no dip 9 | 2"),
        (["--condition", "wet"], 'none of the 25 records | condition "wet"'),
        (["--since", "2030-01-01"], "no record"),
    ],
)
def test_what_cannot_be_told_is_refused(
    bandwright: Bandwright, gauge_records: Path, arguments: list[str], words: str
) -> None:
    refused = bandwright("batch", *arguments, "--folder", gauge_records).refused()
    assert not missing_words(refused, *words.split(" | "))


def test_several_recipes_are_named_and_none_is_too(
    bandwright: Bandwright, gauge_records: Path, tmp_path: Path
) -> None:
    folders = sorted(gauge_records.glob("weir-*"))[:2]
    for each, recipe in zip(folders, ("whip", None), strict=True):
        copy = tmp_path / "mixed" / each.name
        shutil.copytree(each, copy)
        head = json.loads((copy / "record.json").read_text())
        (copy / "record.json").write_text(json.dumps(head | {"recipe": recipe}))
    run = bandwright("batch", "--folder", tmp_path / "mixed")
    assert run.out.startswith("whip: 1 record")
    shutil.copytree(folders[1], tmp_path / "mixed" / "other")
    refused = bandwright("batch", "--folder", tmp_path / "mixed").refused()
    assert not missing_words(refused, "several recipes", "bent strip (1)", "whip (1)", "name one")
    shutil.rmtree(tmp_path / "mixed" / "other")
    shutil.rmtree(tmp_path / "mixed" / folders[0].name)
    refused = bandwright("batch", "--folder", tmp_path / "mixed").refused()
    assert refused.startswith("No record names a recipe, so nothing says which antennas are built")


def test_the_gauges_to_rehearse_with_are_made_and_say_that_they_are_invented(
    bandwright: Bandwright, tmp_path: Path
) -> None:
    run = bandwright("tour", "--gauges", "6", "--folder", tmp_path / "gauges")
    assert run.status == 0
    assert run.out.startswith("The records of 6 invented gauges are in")
    result = bandwright("records", "--folder", tmp_path / "gauges", "--json").json
    assert result["total"] == 6
    assert all(each["invented"] for each in result["records"])
    for each in result["records"][:2]:
        assert (
            "The record holds." in bandwright("recheck", tmp_path / "gauges" / each["record"]).out
        )
