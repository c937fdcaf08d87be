"""Calibrations on disk: kept whole, worked out again, refused when anything is amiss."""

from __future__ import annotations

import dataclasses
import json
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from acquire.sweep import Reading, Source, SweepRequest
from calibration.capture.standard_capture import StandardReading
from calibration.errors import OtherAnalyzerError, StoredCalibrationError
from calibration.files.calibration_file import calibration_text, parse_calibration
from calibration.files.store import load_calibration, load_kit, save_calibration
from calibration.one_port_calibration import Calibration, calibrate
from calibration.standards.kit import Kit
from calibration.standards.kit_file import kit_as_table
from calibration.standards.standard import DataStandard

ARCHIVED = Path(__file__).parents[2] / "acceptance" / "records"


def made(unit: Any, kit: Kit | None = None, **changes: Any) -> Calibration:
    kit = kit or load_kit("n-plug-50")
    f = unit.frequency_hz
    readings = [
        StandardReading(name, f, unit.raw(standard.reflection(f)), 8, np.full(f.size, 1e-4))
        for name, standard in kit.standards.items()
    ]
    given = {
        "source": unit.source,
        "request": unit.request,
        "spans": ((700e6, 2700e6),),
        "taken_at": datetime(2025, 6, 1, 14, 30, tzinfo=timezone(timedelta(hours=2))),
        "software": "bandwright 0.1.0",
    }
    return calibrate(kit, readings, **(given | changes))


@pytest.fixture
def stored(unit: Any, tmp_path: Path) -> Path:
    path = tmp_path / "calibration.json"
    save_calibration(made(unit), path)
    return path


def assert_same(one: Calibration, other: Calibration) -> None:
    assert kit_as_table(one.kit) == kit_as_table(other.kit)
    assert list(one.readings) == list(other.readings)
    for reading, again in zip(one.readings.values(), other.readings.values(), strict=True):
        assert reading.sweeps == again.sweeps
        np.testing.assert_array_equal(reading.reflection, again.reflection)
        if reading.noise is None or again.noise is None:
            assert reading.noise is again.noise
        else:
            np.testing.assert_array_equal(reading.noise, again.noise)
    for name in ("frequency_hz", "directivity", "source_match", "reflection_tracking"):
        np.testing.assert_array_equal(getattr(one.terms, name), getattr(other.terms, name))
    for name in ("source", "request", "spans", "taken_at", "software", "warnings"):
        assert getattr(one, name) == getattr(other, name)
    assert one.taken_at.utcoffset() == other.taken_at.utcoffset()


def test_what_is_stored_comes_back_to_the_last_bit(unit: Any, tmp_path: Path) -> None:
    calibration = made(unit)
    save_calibration(calibration, tmp_path / "new folder" / "calibration.json")
    assert_same(calibration, load_calibration(tmp_path / "new folder" / "calibration.json"))


def test_measured_standards_are_kept_inside_the_file(unit: Any, tmp_path: Path) -> None:
    f = np.linspace(0, 3e9, 31)
    data = DataStandard("load", Reading(f, 0.01 * np.exp(1j * f / 1e9)), "load.s1p")
    plain = load_kit("n-plug-50")
    kit = dataclasses.replace(
        plain, standards={**plain.standards, "load": data}, load_return_loss_db=33.0
    )
    save_calibration(made(unit, kit), tmp_path / "c.json")
    assert_same(
        made(dataclasses.replace(unit, sequence=0), kit), load_calibration(tmp_path / "c.json")
    )


