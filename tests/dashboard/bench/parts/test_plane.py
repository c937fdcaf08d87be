"""The page's reference plane: what is shown, judged and recorded holds where it was declared."""

from __future__ import annotations

import numpy as np
import pytest

from acceptance.recheck.recheck_folder import recheck_folder
from acquire.sweep import Plane
from calibration.errors import PlaneError
from calibration.files.plane_file import NOT_MOVED
from calibration.files.store import read_plane
from dashboard.acceptance_run.running_acceptance import AntennaDetails
from dashboard.bench.composed_bench import Bench
from dashboard.errors import NotNowError, SetupError
from dashboard.feed.frame import header
from dashboard.feed.sentence import sentence
from dashboard.page.plane_form import typed_of
from tests.dashboard.conftest import settled, until
from tests.wording import missing_words

TYPED = "delay_ps=500 loss_db=0.5 loss_at_mhz=838 joints_db=40"


@pytest.mark.calibrated
def test_what_is_shown_holds_at_the_feed_and_says_so(bench: Bench) -> None:
    before = settled(bench)
    assert before.corrected is not None
    assert before.uncertainty is not None
    assert before.plane.words == "at the end of the calibrated cable"
    bench.plane.use(read_plane(TYPED))
    after = settled(bench)
    assert after.corrected is not None
    assert after.corrected.plane is Plane.ANTENNA
    assert after.verdict is not None
    assert after.verdict.where == "at the antenna's feed after 500 ps of line"
    assert after.uncertainty is not None
    # 0.5 dB one way lifts the reflection by 1 dB, and no less its uncertainty [derived]
    at = int(np.argmin(np.abs(after.corrected.frequency_hz - 838e6)))
    lifted = np.abs(after.corrected.reflection[at]) / np.abs(before.corrected.reflection[at])
    assert 20 * np.log10(lifted) == pytest.approx(1.0, abs=0.1)
    assert after.uncertainty.floor[at] > before.uncertainty.floor[at] * 10 ** (0.9 / 20)
    result = header(after, 0.0)["at_plane"]
    assert result["moved"]
    assert "takes the trust floor from" in result["effect"]
    bench.plane.use(NOT_MOVED)
    back = settled(bench)
    assert back.corrected is not None
    assert back.corrected.plane is Plane.CONNECTOR


@pytest.mark.calibrated
def test_a_loss_that_cannot_be_there_withholds_the_marks(bench: Bench) -> None:
    settled(bench)
    bench.plane.use(read_plane("delay_ps=500 loss_db=20 loss_at_mhz=838"))
    now = until(bench, lambda now: now.plane.problem != "")
    assert now.verdict is None
    assert sentence(now).text == "Set the plane again."
    assert not missing_words(sentence(now).aside, "plane cannot be there", "no pass or fail")
    assert "no antenna reflects more than all" in sentence(now).aside
    against = now.obstacle
    assert against is not None
    assert against.words.startswith("The plane cannot be there.")
    assert against.mended_at == "plane"
    bench.plane.use(NOT_MOVED)
    until(bench, lambda now: now.verdict is not None and now.plane.problem == "")


@pytest.mark.calibrated
def test_a_plane_that_does_not_go_together_leaves_the_one_before(bench: Bench) -> None:
    settled(bench)
    with pytest.raises(PlaneError):
        bench.plane.use(read_plane("cable=string length_mm=100"))
    assert bench.snapshot().plane.words == "at the end of the calibrated cable"


@pytest.mark.calibrated
def test_a_record_of_the_page_keeps_the_plane(bench: Bench) -> None:
    settled(bench)
    bench.plane.use(read_plane(TYPED))
    settled(bench)
    found = recheck_folder(bench.acceptance.sign_off(AntennaDetails("weir-3")).path)
    assert found.holds, found.lines
    assert found.record.acceptance.plane.words == "at the antenna's feed after 500 ps of line"


def test_a_form_is_typed_out() -> None:
    declared = typed_of("ptfe-2.5mm", 182, None, 0.3, 900)
    assert declared.toml == (
        '"cable" = "ptfe-2.5mm"\n"length_mm" = 182.0\n"loss_db" = 0.3\n"loss_at_mhz" = 900.0\n'
    )
    with pytest.raises(SetupError, match="How long"):
        typed_of("ptfe-2.5mm", None, None, None, None)


@pytest.mark.calibrated
def test_a_pigtail_is_measured_by_its_ends_and_undone(bench: Bench) -> None:
    """The antenna behind it comes back, as it was read without it, within what is stated."""
    before = settled(bench)
    assert before.corrected is not None
    truth = np.abs(before.corrected.reflection)
    with pytest.raises(NotNowError, match="pigtail has not been measured"):
        bench.plane.use_ends("kit")
    bench.hands.lay("good")
    for name, on_port in (("open", "open"), ("short", "short")):
        bench.hands.screw_on(on_port)  # it still moves when the end is taken, and that waits
        assert bench.plane.take_end(name).startswith("Taken")
    assert bench.snapshot().plane.ends == ("open", "short")
    bench.hands.screw_on("antenna")
    settled(bench)
    assert "measured with its end open and shorted" in bench.plane.use_ends("kit")
    settled(bench)
    now = until(bench, lambda now: now.averaged is not None and now.averaged.sweeps >= 4)
    assert any(line.startswith("Delay one way: 0.8") for line in now.plane.cable)
    assert not missing_words(" ".join(now.plane.cable), "open and short agree")
    assert "can be an antenna of 1 dB" in now.plane.cable[-1]
    assert now.corrected is not None
    assert now.corrected.plane is Plane.ANTENNA
    assert now.uncertainty is not None
    inside = (now.uncertainty.low <= truth) & (truth <= now.uncertainty.high)
    assert inside.mean() > 0.95


def test_an_end_is_taken_only_of_what_was_calibrated(bench: Bench) -> None:
    with pytest.raises(NotNowError, match="calibration first"):
        bench.plane.take_end("open")
