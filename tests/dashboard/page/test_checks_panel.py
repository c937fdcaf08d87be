"""What the checks panel makes of what a person typed or chose."""

from __future__ import annotations

import base64

import numpy as np
import pytest

from acquire.errors import BandwrightError
from calibration.verification.verification_device import CertifiedDevice, SmallLoad, StatedDevice
from dashboard.page.checks_panel import certified, mismatch, second_load

FILE = b"# MHz S RI R 50\n800 0.2 0\n900 0.1 0.1\n"


def upload(content: bytes = FILE) -> str:
    return "data:application/octet-stream;base64," + base64.b64encode(content).decode()


def test_figures_become_devices() -> None:
    assert second_load(36.0).device == SmallLoad("second load", 36.0)
    assert mismatch(2, 0.05).device == StatedDevice.from_vswr("mismatch", 2.0, 0.05)


def test_a_certificate_that_was_chosen_becomes_a_device() -> None:
    device = certified("brass.s1p", upload(), 0.004).device
    assert isinstance(device, CertifiedDevice)
    assert device.name == "brass.s1p"
    assert device.reflection(np.array([8e8]))[0] == pytest.approx(0.2)
    assert device.uncertainty(np.array([8e8]))[0] == pytest.approx(0.004)


@pytest.mark.parametrize(
    ("name", "content", "error", "words"),
    [
        (None, None, 0.1, "Choose the certificate's Touchstone file first"),
        ("x.s1p", upload(), None, "certificate's error"),
        ("x.s1p", "data:;base64,@@@", 0.1, "did not arrive complete"),
        ("x.s1p", upload(b"\x00\x01"), 0.1, "x.s1p"),
        ("x.s1p", upload(), -1.0, "zero or more"),
        ("<b>" * 100, upload(), 0.1, ""),
    ],
)
def test_what_cannot_be_one_is_a_sentence(
    name: str | None, content: str | None, error: float | None, words: str
) -> None:
    if not words:
        assert len(certified(name, content, error).device.name) == 60
        return
    with pytest.raises(BandwrightError) as caught:
        certified(name, content, error)
    assert words in str(caught.value)


@pytest.mark.parametrize("figure", [None, -3.0, 200.0])
def test_a_load_of_no_sense_is_a_sentence(figure: float | None) -> None:
    with pytest.raises(BandwrightError, match=r"6 to 80|return_loss_db is"):
        second_load(figure)
