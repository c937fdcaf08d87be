"""A record's plan held against the one that was ordered."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from acceptance.plan.acceptance_plan import Plan
from acceptance.recheck.wanted_plan import easier_than
from acceptance.record.record_folder import write_record
from dashboard.command_line.main import main
from tests.acceptance.made import accepted, plan, record
from tests.wording import missing_words

HEAD = """
name = "river gauge"
conditions = ["bare", "sealed", "wet"]
judged = ["sealed", "wet"]
sweeps = 4
touch_test = true
warm_up_minutes = 20
verified_within_hours = 8
drift_checked_within_hours = 2
check_piece_within_hours = 24
antennas = 2
"""
BANDS = """
[[band]]
lte = 20
return_loss_db = 8
[[band]]
name = "link"
low_mhz = 863
high_mhz = 870
vswr = 2.0
"""
ORDERED = HEAD + BANDS


def test_a_plan_is_no_easier_than_itself_nor_is_a_harder_one() -> None:
    assert easier_than(plan(ORDERED), plan(ORDERED)) == ()
    harder = ORDERED.replace("return_loss_db = 8", "return_loss_db = 10")
    harder = harder.replace("verified_within_hours = 8", "verified_within_hours = 4")
    harder += '[[band]]\nname = "more"\nlow_mhz = 900\nhigh_mhz = 910\nreturn_loss_db = 6\n'
    assert easier_than(plan(ORDERED), plan(harder)) == ()
    assert easier_than(plan(harder), plan(ORDERED))


@pytest.mark.parametrize(
    ("was", "now", "words"),
    [
        ("return_loss_db = 8", "return_loss_db = 7.9", ["LTE 20 uplink", "8 dB", "7.9 dB"]),
        ("vswr = 2.0", "vswr = 2.1", ["link", "9.542 dB"]),
        ("vswr = 2.0", "return_loss_db = 9.5", ["link", "9.542 dB", "9.5 dB"]),
        ("low_mhz = 863", "low_mhz = 863.1", ["link", "863 to 870 MHz", "not all of it"]),
        ("[[band]]\nlte = 20\nreturn_loss_db = 8", "", ["LTE 20 downlink", "not judged"]),
        ("sweeps = 4", "sweeps = 2", ["4 sweeps", "2 are"]),
        ("touch_test = true", "", ["touch test", "not asked for"]),
        ("warm_up_minutes = 20", "warm_up_minutes = 5", ["20 minutes", "5 are"]),
        ("verified_within_hours = 8", "", ["known device", "8 h", "not asked for"]),
        ("drift_checked_within_hours = 2", "drift_checked_within_hours = 3", ["drift", "3 h"]),
        ("check_piece_within_hours = 24", "", ["check piece", "24 h"]),
        ("antennas = 2", "", ["2 antennas", "isolation"]),
        ('judged = ["sealed", "wet"]', 'judged = ["wet"]', ["sealed", "to decide"]),
        (
            'conditions = ["bare", "sealed", "wet"]',
            'conditions = ["sealed", "wet"]',
            ["bare", "not asked for"],
        ),
        (
            "sweeps = 4",
            'sweeps = 4\nguard = "none"',
            ["ordered", "whole uncertainty", "no guard band"],
        ),
        (
            "sweeps = 4",
            "sweeps = 4\nfalse_pass_risk = 0.1",
            ["ordered", "whole uncertainty", "10 %"],
        ),
        ("sweeps = 4", 'sweeps = 4\ncheck_after = "batch"', ["put back", "batch"]),
        ("sweeps = 4", "sweeps = 4\ncheck_after = false", ["put back", "waived"]),
    ],
)
def test_each_way_of_being_easier_is_said(was: str, now: str, words: list[str]) -> None:
    assert was in ORDERED
    said = " ".join(easier_than(plan(ORDERED), plan(ORDERED.replace(was, now))))
    assert not missing_words(said, *words)


def test_the_same_frequencies_may_bear_another_name_or_be_split() -> None:
    split = ORDERED.replace('name = "link"\nlow_mhz = 863\nhigh_mhz = 870\nvswr = 2.0', "").rstrip()
    split = split.removesuffix("[[band]]")
    for low, high in ((860, 866), (866, 871)):
        split += f'\n[[band]]\nname = "at {low}"\nlow_mhz = {low}\nhigh_mhz = {high}\nvswr = 1.9\n'
    assert easier_than(plan(ORDERED), plan(split)) == ()
    worse = split.replace("high_mhz = 871\nvswr = 1.9", "high_mhz = 871\nvswr = 3")
    assert easier_than(plan(ORDERED), plan(worse))


@pytest.mark.parametrize(
    ("wanted", "used", "easier"),
    [
        ("false_pass_risk = 0.1", "", False),
        ("false_pass_risk = 0.1", "guard = 0.5", True),
        ("false_pass_risk = 0.1", "false_pass_risk = 0.05", False),
        ("false_pass_risk = 0.01", "", True),
        ("", "false_pass_risk = 0.02", False),
        ("", "false_pass_risk = 0.03", True),
        ('guard = "none"', "false_pass_risk = 0.4", False),
        ("guard = 0.5", "guard = 0.4", True),
        ("guard = 0.5", "", False),
    ],
)
def test_guard_bands_and_risks_are_compared(wanted: str, used: str, easier: bool) -> None:
    def made(guard: str) -> Plan:
        return plan(f'name = "x"\n{guard}\n{BANDS}')

    assert bool(easier_than(made(wanted), made(used))) is easier


def test_the_command_ends_with_one_where_the_plan_was_relaxed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    head = 'name = "x"\nconditions = ["sealed"]\nsweeps = 2\n[[band]]\nlte = 20\n'
    relaxed = f"{head}return_loss_db = 4.5\n"
    folder = write_record(record(accepted("weir-3", (830e6,), plan(relaxed))), tmp_path / "records")
    ordered = tmp_path / "ordered.toml"
    ordered.write_text(relaxed, encoding="utf-8")
    assert main(["recheck", str(folder), "--plan", str(ordered)]) == 0
    assert "no easier" in capsys.readouterr().out
    ordered.write_text(f"{head}return_loss_db = 8\n", encoding="utf-8")
    assert main(["recheck", str(folder), "--plan", str(ordered)]) == 1
    said = capsys.readouterr().out
    assert not missing_words(said, "easier plan", "8 dB", "4.5 dB", "does not hold")
    assert main(["recheck", str(folder), "--plan", str(ordered), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told["holds"] is False
    assert len(told["easier"]) == 2
    assert main(["recheck", str(folder), "--plan", str(tmp_path / "none.toml")]) == 2
