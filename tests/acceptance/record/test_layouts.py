"""Layouts of records: each word of a former one has its present word, and nothing else changes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from acceptance.record.acceptance_record import as_json, head_as_json
from acceptance.record.checksums import CHECKSUMS, differences, format_checksums
from acceptance.record.layouts import (
    PRESENT,
    RESERVED,
    head_in_present_words,
    verdict_in_words_of,
)
from acceptance.record.recheck import recheck
from acceptance.record.record_folder import load_record, parse_record
from acceptance.version import software
from tests.acceptance.made import accepted, record

ARCHIVED = Path(__file__).parents[1] / "records"


def head_of(folder: str) -> dict[str, object]:
    head: dict[str, object] = json.loads((ARCHIVED / folder / "record.json").read_text())
    return head


@pytest.mark.parametrize("folder", ["layout-2", "layout-2-full"])
def test_what_layout_2_tells_is_told_in_the_present_words_and_nothing_is_lost(folder: str) -> None:
    then = head_of(folder)
    now = json.loads(as_json(head_as_json(load_record(ARCHIVED / folder).acceptance)))
    told = head_in_present_words(then, 2)
    sizes = {"arm_a": 84.5} if folder == "layout-2-full" else None
    assert told["sizes_mm"] == (
        sizes or {"arm_a": 85.1, "arm_b": 39.0, "feed_gap": 2.0, "height": 19.0}
    )
    plane = {"reference_plane": now["reference_plane"]}  # the first records told none
    assert {**plane, **told, "version": PRESENT, **dict.fromkeys(RESERVED)} == now
    assert told["antenna"] == then["unit"]
    assert not {"unit", "touch", "dimensions_mm", "swept"} & now.keys()


def test_analyzer_and_antenna_have_a_word_each() -> None:
    head = head_as_json(accepted())
    assert head["antenna"] == "weir-3"
    source = head["source"]
    assert isinstance(source, dict)
    assert source["analyzer"] == "invented unit"
    assert b'"unit' not in as_json(head)
    files = record().files
    assert b'"unit' not in files["verdict.json"]
    assert b'"unit' not in files["calibration.json"]
    assert b"! antenna: weir-3" in files["bare/raw-01.s1p"]


@pytest.mark.parametrize("folder", ["layout-2", "layout-2-full"])
def test_a_verdict_is_held_against_a_former_layout_in_that_layout_s_words(folder: str) -> None:
    then = json.loads((ARCHIVED / folder / "verdict.json").read_text())
    source = then["conditions"][0]["verdict"]["source"]
    assert {"unit", "unit_corrected"} < source.keys()
    present = json.loads(json.dumps(then))
    for condition in present["conditions"]:
        told = condition["verdict"]["source"]
        told["analyzer"] = told.pop("unit")
        told["analyzer_corrected"] = told.pop("unit_corrected")
    assert verdict_in_words_of(2, present) == then
    assert verdict_in_words_of(PRESENT, present) == present


def test_every_reserved_place_may_be_null_or_missing_or_hold_what_is_carried_along() -> None:
    files = dict(record().files)
    head = json.loads(files["record.json"])
    assert {place: head[place] for place in RESERVED} == dict.fromkeys(RESERVED)
    for place in RESERVED:
        del head[place]
    changed = dict(files)
    changed["record.json"] = as_json(head)
    changed[CHECKSUMS] = format_checksums(changed)
    bare = recheck(parse_record(changed, "weir-3"), differences(changed), software())
    assert bare.holds
    assert not bare.record.acceptance.carried

    later = {"chain": "0a1b", "isolation": [{"from": "weir-3", "least_db": 21.5}]}
    changed["record.json"] = as_json({**head, **later})
    changed[CHECKSUMS] = format_checksums(changed)
    found = recheck(parse_record(changed, "weir-3"), differences(changed), software())
    assert found.holds, found.lines
    assert found.lines[-1].startswith("It tells of chain, isolation too, which this version does")
    again = head_as_json(found.record.acceptance)
    assert {place: again[place] for place in later} == later


def test_a_size_that_a_former_record_has_in_both_spellings_stays_two() -> None:
    both = {"arm_a": 84.5, "arm_a_mm": 85.0, "gap_mm": 2.0}
    told = head_in_present_words({"version": 2, "dimensions_mm": both}, 2)
    assert told["sizes_mm"] == {"arm_a": 84.5, "arm_a_mm": 85.0, "gap": 2.0}
