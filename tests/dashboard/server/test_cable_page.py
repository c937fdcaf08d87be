"""The cable as a page: what hangs on the virtual port, by distance, and what cannot be told."""

from __future__ import annotations

import re

import httpx
import pytest

from acceptance.recheck.recheck_folder import recheck_folder
from calibration.files.line_file import parse_typed_line
from calibration.files.store import load_cable_types
from dashboard.acceptance_run.running_acceptance import AntennaDetails
from dashboard.bench.composed_bench import Bench
from tests.dashboard.conftest import settled, until

HOSTILE = '<script>alert("1")</script>\x1b[31m'


def test_without_a_calibration_it_says_what_to_do(client: httpx.Client) -> None:
    answer = client.get("/cable")
    assert answer.status_code == 200
    assert "Calibrate on the bench (key c)" in answer.text
    assert "<figure" not in answer.text


@pytest.mark.calibrated
def test_a_dry_joint_and_the_line_s_end_are_shown(client: httpx.Client, bench: Bench) -> None:
    settled(bench)
    bench.hands.lay("bad-joint")
    bench.hands.screw_on("open")
    settled(bench)
    page = client.get("/cable", params={"cable": "ptfe-2.5mm", "gate": "0-1"}).text
    assert page.count('<figure class="paper wide-screen">') == 2
    assert page.count('<figure class="paper narrow">') == 2
    assert "at the connector" in page
    found = [
        (float(at), float(off))
        for at, off in re.findall(r'<td class="when">([0-9.]+) ± ([0-9.]+) m</td>', page)
    ]
    # the virtual pigtail is 1.5 m long, of a cable of that speed
    end_m, off_m = found[-1]
    assert abs(end_m - 1.5) <= off_m + 0.03
    assert "is one even grid; the rest of the sweep is left aside" in page
    assert "LTE 20 uplink" in page


@pytest.mark.parametrize(
    ("asked", "why"),
    [
        ({"cable": "copper"}, "no cable &#34;copper&#34;"),
        ({"gate": "here"}, "is no section"),
        ({"range": "far"}, "&#34;far&#34; is no length"),
        ({"velocity": "2"}, "between 0.3 and 1"),
        ({"loss": "much"}, "no cable &#34;much&#34;"),
    ],
)
def test_what_makes_no_sense_is_a_sentence(
    client: httpx.Client, asked: dict[str, str], why: str
) -> None:
    answer = client.get("/cable", params=asked)
    assert answer.status_code == 200
    assert why in answer.text


def test_nothing_that_is_asked_is_markup(client: httpx.Client) -> None:
    for name in ("cable", "velocity", "loss", "gate", "range", "resolution"):
        text = client.get("/cable", params={name: HOSTILE}).text
        assert "<script>alert" not in text
        assert "\x1b" not in text


def test_the_sweep_that_is_needed_is_worked_out(client: httpx.Client, bench: Bench) -> None:
    until(bench, lambda now: now.sequence > 0)
    page = client.get("/cable", params={"range": "4", "resolution": "80"}).text
    assert "The sweep you need" in page
    assert "open and short are told apart" in page
    assert "bandwright calibrate --port" in page


@pytest.mark.calibrated
def test_an_acceptance_keeps_what_was_asked_along_the_cable(bench: Bench) -> None:
    settled(bench)
    line = parse_typed_line("ptfe-2.5mm", load_cable_types())
    signed = bench.acceptance.sign_off(AntennaDetails("weir-3", line=line))
    assert (signed.path / "line.toml").is_file()
    found = recheck_folder(signed.path)
    assert found.holds, found.lines
    assert found.record.acceptance.line == line
