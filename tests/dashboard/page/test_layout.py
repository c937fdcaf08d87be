"""What the page says: the sentence, the strips, the plan made on it."""

from __future__ import annotations

import dataclasses
import errno
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import dashboard
from acceptance.limits.decision import State
from acceptance.plan.recipe import NO_RECIPE
from acceptance.verdict.plan_verdict import judge
from acquire.coverage.sweep_coverage import Coverage
from acquire.errors import PortError
from acquire.port.port_errors import faults_named
from acquire.sweep import Plane, Source, Sweep
from calibration.uncertainty.budget import Assumptions
from calibration.uncertainty.interval import Interval
from dashboard.acceptance_run.running_acceptance import AcceptanceState
from dashboard.acceptance_run.touch_test import TouchState
from dashboard.bench.composed_bench import Bench
from dashboard.bench.obstacles import with_obstacles
from dashboard.bench.snapshot import CalibrationState, Obstacle, PlaneState, PortState, Snapshot
from dashboard.feed.frame import header
from dashboard.feed.sentence import sentence
from dashboard.page.layout import layout
from dashboard.page.plan_form import read_plan
from tests.wording import missing_words

SOURCE = Source("port", "a unit", "prompted-pairs", "/dev/ttyACM0")
PLAN = """
name = "two bands"

[[band]]
lte = 20
return_loss_db = 10

[[band]]
name = "own"
low_mhz = 868.0
high_mhz = 870.0
vswr = 2.0
"""


def moment(**sizes: float | None) -> Snapshot:
    """A moment with so much reflection in each range: uplink, downlink, own."""
    frequency_hz = np.linspace(780e6, 880e6, 501)
    reflection = np.full(frequency_hz.size, 0.1 + 0j)
    edges = {"downlink": (791e6, 821e6), "uplink": (832e6, 862e6), "own": (868e6, 870e6)}
    for name, size in sizes.items():
        low_hz, high_hz = edges[name]
        inside = (frequency_hz >= low_hz) & (frequency_hz <= high_hz)
        # falls by a thousandth across the range, so that the lower edge is the worst point
        slope = 1.0 - 1e-3 * (frequency_hz[inside] - low_hz) / (high_hz - low_hz)
        reflection[inside] = np.nan if size is None else size * slope
    taken_at = datetime(2026, 3, 1, tzinfo=UTC)
    sweep = Sweep(frequency_hz, reflection, Plane.CONNECTOR, taken_at, 7, SOURCE, ())
    plan = read_plan(PLAN)
    return Snapshot(
        check_piece=None,
        version=9,
        sweep=dataclasses.replace(sweep, plane=Plane.RAW),
        averaged=None,
        burst=None,
        swept=0,
        whole_at_s=1.0,
        watched=None,
        corrected=sweep,
        assumptions=Assumptions(),
        uncertainty=None,
        budget=None,
        verdict=judge(plan, sweep),
        tuning=None,
        acceptance=AcceptanceState("", (), "", (), None),
        sweeping_since_s=None,
        touch=TouchState("idle", "", "", None),
        recipe=NO_RECIPE,
        plan=plan,
        plane=PlaneState("at the end of the calibrated cable", False, "", ""),
        coverage=None,
        coverage_problem="",
        port=PortState("sweeping", "/dev/ttyACM0", ""),
        calibration=CalibrationState("held", "Calibrated.", "ideal"),
        holds=(),
        bench=None,
        seen_at_s=1.0,
    )


def with_uncertainty(now: Snapshot, uncertainty: float) -> Snapshot:
    """The same moment, read with so much uncertainty everywhere."""
    assert now.corrected is not None
    assert now.plan is not None
    size = np.abs(now.corrected.reflection)
    wide = np.full(size.size, uncertainty)
    low = np.where(size > wide, size - wide, 0.0)
    uncertainty = Interval(now.corrected.frequency_hz, size, low, size + wide, wide)
    verdict = judge(now.plan, now.corrected, uncertainty=uncertainty)
    return dataclasses.replace(now, uncertainty=uncertainty, verdict=verdict)


def test_a_pass_by_less_than_the_uncertainty_is_said_to_be_one() -> None:
    # 12.04 dB, 2.04 above 10; .25 + .10 lies beyond .3162 [derived]
    headline = sentence(with_uncertainty(moment(downlink=0.25), 0.10))
    assert (
        headline.text == "Band 20 downlink passes by 2.0 dB at 791 MHz, less than the uncertainty."
    )
    assert (headline.tone, headline.mark) == ("unsure", "conditional pass")


