"""A Saturday at the station: what proves the bench comes first, then one word an antenna."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path

import pytest

from acceptance.catalogue.batch_checks import batch_words
from acceptance.catalogue.known_good_checks import doubted_by_known_good, known_good_words
from acceptance.recheck.recheck_folder import recheck_folder
from acceptance.record.record_folder import load_record
from dashboard.demo.scenario import PLAN
from dashboard.errors import NotNowError
from dashboard.page.actions.station_actions import perform
from tests.dashboard.conftest import UnitClock, settled, until
from tests.dashboard.station.conftest import STATION, AtStation, make_station, station_file


@pytest.mark.slow
@pytest.mark.calibrated
def test_nothing_is_judged_before_the_known_good_antenna_reads_as_it_did(
    at_station: AtStation,
) -> None:
    assert at_station.phase == "connect"
    assert at_station.now.thing == "known good"
    assert "weir-1" in at_station.now.say
    with pytest.raises(NotNowError):
        at_station.station.take_serial("GW-1")

    failed = at_station.prove("known-good", arm_a=3.0)
    assert failed.result is not None
    assert failed.result.answer.word == "ASK"
    at_station.station.next()
    assert at_station.now.thing == "known good"

    proven = at_station.prove()
    assert proven.result is not None
    assert proven.result.answer.word == "YES", proven.result.answer.detail
    at_station.station.next()
    assert at_station.phase == "serial"


@pytest.mark.slow
@pytest.mark.calibrated
def test_a_session_from_yes_to_a_known_good_antenna_that_fails(at_station: AtStation) -> None:
    at_station.prove()
    at_station.station.next()
    words = {}
    for serial, antenna, bends in (
        ("GW-1", "known-good", {"arm_b": 0.3}),
        ("GW-2", "weir-3", {}),
    ):
        found = at_station.test(serial, antenna, **bends).result
        assert found is not None
        words[serial] = found.answer.word
        assert not any(
            digit.isdigit() for digit in found.answer.why.replace("20", "").replace("n3", "")
        )
        at_station.station.next()
    assert words == {"GW-1": "YES", "GW-2": "NO"}

    records = at_station.folder / "records"
    (folder,) = records.glob("GW-2_*")
    told = json.loads((folder / "record.json").read_text(encoding="utf-8"))["station"]
    assert (told["word"], told["contact"]) == ("NO", "Ana")
    assert "fail" in told["detail"]
    assert set(told["sums"]) == {"station", "plan", "kit", "recipe"}
    checked = recheck_folder(folder)
    assert checked.holds
    assert "tested at the station River watch, Saturday: NO" in " ".join(checked.lines)

    at_station.station.take_serial("GW-2")
    assert at_station.phase == "twice"
    at_station.station.drop_serial()
    with pytest.raises(NotNowError, match="not written as a serial"):
        at_station.station.take_serial("7")

    at_station.station.finish()
    assert at_station.now.thing == "known good"
    failed = at_station.prove("known-good", height=-3.0)
    assert failed.result is not None
    assert failed.result.answer.word == "ASK"
    assert all(each.doubt for each in failed.tested)
    assert folder.name in doubted_by_known_good(records)
    counts, why = known_good_words(folder)
    assert not counts
    assert "In doubt" in why


@pytest.mark.slow
@pytest.mark.calibrated
def test_an_antenna_left_on_and_an_open_port_ask_before_they_are_kept(
    at_station: AtStation,
) -> None:
    at_station.prove()
    at_station.station.next()
    at_station.test("GW-1", "known-good", arm_b=0.3)
    at_station.station.next()

    at_station.station.take_serial("GW-2")
    same = at_station.step()
    assert same.phase == "connect"
    assert "Was the antenna changed?" in same.say
    kept = at_station.step().result
    assert kept is not None
    assert (kept.answer.word, "as the antenna before" in kept.answer.why) == ("ASK", True)
    at_station.station.next()

    at_station.station.take_serial("GW-3")
    at_station.bench.hands.screw_on("nothing")
    settled(at_station.bench)
    open_port = at_station.step()
    assert open_port.phase == "connect"
    assert "Nothing seems to be connected" in open_port.say


@pytest.mark.calibrated
def test_what_the_station_locks_cannot_be_changed_from_its_page(at_station: AtStation) -> None:
    for request in (
        {"do": "use plan", "text": 'name = "any"'},
        {"do": "use kit", "kit": "ideal"},
        {"do": "state load", "decibels": 60},
        {"do": "sign off", "antenna": "GW-1", "sizes": {}},
    ):
        assert perform(at_station.bench, request).kind == "refused"


BATCH = 'check_after = "batch"\n' + PLAN


@pytest.mark.slow
def test_a_whole_saturday_from_calibrating_to_the_last_standard(
    tmp_path: Path, known_good: Path
) -> None:
    """Calibration, check piece, standard, known good antenna; one antenna; and all of it again."""
    piece = STATION + '\n[check_piece]\nname = "tee"\nreturn_loss_db = 9.54\n'
    bench = make_station(station_file(tmp_path, known_good, piece, BATCH), None, UnitClock())
    with contextlib.closing(bench):
        bench.start()
        until(bench, lambda now: now.sequence > 0)
        at = AtStation(bench, tmp_path)
        at.station.next()
        for name in ("open", "short", "load", "load"):
            if at.phase != "calibrate":
                break
            assert at.now.thing == name
            bench.hands.screw_on(name)
            at.station.next()
            at.wait_for(lambda now: now.picture != "sweep")
        assert "tee" in at.now.say
        at.step()
        assert (at.phase, at.now.thing) == ("standard", "short")
        at.step()
        found = at.prove().result
        assert found is not None
        assert found.answer.word == "YES", found.answer.detail
        at.station.next()
        found = at.test("GW-1", "known-good", arm_b=0.3).result
        assert found is not None
        assert found.answer.word == "YES", found.answer.detail
        at.station.next()
        at.station.finish()
        at.prove()
        at.station.next()
        assert at.phase == "standard"
        at.step()
        assert at.phase == "done"
        assert "Finished" in at.now.say
        (folder,) = (tmp_path / "records").glob("GW-1_*")
        assert batch_words(load_record(folder), folder)[0]
        assert known_good_words(folder)[0]
        at.station.go_on()
        assert at.phase == "serial"


@pytest.mark.slow
@pytest.mark.calibrated
def test_a_standard_goes_back_after_each_antenna_where_the_plan_says_so(
    tmp_path: Path, known_good: Path, calibration: Path
) -> None:
    bench = make_station(station_file(tmp_path, known_good, plan=PLAN), calibration, UnitClock())
    with contextlib.closing(bench):
        bench.start()
        until(bench, lambda now: now.verdict is not None)
        at = AtStation(bench, tmp_path)
        found = at.prove().result  # the virtual bench's hand puts the standard back by itself
        assert found is not None
        assert found.answer.word == "YES", found.answer.detail
        (folder,) = (tmp_path / "records").glob("weir-1_*")
        stored = load_record(folder).acceptance.after_sweep
        assert stored is not None
        assert len(stored.checks) == 1


@pytest.mark.slow
@pytest.mark.calibrated
def test_a_plan_that_was_changed_since_is_asked_about_first(
    at_station: AtStation, calibration: Path
) -> None:
    assert at_station.now.result is None
    at_station.prove()
    at_station.bench.close()
    plan = at_station.folder / "plan.toml"
    plan.write_text(plan.read_text(encoding="utf-8") + "# easier\n", encoding="utf-8")
    again = make_station(at_station.folder / "station.toml", calibration, UnitClock())
    with contextlib.closing(again):
        shown = again.snapshot().station
        assert shown is not None
        assert shown.result is not None
        assert "The plan changed since" in shown.why
        assert shown.say == "Ask Ana about the plan."