@given(
    points=st.integers(2, 20),
    low_hz=st.floats(1e6, 1e9),
    step_hz=st.floats(1e3, 1e8),
    offset_minutes=st.integers(-14 * 60, 14 * 60),
    unit_name=st.text(max_size=30).filter(lambda text: text.isprintable()),
    analyzer_corrected=st.booleans(),
    with_noise=st.booleans(),
    data=st.data(),
)
def test_any_calibration_survives_the_round_trip(
    *,
    points: int,
    low_hz: float,
    step_hz: float,
    offset_minutes: int,
    unit_name: str,
    analyzer_corrected: bool,
    with_noise: bool,
    data: st.DataObject,
) -> None:
    f = low_hz + step_hz * np.arange(points)
    small = st.complex_numbers(max_magnitude=0.1, allow_nan=False, allow_infinity=False)
    readings = []
    for name, value in (("open", 0.8), ("short", -0.7), ("load", 0.0)):
        raw = value + data.draw(arrays(np.complex128, points, elements=small))
        noise = (
            data.draw(arrays(np.float64, points, elements=st.floats(0, 1))) if with_noise else None
        )
        readings.append(StandardReading(name, f, raw, data.draw(st.integers(1, 99)), noise))
    calibration = calibrate(
        load_kit("ideal"),
        readings,
        source=Source("port", unit_name, "invented", "port", analyzer_corrected),
        request=[SweepRequest(float(f[0]), float(f[-1]), points)],
        spans=((float(f[0]), float(f[-1])),),
        taken_at=datetime(2025, 6, 1, tzinfo=timezone(timedelta(minutes=offset_minutes))),
        software="bandwright 0.1.0",
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "c.json"
        save_calibration(calibration, path)
        assert_same(calibration, load_calibration(path))


def test_a_loaded_calibration_is_refused_for_another_unit(
    stored: Path, unit: Any, new_unit: Callable[..., Any]
) -> None:
    calibration = load_calibration(stored)
    calibration.fits(unit.source, unit.request)
    with pytest.raises(OtherAnalyzerError, match="weir-3 bench"):
        calibration.fits(dataclasses.replace(unit.source, analyzer="weir-3 bench"), unit.request)


def test_a_loaded_calibration_is_refused_for_another_unit_of_the_same_name(
    unit: Any, tmp_path: Path
) -> None:
    one, other = (dataclasses.replace(unit.source, usb_sum=each) for each in ("0a1b", "9988"))
    save_calibration(made(unit, source=one), tmp_path / "c.json")
    calibration = load_calibration(tmp_path / "c.json")
    assert calibration.source == one
    calibration.fits(one, unit.request)
    calibration.fits(unit.source, unit.request)  # of which USB told nothing
    with pytest.raises(OtherAnalyzerError, match="by USB another serial number now than then"):
        calibration.fits(other, unit.request)


def test_a_calibration_of_the_second_layout_loads_and_knows_of_no_usb_device(
    stored: Path, unit: Any
) -> None:
    old = json.loads(stored.read_text())
    del old["source"]["usb_sum"]
    stored.write_text(json.dumps(old | {"schema_version": 2}))
    calibration = load_calibration(stored)
    assert calibration.source == unit.source
    calibration.fits(dataclasses.replace(unit.source, usb_sum="0a1b"), unit.request)


@pytest.mark.parametrize(
    ("record", "layout"), [("layout-1", 2), ("layout-2", 2), ("layout-2-full", 3)]
)
def test_archived_calibrations_of_former_layouts_load_and_are_kept_in_the_present_words(
    record: str, layout: int
) -> None:
    content = (ARCHIVED / record / "calibration.json").read_bytes()
    then = json.loads(content)
    assert then["schema_version"] == layout
    calibration = parse_calibration(content, "calibration.json")
    assert calibration.source.analyzer == then["source"]["unit"]
    assert calibration.source.analyzer_corrected is then["source"]["unit_corrected"] is True
    now = json.loads(calibration_text(calibration))
    assert now["schema_version"] == 5
    assert {"analyzer", "analyzer_corrected"} < now["source"].keys()
    assert not {"unit", "unit_corrected"} & now["source"].keys()
    assert_same(calibration, parse_calibration(calibration_text(calibration).encode(), "again"))
    # All else says what it said.
    now["source"] |= {"unit": now["source"].pop("analyzer")}
    now["source"] |= {"unit_corrected": now["source"].pop("analyzer_corrected")}
    assert now == {"checks": [], **then, "schema_version": 5, "doubts": [], "cable": ""} | {
        "source": {"usb_sum": "", **then["source"]}
    }


def change(path: Path, **values: Any) -> None:
    path.write_text(json.dumps(json.loads(path.read_text()) | values))


def refused(path: Path) -> str:
    with pytest.raises(StoredCalibrationError) as caught:
        load_calibration(path)
    message = str(caught.value)
    assert "\n" not in message
    assert message.endswith(".")
    return message


def test_a_file_cut_anywhere_is_refused(stored: Path) -> None:
    whole = stored.read_bytes()
    for length in (0, 1, 50, len(whole) // 2, len(whole) - 3):
        stored.write_bytes(whole[:length])
        assert "not whole JSON" in refused(stored)


@pytest.mark.parametrize(
    "content", ["[]", "{}", '"calibration"', "null", '{"what": "verdict", "schema_version": 1}']
)
def test_other_json_is_no_calibration(stored: Path, content: str) -> None:
    stored.write_text(content)
    assert "no stored calibration" in refused(stored)


def test_bytes_that_are_no_text_are_refused(stored: Path) -> None:
    stored.write_bytes(b"\xff\xfe\x00\x80")
    assert "not whole JSON" in refused(stored)
    stored.write_text("[" * 100_000)
    assert "not whole JSON" in refused(stored)


def test_a_later_layout_is_refused_with_the_cure(stored: Path) -> None:
    change(stored, schema_version=6)
    assert "written by a later version (layout 6" in refused(stored)
    assert "Install the newer version" in refused(stored)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("taken_at", "2025-06-01T12:00:00", "taken_at"),
        ("taken_at", "noon", "taken_at"),
        ("software", None, "software"),
        ("source", {"kind": "guess"}, "source.kind"),
        ("request", [{"start_hz": 2.0, "stop_hz": 1.0, "points": 5}], "runs upwards"),
        ("spans", [[1.0]], "spans.0"),
        ("frequency_hz", [], "frequency_hz"),
        ("frequency_hz", [1e9, 2e9], "not as many values as there are frequencies"),
        ("frequency_hz", [float("nan")] * 201, "frequency_hz.0"),
        ("readings", [], "were measured"),
        ("kit", {}, "format is missing"),
        ("surprise", 1, "surprise"),
    ],
)
def test_a_damaged_entry_is_named(stored: Path, key: str, value: Any, words: str) -> None:
    change(stored, **{key: value})
    assert words in refused(stored)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("real", float("nan"), "readings.1.real.3"),
        ("imaginary", float("inf"), "readings.1.imaginary.3"),
        ("noise", -1.0, "short's noise is negative"),
        ("real", "0.5", "readings.1.real.3"),
        ("real", 50.0, "Measure the"),
    ],
)
def test_a_damaged_reading_is_named(stored: Path, key: str, value: Any, words: str) -> None:
    readings = json.loads(stored.read_text())["readings"]
    readings[1][key][3] = value
    change(stored, readings=readings)
    assert words in refused(stored)