def test_a_miss_within_the_uncertainty_is_said_to_be_one() -> None:
    headline = sentence(with_uncertainty(moment(downlink=0.33), 0.05))
    assert (
        headline.text == "Band 20 downlink falls 0.4 dB short at 791 MHz, within the uncertainty."
    )
    assert headline.mark == "conditional fail"


def test_no_number_beyond_the_trust_floor_is_sent_to_be_read() -> None:
    """A reading of 20 dB where the floor is 18: better than 13.9 dB is proven [derived]."""
    now = with_uncertainty(moment(), 10 ** (-18 / 20))
    head = header(now, 2.0)
    link = head["strips"][0]["links"][0]
    assert link["worst"]["words"].startswith("better than 12.9 dB")
    assert link["margin"].startswith(">+2.9")
    assert link["average"].startswith("better than")
    assert head["trust"]["words"] == "Trust floor 18 dB"
    assert "20.0" not in json.dumps([head["strips"], head["sentence"]])


def uncalibrated(now: Snapshot, phase: Any = "none") -> Snapshot:
    state = CalibrationState(phase, "Calibrate first.", "ideal")
    return dataclasses.replace(now, corrected=None, verdict=None, calibration=state)


def test_the_sentence_names_the_band_that_falls_shortest() -> None:
    # 20 log10(1 / 0.45) = 6.94 dB, 3.06 short of 10 [derived]
    headline = sentence(moment(uplink=0.45, downlink=0.35))
    assert headline.text == "Band 20 uplink falls 3.1 dB short at 832 MHz."
    assert headline.tone == "fail"
    assert headline.mark == "fail"


def test_a_cable_comes_before_every_pass() -> None:
    """Its loss makes a pass of anything: amber, with the way to look along it."""
    now = moment(downlink=0.25)
    assert now.verdict is not None
    between = dataclasses.replace(now.verdict, cable_s=15.4e-9)
    headline = sentence(dataclasses.replace(now, verdict=between))
    assert (headline.tone, headline.way, headline.next_step) == ("unsure", "cable", False)
    # 15.4 ns at 0.69 of the speed of light are 3.2 m [derived]
    assert not missing_words(headline.text + headline.aside, "cable", "3.2 m", "better than it is")
    failing = dataclasses.replace(moment(uplink=0.45), verdict=None)
    assert sentence(failing).way == ""


def test_a_margin_carries_how_far_it_may_be_off() -> None:
    """|G| .25 ± .05: 12.04 dB, at worst 10.46; .33 ± .05: 9.63 dB, at best 11.06 [derived]."""
    passes = header(with_uncertainty(moment(downlink=0.25), 0.05), 2.0)["strips"][0]["links"][1]
    assert (passes["margin"], passes["margin_with_doubt"]) == ("+2.0 dB", "+2.0 ± 1.6 dB")
    short = header(with_uncertainty(moment(downlink=0.33), 0.05), 2.0)["strips"][0]["links"][1]
    assert short["margin_with_doubt"] == "−0.4 ± 1.4 dB"
    nearly = header(moment(downlink=10 ** (-9.98 / 20)), 2.0)["strips"][0]["links"][1]
    assert nearly["margin"] == "−0.02 dB"


def test_a_band_that_the_analyzer_cannot_reach_is_named_on_its_line() -> None:
    now = moment(own=None)
    beyond = Coverage((), ((868e6, 870e6),), 1.0, "")
    links = header(dataclasses.replace(now, coverage=beyond), 2.0)["strips"][1]["links"]
    assert links[0]["instead"] == "outside the analyzer's range"
    assert links[0]["state"] == "not measured"


def test_a_vswr_limit_is_spoken_of_as_vswr() -> None:
    # (1 + 0.5) / (1 - 0.5) = 3 [derived]
    headline = sentence(moment(own=0.5))
    assert headline.text == "own reaches VSWR 3.00 at 868.0 MHz; at most 2 is wanted."


