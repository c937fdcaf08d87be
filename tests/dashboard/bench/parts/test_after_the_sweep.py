"""On the bench: a batch is checked, and the check piece read, by what is on the port."""

from __future__ import annotations

from pathlib import Path

import pytest

from acceptance.bands.load import load_bands
from acceptance.catalogue.batch_checks import batch_words
from acceptance.plan.plan_file import parse_plan
from acceptance.record.record_folder import load_record
from dashboard.acceptance_run.running_acceptance import AntennaDetails
from dashboard.bench.composed_bench import Bench
from dashboard.errors import NotNowError, SetupError
from dashboard.feed.frame import header
from dashboard.page.actions.table import perform
from tests.dashboard.conftest import calibrate, settled, until
from tests.wording import missing_words

BATCH = """
name = "gauge"
check_after = "batch"
check_piece_within_hours = 24
sweeps = 2
[[band]]
lte = 20
return_loss_db = 3
"""


def _cable_decides(bench: Bench) -> None:
    """The calibration made here belongs to the cable that was named, and holds for it alone."""
    held = bench.snapshot().calibration.calibration
    assert held is not None
    assert held.cable == "blue, 1 m"
    perform(bench, {"do": "name cable", "cable": "red"})
    other = until(bench, lambda now: now.calibration.phase == "misfit")
    assert not missing_words(other.calibration.message, "blue, 1 m", "red")
    perform(bench, {"do": "name cable", "cable": "blue, 1 m"})
    until(bench, lambda now: now.calibration.phase == "held")


def test_a_morning_and_a_batch_from_its_start_to_its_end(bench: Bench, tmp_path: Path) -> None:
    named = perform(bench, {"do": "name cable", "cable": "blue, 1 m"})
    assert not missing_words(named.words, "blue, 1 m")
    calibrate(bench)
    _cable_decides(bench)
    bench.use_plan(parse_plan(BATCH, "plan.toml", load_bands()))
    now = settled(bench)
    assert now.obstacle is not None
    assert "check piece read within 24 h" in now.obstacle.words

    read = perform(bench, {"do": "check piece", "piece": "tee", "decibels": 9.54})
    assert read.kind == "done", read.words
    assert not missing_words(read.words, "The tee reads", "as it should")
    with pytest.raises(SetupError, match="1 to 30 dB"):
        bench.check_piece.measure("tee", 99.0)
    now = until(bench, lambda now: now.check_piece is not None)
    assert now.check_piece is not None
    assert now.check_piece.stated_db == 9.54
    settled(bench)

    accept = header(bench.snapshot(), bench.clock.monotonic())["accept"]
    assert accept["mended_at"] == "batch"
    assert "A batch begins with a standard put back" in accept["why"]
    with pytest.raises(NotNowError, match="A batch begins"):
        bench.acceptance.sign_off(AntennaDetails("weir-3"))
    begun = perform(bench, {"do": "check batch"})
    assert "reads as it did" in begun.words, begun.words
    settled(bench)
    record = bench.acceptance.sign_off(AntennaDetails("weir-3")).path
    stored = load_record(record)
    assert stored.acceptance.check_piece is not None
    assert batch_words(stored, record)[0] is False, "its end was not checked yet"
    accept = header(until(bench, lambda now: now.acceptance.batch_words != ""),
                    bench.clock.monotonic())["accept"]  # fmt: skip
    assert accept["batch"].startswith("1 accepted since")
    assert perform(bench, {"do": "check batch"}).kind == "done"
    assert batch_words(stored, record)[0] is True


def test_without_a_plan_that_asks_there_is_no_batch_to_check(bench: Bench) -> None:
    calibrate(bench)
    refused = perform(bench, {"do": "check batch"})
    assert refused.kind == "refused"
    assert "check_after" in refused.words
