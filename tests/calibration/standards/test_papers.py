"""Serial number, date and expiry of a standard: kept with the calibration, warned of when over."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest

from calibration.capture.standard_capture import StandardReading
from calibration.errors import KitError
from calibration.files.calibration_file import calibration_text, parse_calibration
from calibration.one_port_calibration import Calibration, calibrate
from calibration.standards.kit import Kit
from calibration.standards.kit_file import kit_text, parse_kit
from calibration.standards.papers import Papers
from tests.calibration.made_kits import IDEAL_KIT, no_file
from tests.wording import missing_words

KIT = f"""{IDEAL_KIT}
return_loss_db = 36
serial = "4711"
date = 2025-03-31
expires = 2026-03-31
"""


def kit(text: str = KIT) -> Kit:
    return parse_kit(text, "workshop.toml", no_file)


def calibrated(unit: Any, own: Kit, at: datetime) -> Calibration:
    f = unit.frequency_hz
    return calibrate(
        own,
        [
            StandardReading(name, f, unit.raw(each.reflection(f)), 8, None)
            for name, each in own.standards.items()
        ],
        source=unit.source,
        request=unit.request,
        spans=[(700e6, 2700e6)],
        taken_at=at,
        software="test",
    )


def test_a_kit_tells_which_piece_it_is_and_so_does_what_is_written() -> None:
    own = kit()
    load = Papers(serial="4711", date=date(2025, 3, 31), expires=date(2026, 3, 31))
    assert own.papers == {"load": load}
    assert load.words == "no. 4711, of 2025-03-31, up to 2026-03-31"
    assert kit(kit_text(own, {})).papers == own.papers


def test_a_standard_out_of_date_is_warned_of_and_the_calibration_keeps_which(unit: Any) -> None:
    in_time = calibrated(unit, kit(), datetime(2026, 3, 31, 12, tzinfo=UTC))
    assert in_time.warnings == ()
    late = calibrated(unit, kit(), datetime(2026, 4, 1, 12, tzinfo=UTC))
    (warning,) = late.warnings
    assert not missing_words(warning, "load no. 4711", "out of date", "2026-03-31", "2026-04-01")
    again = parse_calibration(calibration_text(late).encode(), "kept.json")
    assert again.kit.papers == late.kit.papers
    assert again.warnings == late.warnings


def test_a_standard_used_before_it_was_measured_is_warned_of(unit: Any) -> None:
    (warning,) = calibrated(unit, kit(), datetime(2025, 3, 1, 12, tzinfo=UTC)).warnings
    assert not missing_words(warning, "load", "2025-03-01", "before", "2025-03-31")


@pytest.mark.parametrize(
    ("written", "wanted"),
    [
        ("date = 2025-03-31", 'date = "yesterday"'),
        ("expires = 2026-03-31", "expires = 2024-01-01"),
        ('serial = "4711"', "serial = 4711"),
    ],
)
def test_papers_that_cannot_be_are_refused_by_field(written: str, wanted: str) -> None:
    with pytest.raises(KitError) as refused:
        kit(KIT.replace(written, wanted))
    assert not missing_words(str(refused.value), "standard.load")


def test_a_figure_in_another_unit_is_a_warning_of_the_kit(unit: Any) -> None:
    offset = 'form = "coefficients"\nkind = "open"\noffset_delay_ps = 3e-11'
    own = kit(KIT.replace('form = "ideal"\nkind = "open"', offset))
    found = calibrated(unit, own, datetime(2026, 3, 1, 12, tzinfo=UTC)).warnings
    assert not missing_words(" ".join(found), "the open", "offset_delay_ps", "30 ps", "in s")