def test_readings_that_would_be_refused_in_a_session_are_refused_in_a_file(stored: Path) -> None:
    """The short's readings replaced by the open's: the false pass does not come in by a file."""
    readings = json.loads(stored.read_text())["readings"]
    readings[1] = readings[0] | {"name": "short"}
    change(stored, readings=readings)
    message = refused(stored)
    assert "Open and short read alike" in message


def test_a_file_that_cannot_be_read_or_written_is_said_in_a_sentence(
    unit: Any, tmp_path: Path
) -> None:
    assert "cannot be read" in refused(tmp_path / "none.json")
    assert "cannot be read" in refused(tmp_path)
    (tmp_path / "file").write_text("")
    with pytest.raises(StoredCalibrationError, match=r"cannot be written .*Choose another folder"):
        save_calibration(made(unit), tmp_path / "file" / "calibration.json")


def test_a_write_that_fails_leaves_the_old_file_whole(
    stored: Path, unit: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = stored.read_bytes()

    def full(path: Path, content: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("calibration.files.store.write_whole", full)
    with pytest.raises(StoredCalibrationError, match="No space left on device"):
        save_calibration(made(unit), stored)
    assert stored.read_bytes() == before
    assert load_calibration(stored).taken_at.astimezone(UTC).hour == 12
