"""The tour does the whole job: a refusal, bends that help, a record that stands on its own."""

from __future__ import annotations

import io
import json
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from acceptance.limits.decision import State
from acquire.sweep import Reading
from acquire.touchstone.reader import parse_touchstone
from calibration.files.store import load_calibration
from dashboard.demo.tour import MOST_BENDS, Tour
from tests.wording import missing_words


class Taken:
    """A tour that has been taken."""

    def __init__(self, folder: Path) -> None:
        self.screen = io.StringIO()
        self.folder = folder
        self.verdict = Tour(folder, Console(file=self.screen, width=80)).run()
        self.result = " ".join(self.screen.getvalue().split())
        (self.record,) = (path for path in folder.iterdir() if path.is_dir())


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> Taken:
    return Taken(tmp_path_factory.mktemp("tour") / "made by the tour")


@pytest.mark.slow
def test_it_ends_with_every_band_passing(taken: Taken) -> None:
    assert taken.verdict.overall is State.PASS
    assert "5 of 5 ranges pass" in taken.result
    assert 2 <= taken.result.count("Bend ") <= 8 < MOST_BENDS
    assert "Done. Every band passes." in taken.result
    assert taken.result.count("predicted") >= 1


def test_the_antenna_fails_as_delivered(taken: Taken) -> None:
    as_delivered = taken.result[
        taken.result.index("3. The antenna") : taken.result.index("4. Bend")
    ]
    assert "gauge modem, Europe: ▼ fail" in as_delivered


def test_a_standard_taken_twice_is_refused_and_only_that_one_asked_for_again(taken: Taken) -> None:
    assert "read alike" in taken.result
    assert taken.result.count("1 of 3.") == 1
    assert taken.result.count("2 of 3.") == 2
    assert taken.result.count("3 of 3.") == 1


def test_the_record_stands_on_its_own(taken: Taken) -> None:
    files = (path for path in taken.record.rglob("*") if path.is_file())
    assert {path.relative_to(taken.record).as_posix() for path in files} >= {
        "SHA256SUMS",
        "calibration.json",
        "finished/corrected.s1p",
        "plan.toml",
        *(f"finished/raw-0{number}.s1p" for number in range(1, 5)),
        "recipe.toml",
        "record.json",
        "verdict.json",
    }
    done = json.loads((taken.record / "record.json").read_text(encoding="utf-8"))
    assert done["antenna"] == "weir-3"
    assert done["invented"] is True
    written = json.loads((taken.record / "verdict.json").read_text(encoding="utf-8"))
    assert written["overall"] == "pass"
    assert not missing_words(taken.result, "every file", "as it was")
    assert not missing_words(taken.result, "verdict follows from the raw readings", "pass")


def test_it_says_that_the_data_is_invented_and_what_to_do_on_a_real_bench(taken: Taken) -> None:
    assert "all data is invented" in taken.result
    assert taken.result.count("On your bench:") == 6
    assert "nothing that transmits and no DC" in taken.result


def read(path: Path) -> Reading:
    return parse_touchstone(path.read_bytes(), path.name).reading


@pytest.mark.slow
def test_it_is_the_same_every_time_but_for_the_date(taken: Taken, tmp_path: Path) -> None:
    again = Taken(tmp_path / "again")
    assert np.array_equal(
        read(again.record / "finished" / "raw-04.s1p").reflection,
        read(taken.record / "finished" / "raw-04.s1p").reflection,
    )
    one, two = (load_calibration(each.folder / "calibration.json") for each in (taken, again))
    assert np.array_equal(one.terms.source_match, two.terms.source_match)


@pytest.mark.slow
def test_a_second_tour_leaves_the_first_ones_record_alone(tmp_path: Path) -> None:
    first = Taken(tmp_path)
    before = (first.record / "finished" / "raw-04.s1p").read_bytes()
    Tour(tmp_path, Console(file=io.StringIO())).run()
    assert len([path for path in tmp_path.iterdir() if path.is_dir()]) == 2
    assert (first.record / "finished" / "raw-04.s1p").read_bytes() == before
