"""`bandwright bands`: looking bands up, and plans to start from."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.wording import missing_words


def names(run: Any) -> set[str]:
    return {band["name"] for band in run.json["bands"]}


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        (["20"], {"LTE 20", "NR n20"}),
        (["n78"], {"NR n78"}),
        (["lte20"], {"LTE 20"}),
        (["LTE", "20"], {"LTE 20"}),
        (["LTE 20"], {"LTE 20"}),
        (["B3,", "n1"], {"LTE 3", "NR n1"}),
        (["NR n78"], {"NR n78"}),
        (["nr78"], {"NR n78"}),
        (["32"], {"LTE 32"}),
        (["79"], {"NR n79"}),
    ],
)
def test_a_band_is_found_however_it_is_written(
    bandwright: Any, asked: list[str], found: set[str]
) -> None:
    assert names(bandwright("bands", *asked, "--json")) == found


def test_all_bands_are_listed(bandwright: Any) -> None:
    run = bandwright("bands", "--json")
    assert run.status == 0
    assert len(names(run)) == 153
    assert all(each["certainty"] and each["source"] for each in run.json["bands"])


def test_a_frequency_is_held_by_these_bands(bandwright: Any) -> None:
    # 3GPP TS 36.104 Table 5.5-1 [read]: 806 MHz lies in band 20's downlink, 791 to 821 MHz.
    run = bandwright("bands", "--mhz", "806", "--json")
    rows = [band for band in run.json["bands"] if band["name"] == "LTE 20"]
    assert [(row["link"], row["low_hz"], row["high_hz"]) for row in rows] == [
        ("downlink", 791e6, 821e6)
    ]


def test_a_frequency_of_another_service_says_so(bandwright: Any) -> None:
    run = bandwright("bands", "--mhz", "868.3")
    assert "srd" in run.out
    assert run.status == 0


@pytest.mark.parametrize(
    ("option", "number", "words"),
    [
        # 3GPP TS 36.104 5.7.3: 791 + 0.1 (6300 - 6150); TS 38.104 5.4.2.1: 3000 + 0.015 x 30000.
        ("--earfcn", "6300", "EARFCN 6300 is 806 MHz, | in 1 band"),
        ("--nr-arfcn", "630000", "NR-ARFCN 630000 is 3450 MHz, | in 2 bands"),
        ("--nr-arfcn", "0", "NR-ARFCN 0 is 0 MHz, | no band"),
    ],
)
def test_a_channel_number_is_explained(
    bandwright: Any, option: str, number: str, words: str
) -> None:
    run = bandwright("bands", option, number)
    assert not missing_words(run.out.splitlines()[0], *words.split(" | "))


def test_a_band_is_shown_with_its_ranges(bandwright: Any) -> None:
    run = bandwright("bands", "lte20")
    assert [line.split()[:6] for line in run.out.splitlines()[2:4]] == [
        ["LTE", "20", "uplink", "832", "-", "862"],
        ["LTE", "20", "downlink", "791", "-", "821"],
    ]
    assert "TS 36.104" in run.out
    assert "specification read" in run.out


def test_a_band_from_memory_and_a_region_say_how_sure_they_are(bandwright: Any) -> None:
    assert not missing_words(
        bandwright("bands", "n256").out, "1980 - 2010", "satellite", "from memory", "not opened"
    )
    run = bandwright("bands", "--region", "south-korea")
    assert not missing_words(run.out, "LTE (memory", "2026-11-30", "NR (memory", "Source")
    assert run.status == 0
    (lte, nr) = bandwright("bands", "--region", "taiwan", "--json").json["regions"]
    assert (lte["certainty"], nr["certainty"]) == ("memory", "memory")


def test_a_region_is_only_a_suggestion_and_says_so(bandwright: Any) -> None:
    run = bandwright("bands", "--region", "europe")
    assert "not a statement of what is licensed where" in run.out
    assert "LTE 20" in run.out


def test_a_region_writes_a_plan_that_check_takes(
    bandwright: Any, tmp_path: Path, antenna: Path
) -> None:
    path = tmp_path / "plan.toml"
    assert bandwright("bands", "--region", "europe", "--write", path).status == 0
    run = bandwright("check", antenna, "--plan", path, "--json")
    assert run.status == 1
    assert run.json["bands"][0]["limit"] == {"return_loss_db": 10.0}


def test_bands_write_a_plan_with_the_limit_given(
    bandwright: Any, tmp_path: Path, antenna: Path
) -> None:
    path = tmp_path / "plan.toml"
    run = bandwright("bands", "lte20", "n3", "--write", path, "--vswr", "2")
    assert f"--plan {path}" in run.out.replace("\n", " ")
    verdict = bandwright("check", antenna, "--plan", path, "--json").json
    assert verdict["overall"] == "pass"
    assert {band["name"] for band in verdict["bands"]} == {"LTE 20", "NR n3"}
    assert verdict["bands"][0]["limit"] == {"vswr": 2.0}


def test_a_plan_is_never_written_over(bandwright: Any, tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text("mine", encoding="utf-8")
    sentence = bandwright("bands", "--region", "europe", "--write", path).refused()
    assert "already exists" in sentence
    assert path.read_text(encoding="utf-8") == "mine"


def test_a_plan_into_a_folder_that_is_not_there_is_one_sentence(
    bandwright: Any, tmp_path: Path
) -> None:
    path = tmp_path / "no" / "plan.toml"
    assert str(path) in bandwright("bands", "--region", "europe", "--write", path).refused()


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (["999"], "There is no band LTE 999"),
        (["n999"], "There is no band NR n999"),
        (["gsm"], '"gsm" is no band'),
        (["--region", "atlantis"], "There are: australia,"),
        (["--earfcn", "80000"], "EARFCN"),
        (["--nr-arfcn", "-1"], "between 0 and 3279165"),
        (["20", "--mhz", "806"], "only one of"),
        (["20", "--vswr", "2"], "--write"),
        (["--write", "plan.toml"], "--write needs bands"),
        (["20", "--write", "x.toml", "--vswr", "2", "--return-loss", "9"], "not both"),
        (["20", "--write", "x.toml", "--vswr", "0.5"], "cannot be meant"),
        (["--mhz", "many"], "--mhz"),
    ],
)
def test_what_cannot_be_looked_up_is_one_sentence(
    bandwright: Any, arguments: list[str], part: str
) -> None:
    assert part in bandwright("bands", *arguments).refused()
    assert not Path("plan.toml").exists()
    assert not Path("x.toml").exists()