def test_all_bands_passing_name_the_tightest_and_that_nothing_guards_it() -> None:
    # 20 log10(1 / 0.25) = 12.04 dB, 2.04 above 10 [derived]
    headline = sentence(moment(downlink=0.25))
    assert headline.text == "Every band passes."
    assert not missing_words(headline.aside, "band 20 downlink", "+2.0 dB at 791 MHz", "unguarded")
    assert headline.next_step
    assert headline.tone == "pass"


def test_a_doubt_takes_the_green_away_and_is_read_beneath_the_sentence() -> None:
    now = moment(downlink=0.25)
    assert now.plan is not None
    assert now.corrected is not None
    doubt = "The load no. 4711 was out of date."
    verdict = judge(now.plan, now.corrected, warnings=(doubt,))
    doubted = dataclasses.replace(now, verdict=verdict)
    headline = sentence(doubted)
    assert not missing_words(headline.text, "every band passes", "in doubt")
    assert headline.aside.startswith(doubt)
    assert (headline.tone, headline.mark) == ("unsure", State.CONDITIONAL_PASS)
    frame = header(doubted, 0.0)
    assert {strip["state"] for strip in frame["strips"]} == {"conditional pass"}
    assert frame["overall"]["state"] == "conditional pass"
    assert doubt in frame["notes"]


def test_a_recipe_s_odd_figure_is_told_below_the_curves() -> None:
    odd = dataclasses.replace(NO_RECIPE, warnings=("Recipe strip, arm_a: did you mean 85 mm?",))
    assert odd.warnings[0] in header(dataclasses.replace(moment(), recipe=odd), 0.0)["notes"]


def test_a_band_with_points_missing_is_never_called_a_pass() -> None:
    headline = sentence(moment(downlink=None))
    assert headline.text.startswith("Band 20 downlink is not measured.")
    assert headline.tone == "unsure"


def test_a_load_that_is_still_on_is_said_to_be_one() -> None:
    """Right after calibrating: its phase is noise, and there is no curve to be too coarse for."""
    now = moment()
    assert now.corrected is not None
    assert now.plan is not None
    rng = np.random.default_rng(1)
    noise = 1e-3 * (rng.standard_normal((now.corrected.points, 2)) @ [1, 1j])
    narrow = dataclasses.replace(now.corrected, reflection=noise)
    f = np.append(now.corrected.frequency_hz, [1.0e9, 1.1e9])
    wide = dataclasses.replace(narrow, frequency_hz=f, reflection=np.append(noise, [1e-3, 1e-3]))
    verdict = judge(now.plan, wide)
    assert [band.reason for band in verdict.bands] == [""] * len(verdict.bands)
    headline = sentence(dataclasses.replace(now, corrected=wide, verdict=verdict))
    assert headline.text == "Connect the antenna."
    assert "looks like a load" in headline.aside
    head = header(dataclasses.replace(now, corrected=wide, verdict=verdict), 2.0)
    assert {strip["words"] for strip in head["strips"]} == {"no antenna connected"}
    assert {link["state"] for strip in head["strips"] for link in strip["links"]} == {"withheld"}
    assert head["overall"] == {"state": "withheld", "words": "no antenna connected"}
    assert (headline.tone, headline.mark) == ("ask", "withheld")
    few = sentence(dataclasses.replace(now, corrected=narrow, verdict=judge(now.plan, narrow)))
    assert few.text.startswith("Every band passes"), "a narrow antenna may be matched so"


@pytest.mark.parametrize(
    ("phase", "words"),
    [
        ("none", "Calibrate with open, short and load."),
        ("misfit", "Calibrate again."),
    ],
)
def test_without_a_calibration_that_fits_no_mark_is_given(phase: str, words: str) -> None:
    now = uncalibrated(moment(), phase)
    assert sentence(now).text == words
    assert "no pass or fail" in sentence(now).aside
    head = header(now, 2.0)
    assert {strip["state"] for strip in head["strips"]} == {"withheld"}
    assert head["overall"] == {"state": "withheld", "words": "not judged yet"}
    assert not header(with_obstacles(now), 2.0)["accept"]["ready"]


