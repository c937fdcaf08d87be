"""What the program prints and writes on fixed inputs is what is kept, byte by byte."""

from __future__ import annotations

import sys

import pytest

from tests.golden.differences import differences
from tests.golden.outputs import make


@pytest.mark.slow
@pytest.mark.timeout(1200)  # a third of a minute's work, beside whatever else the machine does
@pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="a user's own folders are set as on Linux"
)
def test_nothing_differs_from_the_golden_outputs() -> None:
    found = differences(make())
    assert not found, (
        f"\n{found}\nWhere that is meant: python -m tests.golden --write, and say so in the commit."
    )
