"""What CI runs once more when tests failed: what needs a browser, and nothing else."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.second_try import BROWSER, EXIT_STATUS, second_try

OPENS, CHECKSUMS = (
    "tests/dashboard/browser/test_x.py::test_opens",
    "tests/acquire/test_y.py::test_sums",
)


@pytest.mark.parametrize(
    ("status", "failed", "count", "words"),
    [
        (1, [OPENS], 1, ""),
        (1, [OPENS, CHECKSUMS], 0, CHECKSUMS),
        (1, [CHECKSUMS], 0, CHECKSUMS),
        (1, ["tests/dashboard/browser/test_x.py"], 0, "test_x.py"),  # it could not be read
        (1, [], 0, "No test failed"),
        (2, [OPENS], 0, "did not run to their end"),
        (None, [OPENS], 0, "did not run to their end"),
    ],
)
def test_only_what_needs_a_browser_is_tried_again(
    tmp_path: Path, status: int | None, failed: list[str], count: int, words: str
) -> None:
    kept = {
        EXIT_STATUS: status,
        BROWSER: [OPENS, "another"],
        "cache/lastfailed": dict.fromkeys(failed, True),
    }
    for name, value in kept.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(json.dumps(value), encoding="utf-8")
    tried, why_not = second_try(tmp_path)
    assert tried == count
    assert words in why_not
    assert bool(why_not) is (count == 0)


def test_without_a_run_nothing_is_tried(tmp_path: Path) -> None:
    assert second_try(tmp_path)[0] == 0