@pytest.mark.parametrize(
    ("port", "words", "headline"),
    [
        (
            PortState(
                "lost", "/dev/ttyACM0", "There is no port /dev/ttyACM0. Plug the analyzer in."
            ),
            "No analyzer at /dev/ttyACM0",
            "There is no port /dev/ttyACM0. Plug it in again; measuring resumes by itself.",
        ),
        (
            PortState(
                "refused", "/dev/ttyACM0", "That lies beyond the analyzer. Choose other bands."
            ),
            "Not sweeping /dev/ttyACM0",
            "That lies beyond the analyzer. Choose other bands.",
        ),
    ],
)
def test_why_no_sweep_comes_is_told_before_anything_else(
    port: PortState, words: str, headline: str
) -> None:
    now = dataclasses.replace(moment(), port=port)
    assert sentence(now).text == headline
    assert sentence(now).mark == "withheld"
    assert header(now, 2.0)["port"]["words"] == words
    assert not header(with_obstacles(now), 2.0)["accept"]["ready"]


@pytest.mark.parametrize("opening", [True, False])
def test_a_port_that_was_there_sends_nobody_to_look_for_its_name(opening: bool) -> None:
    """Whatever the port says of itself; one that never was there is still looked for."""
    missing = OSError(errno.ENOENT, "gone")
    with pytest.raises(PortError) as found, faults_named("/dev/ttyACM0", opening=opening):
        raise missing
    port = PortState("lost", "/dev/ttyACM0", str(found.value))
    was_there = dataclasses.replace(moment(), port=port)
    assert not missing_words(sentence(was_there).text, "plug it in again", "by itself")
    never = dataclasses.replace(was_there, sweep=None)
    assert "Plug the analyzer in" in sentence(never).text
    assert "`" not in sentence(never).text


def test_a_frame_repeats_what_the_moment_found_against_accepting_it() -> None:
    """It was worked out once, as the moment was shown, for everyone who looks."""
    found = dataclasses.replace(moment(), obstacle=Obstacle("Too old a check.", "calibrate"))
    result = header(found, 2.0)["accept"]
    assert (result["ready"], result["why"], result["mended_at"]) == (
        False,
        "Too old a check.",
        "calibrate",
    )
    assert header(with_obstacles(found), 2.0)["accept"]["ready"], "nothing does, looked at anew"


def test_a_strip_is_a_band_with_its_links_and_carries_its_most_severe_state() -> None:
    head = header(moment(uplink=0.45), 3.5)
    assert [(strip["name"], strip["state"]) for strip in head["strips"]] == [
        ("LTE 20", "fail"),
        ("own", "pass"),
    ]
    uplink, downlink = head["strips"][0]["links"]
    assert (uplink["link"], downlink["link"]) == ("uplink", "downlink")
    assert uplink["worst"]["words"] == "6.9 dB at 832 MHz"
    assert uplink["margin"] == "−3.1 dB"
    assert downlink["words"] == "pass (unguarded)"
    assert downlink["margin"] == "+10.0 dB"
    assert head["strips"][1]["links"][0]["limit"]["short"] == "VSWR ≤ 2"
    assert head["age_s"] == pytest.approx(2.5)


def test_a_header_is_json_whatever_was_measured() -> None:
    for now in (moment(), moment(own=0.0, uplink=1.0, downlink=None), moment(own=2.0)):
        json.dumps(header(now, 2.0), allow_nan=False)
        json.dumps(header(uncalibrated(now), 2.0), allow_nan=False)


def test_a_replay_says_that_it_is_one() -> None:
    now = moment()
    assert now.corrected is not None
    source = dataclasses.replace(SOURCE, kind="replay")
    replayed = dataclasses.replace(now, corrected=dataclasses.replace(now.corrected, source=source))
    assert "not measured now" in header(replayed, 2.0)["data"]["words"]
    assert header(now, 2.0)["data"]["words"] == ""


def ids(component: Any) -> Iterator[str]:
    if getattr(component, "id", None):
        yield str(component.id)
    children = getattr(component, "children", None)
    for child in children if isinstance(children, list) else [children]:
        if hasattr(child, "to_plotly_json"):
            yield from ids(child)


def test_every_part_of_the_page_has_a_name_of_its_own(bench: Bench) -> None:
    found = list(ids(layout(bench)))
    assert len(found) == len(set(found))
    assert {"sentence", "strips", "overview", "smith", "action", "answer", "accept"} <= set(found)


def test_states_and_marks_go_by_the_same_names() -> None:
    # The page's script looks its shapes up by these.
    script = (Path(dashboard.__file__).parent / "page" / "assets" / "marks.js").read_text("utf-8")
    for state in State:
        assert f'"{state}"' in script or f"  {state}:" in script
