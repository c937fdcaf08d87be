"""Known devices as tables: what a person writes, and what a calibration keeps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.sweep import Reading
from calibration.errors import DeviceError
from calibration.evidence import KnownDevice
from calibration.files.device_file import device_as_table, device_from_table, parse_device
from calibration.verification.verification_device import CertifiedDevice, EndedLine, SmallLoad

F = np.array([0.7e9, 1.5e9, 2.7e9])


def no_data(name: str) -> Reading:
    raise FileNotFoundError(2, "No such file", name)


def data(_: str) -> Reading:
    return Reading(F, np.array([0.2, 0.2j, -0.2]))


def same(one: KnownDevice, other: KnownDevice) -> None:
    assert one.name == other.name
    assert one.phase_known == other.phase_known
    np.testing.assert_array_equal(one.reflection(F), other.reflection(F))
    np.testing.assert_array_equal(one.uncertainty(F), other.uncertainty(F))


@pytest.mark.parametrize(
    "text",
    [
        'form = "load"\nreturn_loss_db = 36',
        'form = "vswr"\nvswr = 2\ntolerance = 0.05',
        'form = "return loss"\nreturn_loss_db = 14.0\ntolerance_db = 0.5',
        'form = "certificate"\nfile = "mismatch.s1p"\nerror = 0.004',
        'form = "certificate"\nfile = "mismatch.s1p"\nerror = [0.004, 0.005, 0.006]',
        'form = "load behind a line"\ndelay_ps = 4000\nmatch_return_loss_db = 40',
        'form = "short"\ndelay_ps = 31.785\nplane_ps = 0.5',
        'form = "open"\nloss_db = 3.0\nloss_tolerance_db = 0.2\nmatch_return_loss_db = 30.0',
    ],
)
def test_a_device_written_by_a_person_is_kept_and_read_back_the_same(text: str) -> None:
    device = parse_device(f'format = 1\nname = "brass part"\n{text}\n', "part.toml", data)
    assert device.name == "brass part"
    same(device, device_from_table(device_as_table(device), "again", no_data))


@given(
    delay=st.none() | st.floats(0, 1e5),
    loss=st.floats(0, 60),
    plane=st.floats(0, 100),
    kind=st.sampled_from(["open", "short"]),
)
def test_any_ended_line_survives_being_kept(
    delay: float | None, loss: float, plane: float, kind: str
) -> None:
    device = EndedLine(
        name="line",
        kind="open" if kind == "open" else "short",
        delay_ps=delay,
        loss_db=loss,
        plane_ps=plane,
    )
    same(device, device_from_table(device_as_table(device), "again", no_data))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("name = 3", "form is None"),
        ('form = "mirror"', 'form is \'mirror\'. Write one of "load", "vswr"'),
        ('form = "load"\nname = "x"', "return_loss_db is missing. Write at least this everywhere"),
        ('form = "load"\nname = "x"\nreturn_loss_db = -36', "return_loss_db is -36"),
        ('form = "vswr"\nname = "x"\nvswr = 2\ntolerence = 1', "Did you mean tolerance"),
        ('form = "vswr"\nname = "x"\nvswr = nan\ntolerance = 0', "vswr is nan"),
        ('form = "certificate"\nname = "x"\nfile = "no.s1p"\nerror = 0.1', "cannot be read"),
        ('form = "load', "line 1: The quotation mark is not closed"),
        ('form = "short"\nname = "x"\nplane_ps = -1', "plane_ps is -1"),
        (f'form = "load"\nname = "{"x" * 61}"\nreturn_loss_db = 30', "at most 60 letters"),
    ],
)
def test_a_bad_device_file_is_one_sentence_with_the_cure(text: str, words: str) -> None:
    with pytest.raises(DeviceError) as caught:
        parse_device(text, "part.toml", no_data)
    message = str(caught.value)
    assert words in message
    assert "part.toml" in message
    assert "\n" not in message


def test_a_certificate_of_another_length_than_its_errors_is_refused() -> None:
    with pytest.raises(DeviceError, match="3 reflections and 2 uncertainties"):
        parse_device(
            'name = "x"\nform = "certificate"\nfile = "x.s1p"\nerror = [0.1, 0.2]', "x.toml", data
        )


def test_a_device_that_cannot_be_written_down_is_said_to_be_so() -> None:
    nested = EndedLine(name="x", kind="open", delay_ps=1.0, standard=object())  # type: ignore[arg-type]
    with pytest.raises(DeviceError, match="cannot be written down"):
        device_as_table(nested)
    same(SmallLoad("x", 30.0), SmallLoad("x", 30.0))
    assert CertifiedDevice("x", data(""), 0.1).phase_known
