"""What is on the screen, saved: each form holds the sweep that is shown."""

from __future__ import annotations

import io
import json
import struct
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

import httpx
import numpy as np
import pytest

from acceptance.record.record_folder import write_record
from acquire.touchstone.reader import parse_touchstone
from dashboard.bench.composed_bench import Bench
from dashboard.files.sweep_file import FORMS, sweep_file
from tests.acceptance.made import record, sweeps
from tests.dashboard.conftest import settled

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def calibrated(bench: Bench, server_url: str) -> Iterator[httpx.Client]:
    settled(bench)
    with httpx.Client(base_url=server_url) as client:
        yield client


@pytest.fixture
def client(server_url: str) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=server_url) as made:
        yield made


def words(svg: bytes) -> str:
    return " ".join(each.text or "" for each in ElementTree.fromstring(svg).iter(f"{SVG}text"))


@pytest.mark.calibrated
@pytest.mark.parametrize("suffix", FORMS)
def test_every_form_is_a_file_to_keep(calibrated: httpx.Client, suffix: str) -> None:
    answer = calibrated.get(f"/save/sweep{suffix}")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith(FORMS[suffix])
    assert answer.headers["content-disposition"].startswith('attachment; filename="bandwright-2')
    assert answer.headers["content-disposition"].endswith(f'{suffix}"')


def test_numbers_are_those_of_the_sweep() -> None:
    (sweep, _) = sweeps(838e6)
    reading = parse_touchstone(sweep_file(sweep, ".s1p"), "a.s1p").reading
    np.testing.assert_allclose(reading.reflection, sweep.reflection, atol=1e-12)
    table = sweep_file(sweep, ".CSV").decode().splitlines()
    assert len(table) == sweep.points + 1
    result = json.loads(sweep_file(sweep, ".json"))
    np.testing.assert_array_equal(result["real"], sweep.reflection.real)


@pytest.mark.calibrated
def test_a_picture_says_what_it_is_of(calibrated: httpx.Client) -> None:
    text = words(calibrated.get("/save/sweep.svg").content)
    for part in (
        "gauge modem, Europe",
        "invented data",
        "Return loss, dB",
        "LTE 20",
        "calibrated cable",
    ):
        assert part in text


@pytest.mark.parametrize(
    ("shown", "text"),
    [("vswr", "VSWR"), ("impedance", "reactance"), ("smith", "Smith chart, ohm")],
)
@pytest.mark.calibrated
def test_a_picture_plots_what_the_page_plots(
    calibrated: httpx.Client, shown: str, text: str
) -> None:
    assert text in words(calibrated.get(f"/save/sweep.svg?shown={shown}").content)


def test_impedances_of_raw_readings_are_not_plotted() -> None:
    (sweep, _) = sweeps(838e6)
    text = words(sweep_file(sweep, ".svg", shown="smith"))
    assert "Smith" not in text
    assert "uncorrected" in text


@pytest.mark.calibrated
def test_a_hold_is_in_the_picture(bench: Bench, calibrated: httpx.Client) -> None:
    bench.holds.hold()
    assert "hold 1" in words(calibrated.get("/save/sweep.svg").content)


@pytest.mark.calibrated
def test_what_is_read_off_is_in_the_picture_and_the_part_in_the_table(
    bench: Bench, calibrated: httpx.Client
) -> None:
    bench.holds.hold('bare, "first"')
    asked = {"low_mhz": 800, "high_mhz": 900, "markers": "1:826,4:841.3,5:1200"}
    text = words(calibrated.get("/save/sweep.svg", params=asked).content)
    assert "826 MHz: " in text
    assert "841.3 MHz: " in text
    assert "1200 MHz" not in text  # nothing is swept there
    assert "Ω" in text
    table = calibrated.get("/save/sweep.csv", params=asked).text.split("\r\n")
    assert table[0].endswith(',"return_loss_db of bare, ""first"""')
    numbers = [float(row.split(",")[0]) for row in table[1:-1]]
    assert min(numbers) >= 800e6
    assert max(numbers) <= 900e6
    assert calibrated.get("/save/sweep.png", params=asked | {"shown": "smith"}).status_code == 200


@pytest.mark.calibrated
@pytest.mark.parametrize(
    "query",
    ["low_mhz=900&high_mhz=800", "low_mhz=1", "low_mhz=a&high_mhz=b", "markers=a", "markers=1:nan"],
)
def test_what_is_no_range_and_no_marker_is_not_found(calibrated: httpx.Client, query: str) -> None:
    assert calibrated.get(f"/save/sweep.svg?{query}").status_code == 404


@pytest.mark.calibrated
def test_a_png_is_as_wide_as_the_picture_at_192_dots_an_inch(calibrated: httpx.Client) -> None:
    content = calibrated.get("/save/sweep.png").content
    assert content.startswith(b"\x89PNG")
    width, _ = struct.unpack(">II", io.BytesIO(content).getvalue()[16:24])
    assert width == pytest.approx(760 * 192 / 72, abs=2)


@pytest.mark.calibrated
@pytest.mark.parametrize("path", ["/save/sweep.exe", "/save/sweep.svg?shown=else", "/save/"])
def test_there_is_nothing_else(calibrated: httpx.Client, path: str) -> None:
    assert calibrated.get(path).status_code == 404


def test_a_report_is_served_of_records_alone(
    bench: Bench, client: httpx.Client, tmp_path: Path
) -> None:
    folder = write_record(record(), bench.records_folder)
    at = f"/records/{folder.name}"
    assert client.get(f"{at}/report.html").headers["content-type"].startswith("text/html")
    assert client.get(f"{at}/report.pdf").content.startswith(b"%PDF")
    for name in ("report.html", "report.pdf"):
        (folder / name).write_text("<script>forged()</script>")
        assert b"forged" not in client.get(f"{at}/{name}").content
    page = client.get(f"{at}/report.html")
    assert "weir-3" in page.text
    policy = page.headers["content-security-policy"].split("; ")
    assert {"sandbox", "default-src 'none'"} <= set(policy)
    assert not any(each.startswith("script-src") or "allow-" in each for each in policy)
    assert "script-src 'self'" in client.get("/").headers["content-security-policy"]
    (tmp_path / "report.html").write_text("beside the records")
    for path in (
        f"{at}/record.json",
        "/records/none/report.html",
        "/records/../report.html",
        "/records/%2e%2e/report.html",
        "/records/..%2f/report.html",
    ):
        assert client.get(path).status_code == 404, path
